"""The drum in section on the screen: which coils are on it, which are out, and those that must stay."""

from __future__ import annotations

import textwrap
from typing import ClassVar

from reelcare.core.drawing import section
from reelcare.core.drawing.canvas import Picture
from reelcare.core.drawing.section import Wound
from reelcare.tui.widgets.drawings.drawn import Drawn


class DrumSection(Drawn):
    """The drum cut through its axis; `wind` shows another drum or other coils on it."""

    LOOKS: ClassVar[dict[str, str]] = {
        "drum": "frame",
        "axle": "ground",
        section.ON: "water",
        section.OFF: "ground",
        section.KEEP: "good",
        section.LEAVING: "mark",
    }
    DEFAULT_CSS = """
    DrumSection { width: 1fr; height: 12; }
    """

    def __init__(self, wound: Wound, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.wound = wound

    def wind(self, wound: Wound) -> None:
        """Show other coils, or another drum."""
        self.wound = wound
        self.draw_again()

    def picture(self, width: int, height: int) -> Picture:
        """The section, leaving room for its words."""
        return section.draw(self.wound, width=width, height=max(2, height - len(self.words(height))))

    def words(self, room: int) -> list[tuple[str, str]]:
        """Coils, layer and coil; a warning where too few are left."""
        few = self.wound.coils_on < self.wound.least
        told = ("✗ " if few else "") + section.in_words(self.wound)
        return [(line, "bad" if few else "caption") for line in textwrap.wrap(told, max(self.size.width, 20))]
