"""The detail pane beside a list: lines of text in a room of a fixed size, which follow its cursor."""

from __future__ import annotations

from textual.content import Content
from textual.selection import Selection
from textual.strip import Strip
from textual.visual import Visual

from reelcare.tui.widgets.inputs.kept_lines import KeptLines


class DetailPanel(KeptLines):
    """Lines of text; `tell` says which."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._content = Content("")

    def tell(self, content: Content) -> None:
        """Show this text; the lines that are the same are not drawn again."""
        self._content = content
        self.draw_again()

    def render(self) -> Content:
        """The text, for whoever asks for all of it."""
        return self._content

    def selection_updated(self, selection: Selection | None) -> None:
        """Draw anew what is marked with the mouse."""
        self._strips = None
        super().selection_updated(selection)

    def _drawn(self) -> list[Strip]:
        return Visual.to_strips(self, self._content, self.size.width, self.size.height, self.visual_style)
