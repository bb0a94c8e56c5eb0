"""PINs: who was asked, when something was signed. They belong to one register and never leave it.

The rules of this file: a PIN is kept as scrypt (RFC 7914) with its parameters beside it, and hashed anew when they have
grown. An attempt is counted on the disk before it is tried, so that neither a restart, another terminal nor a clock
that was set takes it back; after a few free ones each waits longer, and after many only a supervisor unlocks. An
unknown name and a wrong PIN get the same answer after the same work. A PIN is no cryptographic signature: whoever has
the file can try all PINs, and `README.md` says so.
"""

from __future__ import annotations

import hashlib
import hmac
import os
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from reelcare.register import schema
from reelcare.register.errors import NotAllowed, Refused
from reelcare.register.moments import milliseconds

if TYPE_CHECKING:
    from reelcare.register.register import Register

WAY = "scrypt:32768:8:3"
"""How PINs are kept now: scrypt with N, r and p (as OWASP's Password Storage recommends for scrypt, 2^15, 8, 3)."""
FREE, LOCKED = 4, 20
"""Failed attempts in a row that cost nothing, and after which only a supervisor unlocks."""
FIRST_WAIT, LONGEST_WAIT = timedelta(seconds=5), timedelta(minutes=5)
SHORTEST, LONGEST = 4, 32
ANYBODY = ""
"""The name under which attempts over all names are counted."""
FREE_OVER_ALL = 20
NOT_RIGHT = "name or PIN is not right"
POOR = {"1234", "4321", "12345", "123456", "654321", "1212", "2580"}
_PUT = (
    "INSERT INTO pin (person, way, salt, hash) VALUES (?, ?, ?, ?) ON CONFLICT (person) DO UPDATE SET"
    " way = excluded.way, salt = excluded.salt, hash = excluded.hash"
)


def hashed(pin: str, salt: bytes, way: str) -> str:
    """A PIN hashed in a way; hexadecimal."""
    name, n, r, p = way.split(":")
    if name != "scrypt":
        raise Refused(f"a PIN kept as {name}, which this version does not know")
    memory = 128 * int(n) * int(r) + (1 << 20)
    key = hashlib.scrypt(pin.encode(), salt=salt, n=int(n), r=int(r), p=int(p), maxmem=2 * memory, dklen=32)
    return key.hex()


def problem(pin: str) -> str:
    """What speaks against a PIN, '' where nothing does.

    >>> problem("0000"), problem("1990"), problem("739104")
    ('the PIN is one sign again and again', 'the PIN looks like a year of birth', '')
    """
    if not SHORTEST <= len(pin) <= LONGEST:
        return f"the PIN has {SHORTEST} to {LONGEST} signs; six or more are better"
    if len(set(pin)) == 1:
        return "the PIN is one sign again and again"
    if pin in POOR:
        return "the PIN is among those that are tried first"
    if len(pin) == 4 and pin.isdigit() and 1930 <= int(pin) <= 2030:
        return "the PIN looks like a year of birth"
    return ""


def has(register: Register, person: str) -> bool:
    """Whether a person has a PIN here."""
    return bool(schema.rows(register.db, "SELECT 1 FROM pin WHERE person = ?", person))


def put(register: Register, person: str, pin: str, *, by: str) -> None:
    """Give a person a PIN, their own or by a supervisor. Raises Refused or NotAllowed.

    Who has one already must have signed in with it, unless a supervisor gives another.
    """
    roles = register.roles()
    if person not in roles:
        raise Refused(f"{person}: not enrolled here")
    if by != person and roles.get(by) != "supervisor":
        raise NotAllowed(f"{by} may set no PIN but their own; a supervisor may set every one")
    register.must_have_signed(by)
    why = problem(pin)
    if why:
        raise Refused(why)
    salt = os.urandom(16)
    row = (person, WAY, salt.hex(), hashed(pin, salt, WAY))
    with register.db.writing():
        register.db.execute_sql(_PUT, row)
        register.db.execute_sql("DELETE FROM pin_try WHERE person = ?", (person,))
    register.signed.discard(person)


def unlock(register: Register, person: str, *, by: str) -> None:
    """Let a locked person try again. Raises NotAllowed where `by` is no supervisor."""
    if register.roles().get(by) != "supervisor":
        raise NotAllowed(f"{by} may unlock nobody; that takes a supervisor")
    if person not in register.roles():
        raise Refused(f"{person}: not enrolled here; known are: {', '.join(register.roles())}")
    register.must_have_signed(by)
    with register.db.writing():
        register.db.execute_sql("DELETE FROM pin_try WHERE person IN (?, ?)", (person, ANYBODY))


def check(register: Register, person: str, pin: str, *, now: datetime) -> None:
    """Sign in with a PIN. Raises NotAllowed, always in the same words and after the same work."""
    wait = _count(register, person, now)
    if wait is not None:
        raise NotAllowed(wait)
    found = schema.rows(register.db, "SELECT way, salt, hash FROM pin WHERE person = ?", person)
    way, salt, kept = found[0] if found else (WAY, "00" * 16, "")
    right = hmac.compare_digest(hashed(pin, bytes.fromhex(salt), way), kept or "0" * 64)
    if not right or not found:
        raise NotAllowed(NOT_RIGHT)
    with register.db.writing():
        register.db.execute_sql("DELETE FROM pin_try WHERE person IN (?, ?)", (person, ANYBODY))
        if way != WAY:
            fresh = os.urandom(16)
            row = (WAY, fresh.hex(), hashed(pin, fresh, WAY), person)
            register.db.execute_sql("UPDATE pin SET way = ?, salt = ?, hash = ? WHERE person = ?", row)
    register.signed.add(person)


def _count(register: Register, person: str, now: datetime) -> str | None:
    """Count an attempt before it is made; the answer is why it may not be, None where it may."""
    at = milliseconds(now)
    with register.db.writing():
        for name, free in ((person, FREE), (ANYBODY, FREE_OVER_ALL)):
            rows = schema.rows(register.db, "SELECT failed, last FROM pin_try WHERE person = ?", name)
            failed, last = rows[0] if rows else (0, 0)
            if name == person and failed >= LOCKED:
                return f"{NOT_RIGHT} too often; a supervisor unlocks: `reelcare people unlock NAME`"
            left = _left(int(failed), int(last), at, free)
            if left > timedelta(0):
                return f"wait {max(1, round(left.total_seconds()))} s before the next try"
        for name in (person, ANYBODY):
            register.db.execute_sql(
                "INSERT INTO pin_try (person, failed, last) VALUES (?, 1, ?)"
                " ON CONFLICT (person) DO UPDATE SET failed = pin_try.failed + 1, last = excluded.last",
                (name, at),
            )
    return None


def _left(failed: int, last: int, at: int, free: int) -> timedelta:
    """How long the next attempt must wait still. A clock that was set back counts as no time gone by."""
    if failed < free:
        return timedelta(0)
    wait: timedelta = min(LONGEST_WAIT, FIRST_WAIT * (1 << min(failed - free, 10)))
    return wait - timedelta(milliseconds=max(0, at - last))
