"""What the run log tells: every signal of every machine, those that drift first, with its chart.

The rules of this file: a signal holds nothing. It says what to look at, and that can be put on the bench by one key.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core.evidence.signals import PARTS, Signal
from reelcare.core.text import _, localized, mark, plural
from reelcare.register.reading import yard
from reelcare.register.views import evidence
from reelcare.register.views.evidence import MachineSignals
from reelcare.tui.keys import bind
from reelcare.tui.lists import GatheringScreen
from reelcare.tui.requests import OpenBench, OpenFailures
from reelcare.tui.text import said
from reelcare.tui.theme import TONES, state
from reelcare.tui.widgets.columns import widened
from reelcare.tui.widgets.drawings.control_chart import ControlChart
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows
from reelcare.tui.widgets.standing_line import counted

ORDER = {"drifting": 0, "steady": 1, "learning": 2}
COLUMNS = (
    Column(mark("machine"), 8, 1),
    Column(mark("signal"), 13, 1, least=17),
    Column(mark("state"), 12, 1),
    Column(mark("from usual"), 10, 1, right=True),
    Column(mark("runs"), 5, 2, right=True),
    Column(mark("look at"), 17, 1, grows=True),
)


class Signals(GatheringScreen):
    """The signals of all machines."""

    CSS_PATH = "../signals.tcss"
    OF_A_ROW = frozenset(("bench", "put"))
    PAGE = mark("Signals")
    HELP = mark("A drift holds no machine: it shows what to look at before anybody would notice.")
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("signals.bench", "enter", mark("Bench"), mark("Opens the bench on this machine")),
        bind("signals.put", "b", mark("On the bench"), mark("Puts on the bench what to look at")),
        bind("signals.failures", "f", mark("Failures"), mark("What the faults say about each part")),
        bind("signals.leave", "escape", mark("Back"), mark("Back to the yard")),
    ]

    shown: Sequence[tuple[MachineSignals, Signal]] = ()

    def body(self) -> ComposeResult:
        """The list, then the chart of the row under the cursor."""
        yield Rows(
            COLUMNS,
            enter_chooses=False,
            id="signals",
            empty=mark("No run is in the register yet."),
        )
        yield Static(id="says")
        chart = ControlChart(id="chart")
        chart.display = False  # until there is a signal
        yield chart

    def counts(self) -> Content:
        """How many signals drift, are steady, or are still learned."""
        states = [signal.state for _machine, signal in self.shown]
        drifting, steady, learning = (states.count(word) for word in ORDER)
        return counted((
            ("drifting", drifting, plural("{n} drifting", "{n} drifting", drifting)),
            ("steady", steady, plural("{n} steady", "{n} steady", steady)),
            ("learning", learning, plural("{n} learning", "{n} learning", learning)),
        ))  # fmt: skip

    def fill(self) -> None:
        """Read the run logs and show every signal, what drifts first."""
        with self.follow():
            self.gather(lambda register, progress: evidence.signals_of(register, progress=progress), self._show)

    def _show(self, found: list[MachineSignals]) -> None:
        pairs = [(one, signal) for one in found for signal in one.signals]
        self.shown = sorted(pairs, key=lambda pair: (ORDER[pair[1].state], -abs(pair[1].change or 0), pair[0].tag))
        self.query_one(Rows).set_columns(widened(COLUMNS, {"signal": [_(signal.name) for _one, signal in pairs]}))
        self.query_one(Rows).show([_row(one, signal) for one, signal in self.shown])
        self.refresh_head()
        self.detail()

    def row_id(self, place: int) -> tuple[str, str]:
        """The machine and the signal."""
        one, signal = self.shown[place]
        return one.machine, signal.name

    @property
    def here(self) -> tuple[MachineSignals, Signal] | None:
        """The machine and signal under the cursor."""
        return self.under_cursor(self.shown)

    def detail(self) -> None:
        """The signal under the cursor, in words and drawn."""
        here = self.here
        self.query_one(ControlChart).display = here is not None
        if here is None:
            self.query_one("#says", Static).update("")
            return
        self.query_one("#says", Static).update(said(f"{here[0].tag}: {here[1].says()}"), layout=False)
        self.query_one(ControlChart).follow(here[1].chart)

    @on(Rows.Chosen)
    def action_bench(self) -> None:
        """Open the bench, on the item that the signal is about."""
        if self.here is not None:
            one, signal = self.here
            self.open(OpenBench(one.machine, signal.item or ""))

    @work
    async def action_put(self) -> None:
        """Note on the bench what is to be looked at; it holds nothing."""
        here = self.here
        if here is None or here[1].state != "drifting":
            self.host.tell(_("Nothing drifts here: nothing to put on the bench."), bad=True)
        elif await self.host.may_write():
            self.host.in_turn(lambda: self._put(*here))

    def _put(self, one: MachineSignals, signal: Signal) -> None:
        host = self.host
        what = e.Fault(part=PARTS[signal.name][0], says=signal.kept())
        known = yard.machine_now(self.register, one.machine, self.now()).faults
        if any(fault.part == what.part and signal.is_told_by(fault.says) for fault in known):
            host.tell(_("{tag}: it is on the bench already.", tag=one.tag))
            return
        if self.record(what, one.machine) is not None:
            host.tell(_("{tag}: on the bench. It does not hold the machine.", tag=one.tag))

    def action_failures(self) -> None:
        """Show what the faults tell."""
        self.open(OpenFailures())


def _row(one: MachineSignals, signal: Signal) -> Row:
    off = "" if signal.change is None else localized(f"{signal.change:+.1f} %")
    return (
        Cell(one.tag, "part"),
        Cell(_(signal.name)),
        Cell(state(signal.state), TONES[signal.state]),
        Cell(off),
        Cell(str(signal.told_by)),
        Cell(", ".join(_(one) for one in signal.look_at) or signal.chart.why),
    )
