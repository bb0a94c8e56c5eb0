"""Lines of text that have the screen laid out again only where they take more or less room than before."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.widgets import Static

from reelcare.tui.text import lines


class GrowingText(Static):
    """Text as high as its lines, or always as high as its style says where it does not grow."""

    _high = -1

    def __init__(self, *, id: str | None = None, grows: bool = True) -> None:
        super().__init__(id=id)
        self._grows = grows

    def show(self, told: Sequence[Content]) -> None:
        """Show other lines."""
        if not self._grows:
            self.update(lines(*told), layout=False)
            return
        room = self.content_size.width or 1
        high = sum(-(-one.cell_length // room) for one in told)
        self.update(lines(*told), layout=self._high != high)
        self._high = high
