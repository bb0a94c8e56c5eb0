"""The scale of a reading on the screen: where right lies, what must never be, and what is typed."""

from __future__ import annotations

from typing import ClassVar

from reelcare.core.checks.reading_scale import ReadingScale
from reelcare.core.drawing import limits
from reelcare.core.drawing.canvas import Picture
from reelcare.tui.widgets.drawings.drawn import Drawn


class ScaleLine(Drawn):
    """Three rows: figures, the line with its limits, what is read. Nothing where nothing limits the reading."""

    LOOKS: ClassVar[dict[str, str]] = {
        limits.NAME: "ground",
        limits.RIGHT: "good",
        limits.NEVER: "bad",
        limits.READ: "mark",
        limits.WRONG: "bad",
    }
    DEFAULT_CSS = """
    ScaleLine { width: 1fr; height: 3; max-width: 60; }
    """

    scale: ReadingScale | None = None

    def read(self, scale: ReadingScale | None) -> None:
        """Show a scale; None hides it."""
        self.display = scale is not None
        changed, self.scale = scale != self.scale, scale
        if changed:
            self.draw_again()

    def picture(self, width: int, height: int) -> Picture:
        """The scale."""
        return limits.draw_scale(self.scale or ReadingScale(""), width=width)
