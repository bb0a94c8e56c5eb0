"""When each item of the plan was last done, as told from records older than the register: one grid, machine by item.

The rules of this file: what is not told stays not known. A day is where a service is dated; a figure of the hour
counter is where its hours count from. Where only the figure is told, the service is dated on the first day on which the
counter can have shown so much, by what the register knows: never later than it was. All of it is written, or nothing.
"""

from __future__ import annotations

import contextlib
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import cached_property
from typing import NamedTuple

from reelcare.core import entries as e
from reelcare.core.machine.card import Card
from reelcare.core.scales import counter_then
from reelcare.core.service.plan import Item
from reelcare.core.spreadsheet.cells import DoneAt
from reelcare.core.state import counters as counting
from reelcare.core.state.machine_state import first_point
from reelcare.core.text import _, mark
from reelcare.core.timestamps import day_of
from reelcare.register.progress import Progress, no_progress, with_progress
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.batch import Batch
from reelcare.register.writing.writer import Writer

NOW = "now"
"""The column of what the hour counter shows now."""
NOTE = "as told from older records"
"""What the book says of such a service."""
Cell = tuple[str, str]
"""A place in the grid: the id of the machine, and that of the item, or `NOW`."""


@dataclass(frozen=True, slots=True)
class DoneGrid:
    """The machines of the yard (id, tag), the items of their plans, stop items first, which machine has which, and what
    is known already: when an item was last done, in words as it was told."""

    machines: tuple[tuple[str, str], ...]
    items: tuple[Item, ...]
    asked: frozenset[Cell]
    known: Mapping[Cell, str]

    def titles(self) -> dict[str, list[str]]:
        """All titles of each item, in every language."""
        return titles_of(self.items)


def titles_of(items: Iterable[Item]) -> dict[str, list[str]]:
    """All titles of each of some items, in every language."""
    return {one.id: [one.id, *one.what.values(), *one.short.values()] for one in items}


def grid(reader: Reader) -> DoneGrid:
    """The grid of a register as it stands; items that a check does before every run are not asked for."""
    items: dict[str, Item] = {}
    asked: set[Cell] = set()
    known: dict[Cell, str] = {}
    tags, plans, machines = reader.tags(), reader.plans(), []
    for machine, state in sorted(reader.states().items(), key=lambda one: tags[one[0]]):
        if state.retired is not None:
            continue
        machines.append((machine, tags[machine]))
        card: Card = reader.card_of(state)
        for item in plans.newest(machine).items:
            if item.each_time or not item.is_for(card):
                continue
            items.setdefault(item.id, item)
            asked.add((machine, item.id))
            cycle = state.cycle(item)
            if cycle.done_at is not None:
                known[machine, item.id] = counter_then(cycle.done_at, state.counters.hours.before)
            elif cycle.last_done is not None:
                known[machine, item.id] = cycle.last_done.isoformat()
    order = sorted(items.values(), key=lambda one: not one.stop)
    return DoneGrid(tuple(machines), tuple(order), frozenset(asked), known)


@dataclass(slots=True)
class ToldServices:
    """What cells of the grid come to: the entries to write, what cannot be, and the cells whose day is not told."""

    drafts: list[e.Draft] = field(default_factory=list)
    problems: dict[Cell, str] = field(default_factory=dict)
    without_day: list[Cell] = field(default_factory=list)
    services: int = 0


def told_services(
    writer: Writer, cells: Mapping[Cell, DoneAt], *, now: datetime, progress: Progress = no_progress
) -> ToldServices:
    """What cells of the grid come to, each judged as if it were written at its time."""
    found = ToldServices()
    by_machine: dict[str, dict[str, DoneAt]] = {}
    for (machine, item), done in cells.items():
        by_machine.setdefault(machine, {})[item] = done
    for machine, row in with_progress(by_machine.items(), len(by_machine), progress):
        _GridRow(writer, machine, now, row, found).take()
    return found


