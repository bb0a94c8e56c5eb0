"""Our list: columns, one cursor, and nothing is read that is not seen.

The rules of this file: rows come from a sequence or a source and are asked for in pages as they come into
sight, so that a list of any length opens at once; a few pages are kept. A row down draws two lines. Text in
cells is shown, never obeyed; a state has its word, its sign and its tone. Without colour the cursor is
still seen.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.geometry import Region, Size
from textual.message import Message
from textual.reactive import reactive
from textual.scroll_view import ScrollView
from textual.strip import Strip

from reelcare.tui.text import fit as fit_text
from reelcare.tui.text import plain
from reelcare.tui.widgets.cells import PAGE, Cell, Finder, Pages, Row, Source, state_cell
from reelcare.tui.widgets.columns import GAP, Column, Placed, fit

__all__ = ["PAGE", "Cell", "Column", "Finder", "Row", "Rows", "Source", "state_cell"]

MARGIN = 2
"""Cells before the first column: the cursor's mark."""
MARK = "▸ "
_TONES = ("good", "heed", "bad", "soft", "faint", "part")


class Rows(ScrollView, can_focus=True):
    """A list with columns and one cursor. `chooses` is what Enter does, for the line of keys.

    | key | does |
    |---|---|
    | up, down | one row |
    | page up, page down | one page |
    | home, end | first, last |
    | enter, click on the row with the cursor | chooses it |
    | / | finds what is typed after it (where the list has a finder) |
    """

    BINDING_GROUP_TITLE = "The list"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", "Up", show=False, id="rows.up", tooltip="One row up"),
        Binding("down", "move(1)", "Down", show=False, id="rows.down", tooltip="One row down"),
        Binding("pageup", "page(-1)", "Page up", show=False, id="rows.page_up", tooltip="One page up"),
        Binding("pagedown", "page(1)", "Page down", show=False, id="rows.page_down", tooltip="One page down"),
        Binding("home", "edge(-1)", "First", show=False, id="rows.first", tooltip="The first row"),
        Binding("end", "edge(1)", "Last", show=False, id="rows.last", tooltip="The last row"),
        Binding("enter", "choose", "Open", show=False, id="rows.choose", tooltip="Opens the row"),
        Binding("slash", "find", "Find", show=False, id="rows.find", tooltip="Finds what is typed after it"),
    ]
    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "rows--head", "rows--cursor", "rows--hover", "rows--empty", *(f"rows--{tone}" for tone in _TONES),
    }  # fmt: skip
    DEFAULT_CSS = """
    Rows {
        height: 1fr;
        background: $background;
        color: $foreground;
        scrollbar-size-vertical: 1;
        overflow-x: hidden;
        & .rows--head { color: $text-muted; text-style: underline; }
        & .rows--cursor { background: $block-cursor-blurred-background; text-style: bold; }
        & .rows--hover { background: $surface; }
        & .rows--empty { color: $text-muted; text-style: italic; }
        & .rows--bad { color: $text-error; text-style: bold; }
        & .rows--heed { color: $text-warning; }
        & .rows--soft { color: $text-secondary; }
        & .rows--good { color: $text-success; }
        & .rows--faint { color: $text-muted; }
        & .rows--part { color: $text-primary; text-style: bold; }
        &:focus .rows--cursor { background: $block-cursor-background; color: $block-cursor-foreground; }
    }
    """

    cursor: reactive[int] = reactive(0, repaint=False)

    @dataclass
    class Moved(Message):
        """The cursor stands on another row, or other rows are shown under it."""

        rows: Rows
        index: int

        @property
        def control(self) -> Rows:
            """The list that sent it."""
            return self.rows

    @dataclass
    class Chosen(Message):
        """A row was chosen."""

        rows: Rows
        index: int

        @property
        def control(self) -> Rows:
            """The list that sent it."""
            return self.rows

    def __init__(
        self,
        columns: Sequence[Column],
        rows: Sequence[Row] | Source = (),
        *,
        id: str | None = None,
        classes: str | None = None,
        empty: str = "Nothing here.",
        finder: Finder | None = None,
        chooses: str = "",
    ) -> None:
        super().__init__(id=id, classes=classes)
        if chooses:
            # what Enter does is the screen's to say: a key of a screen with the same name is hidden by the list's
            [enter] = self._bindings.key_to_bindings["enter"]
            self._bindings.key_to_bindings["enter"] = [replace(enter, description=chooses, show=True)]
        self.columns = tuple(columns)
        self.empty = empty
        self.finder = finder
        self.rows: Sequence[Row] | Source = rows
        self._pages = Pages(rows)
        self.at_once: Callable[[], None] | None = None
        """Called when the cursor moves, before the screen is painted: what follows the cursor comes in one frame."""
        self._drawn: dict[tuple[int, bool, bool], Strip] = {}
        self._looks: dict[str, Style] = {}
        self._placed: tuple[Placed, ...] = ()
        self._width = 0
        self._hover = -1
        self._sought: str | None = None
        self._missed = False

    # -- what is shown -------------------------------------------------------------------------------------

    def show(self, rows: Sequence[Row] | Source, *, keep: int | None = None) -> None:
        """Show these rows, with the cursor on `keep` (or where it was, as far as it goes)."""
        self.rows = rows
        self._pages = Pages(rows)
        self._measure()
        wanted = max(0, min(self.cursor if keep is None else keep, self.count - 1))
        if wanted == self.cursor:
            self._tell()
        self.cursor = wanted
        self._follow()

    def renew(self) -> None:
        """Read the rows in sight again, and draw them."""
        self.show(self.rows)

    @property
    def count(self) -> int:
        """How many rows there are."""
        return self._pages.count

    def row(self, index: int) -> Row:
        """One row, asked for with its page."""
        return self._pages.row(index)

    def set_columns(self, columns: Sequence[Column]) -> None:
        """Other columns, for the same or other rows."""
        self.columns = tuple(columns)
        self._measure()

    def _measure(self) -> None:
        self._width = 0
        self.virtual_size = Size(max(self.size.width - 1, 1), self.count + 1)
        self.refresh()

    def _fit_into(self, width: int) -> None:
        """Fit the columns to what is left beside the scroll bar, which comes and goes by itself."""
        if width != self._width:
            self._width = width
            self._placed = fit(self.columns, max(width - MARGIN, 1))
            self._drawn.clear()

    def on_resize(self, event: events.Resize) -> None:
        """Fit the columns to the new width."""
        self._measure()
        self._follow()

    def notify_style_update(self) -> None:
        """Draw anew when the theme changes."""
        super().notify_style_update()
        self._forget()

    def _look(self, name: str) -> Style:
        """A style of ours; worked out once for as long as the theme and the focus stay."""
        found = self._looks.get(name)
        if found is None:
            found = self._looks[name] = self.get_component_rich_style(f"rows--{name}", partial=True)
        return found

    def _forget(self) -> None:
        self._drawn.clear()
        self._looks.clear()

    def on_focus(self) -> None:
        """The cursor looks otherwise."""
        self._forget()

    def on_blur(self) -> None:
        """The cursor looks otherwise, and nothing is sought any more."""
        self._forget()
        self._seek(None)

    # -- drawing -------------------------------------------------------------------------------------------

    def render_line(self, y: int) -> Strip:
        """One line as it is seen: the head stays on top."""
        width = self.scrollable_content_region.width
        self._fit_into(width)
        if y == 0:
            return self._head(width)
        index = y - 1 + int(self.scroll_offset.y)
        if index >= self.count:
            return self._nothing(width, y)
        key = (index, index == self.cursor, index == self._hover)
        strip = self._drawn.get(key)
        if strip is None:
            if len(self._drawn) > 512:
                self._drawn.clear()
            strip = self._drawn[key] = self._line(index, width)
        return strip

    def _head(self, width: int) -> Strip:
        style = self.rich_style + self._look("head")
        if self._sought is not None:
            told = f"/ {plain(self._sought)}_" + ("  not found" if self._missed else "")
            return Strip([Segment(fit_text(told, width), style)])
        segments = [Segment(" " * MARGIN, style)]
        for number, (place, _, size) in enumerate(self._placed):
            column = self.columns[place]
            segments.append(Segment(_aligned(plain(column.head), size, column.right), style))
            segments.append(Segment(" " * (GAP if number < len(self._placed) - 1 else 0), style))
        return Strip(segments).adjust_cell_length(width, style)

    def _nothing(self, width: int, y: int) -> Strip:
        style = self.rich_style
        if self.count or y != 2:
            return Strip.blank(width, style)
        style += self._look("empty")
        return Strip([Segment(fit_text("  " + plain(self.empty), width), style)])

    def _line(self, index: int, width: int) -> Strip:
        style = self.rich_style
        here = index == self.cursor
        if here:
            style += self._look("cursor")
        elif index == self._hover:
            style += self._look("hover")
        row = self.row(index)
        segments = [Segment(MARK if here else " " * MARGIN, style)]
        for number, (place, _, size) in enumerate(self._placed):
            if number:
                segments.append(Segment(" " * GAP, style))
            cell = row[place] if place < len(row) else ""
            segments += self._cell(cell, size, self.columns[place].right, style)
        return Strip(segments).adjust_cell_length(width, style)

    def _cell(self, cell: Cell | str | Content, size: int, right: bool, style: Style) -> list[Segment]:
        if isinstance(cell, Content):
            return self._content(cell, size, right, style)
        if isinstance(cell, str):
            return [Segment(_aligned(plain(cell), size, right), style)]
        drawn = cell.draw(size) if cell.draw is not None else cell.text
        if isinstance(drawn, Content):
            return self._content(drawn, size, right, style)
        text = plain(drawn)
        if cell.tone in _TONES:
            style = style + self._look(cell.tone)
        return [Segment(_aligned(text, size, right), style)]

    def _content(self, cell: Content, size: int, right: bool, style: Style) -> list[Segment]:
        shown = cell.truncate(size, ellipsis=True)
        blank = size - shown.cell_length
        pieces = [
            Segment(text, style + piece.rich_style)
            for text, piece in shown.render(end="", parse_style=self.app.stylesheet.parse_style)
        ]
        filling = [Segment(" " * blank, style)] if blank > 0 else []
        return [*filling, *pieces] if right else [*pieces, *filling]

    # -- the cursor ----------------------------------------------------------------------------------------

    def validate_cursor(self, cursor: int) -> int:
        """The cursor stays among the rows."""
        return max(0, min(cursor, self.count - 1))

    def watch_cursor(self, before: int, after: int) -> None:
        """Follow the cursor and tell whoever listens."""
        if before == after:
            return
        if not self._follow():
            self._refresh_row(before)
            self._refresh_row(after)
        self._tell()

    def near(self) -> list[int]:
        """The rows beside the cursor's, as far as they are seen: there the next key may lead."""
        top = int(self.scroll_offset.y)
        bottom = min(top + self.scrollable_content_region.height - 1, self.count)
        return [index for index in (self.cursor - 1, self.cursor + 1) if top <= index < bottom]

    def _tell(self) -> None:
        if self.count and self.is_mounted:
            if self.at_once is not None:
                self.at_once()
            self.post_message(self.Moved(self, self.cursor))

    def _refresh_row(self, index: int) -> None:
        y = index + 1 - int(self.scroll_offset.y)
        if 0 < y < self.size.height:
            self.refresh(Region(0, y, self.size.width, 1))

    def _follow(self) -> bool:
        """Scroll so that the cursor is seen; whether that was needed."""
        if not self.size.height:
            return False  # it has no place yet: it follows when it is given one
        page = max(self.scrollable_content_region.height - 1, 1)
        top = int(self.scroll_offset.y)
        aim = min(self.cursor, max(top, self.cursor - page + 1))
        if aim == top:
            return False
        if self.app.animation_level == "none":
            # over a slow line a whole page is drawn once, not line after line
            aim = self.cursor if aim > top else max(self.cursor - page + 1, 0)
        self.scroll_to(y=aim, animate=False, force=True)
        return True

    def action_move(self, by: int) -> None:
        """Move the cursor by rows."""
        if self.count:
            self.cursor += by

    def action_page(self, by: int) -> None:
        """Move the cursor by pages."""
        self.action_move(by * max(self.scrollable_content_region.height - 2, 1))

    def action_edge(self, way: int) -> None:
        """Move the cursor to the first or last row."""
        self.action_move(way * self.count)

    def action_choose(self) -> None:
        """Choose the row with the cursor."""
        if self.count:
            self.post_message(self.Chosen(self, self.cursor))

    # -- finding -------------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """There is nothing to find where there is no finder."""
        return self.finder is not None if action == "find" else True

    def check_consume_key(self, key: str, character: str | None = None) -> bool:
        """While something is sought, what is typed is what is sought."""
        return self._sought is not None and bool(character and character.isprintable())

    def action_find(self) -> None:
        """Take what is typed from now on as what is sought."""
        self._seek("")

    def _seek(self, text: str | None) -> None:
        if text == self._sought:
            return
        self._sought = text
        self._missed = False
        self.refresh(Region(0, 0, self.size.width, 1))
        if self.is_attached:
            self.refresh_bindings()

    def on_key(self, event: events.Key) -> None:
        """Type, take back, go on to the next, and end it, while something is sought."""
        if self._sought is None or self.finder is None:
            return
        if event.key in ("escape", "enter", "tab"):
            self._seek(None)
        elif event.key == "backspace":
            self._seek(self._sought[:-1])
        elif event.key == "down":
            self._go_on(self.cursor + 1)
        elif event.character and event.is_printable:
            self._seek(self._sought + event.character)
            self._go_on(self.cursor)
        else:
            return
        event.stop()
        event.prevent_default()

    def _go_on(self, start: int) -> None:
        if self.finder is None or not self._sought:
            return
        found = self.finder(self._sought, start)
        if found is None and start > 0:
            found = self.finder(self._sought, 0)
        self._missed = found is None
        if found is None:
            self.app.bell()
        else:
            self.cursor = found

    # -- the mouse -----------------------------------------------------------------------------------------

    def _row_at(self, y: int) -> int:
        index = y - 1 + int(self.scroll_offset.y)
        return index if y >= 1 and index < self.count else -1

    def on_click(self, event: events.Click) -> None:
        """The first click moves the cursor, a click on the row with the cursor chooses it."""
        index = self._row_at(event.y)
        if index < 0:
            return
        if index == self.cursor:
            self.action_choose()
        else:
            self.cursor = index

    def on_mouse_move(self, event: events.MouseMove) -> None:
        """The row under the pointer is shown."""
        self._point_at(self._row_at(event.y))

    def on_leave(self, event: events.Leave) -> None:
        """No row is under the pointer."""
        self._point_at(-1)

    def _point_at(self, index: int) -> None:
        if index != self._hover:
            before, self._hover = self._hover, index
            self._refresh_row(before)
            self._refresh_row(index)


def _aligned(text: str, size: int, right: bool) -> str:
    shown = fit_text(text, size)
    bare = shown.rstrip()
    return " " * (len(shown) - len(bare)) + bare if right else shown
