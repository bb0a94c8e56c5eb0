"""What is due over all machines, overdue first, with time as a line."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from reelcare.core.forecast.forecast import Forecast
from reelcare.core.parts import PARTS
from reelcare.core.service.due_line import DueLine
from reelcare.register import upcoming
from reelcare.register import yard as yards
from reelcare.register.progress import Progress
from reelcare.register.register import Register
from reelcare.register.upcoming import Found
from reelcare.tui.screens.base import GATHERING, Place
from reelcare.tui.text import said
from reelcare.tui.theme import TONES, state
from reelcare.tui.widgets.key_line import KeyLine
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows
from reelcare.tui.widgets.time_line import scale, time_cell

WINDOWS: tuple[tuple[str, int | None], ...] = (
    ("overdue and due", 0),
    ("within 30 days", 30),
    ("within 90 days", 90),
    ("everything", None),
)


class DueList(Place):
    """The due list."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "bench", "Bench", id="due.bench", tooltip="Opens the bench on this item"),
        Binding("w", "window", "Window", id="due.window", tooltip="Overdue and due, 30 days, 90 days, everything"),
        Binding("a", "place", "Place", id="due.place", tooltip="One place after the other, then all"),
        Binding("t", "part", "Part", id="due.part", tooltip="One part after the other, then all"),
        Binding(
            "v", "weeks", "Weeks", id="due.weeks", tooltip="The coming weeks: what is to be done where, and its time"
        ),
        Binding("s", "plan", "Plan", id="due.plan", tooltip="The service plan for all machines, and its figures"),
        Binding("escape", "leave", "Back", id="due.leave", tooltip="Back to the yard"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.window = 2
        self.place = ""
        self.part = ""
        self.all: list[Found] = []
        self.lines: list[Found] = []
        self._gathered: tuple[object, list[Found]] | None = None
        """What comes up over a large yard, with the mark of the register that it was gathered from."""

    def compose(self) -> ComposeResult:
        """The filter in words, then the list."""
        yield self.head()
        yield Static(id="filter", classes="note")
        width = self._line_width()
        yield Rows(
            (
                Column("machine", 8, 1),
                Column("state", 9, 1),
                Column("what", 20, 1, grows=True),
                Column("where it stands", 16, 2),
                Column("place", 10, 4),
                Column(scale(self.local(self.now()).date(), width), width, 3),
            ),
            chooses="Bench",
            id="due",
            empty="Nothing is due in this window.",
        )
        yield KeyLine()

    def _line_width(self) -> int:
        return 36 if self.app.size.width >= 110 else 14

    def on_mount(self) -> None:
        """Fill the list."""
        if len(yards.order(self.register, self.now())) > upcoming.AT_ONCE:
            self.window = 0  # what comes up is gathered when it is asked for
        self.fill()
        self.query_one(Rows).focus()

    def on_screen_resume(self) -> None:
        """Show what the bench has changed."""
        if self.is_mounted and self.query("#due"):
            self.fill()

    def where(self) -> str:
        """How much is overdue."""
        states = [line.state for line in self.all]
        return f"Due   {states.count('overdue')} overdue, {states.count('due')} due, {states.count('soon')} soon"

    def fill(self) -> None:
        """Read what is due and show what the filter lets through."""
        now = self.now()
        machines = yards.order(self.register, now).machines
        self.workers.cancel_group(self, GATHERING)
        if len(machines) <= upcoming.AT_ONCE:
            self._gather(machines, now)
        elif self._gathered is not None and self.window and self._gathered[0] == self._mark():
            self._show(self._gathered[1])
        else:
            self._show(upcoming.acute(self.register, now))
            if self.window:
                self._gather(machines, now)

    def _mark(self) -> object:
        return (self.register.mark(), self.local(self.now()).date())

    def _gather(self, machines: Sequence[str], now: datetime) -> None:
        """Gather what comes up; in a large yard what is due is shown meanwhile."""
        mark = self._mark()

        def work(register: Register, progress: Progress) -> list[Found]:
            found: list[Found] = []
            for number, some in enumerate(upcoming.gather(register, now, machines)):
                progress(number * upcoming.AT_ONCE, len(machines))
                found += some
            return upcoming.in_order(found)

        def done(found: list[Found]) -> None:
            self._gathered = (mark, found)
            self._show(found)

        self.gather(work, done)

    def _show(self, found: list[Found]) -> None:
        """Show what the filter lets through."""
        today, days = self.local(self.now()).date(), WINDOWS[self.window][1]
        self.all = found
        self.lines = [one for one in found if upcoming.within(one, days, today) and self._matches(one)]
        where = f"{self.place or 'all places'}; {self.part or 'all parts'}"
        self.query_one("#filter", Static).update(said(f"{WINDOWS[self.window][0]}; {where}: {len(self.lines)}"))
        self.query_one(Rows).show(self)
        self.refresh_head()

    def _matches(self, line: Found) -> bool:
        return self.place in ("", line.place) and self.part in ("", line.part)

    # where the rows of the list come from

    def count(self) -> int:
        """How many lines there are."""
        return len(self.lines)

    def rows(self, offset: int, limit: int) -> Sequence[Row]:
        """A page of the list."""
        today = self.local(self.now()).date()
        some = self.lines[offset : offset + limit]
        made = upcoming.lines(self.register, some, self.now())
        return [self._row(line, one.ahead, today) for line, one in zip(made, some, strict=True)]

    def _row(self, line: DueLine, ahead: Forecast | None, today: date) -> Row:
        return (
            Cell(line.tag, "part"),
            Cell(state(line.due.state), TONES[line.due.state]),
            Cell(line.item.title(self.manner.language)),
            Cell(line.due.why),
            Cell(line.place),
            time_cell(ahead, line.due.state, today),
        )

    @on(Rows.Chosen)
    def action_bench(self) -> None:
        """Open the bench on the item under the cursor."""
        from reelcare.tui.screens.bench import Bench

        place = self.query_one(Rows).cursor
        if place < len(self.lines):
            self.app.push_screen(Bench(self.lines[place].machine, self.lines[place].item))

    def action_window(self) -> None:
        """The next window."""
        self.window = (self.window + 1) % len(WINDOWS)
        self.fill()

    def _in_window(self) -> list[Found]:
        today, days = self.local(self.now()).date(), WINDOWS[self.window][1]
        return [one for one in self.all if upcoming.within(one, days, today)]

    def action_place(self) -> None:
        """The next place at which something is due, then all."""
        shown = {line.place for line in self._in_window() if line.place}
        self.place = _next(["", *sorted(shown)], self.place)
        self.part = ""
        self.fill()

    def action_part(self) -> None:
        """The next part of which something is due at this place, then all."""
        shown = {line.part for line in self._in_window() if self.place in ("", line.place)}
        self.part = _next(["", *(part for part in PARTS if part in shown)], self.part)
        self.fill()

    def action_weeks(self) -> None:
        """Show the coming weeks."""
        from reelcare.tui.screens.weeks import Weeks

        self.app.push_screen(Weeks())

    def action_plan(self) -> None:
        """Show the plan for all."""
        from reelcare.tui.screens.plan import PlanPage

        self.app.push_screen(PlanPage(None))


def _next(choices: list[str], now: str) -> str:
    place = choices.index(now) if now in choices else -1
    return choices[(place + 1) % len(choices)]
