"""What the terminal shows, and the shortest text that brings it to what it is to show.

The rules of this file: rows are brought from left to right, and only cells that differ or are unknown are sent; the
text is gathered in `out`. Of a blank counts what is seen of it: its ground, and lines through it. A mark that came onto
it would show the rest of its pen: where one may come that nobody can place, blanks are sent with their whole pens.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection

from reelcare.tui.thin import talk
from reelcare.tui.thin.pen import ON_BLANKS, USUAL, Pen, change

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


class Terminal:
    """A terminal of `width` by `height` cells; `erases_in_colour` where it fills what it erases with the ground."""

    def __init__(self, width: int, height: int, *, erases_in_colour: bool = False) -> None:
        self._width, self._height, self._erases_in_colour = width, height, erases_in_colour
        self.wanted: list[Line] = [[None] * width for _ in range(height)]
        self.shown: list[Line] = [[None] * width for _ in range(height)]
        self.under = [[USUAL] * width for _ in range(height)]
        """The whole pen of each blank that is wanted."""
        self._drawn: list[list[Pen | None]] = [[None] * width for _ in range(height)]
        """The pen that each blank which is shown was sent with; None where it was erased."""
        self._whole: Collection[int] = ()
        """The rows whose blanks are to be sent with their whole pens."""
        self.touched: set[int] = set()
        """The rows in which something else may be wanted than what is shown."""
        self.there: Place | None = None
        """Where its cursor is."""
        self.pen: Pen | None = None
        """What it draws with."""
        self.out: list[str] = []
        self._blind = True

    def forget(self) -> None:
        """Nothing is known of its cells and its cursor, nor what they would be."""
        for lines in (self.wanted, self.shown):
            for line in lines:
                line[:] = [None] * self._width
        self.touched.clear()
        self.there, self._blind = None, True

    def doubt(self) -> None:
        """What was sent may not have arrived: every cell that is wanted is to be sent again."""
        for line in self.shown:
            line[:] = [None] * self._width
        self.touched.update(range(self._height))
        self.there, self.pen, self._blind = None, None, True

    def forget_row(self, row: int) -> None:
        """Nothing is known of a row, nor of the cursor."""
        for lines in (self.wanted, self.shown):
            lines[row][:] = [None] * self._width
        self.there = None

    def bring(self, cursor: Place | None, pen: Pen, whole: Collection[int] = ()) -> None:
        """Bring it to where it is to be: cells, cursor (where it is known), pen; in some rows also the whole pens."""
        if self._blind and self.touched:
            self._clear()
        self._whole = whole
        for row in whole:
            self._send_whole(row)
        for row in sorted(self.touched):
            self._bring_row(row)
        self.touched.clear()
        if cursor is not None:
            if cursor[1] == self._width and self.there != cursor:
                self._fill_line(cursor[0])
            self._go(*cursor)
        self._turn(pen)
        self._whole = ()

    def _send_whole(self, row: int) -> None:
        """Have those blanks of a row sent again that were sent with less than their whole pens."""
        shown, drawn, under = self.shown[row], self._drawn[row], self.under[row]
        for column, cell in enumerate(self.wanted[row]):
            if cell is not None and cell[0] == " " and drawn[column] != under[column]:
                shown[column] = None
                self.touched.add(row)

    def _clear(self) -> None:
        """Where nothing is known and most is to be blank, begin with blanks."""
        self._blind = False
        blanks = Counter(cell for line in self.wanted for cell in line if self._can_erase(cell))
        if not blanks or any(None in line for line in self.wanted):
            return
        blank, count = blanks.most_common(1)[0]
        if count <= self._width or blank is None:
            return
        self._turn(blank[1])
        self.out.append("\x1b[H\x1b[J")
        self.there = 0, 0
        for line, pens in zip(self.shown, self._drawn, strict=True):
            line[:], pens[:] = [blank] * self._width, [None] * self._width

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
        wanted, shown = self.wanted[row], self.shown[row]
        tail, column = self._width if row in self._whole else self._tail(wanted), 0
        while (column := difference(wanted, shown, column)) < self._width:
            blank = wanted[column]
            if column >= tail and blank is not None:
                left = sum(one != blank for one in shown[column:])
                if left > ERASED:
                    self._reach(row, column)
                    self._turn_for_blank(row, column, blank[1])
                    self.out.append("\x1b[K")
                    for lead in halved(shown, column, self._width - column):
                        shown[lead] = None
                    shown[column:] = [blank] * (self._width - column)
                    self._drawn[row][column:] = [None] * (self._width - column)
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
            pen = self._pen_at(row, column, self.pen)
            over = talk.move(self.there, (row, column), self._width) + change(self.pen, pen)
            if len(self._through(row, between, column).encode()) < len(over):
                for one in between:
                    self._send(row, one)
                return
        self._go(row, column)

    def _between(self, row: int, column: int) -> list[int]:
        """The cells with signs between the cursor and a cell on its right, where they are few and all known."""
        if self.there is None or self.there[0] != row or not 0 < column - self.there[1] <= BRIDGE:
            return []
        places = range(self.there[1], column)
        cells = [self.wanted[row][one] for one in places]
        if cells != self.shown[row][places.start : column] or None in cells:
            return []
        signs = [one for one, cell in zip(places, cells, strict=True) if cell is not None and cell[0]]
        return signs if signs[:1] == [places.start] else []  # not from within a wide sign

    def _through(self, row: int, between: list[int], column: int) -> str:
        """What sending these cells again would take, and the pen of the one after them."""
        said, pen = "", self.pen
        for one in between:
            cell = self.wanted[row][one]
            if cell is not None:
                needed = self._pen_at(row, one, pen)
                said, pen = said + change(pen, needed) + cell[0], needed
        return said + change(pen, self._pen_at(row, column, pen))

    def _send(self, row: int, column: int) -> int:
        """Send a cell at which the cursor stands; the column after it."""
        cell = self.wanted[row][column]
        assert cell is not None
        self._turn(self._pen_at(row, column, self.pen))
        self.out.append(cell[0])
        shown, after = self.shown[row], column + 1
        wide = after < self._width and self.wanted[row][after] == ("", cell[1])
        for lead in halved(shown, column, 1 + wide):
            shown[lead] = shown[lead + 1] = None
        shown[column], self._drawn[row][column] = cell, self.pen
        if wide:
            shown[after] = "", cell[1]
            after += 1
        self.there = row, after
        return after

    def _fill_line(self, row: int) -> None:
        """Bring the cursor behind the last cell of a row, where only a sign in it leads."""
        column = self._width - 1
        cell = self.wanted[row][column]
        column -= cell is not None and not cell[0]
        self._go(row, column)
        self._send(row, column)

    def _go(self, row: int, column: int) -> None:
        self.out.append(talk.move(self.there, (row, column), self._width))
        self.there = row, column

    def _turn(self, pen: Pen) -> None:
        if pen != self.pen:
            self.out.append(change(self.pen, pen))
            self.pen = pen

    def _turn_for_blank(self, row: int, column: int, seen: Pen) -> None:
        if self.pen is None or self.pen.on_blank != seen:
            self._turn(seen)

    def _pen_at(self, row: int, column: int, before: Pen | None) -> Pen:
        """The pen to send a cell with. A blank takes any that looks the same on it: the one at hand, or the next."""
        line = self.wanted[row]
        cell = line[column]
        assert cell is not None
        if cell[0] != " ":
            return cell[1]
        if row in self._whole:
            return self.under[row][column]
        if before is not None and before.on_blank == cell[1]:
            return before
        for place in range(column + 1, self._width):
            after = line[place]
            if after is None or after == self.shown[row][place]:
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

    >>> halved([("水", Pen()), ("", Pen()), ("a", Pen())], 1, 1)
    [0]
    """
    ends = (column, column + cells)
    return [end - 1 for end in ends if 0 < end < len(line) and (cell := line[end]) is not None and not cell[0]]
