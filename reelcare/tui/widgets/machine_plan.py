"""The machine in plan on the screen: its own equipment, positions as they are, the lit part, and the walk.

The rules of this file: what is drawn, and the words under it, come from `core/drawing`; here they only get their
looks. The lit part has another ground, is bold and has a mark beside it, so that it is found without colour.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import ClassVar

from textual.strip import Strip

from reelcare.core.drawing import machine as drawing
from reelcare.core.drawing import words
from reelcare.core.drawing.canvas import Picture
from reelcare.core.drawing.machine import Equipment, Walk, equipment
from reelcare.core.machine.card import Card
from reelcare.core.wording import said
from reelcare.tui.theme import SIGNS
from reelcare.tui.widgets.drawn import Drawn

__all__ = ["Equipment", "MachinePlan", "Walk"]

CAPTION = 2
"""Lines of words under the picture."""
KEPT = 32
"""So many pictures are kept as they were drawn."""


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
        drawing.NUMBERED: "mark",
        drawing.HERE: "mark",
        drawing.MARK: "mark",
        drawing.UNKNOWN: "heed",
    }
    DEFAULT_CSS = """
    MachinePlan { width: 34; height: 16; }
    """

    def __init__(
        self,
        machine: Card | Equipment,
        *,
        language: str = "en",
        id: str | None = None,
        classes: str | None = None,
    ) -> None:
        super().__init__(id=id, classes=classes)
        self.machine = machine if isinstance(machine, Equipment) else equipment(machine)
        self.language = language
        self._lit = ""
        self._positions: Mapping[str, str] = {}
        self._walk: Walk | None = None
        self._told: object = None
        """What was drawn last: the same is not drawn again."""
        self._kept: list[tuple[object, list[Strip]]] = []
        """Pictures with what they tell, the last one at the end: a machine that comes again is not drawn again."""

    def light(
        self,
        part: str,
        positions: Mapping[str, str],
        walk: Walk | None = None,
        *,
        language: str = "",
    ) -> None:
        """Light one part ('' for none), with the positions as they are known now, and the walk.

        A position that is missing is shown as not known; without any, nothing is said about positions.
        """
        self._lit = part
        self._positions = positions
        self._walk = walk
        self.language = language or self.language
        told = (self.machine, part, dict(positions), walk, self.language)
        if told != self._told:
            self._told = told
            self.draw_again()

    def notify_style_update(self) -> None:
        """No picture is kept in the old colours."""
        super().notify_style_update()
        self._kept.clear()

    def _drawn(self) -> list[Strip]:
        if self._told is None:
            return super()._drawn()
        what = (self.size, self._told)
        found = next((strips for told, strips in self._kept if told == what), None)
        if found is None:
            found = super()._drawn()
            self._kept = [*self._kept[1 - KEPT :], (what, found)]
        return found

    @property
    def said(self) -> str:
        """What is shown, in one line of words."""
        return words.in_words(self.machine, self._positions, lit=self._lit, walk=self._walk, language=self.language)

    def picture(self, width: int, height: int) -> Picture:
        """The machine, leaving room for two lines of words."""
        return drawing.draw(
            self.machine,
            self._positions or drawing.FOR_THE_ROAD,
            lit=self._lit,
            walk=self._walk,
            width=width,
            height=height - CAPTION,
        )

    def words(self, room: int) -> list[tuple[str, str]]:
        """The lit part, the walk, and all positions where there is room for all."""
        left = words.left_of(self._walk, self.language) if self._walk is not None and self._walk.parts else ""
        caption = textwrap.wrap(self._caption(), max(self.size.width, 8))
        most = max(1, room - (1 if left else 0))
        if len(caption) > most:
            caption = [*caption[: most - 1], " ".join(caption[most - 1 :])]
        lines = [(text, "caption") for text in caption]
        if left:
            lines.append((left, "said"))
        every = words.every_position(self.machine, self._positions, self.language) if self._positions else []
        if room >= len(lines) + len(every):
            lines += [("", "said")] if room > len(lines) + len(every) and every else []
            lines += [(f"  {text}", "said" if known else "heed") for text, known in every]
        return lines[: max(0, room)]

    def _caption(self) -> str:
        """The lit part with how it stands, or where it is."""
        if not self._lit:
            return ""
        how = words.positions_of(self._lit, self.machine, self._positions, self.language) if self._positions else []
        place = said(words.PLACES.get(self._lit, {"en": ""}), self.language)
        return f"{SIGNS['lit']} {words.part(self._lit, self.language)}: {', '.join(how) or place}"
