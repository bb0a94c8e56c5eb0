"""PINs: who was asked, when something was signed. They belong to one register and never leave it.

A PIN is kept as scrypt (RFC 7914) with its parameters beside it, and hashed again when they have
grown. An attempt is counted on the disk before it is tried, so that neither a restart, another terminal nor a clock
that was set takes it back; after a few free ones each waits longer, and after many only a supervisor unlocks. An
unknown name and a wrong PIN get the same answer after the same work. A PIN is no cryptographic signature: whoever has
the file can try all PINs, and `README.md` says so.
"""

from __future__ import annotations

import hashlib
import hmac
import os
from collections.abc import Iterable, Mapping, MutableSet, Sequence, Set
from datetime import datetime, timedelta

from reelcare.core.text import _, mark
from reelcare.register.database.base import Database
from reelcare.register.database.models import PinRow, PinTryRow
from reelcare.register.errors import NotAllowed, Refused
from reelcare.register.timestamps import milliseconds

WAY = "scrypt:32768:8:3"
"""How PINs are kept now: scrypt with N, r and p (as OWASP's Password Storage recommends for scrypt, 2^15, 8, 3)."""
FREE, LOCKED = 4, 20
"""Failed attempts in a row that cost nothing, and after which only a supervisor unlocks."""
FIRST_WAIT, LONGEST_WAIT = timedelta(seconds=5), timedelta(minutes=5)
SHORTEST, LONGEST = 4, 32
ANYBODY = ""
"""The name under which attempts over all names are counted."""
FREE_OVER_ALL = 20
NOT_RIGHT = mark("name or PIN is not right")
POOR = {"1234", "4321", "12345", "123456", "654321", "1212", "2580"}
SALT = 16
"""Bytes of a salt."""


def hashed(pin: str, salt: bytes, way: str) -> str:
    """A PIN hashed in a way; hexadecimal."""
    name, n, r, p = way.split(":")
    if name != "scrypt":
        raise Refused(_("a PIN kept as {name}, which this version does not know", name=name))
    memory = 128 * int(n) * int(r) + (1 << 20)
    key = hashlib.scrypt(pin.encode(), salt=salt, n=int(n), r=int(r), p=int(p), maxmem=2 * memory, dklen=32)
    return key.hex()


def problem(pin: str) -> str:
    """What speaks against a PIN, '' where nothing does.

    >>> problem("0000"), problem("1990"), problem("739104")
    ('this PIN repeats one character; choose another', 'this PIN looks like a year of birth; choose another', '')
    """
    if not SHORTEST <= len(pin) <= LONGEST:
        return _(
            "a PIN has {shortest} to {longest} characters; six or more are better", shortest=SHORTEST, longest=LONGEST
        )
    if len(set(pin)) == 1:
        return _("this PIN repeats one character; choose another")
    if pin in POOR:
        return _("this PIN is too easy to guess; choose another")
    if len(pin) == 4 and pin.isdecimal() and 1930 <= int(pin) <= 2030:
        return _("this PIN looks like a year of birth; choose another")
    return ""


def names_not_proved(db: Database, names: Iterable[str]) -> str:
    """What to say where none of these people has a PIN; '' where one has, or there are none."""
    if not names or any(has(db, name) for name in names):
        return ""
    return _("nobody has a PIN: anybody can sign with any name")


def has(db: Database, person: str) -> bool:
    """Whether a person has a PIN here."""
    return bool(db.fetch(PinRow.select(PinRow.person).where(PinRow.person == person)))


def must_have_signed(db: Database, person: str, signed: Set[str]) -> None:
    """Raise NotAllowed where a person has a PIN here and is not among those who have signed in with theirs."""
    if person not in signed and has(db, person):
        raise NotAllowed(_("{person} signs with a PIN; it was not given", person=person))


def put(db: Database, person: str, pin: str, *, by: str, roles: Mapping[str, str], signed: MutableSet[str]) -> None:
    """Give a person a PIN, their own or by a supervisor. Raises Refused or NotAllowed.

    Who has one already must have signed in with it, unless a supervisor gives another. The person must sign in again
    with the new one: it is taken out of `signed`, the names that have signed in since the register was opened.
    """
    if person not in roles:
        raise Refused(_("{person}: not enrolled here", person=person))
    if by != person and roles.get(by) != "supervisor":
        raise NotAllowed(_("{by} may only set their own PIN; a supervisor may set any", by=by))
    must_have_signed(db, by, signed)
    if why := problem(pin):
        raise Refused(why)
    row = PinRow.insert(**row_of(person, pin))
    with db.writing():
        db.write(row.on_conflict(conflict_target=[PinRow.person], preserve=[PinRow.way, PinRow.salt, PinRow.hash]))
        forget_tries(db, person)
    signed.discard(person)


