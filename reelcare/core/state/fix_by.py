"""A fix-by limit as people say it: a day, or so much more than the machine has done."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

from reelcare.core import units
from reelcare.core.state.counters import Totals
from reelcare.core.text import _, mark
from reelcare.core.typed_time import TimeError, check_year

EXAMPLES = mark("20 h, 5000 m, 3 runs, 14 days, 2026-05-31")
MOST_HOURS, MOST_METRES, MOST_RUNS, MOST_DAYS = 10_000, 1_000_000, 10_000, 3660
"""What a limit may lie ahead at most: more is a slip (some ten years' work; common practice, no source)."""
_COUNT = re.compile(r"(\d+)\s*(?:(runs?|pasadas?|passages?)|(?:days?|d|d[ií]as?|jours?))", re.IGNORECASE)
"""So many runs or days, in the words of any of the languages that its examples are shown in."""


def read(text: str, totals: Totals, today: date) -> dict[str, Any]:
    """The fields of a fault that say when it must be fixed. Raises UnitsError.

    >>> read("3 runs", Totals(runs=40), date(2026, 5, 1)), read("2 h", Totals(seconds=3600), date(2026, 5, 1))
    ({'fix_by_runs': 43}, {'fix_by_seconds': 10800})
    """
    text = text.strip()
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return _so_much_more(text, totals, today)
    try:
        check_year(day, text)
    except TimeError as why:
        raise units.UnitsError(str(why)) from None
    return {"fix_by_day": day.isoformat()}


def _so_much_more(text: str, totals: Totals, today: date) -> dict[str, Any]:
    counted = _COUNT.fullmatch(text)
    if counted is not None:
        if counted.group(2):
            return {"fix_by_runs": totals.runs + round(_meant(text, float(counted.group(1)), MOST_RUNS, "runs"))}
        days = round(_meant(text, float(counted.group(1)), MOST_DAYS, "days"))
        return {"fix_by_day": (today + timedelta(days=days)).isoformat()}
    try:
        _value, unit = units.split(text)
    except units.UnitsError:
        unit = ""
    quantity = units.UNITS[unit].quantity if unit else ""
    if unit == "d":
        raise units.UnitsError(_("{text!r}: must be a whole number of days, as in 3 days", text=text))
    if quantity == "duration":
        hours = _meant(text, units.read(text, "duration") / 3600, MOST_HOURS, "h")
        return {"fix_by_seconds": totals.seconds + round(hours * 3600)}
    if quantity == "length":
        metres = _meant(text, units.read(text, "length"), MOST_METRES, "m")
        return {"fix_by_millimetres": totals.millimetres + round(metres * 1000)}
    raise units.UnitsError(_("{text!r}: write {examples}", text=text, examples=_(EXAMPLES)))


def _meant(text: str, value: float, most: int, unit: str) -> float:
    """The value, where it lies ahead and is no slip. Raises UnitsError."""
    if not 0 < value <= most:
        raise units.UnitsError(
            _("{text!r}: must be above 0 and at most {most} {unit}", text=text, most=most, unit=unit)
        )
    return value
