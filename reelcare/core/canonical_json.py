"""Plain JSON values as their one text, by RFC 8785 (JSON Canonicalization Scheme)."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from json import JSONDecodeError, JSONDecoder
from json.encoder import encode_basestring as _quoted
from types import NoneType
from typing import Any

from reelcare.core.text import _

MOST_EXACT = 2**53 - 1
"""The largest whole number that every reader of JSON keeps exact."""
MOST_WRITTEN_OUT = 10**21
"""From here on a fraction is written with an exponent (RFC 8785, section 3.2.2.3)."""
_decode = JSONDecoder().raw_decode


def canonical(value: Any) -> str:
    """Plain JSON values as their one text (RFC 8785). Raises ValueError for what has none (nan, 2**53 + 1).

    >>> canonical({"b": 1, "a": ["é", None, 0.866, 1e21]})
    '{"a":["é",null,0.866,1e+21],"b":1}'
    """
    write = _WRITERS.get(type(value))
    if write is not None:
        return write(value)
    for kind in (str, int, float, Mapping, list, tuple):
        if isinstance(value, kind):
            return _WRITERS[kind](value)
    raise ValueError(_("a {kind} has no place in an entry", kind=type(value).__name__))


def _whole(value: int) -> str:
    if abs(value) > MOST_EXACT and not _is_of_a_fraction(value):
        raise ValueError(_("{value} is too large to be kept exactly", value=value))
    return str(value)


def _table(value: Mapping[Any, Any]) -> str:
    texts = {str(key): part for key, part in value.items()}
    keys = sorted(texts) if "".join(texts).isascii() else sorted(texts, key=_in_utf_16)
    return "{" + ",".join([f"{_quoted(key)}:{canonical(texts[key])}" for key in keys]) + "}"


def _in_utf_16(key: str) -> bytes:
    """What sorts as RFC 8785 has it (section 3.2.3): by units of UTF-16, which is another order than Python's."""
    return key.encode("utf-16-be", "surrogatepass")


def _list(value: Iterable[Any]) -> str:
    return "[" + ",".join([canonical(part) for part in value]) + "]"


def parse(text: str) -> Any:
    """The plain JSON values of a canonical text: one value, with no space around it. Raises ValueError for any other.

    >>> parse('{"a":[1,null]}')
    {'a': [1, None]}
    """
    value, end = _decode(text)
    if end != len(text):
        raise JSONDecodeError("Extra data", text, end)
    return value


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
        raise ValueError(_("{value} is not a number", value=value))
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


_WRITERS: Mapping[type, Callable[[Any], str]] = {
    str: _quoted, int: _whole, bool: {True: "true", False: "false"}.__getitem__, NoneType: lambda _none: "null",
    float: _number, dict: _table, Mapping: _table, list: _list, tuple: _list,
}  # fmt: skip
"""What writes a value of each kind."""


def finite_number(figures: str) -> float:
    """A fraction that can be kept: neither NaN nor beyond all bounds, which nobody writes.

    Raises OverflowError.
    """
    number = float(figures)
    if not math.isfinite(number):
        raise OverflowError
    return number


def exact_number(figures: str) -> int:
    """A whole number that every reader of JSON keeps exact, as far as it is written out. Raises OverflowError."""
    if len(figures) > len(str(MOST_WRITTEN_OUT)):
        raise OverflowError
    number = int(figures)
    if abs(number) > MOST_EXACT:
        raise OverflowError
    return number


def digest_of(value: Any) -> str:
    """The SHA-256 (FIPS 180-4) of the canonical text of plain JSON values, in hexadecimal."""
    return hashlib.sha256(canonical(value).encode()).hexdigest()
