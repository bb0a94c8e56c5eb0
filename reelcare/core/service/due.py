"""What is due: intervals by hours, metres, runs and months, whichever comes first, with grace.

The rules of this file. An item counts from a base on each of its scales. After a service the base moves:
within the grace of the point that was scheduled (by default 10 % of the interval to either side) it moves to
that point, so that the schedule does not drift; outside, it moves to where the service was done. An item
anchored "done" always counts from where it was done; one anchored "calendar" keeps its dates, and a service in the
last quarter before a date is for that one. All of that is judged again by the plan in force: what was on schedule by a
long interval can lie far off that of a shorter one, and what is put on a day of the year is due on that.
The rule of the window, and that safety items have no grace: US Army DA PAM 738-750 (scheduled services) and PS, The
Preventive Maintenance Monthly, TB 43-PS-580, pages 52-54. Months are added to the day that the dates count from and
clipped to the end of the month, never chained.
"""

from __future__ import annotations

import math
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import Any, Literal, NamedTuple, get_args

from reelcare.core import units
from reelcare.core.machine.card import Season
from reelcare.core.scales import SCALES, SOON, WHOLE, By, ScalePoint, Threshold, why
from reelcare.core.service.months import add_months, counted_from
from reelcare.core.service.plan import Interval, Item
from reelcare.core.text import _

State = Literal["overdue", "unknown", "due", "soon", "ok"]
STATES: tuple[State, ...] = get_args(State)
"""The worst first; *unknown* is what was never done on a machine whose use until now nobody can vouch for."""
LATEST_BASE = date(9998, 12, 31)
"""The last day from which an interval can count."""
YEAR = 12
"""Months of a year."""
EARLY = 4
"""A service in the last one of so many parts before a calendar date is for that date (common practice, no source)."""


class Cycle(NamedTuple):
    """How far one item has come on one machine.

    `base` is what its hours, metres and runs count from; its dates count from `anchor` plus `months`. `first` says
    that it has not been done yet, so that its first interval holds. `again` is from where the first interval runs
    once more beside the usual one, after a repair (seconds, millimetres, runs, day number). `by_hours` says that of
    when it was done only the hours were told: `last_done` is the first day on which that can have been.
    """

    base: tuple[int, int, int]
    anchor: date
    months: int = 0
    first: bool = True
    last_done: date | None = None
    last_totals: tuple[int, int, int] | None = None
    again: tuple[int, int, int, int] | None = None
    by_hours: bool = False

    @property
    def done_at(self) -> int | None:
        """The life total of hours [s] at which it was last done, where nothing but that was told."""
        return self.last_totals[0] if self.by_hours and self.last_totals is not None else None

    @classmethod
    def from_plain(cls, plain: list[Any]) -> Cycle:
        """A cycle of plain JSON values, in the order of its fields."""
        base, anchor, months, first, done, totals, again, by_hours = plain
        return cls(
            (base[0], base[1], base[2]),
            date.fromisoformat(anchor),
            months,
            first,
            date.fromisoformat(done) if done else None,
            (totals[0], totals[1], totals[2]) if totals else None,
            (again[0], again[1], again[2], again[3]) if again else None,
            by_hours,
        )


class Due(NamedTuple):
    """Where one item stands. `used`, `interval`, `left` and `grace_left` are of the scale `by`: h, m, runs or days.

    Of one that is unknown only `by` and `interval` say something; lists and JSON leave the others out.
    """

    state: State
    by: By
    used: float
    interval: float
    left: float
    used_fraction: float
    grace_left: float
    held: bool
    told: str = ""
    """What is said of it in the place of what is left; '' where that is said."""

    def why(self, system: units.System) -> str:
        """Where it stands, in words: many items are judged, and few of them told."""
        return self.told or why(self.by, self.left, system)


