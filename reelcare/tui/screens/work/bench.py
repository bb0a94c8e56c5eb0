"""The bench: what is faulty and what is due on one machine, and the work that ends it."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from reelcare.core.entries.faults import HOLDS
from reelcare.core.service.due_line import DueLine
from reelcare.core.state.counters import totals_in_words
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.state.machine_state import OpenFault
from reelcare.core.text import _, mark, plural
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
    Column(mark("what"), 22, 1, grows=True),
    Column(DUE_AT, 10, 2, right=True),
    Column(STANDS, 16, 2),
    Column(mark("for"), 8, 5),
    Column(mark("likely"), 12, 4),
    Column(mark("last done"), 12, 5),
)


class Bench(ListScreen):
    """One machine at the bench: faults first, then what is due."""

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
        self.lines: list[OpenFault | DueLine] = []

    def body(self) -> ComposeResult:
        """One list."""
        yield Rows(COLUMNS, id="bench", empty=mark("No faults, and the plan has no items."), enter_chooses=False)

    def first_row(self) -> int:
        """The item that one came for."""
        return next((place for place, one in enumerate(self.lines) if _id(one) == self.item), 0)

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
        self.follow()
        self.machine = yard.machine_now(self.register, self.machine_id, self.now(), permits=True)
        self.lines = [*self.machine.faults, *self.machine.dues]
        holds = [_(one) for one in HOLDS.values()]
        ends = [one.due_at_in_words(self.preferences.system) for one in (*self.machine.dues, *self.machine.lines)]
        self.query_one(Rows).set_columns(widened(COLUMNS, {STANDS: holds, DUE_AT: ends}))
        self.query_one(Rows).show([self._row(one) for one in self.lines])
        self.refresh_head()

    def row_id(self, place: int) -> str:
        """The item, or the fault."""
        return _id(self.lines[place])

    def _row(self, one: OpenFault | DueLine) -> Row:
        if isinstance(one, OpenFault):
            line = next((line for line in self.machine.lines if line.item.id == one.id), None) if self.machine else None
            return (
                Cell(state(one.status), TONES[one.status]),
                Cell(_(one.part)),
                Cell(one.of_part),
                Cell(line.due_at_in_words(self.preferences.system) if line is not None else ""),
                self._holds(one),
                Cell(line.given.to if line is not None and line.given else ""),
                Cell(""),
                Cell(day(self.local(one.since).date())),
            )
        return (
            Cell(state(one.due.state), TONES[one.due.state]),
            Cell(_(one.item.part)),
            titled(one.item.title(self.preferences.language)),
            Cell(one.due_at_in_words(self.preferences.system)),
            Cell(one.due.why(self.preferences.system)),
            Cell(one.given.to if one.given else ""),
            Cell(day(one.likely) if one.likely and one.due.state in ("ok", "soon") else ""),
            Cell(one.last_done_as(day, short=True)),
        )

    def _holds(self, fault: OpenFault) -> Cell:
        """What a fault holds, or what is left until it does."""
        assert self.machine is not None
        if fault.holds:
            return Cell(_(HOLDS[fault.holds]), "bad")
        today = self.today
        left = fault.left(self.machine.state.totals, today)
        if not left:
            return Cell(_("noted"), "soft")
        if fault.lapsed(self.machine.state.totals, today):
            return Cell(_("holds: past its limit"), "bad")
        parts = [self._left(by, amount) for by, amount in left]
        return Cell(_("fix in {limits}", limits=_(" or ").join(parts)), "warning")

    def _left(self, by: str, amount: float) -> str:
        """What is left of one limit."""
        if by == "metres":
            return self.length(round(amount))
        if by == "hours":
            return f"{amount / 3600:.0f} h"
        return (
            plural("{n} run", "{n} runs", int(amount)) if by == "runs" else plural("{n} day", "{n} days", int(amount))
        )

    @on(Rows.Chosen)
    def action_open(self) -> None:
        """Do what the line under the cursor asks for."""
        one, machine = self.under_cursor(self.lines), self.machine
        if one is None or machine is None:
            return
        if isinstance(one, OpenFault):
            self.open_to_write(requests.LogFaultStep(machine.id, machine.tag, one), "repair")
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


def _id(line: OpenFault | DueLine) -> str:
    return line.id if isinstance(line, OpenFault) else line.item.id
