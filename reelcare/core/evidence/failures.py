"""Failures of parts over machines of a kind: how many to expect, whether it gets worse, and when renewal pays.

The rules of this file: two models that must not be mixed. A repairable part goes on with the age it has: mean
cumulative function, power law, trend tests over system age. A part that is renewed begins at nothing: Weibull over time
since renewal, with what has not failed yet as right-censored. Small samples say so. Times are in any one unit > 0.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reelcare.core.evidence.distributions import NORMAL, chi_square_at, chi_square_below

FEW = 5
"""Failures below which an answer is told to rest on few."""


class FailuresError(ValueError):
    """Times that nothing can be told from; the message says what would be needed."""


def _many(count: int) -> str:
    return f"{count} failure" + ("s" if count != 1 else "")


@dataclass(frozen=True, slots=True)
class System:
    """One machine: the ages at which it failed, and the age up to which it was watched."""

    failures: tuple[float, ...]
    watched: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.watched) and self.watched > 0):
            raise FailuresError(f"watched up to {self.watched:g}: more than nothing is right")
        if any(not (0 < one <= self.watched) for one in self.failures):
            raise FailuresError("failures: each age is more than nothing, and within the time watched")

    def before_the_end(self, at_failure: bool = False) -> tuple[float, ...]:
        """The failures that tell of a trend: without the one that ended the watch, where one did.

        >>> System((5.0, 8.0), 12.0).before_the_end(), System((5.0, 8.0), 8.0).before_the_end()
        ((5.0, 8.0), (5.0,))
        """
        ended = at_failure or (self.failures and self.failures[-1] == self.watched)
        return self.failures[:-1] if ended else self.failures


@dataclass(frozen=True, slots=True)
class Mean:
    """The mean number of failures of one machine up to an age, with its 95 % span; from nothing to infinite where it is
    not known."""

    age: float
    mean: float
    low: float
    high: float
    at_risk: int


def mean_cumulative(systems: Sequence[System], confidence: float = 0.95) -> list[Mean]:
    """The mean cumulative function over machines, with limits that hold whatever the process (Nelson 1995, J. Qual.
    Technol. 27:21; variance between machines, which one machine alone does not show).

    >>> [(one.age, round(one.mean, 3)) for one in mean_cumulative([System((5.0, 8.0), 12.0), System((10.0,), 10.0)])]
    [(5.0, 0.5), (8.0, 1.0), (10.0, 1.5)]
    """
    if not systems:
        raise FailuresError("no machine was watched")
    ages = sorted({age for one in systems for age in one.failures})
    z = NORMAL.inv_cdf(0.5 + confidence / 2)
    mean, found = 0.0, []
    sums = [0.0] * len(systems)  # what each machine is off the mean so far, weighed by those at risk
    for age in ages:
        here = [place for place, one in enumerate(systems) if one.watched >= age]
        counts = {place: systems[place].failures.count(age) for place in here}
        step = sum(counts.values()) / len(here)
        mean += step
        for place in here:
            sums[place] += (counts[place] - step) / len(here)
        if len(systems) < 2:
            found.append(Mean(age, mean, 0.0, math.inf, len(here)))
            continue
        error = math.sqrt(sum(one * one for one in sums))
        # on the scale of logarithms, so that no limit is below nothing
        spread = math.exp(z * error / mean)
        found.append(Mean(age, mean, mean / spread, mean * spread, len(here)))
    return found


@dataclass(frozen=True, slots=True)
class PowerLaw:
    """A power-law process: expected failures (t / scale) ^ shape; shape above 1 is worsening. `rate` is that at the age
    watched, `mean_time` its inverse, with a span."""

    shape: float
    scale: float
    shape_span: tuple[float, float]
    rate: float
    mean_time: float
    failures: int


def power_law(systems: Sequence[System], *, at_failure: bool = False, fair: bool = False) -> PowerLaw:
    """The power-law process of machines watched from new (Crow 1974; MIL-HDBK-189). `at_failure`: the watch was to end
    with the last failure; `fair` takes one failure less, so that the shape is not biased. A failure at the very age
    watched tells nothing of the shape.

    >>> ages = (5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478)
    >>> round(power_law([System(ages, 1500)]).shape, 9), round(power_law([System(ages, 1500)], fair=True).shape, 6)
    (0.537228866, 0.483506)
    """
    count = sum(len(one.failures) for one in systems)
    logs = sum(math.log(one.watched / age) for one in systems for age in one.failures)
    told = sum(len(one.before_the_end(at_failure)) for one in systems)
    used = told - 1 if fair else count if at_failure else told
    if used < 2 or logs <= 0:
        raise FailuresError(f"{_many(told)} before the end of the watch: three or more are needed for a power law")
    shape = used / logs
    longest = sum(one.watched**shape for one in systems)
    scale = (longest / count) ** (1 / shape)
    freedom = 2 * told
    span = (
        shape * chi_square_at(0.025, freedom) / (2 * used),
        shape * chi_square_at(0.975, freedom) / (2 * used),
    )
    age = max(one.watched for one in systems)
    rate = shape / scale * (age / scale) ** (shape - 1)
    return PowerLaw(shape, scale, span, rate, 1 / rate, count)


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


def laplace(systems: Sequence[System], *, at_failure: bool = False) -> Trend:
    """Laplace's test: the mean age at failure against the middle of the watch; a failure that ended a watch is left
    out.

    >>> round(laplace([System((5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478), 1500)]).statistic, 9)
    -1.326949183
    """
    total = middle = spread = 0.0
    count = 0
    for one in systems:
        ages = one.before_the_end(at_failure)
        total += sum(ages)
        middle += len(ages) * one.watched / 2
        spread += len(ages) * one.watched**2 / 12
        count += len(ages)
    if count < 2:
        raise FailuresError(f"{_many(count)} before the end of the watch: two or more are needed for a trend")
    u = (total - middle) / math.sqrt(spread)
    return Trend("Laplace", u, 2 * NORMAL.cdf(-abs(u)), u > 0)


def military(systems: Sequence[System], *, at_failure: bool = False) -> Trend:
    """The test of MIL-HDBK-189: twice the sum of ln(watched / age) against chi-square; a failure that ended a watch is
    left out.

    >>> found = military([System((5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478), 1500)])
    >>> round(found.statistic, 7), round(found.chance / 2, 8)
    (37.2280815, 0.01098636)
    """
    count, logs = 0, 0.0
    for one in systems:
        ages = one.before_the_end(at_failure)
        count += len(ages)
        logs += sum(math.log(one.watched / age) for age in ages)
    if count < 2:
        raise FailuresError(f"{_many(count)} before the end of the watch: two or more are needed for a trend")
    statistic = 2 * logs
    below = chi_square_below(statistic, 2 * count)
    return Trend("MIL-HDBK-189", statistic, 2 * min(below, 1 - below), below < 0.5)


def reversals(system: System) -> Trend:
    """The reverse arrangement test on the gaps between the failures of one machine: pairs in which the later gap is the
    longer. Its chance is exact, from the number of permutations with so many reversals.

    >>> found = reversals(System((5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478), 1500))
    >>> found.statistic, round(found.chance / 2, 10)
    (33.0, 0.0362750772)
    """
    gaps = [after - before for before, after in zip((0.0, *system.failures[:-1]), system.failures, strict=True)]
    if len(gaps) < 4:
        raise FailuresError(f"{_many(len(gaps))}: four or more are needed for the reverse arrangement test")
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
    return Trend("reverse arrangements", float(count), min(1.0, 2 * min(above, below)), above > below)


@dataclass(frozen=True, slots=True)
class Weibull:
    """A Weibull fit: scale (63 % have failed by then), shape (above 1: wear), both with a 95 % span; `few` says that it
    rests on few failures."""

    scale: float
    shape: float
    scale_span: tuple[float, float]
    shape_span: tuple[float, float]
    log_likelihood: float
    failures: int
    kept: int

    @property
    def few(self) -> bool:
        """Whether it rests on few failures."""
        return self.failures < FEW

    @property
    def mean(self) -> float:
        """Mean life.

        >>> round(Weibull(606.527558, 1.720797, (0, 0), (0, 0), 0, 10, 10).mean, 3)
        540.737
        """
        return self.scale * math.gamma(1 + 1 / self.shape)

    @property
    def deviation(self) -> float:
        """Standard deviation of life."""
        return self.scale * math.sqrt(math.gamma(1 + 2 / self.shape) - math.gamma(1 + 1 / self.shape) ** 2)

    def failed_by(self, time: float) -> float:
        """Part that has failed by a time."""
        return -math.expm1(-((time / self.scale) ** self.shape)) if time > 0 else 0.0


def weibull(times: Sequence[float], failed: Sequence[bool], confidence: float = 0.95) -> Weibull:
    """Weibull by greatest likelihood, with right censoring; spans are normal on the scale of logarithms.

    >>> fit = weibull([54, 187, 216, 240, 244, 335, 361, 373, 375, 386] + [500] * 10, [True] * 10 + [False] * 10)
    >>> round(fit.scale, 3), round(fit.shape, 4), round(fit.log_likelihood, 3)
    (606.528, 1.7208, -75.135)
    """
    if len(times) != len(failed):
        raise FailuresError("times and failures: as many of one as of the other")
    if any(not (math.isfinite(one) and one > 0) for one in times):
        raise FailuresError("times: each is more than nothing")
    lost = [time for time, gone in zip(times, failed, strict=True) if gone]
    if len(set(lost)) < 2:
        raise FailuresError(f"{_many(len(lost))} at {len(set(lost))} times: two or more times are needed for a fit")
    biggest = max(times)
    unit = [one / biggest for one in times]  # so that no power overflows
    logs = [math.log(one) for one in unit]
    mean_log = sum(math.log(one / biggest) for one in lost) / len(lost)

    def sums(shape: float) -> tuple[float, float, float]:
        powers = [one**shape for one in unit]
        first = sum(power * log for power, log in zip(powers, logs, strict=True))
        second = sum(power * log * log for power, log in zip(powers, logs, strict=True))
        return sum(powers), first, second

    shape = _shape(lambda one: (lambda s: s[1] / s[0] - mean_log - 1 / one)(sums(one)))
    total, first, second = sums(shape)
    count = len(lost)
    scale = biggest * (total / count) ** (1 / shape)
    # observed information of (ln scale, ln shape), from the second derivatives of the likelihood at its top
    ratio = (biggest / scale) ** shape
    rise = math.log(biggest / scale)
    a = ratio * total
    b = ratio * (first + rise * total)
    c = ratio * (second + 2 * rise * first + rise * rise * total)
    aa, ab, bb = (
        shape**2 * a,
        -shape * (shape * b + a - count),
        shape * shape * c + shape * b - shape * _logs(lost, scale),
    )
    bottom = aa * bb - ab * ab
    z = NORMAL.inv_cdf(0.5 + confidence / 2)
    log_likelihood = count * math.log(shape / scale) + (shape - 1) * _logs(lost, scale) - a
    return Weibull(
        scale, shape, _span(scale, z * math.sqrt(bb / bottom)), _span(shape, z * math.sqrt(aa / bottom)),
        log_likelihood, count, len(times) - count,
    )  # fmt: skip


def _logs(lost: Sequence[float], scale: float) -> float:
    return sum(math.log(one / scale) for one in lost)


def _span(value: float, spread: float) -> tuple[float, float]:
    return value * math.exp(-spread), value * math.exp(spread)


def _shape(rising: Callable[[float], float]) -> float:
    """Where the likelihood is at its top: a rising function of the shape passes nothing."""
    low, high = 1e-3, 1.0
    while rising(high) < 0:
        low, high = high, 2 * high
        if high > 1e4:
            raise FailuresError("times: so close together that no shape fits")
    for _ in range(200):
        middle = (low + high) / 2
        if high - low < 1e-14 * high:
            break
        low, high = (middle, high) if rising(middle) < 0 else (low, middle)
    return (low + high) / 2


@dataclass(frozen=True, slots=True)
class Survival:
    """The part that is still good after a time (Kaplan and Meier 1958, J. Am. Stat. Assoc. 53:457)."""

    time: float
    good: float


def kaplan_meier(times: Sequence[float], failed: Sequence[bool]) -> list[Survival]:
    """What is still good after each time of failure.

    >>> [round(one.good, 2) for one in kaplan_meier([10, 32, 50, 56], [True, True, False, True])]
    [0.75, 0.5, 0.0]
    """
    good, found = 1.0, []
    for time in sorted({one for one, gone in zip(times, failed, strict=True) if gone}):
        at_risk = sum(one >= time for one in times)
        gone = sum(one == time and lost for one, lost in zip(times, failed, strict=True))
        good *= 1 - gone / at_risk
        found.append(Survival(time, good))
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
        2 * total / chi_square_at(1 - part, 2 * (failures + 1)),
        2 * total / chi_square_at(part, 2 * failures),
    )
