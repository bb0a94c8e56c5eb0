"""Spans of one figure from its likelihood, which small samples keep honest where normal errors do not.

The rules of this file: the end of a span is where the likelihood has fallen by so many standard deviations of its
signed root. Few failures shift and widen that root; who asks says by how much.
"""

from __future__ import annotations

import math
from collections.abc import Callable

FARTHEST = 60.0
"""How far an end is looked for at most, in powers of e."""
LEAST, MOST = 0.01, 1e4
"""Figures between which the top of a likelihood is looked for."""


def span(likely: Callable[[float], float], best: float, below: float, above: float) -> tuple[float, float]:
    """Where a log-likelihood of a figure above nothing has fallen `below` and `above` standard deviations from its best
    value; 0 and infinite where it never does.

    >>> low, high = span(lambda rate: 10 * math.log(rate) - rate, 10.0, 1.96, 1.96)
    >>> round(low, 3), round(high, 3)
    (5.011, 17.54)
    """
    top = likely(best)
    return _end(likely, best, top - below * below / 2, -1), _end(likely, best, top - above * above / 2, 1)


def _end(likely: Callable[[float], float], best: float, wanted: float, way: int) -> float:
    def fallen(far: float) -> float:
        return wanted - likely(best * math.exp(way * far))

    near, far = 0.0, 0.5
    while fallen(far) < 0:
        near, far = far, 2 * far
        if far > FARTHEST:
            return 0.0 if way < 0 else math.inf
    return best * math.exp(way * root(fallen, near, far, 1e-12))


def top(rising: Callable[[float], float]) -> float | None:
    """Where a likelihood of a figure is at its top: a rising function of the figure passes nothing; None where it does
    not between 0.01 and 10,000.

    >>> round(top(lambda shape: shape - 2), 12)
    2.0
    """
    low, high = LEAST, 1.0
    if rising(low) >= 0:
        return None
    while rising(high) < 0:
        low, high = high, 2 * high
        if high > MOST:
            return None
    return root(rising, low, high, 1e-14 * high)


def root(rising: Callable[[float], float], low: float, high: float, near: float) -> float:
    """Where a function passes nothing between two places, the second of which is not below it; as near as asked.

    Secants of the bracket, the end that stays weighed half (the Illinois rule: Dowell & Jarratt 1971, BIT 11:168-174),
    and halves where three of them did not halve the bracket.

    >>> round(root(lambda x: x**3 - 2, 0, 2, 1e-14), 12)
    1.259921049895
    """
    below, above = rising(low), rising(high)
    width, side, steps = high - low, 0, 0
    while high - low > near and steps < 200:
        steps += 1
        middle = (low * above - high * below) / (above - below) if math.isfinite(above - below) else math.nan
        if steps % 4 == 0:
            if high - low > width / 2:
                middle = math.nan
            width = high - low
        if not low < middle < high:
            middle = (low + high) / 2
        value = rising(middle)
        if value == 0 or middle in (low, high):
            return middle
        if value < 0:
            low, below, above = middle, value, above / 2 if side < 0 else above
            side = -1
        else:
            high, above, below = middle, value, below / 2 if side > 0 else below
            side = 1
    return (low + high) / 2
