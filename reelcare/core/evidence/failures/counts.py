"""How many failures there were, over machines watched from one age to another.

The rules of this file: a machine that came with hours was not watched before, so its watch begins there. Every figure
has a span that holds as often as it says, from few machines on; where nothing is known it is from nothing to infinite.
Times are in any one unit > 0.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reelcare.core.evidence.distributions import NORMAL, chi_square_quantile, student_t_quantile
from reelcare.core.text import _, localized, plural

FEW = 5
"""Failures below which an answer is told to rest on few."""


class FailuresError(ValueError):
    """Times that nothing can be told from; the message says what would be needed."""


def count_of(count: int) -> str:
    """So many failures, in words."""
    return plural("{n} failure", "{n} failures", count)


def about(value: float) -> str:
    """A figure as closely as failures tell it: two digits.

    >>> about(13357.2), about(392.0), about(2.04), about(0.31)
    ('13000', '390', '2', '0.31')
    """
    if not math.isfinite(value) or value == 0:
        return f"{value:g}"
    return localized(f"{float(f'{value:.1e}'):.15g}")


@dataclass(frozen=True, slots=True)
class System:
    """One machine: the ages at which it failed, and the ages from which and up to which it was watched."""

    failures: tuple[float, ...]
    watched: float
    since: float = 0.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.watched) and self.watched > 0):
            raise FailuresError(_("watched up to {watched:g}: must be above 0", watched=self.watched))
        if not 0 <= self.since < self.watched:
            raise FailuresError(_(
                "watched from {since:g}: must be 0 or more, and less than {watched:g}",
                since=self.since, watched=self.watched,
            ))  # fmt: skip
        if any(not (self.since < one <= self.watched) for one in self.failures):
            raise FailuresError(_("failures: each age is more than nothing, and within the time watched"))

    @property
    def exposed(self) -> float:
        """How long it was watched."""
        return self.watched - self.since

    @property
    def ended_by_failure(self) -> bool:
        """Whether the watch ended with a failure."""
        return bool(self.failures) and self.failures[-1] == self.watched

    def before_the_end(self) -> tuple[float, ...]:
        """The failures that tell of a trend: without the one that ended the watch, where one did.

        >>> System((5.0, 8.0), 12.0).before_the_end(), System((5.0, 8.0), 8.0).before_the_end()
        ((5.0, 8.0), (5.0,))
        """
        return self.failures[:-1] if self.ended_by_failure else self.failures


@dataclass(frozen=True, slots=True)
class Mean:
    """The mean number of failures of one machine up to an age, with its 95 % span; from nothing to infinite where it is
    not known."""

    age: float
    mean: float
    low: float
    high: float
    at_risk: int


LIKE_CHANCE = 3.0
"""The weight, in degrees of freedom, of the prior that machines differ by chance alone."""
LEAST_SCATTER = 0.7
"""The least ratio of the scatter between machines to that of chance that is taken: below it, machines would be taken as
more alike than chance makes them."""
BETWEEN = 0.4
"""What a count at an age lies between: just after a failure, and just before the next (0 and 1 are the exact ends)."""


def mean_cumulative(systems: Sequence[System]) -> list[Mean]:
    """The mean cumulative function over machines (Nelson 1995, Technometrics 37:147-157).

    Its span is that of a count that comes by chance (the gamma quantiles of Garwood 1936, Biometrika 28:437-442), wider
    as machines differ by more than chance; how they differ is drawn towards chance while they are few (as variances are
    in Smyth 2004, Stat. Appl. Genet. Mol. Biol. 3:3), which leaves Student's t with as many more degrees of freedom.
    The constants are chosen on simulated fleets (`tests/bench_evidence.py`). One machine alone shows nothing of it.

    >>> [(one.age, round(one.mean, 3)) for one in mean_cumulative([System((5.0, 8.0), 12.0), System((10.0,), 10.0)])]
    [(5.0, 0.5), (8.0, 1.0), (10.0, 1.5)]
    """
    if not systems:
        raise FailuresError(_("no machine was watched"))
    many = len(systems)
    mean, by_chance, found = 0.0, 0.0, []
    sums = [0.0] * many  # what each machine is off the mean so far, weighed by those at risk
    part = NORMAL.cdf(student_t_quantile((1 - 0.95) / 2, LIKE_CHANCE + many - 1))
    for age in sorted({age for one in systems for age in one.failures}):
        here = [place for place, one in enumerate(systems) if one.since < age <= one.watched]
        counts = {place: systems[place].failures.count(age) for place in here}
        step = sum(counts.values()) / len(here)
        mean += step
        by_chance += step / len(here)
        for place in here:
            sums[place] += (counts[place] - step) / len(here)
        if many < 2:
            found.append(Mean(age, mean, 0.0, math.inf, len(here)))
            continue
        seen = sum(one * one for one in sums) * many / (many - 1) / by_chance
        scatter = max((LIKE_CHANCE + (many - 1) * seen) / (LIKE_CHANCE + many - 1), LEAST_SCATTER)
        worth = mean * mean / (by_chance * scatter)  # so many failures by chance are as well known
        low, high = (
            chi_square_quantile(one, 2 * more) / 2 for one, more in ((part, worth), (1 - part, worth + BETWEEN))
        )
        found.append(Mean(age, mean, mean * low / worth, mean * high / worth, len(here)))
    return found


def mean_time_span(total: float, failures: int, confidence: float = 0.9) -> tuple[float, float]:
    """Two-sided span of the mean time between failures, where the watch ended at a time; without failures only the
    lower end is known (NIST/SEMATECH e-Handbook 8.4.5.1).

    >>> [round(one, 3) for one in mean_time_span(800, 2)]
    [127.069, 2251.229]
    """
    if failures == 0:
        return total / -math.log(1 - confidence), math.inf
    part = (1 - confidence) / 2
    return (
        2 * total / chi_square_quantile(1 - part, 2 * (failures + 1)),
        2 * total / chi_square_quantile(part, 2 * failures),
    )
