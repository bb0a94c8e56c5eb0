"""The machine in plan on the screen: its own equipment, positions as they are, the lit part, and the walk.

The rules of this file: what is drawn, and the words under it, come from `core/drawing`; here they only get
their colours. The lit part is reversed, bold and marked, so that it is found without colour.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip
from textual.widget import Widget

from reelcare.core.drawing import machine as drawing
from reelcare.core.drawing import words
from reelcare.core.drawing.canvas import Picture
from reelcare.core.drawing.machine import Equipment, Walk, equipment
from reelcare.core.machine.card import Card
from reelcare.core.wording import said
from reelcare.tui.text import fit, plain
from reelcare.tui.theme import SIGNS

__all__ = ["Equipment", "MachinePlan", "Walk"]

CAPTION = 2
"""Lines of words under the picture."""
_GROUND = {"site": "ground", "tractor": "ground", "chassis": "frame", "turntable": "frame", "drum": "frame"}
_OWN = {"hose", "water", "behind", "ahead", "numbered", "here", "mark", "unknown"}


class MachinePlan(Widget):
    """A machine in plan. 34 x 16 cells are enough; from 60 x 26 on it is drawn larger, with all positions
    told.

    `light` says what is shown; `said` is the same in one line of words.
    """

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        f"machine-plan--{name}"
        for name in ("frame", "part", "ground", "lit", "caption", "known", *_OWN)
    }  # fmt: skip
    DEFAULT_CSS = """
    MachinePlan {
        width: 34;
        height: 16;
        background: $background;
        color: $foreground;
        & .machine-plan--frame { color: $foreground; }
        & .machine-plan--part { color: $text-secondary; }
        & .machine-plan--ground { color: $text-muted; }
        & .machine-plan--hose { color: $text-primary; }
        & .machine-plan--water { color: $text-primary; text-style: bold; }
        & .machine-plan--lit { color: $text-accent; background: $accent 30%; text-style: bold; }
        & .machine-plan--mark { color: $text-accent; text-style: bold; }
        & .machine-plan--here { color: $text-accent; text-style: bold; }
        & .machine-plan--numbered { color: $text-accent; }
        & .machine-plan--ahead { color: $text-success; }
        & .machine-plan--behind { color: $text-muted; }
        & .machine-plan--unknown { color: $text-warning; text-style: bold; }
        & .machine-plan--caption { color: $foreground; text-style: bold; }
        & .machine-plan--known { color: $text-muted; }
    }
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
        self._positions: Mapping[str, str] = drawing.FOR_THE_ROAD
        self._walk: Walk | None = None
        self._strips: list[Strip] | None = None

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
        self._strips = None
        self.refresh()

    @property
    def said(self) -> str:
        """What is shown, in one line of words."""
        return words.in_words(self.machine, self._positions, lit=self._lit, walk=self._walk, language=self.language)

    @property
    def picture(self) -> Picture:
        """The picture at the present size."""
        return drawing.draw(
            self.machine,
            self._positions or drawing.FOR_THE_ROAD,
            lit=self._lit,
            walk=self._walk,
            width=self.size.width,
            height=self.size.height - CAPTION,
        )

    def on_resize(self) -> None:
        """Draw anew at the new size."""
        self._strips = None

    def notify_style_update(self) -> None:
        """Draw anew in the new colours."""
        super().notify_style_update()
        self._strips = None

    def render_line(self, y: int) -> Strip:
        """One line of the picture, or of the words under it."""
        if self._strips is None:
            self._strips = self._drawn()
        return self._strips[y] if y < len(self._strips) else Strip.blank(self.size.width, self.rich_style)

    def _drawn(self) -> list[Strip]:
        picture, width, base = self.picture, self.size.width, self.rich_style
        left = max(0, (width - picture.width) // 2)
        strips = []
        for y in range(picture.height):
            pieces = [Segment(" " * left, base)]
            pieces += [Segment(text, self._style(tag, lit, base)) for text, tag, lit in picture.runs(y)]
            strips.append(Strip(pieces).adjust_cell_length(width, base))
        for text, name in self._lines(self.size.height - picture.height):
            style = base + self.get_component_rich_style(f"machine-plan--{name}", partial=True)
            strips.append(Strip([Segment(fit(plain(text), width), style)]))
        return strips

    def _style(self, tag: str, lit: bool, base: Style) -> Style:
        if not tag:
            return base
        name = tag if tag in _OWN else _GROUND.get(tag, "part")
        if lit and tag not in _OWN - {"hose"}:
            name = "lit"
        return base + self.get_component_rich_style(f"machine-plan--{name}", partial=name != "lit")

    def _lines(self, room: int) -> list[tuple[str, str]]:
        """The words under the picture, as many as there is room for."""
        lines: list[tuple[str, str]] = []
        if self._lit:
            how = ", ".join(words.positions_of(self._lit, self.machine, self._positions, self.language))
            name = words.part(self._lit, self.language)
            place = said(words.PLACES.get(self._lit, {"en": ""}), self.language)
            lines.append((f"{SIGNS['lit']} {name}: {how or place}", "caption"))
        if self._walk is not None and self._walk.parts:
            lines.append((words.left_of(self._walk, self.language), "known"))
        every = words.every_position(self.machine, self._positions, self.language) if self._positions else []
        if room >= len(lines) + 1 + len(every):
            lines.append(("", "known"))
            lines += [(f"  {text}", "known" if known else "unknown") for text, known in every]
        return lines[: max(0, room)]
