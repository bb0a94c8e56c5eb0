"""A terminal that is not ours: pyte, and what can be seen of it."""

import re
from copy import copy
from typing import Any

import pyte

UNKNOWN_TO_PYTE = re.compile(r"\x1b\[[<>=?][0-9;]*u|\x1b\[\?[0-9;]*\$p|\x1b\][0-9]+;[^\x07\x1b]*(?:\x07|\x1b\\)")
"""Keys of the kitty protocol, questions for modes, and texts for the window or on links: pyte draws their ends."""

BEGUN = re.compile(r"\x1b(?:\[[0-?]*[ -/]*|\][^\x07\x1b]*\x1b?)?\Z")
"""A control whose end has not come yet."""


ALTERNATE = 1049
"""The mode of the alternate screen."""


class Filled(pyte.Screen):
    """pyte, with what it lacks of most terminals.

    It fills what it erases with the ground, but leaves out cells that were never written; and it has no alternate
    screen: a clear one, whose end brings back what stood there before, with the cursor and its pen.
    """

    _before: Any = None

    def set_mode(self, *modes: int, **more: Any) -> None:
        """Begin modes; where the alternate screen begins anew it is cleared."""
        super().set_mode(*modes, **more)
        if more.get("private") and ALTERNATE in modes:
            if self._before is None:
                self._before = copy(self.buffer), copy(self.cursor)
                self.buffer = copy(self.buffer)
            self.buffer.clear()

    def reset_mode(self, *modes: int, **more: Any) -> None:
        """End modes."""
        super().reset_mode(*modes, **more)
        if more.get("private") and ALTERNATE in modes and self._before is not None:
            (self.buffer, self.cursor), self._before = self._before, None

    def erase_in_display(self, how: int = 0, *args: Any, **more: Any) -> None:
        """Erase below the cursor, above it, or all."""
        super().erase_in_display(how, *args, **more)
        rows = {0: range(self.cursor.y + 1, self.lines), 1: range(self.cursor.y)}.get(how, range(self.lines))
        for row in rows:
            self.buffer[row].update(dict.fromkeys(range(self.columns), self.cursor.attrs))


class Emulator:
    """A terminal of so many cells."""

    def __init__(self, width: int, height: int) -> None:
        self.screen = Filled(width, height)
        self._stream = pyte.Stream(self.screen)
        self._begun = ""

    def feed(self, text: str) -> None:
        """Take a text as the system hands it on: with a carriage return before the end of a line."""
        text = self._begun + text
        begun = BEGUN.search(text)
        self._begun = begun[0] if begun else ""
        text = text.removesuffix(self._begun)
        self._stream.feed(UNKNOWN_TO_PYTE.sub("", re.sub(r"\r*\n", "\r\n", text)))

    def shows(self, text: str) -> bool:
        """Whether a text stands on one of its lines."""
        return any(text in line for line in self.screen.display)

    def text(self) -> str:
        """What stands on its lines."""
        return "\n".join(line.rstrip() for line in self.screen.display)

    def seen(self) -> tuple[list[list[tuple[Any, ...]]], tuple[Any, ...]]:
        """Every cell with its style; and the cursor, whether it is hidden, and the style it draws with."""
        screen = self.screen
        cells = [[look(screen.buffer[y][x]) for x in range(screen.columns)] for y in range(screen.lines)]
        cursor = screen.cursor
        return cells, (cursor.x, cursor.y, cursor.hidden, cursor.attrs)


def look(cell: Any) -> tuple[Any, ...]:
    """What is seen of a cell: of a blank without lines and exchanged colours, only the ground."""
    plain = cell.data == " " and not (cell.underscore or cell.strikethrough or cell.reverse)
    return (" ", cell.bg) if plain else tuple(cell)
