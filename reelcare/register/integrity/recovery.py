"""Recovery codes: the way back of a supervisor whose PIN is lost or locked, where nobody else can unlock it.

A code is made with the PIN of a supervisor and shown once; its hash is kept as that of a PIN is. It is used once, and
an entry tells that it was (`Writer.recover`).
"""

from __future__ import annotations

import os
from collections.abc import MutableSet
from datetime import datetime

from reelcare.core.text import _
from reelcare.register.database.base import Database
from reelcare.register.database.models import AboutRow
from reelcare.register.errors import NotAllowed
from reelcare.register.integrity import pins

SIGNS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
"""The signs of a code: none that is read as another."""
GROUPS, GROUP = 4, 5
RECOVERY = "recovery"
"""How the names of the facts begin that keep the hash of a code."""


def make(db: Database, person: str) -> str:
    """A new code for a person, in place of the one before; only its hash is kept. In the transaction that runs."""
    code = "-".join("".join(SIGNS[one % len(SIGNS)] for one in os.urandom(GROUP)) for _group in range(GROUPS))
    row = pins.row_of(person, _bare(code))
    db.keep_about(_name(person), " ".join((row["way"], row["salt"], row["hash"])))
    return code


def use(db: Database, person: str, code: str, *, now: datetime, signed: MutableSet[str]) -> None:
    """Sign a person in with their code, which is gone then, and forget their wrong PINs. Raises NotAllowed, always in
    the same words and after the same work; tries are counted and wait like those at a PIN."""
    tries = f"{person} (recovery)"
    wait = pins.count_try(db, tries, now)
    if wait is not None:
        raise NotAllowed(wait)
    if not pins.is_right(_bare(code), db.about().get(_name(person), "").split() or None):
        raise NotAllowed(_("name or recovery code is not right"))
    with db.writing():
        pins.forget_tries(db, person, tries, pins.ANYBODY)
        db.write(AboutRow.delete().where(AboutRow.name == _name(person)))
    signed.add(person)


def _name(person: str) -> str:
    """Under which name the hash stands among the facts about a register."""
    return f"{RECOVERY} {person}"


def _bare(code: str) -> str:
    """A code without what only helps to read it."""
    return "".join(one for one in code.upper() if one in SIGNS)
