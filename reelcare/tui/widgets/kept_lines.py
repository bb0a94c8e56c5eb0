"""The base of what draws all of its lines at once and keeps them.

The rules of this file: when something else is to be shown, only the lines that look otherwise are drawn, and the layout
is left alone. So what is drawn has the size that the style sheet gives it.
"""

from __future__ import annotations

from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget


class KeptLines(Widget):
    """A widget whose lines are kept until they look otherwise; a sub-class says what they are."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._strips: list[Strip] | None = None
        self._drawn_for = Size(0, 0)

    def _drawn(self) -> list[Strip]:
        """All lines in the size as it is."""
        raise NotImplementedError

    def draw_again(self) -> None:
        """What is shown has changed: the lines that look otherwise now are drawn."""
        before = self._strips
        if before is None or self._drawn_for != self.size:
            self._strips = None
            self.refresh()
            return
        self._strips = now = self._drawn()
        for y in range(max(len(before), len(now))):
            if before[y : y + 1] != now[y : y + 1]:
                self.refresh(Region(0, y, self.size.width, 1))

    def notify_style_update(self) -> None:
        """Draw anew in the new colours."""
        super().notify_style_update()
        self._strips = None

    def render_line(self, y: int) -> Strip:
        """One of the lines, or a blank one under them."""
        if self._strips is None or self._drawn_for != self.size:
            self._drawn_for = self.size
            self._strips = self._drawn()
        return self._strips[y] if y < len(self._strips) else Strip.blank(self.size.width, self.rich_style)
