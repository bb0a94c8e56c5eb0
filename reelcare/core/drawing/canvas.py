"""A sheet of character cells, and the picture that is taken from it.

The rules of this file: one cell is one sign of one cell's width, with the tag of what it belongs to. Whatever
falls outside the sheet is left out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

BLANK = " "


def cut(name: str, width: int) -> str:
    """A name in as many cells as there are, with a sign where it ends early."""
    return name if len(name) <= width else name[: width - 1] + "…"


@dataclass(frozen=True, slots=True)
class Picture:
    """Rows of signs and, cell by cell, the tag of each; the cells of the tag in `lit` stand out."""

    rows: tuple[str, ...]
    tags: tuple[tuple[str, ...], ...]
    lit: frozenset[str] = frozenset()

    @property
    def width(self) -> int:
        """Cells across."""
        return len(self.rows[0]) if self.rows else 0

    @property
    def height(self) -> int:
        """Rows."""
        return len(self.rows)

    def runs(self, row: int) -> Iterator[tuple[str, str, bool]]:
        """The pieces of a row that have one tag: the text, the tag, and whether it is lit."""
        text, tags = self.rows[row], self.tags[row]
        start = 0
        for place in range(1, len(text) + 1):
            if place == len(text) or tags[place] != tags[start]:
                yield text[start:place], tags[start], tags[start] in self.lit
                start = place

    def text(self) -> str:
        """The picture without colours, line under line."""
        return "\n".join(row.rstrip() for row in self.rows)


class Canvas:
    """Cells to draw on, from the top left."""

    def __init__(self, width: int, height: int) -> None:
        self.width = width
        self.height = height
        self._signs = [[BLANK] * width for _ in range(height)]
        self._tags = [[""] * width for _ in range(height)]

    def put(self, x: int, y: int, text: str, tag: str = "") -> None:
        """Writes `text` from (x, y) to the right; blanks in it leave what is there."""
        if not 0 <= y < self.height:
            return
        for offset, sign in enumerate(text):
            if sign != BLANK and 0 <= x + offset < self.width:
                self._signs[y][x + offset] = sign
                self._tags[y][x + offset] = tag

    def clear(self, x: int, y: int, width: int = 1) -> None:
        """Empties cells."""
        for place in range(max(0, x), min(self.width, x + width)):
            if 0 <= y < self.height:
                self._signs[y][place] = BLANK
                self._tags[y][place] = ""

    def sign(self, x: int, y: int) -> str:
        """What stands in a cell; a blank outside the sheet."""
        return self._signs[y][x] if 0 <= x < self.width and 0 <= y < self.height else BLANK

    def free(self, x: int, y: int) -> bool:
        """Whether a cell is on the sheet and empty."""
        return 0 <= x < self.width and 0 <= y < self.height and self._signs[y][x] == BLANK

    def by_tag(self) -> dict[str, list[tuple[int, int]]]:
        """The cells of every tag, row by row."""
        found: dict[str, list[tuple[int, int]]] = {}
        for y, row in enumerate(self._tags):
            for x, tag in enumerate(row):
                if tag:
                    found.setdefault(tag, []).append((x, y))
        return found

    def picture(self, lit: frozenset[str] = frozenset()) -> Picture:
        """What was drawn."""
        rows = tuple("".join(row) for row in self._signs)
        return Picture(rows, tuple(tuple(row) for row in self._tags), lit)
