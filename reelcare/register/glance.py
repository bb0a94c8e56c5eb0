"""What a list of thousands of machines is ordered and counted by, without looking at each of them.

The rules of this file: a glance is worked out with the tally, after each entry, and says from when on the passing of
time alone will change the machine's standing; so it needs no new look until an entry comes. It decides nothing: the
judge is `standing.py`, and a test holds the two against each other at any moment after.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime, tzinfo

from reelcare.core.checks.clearance import AHEAD, LAPSE
from reelcare.core.parts import FOR_THE_ROAD
from reelcare.core.scales import SCALES, Threshold
from reelcare.core.service import due
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.plan import Plan
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.standing import Word
from reelcare.core.timestamps import day_of

RUN, ROAD = 1, 2
"""What is held, as bits."""


@dataclass(frozen=True, slots=True)
class Glance:
    """Standing and next item of a machine, as far as its entries alone decide them.

    `held` is RUN, ROAD, both or 0, whatever the day. From `run_held_day` on (a day number) the run is held by a date,
    from `road_held_day` on the road. From `run_from` to `run_until` the run is cleared, where it is not held; so the
    road. `life` is the greatest used part of an item on the day `life_day`, `next_item` that item.
    """

    checked: datetime | None
    held: int
    run_held_day: int | None
    road_held_day: int | None
    run_from: datetime | None
    run_until: datetime | None
    road_from: datetime | None
    road_until: datetime | None
    life: float
    next_item: str
    life_day: int

    def words(self, now: datetime, day: date) -> tuple[Word, Word]:
        """The standing of run and road at a moment after the last entry, and on its day where the machines stand."""
        return (
            _word(self.held & RUN, self.run_held_day, self.run_from, self.run_until, now, day),
            _word(self.held & ROAD, self.road_held_day, self.road_from, self.road_until, now, day),
        )


COLUMNS = tuple(field.name for field in fields(Glance))


def _word(
    held: int, held_day: int | None, since: datetime | None, until: datetime | None, now: datetime, day: date
) -> Word:
    if held or (held_day is not None and day.toordinal() >= held_day):
        return "held"
    return "clear" if since is not None and until is not None and since <= now <= until else "check due"


def glance(tally: MachineState, plan: Plan, now: datetime, zone: tzinfo, judged: Sequence[DueLine]) -> Glance:
    """The glance at a machine; `judged` are its due lines at `now`, the moment of its last entry or later."""
    held, days = _by_faults(tally, now, zone)
    by_items, item_days = _by_items(tally, plan)
    run, road = _clearances(tally)
    first = next((line for line in judged if line.news), None)
    return Glance(
        checked=tally.last_check,
        held=held | by_items,
        run_held_day=_first([*days, *item_days["run"]]),
        road_held_day=_first([*days, *item_days["road"]]),
        run_from=run[0],
        run_until=run[1],
        road_from=road[0],
        road_until=road[1],
        life=first.due.used_fraction if first else 0.0,
        next_item=first.item.id if first else "",
        life_day=day_of(now, zone).toordinal(),
    )


def _first(days: list[int]) -> int | None:
    return min(days, default=None)


def _by_faults(tally: MachineState, now: datetime, zone: tzinfo) -> tuple[int, list[int]]:
    held, days = 0, []
    for fault in tally.faults:
        if fault.holds:
            held |= {"run": RUN, "road": ROAD, "both": RUN | ROAD}[fault.holds]
            continue
        if fault.fix_by_day:
            days.append(date.fromisoformat(fault.fix_by_day).toordinal())
        # by its counters alone: before any day
        if fault.lapsed(tally.totals, date.min):
            held |= RUN | ROAD
    return held, days


def _by_items(tally: MachineState, plan: Plan) -> tuple[int, dict[str, list[int]]]:
    held, days = 0, {"run": list[int](), "road": list[int]()}
    totals = (tally.totals.seconds, tally.totals.millimetres, tally.totals.runs)
    for item in plan.items:
        if not item.stop:
            continue
        side, bit = ("road", ROAD) if item.part in FOR_THE_ROAD else ("run", RUN)
        for limb in due.thresholds(item, tally.cycle(item)):
            if limb.by == "date":
                days[side].append(limb.late + 1)
            elif totals[SCALES.index(limb.by)] > limb.late:
                held |= bit
    return held, days


Span = tuple[datetime | None, datetime | None]


def _clearances(tally: MachineState) -> tuple[Span, Span]:
    return _clearance(tally, "run"), _clearance(tally, "road")


def _clearance(tally: MachineState, side: str) -> Span:
    passed = tally.passed.get(side)
    if passed is None or passed.spent is not None:
        return None, None
    return passed.at - AHEAD, passed.at + LAPSE


def columns_of(thresholds: Sequence[Threshold]) -> tuple[int | None, ...]:
    """From, due and late of hours (s), metres (mm), runs and date (day number), None where a scale is not used."""
    by = {one.by: one for one in thresholds}
    found: list[int | None] = []
    for scale in SCALES:
        one = by.get(scale)
        found += [one.base, one.due, one.late] if one else [None, None, None]
    return tuple(found)


def thresholds_in(columns: Sequence[int | None]) -> tuple[Threshold, ...]:
    """What `columns_of` wrote.

    >>> thresholds_in((0, 360, 396, *[None] * 9))
    (Threshold(by='hours', base=0, due=360, late=396),)
    """
    found = []
    for place, by in enumerate(SCALES):
        base, limit, late = columns[3 * place : 3 * place + 3]
        if base is not None and limit is not None and late is not None:
            found.append(Threshold(by, base, limit, late))
    return tuple(found)
