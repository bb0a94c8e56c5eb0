"""The chain: every entry is hashed with the one before it on the same terminal.

The canonical text of an entry is JSON as RFC 8785 (JSON Canonicalization Scheme) writes it; the body stands in
it as a text, itself canonical. The digest is SHA-256 (FIPS 180-4) over a domain mark and the text of a list
that begins with the digest before.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from json.encoder import encode_basestring

from reelcare.core.canonical_json import canonical
from reelcare.core.entries import Kind, to_body


@dataclass(frozen=True, slots=True)
class Head:
    """The end of one terminal's chain: worth writing down on paper, to compare later."""

    terminal: str
    count: int
    digest: str


GENESIS = ""
"""What stands before the first entry of a terminal."""

_DOMAIN = b"reelcare entry 1\n"


Sealed = tuple[int, str, str, str | None, int, int, str, str, str]
"""What an entry is sealed over: place, id, kind, machine, happened, recorded, terminal, person, body.

The place counts from 1 within the terminal; times are milliseconds since 1970 in UTC; the body is canonical.
"""


def digest(before: str, *sealed: *Sealed) -> str:
    """The hexadecimal digest of one entry after the one whose digest is `before`."""
    return digest_of(before, sealed_text(*sealed))


def sealed_text(*sealed: *Sealed) -> str:
    """What an entry is sealed over, but for the digest before it: the canonical text of the list of these nine.

    >>> sealed_text(1, "01", "run", None, 5, 6, "t", "Ann", "{}")
    '[1,"01","run",null,5,6,"t","Ann","{}"]'
    """
    place, id, kind, machine, happened, recorded, terminal, person, body = sealed
    quoted = encode_basestring
    where = "null" if machine is None else quoted(machine)
    # written out: it is made for every entry there is
    return (
        f"[{place},{quoted(id)},{quoted(kind)},{where},{happened},{recorded},"
        f"{quoted(terminal)},{quoted(person)},{quoted(body)}]"
    )


def digest_of(before: str, sealed: str) -> str:
    """The hexadecimal digest of an entry after the one whose digest is `before`, by its `sealed_text`."""
    return hashlib.sha256(_DOMAIN + f"[{encode_basestring(before)},{sealed[1:]}".encode()).hexdigest()


class Seals:
    """Digests of entries that one person writes on one terminal at one moment: the same as `digest` gives, with what
    does not change written out once. Ids and digests are hexadecimal, and need no quoting.
    """

    def __init__(self, recorded: int, terminal: str, person: str) -> None:
        self._by = f"{recorded},{encode_basestring(terminal)},{encode_basestring(person)}"
        self._where: dict[tuple[str, str | None], str] = {}

    def of(self, before: str, place: int, id: str, kind: str, machine: str | None, happened: int, body: str) -> str:
        """The digest of one entry."""
        where = self._where.get((kind, machine))
        if where is None:
            named = "null" if machine is None else encode_basestring(machine)
            where = self._where[kind, machine] = f"{encode_basestring(kind)},{named}"
        text = f'["{before}",{place},"{id}",{where},{happened},{self._by},{encode_basestring(body)}]'
        return hashlib.sha256(_DOMAIN + text.encode("utf-8")).hexdigest()


def body_of(what: Kind) -> str:
    """The canonical body of an entry."""
    return canonical(to_body(what))
