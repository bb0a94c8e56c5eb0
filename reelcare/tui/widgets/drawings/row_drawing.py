"""How the lines of a list are drawn: its head, a row, what stands where there is none.

The rules of this file: each line is drawn once for as long as rows, width, theme and focus stay.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from textual.content import Content
from textual.strip import Strip
from textual.widget import Widget

from reelcare.core.text import _
from reelcare.tui.text import fit as fit_text
from reelcare.tui.text import plain
from reelcare.tui.widgets.cells import Cell, Row
from reelcare.tui.widgets.columns import GAP, Column, Placed, fit

MARGIN = 2
"""Cells before the first column: the cursor's mark."""
MARK = "▸ "
TONES = ("good", "warning", "bad", "soft", "faint", "part")
KEPT = 512
"""Lines that are kept as they were drawn."""


class RowDrawing:
    """The lines of one list, in the styles of the widget that shows them."""

    def __init__(self, widget: Widget, columns: Sequence[Column], empty: str, *, marks_always: bool = True) -> None:
        self._widget = widget
        self._marks_always = marks_always
        self.columns = tuple(columns)
        self.empty = empty
        self._width = 0
        self._placed: tuple[Placed, ...] = ()
        self._drawn: dict[tuple[int, bool, bool, bool], Strip] = {}
        self._styles: dict[str, Style] = {}

    def forget_rows(self) -> None:
        """Draw again what other rows or columns show."""
        self._width = 0

    def forget_styles(self) -> None:
        """Draw again in other colours."""
        self._drawn.clear()
        self._styles.clear()

    def fit_into(self, width: int) -> None:
        """Fit the columns to what is left beside the scroll bar, which comes and goes by itself."""
        if width != self._width:
            self._width = width
            heads = [cell_len(_(one.head)) for one in self.columns]  # of the person's language; none is cut
            columns = [one._replace(width=max(one.width, head)) for one, head in zip(self.columns, heads, strict=True)]
            self._placed = fit(columns, max(width - MARGIN, 1))
            self._drawn.clear()

    def _style(self, name: str) -> Style:
        found = self._styles.get(name)
        if found is None:
            found = self._styles[name] = self._widget.get_component_rich_style(f"rows--{name}", partial=True)
        return found

    def sought(self, text: str, *, missed: bool) -> Strip:
        """What is sought, in the place of the head."""
        style = self._widget.rich_style + self._style("head")
        told = f"/ {plain(text)}_" + ("  " + _("not found") if missed else "")
        return Strip([Segment(fit_text(told, self._width), style)])

    def head(self) -> Strip:
        """What stands over the columns."""
        style = self._widget.rich_style + self._style("head")
        segments = [Segment(" " * MARGIN, style)]
        for number, (place, _x, size) in enumerate(self._placed):
            column = self.columns[place]
            segments.append(Segment(_aligned(plain(_(column.head)), size, column.right), style))
            segments.append(Segment(" " * (GAP if number < len(self._placed) - 1 else 0), style))
        return Strip(segments).adjust_cell_length(self._width, style)

    def nothing(self, *, says: bool) -> Strip:
        """A line without a row; `says` where it tells that there is none at all."""
        style = self._widget.rich_style
        if not says:
            return Strip.blank(self._width, style)
        style += self._style("empty")
        return Strip([Segment(fit_text("  " + plain(_(self.empty)), self._width), style)])

    def band(self, says: str, tone: str) -> Strip:
        """The head of a band, with a rule behind it."""
        style = self._widget.rich_style
        told = fit_text(plain(says), min(cell_len(says), max(self._width - MARGIN, 0)))
        rule = " " + "─" * max(self._width - MARGIN - cell_len(told) - 3, 0)
        pieces = [Segment(" " * MARGIN, style), Segment(told, style + self._style(tone))]
        return Strip([*pieces, Segment(rule, style + self._style("faint"))]).adjust_cell_length(self._width, style)

    def tags(self, says: str, tone: str, tags: Sequence[tuple[int, int, str]], cursor: int) -> Strip:
        """Tags of rows that have nothing to say, each with its row and the cell at which it begins."""
        style = self._widget.rich_style
        segments = [Segment(" " * MARGIN, style), Segment(plain(says), style + self._style(tone))]
        x = MARGIN + cell_len(says)
        for row, begins, tag in tags:
            here = row == cursor
            mark = MARK.strip() if here and (self._marks_always or self._widget.has_focus) else " "
            look = style + self._style("cursor") if here else style
            segments += [Segment(" " * (begins - x - 1), style), Segment(mark + plain(tag), look)]
            x = begins + cell_len(tag)
        return Strip(segments).adjust_cell_length(self._width, style)

    def line(self, index: int, row: Callable[[int], Row], *, here: bool, hover: bool, second: bool = False) -> Strip:
        """A row, with the cursor on it or the pointer over it; of one with the cells of two lines, the first or the
        `second`."""
        key = (index, here, hover, second)
        strip = self._drawn.get(key)
        if strip is None:
            if len(self._drawn) > KEPT:
                self._drawn.clear()
            cells = row(index)[len(self.columns) :] if second else row(index)
            strip = self._drawn[key] = self._row(cells, here, hover, marked=not second)
        return strip

    def _row(self, row: Row, here: bool, hover: bool, *, marked: bool) -> Strip:
        style = self._widget.rich_style
        if here:
            style += self._style("cursor")
        elif hover:
            style += self._style("hover")
        marked = marked and here and (self._marks_always or self._widget.has_focus)
        segments = [Segment(MARK if marked else " " * MARGIN, style)]
        for number, (place, _x, size) in enumerate(self._placed):
            if number:
                segments.append(Segment(" " * GAP, style))
            cell = row[place] if place < len(row) else ""
            segments += self._cell(cell, size, self.columns[place].right, style)
        return Strip(segments).adjust_cell_length(self._width, style)

    def _cell(self, cell: Cell | str | Content, size: int, right: bool, style: Style) -> list[Segment]:
        if isinstance(cell, Content):
            return self._content(cell, size, right, style)
        if isinstance(cell, str):
            return [Segment(_aligned(plain(cell), size, right), style)]
        drawn = cell.draw(size) if cell.draw is not None else cell.text
        if isinstance(drawn, Content):
            return self._content(drawn, size, right, style)
        if cell.tone in TONES:
            style = style + self._style(cell.tone)
        return [Segment(_aligned(plain(drawn), size, right), style)]

    def _content(self, cell: Content, size: int, right: bool, style: Style) -> list[Segment]:
        shown = cell.truncate(size, ellipsis=True)
        blank = size - shown.cell_length
        pieces = [
            Segment(text, style + piece.rich_style)
            for text, piece in shown.render(end="", parse_style=self._widget.app.stylesheet.parse_style)
        ]
        filling = [Segment(" " * blank, style)] if blank > 0 else []
        return [*filling, *pieces] if right else [*pieces, *filling]


def _aligned(text: str, size: int, right: bool) -> str:
    shown = fit_text(text, size)
    bare = shown.rstrip()
    return " " * (len(shown) - len(bare)) + bare if right else shown
