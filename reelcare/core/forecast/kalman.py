"""What is known of a machine's pace, followed through its weeks by a Kalman filter.

The rules of this file: five states, the mean pace, the heights of three waves over the season, and the present level
(R. E. Kalman, J. Basic Eng. 82, 1960, 35-45). Their covariance is kept as parts of the mean squared, and is the
same for seconds, millimetres and runs, so that all three share one gain.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from reelcare.core.forecast.seasonal_profile import YEAR_APART, Matrix, Prior, Triple
from reelcare.core.forecast.weeks import NEW_SEASON, UsageWeek

LASTS = 18.0
"""Days of the season over which a level fades to 1/e: weeks, as spells of weather and stops last."""
YEAR_OFF = 0.15
"""How far the mean pace of a year differs from that of the year before, as a part of it (one standard deviation)."""
CARD_OFF = 0.35
"""How far the real use differs from the year's use on the card, as a part of it (one standard deviation)."""
WORK_OFF = 1.0
"""The same for the mean of the first weeks, where the card says nothing."""


class PaceFilter:
    """The filter: estimates of mean, waves and level on three scales (`states`), and their covariance (`doubt`)."""

    def __init__(self, begin: Triple, prior: Prior, off: float, level_variance: float) -> None:
        self.states = [[one, *(one * height for height in prior.heights), 0.0] for one in begin]
        self._level_variance = level_variance
        self.doubt: Matrix = [[0.0] * 5 for _ in range(5)]
        self._scaled(off * off, prior.heights)
        for wave in range(3):
            self.doubt[wave + 1][wave + 1] += prior.variances[wave]
        self.doubt[4][4] = level_variance

    def _scaled(self, variance: float, heights: Sequence[float]) -> None:
        """Add the variance of a mean that may be off, and of its waves with it."""
        parts = (1.0, *heights)
        for row, one in zip(self.doubt, parts, strict=False):
            for place, other in enumerate(parts):
                row[place] += variance * one * other

    def predict(self, days: float, heights: Sequence[float], *, other_year: bool = True) -> None:
        """Predict over a number of days: the level fades, and after a long rest it is that of another year."""
        faded = 0.0 if days > NEW_SEASON else math.exp(-days / LASTS)
        for state in self.states:
            state[4] *= faded
        doubt = self.doubt
        for place in range(4):
            doubt[place][4] *= faded
            doubt[4][place] *= faded
        doubt[4][4] = self._level_variance + faded * faded * (doubt[4][4] - self._level_variance)
        if days > NEW_SEASON and other_year:
            self._scaled(YEAR_OFF**2, heights)
            for wave, off in enumerate(YEAR_APART, 1):
                doubt[wave][wave] += off * off

    def update(self, week: UsageWeek, weight: float, noise: float) -> None:
        """Update by one week: `weight` of its mean day, `noise` the variance of a day as a part of the mean squared."""
        a, b, c = week.waves
        doubt = self.doubt
        along = [row[0] + row[1] * a + row[2] * b + row[3] * c + row[4] * weight for row in doubt]
        told = along[0] + along[1] * a + along[2] * b + along[3] * c + along[4] * weight + noise * weight / week.days
        p, q, r, s, t = along
        for row, part in zip(doubt, along, strict=True):
            one = part / told
            row[0] -= one * p
            row[1] -= one * q
            row[2] -= one * r
            row[3] -= one * s
            row[4] -= one * t
        for state, done in zip(self.states, week.sums, strict=True):
            m, x, y, z, level = state
            off = (done / week.days - m - x * a - y * b - z * c - level * weight) / told
            state[:] = m + p * off, x + q * off, y + r * off, z + s * off, level + t * off
