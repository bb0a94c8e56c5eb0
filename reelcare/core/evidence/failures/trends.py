"""Tests of a trend in the ages at which machines failed.

The rules of this file: the chance of as much without a trend, exact where it can be. Failures within the time watched
are looked at, wherever that began.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reelcare.core.evidence.distributions import NORMAL, chi_square_cdf
from reelcare.core.evidence.failures.counts import FailuresError, System, count_of
from reelcare.core.text import _, mark


@dataclass(frozen=True, slots=True)
class Trend:
    """One test of a trend: what it is called, its statistic, and the chance of as much without a trend (two-sided).
    `worse` says which way it points."""

    test: str
    statistic: float
    chance: float
    worse: bool

    @property
    def sure(self) -> bool:
        """Whether it is significant at 5 %."""
        return self.chance < 0.05


def laplace(systems: Sequence[System]) -> Trend:
    """Laplace's test: the mean age at failure against the middle of the watch; a failure that ended a watch is left
    out.

    >>> round(laplace([System((5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478), 1500)]).statistic, 9)
    -1.326949183
    """
    total = middle = spread = 0.0
    count = 0
    for one in systems:
        ages = one.before_the_end()
        total += sum(ages)
        middle += len(ages) * (one.since + one.watched) / 2
        spread += len(ages) * one.exposed**2 / 12
        count += len(ages)
    _enough(count)
    u = (total - middle) / math.sqrt(spread)
    return Trend("Laplace", u, 2 * NORMAL.cdf(-abs(u)), u > 0)


def _enough(count: int) -> None:
    if count < 2:
        raise FailuresError(
            _("{failures} in this period: two or more are needed for a trend", failures=count_of(count))
        )


def military(systems: Sequence[System]) -> Trend:
    """The test of MIL-HDBK-189: twice the sum of ln(watched / age) against chi-square; a failure that ended a watch is
    left out. Both count from where the watch began.

    >>> found = military([System((5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478), 1500)])
    >>> round(found.statistic, 7), round(found.chance / 2, 8)
    (37.2280815, 0.01098636)
    """
    count, logs = 0, 0.0
    for one in systems:
        ages = one.before_the_end()
        count += len(ages)
        logs += sum(math.log(one.exposed / (age - one.since)) for age in ages)
    _enough(count)
    statistic = 2 * logs
    below = chi_square_cdf(statistic, 2 * count)
    return Trend("MIL-HDBK-189", statistic, 2 * min(below, 1 - below), below < 0.5)


def reversals(system: System) -> Trend:
    """The reverse arrangement test on the gaps between the failures of one machine: pairs in which the later gap is the
    longer. Its chance is exact, from the number of permutations with so many reversals.

    >>> found = reversals(System((5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478), 1500))
    >>> found.statistic, round(found.chance / 2, 10)
    (33.0, 0.0362750772)
    """
    gaps = [
        after - before for before, after in zip((system.since, *system.failures[:-1]), system.failures, strict=True)
    ]
    if len(gaps) < 4:
        raise FailuresError(
            _("{failures}: four or more are needed for the reverse arrangement test", failures=count_of(len(gaps)))
        )
    count = sum(gaps[j] > gaps[i] for i in range(len(gaps)) for j in range(i + 1, len(gaps)))
    ways = [1]
    for size in range(2, len(gaps) + 1):
        longer = [0] * (len(ways) + size - 1)
        for place, many in enumerate(ways):
            for more in range(size):
                longer[place + more] += many
        ways = longer
    whole = sum(ways)
    above, below = sum(ways[count:]) / whole, sum(ways[: count + 1]) / whole
    return Trend(mark("reverse arrangements"), float(count), min(1.0, 2 * min(above, below)), above > below)
