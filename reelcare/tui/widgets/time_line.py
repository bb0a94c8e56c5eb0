"""Time as a line: weeks across from today, the spread of a forecast, overdue at the left edge."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import groupby
from typing import ClassVar, NamedTuple

from textual.content import Content
from textual.geometry import Size

from reelcare.core.drawing import weeks as drawing
from reelcare.core.drawing.canvas import Canvas, Picture
from reelcare.core.drawing.weeks import WEEKS, scale
from reelcare.core.forecast.forecast import Forecast
from reelcare.tui.theme import SIGNS, STYLES, TONES
from reelcare.tui.widgets.drawn import Drawn
from reelcare.tui.widgets.rows import Cell

__all__ = ["TimeItem", "TimeLine", "scale", "time_cell", "time_line"]


def time_line(ahead: Forecast | None, state: str, today: date, width: int, weeks: int = WEEKS) -> str:
    """One item's line as text.

    >>> ahead = Forecast(date(2026, 5, 8), date(2026, 5, 15), date(2026, 5, 29))
    >>> time_line(ahead, "ok", date(2026, 5, 1), 10, 5), time_line(None, "overdue", date(2026, 5, 1), 10)
    ('··├─◆───┤·', '◄·········')
    """
    if state == "overdue":
        return drawing.line(None, None, None, today=today, width=width, weeks=weeks, overdue=True)
    if state == "due":
        return drawing.line(None, today, today, today=today, width=width, weeks=weeks)
    if ahead is None:
        return drawing.line(None, None, None, today=today, width=width, weeks=weeks)
    return drawing.line(ahead.early, ahead.likely, ahead.late, today=today, width=width, weeks=weeks)


def time_cell(ahead: Forecast | None, state: str, today: date, weeks: int = WEEKS) -> Cell:
    """The cell of a list that holds one item's line, as wide as its column, in the tone of its state."""

    def draw(width: int) -> Content:
        line = time_line(ahead, state, today, width, weeks)
        tones = ((sign, STYLES["faint" if sign == drawing.EMPTY else TONES.get(state, "faint")]) for sign in line)
        pieces = (("".join(sign for sign, _ in found), style) for style, found in groupby(tones, lambda one: one[1]))
        return Content.assemble(*pieces)

    return Cell("", TONES.get(state, ""), draw)


class TimeItem(NamedTuple):
    """One line: its name, its state's word, and its forecast."""

    name: str
    state: str
    ahead: Forecast | None = None


class TimeLine(Drawn):
    """Several items under one scale of months; `tell` shows others. As high as it has items, and one line more."""

    LOOKS: ClassVar[dict[str, str]] = {
        "name": "frame",
        "scale": "ground",
        "good": "good",
        "heed": "heed",
        "bad": "bad",
        "soft": "part",
        "faint": "ground",
    }
    DEFAULT_CSS = """
    TimeLine { width: 1fr; height: auto; }
    """

    def __init__(
        self,
        items: Sequence[TimeItem] = (),
        *,
        today: date,
        weeks: int = WEEKS,
        id: str | None = None,
        classes: str | None = None,
    ) -> None:
        super().__init__(id=id, classes=classes)
        self.items = tuple(items)
        self.today = today
        self.weeks = weeks

    def tell(self, items: Sequence[TimeItem], *, today: date | None = None) -> None:
        """Show other items."""
        self.items = tuple(items)
        self.today = today or self.today
        self.draw_again()
        self.refresh(layout=True)

    @property
    def said(self) -> str:
        """What is shown, in one line of words."""
        return "; ".join(f"{one.name} {one.state}{_days(one.ahead)}" for one in self.items)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """The scale, and a line for each item."""
        return len(self.items) + 1

    def picture(self, width: int, height: int) -> Picture:
        """The scale of months, and the lines under it."""
        names = min(max((len(one.name) for one in self.items), default=0) + 2, width // 2)
        across = max(1, width - names - 1)
        canvas = Canvas(width, len(self.items) + 1)
        canvas.put(names + 1, 0, scale(self.today, across, self.weeks), "scale")
        for row, one in enumerate(self.items, 1):
            sign = SIGNS.get(one.state, " ")
            name = one.name if len(one.name) <= names - 2 else one.name[: names - 3] + "…"
            tone = TONES.get(one.state, "faint")
            canvas.put(0, row, sign, tone)
            canvas.put(2, row, name, "name")
            for x, mark in enumerate(time_line(one.ahead, one.state, self.today, across, self.weeks), names + 1):
                canvas.put(x, row, mark, "faint" if mark == drawing.EMPTY else tone)
        return canvas.picture()


def _days(ahead: Forecast | None) -> str:
    return f", likely {ahead.likely}" if ahead is not None and ahead.likely is not None else ""
