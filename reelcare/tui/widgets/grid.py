"""A grid of cells with one cursor: rows with their heads at the left, columns with theirs on top, both always seen.

The rules of this file: it draws the columns that fit, beginning with one that the cursor moves; it keeps nothing but
what is shown. Text in cells is shown, never obeyed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, NamedTuple

from rich.segment import Segment
from textual import events
from textual.binding import BindingType
from textual.message import Message
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget

from reelcare.core.text import mark
from reelcare.tui.keys import bind
from reelcare.tui.text import fit, join

WIDTH, HEAD = 15, 8
"""Cells of a column, and of the heads of the rows."""
GAP = 1


class GridCell(NamedTuple):
    """What stands in a cell, and whether it is faint: known already, or nothing."""

    text: str
    faint: bool = False


class Grid(Widget, can_focus=True):
    """Cells in rows and columns."""

    BINDING_GROUP_TITLE = mark("The grid")
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("grid.up", "up", mark("Up"), mark("One row up"), action="move(-1, 0)", show=False),
        bind("grid.down", "down", mark("Down"), mark("One row down"), action="move(1, 0)", show=False),
        bind("grid.left", "left", mark("Left"), mark("One column back"), action="move(0, -1)", show=False),
        bind("grid.right", "right,tab", mark("Right"), mark("One column on"), action="move(0, 1)", show=False),
        bind("grid.page_up", "pageup", mark("Page up"), mark("One page up"), action="page(-1)", show=False),
        bind("grid.page_down", "pagedown", mark("Page down"), mark("One page down"), action="page(1)", show=False),
        bind("grid.first", "home", mark("First"), mark("The first column"), action="edge(-1)", show=False),
        bind("grid.last", "end", mark("Last"), mark("The last column"), action="edge(1)", show=False),
        bind("grid.choose", "enter", mark("Change"), mark("Changes the cell"), show=False),
    ]
    COMPONENT_CLASSES: ClassVar[set[str]] = {"grid--head", "grid--faint", "grid--cursor", "grid--row"}
    DEFAULT_CSS = """
    Grid {
        height: 1fr;
        background: $background;
        color: $foreground;
        & .grid--head { color: $text-muted; text-style: underline; }
        & .grid--row { color: $foreground; text-style: bold; }
        & .grid--faint { color: $text-muted; }
        & .grid--cursor { background: $block-cursor-background; color: $block-cursor-foreground; text-style: bold; }
    }
    """
    at: reactive[tuple[int, int]] = reactive((0, 0))
    """Row and column of the cursor."""

    class Chosen(Message):
        """The cell under the cursor is to be changed."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.heads: list[str] = []
        self.rows: list[str] = []
        self.cells: list[list[GridCell]] = []
        self._top = self._left = 0

    def show(self, heads: Sequence[str], rows: Sequence[str], cells: Sequence[Sequence[GridCell]]) -> None:
        """Show these cells under these heads."""
        self.heads, self.rows, self.cells = list(heads), list(rows), [list(one) for one in cells]
        self.at = self.validate_at(self.at)
        self.refresh()

    def put(self, row: int, column: int, cell: GridCell) -> None:
        """Another cell in one place."""
        self.cells[row][column] = cell
        self.refresh()

    def validate_at(self, at: tuple[int, int]) -> tuple[int, int]:
        """The cursor stays in the grid."""
        row, column = at
        return max(0, min(row, len(self.rows) - 1)), max(0, min(column, len(self.heads) - 1))

    def watch_at(self) -> None:
        """Keep the cursor in sight."""
        row, column = self.at
        high, wide = max(self.size.height - 1, 1), self._columns
        self._top = min(max(self._top, row - high + 1), row)
        self._left = min(max(self._left, column - wide + 1), column)
        self.refresh()

    @property
    def _columns(self) -> int:
        """Columns that fit."""
        return max((self.size.width - HEAD - 2) // (WIDTH + GAP), 1)

    def on_resize(self) -> None:
        """The cursor stays in sight."""
        self.watch_at()

    def render_line(self, y: int) -> Strip:
        """One line: the heads, or a row."""
        last = min(self._left + self._columns, len(self.heads))
        places, row = range(self._left, last), self._top + y - 1
        if y == 0:
            blank = " " * (HEAD + 2)
            parts = [(blank, ""), *((" " + fit(self.heads[place], WIDTH - 1) + " " * GAP, "") for place in places)]
            return self._strip(join(*parts).plain, "grid--head")
        if row >= len(self.rows):
            return Strip.blank(self.size.width, self.rich_style)
        segments = [self._strip(f"  {fit(self.rows[row], HEAD)}", "grid--row", fill=False)]
        for place in places:
            cell, here = self.cells[row][place], (row, place) == self.at
            text = ("▸" if here else " ") + fit(cell.text, WIDTH - 1)
            style = "grid--cursor" if here else "grid--faint" if cell.faint else ""
            segments.append(self._strip(text + " " * GAP, style, fill=False))
        return Strip.join(segments).extend_cell_length(self.size.width, self.rich_style)

    def _strip(self, text: str, style: str, *, fill: bool = True) -> Strip:
        look = self.get_component_rich_style(style) if style else self.rich_style
        strip = Strip([Segment(text, look)])
        return strip.extend_cell_length(self.size.width, look).crop(0, self.size.width) if fill else strip

    def action_move(self, rows: int, columns: int) -> None:
        """Move the cursor."""
        row, column = self.at
        self.at = (row + rows, column + columns)

    def action_page(self, by: int) -> None:
        """Move the cursor by pages."""
        self.action_move(by * max(self.size.height - 2, 1), 0)

    def action_edge(self, way: int) -> None:
        """Move the cursor to the first or last column."""
        self.action_move(0, way * len(self.heads))

    def action_choose(self) -> None:
        """Change the cell under the cursor."""
        if self.rows:
            self.post_message(self.Chosen())

    def on_click(self, event: events.Click) -> None:
        """The first click moves the cursor, a click on the cell with the cursor changes it."""
        place = self._left + (event.x - HEAD - 2) // (WIDTH + GAP)
        to = (self._top + event.y - 1, place)
        if event.y < 1 or event.x < HEAD + 2 or self.validate_at(to) != to:
            return
        if to == self.at:
            self.action_choose()
        else:
            self.at = to
