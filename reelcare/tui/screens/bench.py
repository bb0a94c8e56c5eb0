"""The bench: what is faulty and what is due on one machine, and the work that ends it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widget import Widget
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.service.due_line import DueLine
from reelcare.core.state import counters as counting
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.state.machine_state import OpenFault
from reelcare.core.wording import day
from reelcare.core.wording import said as in_language
from reelcare.register import faults as naming
from reelcare.register import reading
from reelcare.register.register import Draft
from reelcare.tui.screens.base import Place
from reelcare.tui.screens.form import Form, Line
from reelcare.tui.text import join, lines, said
from reelcare.tui.theme import TONES, state
from reelcare.tui.widgets.key_line import KeyLine
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

COLUMNS = (
    Column("state", 11, 1),
    Column("part", 11, 3),
    Column("what", 24, 1, grows=True),
    Column("where it stands", 16, 2),
    Column("likely", 12, 4),
    Column("last done", 12, 5),
)


class Bench(Place):
    """One machine at the bench: faults first, then what is due."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "enter",
            "open",
            "Do it",
            id="bench.open",
            tooltip="The next step of the fault, or the service, under the cursor",
        ),
        Binding("f", "fault", "New fault", id="bench.fault", tooltip="Notes a fault"),
        Binding("m", "reading", "Counters", id="bench.reading", tooltip="Reads the hour and metre counters"),
        Binding("k", "book", "Book", id="bench.book", tooltip="Everything that happened to this machine"),
        Binding("escape", "leave", "Back", id="bench.leave", tooltip="Back to where one came from"),
    ]

    def __init__(self, machine: str, item: str = "") -> None:
        super().__init__()
        self.machine_id = machine
        self.item = item
        self.machine: MachineNow | None = None
        self.lines: list[OpenFault | DueLine] = []

    def compose(self) -> ComposeResult:
        """Totals on top, then one list."""
        yield self.head()
        yield Static(id="totals", classes="note")
        yield Rows(COLUMNS, id="bench", empty="Nothing is faulty, and the plan has no items.", chooses="Do it")
        yield KeyLine()

    def on_mount(self) -> None:
        """Fill the list, with the cursor on what one came for."""
        self.fill()
        rows = self.query_one(Rows)
        rows.focus()
        for place, one in enumerate(self.lines):
            if isinstance(one, DueLine) and one.item.id == self.item:
                rows.cursor = place

    def on_screen_resume(self) -> None:
        """Show what a form has changed."""
        if self.is_mounted and self.query("#bench"):
            self.fill()

    def where(self) -> str:
        """The machine and its standing."""
        if self.machine is None:
            return "Bench"
        stands = self.machine.standing
        return f"{self.machine.tag}  Bench   run: {state(stands.run)}  road: {state(stands.road)}"

    def fill(self) -> None:
        """Read the machine and show it."""
        self.machine = reading.machine_now(self.register, self.machine_id, self.now())
        self.lines = [*self.machine.faults, *self.machine.dues]
        totals = self.machine.state.totals
        self.query_one("#totals", Static).update(
            said(f"{totals.seconds / 3600:.1f} h, {self.length(totals.millimetres)} of hose, {totals.runs} runs")
        )
        self.query_one(Rows).show([self._row(one) for one in self.lines])
        self.refresh_head()

    def _row(self, one: OpenFault | DueLine) -> Row:
        if isinstance(one, OpenFault):
            return (
                Cell(state(one.status), TONES[one.status]),
                Cell(one.part),
                Cell(one.says),
                self._holds(one),
                Cell(""),
                Cell(day(self.local(one.since).date())),
            )
        ahead = one.forecast.likely if one.forecast else None
        return (
            Cell(state(one.due.state), TONES[one.due.state]),
            Cell(one.item.part),
            Cell(one.item.title(self.manner.language)),
            Cell(one.due.why),
            Cell(day(ahead) if ahead and one.due.state in ("ok", "soon") else ""),
            Cell(day(one.last_done) if one.last_done else "never"),
        )

    def _holds(self, fault: OpenFault) -> Cell:
        """What a fault holds, or what is left until it does."""
        assert self.machine is not None
        if fault.holds:
            side = "machine" if fault.holds == "both" else fault.holds
            return Cell(f"holds the {side}", "bad")
        today = self.local(self.now()).date()
        left = fault.left(self.machine.state.totals, today)
        if not left:
            return Cell("noted", "soft")
        if fault.lapsed(self.machine.state.totals, today):
            return Cell("holds: past its limit", "bad")
        told = {"hours": "{:.0f} h", "runs": "{} runs", "date": "{} days"}
        parts = [
            self.length(amount) if by == "metres" else told[by].format(amount / 3600 if by == "hours" else amount)
            for by, amount in left
        ]
        return Cell(f"fix in {' or '.join(parts)}", "heed")

    @on(Rows.Chosen)
    def action_open(self) -> None:
        """Do what the line under the cursor asks for."""
        place = self.query_one(Rows).cursor
        if self.machine is None or place >= len(self.lines):
            return
        one, tag = self.lines[place], self.machine.tag
        if isinstance(one, OpenFault):
            from reelcare.tui.screens.fault import NextStep

            self.reelcare.with_person(lambda: self.app.push_screen(NextStep(self.machine_id, tag, one)), "repair")
        else:
            machine = self.machine
            self.reelcare.with_person(lambda: self.app.push_screen(ServiceForm(machine, one)), "service")

    def action_fault(self) -> None:
        """Note a fault."""
        from reelcare.tui.screens.fault import FaultForm

        if self.machine is not None:
            tag = self.machine.tag
            self.reelcare.with_person(lambda: self.app.push_screen(FaultForm(self.machine_id, tag)))

    def action_reading(self) -> None:
        """Read the counters."""
        if self.machine is not None:
            machine = self.machine
            self.reelcare.with_person(lambda: self.app.push_screen(ReadingForm(machine)))

    def action_book(self) -> None:
        """Show the book."""
        from reelcare.tui.screens.book import Book

        if self.machine is not None:
            self.app.push_screen(Book(self.machine_id, self.machine.tag))


