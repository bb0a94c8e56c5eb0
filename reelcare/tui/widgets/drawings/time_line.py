"""Time as a line: weeks across from today, the spread of a forecast, overdue at the left edge."""

from __future__ import annotations

from datetime import date
from itertools import groupby

from textual.content import Content

from reelcare.core.drawing import weeks as drawing
from reelcare.core.forecast.forecast import Forecast
from reelcare.tui.theme import STYLES, TONES
from reelcare.tui.widgets.cells import Cell


def time_line(ahead: Forecast | None, state: str, today: date, width: int) -> str:
    """One item's line as text.

    >>> time_line(None, "overdue", date(2026, 5, 1), 10)
    '◄·········'
    """
    if state == "due":
        return drawing.line(None, today, today, today=today, width=width)
    if state == "overdue" or ahead is None:
        return drawing.line(None, None, None, today=today, width=width, overdue=state == "overdue")
    return drawing.line(ahead.early, ahead.likely, ahead.late, today=today, width=width)


def time_cell(ahead: Forecast | None, state: str, today: date) -> Cell:
    """The cell of a list that holds one item's line, as wide as its column, in the tone of its state."""

    def draw(width: int) -> Content:
        line = time_line(ahead, state, today, width)
        tones = ((sign, STYLES["faint" if sign == drawing.EMPTY else TONES.get(state, "faint")]) for sign in line)
        pieces = (("".join(sign for sign, _ in found), style) for style, found in groupby(tones, lambda one: one[1]))
        return Content.assemble(*pieces)

    return Cell("", TONES.get(state, ""), draw)
