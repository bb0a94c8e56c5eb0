"""The shape of a machine's season, learnt from its seasons before: when in it much is done, and when little.

The rules of this file: a season is cut into stretches of equal length. How busy each was in seasons past is drawn
towards the average by as much as chance alone would make it differ (W. James and C. Stein, Proc. 4th Berkeley
Symp. 1, 1961, 361-379), so that a machine without a shape gets none. Days are then counted by their weight.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from datetime import date
from functools import lru_cache

from reelcare.core.forecast.season import span_of, spans_from
from reelcare.core.machine.card import Season

STRETCHES = 8
USUAL = (0.75, 0.95, 1.05, 1.1, 1.1, 1.1, 1.05, 0.9)
"""Of a season of which nothing else is known: it begins and ends slowly (common practice, no source)."""
LEAST = 0.15
"""The weight of a stretch at the least."""
SEASONS_AHEAD = 2
"""For how many seasons the shape is counted out; after these days weigh 1."""

Shape = tuple[float, ...]
Worked = tuple[int, float, float]
"""The middle of a week (day number), its days of the season, and what was done in it."""


def stretch(season: Season, day: int) -> int:
    """Which stretch of its season a day (number) lies in; the nearest where it lies outside."""
    return _stretch(season.opens, season.closes, day)


@lru_cache(maxsize=16384)  # machines of one yard share their seasons and their weeks
def _stretch(opens: str | None, closes: str | None, day: int) -> int:
    first, last = span_of(Season(opens, closes), day)
    return min(max((day - first) * STRETCHES // (last - first + 1), 0), STRETCHES - 1)


def learn(season: Season, weeks: Sequence[Worked], by_chance: float) -> Shape:
    """The weights of the stretches, about 1 on the average: the usual ones, drawn towards the machine's own.

    `by_chance` is the variance that a stretch of as many days as there are on average would show by chance, as a
    part of the mean squared.
    """
    days, done = [0.0] * STRETCHES, [0.0] * STRETCHES
    for middle, length, worked in weeks:
        place = stretch(season, middle)
        days[place] += length
        done[place] += worked
    total = sum(days)
    if total <= 0 or sum(done) <= 0:
        return USUAL
    mean = sum(done) / sum(long * usual for long, usual in zip(days, USUAL, strict=True))
    off = [one / long / mean - usual if long else 0.0 for one, long, usual in zip(done, days, USUAL, strict=True)]
    differ = sum(long * one * one for one, long in zip(off, days, strict=True)) / total
    kept = max(1 - by_chance / differ, 0.0) if differ > 0 else 0.0
    return tuple(max(usual + kept * one, LEAST) for one, usual in zip(off, USUAL, strict=True))


class Weighed:
    """The days of the season from tomorrow on, counted by their weight."""

    def __init__(self, season: Season, shape: Shape, today: date) -> None:
        self._ends, self._sums, self._slopes = [0.0], [0.0], []
        for opens, closes in spans_from(season, today, SEASONS_AHEAD):
            length = closes - opens + 1
            begins = max(opens, today.toordinal() + 1)
            for number, weight in enumerate(shape):
                ends = opens + (number + 1) * length / STRETCHES
                days = ends - max(begins, opens + number * length / STRETCHES)
                if days > 0:
                    self._slopes.append(weight)
                    self._ends.append(self._ends[-1] + days)
                    self._sums.append(self._sums[-1] + days * weight)
        self._slopes.append(1.0)

    def __call__(self, days: float) -> float:
        """What so many days weigh."""
        place = bisect_right(self._ends, days) - 1
        return self._sums[place] + (days - self._ends[place]) * self._slopes[place]

    def days(self, weight: float) -> float:
        """How many days weigh so much."""
        place = bisect_right(self._sums, weight) - 1
        return self._ends[place] + (weight - self._sums[place]) / self._slopes[place]
