"""A list in bands: what rows have in common is said once over them, and rows with nothing to say are packed to tags.

The rules of this file: the cursor goes through every row, packed or not, in the order of the source. Rows are packed
where all of them have no room otherwise, and take a second line where all of them have room for it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from typing import NamedTuple

from textual.geometry import Region, Size
from textual.strip import Strip

from reelcare.core.text import mark
from reelcare.tui.widgets.rows import Rows

INDENT = 4
"""Cells before the tags of a packed line."""
ROOMY = 110
"""Cells from which on a row may have a second line."""


class Band(NamedTuple):
    """Rows that have something in common: what is said over them, in which tone, and how many of them there are.

    The last of them, as many as there are `tags`, have nothing to say; `packed` stands before their tags, `all_packed`
    in the place of the head where that is all of them.
    """

    head: str
    tone: str
    size: int
    tags: Sequence[str] = ()
    packed: str = ""
    all_packed: str = ""


class BandLine(NamedTuple):
    """A line of the list: a head (`says`, with a rule behind it), a line of a row (`row`, `second`), or tags, each with
    its row and the cell at which it begins."""

    says: str = ""
    tone: str = ""
    row: int = -1
    second: bool = False
    tags: tuple[tuple[int, int, str], ...] = ()

    def row_at(self, x: int) -> int:
        """The row at a cell; -1 where there is none."""
        if not self.tags:
            return self.row
        return next((row for row, begins, tag in self.tags if begins <= x <= begins + len(tag)), -1)


def lines_of(bands: Sequence[Band], height: int, width: int) -> list[BandLine]:
    """The lines of these bands in a room of so many lines and cells.

    >>> bands = [Band("held 1", "bad", 1), Band("due 3", "warning", 3, ("T2", "T3"), "else 2:", "due 2, else 2:")]
    >>> [line.row for line in lines_of(bands, 6, 80)]
    [-1, 0, -1, 1, 2, 3]
    >>> lines_of(bands, 5, 80)[-1].tags
    ((2, 10, 'T2'), (3, 13, 'T3'))
    """
    rows = sum(band.size for band in bands)
    packs = len(bands) + rows > height
    twice = not packs and width >= ROOMY and len(bands) + 2 * rows <= height
    found: list[BandLine] = []
    first = 0
    for band in bands:
        quiet = len(band.tags) if packs and (len(band.tags) > 1 or len(band.tags) == band.size) else 0
        if quiet < band.size:
            found.append(BandLine(band.head, band.tone))
        for row in range(first, first + band.size - quiet):
            found.append(BandLine(row=row))
            if twice:
                found.append(BandLine(row=row, second=True))
        first += band.size
        if quiet:
            before = band.packed if quiet < band.size else band.all_packed
            found += _packed(band, before, first - quiet, width)
    return found


def _packed(band: Band, before: str, first: int, width: int) -> list[BandLine]:
    """The tags of a band, one after the other, in as few lines as hold them."""
    found: list[BandLine] = []
    some: list[tuple[int, int, str]] = []
    says, x = before, 2 + len(before) + 1
    for row, tag in enumerate(band.tags, first):
        if x + len(tag) > width - 1 and some:
            found.append(BandLine(says, band.tone, tags=tuple(some)))
            some, x, says = [], INDENT, ""
        some.append((row, x, tag))
        x += len(tag) + 1
    return [*found, BandLine(says, band.tone, tags=tuple(some))]


class BandedRows(Rows):
    """A list in bands. Its source is asked for the rows that are not packed; a row may have the cells of a second line
    behind those of the first."""

    BINDING_GROUP_TITLE = mark("The list")
    bands: Sequence[Band] = ()
    _lines: Sequence[BandLine] = ()
    _spans: Sequence[tuple[int, int]] = ()
    """The first and the last line of each row."""

    def _measure(self) -> None:
        width = max(self.scrollable_content_region.width, 1)
        self._lines = lines_of(self.bands, self.room, width)
        spans: dict[int, tuple[int, int]] = {}
        for number, line in enumerate(self._lines):
            for row in [tag[0] for tag in line.tags] or [line.row]:
                spans[row] = (spans.get(row, (number, 0))[0], number)
        self._spans = [spans[row] for row in range(self.count)] if len(spans) >= self.count else ()
        self._drawing.forget_rows()
        self.virtual_size = Size(max(self.size.width - 1, 1), len(self._lines) + 1)
        self.refresh()

    @property
    def room(self) -> int:
        """Lines for rows and heads."""
        return max(self.size.height - 1, 0)

    @property
    def height_of_all(self) -> int:
        """Lines that all rows take, one each, with the heads of their bands."""
        return len(self.bands) + self.count

    def _draw(self, number: int) -> Strip:
        if number >= len(self._lines):
            return self._drawing.nothing(says=not self.count and number == 1)
        line = self._lines[number]
        if line.tags:
            return self._drawing.tags(line.says, line.tone, line.tags, self.cursor)
        if line.row < 0:
            return self._drawing.band(line.says, line.tone)
        here, hover = line.row == self.cursor, line.row == self._hover
        return self._drawing.line(line.row, self.row, here=here, hover=hover, second=line.second)

    def _span(self, index: int) -> tuple[int, int]:
        return self._spans[index] if index < len(self._spans) else (index, index)

    def _refresh_row(self, index: int) -> None:
        first, last = self._span(index)
        for line in range(first, last + 1):
            y = line + 1 - int(self.scroll_offset.y)
            if 0 < y < self.size.height:
                self.refresh(Region(0, y, self.size.width, 1))

    def _seen_with(self, index: int) -> tuple[int, int]:
        """The lines that are to be seen with a row: its own, and the head over it."""
        first, last = self._span(index)
        head = self._lines[first - 1] if 0 < first <= len(self._lines) else None
        return first - (head is not None and head.row < 0 and not head.tags), last

    def action_page(self, by: int) -> None:
        """Move the cursor by as many lines as are seen."""
        if not self._spans:
            return
        page = max(self.scrollable_content_region.height - 2, 1)
        wanted = self._spans[self.cursor][0] + by * page
        self.cursor = max(bisect_right([first for first, _last in self._spans], wanted) - 1, 0)

    def _row_at(self, y: int, x: int = 0) -> int:
        number = y - 1 + int(self.scroll_offset.y)
        return self._lines[number].row_at(x) if y >= 1 and number < len(self._lines) else -1
