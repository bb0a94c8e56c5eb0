"""The bench: what is faulty and what is due on one machine, and the work that ends it."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from reelcare.core.service.due_line import DueLine
from reelcare.core.state.counters import totals_in_words
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.state.machine_state import OpenFault
from reelcare.core.text import _, mark
from reelcare.core.wording import day
from reelcare.register.reading import yard
from reelcare.tui import requests
from reelcare.tui.keys import bind
from reelcare.tui.lists import ListScreen
from reelcare.tui.theme import TONES, state
from reelcare.tui.widgets.cells import titled
from reelcare.tui.widgets.columns import widened
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

STANDS, DUE_AT = mark("where it stands"), mark("due at")
COLUMNS = (
    Column(mark("state"), 11, 1),
    Column(mark("part"), 12, 4),
    Column(mark("what"), 27, 1, grows=True),
    Column(DUE_AT, 10, 2, right=True),
    Column(STANDS, 16, 2),
    Column(mark("for"), 8, 5),
    Column(mark("likely"), 12, 4),
    Column(mark("last done"), 12, 5),
)


class Bench(ListScreen):
    """One machine at the bench: its lines of the work list, what holds it first."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind(
            "bench.open", "enter", mark("Do this"), mark("The next step of the fault, or the service, under the cursor")
        ),
        bind("bench.fault", "f", mark("New fault"), mark("Notes a fault")),
        bind("bench.reading", "m", mark("Counters"), mark("Reads the hour and metre counters")),
        bind("bench.book", "k", mark("Book"), mark("Everything that happened to this machine")),
        bind("bench.leave", "escape", mark("Back"), mark("Back to the screen before")),
    ]

    def __init__(self, request: requests.OpenBench) -> None:
        super().__init__()
        self.machine_id = request.machine
        self.item = request.item
        self.machine: MachineNow | None = None
        self.lines: list[DueLine] = []

    def body(self) -> ComposeResult:
        """One list."""
        yield Rows(COLUMNS, id="bench", empty=mark("No faults, and the plan has no items."), enter_chooses=False)

    def first_row(self) -> int:
        """The item that one came for."""
        return next((place for place, one in enumerate(self.lines) if one.item.id == self.item), 0)

    def page(self) -> str:
        """What the machine has done; what its counters show in place of it, where that is what *due at* goes by."""
        if self.machine is None:
            return _("Bench")
        if shown := self.machine.counters_show(self.preferences.system):
            return _("Bench") + f"  {shown}"
        state = self.machine.state
        hours, hose = f"{state.totals.seconds / 3600:.0f} h", self.length(state.totals.millimetres)
        return _("Bench") + f"  {totals_in_words(state.totals, state.least, hours, hose)}"

    def fill(self) -> None:
        """Read the machine and show it."""
        with self.follow():
            self.machine = yard.machine_now(self.register, self.machine_id, self.now(), permits=True)
            self.lines = list(self.machine.lines)
            stands = [self._stands(one) for one in self.lines]
            ends = [one.due_at_in_words(self.preferences.system) for one in self.lines]
            self.query_one(Rows).set_columns(widened(COLUMNS, {STANDS: stands, DUE_AT: ends}))
            self.query_one(Rows).show([self._row(one, says) for one, says in zip(self.lines, stands, strict=True)])
            self.refresh_head()

    def row_id(self, place: int) -> str:
        """The item, or the fault."""
        return self.lines[place].item.id

    def _row(self, one: DueLine, stands: str) -> Row:
        title = one.item.title(self.preferences.language)
        return (
            Cell(state(one.band), TONES[one.band]),
            Cell(_(one.item.part)),
            Cell(title) if one.fault else titled(title),  # of what somebody wrote, as much as there is room for
            Cell(one.due_at_in_words(self.preferences.system)),
            Cell(stands),
            Cell(one.given.to if one.given else ""),
            Cell(day(one.likely) if one.likely else ""),
            Cell("" if one.fault else one.last_done_as(day, short=True)),
        )

    def _stands(self, one: DueLine) -> str:
        """What is left of a line, or what it waits for; of a fault that holds, also what it holds the machine for."""
        says, fault = one.due.why(self.preferences.system), self._fault(one)
        return f"{says} ({', '.join(map(_, fault.sides))})" if fault is not None and fault.sides else says

    def _fault(self, one: DueLine) -> OpenFault | None:
        """The fault that a line tells of, None for a service."""
        return self.machine.state.fault(one.item.id) if self.machine is not None and one.fault else None

    @on(Rows.Chosen)
    def action_open(self) -> None:
        """Do what the line under the cursor asks for."""
        one, machine = self.under_cursor(self.lines), self.machine
        if one is None or machine is None:
            return
        if (fault := self._fault(one)) is not None:
            self.open_to_write(requests.LogFaultStep(machine.id, machine.tag, fault), "repair")
        else:
            self.open_to_write(requests.LogService(machine, one), "service")

    def action_fault(self) -> None:
        """Note a fault."""
        if self.machine is not None:
            self.open_to_write(requests.LogFault(self.machine.id, self.machine.tag))

    def action_reading(self) -> None:
        """Read the counters."""
        if self.machine is not None:
            self.open_to_write(requests.ReadCounters(self.machine))

    def action_book(self) -> None:
        """Show the book."""
        if self.machine is not None:
            self.open(requests.OpenBook(self.machine_id, self.machine.tag))
