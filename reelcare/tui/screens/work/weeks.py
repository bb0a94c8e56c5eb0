"""The coming weeks: what is to be done where and when, with its time and what to take along.

The rules of this file: a week is a row with its load as a bar; under it stand the visits, by place and machine. What
is done with a bigger service, and what is worth doing too, is told under the list for the row under the cursor.
"""

from __future__ import annotations

from datetime import timedelta
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core.service.due_line import DueLine
from reelcare.core.service.due_list import DueFilter
from reelcare.core.service.workload import WEEK, Visit, Week, monday, workload
from reelcare.core.text import _, mark, plural
from reelcare.core.wording import day_of_year, duration
from reelcare.register.views.due_list import lines_until
from reelcare.tui.gathering import GatheringScreen
from reelcare.tui.requests import OpenBench
from reelcare.tui.text import lines, said
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

SPANS = (6, 13, 52)
"""How many weeks are shown: the next ones, a quarter, a season."""


class Weeks(GatheringScreen):
    """The workload of the coming weeks."""

    CSS_PATH = "../weeks.tcss"
    HELP = mark("A service stands in the week of its likely day; what is due already stands in this week.")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "bench", mark("Bench"), id="weeks.bench", tooltip=mark("Opens the bench on this visit")),
        Binding("w", "span", mark("Weeks"), id="weeks.span", tooltip=mark("Six weeks, three months, a season")),
        Binding("a", "place", mark("Place"), id="weeks.place", tooltip=mark("One place after the other, then all")),
        Binding("escape", "leave", mark("Back"), id="weeks.leave", tooltip=mark("Back to the due list")),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.span = 0
        self.place = ""
        self.places: list[str] = []
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
        return _("Weeks  the next {n} weeks, {place}", n=SPANS[self.span], place=self.place or _("all places"))

    def counts(self) -> Content:
        """How much there is to do."""
        jobs = sum(len(visit.jobs) for week in self.weeks for visit in week.visits)
        hours = duration(sum(week.minutes for week in self.weeks))
        return said(
            plural("{n} service, {hours}", "{n} services, {hours}", jobs, hours=hours) if jobs else _("nothing to do")
        )

    def fill(self) -> None:
        """Gather the weeks and show them."""
        now = self.now()
        until = monday(self.local(now).date()) + WEEK * SPANS[self.span] - timedelta(days=1)
        self.gather(
            lambda reader, progress: lines_until(reader, DueFilter(), now, until, progress=progress), self._show
        )

    def _show(self, gathered: list[DueLine]) -> None:
        today = self.local(self.now()).date()
        self.places = sorted({line.place for line in gathered if line.place})
        found = [line for line in gathered if self.place in ("", line.place)]
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
                Cell(f"{load} " + plural("{n} service", "{n} services", jobs), "part"),
                Cell(duration(week.minutes), "part"),
            )
        what = "; ".join(self._title(job) for job in visit.jobs)
        return (Cell(""), Cell(visit.place), Cell(visit.machine, "part"), Cell(what), Cell(duration(visit.minutes)))

    def _title(self, line: DueLine) -> str:
        return line.item.title(self.preferences.language)

    def detail(self) -> None:
        """The visit or week under the cursor, with what to take along."""
        place = self.query_one(Rows).cursor
        if place >= len(self.shown):
            self.query_one("#visit", Static).update("")
            return
        week, visit = self.shown[place]
        supplies = (visit or week).supplies(self.preferences.language)
        along = "; ".join(f"{many} x {what}" if many > 1 else what for what, many in supplies.items())
        told = []
        if visit is not None:
            told.append(f"{visit.machine}: " + "; ".join(f"{self._title(job)} ({job.due.why})" for job in visit.jobs))
            if visit.covered:
                told.append(_("done with it: {items}", items="; ".join(self._title(job) for job in visit.covered)))
            if visit.together:
                told.append(_("worth doing too: {items}", items="; ".join(self._title(job) for job in visit.together)))
        if along:
            told.append(_("take along: {along}", along=along))
        self.query_one("#visit", Static).update(lines(*(said(one) for one in told)))

    @on(Rows.Chosen)
    def action_bench(self) -> None:
        """Open the bench on the visit under the cursor."""
        place = self.query_one(Rows).cursor
        visit = self.shown[place][1] if place < len(self.shown) else None
        if visit is not None:
            self.open(OpenBench(visit.jobs[0].machine, visit.jobs[0].item.id))

    def action_span(self) -> None:
        """Another number of weeks."""
        self.span = (self.span + 1) % len(SPANS)
        self.fill()

    def action_place(self) -> None:
        """The next place, then all."""
        choices = ["", *self.places]
        self.place = choices[(choices.index(self.place) + 1) % len(choices)] if self.place in choices else ""
        self.fill()
