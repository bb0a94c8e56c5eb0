"""The shape of a machine's season: when in it much is done and when little, and how little is known of that.

The rules of this file: a shape is 1 plus cosine waves over the season (no wave adds work, it only moves it), and the
heights of the waves are uncertain: what the machine's own seasons say is drawn towards a prior (W. James and C. Stein,
Proc. 4th Berkeley Symp. 1, 1961, 361-379). The prior is a usual season, or what neighbours at the same place tell of
theirs (partial pooling: D. V. Lindley and A. F. M. Smith, J. R. Statist. Soc. B 34, 1972, 1-41). The figures in
capitals are common practice, no source: they were chosen on simulated seasons, and `tests/bench_evidence.py` measures
what they hold on others.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from reelcare.core.forecast.season import span_of
from reelcare.core.machine.card import Season

Triple = tuple[float, float, float]
NOTHING: Triple = (0.0, 0.0, 0.0)
Matrix = list[list[float]]

USUAL = (-0.04, -0.13, 0.0)
"""Heights of a season of which nothing else is known: it begins and ends slowly."""
APART = (0.4, 0.29, 0.15)
"""How far machines of different places are off it (one standard deviation)."""
AT_ONE_PLACE = (0.2, 0.17, 0.12)
"""How far machines of one place are off each other."""
YEAR_APART = (0.1, 0.08, 0.06)
"""How far the shape of one year is off the last one's."""
LEAST = 0.1
"""The least weight of a day."""
WEEK_NOISE = 0.75
"""The variance of a week that tells nothing of the shape, in parts of the mean squared: spells last for weeks."""


class Prior(NamedTuple):
    """What is taken of the heights before the machine's own work is looked at: mean and variance of each."""

    heights: Triple = USUAL
    variances: Triple = (APART[0] ** 2, APART[1] ** 2, APART[2] ** 2)


USUAL_PRIOR = Prior()


class Learnt(NamedTuple):
    """What a machine's own work says of the heights: the likeliest with the prior, and by itself with its precision."""

    heights: Triple
    own: Triple
    precisions: Triple


def waves_at(season: Season, day: float) -> Triple:
    """The waves on a day (number) of the season, each between -1 and 1; nothing where there is no season.

    >>> waves_at(Season(), 5), [round(one, 2) for one in waves_at(Season("01-01", "12-31"), 738156)]
    ((0.0, 0.0, 0.0), [1.0, 1.0, 1.0])
    """
    if season.opens is None or season.closes is None:
        return NOTHING
    return _waves(season.opens, season.closes, int(day))


@lru_cache(maxsize=16384)  # machines of one yard share their seasons and their weeks
def _waves(opens: str, closes: str, day: int) -> Triple:
    first, last = span_of(Season(opens, closes), day)
    at = min(max((day + 0.5 - first) / (last - first + 1), 0.0), 1.0) * math.pi
    return math.cos(at), math.cos(2 * at), math.cos(3 * at)


def weight(heights: Sequence[float], waves: Sequence[float]) -> float:
    """What a day weighs against the mean day of the season.

    >>> weight((0.5, 0.0, 0.0), (1.0, 1.0, 1.0)), weight((-2.0, 0.0, 0.0), (1.0, 1.0, 1.0))
    (1.5, 0.1)
    """
    found = 1 + heights[0] * waves[0] + heights[1] * waves[1] + heights[2] * waves[2]
    return found if found > LEAST else LEAST


Worked = tuple[Triple, float, float]
"""The waves in the middle of a week, its days of the season, and what was done in it."""


