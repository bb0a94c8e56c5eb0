"""Columns in a given width: which are shown, and how wide each is.

The rules of this file: pure. The least important columns go first; what is left over goes to those that grow;
where even the most important do not fit, the widest of them shrink, down to their least width.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from reelcare.core.wording import cells

GAP = 2
"""Blanks between two columns."""
LEAST = 4


class Column(NamedTuple):
    """A column.

    head: what stands over it; width: the cells it needs; weight: how important it is (1 is kept longest);
    grows: whether it takes what is left; right: whether its cells stand at its right edge; least: to how few
    cells it may shrink before a more important column goes (0: not at all).
    """

    head: str
    width: int
    weight: int = 1
    grows: bool = False
    right: bool = False
    least: int = 0


class Placed(NamedTuple):
    """A column that is shown: its place in the row of cells, where it begins, and how wide it is."""

    place: int
    x: int
    width: int


def widened(columns: Iterable[Column], texts: Mapping[str, Iterable[str]]) -> list[Column]:
    """The columns, those of these heads at least as wide as what stands in them: it is longer in some languages.

    >>> [one.width for one in widened((Column("every", 3), Column("what", 9)), {"every": ("50 h", "12 meses")})]
    [8, 9]
    """
    return [one._replace(width=max(one.width, *map(cells, texts.get(one.head, ())), 0)) for one in columns]


def fit(columns: Sequence[Column], width: int) -> tuple[Placed, ...]:
    """The columns that fit into `width` cells, in their own order, the gap before each counted.

    >>> fit((Column("tag", 6), Column("what", 10, 1, True), Column("by", 8, 3)), 24)
    (Placed(place=0, x=0, width=6), Placed(place=1, x=8, width=16))
    """
    order = sorted(range(len(columns)), key=lambda place: (columns[place].weight, place))
    kept: list[int] = []
    for place in order:
        if kept and _least([columns[one] for one in [*kept, place]]) > width:
            continue
        kept.append(place)
    kept.sort()
    sizes = _shrunk([columns[place] for place in kept], width)
    _grow([columns[place] for place in kept], sizes, width)
    placed, x = [], 0
    for place, size in zip(kept, sizes, strict=True):
        placed.append(Placed(place, x, size))
        x += size + GAP
    return tuple(placed)


def _least(columns: Sequence[Column]) -> int:
    return sum(min(one.width, one.least or one.width) for one in columns) + GAP * (len(columns) - 1)


def _shrunk(columns: Sequence[Column], width: int) -> list[int]:
    sizes = [one.width for one in columns]
    over = sum(sizes) + GAP * (len(sizes) - 1) - width
    floors = [min(one.width, one.least or one.width) for one in columns]
    if sum(floors) + GAP * (len(floors) - 1) > width:
        floors = [min(LEAST, one) for one in floors]
    while over > 0:
        widest = max(range(len(sizes)), key=lambda place: (sizes[place] - floors[place], -place), default=-1)
        if widest < 0 or sizes[widest] <= floors[widest]:
            break
        sizes[widest] -= 1
        over -= 1
    return sizes


def _grow(columns: Sequence[Column], sizes: list[int], width: int) -> None:
    spare = width - sum(sizes) - GAP * (len(sizes) - 1)
    growing = [place for place, one in enumerate(columns) if one.grows]
    for number, place in enumerate(growing):
        if spare > 0:
            sizes[place] += spare // len(growing) + (1 if number < spare % len(growing) else 0)
