"""What is usual in a signal, learnt from good runs: level, spread, and the correlation of one run with the run before.

The rules of this file: first runs are screened by median and MAD, so that a strange run does not set what is usual.
A reading is no finer than its gauge: the spread is a third of a step at the least (rounding alone makes 0.29 of one).
Runs that follow each other are correlated, as field, wind and operator are; a first-order autoregression is estimated,
and shrunk towards none while the runs are few. The figures in capitals are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from copy import copy
from itertools import pairwise
from statistics import fmean, median

from reelcare.core.evidence.distributions import normal_score

LEARNT = 12
"""The fewest good runs to learn from before a signal is watched."""
ENOUGH = 6.0
"""The fewest independent runs that these must be worth."""
KEPT = 12
"""The weight, in runs, of the level before a service in the level after it."""
MOST = 60
"""The most runs to learn from, so that what is usual does not follow a slow drift for ever."""
STRANGE = 4.0
"""The normal score beyond which a single run counts as misread or mistyped, and is not learnt from."""
GOES_WITH_RUNS = 3.0
"""The weight, in runs, of the prior that runs are not correlated."""
CAREFUL, DOUBT = 0.8, 0.3
"""How many standard errors the correlation is taken higher, and by how much limits widen with it: one false alarm then
comes in no fewer than 400 runs while the correlation is not well known (chosen on simulated runs,
`tests/bench_evidence.py`)."""
MOST_WITH = 0.92
"""The greatest correlation of one run with the next that is taken."""
WAITS = 10
"""How many of the newest runs are left out of the estimate of correlation, so that a drift not yet found is not taken
for correlation."""
MAD_TO_SIGMA = 1.482602218505602


def inliers(values: Sequence[float], least: float = 0.0) -> list[int]:
    """The indexes of the values that are no outliers, by median and MAD; `least` is the smallest spread that the gauge
    can show.

    >>> inliers([1.0, 1.1, 0.9, 1.0, 9.0, 1.05]), inliers([4.0, 4.0, 4.1, 4.0, 4.0], 0.1 / 3)
    ([0, 1, 2, 3, 5], [0, 1, 2, 3, 4])
    """
    middle = median(values)
    spread = max(MAD_TO_SIGMA * median(abs(one - middle) for one in values), least)
    if spread == 0:
        return [place for place, one in enumerate(values) if one == middle]
    return [place for place, one in enumerate(values) if abs(one - middle) <= STRANGE * spread]


class Baseline:
    """Level, spread and correlation of good runs; the spread may rest on more runs than the level."""

    def __init__(self, values: Sequence[float], least: float = 0.0) -> None:
        self.count = len(values)
        self.mean = fmean(values)
        self._least = least
        self._squares = sum((one - self.mean) ** 2 for one in values)
        self._freedom = len(values) - 1
        self._run = list(values)  # good runs in turn, those of before the last service too
        self._told = 0
        self.correlation = 0.0
        self._correlate()

    @property
    def spread(self) -> float:
        """Standard deviation of a run; a third of a step of the gauge at the least."""
        return max(math.sqrt(self._squares / self._freedom), self._least)

    @property
    def widening(self) -> float:
        """The factor by which the mean of many runs scatters more than that of independent runs."""
        return math.sqrt((1 + self.correlation) / (1 - self.correlation))

    @property
    def enough(self) -> bool:
        """Whether there are enough runs, counted as independent ones."""
        return self.count >= ENOUGH * self.widening**2

    def _correlate(self) -> None:
        """Estimate the correlation of a run with the run before, from all but the newest."""
        told = self._run[: max(len(self._run) - WAITS, LEARNT)]
        if len(told) == self._told or self._freedom < 1:
            return
        self._told = len(told)
        mean, square = fmean(told), self.spread**2
        if square <= 0:
            return
        offs = [one - mean for one in told]
        both = sum(a * b for a, b in pairwise(offs)) / square
        own = sum(one * one for one in offs[1:]) / square
        found = both / (max(own, 1e-9) + GOES_WITH_RUNS)
        # the mean was taken from the same runs, which hides a part of it (M. G. Kendall, Biometrika 41, 1954, 403-404)
        weight = len(told) + GOES_WITH_RUNS
        found += (1 + 3 * found) / weight
        found += CAREFUL * max(found, 0.0) * math.sqrt(max(1 - found * found, 0.0) / weight)
        self.correlation = min(max(found, 0.0), MOST_WITH)

    def less_sure(self) -> Baseline:
        """A copy whose level weighs less, since a service may have moved it."""
        other = copy(self)
        other._run = list(self._run)
        other.count = min(self.count, KEPT)
        return other

    def add(self, value: float) -> None:
        """Learn from one more good run."""
        self.count += 1
        self._freedom += 1
        off = value - self.mean
        self.mean += off / self.count
        self._squares += off * (value - self.mean)
        self._run.append(value)
        self._correlate()

    def fits(self, values: Sequence[float]) -> bool:
        """Whether values of a new stretch can have this level."""
        error = self.spread * self.widening * math.sqrt(1 / len(values) + 1 / min(self.count, KEPT))
        return abs(fmean(values) - self.mean) <= 3 * error

    def score(self, value: float, before: float | None) -> float:
        """The normal score of a run, less what the run before it predicts (None: there is none)."""
        spread, correlation = self.spread, self.correlation if before is not None else 0.0
        off = value - self.mean
        if before is not None:
            off -= correlation * max(min(before - self.mean, STRANGE * spread), -STRANGE * spread)
        error = spread * math.sqrt((1 - correlation * correlation) * (1 + 1 / self.count)) * (1 + DOUBT * correlation)
        return normal_score(off / error, self._freedom)