class _GridRow:
    """One row of the grid."""

    def __init__(
        self, writer: Writer, machine: str, now: datetime, row: Mapping[str, DoneAt], found: ToldServices
    ) -> None:
        self.writer, self.machine, self.now, self.found = writer, machine, now, found
        self.state = writer.state(machine)
        self.today = day_of(now, writer.zone)
        self.batch = Batch(writer, writer.ids, by="", now=now)
        self.row = dict(row)
        self.reading = self.row.pop(NOW, None)
        count = self.state.counters.hours
        self.shown = self.reading.counter if self.reading is not None else count.shown
        self.before = count.before
        """Hours [s] of counters before the present one."""
        self.readings: set[tuple[datetime, int]] = set()

    def take(self) -> None:
        """Put the drafts of the row with the others, and its problems."""
        if self.reading is not None:
            self._read(NOW, self.now, self.reading.counter or 0)
        for item, done in self.row.items():
            try:
                self._service(item, done)
            except _ProblemError as why:
                self.found.problems[self.machine, item] = str(why)

    def _service(self, item: str, done: DoneAt) -> None:
        life = self.before + done.counter if done.counter is not None else None
        at = self._moment(done.day if done.day is not None else self._reached(life or 0))
        if done.counter is not None and self.shown is not None and done.counter > self.shown:
            says = mark("the hour counter shows only {hours:.0f} h now; if that was another counter, give the day")
            raise _ProblemError(_(says, hours=self.shown / 3600))
        plan = self.writer.plans().at(self.machine, at).item(item)
        if done.day is not None and done.counter is not None:
            self._read(item, at, done.counter)
        title = plan.title("en") if plan is not None else ""
        told = life if done.day is None else None
        self._draft(item, e.Service(item=item, title=str(title), note=NOTE, life=told), at)
        self.found.services += 1
        if done.day is None:
            self.found.without_day.append((self.machine, item))

    def _read(self, item: str, at: datetime, value: int) -> None:
        if (at, value) not in self.readings:
            self.readings.add((at, value))
            self._draft(item, e.Reading(counter="hours", value=value), at)

    def _draft(self, item: str, what: e.Kind, at: datetime) -> None:
        problems = e.problems(what, self.batch.context(what, self.machine, e.kept(at)))
        if problems:
            self.found.problems[self.machine, item] = "; ".join(problems)
        self.found.drafts.append(e.Draft(what=what, machine=self.machine, happened=at))

    def _moment(self, day: date) -> datetime:
        if day > self.today:
            raise _ProblemError(_("{day} is still to come", day=day))
        return min(datetime.combine(day, time(12), self.writer.zone), self.now)

    def _reached(self, life: int) -> date:
        """The first day at whose end the machine can have done `life` [s]."""
        since = self.writer.card_of(self.state).in_use_since
        if since is None:
            raise _ProblemError(_("say the day too: the card does not say since when the machine is in use"))
        is_known = "hours" in self.state.known_use and life <= self.state.totals.seconds
        if self.shown is None and not is_known:
            raise _ProblemError(_("say what the hour counter shows now, or the day"))
        first, last, known = since, self.today, self._known
        while first < last:
            middle = first + (last - first) // 2
            most = known.most_at(datetime.combine(middle, time(23, 59), self.writer.zone))
            first, last = (first, middle) if most >= life else (middle + timedelta(days=1), last)
        return first

    @cached_property
    def _known(self) -> _HoursKnown:
        kinds = (queries.of_kind(self.machine, one.kind) for one in (e.Run, e.Reading))
        found = sorted((one for kind in kinds for one in self.writer.select(kind)), key=lambda one: one.order)
        start = first_point(self.state.began, self.state.card).totals
        read = self.reading.counter if self.reading is not None else None
        return _hours_known(found, counting.start(*start), self.before + read if read is not None else None)


class _HoursKnown(NamedTuple):
    """How many hours [s] a machine had at most, by the runs and readings of it, in order.

    Runs say that it worked, none that it did not: what a reading shows beyond the runs can have been done at any time
    before it. `since` is when each began, `hours` what it had done by then, and `beyond` what the next reading adds."""

    since: Sequence[datetime]
    hours: Sequence[int]
    beyond: Sequence[int]

    def most_at(self, moment: datetime) -> int:
        """The most that it can have had by a moment."""
        place = bisect_right(self.since, moment)
        return self.hours[place] + self.beyond[place]


def _hours_known(found: Sequence[e.Entry], counters: counting.Counters, now: int | None) -> _HoursKnown:
    """What runs and readings tell, from the counters of the first day on; `now` is what is read today."""
    since, hours, more = list[datetime](), [counters.hours.life], list[int | None]()
    for one in found:
        what = one.what
        if isinstance(what, e.Run):
            counters = counting.after_run(counters, what.started, what.ended, what.metres)
        elif isinstance(what, e.Reading):
            with contextlib.suppress(counting.CounterError):
                counters = counting.after_reading(counters, what, one.happened)
        tells = isinstance(what, e.Reading) and what.counter == "hours" and what.change != "new counter"
        more.append(max(counters.hours.life - hours[-1], 0) if tells else None)
        since.append(what.span(one.happened)[0])
        hours.append(counters.hours.life)
    beyond = [max(now - hours[-1], 0) if now is not None else 0]
    for figure in reversed(more):
        beyond.append(beyond[-1] if figure is None else figure)
    return _HoursKnown(since, hours, beyond[::-1])


class _ProblemError(ValueError):
    """What a cell says cannot be."""


def write(
    writer: Writer, told: ToldServices, *, by: str, now: datetime, progress: Progress = no_progress
) -> ToldServices:
    """Write what cells of the grid come to, all or nothing, by time: a reading is held to those before it. Raises
    NotAllowed."""
    writer.must_be_allowed(e.Service.kind, by)
    if told.drafts:
        writer.append(sorted(told.drafts, key=lambda one: one.happened), by=by, now=now, progress=progress)
    return told
