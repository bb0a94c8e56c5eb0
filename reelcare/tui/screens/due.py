"""What is due over all machines, overdue first, with time as a line."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from reelcare.core.parts import PARTS
from reelcare.core.upkeep.now import DueLine
from reelcare.register import reading
from reelcare.tui.screens.base import Place
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
        Binding(
            "s", "plan", "Service plan", id="due.plan", tooltip="The service plan for all machines, and its figures"
        ),
        Binding("escape", "leave", "Back", id="due.leave", tooltip="Back to the yard"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.window = 2
        self.place = ""
        self.part = ""
        self.all: list[DueLine] = []
        self.lines: list[DueLine] = []

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
        self.fill()
        self.query_one(Rows).focus()

    def on_screen_resume(self) -> None:
        """Show what the bench has changed."""
        if self.is_mounted and self.query("#due"):
            self.fill()

    def where(self) -> str:
        """How much is overdue."""
        states = [line.due.state for line in self.all]
        return f"Due   {states.count('overdue')} overdue, {states.count('due')} due, {states.count('soon')} soon"

    def fill(self) -> None:
        """Read what is due and show what the filter lets through."""
        machines = reading.yard(self.register, self.now(), forecasts=True)
        self.all = [line for line in reading.due_lines(machines) if line.news]
        self.lines = [line for line in self.all if self._in_window(line) and self._matches(line)]
        where = f"{self.place or 'all places'}; {self.part or 'all parts'}"
        self.query_one("#filter", Static).update(said(f"{WINDOWS[self.window][0]}; {where}: {len(self.lines)}"))
        self.query_one(Rows).show([self._row(line) for line in self.lines])
        self.refresh_head()

    def _in_window(self, line: DueLine) -> bool:
        days = WINDOWS[self.window][1]
        if days is None or line.due.state in ("overdue", "due"):
            return True
        likely = line.forecast.likely if line.forecast else None
        return days > 0 and likely is not None and (likely - self.local(self.now()).date()).days <= days

    def _matches(self, line: DueLine) -> bool:
        return self.place in ("", line.place) and self.part in ("", line.item.part)

    def _row(self, line: DueLine) -> Row:
        today = self.local(self.now()).date()
        return (
            Cell(line.tag, "part"),
            Cell(state(line.due.state), TONES[line.due.state]),
            Cell(line.item.title(self.manner.language)),
            Cell(line.due.why),
            Cell(line.place),
            time_cell(line.forecast, line.due.state, today),
        )

    @on(Rows.Chosen)
    def action_bench(self) -> None:
        """Open the bench on the item under the cursor."""
        from reelcare.tui.screens.bench import Bench

        place = self.query_one(Rows).cursor
        if place < len(self.lines):
            self.app.push_screen(Bench(self.lines[place].machine, self.lines[place].item.id))

    def action_window(self) -> None:
        """The next window."""
        self.window = (self.window + 1) % len(WINDOWS)
        self.fill()

    def action_place(self) -> None:
        """The next place at which something is due, then all."""
        shown = {line.place for line in self.all if self._in_window(line) and line.place}
        self.place = _next(["", *sorted(shown)], self.place)
        self.part = ""
        self.fill()

    def action_part(self) -> None:
        """The next part of which something is due at this place, then all."""
        shown = {line.item.part for line in self.all if self._in_window(line) and self.place in ("", line.place)}
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

    def action_leave(self) -> None:
        """Back to the yard."""
        self.app.pop_screen()


def _next(choices: list[str], now: str) -> str:
    place = choices.index(now) if now in choices else -1
    return choices[(place + 1) % len(choices)]
