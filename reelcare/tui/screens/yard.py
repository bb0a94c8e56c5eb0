"""The yard: every machine with its standing, holds first, and what to do about the one under the cursor."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content

from reelcare.core.upkeep.now import MachineNow
from reelcare.core.wording import ago
from reelcare.register import yard as yards
from reelcare.register.errors import RegisterError
from reelcare.register.glimpse import Machine
from reelcare.tui.screens.base import Place
from reelcare.tui.text import join, lines, said
from reelcare.tui.theme import TONES, state
from reelcare.tui.widgets.beside import Beside
from reelcare.tui.widgets.key_line import KeyLine
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

if TYPE_CHECKING:
    from reelcare.tui.widgets.machine_plan import MachinePlan

COLUMNS = (
    Column("machine", 7, 1),
    Column("run", 11, 1),
    Column("road", 11, 2),
    Column("hours", 5, 4, right=True),
    Column("hose", 8, 5, right=True),
    Column("checked", 11, 6),
    Column("place", 10, 7, grows=True),
    Column("next due", 18, 3, grows=True),
)
WIDE = 100
"""From this width on the machine under the cursor stands beside the list, and below it otherwise."""
REMEMBERED = 60
"""So many machines are kept as they were looked at."""
A_WHILE = 3.0
"""How often it is looked whether another program has written [s]."""
A_REST = 0.05
"""Seconds without a key after which nobody waits."""


class Yard(Place):
    """Every machine at a glance."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "w,enter",
            "walk",
            "Walk-round",
            id="yard.walk",
            tooltip="Begins or goes on with the pre-start of this machine",
        ),
        Binding(
            "o",
            "other_sheet",
            "Other sheet",
            id="yard.other",
            tooltip="Another sheet: road, after the run, shop, season",
        ),
        Binding(
            "s", "set_up", "Set-up", id="yard.set_up", tooltip="Plans a set of this machine: speed, depth, pressures"
        ),
        Binding("r", "run", "Run", id="yard.run", tooltip="Logs a run of this machine"),
        Binding(
            "b",
            "bench",
            "Bench",
            id="yard.bench",
            tooltip="The bench: services, faults, repairs of this machine",
        ),
        Binding("d", "due", "Due", id="yard.due", tooltip="What is due, over all machines"),
        Binding("c", "card", "Card", id="yard.card", tooltip="This machine's particulars"),
        Binding("k", "book", "Book", id="yard.book", tooltip="Everything that happened to this machine"),
        Binding(
            "t",
            "steps",
            "Steps",
            id="yard.steps",
            tooltip="What may be done with this machine now",
        ),
        Binding(
            "i",
            "signals",
            "Signals",
            show=False,
            id="yard.signals",
            tooltip="What the run log tells, over all machines",
        ),
        Binding(
            "m", "marks", "Marks", show=False, id="yard.marks", tooltip="How checks were answered (for supervisors)"
        ),
        Binding("f", "fault", "Fault", show=False, id="yard.fault", tooltip="Notes a fault on this machine"),
    ]

    order: yards.Order
    """Every machine, by its id, in the order of the list."""
    _change: object = None
    """The mark of the register when it was read."""
    _seen = False
    """Whether the yard was shown before: what is read for the first paint is not read twice."""

    def compose(self) -> ComposeResult:
        """The list, and the machine under the cursor beside or below it."""
        self.order = yards.Order((), {})
        self._read: dict[str, MachineNow] = {}
        self._told: dict[str, tuple[MachineNow, object, Content]] = {}
        self._plan: MachinePlan | None = None
        yield self.head()
        with Horizontal():
            yield Rows(
                COLUMNS,
                id="machines",
                empty="No machine yet: `reelcare machine add CARD.toml --by NAME`",
                finder=self._find,
            )
            with Vertical(classes="side"):
                yield Beside(id="side-text")
                yield Vertical(id="side-plan")
        yield Beside(id="below", classes="below")
        yield KeyLine()

    def on_mount(self) -> None:
        """Fill the list before the first paint."""
        self._ahead = self.set_interval(A_REST, self._look_ahead, pause=True)
        self.fill()
        self.set_interval(A_WHILE, self._see_others)
        rows = self.query_one(Rows)
        rows.at_once = self._detail
        rows.focus()
        self.call_after_refresh(self._show_plan)
        if self.order.of_earlier:
            self.call_after_refresh(self._renew)

    def _see_others(self) -> None:
        """What another program has written meanwhile is seen here, though no key comes."""
        with contextlib.suppress(RegisterError):  # busy or gone: it is told when something is asked of it
            if self.app.screen is self and self.register.change() != self._change:
                self.fill()

    def _renew(self) -> None:
        """A large yard is brought into today's order once it stands on the screen."""
        register, now = self.register, self.now()

        def work() -> None:
            with contextlib.suppress(RegisterError), register.beside() as own:
                yards.renew(own, now)
            self.app.call_from_thread(self.fill)

        self.run_worker(work, thread=True, exclusive=True, group="renew")

    def on_screen_resume(self) -> None:
        """Whatever was done elsewhere is seen here at once."""
        if self._seen:
            self.fill()
        self._seen = True

    def fill(self) -> None:
        """Read the yard and show it, with the cursor on the same machine."""
        place = self.query_one(Rows).cursor
        chosen = self.order.machines[place] if place < len(self.order) else ""
        change = self.register.change()
        self.order = yards.order(self.register, self.now())
        self._forget()
        keep = self.order.machines.index(chosen) if chosen in self.order.machines else 0
        self.query_one(Rows).show(self, keep=keep)
        self.refresh_head()
        self._detail()
        self._change = change  # only once all of it was read: where that failed, it is tried again

    # where the rows of the list come from

    def count(self) -> int:
        """How many machines there are."""
        return len(self.order)

    def rows(self, offset: int, limit: int) -> Sequence[Row]:
        """A page of the list."""
        now = self.now()
        found = yards.rows(self.register, self.order, offset, limit, now, self.manner.language)
        return [self._row(one, now) for one in found]

    def _look(self, ids: Sequence[str]) -> list[MachineNow]:
        """These machines as they stand now; the last ones that were looked at are remembered."""
        missing = [one for one in ids if one not in self._read]
        if len(self._read) + len(missing) > REMEMBERED:
            self._forget()
            missing = list(ids)
        self._read.update((one.id, one) for one in yards.machines(self.register, missing, self.now()))
        return [self._read[one] for one in ids if one in self._read]

    def _forget(self) -> None:
        self._read.clear()
        self._told.clear()

    def _find(self, text: str, start: int) -> int | None:
        return yards.find(self.register, text, self.order.machines, start)

    @property
    def machine(self) -> MachineNow | None:
        """The machine under the cursor."""
        place = self.query_one(Rows).cursor
        found = self._look(self.order.machines[place : place + 1])
        return found[0] if found else None

    def on_resize(self) -> None:
        """What is told of the machine stands beside the list, or below it."""
        super().on_resize()
        self._detail()

    def where(self) -> str:
        """How many machines stand how."""
        counts = [f"{many} {word}" for word, many in self.order.counts.items() if many]
        return f"Yard   {', '.join(counts)}"

    def _row(self, one: Machine, now: datetime) -> Row:
        checked = datetime.fromtimestamp(one.checked / 1000, UTC) if one.checked is not None else None
        return (
            Cell(one.tag, "part"),
            Cell(state(one.run), TONES[one.run]),
            Cell(state(one.road), TONES[one.road]),
            Cell(f"{one.seconds / 3600:.0f}"),
            Cell(self.length(one.millimetres)),
            Cell(ago(checked, now) if checked is not None else "never"),
            Cell(one.place),
            Cell(f"{state(one.next_state)}: {one.next_title}", TONES[one.next_state])
            if one.next_state
            else Cell("no plan", "faint"),
        )

    def _checked(self, one: MachineNow) -> str:
        return ago(one.tally.last_check, self.now()) if one.tally.last_check else "never"

    @on(Rows.Chosen)
    def _chosen(self) -> None:
        self.action_walk()

    def _detail(self) -> None:
        one = self.machine
        below, side = self.query_one("#below", Beside), self.query_one("#side-text", Beside)
        if one is None:
            below.tell(Content(""))
            side.tell(Content(""))
            return
        if self.app.size.width < WIDE:
            below.tell(self._why(one, 3))
        else:
            side.tell(self._why(one, 8))
            self._draw(one)
        self._ahead.reset()

    def _look_ahead(self) -> None:
        """Where no key came for a moment, make ready the machines in the rows to which the next one may lead."""
        self._ahead.pause()
        near = self.query_one(Rows).near()
        with contextlib.suppress(RegisterError):  # it is told when the machine is to be shown
            for one in self._look([self.order.machines[place] for place in near if place < len(self.order)]):
                self._make_ready(one)

    def _make_ready(self, one: MachineNow) -> None:
        from reelcare.core.drawing.machine import equipment

        if self.app.size.width < WIDE:
            self.query_one("#below", Beside).look_ahead(self._why(one, 3))
            return
        self.query_one("#side-text", Beside).look_ahead(self._why(one, 8))
        if self._plan is not None:
            self._plan.look_ahead(equipment(one.card), _lit(one))

    def _show_plan(self) -> None:
        """The drawing comes once the list stands on the screen."""
        from reelcare.tui.widgets.machine_plan import MachinePlan

        one = self.machine
        if one is not None and self._plan is None:
            self._plan = MachinePlan(one.card)
            self.query_one("#side-plan", Vertical).mount(self._plan)
            self._draw(one)

    def _draw(self, one: MachineNow) -> None:
        from reelcare.core.drawing.machine import equipment

        if self._plan is not None:
            self._plan.machine = equipment(one.card)
            self._plan.light(_lit(one), {}, language=self.manner.language)

    def _why(self, one: MachineNow, most: int) -> Content:
        """What is told of a machine; what was told of it when it was looked at last is remembered with it."""
        checked = self._checked(one)
        begun = [ago(check.begun, self.now()) for check in one.tally.checks]
        by = most, checked, begun, self.manner.language, self.manner.system
        looked, told_by, told = self._told.get(one.id, (None, None, None))
        if told is None or looked is not one or told_by != by:
            told = self._reasons(one, most, checked, begun)
            self._told[one.id] = one, by, told
        return told

    def _reasons(self, one: MachineNow, most: int, checked: str, begun: Sequence[str]) -> Content:
        totals = one.tally.totals
        done = f"{totals.seconds / 3600:.0f} h, {self.length(totals.millimetres)}, {totals.runs} runs"
        told: list[Content] = [
            join((one.tag, "bold $primary"), f"  {one.card.name}, {one.card.place}: {done}, checked {checked}")
        ]
        told += [
            said(f"{state('open')}  {check.sheet}: begun {before} by {check.by}, not signed yet")
            for check, before in zip(one.tally.checks, begun, strict=True)
        ]
        reasons = sorted(one.standing.because, key=lambda reason: reason.fault == "" and reason.item == "")
        for reason in reasons[:most]:
            word = one.standing.run if reason.side in ("run", "both") else one.standing.road
            side = "run and road" if reason.side == "both" else reason.side
            told.append(join((state(word), f"${_COLOURS[word]}"), f"  {side}: {reason.says}"))
        for line in [line for line in one.dues if line.news and line.due.state in ("overdue", "due")][
            : max(most - len(reasons), 1)
        ]:
            told.append(said(f"{state(line.due.state)}  {line.item.title(self.manner.language)}: {line.due.why}"))
        return lines(*told)

    # what can be done with the machine under the cursor

    def action_walk(self) -> None:
        """Begin or go on with the pre-start."""
        self._walk("pre-start")

    def _walk(self, sheet: str) -> None:
        from reelcare.tui.screens.walk import open_walk

        if self.machine is not None:
            machine = self.machine
            self.reelcare.with_person(lambda: open_walk(self, machine, sheet))

    def action_other_sheet(self) -> None:
        """Choose another sheet."""
        from reelcare.register import sheets
        from reelcare.tui.widgets.dialogs import Choose

        if self.machine is None:
            return
        found = list(sheets.load().by_id.values())
        titles = [one.title.get(self.manner.language, one.title["en"]) for one in found]

        def chosen(number: int | None) -> None:
            if number is not None:
                self._walk(found[number].id)

        self.app.push_screen(Choose(f"Which sheet for {self.machine.tag}?", titles), chosen)

    def action_set_up(self) -> None:
        """Plan a set."""
        from reelcare.tui.screens.set_up import open_set_up

        if self.machine is not None:
            open_set_up(self, self.machine)

    def action_run(self) -> None:
        """Log a run."""
        from reelcare.tui.screens.run import RunForm

        if self.machine is not None:
            machine = self.machine
            self.reelcare.with_person(lambda: self.app.push_screen(RunForm(machine)))

    def action_bench(self) -> None:
        """Open the bench on this machine."""
        from reelcare.tui.screens.bench import Bench

        if self.machine is not None:
            self.app.push_screen(Bench(self.machine.id))

    def action_due(self) -> None:
        """Open the due list."""
        from reelcare.tui.screens.due import DueList

        self.app.push_screen(DueList())

    def action_card(self) -> None:
        """Show the card."""
        from reelcare.tui.screens.card import CardPage

        if self.machine is not None:
            self.app.push_screen(CardPage(self.machine.id))

    def action_book(self) -> None:
        """Show the book."""
        from reelcare.tui.screens.book import Book

        if self.machine is not None:
            self.app.push_screen(Book(self.machine.id, self.machine.tag))

    def action_steps(self) -> None:
        """What may be done now."""
        from reelcare.tui.screens.steps import open_steps

        if self.machine is not None:
            open_steps(self, self.machine)

    def action_signals(self) -> None:
        """What the run log tells."""
        from reelcare.tui.screens.signals import Signals

        self.app.push_screen(Signals())

    def action_marks(self) -> None:
        """How checks were answered."""
        from reelcare.tui.screens.marks import Marks

        if self.reelcare.role != "supervisor":
            self.reelcare.tell("Marks on checks are for supervisors: say who is there with p.", bad=True)
            return
        self.app.push_screen(Marks())

    def action_fault(self) -> None:
        """Note a fault."""
        from reelcare.tui.screens.fault import FaultForm

        if self.machine is not None:
            machine = self.machine
            self.reelcare.with_person(lambda: self.app.push_screen(FaultForm(machine.id, machine.tag)))


_COLOURS = {"held": "text-error", "check due": "text-warning", "clear": "text-success"}


def _lit(one: MachineNow) -> str:
    """The part that is lit in its picture."""
    return one.faults[0].what.part if one.faults else ""
