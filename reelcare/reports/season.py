"""A season in review: work, faults, services on time and late, and how long machines stood held.

The rules of this file: it is worked out from the entries alone, machine by machine; a service is late when its item was
past its grace as it was done. A machine that two faults hold at a time stands once.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import NamedTuple

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.fold import in_turn
from reelcare.core.service import due
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.machine_state import known_use
from reelcare.core.state.plans import Known
from reelcare.core.text import _, plural
from reelcare.core.timestamps import day_of
from reelcare.core.wording import day_of_year
from reelcare.reports.blocks import Bars, Block, Columns, Document, Heading, pairs, table


@dataclass(slots=True)
class SeasonReport:
    """What one machine did from a day to a day: seconds, mm, runs, faults, services on time and late, time held.

    since_unknown: services of what was never done before, as far as is known: nobody can say when they were due.
    weeks: its seconds by the Monday of the week; causes: time held by part. `seen` says that it was in the yard then.
    """

    tag: str
    seconds: int = 0
    millimetres: int = 0
    runs: int = 0
    faults: int = 0
    on_time: int = 0
    late: int = 0
    since_unknown: int = 0
    held: timedelta = timedelta(0)
    causes: dict[str, timedelta] = field(default_factory=dict)
    weeks: dict[date, int] = field(default_factory=dict)
    seen: bool = True

    def take_holds(self, holds: Sequence[Hold], first: datetime, last: datetime) -> None:
        """It was held by parts from moments to moments; what lies between first and last counts."""
        inside = [Hold(part, max(since, first), min(until, last)) for part, since, until in holds]
        inside = [one for one in inside if one.since < one.until]
        self.held = _together(inside)
        for part in dict.fromkeys(one.part for one in inside):
            self.causes[part] = _together([one for one in inside if one.part == part])


class Hold(NamedTuple):
    """A part that held a machine, from when to when."""

    part: str
    since: datetime
    until: datetime


def _together(holds: Iterable[Hold]) -> timedelta:
    """How long any of them lasted: what two have in common counts once."""
    found, over = timedelta(0), None
    for _part, since, until in sorted(holds, key=lambda one: one.since):
        begins = since if over is None else max(since, over)
        found += max(until - begins, timedelta(0))
        over = until if over is None else max(until, over)
    return found


def season(tag: str, entries: Iterable[e.Entry], known: Known, first: datetime, last: datetime) -> SeasonReport:
    """The season of one machine, from all its entries; what waits to be accepted here is not counted."""
    plans = known.plans
    # in UTC: between two moments of one zone with summer time lies what its clocks show
    first, last = first.astimezone(UTC), last.astimezone(UTC)
    found = SeasonReport(tag)
    open_holds: dict[str, tuple[str, datetime]] = {}
    holds: list[Hold] = []
    entries = list(entries)
    found.seen = any(one.happened <= last for one in entries)
    machine = next((one.machine or "" for one in entries), "")
    for one, state in in_turn(machine, entries, known):
        inside = first <= one.happened <= last
        what = one.what
        if isinstance(what, e.Run) and inside:
            seconds = int((what.ended - what.started).total_seconds())
            found.seconds += seconds
            found.millimetres += what.metres
            found.runs += 1
            day = day_of(what.ended, plans.zone)
            monday = day - timedelta(days=day.weekday())
            found.weeks[monday] = found.weeks.get(monday, 0) + seconds
        elif isinstance(what, e.Fault):
            found.faults += inside
            if what.holds:
                open_holds[one.id] = what.part, one.happened
        elif isinstance(what, e.Release | e.PutRight) and what.fault in open_holds:
            holds.append(Hold(*open_holds.pop(what.fault), one.happened))
        elif isinstance(what, e.Service) and inside:
            was = _stood(what, state, known, one.happened)
            found.late += was == "overdue"
            found.since_unknown += was == "unknown"
            found.on_time += was not in (None, "overdue", "unknown")
        elif isinstance(what, e.Retired):
            found.seen = one.happened >= first
            holds += [Hold(*begun, one.happened) for begun in open_holds.values()]
            open_holds = {}
    found.take_holds([*holds, *(Hold(*one, last) for one in open_holds.values())], first, last)
    return found


def _stood(what: e.Service, state: FoldState, known: Known, at: datetime) -> due.State | None:
    """How the item of a service stood when it was done, at the hours that were told where some were; None where the
    plan of that time has no such item."""
    item = known.plans.at(state.machine, at).item(what.item)
    if item is None:
        return None
    here, cycle = state.point(day_of(at, known.plans.zone)), state.cycle(item)
    here = here if what.life is None else here._replace(seconds=what.life)
    scales = known_use(state.card, state.began, state.counters)
    is_done = cycle.last_done is not None
    return due.standing_of(due.thresholds(item, cycle), here.by_scale, is_done=is_done, known=scales)[0]


def review(
    seasons: Sequence[SeasonReport],
    first: datetime,
    last: datetime,
    stamp: str,
    zone: tzinfo,
    system: units.System = "metric",
    language: str = "en",
) -> Document:
    """The review of all machines as a page with plots."""
    hours = sum(one.seconds for one in seasons) / 3600
    on_time, late = sum(one.on_time for one in seasons), sum(one.late for one in seasons)
    unknown = sum(one.since_unknown for one in seasons)
    hose = units.show(sum(one.millimetres for one in seasons) / 1000, "length", system)
    runs = sum(one.runs for one in seasons)
    weeks = _every_week({week for one in seasons for week in one.weeks})
    for one in seasons:
        for week, seconds in one.weeks.items():
            weeks[week] = weeks.get(week, 0.0) + seconds / 3600
    services = on_time + late + unknown
    of_them = _("{services}, {late} of them late", services=services, late=late)
    if unknown:
        of_them += _(", {n} with no time before it known", n=unknown)
    parts: list[Block] = [
        pairs([
            (_("work"), _("{hours:.0f} h, {hose} of hose, {runs} on {machines}", hours=hours, hose=hose,
                       runs=plural("{n} run", "{n} runs", runs),
                       machines=plural("{n} machine", "{n} machines", len(seasons)))),
            (_("faults"), sum(one.faults for one in seasons)),
            (_("services"), of_them if services else _("none")),
            (_("held"), _days(sum((one.held for one in seasons), timedelta(0)))),
        ]),
        Heading(_("Hours by week, all machines")),
        Columns(tuple((day_of_year(week), value) for week, value in sorted(weeks.items())), "h"),
        Heading(_("Hours by machine")),
        Bars(tuple((one.tag, one.seconds / 3600, f"{one.seconds / 3600:.0f} h") for one in seasons)),
        Heading(_("Machine by machine")),
        table(
            (_("machine"), _("hours"), _("hose"), _("runs"), _("faults"), _("services on time"), _("late"),
             _("not known"), _("held")),
            [
                (one.tag, f"{one.seconds / 3600:.0f}", units.show(one.millimetres / 1000, "length", system), one.runs,
                 one.faults, one.on_time, one.late, one.since_unknown, _days(one.held))
                for one in seasons
            ],
            numbers=(1, 2, 3, 4, 5, 6, 7, 8),
        ),
    ]  # fmt: skip
    causes = [(held, one.tag, part) for one in seasons for part, held in one.causes.items()]
    if causes:
        parts.append(Heading(_("Held, and by what (from fault to release)")))
        parts.append(
            table(
                (_("machine"), _("part"), _("time")),
                [(tag, _(part), _days(held)) for held, tag, part in sorted(causes, reverse=True)],
            )
        )
    under = _("{first:%Y-%m-%d} to {last:%Y-%m-%d}", first=first.astimezone(zone), last=last.astimezone(zone))
    return Document(_("Season in review"), under, tuple(parts), language, stamp=stamp)


def _every_week(worked: Collection[date]) -> dict[date, float]:
    """The Mondays from the first week with work to the last one: a week between them in which nothing ran is one too.

    >>> [f"{one:%d %b}" for one in _every_week({date(2026, 5, 4), date(2026, 5, 18)})]
    ['04 May', '11 May', '18 May']
    """
    if not worked:
        return {}
    first, last = min(worked), max(worked)
    return {first + timedelta(weeks=week): 0.0 for week in range((last - first).days // 7 + 1)}


def _days(span: timedelta) -> str:
    hours = span.total_seconds() / 3600
    if not hours:
        return _("none")
    return f"{hours:.0f} h" if hours < 48 else plural("{n} day", "{n} days", round(hours / 24))
