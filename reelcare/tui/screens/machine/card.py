"""A machine's card: its particulars as far as they are known, and its drawing."""

from __future__ import annotations

from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core.machine.measuring import MEASURED
from reelcare.core.machine.particulars import UNKNOWN, particulars
from reelcare.core.settings import measured_gun as measured
from reelcare.core.text import _, mark
from reelcare.register.acts import sets
from reelcare.register.reading import yard
from reelcare.tui.base import BaseScreen
from reelcare.tui.keys import bind
from reelcare.tui.requests import AskChoice, AskText, ChangeMachine, Measure, OpenBook, OpenCard, OpenPlan
from reelcare.tui.screens.machine.moving import move
from reelcare.tui.screens.words import ask_and_write
from reelcare.tui.text import join, lines
from reelcare.tui.widgets.drawings.machine_plan import MachinePlan


class CardPage(BaseScreen):
    """The card of one machine."""

    PAGE = mark("Card")
    CSS_PATH = "../form.tcss"

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("card.book", "k", mark("Book"), mark("Everything that happened to this machine")),
        bind("card.plan", "s", mark("Plan"), mark("The service plan of this machine, and its figures")),
        bind(
            "card.measure", "m", mark("Measure"),
            mark("Works out a figure of its own from readings on the gun, the drum, or cans"),
        ),
        bind("card.revise", "e", mark("Revise"), mark("Changes the card by form")),
        bind(
            "card.retire", "x", mark("Sold"),
            mark("Takes a machine that is sold or scrapped out of the yard; its book stays"),
        ),
        bind("card.move", "a", mark("Move"), mark("Moves the machine to another place")),
        bind("card.leave", "escape", mark("Back"), mark("Back to the yard")),
    ]  # fmt: skip

    def __init__(self, request: OpenCard) -> None:
        super().__init__()
        self.machine_id = request.machine

    def body(self) -> ComposeResult:
        """Particulars at the left, drawing at the right."""
        self._read()
        with Horizontal():
            with VerticalScroll(classes="form"):
                yield Static(id="particulars")
            yield MachinePlan(self.machine.card)

    def _read(self) -> None:
        self.machine = yard.machine_now(self.register, self.machine_id, self.now(), forecasts=False)

    def on_mount(self) -> None:
        """Fill the page."""
        self.fill()
        self.query_one(MachinePlan).light("", {})
        self.query_one(VerticalScroll).focus()

    def fill(self) -> None:
        """Show the card in the person's units."""
        self.refresh_head()
        told: list[Content] = []
        for name, value in particulars(self.machine.card, self.preferences.system):
            tone = "$text-muted" if value == _(UNKNOWN) else "bold"
            told.append(join((f"{name:<21}  ", ""), (value, tone)))
        for name, figure in sets.figures_of(self.register, self.machine_id).items():
            if name in measured.KNOWN:
                label, value = measured.tell(name, figure, self.preferences.system)
                on = _("measured {day}", day=self.local(figure.at).date())
                told.append(join((f"{label}  ", ""), (value, "bold"), f"  {on}"))
        self.query_one("#particulars", Static).update(lines(*told))

    def action_book(self) -> None:
        """Show the book."""
        self.open(OpenBook(self.machine_id, self.machine.tag))

    def action_plan(self) -> None:
        """Show the plan of this machine."""
        self.open(OpenPlan(self.machine_id, self.machine.tag))

    def action_revise(self) -> None:
        """Change the card by form."""
        self.open_to_write(ChangeMachine(self.machine_id), e.Carded.kind)

    @work
    async def action_measure(self) -> None:
        """Work out a figure of its own from readings on it."""
        if not await self.host.may_write(e.Measured.kind):
            return
        number = await self.ask(AskChoice(_("What was measured?"), tuple(_(says) for says in MEASURED.values())))
        if number is not None:
            self.open(Measure(self.machine, list(MEASURED)[number]))

    @work
    async def action_retire(self) -> None:
        """Take a machine that is sold or scrapped out of the yard."""
        host, tag = self.host, self.machine.tag
        if not await host.may_write(e.Retired.kind):
            return
        says = _("It leaves the yard; its book stays. This is recorded, with your name.")

        def write(why: str) -> bool:
            kept = self.record(e.Retired(why=why), self.machine_id) is not None
            if kept:
                self.dismiss()
                host.tell(_("{tag} left the yard; its book stays", tag=tag))
            return kept

        await ask_and_write(self, AskText(_("Why does {tag} leave the yard?", tag=tag), says), write)

    def come_back(self) -> None:
        """Show what was changed."""
        self._read()
        self.fill()
        self.query_one(MachinePlan).card = self.machine.card

    def show_again(self) -> None:
        """Another program may have revised it."""
        self.come_back()

    @work
    async def action_move(self) -> None:
        """Bring the machine to another place."""
        if await move(self, self.machine_id, self.machine.tag, self.machine.card.place):
            self._read()
            self.fill()
