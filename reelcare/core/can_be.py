"""Whether an entry that was sealed elsewhere can be one: each field of its kind, and what is in it readable.

The rules of this file: it asks what the fold must be able to rely on, and nothing more. What a door elsewhere let in
is not judged again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import MAXYEAR, MINYEAR, date, datetime
from functools import cache
from types import NoneType, UnionType
from typing import Any, Literal, get_args, get_origin, get_type_hints

from reelcare.core.entries import KINDS, MOST_EXACT, Carded, EntryError, Fault, Planned, What, names_of
from reelcare.core.machine.card import read_card
from reelcare.core.service.plan_table import read_plan


def must_be(what: What) -> None:
    """Nothing, where an entry can be. Raises a ValueError that says what cannot: an EntryError, CardError or PlanError.

    >>> from reelcare.core.entries import Reading
    >>> must_be(Reading(counter="hours", value="many"))
    Traceback (most recent call last):
    reelcare.core.entries.EntryError: value: 'many' cannot stand there
    """
    for name, text, fits in _fields(what.kind):
        value = getattr(what, name)
        # most of what people write down is text
        if type(value) is not text and not fits(value):
            raise EntryError(f"{name}: {str(value)[:40]!r} cannot stand there")
    if isinstance(what, Carded):
        read_card(what.card)
    elif isinstance(what, Planned):
        read_plan(what.plan)
    elif isinstance(what, Fault) and what.fix_by_day is not None:
        date.fromisoformat(what.fix_by_day)


Fits = Callable[[Any], bool]


@cache
def _fields(kind: str) -> tuple[tuple[str, type[str] | None, Fits], ...]:
    """The fields of a kind, each with the type of text where any text can stand there, and what tells whether a value
    can."""
    hints = get_type_hints(KINDS[kind])
    return tuple((name, str if hints[name] is str else None, _fits(hints[name])) for name in names_of(KINDS[kind]))


def _fits(hint: Any) -> Fits:
    origin, parts = get_origin(hint), get_args(hint)
    if origin is Literal:
        return lambda value: value in parts
    if origin is UnionType:
        # of those a kind has, all are `... | None`
        some = _fits(next(part for part in parts if part is not NoneType))
        return lambda value: value is None or some(value)
    if origin is tuple:
        one = _fits(parts[0])
        return lambda value: type(value) is tuple and _all(one, value)
    if origin is Mapping:
        each = _fits(parts[1])
        return lambda value: isinstance(value, Mapping) and _all(each, value.values())
    if hint is Any:
        return lambda _: True
    if hint is int:
        return lambda value: type(value) is int and abs(value) <= MOST_EXACT
    if hint is datetime:
        # a zone's offset must not leave the calendar
        return lambda value: value.tzinfo is not None and MINYEAR < value.year < MAXYEAR
    return lambda value: type(value) is hint


def _all(fits: Fits, values: Iterable[Any]) -> bool:
    return all(map(fits, values))
