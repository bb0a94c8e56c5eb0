"""A line for a number with its unit, judged while it is typed.

The rules of this file: the unit that follows is the person's; another one may be typed after the number. What is
given on is always a number with a unit, as typed, so that the record keeps what was read. The judge is handed in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Input, Static

from reelcare.core import units
from reelcare.tui.text import said
from reelcare.tui.theme import stated
from reelcare.tui.widgets.line import Line

Judged = Literal["right", "wrong", "noted", "unreadable"]
Judge = Callable[[str], tuple[Judged, str]]
"""What a text is worth: the state's word, and what it says."""
LONGEST = 40


class Quantity(Widget):
    """A number with a unit: `typed` is what stands in it, with the unit; `Given` comes with Enter.

    The judge is asked at every key; without one, a text is right when it can be read.
    """

    DEFAULT_CSS = """
    Quantity {
        height: auto;
        & Horizontal { height: 1; }
        & Input { width: 18; height: 1; border: none; padding: 0 1; background: $surface; }
        & Input:focus { border: none; background: $input-selection-background; }
        & .quantity--unit { width: auto; padding: 0 1; color: $text-muted; }
        & .quantity--says { height: auto; min-height: 1; }
    }
    """

    @dataclass
    class Given(Message):
        """Enter was pressed on a text that can be read: the text with its unit, and the value in SI."""

        quantity: Quantity
        text: str
        value: float

        @property
        def control(self) -> Quantity:
            """The line that sent it."""
            return self.quantity

    @dataclass
    class Changed(Message):
        """Another text stands in the line: with its unit, and its value in SI (None: cannot be read)."""

        quantity: Quantity
        text: str
        value: float | None

        @property
        def control(self) -> Quantity:
            """The line that sent it."""
            return self.quantity

    BINDING_GROUP_TITLE = "Number"

    def __init__(
        self,
        quantity: units.Quantity,
        *,
        system: units.System = "metric",
        role: str = "",
        text: str = "",
        judge: Judge | None = None,
        decimal_comma: bool = False,
        id: str | None = None,
        classes: str | None = None,
    ) -> None:
        super().__init__(id=id, classes=classes)
        self.quantity: units.Quantity = quantity
        self.judge = judge
        self.decimal_comma = decimal_comma
        self._system: units.System = system
        self._role = role
        self._text = text

    @property
    def unit(self) -> str:
        """The unit that follows a bare number; none for a count."""
        return "" if self.quantity == "count" else units.unit_for(self.quantity, self._system, self._role)

    @property
    def typed(self) -> str:
        """What stands in the line, with its unit."""
        text = self.query_one(Input).value.strip() if self.is_mounted else self._text
        if not text or not self.unit:
            return text
        try:
            units.number(text, decimal_comma=self.decimal_comma)
        except units.UnitsError:
            return text
        return f"{text} {self.unit}"

    @property
    def value(self) -> float | None:
        """The value in SI, None where it cannot be read."""
        try:
            return units.read(self.typed, self.quantity, decimal_comma=self.decimal_comma)
        except units.UnitsError:
            return None

    def ask(
        self,
        quantity: units.Quantity,
        *,
        system: units.System = "metric",
        role: str = "",
        text: str = "",
        judge: Judge | None = None,
    ) -> None:
        """Ask for another quantity: the line is emptied, or holds `text`."""
        self.quantity, self._system, self._role, self.judge = quantity, system, role, judge
        self.query_one(".quantity--unit", Static).update(said(_sign(self.unit)))
        self.query_one(Input).value = text
        self._judge()

    def compose(self) -> ComposeResult:
        """The line, its unit, and what is said of it."""
        with Horizontal():
            yield Line(self._text, max_length=LONGEST, select_on_focus=False)
            yield Static(said(_sign(self.unit)), classes="quantity--unit")
        yield Static(classes="quantity--says")

    def on_mount(self) -> None:
        """Judge what stands in it from the start."""
        self._judge()

    def focus(self, scroll_visible: bool = True) -> Quantity:
        """Focus the line."""
        self.query_one(Input).focus(scroll_visible)
        return self

    @on(Input.Changed)
    def _changed(self, event: Input.Changed) -> None:
        event.stop()
        self._judge()
        self.post_message(self.Changed(self, self.typed, self.value))

    @on(Input.Submitted)
    def _submitted(self, event: Input.Submitted) -> None:
        event.stop()
        value = self.value
        if value is None:
            self._judge(asked=True)
            self.app.bell()
        else:
            self.post_message(self.Given(self, self.typed, value))

    def _judge(self, *, asked: bool = False) -> None:
        says = self.query_one(".quantity--says", Static)
        if not self.typed and not asked:
            says.update("")
            return
        state, text = (self.judge or self._readable)(self.typed)
        says.update(stated(state, text))

    def _readable(self, text: str) -> tuple[Judged, str]:
        try:
            value = units.read(text, self.quantity, decimal_comma=self.decimal_comma)
        except units.UnitsError as why:
            return "unreadable", str(why)
        return "noted", units.show(value, self.quantity, self._system, role=self._role)


def _sign(unit: str) -> str:
    return {"m3/h": "m³/h", "m3": "m³", "degC": "°C", "degF": "°F"}.get(unit, unit)
