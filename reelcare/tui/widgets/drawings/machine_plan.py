"""The machine in plan on the screen: its own equipment, positions as they are, the lit part, and the walk.

The rules of this file: what is drawn, and the words under it, come from `core/drawing`; here they only get their
looks. The lit part has another ground, is bold and has a mark beside it, so that it is found without colour.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import ClassVar

from reelcare.core.drawing import machine as drawing
from reelcare.core.drawing import words
from reelcare.core.drawing.canvas import Picture
from reelcare.core.drawing.machine import WalkRoute
from reelcare.core.machine.card import Card
from reelcare.tui.theme import SIGNS
from reelcare.tui.widgets.drawings.drawn import Drawn

CAPTION = 2
"""Lines of words under the picture."""


class MachinePlan(Drawn):
    """A machine in plan. 34 x 16 cells are enough; from 60 x 26 on it is drawn larger, with all positions told.

    `light` says what is shown.
    """

    LOOKS: ClassVar[dict[str, str]] = {
        "site": "ground",
        "tractor": "ground",
        "chassis": "frame",
        "turntable": "frame",
        "drum": "frame",
        "hose": "water",
        "water": "water",
        drawing.BEHIND: "ground",
        drawing.AHEAD: "good",
        drawing.HERE: "mark",
        drawing.MARK: "mark",
        drawing.UNKNOWN: "warning",
    }
    DEFAULT_CSS = """
    MachinePlan { width: 34; height: 16; }
    """

    def __init__(self, card: Card) -> None:
        super().__init__()
        self.card = card
        self._lit = ""
        self._positions: Mapping[str, str] = {}
        self._walk: WalkRoute | None = None

    def light(self, part: str, positions: Mapping[str, str], walk: WalkRoute | None = None) -> None:
        """Light one part ('' for none), with the positions as they are known now, and the walk.

        A position that is missing is shown as not known; without any, nothing is said about positions.
        """
        self._lit = part
        self._positions = positions
        self._walk = walk
        self.draw_again()

    def picture(self, width: int, height: int) -> Picture:
        """The machine, leaving room for two lines of words."""
        return drawing.draw(
            self.card,
            self._positions or drawing.FOR_THE_ROAD,
            lit=self._lit,
            name=words.part(self._lit) if self._lit else "",
            walk=self._walk,
            width=width,
            height=height - CAPTION,
        )

    def words(self, room: int) -> list[tuple[str, str]]:
        """The lit part, the walk, and all positions where there is room for all."""
        left = words.left_of(self._walk) if self._walk is not None and self._walk.parts else ""
        lines = [(text, "caption") for text in self._wrapped(self._caption(), room - (1 if left else 0))]
        every = words.every_position(self.card, self._positions) if self._positions else []
        if left:
            # all positions go before the whole of what is left
            beside = room - len(lines) - len(every)
            lines += [(text, "said") for text in self._wrapped(left, beside if beside > 0 else room - len(lines))]
        if room >= len(lines) + len(every):
            lines += [("", "said")] if room > len(lines) + len(every) and every else []
            lines += [(f"  {text}", "said" if known else "warning") for text, known in every]
        return lines

    def _wrapped(self, text: str, most: int) -> list[str]:
        """A text in lines of this width; where there is no room for all, the rest stands in the last of them."""
        found = textwrap.wrap(text, max(self.size.width, 8))
        last = max(1, most) - 1
        return found if len(found) <= last + 1 else [*found[:last], " ".join(found[last:])]

    def _caption(self) -> str:
        """The lit part with how it stands, or where it is."""
        if not self._lit:
            return ""
        how = words.positions_of(self._lit, self.card, self._positions) if self._positions else []
        place = words.place_of(self._lit)
        return f"{SIGNS['lit']} {words.part(self._lit)}: {', '.join(how) or place}"
