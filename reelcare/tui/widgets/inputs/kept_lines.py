"""The base of what draws all of its lines at once and keeps them.

The rules of this file: when something else is to be shown, only the lines that look otherwise are drawn, and the layout
is left alone. So what is drawn has the size that the style sheet gives it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget


class KeptLines(Widget):
    """A widget whose lines are kept until they look otherwise; a sub-class says what they are."""

    _strips: list[Strip] | None = None
    _drawn_for = Size(0, 0)

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
        other = [y for y in range(max(len(before), len(now))) if before[y : y + 1] != now[y : y + 1]]
        if other:
            self.refresh(*(Region(0, first, self.size.width, many) for first, many in _together(other)))

    def notify_style_update(self) -> None:
        """Draw again in the new colours."""
        super().notify_style_update()
        self._strips = None

    def render_line(self, y: int) -> Strip:
        """One of the lines, or a blank one under them."""
        if self._strips is None or self._drawn_for != self.size:
            self._drawn_for = self.size
            self._strips = self._drawn()
        return self._strips[y] if y < len(self._strips) else Strip.blank(self.size.width, self.rich_style)


def _together(rows: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Rows that follow one another, as the first one and how many they are: each region costs the framework as much.

    >>> list(_together([1, 2, 3, 7, 9, 10]))
    [(1, 3), (7, 1), (9, 2)]
    """
    for _, stretch in groupby(enumerate(rows), key=lambda one: one[1] - one[0]):
        found = [row for _, row in stretch]
        yield found[0], len(found)
