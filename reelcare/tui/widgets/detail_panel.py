"""The detail pane beside a list: lines of text in a room of a fixed size, which follow its cursor."""

from __future__ import annotations

from rich.cells import cell_len
from rich.segment import Segment
from textual.content import Content
from textual.selection import Selection
from textual.strip import Strip
from textual.visual import Visual

from reelcare.tui.text import cut
from reelcare.tui.widgets.inputs.kept_lines import KeptLines

MORE = "…"
"""The sign that there is more than there is room for."""


class DetailPanel(KeptLines):
    """Lines of text; `tell` says which."""

    _content = Content("")

    def tell(self, content: Content) -> None:
        """Show this text; the lines that are the same are not drawn again."""
        self._content = content
        self.draw_again()

    def render(self) -> Content:
        """The text, for whoever asks for all of it."""
        return self._content

    def selection_updated(self, selection: Selection | None) -> None:
        """Draw again what is marked with the mouse."""
        self._strips = None
        super().selection_updated(selection)

    def _drawn(self) -> list[Strip]:
        width, height = self.size
        strips = Visual.to_strips(self, self._content, width, None, self.visual_style)
        if 0 < height < len(strips):
            strips[height - 1] = self._goes_on(strips[height - 1], width)
        return strips[:height]

    def _goes_on(self, last: Strip, width: int) -> Strip:
        """The last line that has room, with the sign that the text goes on."""
        text, room = last.text.rstrip(), max(width - 2, 0)
        if cell_len(text) > room:  # no word is cut, but where one alone fills the line
            shown = cut(text, room)
            text = shown.rpartition(" ")[0] or shown
        written = cell_len(text)
        sign = Strip([Segment(" " + MORE, self.rich_style)])
        return Strip.join([last.crop(0, written), sign]).adjust_cell_length(width, self.rich_style)
