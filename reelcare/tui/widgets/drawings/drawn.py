"""The base of our drawings: a picture of the core in colours, and words under it.

The rules of this file: a sub-class says which picture fits a size, which words stand under it, and what each tag
looks like; it never draws cells itself. A drawing is made once for a size and a theme, and kept.
"""

from __future__ import annotations

from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from reelcare.core.drawing.canvas import Picture
from reelcare.tui.text import fit, plain
from reelcare.tui.widgets.inputs.kept_lines import KeptLines


class Drawn(KeptLines):
    """A picture with words under it."""

    LOOKS: ClassVar[dict[str, str]] = {}
    """The component class (after `drawn--`) of each tag; tags that are missing look like `part`."""
    COMPONENT_CLASSES: ClassVar[set[str]] = {
        f"drawn--{look}"
        for look in ("frame", "part", "ground", "water", "lit", "mark", "good", "warning", "bad", "caption", "said")
    }
    DEFAULT_CSS = """
    Drawn {
        background: $background;
        color: $foreground;
        & .drawn--frame { color: $foreground; }
        & .drawn--part { color: $foreground; }
        & .drawn--ground { color: $text-muted; }
        & .drawn--water { color: $text-primary; }
        & .drawn--lit { color: $text-accent; background: $chosen; text-style: bold; }
        & .drawn--mark { color: $text-accent; text-style: bold; }
        & .drawn--good { color: $text-success; }
        & .drawn--warning { color: $text-warning; text-style: bold; }
        & .drawn--bad { color: $text-error; text-style: bold; }
        & .drawn--caption { color: $foreground; text-style: bold; }
        & .drawn--said { color: $text-muted; }
    }
    """

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._looks: dict[str, Style] = {}

    def picture(self, width: int, height: int) -> Picture:
        """The picture for a width and a height in cells."""
        raise NotImplementedError

    def words(self, room: int) -> list[tuple[str, str]]:
        """Lines under the picture with their looks; those beyond the room are not seen."""
        return []

    def notify_style_update(self) -> None:
        """Draw again in the new colours."""
        super().notify_style_update()
        self._looks.clear()

    def _drawn(self) -> list[Strip]:
        width, height = self.size
        picture = self.picture(width, height)
        left = max(0, (width - picture.width) // 2)
        base = self.rich_style
        styles: dict[tuple[str, bool], Style] = {("", False): base, ("", True): base}
        strips = []
        for y in range(picture.height):
            pieces = [Segment(" " * left, base)]
            for text, tag, lit in picture.runs(y):
                style = styles.get((tag, lit))
                if style is None:
                    style = styles[tag, lit] = self._style(tag, lit)
                pieces.append(Segment(plain(text), style))
            strips.append(Strip(pieces).adjust_cell_length(width, base))
        room = max(height - picture.height, 0)
        for text, look in self.words(room)[:room]:
            strips.append(Strip([Segment(fit(plain(text), width), self._look(look))]))
        return [*strips, *[Strip.blank(width, base)] * (height - len(strips))]

    def _style(self, tag: str, lit: bool) -> Style:
        look = self.LOOKS.get(tag, "part")
        return self._look("lit" if lit and look in ("frame", "part", "ground", "water") else look)

    def _look(self, look: str) -> Style:
        """A style of ours; worked out once for as long as the theme stays."""
        found = self._looks.get(look)
        if found is None:
            found = self._looks[look] = self.get_component_rich_style(f"drawn--{look}")
        return found
