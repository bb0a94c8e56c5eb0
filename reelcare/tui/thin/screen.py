"""What the terminal shows, what it is to show, and the shortest text from the one to the other.

The rules of this file: after each text that was given in, the terminal is as the whole text would have left it: each
cell, the cursor and the pen. (Of a blank counts what is seen: its ground, and lines through it.) A cell is known only
once a sign whose width is sure was written there; what is unknown is always sent. What is not understood goes out as
it came, with everything before it, and makes unknown what it can have touched; where it can change the meaning of what
follows, all that follows goes out as it comes.
"""

from __future__ import annotations

from collections import Counter
from enum import Enum, auto

from reelcare.tui.thin import talk
from reelcare.tui.thin.pen import ON_BLANKS, USUAL, Pen, change, drawn_with
from reelcare.tui.thin.signs import may_join
from reelcare.tui.thin.signs import width as width_of

Cell = tuple[str, Pen]
"""A sign with the marks on it, and its pen. The second half of a wide sign is '' with the same pen."""
Line = list[Cell | None]
"""The cells of a row; None where it is not known what stands there."""

Place = tuple[int, int]
"""A row and a column, from 0; the column may be the one beyond the last, where a line has just been filled."""

BRIDGE = 9
"""Known cells that are at most sent again, where that is shorter than a move over them."""
ERASED = 3
"""Blanks at the end of a row that are sent as such; more are erased."""
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
        self._begun = ""
        self._out: list[str] = []
        self._pen, self._wraps = USUAL, True
        self._last_pen: Pen | None = None
        self._cursor: Place | None = None
        self._there: Place | None = None
        self._marked: Place | None = None
        self._unsure: int | None = None
        self._touched: set[int] = set()
        self._under: dict[Place, Pen] = {}  # the whole pen of each blank: a mark that came onto it would show it
        self.resize(width, height)

    # -- from outside --------------------------------------------------------------------------------------

    @property
    def size(self) -> tuple[int, int]:
        """Cells across and down."""
        return self._width, self._height

    def resize(self, width: int, height: int) -> None:
        """The terminal has another size, or may have had one meanwhile: nothing on it is known."""
        self._width, self._height = width, height
        self._wanted: list[Line] = [[None] * width for _ in range(height)]
        self._shown: list[Line] = [[None] * width for _ in range(height)]
        self._all_unknown()

    def doubt(self) -> None:
        """What was sent may not have arrived: the next text sends every cell again."""
        self._shown = [[None] * self._width for _ in range(self._height)]
        self._touched = set(range(self._height))
        self._blind = True
        self._there = self._last_pen = None

    def thin(self, text: str) -> str:
        """The shortest text with the effect of `text`."""
        text, self._begun, self._out, at = self._begun + text, "", [], 0
        while at < len(text):
            at = self._take(text, at) if self._stand is Stand.INSIDE else self._pass_by(text, at)
        if self._stand is Stand.INSIDE:
            self._bring()
        return "".join(self._out)

    # -- what comes in -------------------------------------------------------------------------------------

    def _pass_by(self, text: str, at: int) -> int:
        """Pass on a text from a place on: all of it, or to where the screen becomes ours."""
        found = text.find(talk.ENTERS, at) if self._stand is Stand.OUTSIDE else -1
        end = len(text) if found < 0 else found + len(talk.ENTERS)
        self._out.append(text[at:end])
        if found >= 0:
            self._stand = Stand.INSIDE
            self._pen, self._last_pen = USUAL, None
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
            self._write(said)
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
        if row < self._height and column < self._width:
            self._cursor = row, column
        else:
            self._pass_on(said)
            self._cursor = self._there = self._unsure = None
        self._marked = None

    def _draw_with(self, said: str, codes: str) -> None:
        pen = drawn_with(self._pen, codes)
        if pen is None:
            self._lose(said)
            return
        if self._cursor is None:
            self._pass_on(said)
            self._last_pen = pen
        self._pen = pen

    def _end_line(self, said: str) -> None:
        """An end of line that a move follows does nothing, unless it scrolls."""
        if self._cursor is None or self._cursor[0] + 1 >= self._height:
            self._unknown_after(said)

    def _control(self, said: str) -> None:
        if talk.TOUCHES_NOTHING.fullmatch(said):
            self._pass_on(said)
        elif said in (talk.WRAPS, talk.CUTS):
            self._pass_on(said)
            self._wraps = said == talk.WRAPS
        elif said == "\r" and self._cursor is not None:
            self._cursor, self._marked = (self._cursor[0], 0), None
        elif said in "\r\n" or said == talk.ENTERS or talk.TOUCHES_CELLS.fullmatch(said):
            self._unknown_after(said)
        else:
            self._lose(said)

    def _pass_on(self, said: str) -> None:
        """Send something as it is, after everything that came before it."""
        self._bring()
        self._out.append(said)

    def _unknown_after(self, said: str) -> None:
        self._pass_on(said)
        self._all_unknown()

    def _lose(self, said: str) -> None:
        self._pass_on(said)
        self._all_unknown()
        self._stand = Stand.LOST

    def _all_unknown(self) -> None:
        """Forget all but the pen: cells, and where the cursor is."""
        for lines in (self._wanted, self._shown):
            for line in lines:
                line[:] = [None] * self._width
        self._touched = set()
        self._blind = True
        self._cursor = self._there = self._marked = self._unsure = None

    # -- the text of a frame -------------------------------------------------------------------------------

    def _write(self, text: str) -> None:
        """Put a text where the cursor is."""
        for place, sign in enumerate(text):
            cells = width_of(sign)
            if self._cursor is None or cells is None:
                self._write_unsure(text[place:])
                return
            row, column = self._cursor
            if cells == 0:
                if not self._mark(sign):
                    self._write_unsure(text[place:])
                    return
            elif column + cells > self._width:
                self._write_unsure(text[place:])
                return
            else:
                self._put(row, column, sign, cells)

    def _put(self, row: int, column: int, sign: str, cells: int) -> None:
        line = self._wanted[row]
        for lead in halved(line, column, cells):
            if line[lead : lead + 2] != self._shown[row][lead : lead + 2]:
                self._bring()  # what is left of a wide sign is the terminal's own affair: it has to have been there
            line[lead] = line[lead + 1] = None
        pen = self._pen
        if sign == " ":
            pen, self._under[row, column] = pen.on_blank, pen
        line[column] = sign, pen
        if cells == 2:
            line[column + 1] = "", pen
        self._touched.add(row)
        self._marked, self._cursor = (row, column), (row, column + cells)

    def _mark(self, sign: str) -> bool:
        """Put a mark onto the sign that was just written; whether that is where the terminal puts it."""
        if self._marked is None:
            return False
        row, column = self._marked
        cell = self._wanted[row][column]
        if cell is None or len(cell[0]) > MOST_MARKS or cell[0] == " ":
            return False
        self._wanted[row][column] = cell[0] + sign, cell[1]
        self._touched.add(row)
        return True

    def _write_unsure(self, text: str) -> None:
        """A text of which it is not sure which cells it takes."""
        row = self._cursor[0] if self._cursor is not None else self._unsure
        elsewhere = row is None or self._wraps
        if self._cursor is not None and may_join(text[0]):
            elsewhere = elsewhere or not self._show_ink_before(*self._cursor)
        self._pass_on(text)
        if row is None or elsewhere:
            self._all_unknown()
            return
        for lines in (self._wanted, self._shown):
            lines[row][:] = [None] * self._width
        self._cursor = self._there = self._marked = None
        self._unsure = row

    def _show_ink_before(self, row: int, column: int) -> bool:
        """Where a blank is before the cursor, have it sent with its whole pen; whether there is a cell before it."""
        for place in range(max(column - 1, 0), column):
            cell = self._wanted[row][place]
            if cell is not None and cell[0] == " ":
                self._wanted[row][place] = " ", self._under.get((row, place), cell[1])
                self._touched.add(row)
        return column > 0

    # -- what goes out -------------------------------------------------------------------------------------

    def _bring(self) -> None:
        """Bring the terminal to where it is to be: cells, cursor, pen."""
        if self._blind and self._touched:
            self._clear()
        for row in sorted(self._touched):
            self._bring_row(row)
        self._touched.clear()
        if self._cursor is not None:
            if self._cursor[1] == self._width and self._there != self._cursor:
                self._fill_line(self._cursor[0])
            self._go(*self._cursor)
        self._turn(self._pen)

    def _clear(self) -> None:
        """Where nothing is known and most is to be blank, begin with blanks."""
        self._blind = False
        blanks = Counter(cell for line in self._wanted for cell in line if self._can_erase(cell))
        if not blanks or any(None in line for line in self._wanted):
            return
        blank, count = blanks.most_common(1)[0]
        if count <= self._width or blank is None:
            return
        self._turn(blank[1])
        self._out.append("\x1b[H\x1b[J")
        self._there = 0, 0
        for line in self._shown:
            line[:] = [blank] * self._width

    def _can_erase(self, cell: Cell | None) -> bool:
        """Whether erasing leaves such a cell."""
        return (
            cell is not None
            and cell[0] == " "
            and not cell[1].marks & ON_BLANKS
            and not cell[1].link
            and (self._erases_in_colour or not cell[1].ground)
        )

    def _bring_row(self, row: int) -> None:
        wanted, shown = self._wanted[row], self._shown[row]
        tail, column = self._tail(wanted), 0
        while (column := difference(wanted, shown, column)) < self._width:
            blank = wanted[column]
            if column >= tail and blank is not None:
                left = sum(one != blank for one in shown[column:])
                if left > ERASED:
                    self._reach(row, column)
                    self._turn_for_blank(row, column, blank[1])
                    self._out.append("\x1b[K")
                    for lead in halved(shown, column, self._width - column):
                        shown[lead] = None
                    shown[column:] = [blank] * (self._width - column)
                    return
            self._reach(row, column)
            column = self._send(row, column)

    def _tail(self, line: Line) -> int:
        """From where on a row is one blank that erasing leaves."""
        last, column = line[-1], self._width
        if self._can_erase(last):
            while column > 0 and line[column - 1] == last:
                column -= 1
        return column

    def _reach(self, row: int, column: int) -> None:
        """Bring the cursor to a cell: by a move, or by sending again the cells that lie between."""
        between = self._between(row, column)
        if between:
            pen = self._pen_at(row, column, self._last_pen)
            over = talk.move(self._there, (row, column), self._width) + change(self._last_pen, pen)
            if len(self._through(row, between, column).encode()) < len(over):
                for one in between:
                    self._send(row, one)
                return
        self._go(row, column)

    def _between(self, row: int, column: int) -> list[int]:
        """The cells with signs between the cursor and a cell on its right, where they are few and all known."""
        if self._there is None or self._there[0] != row or not 0 < column - self._there[1] <= BRIDGE:
            return []
        places = range(self._there[1], column)
        cells = [self._wanted[row][one] for one in places]
        if cells != self._shown[row][places.start : column] or None in cells:
            return []
        signs = [one for one, cell in zip(places, cells, strict=True) if cell is not None and cell[0]]
        return signs if signs[:1] == [places.start] else []  # not from within a wide sign

    def _through(self, row: int, between: list[int], column: int) -> str:
        """What sending these cells again would take, and the pen of the one after them."""
        said, pen = "", self._last_pen
        for one in between:
            cell = self._wanted[row][one]
            if cell is not None:
                needed = self._pen_at(row, one, pen)
                said, pen = said + change(pen, needed) + cell[0], needed
        return said + change(pen, self._pen_at(row, column, pen))

    def _send(self, row: int, column: int) -> int:
        """Send a cell at which the cursor stands; the column after it."""
        cell = self._wanted[row][column]
        assert cell is not None
        self._turn(self._pen_at(row, column, self._last_pen))
        self._out.append(cell[0])
        shown, after = self._shown[row], column + 1
        wide = after < self._width and self._wanted[row][after] == ("", cell[1])
        for lead in halved(shown, column, 1 + wide):
            shown[lead] = shown[lead + 1] = None
        shown[column] = cell
        if wide:
            shown[after] = "", cell[1]
            after += 1
        self._there = row, after
        return after

    def _fill_line(self, row: int) -> None:
        """Bring the cursor behind the last cell of a row, where only a sign in it leads."""
        column = self._width - 1
        cell = self._wanted[row][column]
        column -= cell is not None and not cell[0]
        self._go(row, column)
        self._send(row, column)

    def _go(self, row: int, column: int) -> None:
        self._out.append(talk.move(self._there, (row, column), self._width))
        self._there = row, column

    # -- the pen -------------------------------------------------------------------------------------------

    def _turn(self, pen: Pen) -> None:
        if pen != self._last_pen:
            self._out.append(change(self._last_pen, pen))
            self._last_pen = pen

    def _turn_for_blank(self, row: int, column: int, seen: Pen) -> None:
        if self._last_pen is None or self._last_pen.on_blank != seen:
            self._turn(seen)

    def _pen_at(self, row: int, column: int, before: Pen | None) -> Pen:
        """The pen to send a cell with. A blank takes any that looks the same on it: the one at hand, or the next."""
        line = self._wanted[row]
        cell = line[column]
        assert cell is not None
        if cell[0] != " ":
            return cell[1]
        if before is not None and before.on_blank == cell[1]:
            return before
        for place in range(column + 1, self._width):
            after = line[place]
            if after is None or after == self._shown[row][place]:
                break
            if after[0] != " ":
                return after[1] if after[1].on_blank == cell[1] else cell[1]
        return cell[1]


def difference(wanted: Line, shown: Line, column: int) -> int:
    """The first cell from a column on that is to be sent, or the end of the row; of a wide sign its first half."""
    for place in range(column, len(wanted)):
        cell = wanted[place]
        if cell is not None and cell != shown[place]:
            return place if cell[0] else place - 1
    return len(wanted)


def halved(line: Line, column: int, cells: int) -> list[int]:
    """Where those wide signs begin of which only one half lies within these cells.

    >>> halved([("水", USUAL), ("", USUAL), ("a", USUAL)], 1, 1)
    [0]
    """
    ends = (column, column + cells)
    return [end - 1 for end in ends if 0 < end < len(line) and (cell := line[end]) is not None and not cell[0]]
