"""A sheet as plain values again.

The rules of this file: it says of a sheet what `sheet_table.py` reads, and no other thing; an entry keeps it so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from reelcare.core.checks.sheet import Choice, Limit, Question, Sheet, Stage


def to_plain(sheet: Sheet) -> dict[str, Any]:
    """The sheet as the table that `read_sheet` takes."""
    table = _table({one.name: getattr(sheet, one.name) for one in fields(sheet)})
    table["for"] = table.pop("checks_for")
    return table


def _table(values: Mapping[str, Any]) -> dict[str, Any]:
    """The values that say something; what is not there is read as nothing said."""
    return {key: _plain(value) for key, value in values.items() if value}


def _plain(value: Any) -> Any:
    if isinstance(value, Limit):
        return list(value.ways)
    if isinstance(value, Question):
        table = _table(value._asdict())
        if not value.is_number:
            del table["quantity"]
        if value.about is None:
            del table["within"]
        return table
    if isinstance(value, (Stage, Choice)):
        return _table(value._asdict())
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return dict(value) if isinstance(value, Mapping) else value
