"""Readers of a card's values: from what TOML has to SI, with an error that names the place and what would be right.

The rules of this file: a reader takes a value and the dotted key where it stands. Raises UnitsError.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any, NamedTuple

from reelcare.core import units
from reelcare.core.text import _
from reelcare.core.wording import nearest


class ValueReader(NamedTuple):
    """Reads one value of a file, and says what is right there: `"110 mm"`, `true` or `false`; of a figure what it
    measures and in which role, of one of some words which are known."""

    read: Callable[[Any, str], Any]
    right: str
    measures: units.Quantity | None = None
    role: str = ""
    known: tuple[str, ...] = ()

    def __call__(self, value: Any, where: str) -> Any:
        """The value, read. Raises UnitsError."""
        return self.read(value, where)


def read_values(
    table: Mapping[str, Any], known: Mapping[str, ValueReader], where: str, problems: list[str]
) -> dict[str, Any]:
    """What a table at a place says, by its keys; what cannot be is put to the problems."""
    found: dict[str, Any] = {}
    for key, value in table.items():
        place = f"{where}.{key}" if where else key
        if key not in known:
            problems.append(_("{key}: not known{near}", key=place, near=nearest(key, list(known))))
            continue
        try:
            found[key] = known[key](value, place)
        except units.UnitsError as why:
            problems.append(str(why))
    return found


def quantity(kind: units.Quantity, least: float, most: float, example: str, role: str = "") -> ValueReader:
    """A reader of a text with a unit, within a span in SI."""

    def reader(value: Any, where: str) -> float:
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            raise units.UnitsError(_(
                '{where}: {value:g} without a unit; write it as in "{example}"',
                where=where, value=value, example=example,
            ))  # fmt: skip
        if not isinstance(value, str):
            raise units.UnitsError(
                _('{where}: must be a text with a unit, as in "{example}"', where=where, example=example)
            )
        try:
            found = units.read(value, kind)
        except units.UnitsError as why:
            raise units.UnitsError(f"{where}: {why}") from None
        if not least <= found <= most:
            name = units.split(value)[1]
            raise units.UnitsError(_(
                "{where}: {value} cannot be right; it must be between {least} and {most}",
                where=where, value=value, least=units.write(least, name), most=units.write(most, name),
            ))  # fmt: skip
        return found

    unit = units.split(example)[1]
    span = f"{units.write(least, unit)} to {units.write(most, unit)}"
    return ValueReader(reader, "a text with a unit, as in " + f'`"{example}"`; {span}', kind, role)


def pairs(first: units.Quantity, second: units.Quantity, example: str) -> ValueReader:
    """A reader of a list of pairs of quantities, in SI."""

    def reader(value: Any, where: str) -> tuple[tuple[float, float], ...]:
        if not isinstance(value, list):
            raise units.UnitsError(_("{where}: must be a list of pairs, as in {example}", where=where, example=example))
        found = []
        for number, pair in enumerate(value, 1):
            if not (isinstance(pair, list) and len(pair) == 2 and all(isinstance(one, str) for one in pair)):
                raise units.UnitsError(_(
                    "{where}: point {n}: give two texts with units, as in {example}",
                    where=where, n=number, example=example,
                ))  # fmt: skip
            try:
                found.append((units.read(pair[0], first), units.read(pair[1], second)))
            except units.UnitsError as why:
                raise units.UnitsError(_("{where}: point {n}: {why}", where=where, n=number, why=why)) from None
        return tuple(found)

    return ValueReader(reader, "pairs of texts with units, as in " + f"`{example}`")


def bare(least: float, most: float, what: str, *, whole: bool = False) -> ValueReader:
    """A reader of a bare number within a span."""

    def reader(value: Any, where: str) -> float | int:
        right = _("{what}, between {least:g} and {most:g}", what=_(what), least=least, most=most)
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise units.UnitsError(_("{where}: must be a bare number ({right})", where=where, right=right))
        if not least <= value <= most:
            raise units.UnitsError(
                _("{where}: {value:g} cannot be right ({right})", where=where, value=value, right=right)
            )
        if whole and value != int(value):
            raise units.UnitsError(_("{where}: {value:g}: must be a whole number", where=where, value=value))
        return int(value) if whole else float(value)

    right = f"a {'whole' if whole else 'bare'} number: {what}; {least:.10g} to {most:.10g}"
    return ValueReader(reader, right, "count")


MASSES = {"kg": 1.0, "t": 1000.0, "lb": 0.45359237}
"""Kilograms in a unit of mass (NIST SP 811, B.8)."""
_MASS = re.compile(r"\s*([0-9]+(?:\.[0-9]+)?)\s*([a-z]+)\s*")


def mass(least: float, most: float, example: str) -> ValueReader:
    """A reader of a mass [kg]: a bare number of kilograms, or a text with its unit; a comma could be thousands."""
    number = bare(least, most, "kg")

    def reader(value: Any, where: str) -> float:
        found = _MASS.fullmatch(value) if isinstance(value, str) else None
        if found is not None and found[2] in MASSES:
            value = round(float(found[1]) * MASSES[found[2]], 3)
        read: float = number.read(value, where)
        return read

    return ValueReader(reader, number.right + f", or `{example}`", "count")


def one_of(known: tuple[str, ...]) -> ValueReader:
    """A reader of one of the words that are known."""

    def reader(value: Any, where: str) -> str:
        if value not in known:
            raise units.UnitsError(_(
                "{where}: {value!r} is not known; choose from {known}",
                where=where, value=value, known=", ".join(known),
            ))  # fmt: skip
        return str(value)

    return ValueReader(reader, ", ".join(f'`"{one}"`' for one in known), known=known)


def _flag(value: Any, where: str) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise units.UnitsError(_("{where}: must be true or false", where=where))
    return value


def _text(value: Any, where: str) -> str:
    """A text, without blanks around it."""
    if not isinstance(value, str):
        raise units.UnitsError(_("{where}: must be a text", where=where))
    return value.strip()


def _day_of_year(value: Any, where: str) -> str:
    """A month and day such as 04-15."""
    found = _text(value, where)
    if not is_day_of_year(found):
        raise units.UnitsError(
            _('{where}: {found!r}: must be a month and day such as "04-15"', where=where, found=found)
        )
    return found


def is_day_of_year(text: str) -> bool:
    """Whether a text is a month and day.

    >>> is_day_of_year("02-29"), is_day_of_year("W05-1")
    (True, False)
    """
    try:
        date.fromisoformat(f"2024-{text}")  # a leap year, so that 29 February can open a season
    except ValueError:
        return False
    return len(text) == 5 and text[2] == "-"  # ISO 8601 also knows weeks, as in W05-1


def _day(value: Any, where: str) -> date:
    """A day, as TOML has it or as a text."""
    if isinstance(value, date):
        return value
    try:
        return date.fromisoformat(_text(value, where))
    except ValueError:
        raise units.UnitsError(
            _('{where}: {value!r}: must be a day such as "2019-04-01"', where=where, value=value)
        ) from None


flag = ValueReader(_flag, "`true` or `false`")
text = ValueReader(_text, "a text")
day_of_year = ValueReader(_day_of_year, 'a month and day, as in `"04-15"`')
day = ValueReader(_day, 'a day, as in `"2019-04-01"`')
