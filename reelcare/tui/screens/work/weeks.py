"""The coming weeks: what is to be done where and when, with its time and what to take along.

The rules of this file: a week is a row with its load as a bar; under it stand the visits, by place and machine. What
is done with a bigger service, and what is worth doing too, is told under the list for the row under the cursor.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core.service.due_line import DueLine
from reelcare.core.service.due_list import DueFilter
from reelcare.core.service.supplies import counted
from reelcare.core.service.workload import WEEK, Visit, Week, monday, week_of, workload
from reelcare.core.text import _, mark, plural
from reelcare.core.wording import Title, cells, day_of_year, duration
from reelcare.register.views.due_list import lines_until
from reelcare.tui.keys import bind
from reelcare.tui.requests import OpenBench, OpenWeeks
from reelcare.tui.screens.work.filtered import FilteredScreen
from reelcare.tui.text import lines, said
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

SPANS = (6, 13, 52)
"""How many weeks are shown: the next ones, a quarter, a season."""


class Weeks(FilteredScreen):
    """The workload of the coming weeks."""

    CSS_PATH = "../weeks.tcss"
    OF_A_ROW = frozenset(("bench",))
    HELP = mark("A service is in the week of its likely day; what is due already is in this week.")
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("weeks.bench", "enter", mark("Bench"), mark("Opens the bench on this visit")),
        bind("weeks.span", "w", mark("Weeks"), mark("Six weeks, three months, a season")),
        bind("weeks.place", "a", mark("Place"), mark("One place after the other, then all")),
        bind("weeks.person", "f", mark("For"), mark("One person's lines after the other's")),
        bind("weeks.part", "t", mark("Part"), mark("One part after the other, then all")),
        bind("weeks.leave", "escape", mark("Back"), mark("Back to the due list")),
    ]

    def __init__(self, request: OpenWeeks) -> None:
        super().__init__()
        self.span = 0
        self.place, self.part, self.person = request.place, request.part, request.person
        self.gathered: list[DueLine] = []
        self.weeks: list[Week] = []
        self.shown: list[tuple[Week, Visit | None]] = []

    def body(self) -> ComposeResult:
        """The list, and the row under the cursor in full."""
        yield Rows(
            (
                Column(mark("week of"), 12, 1),
                Column(mark("place"), 12, 2),
                Column(mark("machine"), 8, 1),
                Column(mark("what"), 24, 1, grows=True),
                Column(mark("time"), 9, 1, right=True),
            ),
            enter_chooses=False,
            id="weeks",
            empty=mark("Nothing falls due in these weeks."),
        )
        yield Static(id="visit")

    def page(self) -> str:
        """The weeks that are shown, and where."""
        time = _("the next {n} weeks", n=SPANS[self.span])
        return _("Weeks  {asked}", asked=self.asked(time))

    def counts(self) -> Content:
        """How much there is to do."""
        jobs = sum(len(visit.jobs) for week in self.weeks for visit in week.visits)
        hours = duration(sum(week.minutes for week in self.weeks))
        return said(plural("{n} job, {hours}", "{n} jobs, {hours}", jobs, hours=hours) if jobs else _("nothing to do"))

    def fill(self) -> None:
        """Gather the weeks and show them."""
        with self.follow():
            now = self.now()
            until = monday(self.local(now).date()) + WEEK * SPANS[self.span] - timedelta(days=1)
            self.gather(
                lambda reader, progress: lines_until(reader, DueFilter(), now, until, progress=progress), self._show
            )

    def _show(self, gathered: list[DueLine]) -> None:
        self.gathered = gathered
        self.apply_filter()

    def row_id(self, place: int) -> tuple[object, ...]:
        """The week, or the visit in it."""
        week, visit = self.shown[place]
        return (week.begins, visit.place, visit.machine) if visit is not None else (week.begins,)

    def in_time(self) -> list[DueLine]:
        """The lines of these weeks."""
        today = self.today
        last = monday(today) + WEEK * (SPANS[self.span] - 1)
        always = [line.given is not None or line.kind == "fault" for line in self.gathered]
        return [
            line
            for line, stays in zip(self.gathered, always, strict=True)
            if stays or (week_of(line, today) or date.max) <= last
        ]

    def apply_filter(self) -> None:
        """Show the weeks of what is asked for."""
        today = self.today
        found = [line for line in self.gathered if self.wanted.takes(line)]
        self.weeks = [week for week in workload(found, today, SPANS[self.span]) if week.visits]
        self.shown = [row for week in self.weeks for row in ((week, None), *((week, visit) for visit in week.visits))]
        most = max((week.minutes for week in self.weeks), default=1) or 1
        self.query_one(Rows).show([self._row(week, visit, most) for week, visit in self.shown])
        self.refresh_head()
        self.detail()

    def _row(self, week: Week, visit: Visit | None, most: int) -> Row:
        if visit is None:
            jobs = sum(len(one.jobs) for one in week.visits)
            load = "█" * max(1, round(16 * week.minutes / most))
            return (
                Cell(f"{day_of_year(week.begins)} {week.begins:%Y}", "part"),
                Cell(""),
                Cell(""),
                Cell(f"{load} " + plural("{n} job", "{n} jobs", jobs), "part"),
                Cell(duration(week.minutes), "part"),
            )
        titles = [self._title(job) for job in visit.jobs]
        full, short = "; ".join(titles), "; ".join(title.short for title in titles)
        what = Cell(short, draw=lambda size: full if cells(full) <= size else short)
        return (Cell(""), Cell(visit.place), Cell(visit.machine, "part"), what, Cell(duration(visit.minutes)))

    def _title(self, line: DueLine) -> Title:
        return line.item.title(self.preferences.language)

    def detail(self) -> None:
        """The visit or week under the cursor, with what to take along."""
        here = self.under_cursor(self.shown)
        if here is None:
            self.query_one("#visit", Static).update("")
            return
        week, visit = here
        along = "; ".join(counted((visit or week).supplies(self.preferences.language)))
        told = []
        if visit is not None:
            told.append(
                f"{visit.machine}: "
                + "; ".join(f"{self._title(job)} ({job.due.why(self.preferences.system)})" for job in visit.jobs)
            )
            if visit.covered:
                told.append(_("done with it: {items}", items="; ".join(self._title(job) for job in visit.covered)))
            if visit.together:
                told.append(_("worth doing too: {items}", items="; ".join(self._title(job) for job in visit.together)))
        if along:
            told.append(_("take along: {along}", along=along))
        self.query_one("#visit", Static).update(lines(*told))

    @on(Rows.Chosen)
    def action_bench(self) -> None:
        """Open the bench on the visit under the cursor."""
        _week, visit = self.under_cursor(self.shown) or (None, None)
        if visit is None:  # a week: on to its first visit
            self.query_one(Rows).action_move(1)
        else:
            self.open(OpenBench(visit.jobs[0].machine, visit.jobs[0].item.id))

    def action_span(self) -> None:
        """Another number of weeks."""
        self.span = (self.span + 1) % len(SPANS)
        self.fill()
