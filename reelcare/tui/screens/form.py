"""A form: named lines, an error under them, and one way to keep it. What was typed stays until it is kept."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import ClassVar, NamedTuple

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.widget import Widget
from textual.widgets import Button, Input, Label, Static

from reelcare.core import units
from reelcare.tui.base import BaseScreen
from reelcare.tui.requests import AskYesNo
from reelcare.tui.text import said
from reelcare.tui.widgets.inputs.checkbox import Checkbox
from reelcare.tui.widgets.inputs.fields import PastingInput
from reelcare.tui.widgets.key_line import KeyLine
from reelcare.tui.widgets.typed_quantity import with_unit

LEAVE_UNKEPT = AskYesNo(
    "Leave without keeping it?", ("What is typed here is not kept.",), yes="leave it", no="go back to it"
)


class FormField(NamedTuple):
    """One line of a form: its id, its label, what stands in it, and a hint."""

    id: str
    label: str
    value: str = ""
    hint: str = ""


class Form(BaseScreen):
    """A form with lines and perhaps boxes to tick; sub-classes say which, and keep it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "ctrl+y",
            "keep",
            "Sign and keep",
            id="form.keep",
            tooltip="Signs what is written here and keeps it",
        ),
        Binding("down", "app.focus_next", "Next", show=False, id="form.next", tooltip="The next line"),
        Binding("up", "app.focus_previous", "Before", show=False, id="form.before", tooltip="The line before"),
        Binding("escape", "leave", "Back", id="form.leave", tooltip="Back without keeping"),
    ]
    CSS_PATH = Path(__file__).with_name("form.tcss")  # absolute: forms stand in several folders
    KEEP = "Sign and keep"

    @property
    def holds_typing(self) -> bool:
        """Always: no single letter may leave a form behind."""
        return True

    def form_lines(self) -> Sequence[FormField]:
        """The lines of the form."""
        return ()

    def before(self) -> Sequence[Widget]:
        """What stands above the lines."""
        return ()

    def boxes(self) -> Sequence[tuple[str, str]]:
        """Boxes to tick: id and text."""
        return ()

    def keep(self) -> bool:
        """Write it down; whether it is kept."""
        raise NotImplementedError

    def compose(self) -> ComposeResult:
        """Above, boxes, lines, error, and the button that keeps it."""
        yield self.head()
        with VerticalScroll(classes="form"):
            yield from self.before()
            for id, text in self.boxes():
                yield Checkbox(text, id=f"box-{id}")
            for line in self.form_lines():
                with Horizontal(classes="field"):
                    yield Label(said(line.label), classes="field--label")
                    yield PastingInput(line.value, placeholder=line.hint, id=line.id, max_length=2000)
            yield Static("", classes="form--error", id="error")
            yield Button(f"{self.KEEP} (Ctrl+Y)", id="keep")
        yield KeyLine()

    def on_mount(self) -> None:
        """Begin at the first line."""
        self._began = {one.id: one.value.strip() for one in self.query(Input)}
        self.refresh_head()
        first = self.query("Checkbox, Input").first()
        first.focus()

    def value(self, id: str) -> str:
        """What stands in a line."""
        return self.query_one(f"#{id}", Input).value.strip()

    def ticked(self, id: str) -> bool:
        """Whether a box is ticked."""
        return self.query_one(f"#box-{id}", Checkbox).value

    def quantity(self, id: str, quantity: units.Quantity, role: str = "") -> float | None:
        """A line as a quantity in SI; without a unit in the person's own; None where it is empty."""
        text = self.value(id)
        return units.read(with_unit(text, quantity, self.preferences.system, role), quantity) if text else None

    def wrong(self, text: str, id: str = "") -> bool:
        """Say what is wrong and go to the line."""
        self.query_one("#error", Static).update(said(text))
        if id:
            self.query_one(f"#{id}").focus()
        return False

    @on(Input.Submitted)
    def _next(self, event: Input.Submitted) -> None:
        self.focus_next()

    @on(Button.Pressed, "#keep")
    def action_keep(self) -> None:
        """Keep it, if it is right."""
        self.query_one("#error", Static).update("")
        try:
            kept = self.keep()
        except units.UnitsError as why:
            self.wrong(str(why))
            return
        if kept:
            self.dismiss()

    def action_leave(self) -> None:
        """Back without keeping; what was typed is asked about."""
        if all(one.value.strip() == self._began[one.id] for one in self.query(Input)):
            self.dismiss()
        else:
            self._ask_to_leave()

    @work
    async def _ask_to_leave(self) -> None:
        if await self.ask(LEAVE_UNKEPT):
            self.dismiss()
