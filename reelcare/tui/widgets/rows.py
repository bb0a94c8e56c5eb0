"""Our list: columns, one cursor, and nothing is read that is not seen.

The rules of this file: rows come from a sequence or a source and are asked for in pages as they come into
sight, so that a list of any length opens at once; a few pages are kept. A row down draws two lines. Text in
cells is shown, never obeyed; a state has its word, its sign and its tone. Without colour the cursor is
still seen. What is chosen comes up as a message, and screens watch `cursor`; how a row is drawn stands in
`row_drawing.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual import events
from textual.binding import BindingType
from textual.geometry import Region, Size
from textual.message import Message
from textual.reactive import reactive
from textual.scroll_view import ScrollView
from textual.strip import Strip

from reelcare.core.text import mark
from reelcare.tui.keys import bind
from reelcare.tui.widgets.cells import PAGE, Cell, Pages, Row, Source
from reelcare.tui.widgets.columns import Column
from reelcare.tui.widgets.drawings.row_drawing import MARK, TONES, RowDrawing

READING = mark("Still reading: nothing can be said yet.")
"""What an empty list says whose rows are being gathered."""
FIND = "slash"
"""The key after which what is typed is sought."""
__all__ = ["MARK", "PAGE", "Cell", "Column", "Row", "Rows", "Source"]


class Rows(ScrollView, can_focus=True):
    """A list with columns and one cursor. Where `enter_chooses` is False, Enter is a key of the screen.

    | key | does |
    |---|---|
    | up, down | one row |
    | page up, page down | one page |
    | home, end | first, last |
    | enter, click on the row with the cursor | chooses it |
    | / | finds what is typed after it (where the list is given `find`) |
    """

    BINDING_GROUP_TITLE = mark("The list")
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("rows.up", "up", mark("Up"), mark("One row up"), action="move(-1)", show=False),
        bind("rows.down", "down", mark("Down"), mark("One row down"), action="move(1)", show=False),
        bind("rows.page_up", "pageup", mark("Page up"), mark("One page up"), action="page(-1)", show=False),
        bind("rows.page_down", "pagedown", mark("Page down"), mark("One page down"), action="page(1)", show=False),
        bind("rows.first", "home", mark("First"), mark("The first row"), action="edge(-1)", show=False),
        bind("rows.last", "end", mark("Last"), mark("The last row"), action="edge(1)", show=False),
        bind("rows.choose", "enter", mark("Open"), mark("Opens the row"), show=False),
        bind("rows.find", FIND, mark("Find"), mark("Finds what is typed after it"), show=False),
    ]
    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "rows--head", "rows--cursor", "rows--hover", "rows--empty", *(f"rows--{tone}" for tone in TONES),
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
        & .rows--warning { color: $text-warning; }
        & .rows--soft { color: $foreground; }
        & .rows--good { color: $text-success; }
        & .rows--faint { color: $text-muted; }
        & .rows--part { color: $foreground; text-style: bold; }
        &:focus .rows--cursor { background: $block-cursor-background; color: $block-cursor-foreground; }
    }
    """

    marks_always: ClassVar[bool] = True
    """Whether the cursor's mark stands without focus, too: not where several lists stand on one screen."""
    cursor: reactive[int] = reactive(0, repaint=False)
    sought: reactive[str | None] = reactive(None, repaint=False, bindings=True)
    """What is typed to be found; None where nothing is sought."""

    @dataclass
    class Chosen(Message):
        """A row was chosen."""

        rows: Rows

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
        empty: str = mark("Nothing here."),
        find: Callable[[str, int], int | None] | None = None,
        enter_chooses: bool = True,
    ) -> None:
        super().__init__(id=id)
        self._empty = empty
        self._find = find
        """The row of a text from a row on; None where a list finds nothing."""
        self._enter_chooses = enter_chooses
        self._pages = Pages(rows)
        self._drawing = RowDrawing(self, columns, empty, marks_always=self.marks_always)
        self._hover = -1
        self._missed = False

    # -- what is shown -------------------------------------------------------------------------------------

    def show(self, rows: Sequence[Row] | Source, *, keep: int | None = None) -> None:
        """Show these rows, with the cursor on `keep` (or where it was, as far as it goes)."""
        was_empty, self._pages = not self.count, Pages(rows)
        if self.is_attached and was_empty != (not self.count):
            self.screen.refresh_bindings()  # an empty list offers fewer keys
        self._measure()
        self.cursor = max(0, min(self.cursor if keep is None else keep, self.count - 1))
        self._follow()

    def tell_reading(self, *, reading: bool) -> None:
        """Say of an empty list that what it shows is still being read, or again what it says of itself."""
        self._drawing.empty = READING if reading else self._empty
        self.refresh()

    @property
    def count(self) -> int:
        """How many rows there are."""
        return self._pages.count

    def row(self, index: int) -> Row:
        """One row, asked for with its page."""
        return self._pages.row(index)

    def set_columns(self, columns: Sequence[Column]) -> None:
        """Other columns, for the same or other rows."""
        self._drawing = RowDrawing(self, columns, self._drawing.empty, marks_always=self.marks_always)
        self._measure()

    def _measure(self) -> None:
        self._drawing.forget_rows()
        self.virtual_size = Size(max(self.size.width - 1, 1), self.count + 1)
        self.refresh()

    def on_resize(self, event: events.Resize) -> None:
        """Fit the columns to the new width."""
        self._measure()
        self._follow()

    def notify_style_update(self) -> None:
        """Draw again when the theme changes."""
        super().notify_style_update()
        self._drawing.forget_styles()

    def on_focus(self) -> None:
        """The cursor looks otherwise."""
        self._drawing.forget_styles()

    def on_blur(self) -> None:
        """The cursor looks otherwise, and nothing is sought any more."""
        self._drawing.forget_styles()
        self.sought = None

    def render_line(self, y: int) -> Strip:
        """One line as it is seen: the head stays on top."""
        drawing, width = self._drawing, self.scrollable_content_region.width
        drawing.fit_into(width)
        if y == 0:
            return drawing.head() if self.sought is None else drawing.sought(self.sought, missed=self._missed)
        return self._draw(y - 1 + int(self.scroll_offset.y))

    def _draw(self, number: int) -> Strip:
        """A line of the list below its head."""
        if number >= self.count:
            return self._drawing.nothing(says=not self.count and number == 1)
        return self._drawing.line(number, self.row, here=number == self.cursor, hover=number == self._hover)

    # -- the cursor ----------------------------------------------------------------------------------------

    def validate_cursor(self, cursor: int) -> int:
        """The cursor stays among the rows."""
        return max(0, min(cursor, self.count - 1))

    def watch_cursor(self, before: int, after: int) -> None:
        """Follow the cursor."""
        if before == after:
            return
        if not self._follow():
            self._refresh_row(before)
            self._refresh_row(after)

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
        first, last = self._seen_with(self.cursor)
        aim = min(first, max(top, last - page + 1))
        if aim == top:
            return False
        if self.app.animation_level == "none":
            # over a slow line a whole page is drawn once, not line after line
            aim = first if aim > top else max(last - page + 1, 0)
        self.scroll_to(y=aim, animate=False, force=True)
        return True

    def _seen_with(self, index: int) -> tuple[int, int]:
        """The first and the last line that are to be seen with a row."""
        return index, index

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
            self.post_message(self.Chosen(self))

    # -- finding -------------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Whether there is something to find, and whether Enter is the list's own."""
        return {"find": self._find is not None, "choose": self._enter_chooses}.get(action, True)

    def check_consume_key(self, key: str, character: str | None = None) -> bool:
        """While something is sought, what is typed is what is sought."""
        return self.sought is not None and bool(character and character.isprintable())

    def action_find(self) -> None:
        """Take what is typed from now on as what is sought."""
        self.sought = ""

    def watch_sought(self) -> None:
        """Show what is sought in the place of the heads."""
        self._missed = False
        self.refresh(Region(0, 0, self.size.width, 1))

    def on_key(self, event: events.Key) -> None:
        """Begin; type, take back, go on to the next, and end it, while something is sought: all of it here and at once,
        so that no key is lost of those that come in one burst."""
        if self.sought is None:
            if event.key != FIND or self._find is None:
                return
            self.action_find()
        elif event.key in ("escape", "enter", "tab"):
            self.sought = None
        elif event.key == "backspace":
            self.sought = self.sought[:-1]
        elif event.key == "down":
            self._seek_from(self.cursor + 1)
        elif event.character and event.is_printable:
            self.sought += event.character
            self._seek_from(self.cursor)
        else:
            return
        event.stop()
        event.prevent_default()

    def on_paste(self, event: events.Paste) -> None:
        """What is pasted is sought, where it begins with the key or something is sought already."""
        text = " ".join(event.text.split())
        if self._find is not None and (self.sought is not None or text.startswith("/")):
            event.stop()
            self.sought = (self.sought or "") + text.removeprefix("/")
            self._seek_from(self.cursor)

    def _seek_from(self, start: int) -> None:
        """Go to the row that is found; where there is none, say so."""
        if not self.sought or self._find is None:
            return
        index = self._find(self.sought, start)
        self._missed = index is None
        self.refresh(Region(0, 0, self.size.width, 1))
        if index is None:
            self.app.bell()
        else:
            self.cursor = index

    # -- the mouse -----------------------------------------------------------------------------------------

    def _row_at(self, y: int, x: int = 0) -> int:
        index = y - 1 + int(self.scroll_offset.y)
        return index if y >= 1 and index < self.count else -1

    def on_click(self, event: events.Click) -> None:
        """The first click moves the cursor, a click on the row with the cursor chooses it."""
        index = self._row_at(event.y, event.x)
        if index < 0:
            return
        if index == self.cursor:
            self.action_choose()
        else:
            self.cursor = index

    def on_mouse_move(self, event: events.MouseMove) -> None:
        """The row under the pointer is shown."""
        self._point_at(self._row_at(event.y, event.x))

    def on_leave(self, event: events.Leave) -> None:
        """No row is under the pointer."""
        self._point_at(-1)

    def _point_at(self, index: int) -> None:
        if index != self._hover:
            before, self._hover = self._hover, index
            self._refresh_row(before)
            self._refresh_row(index)