def counters_of(form: Form) -> list[e.Reading]:
    """The readings that a form's lines `hours` and `metres` give, where they are filled in."""
    found = []
    hours, metres = form.value("hours"), form.value("metres")
    if hours:
        text = hours if units.split(hours)[1] else f"{hours} h"
        found.append(e.Reading(counter="hours", value=round(units.read(text, "duration"))))
    if metres:
        length = form.quantity("metres", "length")
        found.append(e.Reading(counter="metres", value=round((length or 0) * 1000)))
    return found


def tell_doubts(form: Form, machine: MachineNow, readings: Sequence[e.Reading], now: datetime) -> None:
    """Tell what is likely a slip in readings of a machine, as it stood before them: they are kept all the same."""
    for one in readings:
        for says in counting.doubtful(machine.state.counters, one, now):
            form.reelcare.tell(f"{machine.tag}  {says}", bad=True)


_ENERGY = {
    "water": "water: supply shut and locked, gauge at zero",
    "hose tension": "hose tension: the hose is home or lies slack",
    "drum": "drum: pawl down and blocked",
    "pto": "PTO shaft and hand crank are off",
    "hydraulics": "tractor oil hoses are off, rams resting",
}


class ServiceForm(Form):
    """One service: cautions, energies made safe, steps, counters, note, signature; then the next due."""

    def __init__(self, machine: MachineNow, line: DueLine) -> None:
        super().__init__()
        self.machine = machine
        self.line = line

    def where(self) -> str:
        """The machine and the service."""
        return f"{self.machine.tag}  {self.line.item.title(self.manner.language)}"

    def before(self) -> Sequence[Widget]:
        """Where it stands, cautions, supplies."""
        item, language = self.line.item, self.manner.language
        told = [join((state(self.line.due.state), "bold"), f"  {self.line.due.why}")]
        told += [
            join(("CAUTION ", "bold $text-warning"), (in_language(one, language), "$text-warning"))
            for one in item.cautions
        ]
        if item.supplies:
            told.append(join(("take along  ", "bold"), ", ".join(in_language(one, language) for one in item.supplies)))
        if item.minutes:
            told.append(join(("about  ", "bold"), f"{item.minutes} minutes"))
        if item.isolate:
            told.append(said("Make safe first, and confirm each; the record says so:"))
        return (Static(lines(*told, ""), classes="form--says"),)

    def boxes(self) -> Sequence[tuple[str, str]]:
        """Energies first, then steps."""
        item = self.line.item
        energies = [(f"safe-{place}", _ENERGY[one]) for place, one in enumerate(item.isolate)]
        steps = [(f"step-{place}", in_language(one, self.manner.language)) for place, one in enumerate(item.steps)]
        return (*energies, *steps)

    def form_lines(self) -> Sequence[Line]:
        """Counters and note."""
        totals = self.machine.state.totals
        return (
            Line(
                "hours",
                "hour counter shows",
                "",
                f"life total {totals.seconds / 3600:.1f} h (may stay empty)",
            ),
            Line(
                "metres",
                "metre counter shows",
                "",
                f"life total {self.length(totals.millimetres)} (may stay empty)",
            ),
            Line("note", "note"),
        )

    def keep(self) -> bool:
        """Write the service down, with its readings."""
        item, language = self.line.item, self.manner.language
        missing = [one for place, one in enumerate(item.isolate) if not self.ticked(f"safe-{place}")]
        if missing:
            return self.wrong(f"not confirmed as made safe: {', '.join(missing)}", "box-safe-0")
        steps = [in_language(one, language) for place, one in enumerate(item.steps) if self.ticked(f"step-{place}")]
        if len(steps) < len(item.steps) and not self.value("note"):
            return self.wrong("a step is not ticked: do it, or say in the note why it was left out", "note")
        what = e.Service(
            item=item.id,
            title=item.title(language),
            steps=tuple(steps),
            isolated=item.isolate,
            note=self.value("note"),
        )
        now, app = self.now(), self.reelcare
        readings = counters_of(self)
        drafts = [Draft(what=one, machine=self.machine.id, happened=now) for one in (*readings, what)]
        if app.write(lambda: self.register.add_all(drafts, by=app.person, now=now)) is None:
            return False
        app.tell(f"{self.machine.tag}  {naming.next_due(self.register, self.machine.id, item.id, now)}")
        tell_doubts(self, self.machine, readings, now)
        return True


