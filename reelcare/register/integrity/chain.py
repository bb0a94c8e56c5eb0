"""The chain: every entry is hashed with the one before it on the same terminal.

The digest is SHA-256 (FIPS 180-4) over a domain mark and the canonical JSON (RFC 8785) of a list that begins with the
digest before; the body stands in it as a text, itself canonical (`reelcare/core/canonical_json.py`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from json.encoder import encode_basestring as _quoted
from typing import Any

from reelcare.register.database.models import EntryRow

E = EntryRow


@dataclass(frozen=True, slots=True)
class Head:
    """The end of one terminal's chain: worth writing down on paper, to compare later."""

    terminal: str
    count: int
    digest: str


GENESIS = ""
"""What stands before the first entry of a terminal."""
FORK = "~"
"""Stands in the terminal's column between its name and the mark of a branch: a copy of a register that wrote on."""

_DOMAIN = "reelcare entry 1\n"

Sealed = tuple[int, str, str, str | None, int, int, str, str, str]
"""What an entry is sealed over: place, id, kind, machine, happened, recorded, terminal, person, body.

The place counts from 1 within the terminal; times are milliseconds since 1970 in UTC; the body is canonical.
"""
COLUMNS = (E.place, E.id, E.kind, E.machine, E.happened, E.recorded, E.terminal, E.person, E.body, E.digest)
"""The columns of what an entry is sealed over, and that of its digest."""


def digest(before: str, *sealed: *Sealed) -> str:
    """The hexadecimal digest of one entry after the one whose digest is `before`."""
    place, id, kind, machine, happened, recorded, terminal, person, body = sealed
    # `_quoted` is what an encoder calls for a text, and gives it as RFC 8785 has it
    where = "null" if machine is None else _quoted(machine)
    # written out, as it is made for every entry of a proof: an encoder takes three times as long for such a list
    text = (
        f"{_DOMAIN}[{_quoted(before)},{place},{_quoted(id)},{_quoted(kind)},{where},{happened},{recorded},"
        f"{_quoted(terminal)},{_quoted(person)},{_quoted(body)}]"
    )
    return hashlib.sha256(text.encode()).hexdigest()


def follows(before: str, row: Sequence[Any]) -> bool:
    """Whether an entry, a row of COLUMNS, was sealed after the one of this digest, and is as it was then."""
    place, id, kind, machine, happened, recorded, terminal, person, body, sealed = row
    return bool(sealed == digest(before, place, id, kind, machine, happened, recorded, base(terminal), person, body))


def base(terminal: str) -> str:
    """The name of a terminal without the mark of a branch.

    >>> base("3f9c~a1b2c3d4"), base("3f9c")
    ('3f9c', '3f9c')
    """
    return terminal.partition(FORK)[0]


LONGEST_NAME = 64


def is_a_terminal(name: object) -> bool:
    """Whether a terminal can be called so: ASCII letters and digits, without the mark of a branch."""
    return isinstance(name, str) and name.isascii() and name.isalnum() and len(name) <= LONGEST_NAME


def is_a_column(name: str) -> bool:
    """Whether the column of a terminal can hold this: its name, with or without the mark of a branch.

    >>> [is_a_column(one) for one in ("3f9c~a1b2c3d4", "3f9c", "3f9c~", "", "3 f")]
    [True, True, False, False, False]
    """
    first, *rest = name.split(FORK)
    return is_a_terminal(first) and all(map(is_a_terminal, rest))
