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

from reelcare.core.forecast.days_ahead import sums_ahead
from reelcare.core.forecast.seasonal_profile import NOTHING
from reelcare.core.forecast.usage_rate import Pace

Z90 = NormalDist().inv_cdf(0.9)
WANTED = (-Z90, 0.0, Z90)
"""The normal deviates of 10, 50 and 90 %."""
FAR = 9.0
"""Standard deviations that stand for certainty."""


def normal_deviate(left: float, mean: float, variance: float, lump: float) -> float:
    """The standard normal deviate z of the chance that the sum is at least `left`: that chance is the normal CDF of z.

    Poisson runs at 1.5 a day are fifty by the thirtieth day with a chance of 0.2468 (gamma distribution; the half
    run is taken off because runs are whole):

    >>> round(NormalDist().cdf(normal_deviate(49.5, 45, 45, 1)), 3)
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


def amount_quantiles(mean: float, variance: float, lump: float) -> tuple[float, float, float]:
    """The amounts that the sum reaches with a chance of 10, 50 and 90 %: the inverse of `normal_deviate`.

    >>> found = [normal_deviate(one, 45, 60, 1) for one in amount_quantiles(45, 60, 1)]
    >>> [round(one, 3) for one in found] == [round(one, 3) for one in WANTED]
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

    >>> even = Pace((5, 5, 5), (36, 36, 36), (1, 1, 1), (1, 1, 1))
    >>> Ahead(even, 0).sum(20)
    (100.0, 720.0)
    """

    __slots__ = ("_amounts", "_means", "_nodes", "_variances", "lump")

    def __init__(self, pace: Pace, scale: int) -> None:
        self.lump = pace.lump[scale]
        self._nodes, self._means, self._variances = sums_ahead(pace, scale)
        self._amounts = self._worked_out()

    def sum(self, days: float) -> tuple[float, float]:
        """Mean and variance of the work of a number of days of the season, interpolated between two nodes."""
        node = bisect_left(self._nodes, days, 1, len(self._nodes) - 1)
        before = self._nodes[node - 1]
        part = (days - before) / (self._nodes[node] - before)
        mean, variance = self._means[node - 1], self._variances[node - 1]
        return mean + part * (self._means[node] - mean), variance + part * (self._variances[node] - variance)

    def _worked_out(self) -> tuple[list[float], list[float], list[float]]:
        """The quantiles at the nodes, each growing."""
        lump = self.lump
        sums = zip(self._means[1:], self._variances[1:], strict=True)
        at_nodes = [NOTHING, *(amount_quantiles(mean, variance, lump) for mean, variance in sums)]
        low, middle, high = (list(accumulate(quantile, max)) for quantile in zip(*at_nodes, strict=True))
        return low, middle, high

    def reaching(self, amount: float, place: int) -> float | None:
        """The days after which the amount is reached with 10, 50 or 90 % (place 0, 1, 2); None beyond the horizon."""
        kept = self._amounts[place]
        node = bisect_left(kept, amount)
        if node >= len(kept):
            return None
        before, after = kept[node - 1], kept[node]
        here = self._nodes[node - 1]
        return here + (amount - before) / (after - before) * (self._nodes[node] - here)


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
        """How many standard deviations the work of a number of days of the season lies beyond what is left."""
        return normal_deviate(self.left, *self._ahead.sum(days), self._ahead.lump)

    def day(self, place: int) -> float | None:
        """The days by which it has passed with 10, 50 or 90 %."""
        return self._ahead.reaching(self.left, place)
