"""One line to write on, with the keys of a line and no others.

The framework's own line takes page up, page down, up and down as well, as if it could be scrolled; on our screens
those go to the next and the former question or field, and are shown as such in the line of keys.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Size
from textual.message import Message
from textual.reactive import Reactive, reactive
from textual.widgets import Input

from reelcare.core.text import mark

STOP = "exclamation_mark"
"""The key of the stops, on every screen of a machine."""
_BEGINS = frozenset("0123456789+-.,")
"""The signs with which a number begins."""


def _key(keys: str, action: str, name: str) -> Binding:
    id = f"line.{action.replace('(True)', '_selecting')}"
    return Binding(keys, action, name, show=False, id=id, tooltip=name, system=True)


class PastingInput(Input):
    """A line to write on that keeps all of what is pasted into it, with a blank for the end of a line.

    The key of the stops is a letter only in words: where nothing or a figure stands, it stays the screen's.
    """

    @dataclass
    class TooLong(Message):
        """Nothing was put in of what was pasted: it has more characters than there is room for."""

        characters: int
        room: int

    def check_consume_key(self, key: str, character: str | None = None) -> bool:
        """Whether a key is what is typed."""
        if key == STOP and not self.value[:1].isalpha():
            return False
        return super().check_consume_key(key, character)

    def on_paste(self, event: events.Paste) -> None:
        """Put in all of the text, in the place of what is selected, or nothing: too long a one is told."""
        event.prevent_default()
        event.stop()
        text = " ".join(event.text.split())
        room = (self.max_length or len(text)) - len(self.value) + len(self.selected_text)
        if self.max_length and len(text) > room:
            self.post_message(self.TooLong(len(text), room))
        elif text:
            self.replace(text, *self.selection)


class LineInput(PastingInput, inherit_bindings=False):
    """A line to write on. It is as wide as its place, so that what is typed moves nothing else on the screen."""

    value: Reactive[str] = reactive("", layout=False, init=False)
    virtual_size: Reactive[Size] = reactive(Size(0, 0), layout=False)
    """How long what is typed is: it scrolls in its place."""

    BINDINGS: ClassVar[list[BindingType]] = [
        _key("left", "cursor_left", mark("One character left")),
        _key("right", "cursor_right", mark("One character right")),
        _key("ctrl+left", "cursor_left_word", mark("One word left")),
        _key("ctrl+right", "cursor_right_word", mark("One word right")),
        _key("home,ctrl+a", "home", mark("To the beginning")),
        _key("end,ctrl+e", "end", mark("To the end")),
        _key("shift+left", "cursor_left(True)", mark("One character left, selecting")),
        _key("shift+right", "cursor_right(True)", mark("One character right, selecting")),
        _key("shift+home", "home(True)", mark("To the beginning, selecting")),
        _key("shift+end", "end(True)", mark("To the end, selecting")),
        _key("backspace", "delete_left", mark("Delete the character before")),
        _key("delete,ctrl+d", "delete_right", mark("Delete the next character")),
        _key("ctrl+u", "delete_left_all", mark("Delete to the beginning")),
        _key("ctrl+k", "delete_right_all", mark("Delete to the end")),
        _key("ctrl+x", "cut", mark("Cut the selection")),
        _key("ctrl+c,super+c", "copy", mark("Copy the selection")),
        _key("ctrl+v,super+v", "paste", mark("Paste")),
        _key("enter", "submit", mark("Enter what is typed")),
    ]


class NumberInput(LineInput):
    """A line for a number. While nothing is written, letters are keys of the screen: no number begins with one."""

    def check_consume_key(self, key: str, character: str | None = None) -> bool:
        """What is typed belongs to the number, once it has begun."""
        begins = bool(self.value) or character in _BEGINS
        return begins and super().check_consume_key(key, character)

    def on_key(self, event: events.Key) -> None:
        """Leave a letter to the screen where it does not belong to the number."""
        if event.is_printable and not self.check_consume_key(event.key, event.character):
            event.prevent_default()
