"""The text that would be sent, turned into the shortest that has the same effect.

The rules of this file: after each text that was given in, the terminal is as the whole text would have left it: each
cell, the cursor and the pen. Of a blank counts what is seen: its ground, and lines through it; before anything after
which a mark could come onto a blank that is not known, blanks are sent with their whole pens. (Where the terminal gets
another size there is no time for that: marks that come alone after it may lack the colour of their blank.) A cell is
known only once a sign whose width is sure was written there; what is unknown is always sent. What is not understood
goes out as it came, with everything before it, and makes unknown what it can have touched; where it can change the
meaning of what follows, all that follows goes out as it comes.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from enum import Enum, auto

from reelcare.tui.thin import talk
from reelcare.tui.thin.pen import USUAL, drawn_with
from reelcare.tui.thin.signs import is_narrow, may_join
from reelcare.tui.thin.signs import width as width_of
from reelcare.tui.thin.terminal import Place, Terminal, halved

MOST_MARKS = 8
"""Marks that a sign can have before it is one that terminals cut differently."""


class Stand(Enum):
    """How the texts that come in are taken."""

    OUTSIDE = auto()
    """The screen is not ours: all goes out as it comes, until the alternate screen is entered."""
    INSIDE = auto()
    LOST = auto()
    """Something came that may change what all else means: all goes out as it comes."""


class Screen:
    """A terminal of `width` by `height` cells; `erases_in_colour` where it fills what it erases with the ground."""

    def __init__(self, width: int, height: int, *, erases_in_colour: bool = False) -> None:
        self._erases_in_colour = erases_in_colour
        self._stand = Stand.OUTSIDE
        self._begun = self._again = ""
        self._modes: dict[str, str] = {}
        self._pen, self._wraps = USUAL, True
        self._cursor: Place | None = None
        self._marked: Place | None = None
        self._unsure: int | None = None
        self._terminal = Terminal(0, 0)
        self.resize(width, height)

    # -- from outside --------------------------------------------------------------------------------------

    @property
    def size(self) -> tuple[int, int]:
        """Cells across and down."""
        return self._width, self._height

    def resize(self, width: int, height: int) -> None:
        """The terminal has another size, or may have had one meanwhile: nothing on it is known."""
        self._width, self._height = width, height
        pen = self._terminal.pen
        self._terminal = Terminal(width, height, erases_in_colour=self._erases_in_colour)
        self._terminal.pen = pen
        self._all_unknown()

    def doubt(self) -> None:
        """What was sent may not have arrived: the next text sends every cell again, and before them the modes."""
        self._terminal.doubt()
        self._again = "".join(list(self._modes.values())) if self._stand is Stand.INSIDE else ""

    def note_modes(self, text: str) -> None:
        """Keep which modes a text that goes to the terminal begins or ends, in the order of the last telling."""
        for told in talk.MODE.finditer(text):
            self._modes.pop(told["mode"], None)
            self._modes[told["mode"]] = told[0]

    def thin(self, text: str) -> str:
        """The shortest text with the effect of `text`."""
        self._terminal.out, self._again = [self._again], ""
        text, self._begun, at = self._begun + text, "", 0
        while at < len(text):
            at = self._take(text, at) if self._stand is Stand.INSIDE else self._pass_by(text, at)
        if self._stand is Stand.INSIDE:
            self._terminal.bring(self._cursor, self._pen)
        return "".join(self._terminal.out)

    # -- what comes in -------------------------------------------------------------------------------------

    def _pass_by(self, text: str, at: int) -> int:
        """Pass on a text from a place on: all of it, or to where the screen becomes ours."""
        found = text.find(talk.ENTERS, at) if self._stand is Stand.OUTSIDE else -1
        end = len(text) if found < 0 else found + len(talk.ENTERS)
        self._terminal.out.append(text[at:end])
        if found >= 0:
            self._stand = Stand.INSIDE
            self._pen, self._terminal.pen = USUAL, None
            self._all_unknown()
        return end

    def _take(self, text: str, at: int) -> int:
        """Take one word from a place on; the place after it."""
        word = talk.WORD.match(text, at)
        if word is None:
            if talk.BEGUN.match(text, at):
                self._begun = text[at:]
            else:
                self._lose(text[at:])
            return len(text)
        kind, said = str(word.lastgroup), word[str(word.lastgroup)]
        if kind == "text":
            self._write(said, text, word.end())
        elif kind == "place":
            self._place(word[0], said)
        elif kind == "codes":
            self._draw_with(word[0], said)
        elif kind == "link":
            self._pen = self._pen._replace(link=said if said.partition(";")[2] else "")
        elif kind == "dropped":
            self._end_line(said)
        else:
            self._control(said)
        return word.end()

    def _place(self, said: str, numbers: str) -> None:
        row, column = talk.place_of(numbers)
        if self._is_inside(row, column):
            self._cursor = row, column
        else:
            self._pass_on(said, self._all_rows())
            self._cursor = self._terminal.there = self._unsure = None
        self._marked = None

    def _draw_with(self, said: str, codes: str) -> None:
        pen = drawn_with(self._pen, codes)
        if pen is None:
            self._lose(said)
            return
        if self._cursor is None:
            self._pass_on(said)
            self._terminal.pen = pen
        self._pen = pen

    def _end_line(self, said: str) -> None:
        """An end of line that a move follows does nothing, unless it scrolls."""
        row = self._row()
        if row is None or row + 1 >= self._height:
            self._unknown_after(said)

    def _control(self, said: str) -> None:
        self.note_modes(said)
        if talk.TOUCHES_NOTHING.fullmatch(said):
            self._pass_on(said)
        elif said in (talk.WRAPS, talk.CUTS):
            self._pass_on(said)
            self._wraps = said == talk.WRAPS
        elif said == "\r" and (row := self._row()) is not None:
            self._cursor, self._marked = (row, 0), None
        elif said in "\r\n" or said == talk.ENTERS or talk.TOUCHES_CELLS.fullmatch(said):
            self._unknown_after(said)
        else:
            self._lose(said)

    def _row(self) -> int | None:
        """The row of the cursor: it can be known where its column is not."""
        return self._cursor[0] if self._cursor is not None else self._unsure

    def _all_rows(self) -> range:
        """The rows whose blanks have to be whole before the cursor is lost: once it is, none can be sent."""
        return range(self._height if self._cursor is not None else 0)

    def _pass_on(self, said: str, whole: Collection[int] = ()) -> None:
        """Send something as it is, after everything that came before it."""
        self._terminal.bring(self._cursor, self._pen, whole)
        self._terminal.out.append(said)

    def _unknown_after(self, said: str) -> None:
        self._pass_on(said, self._all_rows())
        self._all_unknown()

    def _lose(self, said: str) -> None:
        self._pass_on(said, () if said == talk.LEAVES else self._all_rows())
        self._all_unknown()
        self._stand = Stand.LOST

    def _all_unknown(self) -> None:
        """Forget all but the pen: cells, and where the cursor is."""
        self._terminal.forget()
        self._cursor = self._marked = self._unsure = None

    # -- the text of a frame -------------------------------------------------------------------------------

    def _write(self, said: str, text: str, after: int) -> None:
        """Put something that is written where the cursor is; behind it, the text that came in goes on at `after`."""
        if self._cursor is not None and self._cursor[1] + len(said) <= self._width and is_narrow(said):
            self._put_narrow(*self._cursor, said)
            return
        for place, sign in enumerate(said):
            cells = width_of(sign)
            if self._cursor is None or cells is None or not self._put(*self._cursor, sign, cells):
                self._write_unsure(said[place:], lambda row: self._is_placed(row, text, after))
                return

    def _put(self, row: int, column: int, sign: str, cells: int) -> bool:
        """Put a sign into the cells at the cursor, or onto the sign before; whether it is sure that it comes there."""
        # behind the last column some terminals wrap before a mark, too
        if column + max(cells, self._wraps) > self._width:
            return False
        if cells == 0:
            return self._mark(sign)
        if cells == 1:
            self._put_narrow(row, column, sign)
            return True
        self._make_way(row, column, cells)
        self._terminal.wanted[row][column : column + cells] = (sign, self._pen), ("", self._pen)
        self._have_put(row, column, column + cells)
        return True

    def _put_narrow(self, row: int, column: int, said: str) -> None:
        """Put signs of one cell each into the cells from the cursor on."""
        end, pen = column + len(said), self._pen
        self._make_way(row, column, len(said))
        blank = " ", pen.on_blank
        self._terminal.wanted[row][column:end] = [(sign, pen) if sign != " " else blank for sign in said]
        self._terminal.under[row][column:end] = [pen] * len(said)
        self._have_put(row, end - 1, end)

    def _make_way(self, row: int, column: int, cells: int) -> None:
        """Take away those wide signs of which only one half lies within these cells."""
        line = self._terminal.wanted[row]
        for lead in halved(line, column, cells):
            if line[lead : lead + 2] != self._terminal.shown[row][lead : lead + 2]:
                # what is left of a wide sign is the terminal's own affair: it has to have been there
                self._terminal.bring(self._cursor, self._pen)
            line[lead] = line[lead + 1] = None

    def _have_put(self, row: int, marked: int, after: int) -> None:
        self._terminal.touched.add(row)
        self._marked, self._cursor = (row, marked), (row, after)

    def _mark(self, sign: str) -> bool:
        """Put a mark onto the sign that was just written; whether that is where the terminal puts it."""
        if self._marked is None:
            return False
        row, column = self._marked
        cell = self._terminal.wanted[row][column]
        if cell is None or len(cell[0]) > MOST_MARKS or cell[0] == " ":
            return False
        self._terminal.wanted[row][column] = cell[0] + sign, cell[1]
        self._terminal.touched.add(row)
        return True

    def _write_unsure(self, said: str, is_placed: Callable[[int], bool]) -> None:
        """Something written of which it is not sure which cells it takes."""
        row = self._row()
        elsewhere = row is None or self._wraps
        # at the beginning of a row some terminals take the end of the row above for the sign before
        elsewhere = elsewhere or (self._cursor is not None and self._cursor[1] == 0 and may_join(said[0]))
        if row is None or elsewhere:
            self._unknown_after(said)
            return
        whole = self._all_rows()
        self._pass_on(said, whole[row : row + 1] if whole and is_placed(row) else whole)
        self._terminal.forget_row(row)
        self._cursor = self._marked = None
        self._unsure = row

    def _is_placed(self, row: int, text: str, at: int) -> bool:
        """Whether, from a place in a text on, nothing but what is drawn in this row comes before a move to a cell."""
        while word := talk.WORD.match(text, at):
            kind, said = str(word.lastgroup), word[str(word.lastgroup)]
            if kind == "place":
                return self._is_inside(*talk.place_of(said))
            if kind == "control" or (kind == "dropped" and row + 1 >= self._height):
                return False
            if kind == "codes" and drawn_with(self._pen, said) is None:
                return False
            at = word.end()
        return False

    def _is_inside(self, row: int, column: int) -> bool:
        return row < self._height and column < self._width
