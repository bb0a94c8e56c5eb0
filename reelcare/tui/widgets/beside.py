"""What is told beside a list: lines of text in a room of a fixed size, which follow its cursor.

The rules of this file: only the lines that look otherwise are drawn, and no new text ever changes the layout. So the
style sheet gives it its height.
"""

from __future__ import annotations

from textual.content import Content
from textual.geometry import Region, Size
from textual.selection import Selection
from textual.strip import Strip
from textual.visual import Visual
from textual.widget import Widget


class Beside(Widget):
    """Lines of text; `tell` says which."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._content = Content("")
        self._strips: list[Strip] | None = None
        self._drawn_for = Size(0, 0)

    def tell(self, content: Content) -> None:
        """Show this text; the lines that are the same are not drawn again."""
        before, self._content = self._strips, content
        if before is None or self._drawn_for != self.size:
            self._strips = None
            self.refresh()
            return
        self._strips = now = self._drawn()
        for y in range(max(len(before), len(now))):
            if before[y : y + 1] != now[y : y + 1]:
                self.refresh(Region(0, y, self.size.width, 1))

    def render(self) -> Content:
        """The text, for whoever asks for all of it."""
        return self._content

    def render_line(self, y: int) -> Strip:
        """One line of the text, or a blank one under it."""
        if self._strips is None or self._drawn_for != self.size:
            self._drawn_for = self.size
            self._strips = self._drawn()
        return self._strips[y] if y < len(self._strips) else self._blank()

    def notify_style_update(self) -> None:
        """Draw anew in the new colours."""
        super().notify_style_update()
        self._strips = None

    def selection_updated(self, selection: Selection | None) -> None:
        """Draw anew what is marked with the mouse."""
        self._strips = None
        super().selection_updated(selection)

    def _drawn(self) -> list[Strip]:
        return Visual.to_strips(self, self._content, self.size.width, self.size.height, self.visual_style)

    def _blank(self) -> Strip:
        return Strip.blank(self.size.width, self.visual_style.rich_style)
