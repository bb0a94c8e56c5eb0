"""Pressure down the line on the screen, from inlet to gun."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.geometry import Size

from reelcare.core.drawing import pressure
from reelcare.core.drawing.canvas import Picture
from reelcare.core.drawing.pressure import PressurePoint
from reelcare.core.units import System
from reelcare.tui.widgets.drawings.drawn import Drawn


class PressureLine(Drawn):
    """One bar for each place on the line; `flow` shows other pressures. As high as it has places."""

    LOOKS: ClassVar[dict[str, str]] = {
        pressure.BAR: "water",
        pressure.LOST: "ground",
        pressure.WANTED: "mark",
        pressure.NAME: "part",
        pressure.VALUE: "frame",
        pressure.WRONG: "bad",
        pressure.CHANGE: "ground",
    }
    DEFAULT_CSS = """
    PressureLine { width: 1fr; height: auto; }
    """

    places: Sequence[PressurePoint] = ()
    system: System = "metric"

    def flow(self, places: Sequence[PressurePoint], system: System) -> None:
        """Show other pressures."""
        higher = len(places) != len(self.places)
        self.places, self.system = places, system
        self.draw_again()
        if higher:
            self.refresh(layout=True)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """As many lines as there are places."""
        return max(1, len(self.places))

    def picture(self, width: int, height: int) -> Picture:
        """The bars."""
        return pressure.draw(self.places, width=width, system=self.system)