class ReadingForm(Form):
    """The counters of one machine."""

    def __init__(self, machine: MachineNow) -> None:
        super().__init__()
        self.machine = machine

    def where(self) -> str:
        """The machine."""
        return f"{self.machine.tag}  Counters"

    def boxes(self) -> Sequence[tuple[str, str]]:
        """Whether a counter is new."""
        return (
            ("new-hours", "the hour counter was replaced; this is the new one's"),
            ("new-metres", "the metre counter was replaced; this is the new one's"),
        )

    def form_lines(self) -> Sequence[Line]:
        """What they show."""
        counters = self.machine.state.counters
        return (
            Line("hours", "hour counter shows", "", f"last read {(counters.hours.shown or 0) / 3600:.1f} h"),
            Line("metres", "metre counter shows", "", f"last read {self.length(counters.metres.shown or 0)}"),
        )

    def keep(self) -> bool:
        """Write the readings down."""
        now, app = self.now(), self.reelcare
        readings = [
            replace(one, change="new counter" if self.ticked(f"new-{one.counter}") else "") for one in counters_of(self)
        ]
        if not readings:
            return self.wrong("neither counter is filled in", "hours")
        drafts = [Draft(what=one, machine=self.machine.id, happened=now) for one in readings]
        if app.write(lambda: self.register.add_all(drafts, by=app.person, now=now)) is None:
            return False
        tell_doubts(self, self.machine, readings, now)
        return True
