"""Time as a line: weeks across, today at the left edge, a forecast as the spread from early to late.

The rules of this file: all lines of one list have the same scale. What is past due is drawn at the left
edge and points out of the picture; what lies beyond the right edge points there.
"""

from __future__ import annotations

from datetime import date, timedelta

from reelcare.core.text import _
from reelcare.core.wording import MONTHS

WEEKS = 26
"""How many weeks lie across."""
PAST, LIKELY, SPREAD, BEYOND, EMPTY, UNKNOWN = "◄", "◆", "─", "►", "·", "?"


def place(day: date, today: date, width: int) -> int:
    """The cell of a day: below 0 for days before today, `width` or more beyond the right edge.

    >>> place(date(2026, 5, 8), date(2026, 5, 1), 26), place(date(2026, 4, 30), date(2026, 5, 1), 26)
    (1, -1)
    """
    return (day - today).days * width // (WEEKS * 7)


def line(
    early: date | None, likely: date | None, late: date | None, *, today: date, width: int, overdue: bool = False
) -> str:
    """One item's line, `width` cells long.

    >>> may = date(2026, 5, 1)
    >>> line(date(2026, 5, 22), date(2026, 6, 26), date(2026, 9, 4), today=may, width=13)
    '·├──◆────┤···'
    >>> line(None, None, None, today=may, width=10, overdue=True)
    '◄·········'
    >>> line(date(2026, 12, 1), date(2026, 12, 9), None, today=may, width=10)
    '·········►'
    """
    if width <= 0:
        return ""
    cells = [EMPTY] * width
    if overdue:
        cells[0] = PAST
        return "".join(cells)
    if likely is None and early is None:
        cells[-1] = UNKNOWN
        return "".join(cells)
    first, middle, last = (_at(one, today, width) for one in (early or likely, likely, late))
    for cell in range(first, min(last + 1, width)):
        cells[cell] = SPREAD
    if first < width and early is not None:
        cells[first] = "├"
    if last < width and late is not None:
        cells[last] = "┤"
    if middle < width:
        cells[middle] = LIKELY
    if last >= width:
        cells[-1] = BEYOND
    return "".join(cells)


def _at(day: date | None, today: date, width: int) -> int:
    """The cell of a day, today's for one before it; `width` for one beyond the edge, or that nobody can tell."""
    return width if day is None else max(0, min(width, place(day, today, width)))


def scale(today: date, width: int) -> str:
    """The months over the lines, `width` cells long.

    >>> scale(date(2026, 5, 1), 26)
    'May  Jun Jul  Aug Sep Oct '
    """
    cells = [" "] * max(0, width)
    free = 0
    month = 0
    for cell in range(width):
        day = today + timedelta(days=cell * WEEKS * 7 // width)
        named = MONTHS[day.month - 1]
        name = _(named)
        if day.month != month and cell >= free and cell + len(name) <= width:
            cells[cell : cell + len(name)] = name
            free = cell + len(name) + 1
            month = day.month
    return "".join(cells)
