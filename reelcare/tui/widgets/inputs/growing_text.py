"""Lines of text that have the screen laid out anew only where they take more or less room than before."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.widgets import Static

from reelcare.tui.text import lines


class GrowingText(Static):
    """Text as high as its lines."""

    _high = -1

    def show(self, told: Sequence[Content]) -> None:
        """Show other lines."""
        room = self.content_size.width or 1
        high = sum(-(-one.cell_length // room) for one in told)
        self.update(lines(*told), layout=self._high != high)
        self._high = high
