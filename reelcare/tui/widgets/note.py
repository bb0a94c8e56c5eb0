"""A field for a note: several lines, literal, with what is left of its length.

The rules of this file: Enter is a new line, Tab goes on, and what was typed stays until it is taken.
"""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Static, TextArea

from reelcare.core.typed import LONGEST_TEXT
from reelcare.tui.text import said
from reelcare.tui.theme import stated


class Note(Widget):
    """A note of several lines: `text` is what stands in it, `Changed` says that it is another."""

    BINDING_GROUP_TITLE = "Note"
    DEFAULT_CSS = """
    Note {
        height: auto;
        & TextArea { height: 4; border: none; padding: 0 1; background: $surface; }
        & TextArea:focus { border: none; background: $surface; }
        & .note--left { height: 1; padding: 0 1; color: $text-muted; }
    }
    """

    class Changed(Message):
        """Another text stands in the note."""

        def __init__(self, note: Note, text: str) -> None:
            super().__init__()
            self.note = note
            self.text = text

        @property
        def control(self) -> Note:
            """The note that sent it."""
            return self.note

    def __init__(
        self,
        text: str = "",
        *,
        longest: int = LONGEST_TEXT,
        hint: str = "",
        id: str | None = None,
        classes: str | None = None,
    ) -> None:
        super().__init__(id=id, classes=classes)
        self._text = text
        self._hint = hint
        self.longest = longest

    @property
    def text(self) -> str:
        """What stands in the note."""
        return self.query_one(TextArea).text if self.is_mounted else self._text

    @text.setter
    def text(self, text: str) -> None:
        self._text = text
        if self.is_mounted:
            self.query_one(TextArea).load_text(text)

    @property
    def fits(self) -> bool:
        """Whether it is short enough to be kept."""
        return len(self.text) <= self.longest

    def compose(self) -> ComposeResult:
        """The field, and what is left."""
        yield TextArea(self._text, soft_wrap=True, tab_behavior="focus", show_line_numbers=False)
        yield Static(said(self._hint), classes="note--left")

    def focus(self, scroll_visible: bool = True) -> Note:
        """Focus the field."""
        self.query_one(TextArea).focus(scroll_visible)
        return self

    @on(TextArea.Changed)
    def _changed(self, event: TextArea.Changed) -> None:
        event.stop()
        left = self.longest - len(self.text)
        line = self.query_one(".note--left", Static)
        if left < 0:
            line.update(stated("wrong", f"{-left} characters too many; shorten it"))
        else:
            line.update(said(f"{left} characters left" if left < self.longest // 5 else self._hint))
        self.post_message(self.Changed(self, self.text))
