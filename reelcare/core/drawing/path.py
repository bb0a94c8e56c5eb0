"""The way round a machine: from place to place on the ground that a person walks on, the shortest way.

The rules of this file: geometry of cells only. Steps go to the eight neighbours; with equal ways the first
found in reading order is taken, so that the same walk is always drawn the same.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable

Cell = tuple[int, int]
_STEPS = ((0, -1), (-1, 0), (1, 0), (0, 1), (-1, -1), (1, -1), (-1, 1), (1, 1))


def ground(pieces: Iterable[tuple[int, int, int, int]]) -> frozenset[Cell]:
    """The cells of straight pieces (x, y, to x, to y).

    >>> sorted(ground([(0, 0, 2, 0)]))
    [(0, 0), (1, 0), (2, 0)]
    """
    return frozenset(
        (x, y)
        for left, top, right, bottom in pieces
        for x in range(left, right + 1)
        for y in range(top, bottom + 1)
    )  # fmt: skip


def nearest(cells: Iterable[Cell], walkable: frozenset[Cell]) -> Cell:
    """The cell of the ground that is nearest to any of `cells`; a cell is twice as high as wide.

    >>> nearest([(1, 3)], frozenset({(0, 0), (1, 0)}))
    (1, 0)
    """
    aims = list(cells)

    def off(at: Cell) -> tuple[int, int, int]:
        return (min((at[0] - x) ** 2 + 4 * (at[1] - y) ** 2 for x, y in aims), at[1], at[0])

    return min(walkable, key=off)


def way(start: Cell, end: Cell, walkable: frozenset[Cell]) -> tuple[Cell, ...]:
    """The cells from start to end, both included; empty where there is no way.

    >>> way((0, 0), (2, 0), ground([(0, 0, 2, 0)]))
    ((0, 0), (1, 0), (2, 0))
    """
    came: dict[Cell, Cell] = {start: start}
    queue = deque([start])
    while queue:
        at = queue.popleft()
        if at == end:
            break
        for dx, dy in _STEPS:
            there = (at[0] + dx, at[1] + dy)
            if there in walkable and there not in came:
                came[there] = at
                queue.append(there)
    if end not in came:
        return ()
    cells = [end]
    while cells[-1] != start:
        cells.append(came[cells[-1]])
    return tuple(reversed(cells))
