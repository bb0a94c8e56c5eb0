"""The keys of a screen, told from its binding table."""

from __future__ import annotations

from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen, Screen
from textual.widgets import Static

from reelcare.tui.text import join, said


class Help(ModalScreen[None]):
    """Lists every key that works on the screen below, with what it does."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,question_mark,q", "app.pop_screen", "Back", id="help.back", tooltip="Closes the help"),
    ]

    def __init__(self, below: Screen[Any]) -> None:
        super().__init__(classes="dialog")
        self._below = below

    def compose(self) -> ComposeResult:
        """One line for each key."""
        with Vertical():
            yield Static(said("Keys"), classes="dialog--title")
            with VerticalScroll():
                seen = set()
                for key, active in self._below.active_bindings.items():
                    binding = active.binding
                    if binding.tooltip and binding.id not in seen and active.enabled:
                        seen.add(binding.id)
                        name = self.app.get_key_display(binding) or key
                        yield Static(join((f"{name:>12}", "bold $primary"), f"  {binding.tooltip}"))
            yield Static(
                said("Shift and drag selects text. The machine's own manual and local codes come first."),
                classes="dialog--foot",
            )