def begin(item: Item, start: ScalePoint, season: Season | None = None) -> Cycle:
    """The first cycle of an item, from the machine's beginning.

    An item that stands on a day of the year is first due on the first such day; where that is the season's and the
    card names none, it counts from the beginning as others do.

    >>> lay_up = Item("lay-up", {"en": "Lay-up"}, Interval(months=12), anchor="calendar", on="closes")
    >>> cycle = begin(lay_up, ScalePoint(date(2026, 6, 1)), Season("04-15", "09-30"))
    >>> date.fromordinal(thresholds(lay_up, cycle)[0].due)
    datetime.date(2026, 9, 30)
    """
    on = _stands_on(item, season)
    if not on:
        return Cycle(base=start.totals, anchor=start.day)
    interval = item.first.over(item.every) if item.first is not None else item.every
    anchor, months = counted_from(on, start.day, interval.months or 0)
    return Cycle(base=start.totals, anchor=anchor, months=months)


def in_force(item: Item, cycle: Cycle, season: Season | None = None) -> Cycle:
    """The cycle of an item that was done, as the item and the season count that are in force since: from where it was
    scheduled if that is inside the grace of today's interval (of the first one, where that is longer), else from where
    it was done; on the dates of today.

    >>> oil = Item("oil", {"en": "Oil"}, Interval(seconds=500 * 3600))
    >>> cycle = after_service(oil, begin(oil, ScalePoint(date(2026, 3, 1))), ScalePoint(date(2026, 5, 1), 460 * 3600))
    >>> sooner = Item("oil", {"en": "Oil"}, Interval(seconds=100 * 3600))
    >>> [in_force(item, cycle).base[0] // 3600 for item in (oil, sooner)]
    [500, 460]
    """
    if cycle.last_done is None or cycle.last_totals is None:
        return cycle
    base = [
        done if every is not None and (item.anchor == "done" or abs(start - done) > _grace(every, item)) else start
        for start, done, every in zip(cycle.base, cycle.last_totals, _longest(item), strict=False)
    ]
    anchor, months = _dates_in_force(item, cycle, cycle.last_done, season)
    return Cycle((base[0], base[1], base[2]), anchor, months, *cycle[3:])


def _longest(item: Item) -> Interval:
    """The longer one of the intervals of an item on each scale: it can have been done by either."""
    if item.first is None:
        return item.every
    both = zip(item.every, item.first, strict=True)
    return Interval(*(None if every is None else max(every, other or 0) for every, other in both))


def _dates_in_force(item: Item, cycle: Cycle, done: date, season: Season | None) -> tuple[date, int]:
    """What the dates of an item count from that was done on a day: an anchor day and the months after it."""
    interval = item.every.months
    if interval is None:
        return cycle.anchor, cycle.months
    if item.anchor == "calendar":
        on = _stands_on(item, season)
        if not on or on == f"{cycle.anchor:%m-%d}":
            return cycle.anchor, cycle.months
        anchor, months = counted_from(on, done, YEAR)
        step = min(interval, YEAR)
        while add_months(anchor, months) <= done:
            months += step
        return anchor, months if _near_the_end(anchor, months - interval, interval, done) else months - step
    before = _longest(item).months or interval
    begun, base = (add_months(cycle.anchor, cycle.months - less) for less in (before, 0))
    if item.anchor == "done" or abs((base - done).days) > _grace((base - begun).days, item):
        return done, 0
    return cycle.anchor, cycle.months


def _stands_on(item: Item, season: Season | None) -> str | None:
    if item.on == "opens":
        return season.opens if season is not None else None
    if item.on == "closes":
        return season.closes if season is not None else None
    return item.on


def restart(item: Item, cycle: Cycle, at: ScalePoint) -> Cycle:
    """The cycle after a repair of the item's part: where the plan says so, the first interval runs once more.

    The usual interval goes on as it did.

    >>> nuts = Item("nuts", {"en": "Nuts"}, Interval(months=3), Interval(seconds=50 * 3600), first_after_repair=True)
    >>> cycle = after_service(nuts, begin(nuts, ScalePoint(date(2026, 4, 1))), ScalePoint(date(2026, 6, 1), 100 * 3600))
    >>> repaired = restart(nuts, cycle, ScalePoint(date(2026, 6, 9), 120 * 3600))
    >>> [one.due // 3600 for one in thresholds(nuts, repaired)[:1]]
    [170]
    """
    if not item.first_after_repair or item.first is None:
        return cycle
    return cycle._replace(again=(*at.totals, at.day.toordinal()))


