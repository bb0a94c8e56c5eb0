"""The limits of a set on the screen: one bar for each, one upright line for all."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from reelcare.core.drawing import limits
from reelcare.core.drawing.canvas import Picture
from reelcare.core.drawing.limits import LimitBar
from reelcare.tui.widgets.drawings.drawn import Drawn


class LimitBars(Drawn):
    """One bar for each limit, as many as there is room for; `judge` shows others, and nothing around it moves."""

    LOOKS: ClassVar[dict[str, str]] = {
        limits.BAR: "water",
        limits.WORST: "ground",
        limits.LIMIT: "mark",
        limits.NAME: "part",
        limits.VALUE: "frame",
        limits.OVER: "bad",
    }
    DEFAULT_CSS = """
    LimitBars { width: 1fr; height: 9; }
    """

    bars: tuple[LimitBar, ...] = ()

    def judge(self, bars: Sequence[LimitBar]) -> None:
        """Show other limits, the first ones where there is no room for all."""
        changed, self.bars = tuple(bars) != self.bars, tuple(bars)
        if changed:
            self.draw_again()

    def picture(self, width: int, height: int) -> Picture:
        """The bars."""
        return limits.draw(self.bars[: max(1, height)], width=width)
