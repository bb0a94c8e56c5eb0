"""The chain: every entry is hashed with the one before it on the same terminal.

The canonical text of an entry is JSON as RFC 8785 (JSON Canonicalization Scheme) writes it; the body stands in
it as a text, itself canonical. The digest is SHA-256 (FIPS 180-4) over a domain mark and the text of a list
that begins with the digest before.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from json.encoder import encode_basestring
from typing import Any

from reelcare.core.entries import KINDS, MOST_EXACT, Run, What, is_empty, is_left_out, names_of, plain_of, time_text


@dataclass(frozen=True, slots=True)
class Head:
    """The end of one terminal's chain: worth writing down on paper, to compare later."""

    terminal: str
    count: int
    digest: str


GENESIS = ""
"""What stands before the first entry of a terminal."""

MOST_WRITTEN_OUT = 10**21
"""From here on a fraction is written with an exponent (RFC 8785, section 3.2.2.3)."""

_DOMAIN = b"reelcare entry 1\n"


def canonical(value: Any) -> str:
    """Plain JSON values as their one text (RFC 8785). Raises ValueError for what has none (nan, 2**53 + 1).

    >>> canonical({"b": 1, "a": ["é", None, 0.866, 1e21]})
    '{"a":["é",null,0.866,1e+21],"b":1}'
    """
    if isinstance(value, str):
        return encode_basestring(value)
    if value is None or value is True or value is False:
        return {None: "null", True: "true", False: "false"}[value]
    if isinstance(value, int):
        if abs(value) > MOST_EXACT and not _is_of_a_fraction(value):
            raise ValueError(f"{value} is too large to be kept exactly")
        return str(value)
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, Mapping):
        pairs = sorted(value.items(), key=lambda pair: str(pair[0]).encode("utf-16-be", "surrogatepass"))
        return "{" + ",".join(f"{encode_basestring(str(key))}:{canonical(part)}" for key, part in pairs) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ",".join(canonical(part) for part in value) + "]"
    raise ValueError(f"a {type(value).__name__} has no place in an entry")


def _is_of_a_fraction(value: int) -> bool:
    """Whether a whole number is how a fraction of the same value is written, and so is that fraction, read again.

    >>> _is_of_a_fraction(2**53), _is_of_a_fraction(2**53 + 1)
    (True, False)
    """
    return abs(value) < MOST_WRITTEN_OUT and _number(float(value)) == str(value)


def _number(value: float) -> str:
    """A fraction as ECMAScript writes it (RFC 8785, section 3.2.2.3).

    >>> _number(-0.0000033333333333333333), _number(1e23), _number(4.5)
    ('-0.0000033333333333333333', '1e+23', '4.5')
    """
    if not math.isfinite(value):
        raise ValueError(f"{value} is not a number")
    if value == 0:
        return "0"
    sign, figures, exponent = Decimal(repr(value)).normalize().as_tuple()
    digits = "".join(map(str, figures))
    point = len(digits) + int(exponent)  # where the decimal point stands, counted from the first digit
    minus = "-" if sign else ""
    if len(digits) <= point <= 21:
        return minus + digits + "0" * (point - len(digits))
    if 0 < point <= 21:
        return f"{minus}{digits[:point]}.{digits[point:]}"
    if -6 < point <= 0:
        return f"{minus}0.{'0' * -point}{digits}"
    rest = f".{digits[1:]}" if len(digits) > 1 else ""
    return f"{minus}{digits[0]}{rest}e{point - 1:+d}"


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


def body_of(what: What) -> str:
    """The canonical body of an entry: `canonical(to_body(what))` in one step."""
    parts = []
    for name, key, stays in _KEYS[type(what)]:
        value = getattr(what, name)
        # most of what people write down is text
        if type(value) is str:
            if value or stays:
                parts.append(key + encode_basestring(value))
        elif not is_empty(value := plain_of(value)) or stays:
            parts.append(key + canonical(value))
    return f"{{{','.join(parts)}}}"


_KEYS = {
    kind: tuple((name, f"{encode_basestring(name)}:", not is_left_out(kind, name)) for name in sorted(names_of(kind)))
    for kind in KINDS.values()
}
"""The fields of each kind in the order of a canonical text, each with what stands before its value there, and whether
it stands there where it is empty."""


def body_of_run(run: Run) -> str:
    """The canonical body of a run, without the detour over plain values: run logs are long."""
    quoted = encode_basestring
    parts = [
        f'"drive_loss":{run.drive_loss},' if run.drive_loss is not None else "",
        f'"ended":"{time_text(run.ended)}",',
        f'"gun":{run.gun},' if run.gun is not None else "",
        f'"inlet":{run.inlet},' if run.inlet is not None else "",
        f'"metres":{run.metres},',
        f'"notes":{quoted(run.notes)},' if run.notes else "",
        f'"operator":{quoted(run.operator)},' if run.operator else "",
        f'"place":{quoted(run.place)},' if run.place else "",
        f'"planned_speed":{run.planned_speed},' if run.planned_speed is not None else "",
        f'"started":"{time_text(run.started)}",',
        f'"stopped_by":{quoted(run.stopped_by)},' if run.stopped_by else "",
    ]
    return "{" + "".join(parts)[:-1] + "}"