def learn(weeks: Sequence[Worked], prior: Prior = USUAL_PRIOR) -> Learnt:
    """What weeks of work say of the heights, their mean unknown too: least squares with the prior."""
    days = sum(week[1] for week in weeks)
    done = sum(week[2] for week in weeks)
    if days <= 0 or done <= 0:
        return Learnt(prior.heights, NOTHING, NOTHING)
    mean = done / days
    # normal equations of the level and three heights, in parts of the mean of the weeks
    sums = [[0.0] * 4 for _ in range(4)]
    right = [0.0] * 4
    first, second, third, fourth = sums
    for (a, b, c), long, worked in weeks:
        told = long / (7 * WEEK_NOISE)
        by_a, by_b, by_c = told * a, told * b, told * c
        first[0] += told
        first[1] += by_a
        first[2] += by_b
        first[3] += by_c
        second[1] += by_a * a
        second[2] += by_a * b
        second[3] += by_a * c
        third[2] += by_b * b
        third[3] += by_b * c
        fourth[3] += by_c * c
        off = worked / (long * mean)
        right[0] += told * off
        right[1] += by_a * off
        right[2] += by_b * off
        right[3] += by_c * off
    for i in range(3):
        sums[i + 1][i + 1] += 1 / prior.variances[i]
        right[i + 1] += prior.heights[i] / prior.variances[i]
    found, spread = _solved(sums, right)
    level = max(found[0], 0.2)
    heights, own, precisions = [], [], []
    for i in range(3):
        height = found[i + 1] / level
        sure = max(1 / spread[i + 1] - 1 / prior.variances[i], 0.0)
        heights.append(height)
        precisions.append(sure)
        own.append(
            (found[i + 1] / spread[i + 1] - prior.heights[i] / prior.variances[i]) / sure if sure > 1e-9 else 0.0
        )
    return Learnt(_triple(heights), _triple(own), _triple(precisions))


def _triple(found: Sequence[float]) -> Triple:
    return found[0], found[1], found[2]


def _solved(upper: Matrix, right: Sequence[float]) -> tuple[list[float], list[float]]:
    """The solution of four equations whose matrix is symmetric (its upper half is read), and the diagonal of its
    inverse, by elimination."""
    size = len(right)
    rows = [
        [upper[min(i, j)][max(i, j)] for j in range(size)] + [right[i]] + [float(i == j) for j in range(size)]
        for i in range(size)
    ]
    for i in range(size):
        pivot = rows[i][i]
        rows[i] = [one / pivot for one in rows[i]]
        for j in range(size):
            if j != i and rows[j][i]:
                factor = rows[j][i]
                rows[j] = [one - factor * other for one, other in zip(rows[j], rows[i], strict=True)]
    return [row[size] for row in rows], [rows[i][size + 1 + i] for i in range(size)]


class Neighbours:
    """What the machines of one place say of the shape that they have in common, and how far one is off it.

    Neighbours that tell nothing leave the usual prior:

    >>> nothing = Learnt(USUAL, (0.0, 0.0, 0.0), (0.0, 0.0, 0.0))
    >>> Neighbours({"a": nothing, "b": nothing}).prior("a") == USUAL_PRIOR
    True
    """

    def __init__(self, learnt: Mapping[str, Learnt]) -> None:
        self._own = {machine: [_told(one, wave) for wave in range(3)] for machine, one in learnt.items()}
        self._sums = [
            (sum(own[wave][0] for own in self._own.values()), sum(own[wave][1] for own in self._own.values()))
            for wave in range(3)
        ]

    def prior(self, machine: str) -> Prior:
        """The prior that the others make for a machine: what it says itself is left out."""
        heights, variances = [], []
        for wave, (all_sure, all_told) in enumerate(self._sums):
            sure, told = self._own[machine][wave] if machine in self._own else (0.0, 0.0)
            if all_sure - sure < 1e-9:
                return USUAL_PRIOR
            common = APART[wave] ** 2 - AT_ONE_PLACE[wave] ** 2
            precision = 1 / common + all_sure - sure
            heights.append((USUAL[wave] / common + all_told - told) / precision)
            variances.append(AT_ONE_PLACE[wave] ** 2 + 1 / precision)
        return Prior(_triple(heights), _triple(variances))


def _told(one: Learnt, wave: int) -> tuple[float, float]:
    """The precision of the common height that one machine tells, and that times its height."""
    sure = one.precisions[wave]
    sure = 1 / (AT_ONE_PLACE[wave] ** 2 + 1 / sure) if sure > 1e-9 else 0.0
    return sure, sure * one.own[wave]
