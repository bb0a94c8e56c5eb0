"""What is due over all machines, overdue first, with time as a line."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content

from reelcare.core.parts import PARTS
from reelcare.core.service import due_list
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.due_list import DueFilter
from reelcare.core.text import _, mark
from reelcare.core.wording import Title
from reelcare.register.views.due_list import due_list as read_due_list
from reelcare.tui import yard_reading
from reelcare.tui.gathering import GatheringScreen
from reelcare.tui.requests import OpenBench, OpenPlan, OpenWeeks
from reelcare.tui.theme import TONES, state
from reelcare.tui.widgets.drawings.time_line import scale, time_cell
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows
from reelcare.tui.widgets.standing_line import counted

WIDE = 110
"""Columns from which on whole titles have room."""
WINDOWS: tuple[tuple[str, int | None], ...] = (
    (mark("overdue and due"), 0),
    (mark("within 30 days"), 30),
    (mark("within 90 days"), 90),
    (mark("everything"), None),
)


class DueList(GatheringScreen):
    """The due list."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "bench", mark("Bench"), id="due.bench", tooltip=mark("Opens the bench on this item")),
        Binding(
            "w",
            "window",
            mark("Window"),
            id="due.window",
            tooltip=mark("Overdue and due, 30 days, 90 days, everything"),
        ),
        Binding("a", "place", mark("Place"), id="due.place", tooltip=mark("One place after the other, then all")),
        Binding("t", "part", mark("Part"), id="due.part", tooltip=mark("One part after the other, then all")),
        Binding(
            "v",
            "weeks",
            mark("Weeks"),
            id="due.weeks",
            tooltip=mark("The coming weeks: what is to be done where, and its time"),
        ),
        Binding(
            "s", "plan", mark("Plan"), id="due.plan", tooltip=mark("The service plan for all machines, and its figures")
        ),
        Binding("escape", "leave", mark("Back"), id="due.leave", tooltip=mark("Back to the yard")),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.window: int | None = None
        self.place = ""
        self.part = ""
        self.all: list[DueLine] = []
        self.lines: list[DueLine] = []
        self.listed: tuple[due_list.DueRow, ...] = ()

    def body(self) -> ComposeResult:
        """The list."""
        yield Rows(self._columns(), enter_chooses=False, id="due", empty=mark("Nothing is due in this window."))

    def _columns(self) -> tuple[Column, ...]:
        """The columns, the months of the scale in the person's language."""
        width = self._line_width()
        return (
            Column(mark("machine"), 11, 1),
            Column(mark("state"), 9, 1),
            Column(mark("what"), 20, 1, grows=True),
            Column(mark("left"), 12, 2),
            Column(mark("place"), 10, 4),
            Column(scale(self.local(self.now()).date(), width), width, 3),
        )

    def _line_width(self) -> int:
        return 36 if self.app.size.width >= WIDE else 14

    def page(self) -> str:
        """What the filter lets through."""
        place, part = self.place or _("all places"), _(self.part) if self.part else _("all parts")
        return _("Due  {window}, {place}, {part}", window=_(self._window[0]), place=place, part=part)

    def counts(self) -> Content:
        """How much is overdue, due and soon, and how much of it is shown."""
        found = due_list.counts(self.all)
        told = [(word, found[word], _(due_list.STATE_WORDS[word])) for word in ("overdue", "due", "soon")]
        some = _("{n} shown", n=len(self.lines)) if len(self.lines) != len(self.all) else ""
        return counted(told, some)

    def fill(self) -> None:
        """Read what is due and show what the filter lets through."""
        now = self.now()
        large = yard_reading.is_large(self.register)
        if self.window is None:
            self.window = 0 if large else 2  # over a large yard, what comes up is gathered when it is asked for
        self.stop_gathering()
        self.query_one(Rows).set_columns(self._columns())
        if large:
            self._show(read_due_list(self.register, DueFilter(within=0), now))  # meanwhile
        if not large or self.window:
            self.gather(lambda reader, progress: read_due_list(reader, DueFilter(), now, progress=progress), self._show)

    def _show(self, found: list[DueLine]) -> None:
        """Show what the filter lets through."""
        self.all = found
        self._apply_filter()

    def _apply_filter(self) -> None:
        wanted = DueFilter(place=self.place, part=self.part)
        self.lines = [one for one in self._in_window() if wanted.takes(one)]
        days = self._window[1]
        self.listed = due_list.rows(self.lines, everything=days is None, coming=bool(days)).rows
        self.query_one(Rows).show(self)
        self.refresh_head()

    @property
    def _window(self) -> tuple[str, int | None]:
        return WINDOWS[self.window or 0]

    # where the rows of the list come from

    def count(self) -> int:
        """How many lines there are."""
        return len(self.listed)

    def rows(self, offset: int, limit: int) -> Sequence[Row]:
        """A page of the list."""
        today = self.local(self.now()).date()
        return [self._row(row, today) for row in self.listed[offset : offset + limit]]

    def _row(self, row: due_list.DueRow, today: date) -> Row:
        heads = [one.head for one in due_list.COLUMNS]
        told = dict(zip(heads, due_list.cells(row, self.preferences.language), strict=True))
        line, what = row.first, told["what"]
        return (
            Cell(told["machine"], "part"),
            Cell(state(line.due.state), TONES[line.due.state]),
            Cell(what.short if isinstance(what, Title) and self.app.size.width < WIDE else what),
            Cell(told["left"]),
            Cell(told["place"]),
            time_cell(line.forecast, line.due.state, today),
        )

    @on(Rows.Chosen)
    def action_bench(self) -> None:
        """Open the bench on the item under the cursor."""
        place = self.query_one(Rows).cursor
        if place < len(self.listed):
            line = self.listed[place].first
            self.open(OpenBench(line.machine, line.item.id))

    def action_window(self) -> None:
        """The next window."""
        before, self.window = self.window, ((self.window or 0) + 1) % len(WINDOWS)
        if before and self.window:
            self._apply_filter()
        else:
            self.fill()

    def _in_window(self) -> list[DueLine]:
        wanted, today = DueFilter(within=self._window[1]), self.local(self.now()).date()
        return [line for line in self.all if wanted.is_within(line, today)]

    def action_place(self) -> None:
        """The next place at which something is due, then all."""
        shown = {line.place for line in self._in_window() if line.place}
        self.place = _next(["", *sorted(shown)], self.place)
        self.part = ""
        self._apply_filter()

    def action_part(self) -> None:
        """The next part of which something is due at this place, then all."""
        shown = {line.item.part for line in self._in_window() if self.place in ("", line.place)}
        self.part = _next(["", *(part for part in PARTS if part in shown)], self.part)
        self._apply_filter()

    def action_weeks(self) -> None:
        """Show the coming weeks."""
        self.open(OpenWeeks())

    def action_plan(self) -> None:
        """Show the plan for all."""
        self.open(OpenPlan())


def _next(choices: list[str], now: str) -> str:
    place = choices.index(now) if now in choices else -1
    return choices[(place + 1) % len(choices)]
