"""Kinds to and from plain JSON values (text, whole numbers, true/false, null, lists, tables), so that what is hashed
has one form only; and whether an entry that was sealed elsewhere can be one.

The rules of this file: everything follows from the fields of a kind and their types.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields
from datetime import MAXYEAR, MINYEAR, datetime
from types import NoneType, UnionType
from typing import Any, Literal, NamedTuple, get_args, get_origin, get_type_hints

from reelcare.core.canonical_json import MOST_EXACT
from reelcare.core.entries.base import EntryError, Json, Kind
from reelcare.core.text import _
from reelcare.core.timestamps import time_of, time_text

Fits = Callable[[Any], bool]


class BodyField(NamedTuple):
    """One field of a kind: its name, whether it is left out of a body where it is empty, and which values fit."""

    name: str
    is_optional: bool
    is_text: bool
    is_moment: bool
    is_tuple: bool
    fits: Fits


_FIELDS: dict[type[Kind], tuple[BodyField, ...]] = {}
_READ: dict[type[Kind], tuple[tuple[str, Callable[[Any], Any]], ...]] = {}
"""The fields of each kind whose values are not those of JSON, with what makes the one of the other."""


def fields_of(kind: type[Kind]) -> tuple[BodyField, ...]:
    """The fields of a kind, in their order."""
    found = _FIELDS.get(kind)
    if found is None:
        found = _FIELDS[kind] = _read_fields(kind)
    return found


def _read_by(kind: type[Kind]) -> tuple[tuple[str, Callable[[Any], Any]], ...]:
    found = _READ.get(kind)
    if found is None:
        found = _READ[kind] = tuple(
            (one.name, time_of if one.is_moment else _tuple) for one in fields_of(kind) if one.is_moment or one.is_tuple
        )
    return found


def _read_fields(kind: type[Kind]) -> tuple[BodyField, ...]:
    hints = get_type_hints(kind)
    return tuple(
        BodyField(
            name=one.name,
            is_optional=one.default_factory in (dict, tuple) or one.default in (None, "", ()),
            is_text=hints[one.name] is str,
            is_moment=hints[one.name] is datetime,
            is_tuple=get_origin(hints[one.name]) is tuple,
            fits=_fits(hints[one.name]),
        )
        for one in fields(kind)  # type: ignore[arg-type]  # every kind is a dataclass
    )


def to_body(what: Kind) -> dict[str, Json]:
    """A kind as plain JSON values, without the fields that are empty where they need not be there."""
    body: dict[str, Json] = {}
    for one in fields_of(type(what)):
        value = getattr(what, one.name)
        if one.is_optional and not value and value != 0:  # 0 and False say something
            continue
        body[one.name] = value if type(value) in _AS_THEY_ARE else _plain(value)
    return body


_AS_THEY_ARE = {str, int, bool, NoneType}
"""The types of most values: these are JSON's own."""


def _plain(value: Any) -> Json:
    if isinstance(value, datetime):
        return time_text(value)
    if isinstance(value, tuple):
        return list(value)
    return dict(value) if isinstance(value, Mapping) else value


def _tuple(value: Json) -> Any:
    """A list as it stands in a kind; what else stands there is left for `validate` to refuse."""
    return tuple(value) if type(value) is list else value


def from_body(cls: type[Kind], body: Mapping[str, Json]) -> Kind:
    """The kind that `to_body` took apart. Raises EntryError where the fields do not fit."""
    values = dict(body)
    try:
        for name, read in _read_by(cls):
            if name in values:
                values[name] = read(values[name])
        return cls(**values)
    except TypeError as why:
        raise EntryError(
            _("an entry of the kind {kind!r} with fields that do not fit: {why}", kind=cls.kind, why=why)
        ) from None


def validate(what: Kind) -> None:
    """Whether an entry that was sealed elsewhere can be one: each field of its type, and what is in it readable.

    It asks what the fold must be able to rely on, and nothing more: what another register let in is not judged again.
    Raises a ValueError that says what cannot be: an EntryError, CardError or PlanError.
    """
    for one in fields_of(type(what)):
        value = getattr(what, one.name)
        # most of what people write down is text
        if not (one.is_text and type(value) is str) and not one.fits(value):
            raise EntryError(_("{name}: {value!r} is not allowed there", name=one.name, value=str(value)[:40]))
    what.validate_content()


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
