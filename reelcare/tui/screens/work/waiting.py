"""What was carried in and waits to be accepted in this register: accepted or refused by a supervisor, with a reason."""

from __future__ import annotations

from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core.text import _, mark, plural
from reelcare.register.exchange import waiting
from reelcare.register.exchange.waiting import WaitingEntry
from reelcare.tui.keys import bind
from reelcare.tui.lists import ListScreen
from reelcare.tui.requests import AskText
from reelcare.tui.screens.words import ask_and_write
from reelcare.tui.text import lines, said
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows


class Waiting(ListScreen):
    """The entries of other registers that count here only once somebody says so."""

    CSS_PATH = "../weeks.tcss"
    OF_A_ROW = frozenset(("tick", "accept", "refuse"))
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("waiting.tick", "space", mark("Tick"), mark("Ticks the line, or takes the tick away")),
        bind("waiting.accept", "a", mark("Accept"), mark("Accepts it: from now on it counts here")),
        bind("waiting.refuse", "x", mark("Refuse"), mark("Refuses it: it never counts here")),
        bind("waiting.leave", "escape", mark("Back"), mark("Back to the yard")),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[WaitingEntry] = []
        self.ticked: set[str] = set()
        """The entries that are ticked: they are decided together, with one reason."""

    def body(self) -> ComposeResult:
        """The list, and the line under the cursor in full."""
        yield Rows(
            (
                Column("", 3, 1),
                Column(mark("machine"), 10, 1),
                Column(mark("from"), 10, 1),
                Column(mark("to"), 10, 1),
                Column(mark("because"), 24, 1, grows=True, least=12),
                Column(mark("by"), 12, 2),
            ),
            enter_chooses=False,
            id="weeks",
            empty=mark("Nothing waits to be accepted here."),
        )
        yield Static(id="visit")

    def page(self) -> str:
        """How much waits."""
        return _("Carried in: {n} waiting", n=len(self.lines))

    def counts(self) -> Content:
        """What waiting means."""
        return said(_("Holds and faults from elsewhere count already. This counts once you accept it."))

    def fill(self) -> None:
        """Read what waits and show it."""
        self.lines = waiting.waiting(self.register, self.now())
        self.ticked &= {one.id for one in self.lines}
        self._draw()
        self.refresh_head()

    def _draw(self) -> None:
        self.query_one(Rows).show([_row(one, ticked=one.id in self.ticked) for one in self.lines])
        self.detail()

    @property
    def line(self) -> WaitingEntry | None:
        """The line under the cursor."""
        return self.under_cursor(self.lines)

    def detail(self) -> None:
        """Show the line under the cursor in full."""
        one = self.line
        told = [one.says, _("on terminal {terminal}", terminal=one.terminal)] if one is not None else []
        if self.ticked:
            told.append(self._ticked_says())
        self.query_one("#visit", Static).update(lines(*told))

    def _ticked_says(self) -> str:
        ticked = sum(one.id in self.ticked for one in self.lines)
        return plural("{n} line ticked", "{n} lines ticked", ticked)

    def action_tick(self) -> None:
        """Tick the entry of this line, or take its tick away."""
        if self.line is not None:
            self.ticked ^= {self.line.id}
            self.query_one(Rows).action_move(1)
            self._draw()

    def action_accept(self) -> None:
        """Let it count."""
        self._decide(accepted=True)

    def action_refuse(self) -> None:
        """Let it never count."""
        self._decide(accepted=False)

    @work
    async def _decide(self, *, accepted: bool) -> None:
        one, host = self.line, self.host
        # one entry can have a line for each machine that it changes
        ids = list(dict.fromkeys(line.id for line in self.lines if line.id in self.ticked)) or ([one.id] if one else [])
        if one is None or not await host.may_write(e.CarryDecision.kind):
            return
        asked = _("Why is this accepted?") if accepted else _("Why is this refused?")
        says = self._ticked_says() if self.ticked else one.says
        await ask_and_write(self, AskText(asked, says), lambda why: self._write(ids, why, accepted=accepted))

    def _write(self, ids: list[str], why: str, *, accepted: bool) -> bool:
        host, now = self.host, self.now()
        done = host.write(
            lambda: waiting.decide(self.register, ids, accepted=accepted, why=why, by=host.person, now=now)
        )
        if done is not None:
            host.tell(plural("{n} entry decided", "{n} entries decided", len(done[1])))
            for line in waiting.still_held(self.register, done[1]) if accepted else ():
                host.tell(line, bad=True)
            self.fill()
        return done is not None


def _row(one: WaitingEntry, *, ticked: bool) -> Row:
    return (
        Cell("[x]" if ticked else "[ ]"),
        Cell(one.machine, "part"),
        Cell(one.words[0], "bad" if one.before == "held" else ""),
        Cell(one.words[1]),
        Cell(one.because if one.machine else f"{one.entry.what.describe()}: {one.because}"),
        Cell(one.entry.by),
    )
