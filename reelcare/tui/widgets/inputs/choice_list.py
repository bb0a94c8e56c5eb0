"""A list of choices, each given by one key.

The rules of this file: the key stands before each choice, and pressing it gives the answer; nothing else has to be
pressed. A click does the same, and so do the arrows with Enter, for those who go that way.
"""

from __future__ import annotations

import string
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, NamedTuple

from textual import events, on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.geometry import Size
from textual.message import Message
from textual.reactive import reactive
from textual.widget import Widget

from reelcare.core.text import mark
from reelcare.tui.keys import bind
from reelcare.tui.text import join

LETTERS = string.ascii_lowercase
INDENT = 6
"""Cells before the words: the mark, the key and their blanks."""


class KeyChoice(NamedTuple):
    """A choice: its id, and its words (as text that may have been typed)."""

    id: str
    says: str


class ChoiceLine(Widget):
    """One choice."""

    DEFAULT_CSS = """
    ChoiceLine { width: 1fr; height: auto; }
    """

    @dataclass
    class Pressed(Message):
        """A choice was clicked."""

        choice: KeyChoice

    def __init__(self, key: str, choice: KeyChoice, mark: str) -> None:
        super().__init__()
        self.key = key
        self.choice = choice
        self._mark = mark

    def render(self) -> Content:
        """The key and the words, wrapped beside it."""
        first, *more = self._wrapped(self.size.width)
        mark = ("▸" if self.has_class("-here") else " ", "bold")
        blank = "\n" + " " * INDENT
        return join(
            mark, (f" {self.key} ", "bold reverse"), "  ", first, *(part for line in more for part in (blank, line))
        )

    def _wrapped(self, width: int) -> list[Content]:
        given = (f"  ◂ {self._mark}", "bold $text-accent") if self.has_class("-given") else ""
        return join(self.choice.says, given).wrap(max(width - INDENT, 8)) or [Content("")]

    def get_content_width(self, container: Size, viewport: Size) -> int:
        """As wide as there is room."""
        return container.width

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """As many lines as the words need."""
        return len(self._wrapped(width))

    def on_click(self, event: events.Click) -> None:
        """A click gives the choice."""
        event.stop()
        self.post_message(self.Pressed(self.choice))


class ChoiceList(Vertical, can_focus=True):
    """Choices, each given by one letter.

    `Given` says which. `ask` shows other choices; `given` is the one that was given before, and has `mark` after it.
    """

    BINDING_GROUP_TITLE = mark("Choices")
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("choices.up", "up", mark("Up"), mark("One choice up"), action="move(-1)", show=False),
        bind("choices.down", "down", mark("Down"), mark("One choice down"), action="move(1)", show=False),
        bind("choices.give", "enter", mark("Give"), mark("Takes the marked choice"), show=False),
    ]
    DEFAULT_CSS = """
    ChoiceList {
        height: auto;
        & ChoiceLine:hover { background: $panel; }
        & ChoiceLine.-here { background: $block-cursor-blurred-background; }
        &:focus ChoiceLine.-here { background: $block-cursor-background; color: $block-cursor-foreground; }
    }
    """
    here: reactive[int] = reactive(-1)

    @dataclass
    class Given(Message):
        """A choice was given."""

        choices: ChoiceList
        id: str

        @property
        def control(self) -> ChoiceList:
            """The list that sent it."""
            return self.choices

    def __init__(
        self,
        choices: Sequence[KeyChoice] = (),
        *,
        given: str = "",
        mark: str,
        id: str | None = None,
    ) -> None:
        super().__init__(id=id)
        self.choices = tuple(choices)
        self._mark = mark
        self.given = given

    @property
    def keys(self) -> str:
        """The keys of the choices, in their order."""
        return LETTERS

    def compose(self) -> ComposeResult:
        """One line for each choice."""
        yield from self._lines()

    def _lines(self) -> list[ChoiceLine]:
        lines = []
        for key, choice in zip(self.keys, self.choices, strict=False):
            line = ChoiceLine(key, choice, self._mark)
            line.set_class(choice.id == self.given, "-given")
            lines.append(line)
        return lines

    async def ask(self, choices: Sequence[KeyChoice], *, given: str = "") -> None:
        """Show other choices; `given` is the one that was given before."""
        self.choices = tuple(choices)
        self.given = given
        self.here = -1
        with self.app.batch_update():
            await self.remove_children()
            await self.mount_all(self._lines())

    def check_consume_key(self, key: str, character: str | None = None) -> bool:
        """The keys of the choices are not keys of the screen."""
        return character is not None and character in self.keys[: len(self.choices)]

    def on_key(self, event: events.Key) -> None:
        """The key of a choice gives it."""
        if event.character and event.character in self.keys[: len(self.choices)]:
            event.stop()
            event.prevent_default()
            self.give(self.choices[self.keys.index(event.character)].id)

    @on(ChoiceLine.Pressed)
    def _pressed(self, event: ChoiceLine.Pressed) -> None:
        event.stop()
        self.give(event.choice.id)

    def give(self, id: str) -> None:
        """Give a choice."""
        self.given = id
        for line in self.query(ChoiceLine):
            line.set_class(line.choice.id == id, "-given")
            line.refresh(layout=True)
        self.post_message(self.Given(self, id))

    def action_move(self, by: int) -> None:
        """Move the mark."""
        if self.choices:
            self.here = (
                (self.here + by) % len(self.choices) if self.here >= 0 else (0 if by > 0 else -1) % len(self.choices)
            )

    def action_give(self) -> None:
        """Give the choice with the mark."""
        if 0 <= self.here < len(self.choices):
            self.give(self.choices[self.here].id)

    def watch_here(self) -> None:
        """Show the mark, and bring its line into sight."""
        for number, line in enumerate(self.query(ChoiceLine)):
            line.set_class(number == self.here, "-here")
            line.refresh()
            if number == self.here:
                line.scroll_visible(animate=False)
