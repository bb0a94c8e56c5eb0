"""A box to tick whose state is told by its sign, not by colour."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from reelcare.core.text import mark
from reelcare.tui.text import join


class Checkbox(Widget, can_focus=True):
    """A line that is ticked by space, enter or a click."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "space,enter",
            "tick",
            mark("Tick"),
            show=False,
            id="tick.toggle",
            tooltip=mark("Ticks the box, or clears it"),
        ),
    ]
    DEFAULT_CSS = """
    Checkbox { height: auto; padding: 0 1 0 0; }
    Checkbox:focus { background: $chosen; text-style: bold; }
    """
    value: reactive[bool] = reactive(False, layout=False)

    def __init__(self, text: str, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._text = text

    def render(self) -> Content:
        """The box and its text."""
        mark = "▸ " if self.has_focus else "  "
        return join(mark, "[x] " if self.value else "[ ] ", self._text)

    def on_focus(self) -> None:
        """The cursor's mark comes."""
        self.refresh()

    def on_blur(self) -> None:
        """The cursor's mark goes."""
        self.refresh()

    def action_tick(self) -> None:
        """Tick or clear."""
        self.value = not self.value

    def on_click(self) -> None:
        """A click ticks too."""
        self.action_tick()
