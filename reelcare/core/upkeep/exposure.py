"""What entries tell of a part's failures: at which age of each machine, and how long after it was last renewed.

The rules of this file: age is the machine's life total when it happened, in hours (or metres); a failure is a fault on
the part, an event that ends its working (EN 13306). A service or a repair of the part renews it; what has not failed
when it is serviced, or now, is right-censored. A fault while one is open already is the same failure.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from reelcare.core import entries as e
from reelcare.core.upkeep import tally as tallying
from reelcare.core.upkeep.failures import System
from reelcare.core.upkeep.tally import PlanBook, Tally

Unit = Literal["hours", "metres"]


@dataclass(frozen=True, slots=True)
class Life:
    """One life of a part: how long it lasted since it was renewed, and whether it ended by a failure."""

    time: float
    failed: bool


@dataclass(frozen=True, slots=True)
class Exposure:
    """One machine's part: its ages at failure with the age watched (None: it has not worked), and its lives."""

    machine: str
    system: System | None
    lives: tuple[Life, ...]


def exposures(
    machine: str, entries: Iterable[e.Entry], plans: PlanBook, parts: Iterable[str], unit: Unit = "hours"
) -> dict[str, Exposure]:
    """The exposure of each part of one machine, from all its effective entries in order."""
    wanted = set(parts)
    tally: Tally | None = None
    failed: dict[str, list[float]] = {part: [] for part in wanted}
    lives: dict[str, list[Life]] = {part: [] for part in wanted}
    renewed: dict[str, float] = dict.fromkeys(wanted, 0.0)
    down: dict[str, str] = {}
    age = 0.0
    for one in entries:
        if tally is None:
            tally = tallying.begin(machine, tallying.day_of(one.happened, plans.zone))
        part = _part(one, plans, tally, wanted)
        if isinstance(one.what, e.Fault) and part and part not in down.values() and _is_failure(one.what):
            down[one.id] = part
            if age > renewed[part]:
                lives[part].append(Life(age - renewed[part], True))
            if age > 0:
                failed[part].append(age)
            renewed[part] = age
        elif isinstance(one.what, e.Service) and part and part not in down.values():
            if age > renewed[part]:
                lives[part].append(Life(age - renewed[part], False))
            renewed[part] = age
        elif isinstance(one.what, e.Repair):
            renewed[down.pop(one.what.fault, "")] = age
        tally = tallying.fold(tally, one, plans)
        age = _age(tally, unit)
    found = {}
    for part in wanted:
        if age > renewed[part] and part not in down.values():
            lives[part].append(Life(age - renewed[part], False))
        system = System(tuple(sorted(failed[part])), age) if age > 0 else None
        found[part] = Exposure(machine, system, tuple(lives[part]))
    return found


def _part(one: e.Entry, plans: PlanBook, tally: Tally, wanted: set[str]) -> str:
    """The part that an entry is about, where it is one of those wanted."""
    part = ""
    if isinstance(one.what, e.Fault):
        part = one.what.part
    elif isinstance(one.what, e.Service):
        item = plans.at(tally.machine, one.happened).item(one.what.item)
        part = item.part if item is not None else ""
    return part if part in wanted else ""


def _is_failure(what: e.Fault) -> bool:
    """A fault that holds or must be fixed; a note is none."""
    limits = (what.fix_by_seconds, what.fix_by_millimetres, what.fix_by_runs, what.fix_by_day)
    return bool(what.holds) or any(limit not in (None, "") for limit in limits)


def _age(tally: Tally, unit: Unit) -> float:
    return tally.totals.seconds / 3600 if unit == "hours" else tally.totals.millimetres / 1000
