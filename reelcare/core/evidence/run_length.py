"""Average run lengths of control charts, from which their limits come: computed, never read off a table.

The rules of this file: observations are independent and standard normal but for a shift (in standard deviations). The
integral equation of a chart is solved by Gauss and Legendre's rule. A run length is the number of observations until
the first one beyond a limit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache

from reelcare.core.evidence.failures.likelihood import root

Row = list[float]
NODES = 30
"""Nodes of a rule, where the kernel is not narrow."""
NODES_FOR_WIDTH = 5
"""Nodes for each width of the EWMA's kernel between middle and limit: run lengths hold to 1e-6 with as many."""


@lru_cache(maxsize=32)
def gauss_legendre(count: int) -> tuple[tuple[float, float], ...]:
    """Nodes and weights on -1 to 1, by Newton's method on the Legendre polynomial.

    >>> [round(one, 6) for one in gauss_legendre(2)[1]]
    [0.57735, 1.0]
    """
    found = []
    for number in range(count):
        x = -math.cos(math.pi * (number + 0.75) / (count + 0.5))
        slope = 1.0
        for _ in range(100):
            before, here = 1.0, x
            for degree in range(2, count + 1):
                before, here = here, ((2 * degree - 1) * x * here - (degree - 1) * before) / degree
            slope = count * (x * here - before) / (x * x - 1)
            step = here / slope
            x -= step
            if abs(step) < 1e-15:
                break
        found.append((x, 2 / ((1 - x * x) * slope * slope)))
    return tuple(found)


def solve(matrix: Sequence[Row], right: Row) -> Row:
    """The solution of a linear system, by elimination with the largest pivot.

    >>> solve([[2.0, 1.0], [1.0, 3.0]], [3.0, 5.0])
    [0.8, 1.4]
    """
    rows = [[*row, one] for row, one in zip(matrix, right, strict=True)]
    size = len(rows)
    for place in range(size):
        best = max(range(place, size), key=lambda row: abs(rows[row][place]))
        rows[place], rows[best] = rows[best], rows[place]
        pivot = rows[place]
        top = pivot[place]
        for below in range(place + 1, size):
            factor = rows[below][place] / top
            if factor:
                row = rows[below]
                for column in range(place + 1, size + 1):
                    row[column] -= factor * pivot[column]
    found = [0.0] * size
    for place in range(size - 1, -1, -1):
        row = rows[place]
        rest = sum(row[column] * found[column] for column in range(place + 1, size))
        found[place] = (row[size] - rest) / row[place]
    return found


def _density(x: float) -> float:
    return math.exp(-x * x / 2) / math.sqrt(2 * math.pi)


def _below(x: float) -> float:
    return 0.5 * math.erfc(-x / math.sqrt(2))


def ewma(weight: float, limit: float, shift: float = 0.0) -> float:
    """Average run length of a two-sided EWMA with fixed limits of `limit` standard deviations of the average.

    The integral equation of Crowder 1987, Technometrics 29:401; a small weight makes its kernel narrow, and takes more
    nodes than is usual.

    >>> round(ewma(0.25, 3, 1), 9)
    11.154267016
    """
    edge = limit * math.sqrt(weight / (2 - weight))
    nodes = max(NODES, math.ceil(NODES_FOR_WIDTH * edge / weight))
    points = [(edge * x, edge * w) for x, w in gauss_legendre(nodes)]

    def row(at: float) -> Row:
        return [w / weight * _density((y - (1 - weight) * at) / weight - shift) for y, w in points]

    matrix = [[(1.0 if i == j else 0.0) - one for j, one in enumerate(row(y))] for i, (y, _) in enumerate(points)]
    lengths = solve(matrix, [1.0] * nodes)
    return 1 + sum(one * length for one, length in zip(row(0.0), lengths, strict=True))


def cusum_one_sided(reference: float, decision: float, shift: float = 0.0, start: float = 0.0) -> float:
    """Average run length of an upper CUSUM with reference value k and decision value h, from a head start.

    Integral equation with its mass at nothing (Page 1954, Biometrika 41:100).

    >>> round(cusum_one_sided(0.5, 3, 0.5), 2)
    17.35
    """
    half = decision / 2
    points = [(half + half * x, half * w) for x, w in gauss_legendre(NODES)]

    def row(at: float) -> Row:
        first = _below(reference - at - shift)
        return [first, *(w * _density(y + reference - at - shift) for y, w in points)]

    places = [0.0, *(y for y, _ in points)]
    matrix = [[(1.0 if i == j else 0.0) - one for j, one in enumerate(row(at))] for i, at in enumerate(places)]
    lengths = solve(matrix, [1.0] * len(places))
    return 1 + sum(one * length for one, length in zip(row(start), lengths, strict=True))


def cusum(reference: float, decision: float, shift: float = 0.0, start: float = 0.0) -> float:
    """Average run length of a two-sided CUSUM, both sides with the same head start.

    From the one-sided ones (Lucas & Crosier 1982, Technometrics 24:199).

    >>> [round(cusum(0.5, 4, shift, start), 1) for shift, start in ((0, 0), (1, 0), (1, 2))]
    [167.7, 8.4, 5.3]
    """
    up, down = (cusum_one_sided(reference, decision, sign * shift) for sign in (1, -1))
    if not start:
        return up * down / (up + down)
    up_ahead, down_ahead = (cusum_one_sided(reference, decision, sign * shift, start) for sign in (1, -1))
    return (up_ahead * down + down_ahead * up - up * down) / (up + down)


def _limit(rising: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function of a limit passes nothing, looked for from one limit to another and beyond."""
    while rising(high) < 0:
        low, high = high, 1.5 * high
    return root(rising, low, high, 1e-9)


@lru_cache(maxsize=64)
def ewma_limit(weight: float, run_length: float) -> float:
    """The limit of a two-sided EWMA that has an in-control run length.

    >>> round(ewma_limit(0.5, 500), 3), round(ewma_limit(0.03, 500), 3)
    (3.071, 2.437)
    """
    return _limit(lambda limit: ewma(weight, limit) / run_length - 1, 0.5, 4.0)


@lru_cache(maxsize=64)
def cusum_limit(reference: float, run_length: float, *, ahead: float = 0.0) -> float:
    """The decision value of a two-sided CUSUM that has an in-control run length, from a head start of so much of it.

    >>> round(cusum_limit(0.5, 168), 2), round(cusum_limit(0.5, 149, ahead=0.5), 2)
    (4.0, 4.0)
    """
    return _limit(lambda limit: cusum(reference, limit, 0.0, ahead * limit) / run_length - 1, 0.5, 6.0)
