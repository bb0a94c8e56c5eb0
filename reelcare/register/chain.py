"""The chain: every entry is hashed with the one before it on the same terminal.

The canonical text of an entry is JSON as RFC 8785 (JSON Canonicalization Scheme) writes it; the body stands in
it as a text, itself canonical. The digest is SHA-256 (FIPS 180-4) over a domain mark and the text of a list
that begins with the digest before.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from reelcare.core.entries import MOST_EXACT


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
_encode = json.JSONEncoder(ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":")).encode
"""JSON as the standard library writes it: text, and what `_is_flat`, comes out as RFC 8785 has it."""


def canonical(value: Any) -> str:
    """Plain JSON values as their one text (RFC 8785). Raises ValueError for what has none (nan, 2**53 + 1).

    >>> canonical({"b": 1, "a": ["é", None, 0.866, 1e21]})
    '{"a":["é",null,0.866,1e+21],"b":1}'
    """
    if value is None or isinstance(value, str) or _is_flat(value):
        return _encode(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        if abs(value) > MOST_EXACT and not _is_of_a_fraction(value):
            raise ValueError(f"{value} is too large to be kept exactly")
        return str(value)
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, Mapping):
        pairs = sorted(value.items(), key=lambda pair: str(pair[0]).encode("utf-16-be", "surrogatepass"))
        return "{" + ",".join(f"{_encode(str(key))}:{canonical(part)}" for key, part in pairs) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ",".join(canonical(part) for part in value) + "]"
    raise ValueError(f"a {type(value).__name__} has no place in an entry")


def _is_flat(value: Any) -> bool:
    """Whether this is a table or list for which `json` gives the canonical text, in a fifth of the time.

    It writes fractions in another way, refuses no inexact number, and orders keys by code point instead of UTF-16 unit.
    """
    if type(value) is dict:
        if not all(type(key) is str and key.isascii() for key in value):
            return False
        parts: Iterable[Any] = value.values()
    elif type(value) is list:
        parts = value
    else:
        return False
    for part in parts:
        kind = type(part)
        if kind is str or kind is bool or part is None:
            continue
        if kind is not int or not -MOST_EXACT <= part <= MOST_EXACT:
            return False
    return True


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
    return hashlib.sha256(_DOMAIN + _encode([before, *sealed]).encode()).hexdigest()
