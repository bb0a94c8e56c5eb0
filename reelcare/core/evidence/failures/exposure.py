"""What entries tell of a part's failures: at which age of each machine, and how long after it was last renewed.

The rules of this file: age is the machine's life total when it happened, in hours (or metres); a failure is a fault on
the part, an event that ends its working (EN 13306). A service or a repair of the part renews it; what has not failed
when it is serviced, or now, is right-censored. A fault while one is open already is the same failure. A machine that
came with hours was not watched before, and how old its parts were is not known: their first lives are left out.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Literal

from reelcare.core import entries as e
from reelcare.core.evidence.failures.counts import System
from reelcare.core.fold import in_turn
from reelcare.core.scales import ScalePoint
from reelcare.core.state import counters as counting
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.plans import Known, PlanBook

Unit = Literal["hours", "metres"]
A_HAIR_MORE = 1 + 1e-9
"""What adding up takes from an age or gives it."""


@dataclass(frozen=True, slots=True)
class Life:
    """One life of a part: how long it lasted since it was renewed, and whether it ended by a failure."""

    time: float
    failed: bool


@dataclass(frozen=True, slots=True)
class Exposure:
    """One machine's part: its ages at failure with the age watched (None: it has not worked), and its lives.

    `before` is what of that age the machine must have had behind it when it came here: its card says so (`[in_use]`),
    or its first reading showed so much more than the clock allows since.
    """

    system: System | None
    lives: tuple[Life, ...]
    before: float = 0.0


def exposures(
    machine: str, entries: Iterable[e.Entry], plans: PlanBook, parts: Iterable[str], unit: Unit = "hours"
) -> dict[str, Exposure]:
    """The exposure of each part of one machine, from all its effective entries in order."""
    wanted = set(parts)
    known = Known(plans)
    state: FoldState | None = None
    failed: dict[str, list[float]] = {part: [] for part in wanted}
    lives: dict[str, list[tuple[float, Life]]] = {part: [] for part in wanted}
    renewed: dict[str, float] = dict.fromkeys(wanted, 0.0)
    down: dict[str, str] = {}
    age = before = 0.0

    def end_life(part: str, *, failed: bool) -> None:
        if age > renewed[part]:
            lives[part].append((renewed[part], Life(age - renewed[part], failed)))

    for one, state in in_turn(machine, entries, known):
        age = _in_unit(state.totals, unit)
        part = _part(one, plans, machine, wanted)
        if isinstance(one.what, e.Fault) and part and part not in down.values() and _is_failure(one.what):
            down[one.id] = part
            end_life(part, failed=True)
            if age > 0:
                failed[part].append(age)
            renewed[part] = age
        elif isinstance(one.what, e.Service) and part and part not in down.values():
            end_life(part, failed=False)
            renewed[part] = age
        elif isinstance(one.what, e.Repair):
            renewed[down.pop(one.what.fault, "")] = age
        if isinstance(one.what, e.Reading):
            before = max(before, _brought(one.what, one.happened, state, unit))
    if state is not None:
        age = _in_unit(state.totals, unit)
        before = max(before, _in_unit(state.start, unit))  # when it came, by its card
    found = {}
    for part in wanted:
        if part not in down.values():
            end_life(part, failed=False)
        known_lives = tuple(
            life for began, life in lives[part] if (began > 0 or not before) and began + life.time <= age * A_HAIR_MORE
        )
        # a reading can show less than the runs before it made: it failed no later than the machine is old
        ages = [min(one, age) for one in failed[part]]
        found[part] = Exposure(_system(ages, age, before), known_lives, before)
    return found


def _system(failed: list[float], age: float, before: float) -> System | None:
    """The machine as it was watched; from new where it failed before its counter was read for the first time."""
    if age <= 0:
        return None
    since = before if before < min([*failed, age]) else 0.0
    return System(tuple(sorted(failed)), age, since)


def _brought(what: e.Reading, at: datetime, state: FoldState, unit: Unit) -> float:
    """How much more a counter's first reading shows than the machine can have done since its first entry here: what it
    did before that, nobody watched, whatever day its card says."""
    count = state.counters.hours if unit == "hours" else state.counters.metres
    if what.counter != unit or what.change or count.shown is not None:
        return 0.0
    # a day may begin up to one earlier in another zone
    hours = (at - datetime.combine(state.began, time(), UTC) + timedelta(days=1)).total_seconds() / 3600
    shown, most = (what.value / 3600, hours) if unit == "hours" else (what.value / 1000, hours * counting.FASTEST)
    return max(0.0, shown - most)


def _part(one: e.Entry, plans: PlanBook, machine: str, wanted: set[str]) -> str:
    """The part that an entry is about, where it is one of those wanted."""
    part = ""
    if isinstance(one.what, e.Fault):
        part = one.what.part
    elif isinstance(one.what, e.Service):
        item = plans.at(machine, one.happened).item(one.what.item)
        part = item.part if item is not None else ""
    return part if part in wanted else ""


def _is_failure(what: e.Fault) -> bool:
    """A fault that holds or must be fixed; a note is none."""
    limits = (what.fix_by_seconds, what.fix_by_millimetres, what.fix_by_runs, what.fix_by_day)
    return bool(what.holds) or any(limit not in (None, "") for limit in limits)


def _in_unit(totals: counting.Totals | ScalePoint, unit: Unit) -> float:
    return totals.seconds / 3600 if unit == "hours" else totals.millimetres / 1000