def interval_of(item: Item, cycle: Cycle) -> Interval:
    """The interval that holds now: the first one until the item has been done once."""
    return item.first.over(item.every) if cycle.first and item.first is not None else item.every


def thresholds(item: Item, cycle: Cycle) -> tuple[Threshold, ...]:
    """The scales of an item as they stand, in the order hours, metres, runs, date."""
    usual = _usual(item, cycle)
    if cycle.again is None or item.first is None:
        return usual
    by = {one.by: one for one in usual}
    for one in _first_again(item.first, cycle.again, item.grace):
        if one.by not in by or one.due < by[one.by].due:
            by[one.by] = one
    return tuple(by[scale] for scale in SCALES if scale in by)


def _first_again(first: Interval, again: tuple[int, int, int, int], grace: int) -> Iterator[Threshold]:
    for by, base, every in zip(SCALES, again, first, strict=True):
        if every is not None:
            due = add_months(date.fromordinal(base), every).toordinal() if by == "date" else base + every
            yield Threshold(by, base, due, due + (due - base) * grace // 100)


def _usual(item: Item, cycle: Cycle) -> tuple[Threshold, ...]:
    interval = interval_of(item, cycle)
    found = [
        Threshold(by, base, base + every, base + every + _grace(every, item))
        for by, base, every in zip(SCALES, cycle.base, interval, strict=False)
        if every is not None
    ]
    if interval.months is not None:
        base = min(add_months(cycle.anchor, cycle.months), LATEST_BASE).toordinal()
        # a day is left even where the calendar ends
        due = max(add_months(cycle.anchor, cycle.months + interval.months).toordinal(), base + 1)
        found.append(Threshold("date", base, due, due + _grace(due - base, item)))
    return tuple(found)


def after_service(item: Item, cycle: Cycle, done: ScalePoint, *, scheduled: bool = True) -> Cycle:
    """The cycle after the item has been done at a point; where it was not `scheduled`, as nobody knew since when it
    counts, it counts from where it was done (dates of the calendar stand).

    >>> oil = Item("oil", {"en": "Oil"}, Interval(seconds=100 * 3600))
    >>> cycle = begin(oil, ScalePoint(date(2026, 3, 1)))
    >>> after_service(oil, cycle, ScalePoint(date(2026, 5, 1), 108 * 3600)).base[0] // 3600  # inside the window
    100
    >>> after_service(oil, cycle, ScalePoint(date(2026, 5, 1), 111 * 3600)).base[0] // 3600  # outside
    111
    """
    interval = interval_of(item, cycle)
    totals = done.totals
    base = list(totals)
    if item.anchor != "done" and scheduled:
        for place, every in enumerate(interval[:-1]):
            if every is not None and abs(base[place] - cycle.base[place] - every) <= _grace(every, item):
                base[place] = cycle.base[place] + every
    if interval.months is not None:
        anchor, months = _dates_after(item, cycle, interval.months, done.day, scheduled=scheduled)
    else:
        anchor, months = done.day, 0
    return Cycle((base[0], base[1], base[2]), anchor, months, False, done.day, totals)


def _grace(every: int, item: Item) -> int:
    """How far from where it is due a service may be and still be the one that was due there."""
    return every * item.grace // 100


def _dates_after(item: Item, cycle: Cycle, interval: int, done: date, *, scheduled: bool) -> tuple[date, int]:
    """What the dates count from after a service: an anchor day and the months after it."""
    if item.anchor == "calendar":
        months = cycle.months
        # a service is for the date before it, or for the one to come where that is near; the next one stands
        while _near_the_end(cycle.anchor, months, interval, done):
            months += interval
            interval = item.every.months or interval
        return cycle.anchor, months
    if item.anchor != "done" and scheduled:
        base_day, due_day = (add_months(cycle.anchor, cycle.months + more) for more in (0, interval))
        if abs((done - due_day).days) <= _grace((due_day - base_day).days, item):
            return cycle.anchor, cycle.months + interval
    return done, 0


def _near_the_end(anchor: date, months: int, interval: int, done: date) -> bool:
    begins, ends = add_months(anchor, months), add_months(anchor, months + interval)
    return (ends - done) * EARLY <= ends - begins


def judge(item: Item, cycle: Cycle, now: ScalePoint) -> Due:
    """Where the item stands now, by the rule that comes first (the greatest used part of its interval)."""
    here = now.by_scale
    return due_by(*governing(thresholds(item, cycle), here), here, stop=item.stop)


def governing(thresholds: Iterable[Threshold], here: Mapping[str, int]) -> tuple[State, Threshold, float]:
    """How an item stands, by which of its scales, and the used fraction of that one.

    Past its grace on any scale it is overdue, by the one of those that is used up most; else the scale that is used up
    most governs. `here` is where the machine stands on each scale. Thresholds are unpacked, so that they
    can be lists of the same four: thousands of machines are judged from texts.

    >>> oil = Threshold("hours", 0, 100, 110), Threshold("date", 739_000, 739_100, 739_110)
    >>> governing(oil, {"hours": 120, "date": 739_200})[0::2]
    ('overdue', 2.0)
    """
    worst: Threshold | None = None
    late: Threshold | None = None
    most = latest = -math.inf
    is_due = False
    for one in thresholds:
        by, base, limit, grace_ends = one
        at = here[by]
        used = (at - base) / (limit - base)
        if used > most:
            worst, most = one, used
        if at >= limit:
            is_due = True
            if at > grace_ends and used > latest:
                late, latest = one, used
    assert worst is not None, "every item counts by one scale at least"
    if late is not None:
        return "overdue", late, latest
    return "due" if is_due else "soon" if most >= SOON else "ok", worst, most


def standing_of(
    thresholds: Sequence[Threshold], here: Mapping[str, int], *, is_done: bool, known: Container[str]
) -> tuple[State, Threshold, float]:
    """As `governing`; but what was never done is unknown, unless the use since a day that the card names is shorter
    than the interval by every rule. `known` are the scales on which that use is known. A counter that shows less than
    the card says it did at first says nothing of the use since.

    >>> oil = (Threshold("hours", 0, 100, 110),)
    >>> [standing_of(oil, {"hours": h}, is_done=False, known=("hours",))[0] for h in (40, 95, 100, 120, -1)]
    ['ok', 'soon', 'unknown', 'unknown', 'unknown']
    """
    state, by, used = governing(thresholds, here)
    if is_done or (state in ("ok", "soon") and all(_is_known(one, here, known) for one in thresholds)):
        return state, by, used
    return "unknown", by, 1.0


def _is_known(threshold: Threshold, here: Mapping[str, int], known: Container[str]) -> bool:
    by, base, _due, _late = threshold
    return by in known and (by == "date" or here[by] >= base)


def due_by(state: State, by: Threshold, used: float, here: Mapping[str, int], *, stop: bool) -> Due:
    """The figures of an item that stands so, by the scale that governs; of one that is unknown only the interval.
    `here` is where the machine stands on each scale; `stop` says that the item holds it once it is past its grace."""
    name, base, limit, late = by
    at = here[name]
    scale = WHOLE[name]
    return Due(
        state=state,
        by=name,
        used=(at - base) / scale,
        interval=(limit - base) / scale,
        left=(limit - at) / scale,
        used_fraction=used,
        grace_left=(late - at) / scale,
        held=stop and state == "overdue",
        told=_("never done") if state == "unknown" else "",
    )
