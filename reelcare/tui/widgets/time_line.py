"""Time as a line: weeks across from today, the spread of a forecast, overdue at the left edge."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import ClassVar, NamedTuple

from textual.geometry import Size

from reelcare.core.drawing import weeks as drawing
from reelcare.core.drawing.canvas import Canvas, Picture
from reelcare.core.drawing.weeks import WEEKS, scale
from reelcare.core.upkeep.forecast import Forecast
from reelcare.tui.theme import SIGNS, TONES
from reelcare.tui.widgets.drawn import Drawn

__all__ = ["TimeItem", "TimeLine", "scale", "time_line"]


def time_line(ahead: Forecast | None, state: str, today: date, width: int, weeks: int = WEEKS) -> str:
    """One item's line, for a cell of a list: `Cell("", tone, lambda width: time_line(..., width))`.

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
            canvas.put(names + 1, row, time_line(one.ahead, one.state, self.today, across, self.weeks), tone)
        return canvas.picture()


def _days(ahead: Forecast | None) -> str:
    return f", likely {ahead.likely}" if ahead is not None and ahead.likely is not None else ""
