"""A box to tick whose state is told by its sign, not by colour.

The rules of this file: only Space and a click tick. What is typed on a box by mistake ticks nothing, the spaces in it
neither, until the cursor moves.
"""

from __future__ import annotations

from typing import ClassVar

from textual import events
from textual.binding import BindingType
from textual.content import Content
from textual.geometry import Size
from textual.message import Message
from textual.reactive import reactive
from textual.widget import Widget

from reelcare.core.text import mark
from reelcare.tui.keys import bind
from reelcare.tui.text import join

INDENT = 6
"""Cells before the text: the mark, the box and their blanks."""


class StrayLetter(Message):
    """A letter was typed where letters do nothing."""


class Checkbox(Widget, can_focus=True):
    """A line that is ticked by space or a click."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("tick.toggle", "space", mark("Tick"), mark("Ticks the box, or clears it"), action="tick", show=False),
        bind("tick.next", "enter", mark("Next"), mark("Next line"), action="app.focus_next", show=False),
    ]
    DEFAULT_CSS = """
    Checkbox { height: auto; padding: 0 1 0 0; }
    Checkbox:focus { background: $chosen; text-style: bold; }
    """
    value: reactive[bool] = reactive(False, layout=False)
    _strays = False
    """Whether a letter was typed since the cursor came."""

    def __init__(self, text: str, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._text = text

    def render(self) -> Content:
        """The box and its text, wrapped beside it."""
        first, *more = self._wrapped(self.content_size.width)
        below = (part for line in more for part in ("\n" + " " * INDENT, line))
        return join("▸ " if self.has_focus else "  ", "[x] " if self.value else "[ ] ", first, *below)

    def _wrapped(self, width: int) -> list[Content]:
        return join(self._text).wrap(max(width - INDENT, 8)) or [Content("")]

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """As many lines as the text needs."""
        return len(self._wrapped(width))

    def on_focus(self) -> None:
        """The cursor's mark comes."""
        self._strays = False
        self.refresh()

    def on_blur(self) -> None:
        """The cursor's mark goes."""
        self.refresh()

    def on_key(self, event: events.Key) -> None:
        """A letter is no tick, and the spaces of what is typed here by mistake are none either."""
        if not event.is_printable:
            self._strays = False
        elif event.character != " ":
            self._strays = True
            self.post_message(StrayLetter())
        elif self._strays:
            event.stop()
            event.prevent_default()

    def action_tick(self) -> None:
        """Tick or clear."""
        self.value = not self.value

    def on_click(self) -> None:
        """A click ticks too."""
        self.action_tick()
