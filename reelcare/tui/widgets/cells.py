"""What a list is made of: cells, rows, and where the rows come from.

The rules of this file: rows are asked for in pages, each page once while it is kept, and only some are kept.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Sequence
from typing import NamedTuple, Protocol, runtime_checkable

from textual.content import Content

from reelcare.core.wording import Title, cells

PAGE = 16
"""Rows that are asked for at once: few, as a list opens with what is seen of it."""
PAGES = 15
"""Pages that are kept."""


class Cell(NamedTuple):
    """A cell: text as typed or computed (never markup), and a tone of `theme.TONES`.

    `draw`, if given, makes text or content for the cells that the column has: for lines that fill their column.
    """

    text: str
    tone: str = ""
    draw: Callable[[int], str | Content] | None = None


def titled(title: Title) -> Cell:
    """An item by its title, or by its short one where that does not fit."""
    return Cell(title, draw=lambda size: title if cells(title) <= size else title.short)


Row = Sequence["Cell | str | Content"]


@runtime_checkable
class Source(Protocol):
    """Where rows come from when they are not a sequence."""

    def count(self) -> int:
        """How many rows there are."""
        ...

    def rows(self, offset: int, limit: int) -> Sequence[Row]:
        """Up to `limit` rows from `offset` on."""
        ...


class Pages:
    """The rows of a sequence or a source, page by page."""

    def __init__(self, rows: Sequence[Row] | Source) -> None:
        self._rows = rows
        self._kept: OrderedDict[int, Sequence[Row]] = OrderedDict()
        self.count = len(rows) if isinstance(rows, Sequence) else rows.count()

    def __len__(self) -> int:
        return len(self._kept)

    def row(self, index: int) -> Row:
        """One row; empty where a source has fewer than it said."""
        page, at = divmod(index, PAGE)
        if page in self._kept:
            self._kept.move_to_end(page)
        else:
            self._kept[page] = self._read(page * PAGE)
            if len(self._kept) > PAGES:
                self._kept.popitem(last=False)
        there = self._kept[page]
        return there[at] if at < len(there) else ()

    def _read(self, offset: int) -> Sequence[Row]:
        if isinstance(self._rows, Sequence):
            return self._rows[offset : offset + PAGE]
        return self._rows.rows(offset, PAGE)