def unlock(db: Database, person: str, *, by: str, roles: Mapping[str, str], signed: Set[str]) -> bool:
    """Let a locked person try again; whether attempts had to wait. Raises NotAllowed where `by` is no supervisor, or
    has not signed in."""
    if roles.get(by) != "supervisor":
        raise NotAllowed(_("{by} may not unlock anybody; only a supervisor may", by=by))
    if person not in roles:
        raise Refused(_("{person}: not enrolled here; enrolled: {roles}", person=person, roles=", ".join(roles)))
    must_have_signed(db, by, signed)
    free = {person: FREE, ANYBODY: FREE_OVER_ALL}
    with db.writing():
        rows = db.fetch(PinTryRow.select(PinTryRow.person, PinTryRow.failed).where(PinTryRow.person.in_(list(free))))
        forget_tries(db, person, ANYBODY)
    return any(failed >= free[name] for name, failed in rows)


def check(db: Database, person: str, pin: str, *, now: datetime, signed: MutableSet[str]) -> None:
    """Sign in with a PIN: the name is added to `signed`. Raises NotAllowed, always in the same words and after the same
    work."""
    wait = count_try(db, person, now)
    if wait is not None:
        raise NotAllowed(wait)
    found = db.fetch(PinRow.select(PinRow.way, PinRow.salt, PinRow.hash).where(PinRow.person == person))
    kept = found[0] if found else None
    right = is_right(pin, kept)  # before anything else, so that an unknown name takes the same work
    if kept is None or not right:
        raise NotAllowed(_(NOT_RIGHT))
    with db.writing():
        forget_tries(db, person, ANYBODY)
        if kept[0] != WAY:
            db.write(PinRow.update(**row_of(person, pin)).where(PinRow.person == person))
    signed.add(person)


def is_right(secret: str, kept: Sequence[str] | None) -> bool:
    """Whether a PIN or a recovery code is the one that is kept as way, salt and hash; where none is, False after the
    same work."""
    way, salt, digest = kept or (WAY, "00" * SALT, "0" * 64)
    same = hmac.compare_digest(hashed(secret, bytes.fromhex(salt), way), digest)
    return same and kept is not None


def row_of(person: str, secret: str) -> dict[str, str]:
    """The row of a PIN or a recovery code, hashed as PINs are kept now, with a new salt."""
    salt = os.urandom(SALT)
    return {"person": person, "way": WAY, "salt": salt.hex(), "hash": hashed(secret, salt, WAY)}


def forget_tries(db: Database, *names: str) -> None:
    """Forget the wrong attempts that are counted under these names. In the transaction that runs."""
    db.write(PinTryRow.delete().where(PinTryRow.person.in_(names)))


def count_try(db: Database, person: str, now: datetime) -> str | None:
    """Count an attempt before it is made; returns why it may not be made, None where it may."""
    at = milliseconds(now)
    with db.writing():
        for name, free in ((person, FREE), (ANYBODY, FREE_OVER_ALL)):
            rows = db.fetch(PinTryRow.select(PinTryRow.failed, PinTryRow.last).where(PinTryRow.person == name))
            failed, last = rows[0] if rows else (0, 0)
            if name == person and failed >= LOCKED:
                return _(
                    "{not_right} too often; a supervisor unlocks it: `reelcare people unlock NAME`, "
                    "or with `--recovery` the code shown with the PIN",
                    not_right=_(NOT_RIGHT),
                )
            left = _left(int(failed), int(last), at, free)
            if left > timedelta(0):
                return _("wait {seconds} s before the next try", seconds=max(1, round(left.total_seconds())))
        for name in (person, ANYBODY):
            one = PinTryRow.insert(person=name, failed=1, last=at)
            more = {PinTryRow.failed: PinTryRow.failed + 1}
            db.write(one.on_conflict(conflict_target=[PinTryRow.person], update=more, preserve=[PinTryRow.last]))
    return None


def _left(failed: int, last: int, at: int, free: int) -> timedelta:
    """How long the next attempt must wait still. A clock that was set back counts as no time gone by."""
    if failed < free:
        return timedelta(0)
    wait: timedelta = min(LONGEST_WAIT, FIRST_WAIT * (1 << min(failed - free, 10)))
    return wait - timedelta(milliseconds=max(0, at - last))
