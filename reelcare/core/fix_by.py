"""A fix-by limit as people say it: a day, or so much more than the machine has done."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

from reelcare.core import units
from reelcare.core.upkeep.counters import Totals

EXAMPLES = "20 h, 5000 m, 3 runs, 14 days, 2026-05-31"
_COUNT = re.compile(r"(\d+)\s*(runs?|days?|d)", re.IGNORECASE)


def read(text: str, totals: Totals, today: date) -> dict[str, Any]:
    """The fields of a fault that say when it must be fixed. Raises UnitsError.

    >>> read("3 runs", Totals(runs=40), date(2026, 5, 1)), read("2 h", Totals(seconds=3600), date(2026, 5, 1))
    ({'fix_by_runs': 43}, {'fix_by_seconds': 10800})
    """
    try:
        return {"fix_by_day": date.fromisoformat(text).isoformat()}
    except ValueError:
        pass
    counted = _COUNT.fullmatch(text.strip())
    if counted is not None:
        count = int(counted.group(1))
        if counted.group(2).lower().startswith("run"):
            return {"fix_by_runs": totals.runs + count}
        return {"fix_by_day": (today + timedelta(days=min(count, 36_600))).isoformat()}
    try:
        _, unit = units.split(text)
        quantity = units.UNITS[unit].quantity if unit else ""
        if quantity == "duration":
            return {"fix_by_seconds": totals.seconds + round(units.read(text, "duration"))}
        if quantity == "length":
            return {"fix_by_millimetres": totals.millimetres + round(units.read(text, "length") * 1000)}
    except units.UnitsError:
        pass
    raise units.UnitsError(f"{text!r}; right are {EXAMPLES}")
