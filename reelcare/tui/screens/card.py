"""A machine's card: its particulars as far as they are known, and its drawing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from reelcare.core import units
from reelcare.core.machine import measured
from reelcare.core.machine.card import Card
from reelcare.register import reading, sets
from reelcare.tui.screens.base import Place
from reelcare.tui.text import join, lines
from reelcare.tui.widgets.key_line import KeyLine
from reelcare.tui.widgets.machine_plan import MachinePlan


class CardPage(Place):
    """The card of one machine."""

    CSS_PATH = "form.tcss"

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("k", "book", "Book", id="card.book", tooltip="Everything that happened to this machine"),
        Binding(
            "s", "plan", "Service plan", id="card.plan", tooltip="The service plan of this machine, and its figures"
        ),
        Binding("escape", "leave", "Back", id="card.leave", tooltip="Back to the yard"),
    ]

    def __init__(self, machine: str) -> None:
        super().__init__()
        self.machine_id = machine

    def compose(self) -> ComposeResult:
        """Particulars at the left, drawing at the right."""
        self.machine = reading.machine_now(self.register, self.machine_id, self.now(), forecasts=False)
        yield self.head()
        with Horizontal():
            with VerticalScroll(classes="form"):
                yield Static(id="particulars")
            yield MachinePlan(self.machine.card)
        yield KeyLine()

    def on_mount(self) -> None:
        """Fill the page."""
        self.fill()
        self.query_one(MachinePlan).light("", {})
        self.query_one(VerticalScroll).focus()

    def where(self) -> str:
        """The machine."""
        return f"{self.machine.tag}  Card"

    def fill(self) -> None:
        """Show the card in the person's units."""
        self.refresh_head()
        told: list[Content] = []
        for name, value in particulars(self.machine.card, self.manner.system):
            tone = "$text-muted" if value == UNKNOWN else "bold"
            told.append(join((f"{name:<22}", ""), (value, tone)))
        for name, figure in sets.figures_of(self.register, self.machine_id).items():
            if name in measured.KNOWN:
                label, value = measured.tell(name, figure, self.manner.system)
                told.append(join((f"{label}  ", ""), (value, "bold"), f"  measured {self.local(figure.at):%Y-%m-%d}"))
        self.query_one("#particulars", Static).update(lines(*told))

    def action_book(self) -> None:
        """Show the book."""
        from reelcare.tui.screens.book import Book

        self.app.push_screen(Book(self.machine_id, self.machine.tag))

    def action_plan(self) -> None:
        """Show the plan of this machine."""
        from reelcare.tui.screens.plan import PlanPage

        self.app.push_screen(PlanPage(self.machine_id, self.machine.tag))

    def action_leave(self) -> None:
        """Back to the yard."""
        self.app.pop_screen()


UNKNOWN = "not on the card"


def particulars(card: Card, system: units.System) -> Iterator[tuple[str, str]]:
    """Every particular of a card with its value in words."""

    def length(value: float | None, role: str = "length") -> str:
        return units.show(value, "length", system, role=role) if value is not None else UNKNOWN

    def plain(value: object, unit: str = "") -> str:
        if isinstance(value, bool):
            return "yes" if value else "no"
        return f"{value:g}{unit}" if isinstance(value, (int, float)) else str(value) if value else UNKNOWN

    yield "name", card.name or UNKNOWN
    yield "place", card.place or UNKNOWN
    yield "in use since", str(card.in_use_since) if card.in_use_since else UNKNOWN
    yield "drum core", length(card.drum.core_diameter, "diameter")
    yield "coils in a layer", plain(card.drum.coils_per_layer)
    yield "layers", plain(card.drum.layers)
    yield "packing", plain(card.drum.packing)
    yield "turntable", plain(card.drum.turntable)
    yield "drum brake", plain(card.drum.brake)
    yield "hose length", length(card.hose.length)
    yield "hose outside", length(card.hose.outside, "bore")
    yield "hose inside", length(card.hose.inside, "bore")
    yield "hose material", card.hose.material or UNKNOWN
    yield "drive", card.drive.kind or UNKNOWN
    loss = card.drive.most_loss
    yield (
        "most loss in drive",
        units.show(loss, "pressure", system, role="drive loss") if loss is not None else UNKNOWN,
    )
    yield "legs", card.legs.kind or UNKNOWN
    yield "tongue jack", card.jack.kind or UNKNOWN
    yield "jack stroke", length(card.jack.stroke, "stroke")
    yield "next pin hole adds", length(card.jack.hole_gain, "stroke")
    yield "speed compensation", card.compensation.kind or UNKNOWN
    yield "cart", card.cart.kind or UNKNOWN
    yield "nozzle", length(card.cart.nozzle, "bore")
    yield "arc", plain(card.cart.arc, " degrees")
    season = f"{card.season.opens} to {card.season.closes}" if card.season.opens else UNKNOWN
    yield "season (month-day)", season
    yield "hours a year", plain(card.season.hours_a_year, " h")
    metres = card.season.metres_a_year
    yield "hose a year", length(metres) if metres is not None else UNKNOWN
