"""When a growing sum passes a threshold: closed forms for the work of the days to come on one scale.

The rules of this file: work done only grows, so the chance that a threshold is reached by a day is exactly the
chance that the work by then is at or beyond it. Mean and variance of that work follow from the pace; its skewness
is that of the Panjer class with runs as lumps, (2 variance / mean - lump) / standard deviation, which is exact for
runs on random days (binomial), Poisson runs, clustered runs (negative binomial), gamma sums (lump 0), and Poisson
runs of gamma-distributed size. With the three, chances and quantiles are those of a Pearson type III distribution
by E. B. Wilson and M. M. Hilferty (Proc. Natl. Acad. Sci. 17, 1931, 684-688).
"""

from __future__ import annotations

import math
from bisect import bisect_left
from itertools import accumulate
from statistics import NormalDist

from reelcare.core.forecast.usage_rate import LASTS, YEAR_OFF, Pace

HORIZON = 3 * 366
"""Days of the season beyond which no day is named."""
Z90 = NormalDist().inv_cdf(0.9)
WANTED = (-Z90, 0.0, Z90)
"""The normal deviates of 10, 50 and 90 %."""
FAR = 9.0
"""Standard deviations that stand for certainty."""
_STRIDE = 1.5
_NODES = (0.0, *(0.5 * _STRIDE**number for number in range(round(math.log(HORIZON / 0.5, _STRIDE)))), float(HORIZON))
"""Days at which the quantiles are worked out; between them they are as good as straight."""


def reached(left: float, mean: float, variance: float, lump: float) -> float:
    """How many normal standard deviations the sum lies beyond `left`: the chance is the normal distribution's of it.

    Poisson runs at 1.5 a day are fifty by the thirtieth day with a chance of 0.2468 (gamma distribution; the half
    run is taken off because runs are whole):

    >>> round(NormalDist().cdf(reached(49.5, 45, 45, 1)), 3)
    0.247
    """
    if variance <= 0:
        return FAR if mean >= left * (1 - 1e-12) else -FAR
    deviation = math.sqrt(variance)
    skewness = (2 * variance / mean - lump) / deviation
    apart = (left - mean) / deviation
    if -1e-4 < skewness < 1e-4:
        return -apart
    return 6 / skewness * (1 - math.cbrt(1 + skewness * apart / 2)) - skewness / 6


def amounts(mean: float, variance: float, lump: float) -> tuple[float, float, float]:
    """What the sum is at or beyond with 10, 50 and 90 %: `reached` turned round.

    >>> [round(reached(one, 45, 60, 1), 3) for one in amounts(45, 60, 1)] == [round(one, 3) for one in WANTED]
    True
    """
    if variance <= 0 or mean <= 0:
        return mean, mean, mean
    deviation = math.sqrt(variance)
    skewness = (2 * variance / mean - lump) / deviation
    if -1e-4 < skewness < 1e-4:
        return mean + Z90 * deviation, mean, mean - Z90 * deviation
    sixth, scale = skewness / 6, 2 * deviation / skewness
    base = 1 - sixth * sixth
    wide = sixth * Z90
    return (
        mean + scale * ((base + wide) ** 3 - 1),
        mean + scale * (base**3 - 1),
        mean + scale * ((base - wide) ** 3 - 1),
    )


class Ahead:
    """The work of the days of the season to come on one scale: mean, variance and quantiles of its sum.

    Without a level and without doubt they are those of a sum of days:

    >>> even = Pace((5, 5, 5), (0, 0, 0), (36, 36, 36), (1, 1, 1), 0, (0, 0, 0), (1, 1, 1))
    >>> Ahead(even, 0).sum(20)
    (100.0, 720.0)
    """

    __slots__ = (
        "_amounts", "_both", "_doubt", "_gain", "_level", "_mean", "_rest", "_swing", "_white", "_year", "lump",
    )  # fmt: skip

    def __init__(self, pace: Pace, scale: int) -> None:
        mean = pace.mean[scale]
        square = mean * mean
        of_mean, of_both, of_level = pace.doubt
        self._mean, self._white, self._gain = mean, pace.white[scale], pace.level[scale] * LASTS
        self._doubt, self._both = square * of_mean, 2 * square * of_both * LASTS
        self._level, self._swing = square * of_level * LASTS * LASTS, square * pace.level_variance * LASTS
        self._year = square * YEAR_OFF**2
        self._rest = math.inf if pace.rest is None else pace.rest
        self.lump = pace.lump[scale]
        self._amounts = self._worked_out()

    def sum(self, days: float) -> tuple[float, float]:
        """Mean and variance of the work of so many days: those of a mean-reverting level, summed.

        What is not known of mean and level goes with them.
        """
        now = days if days < self._rest else self._rest
        faded = math.exp(-now / LASTS)
        part = 1 - faded
        variance = (
            (self._white + days * self._doubt) * days
            + (days * self._both + part * self._level) * part
            + self._swing * (2 * now - LASTS * part * (3 - faded))
        )
        if now < days:
            # another season: a level of which nothing is known, and another year's mean
            then = days - now
            variance += 2 * self._swing * (then - LASTS * (1 - math.exp(-then / LASTS))) + self._year * then * then
        return self._mean * days + self._gain * part, variance

    def _worked_out(self) -> tuple[list[float], list[float], list[float]]:
        """The quantiles at the nodes, each growing."""
        nothing = (0.0, 0.0, 0.0)
        at_nodes = [nothing, *(amounts(*self.sum(days), self.lump) for days in _NODES[1:])]
        low, middle, high = (list(accumulate(quantile, max)) for quantile in zip(*at_nodes, strict=True))
        return low, middle, high

    def reaching(self, amount: float, place: int) -> float | None:
        """The days after which the amount is reached with 10, 50 or 90 % (place 0, 1, 2); None beyond the horizon."""
        kept = self._amounts[place]
        node = bisect_left(kept, amount)
        if node >= len(kept):
            return None
        before, after = kept[node - 1], kept[node]
        return _NODES[node - 1] + (amount - before) / (after - before) * (_NODES[node] - _NODES[node - 1])


def ahead(pace: Pace, scale: int) -> Ahead:
    """The work to come on a scale, worked out once for all items of a machine."""
    made = pace.kept.get(scale)
    if made is None:
        made = pace.kept[scale] = Ahead(pace, scale)
    return made


class Course:
    """The work to come on one scale, against what is left on it."""

    __slots__ = ("_ahead", "left", "scale")

    def __init__(self, pace: Pace, scale: int, left: int) -> None:
        self.scale = scale
        # runs are whole: half a one is the continuity correction
        self.left = left - 0.5 if scale == 2 else float(left)
        self._ahead = ahead(pace, scale)

    def at(self, days: float) -> float:
        """How many standard deviations the work of so many days of the season lies beyond what is left."""
        return reached(self.left, *self._ahead.sum(days), self._ahead.lump)

    def day(self, place: int) -> float | None:
        """The days by which it has passed with 10, 50 or 90 %."""
        return self._ahead.reaching(self.left, place)
