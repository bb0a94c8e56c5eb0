"""How failures of machines grow with age: the power-law process over machines that were watched at any ages.

The rules of this file: machines share one law; each counts for the ages at which it was watched. A machine whose watch
ended with a failure tells by the failures before that alone, since the watch would have gone on without it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reelcare.core.evidence.distributions import Z95
from reelcare.core.evidence.failures.counts import FailuresError, System, count_of
from reelcare.core.evidence.failures.likelihood import span, top
from reelcare.core.text import _, mark

SHIFT = 0.33
"""By how much the signed root of the likelihood is too high, over the root of the failures: exactly a third for one
machine (a gamma variable's root), and so over unequal machines on simulated fleets (`tests/bench_evidence.py`)."""
LEAST = 3
"""Failures that a law needs at the least."""


@dataclass(frozen=True, slots=True)
class PowerLaw:
    """A power-law process: expected failures (t / scale) ^ shape; shape above 1 is worsening, with its 95 % span.
    `mean_time` is that between failures at the oldest age watched; `failures` are those that tell of the shape."""

    shape: float
    scale: float
    shape_span: tuple[float, float]
    mean_time: float
    failures: int

    @property
    def worse(self) -> bool | None:
        """Whether failures come more often with age (True) or less often (False); None where neither is sure."""
        low, high = self.shape_span
        return True if low > 1 else False if high < 1 else None


def power_law(systems: Sequence[System]) -> PowerLaw:
    """The power-law process (Crow 1974; MIL-HDBK-189), by the likelihood of the ages at which each machine was watched.

    >>> round(power_law([System((5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478), 1500)]).shape, 9)
    0.537228866
    """
    told = sum(len(one.before_the_end()) for one in systems)
    logs = sum(math.log(one.watched / age) for one in systems for age in one.before_the_end())
    if told < LEAST or logs <= 0:
        says = mark("{failures} in this period: three or more are needed for a power law")
        raise FailuresError(_(says, failures=count_of(told)))
    groups = [_Group([one for one in systems if not one.ended_by_failure])]
    groups += [_Group([one]) for one in systems if one.ended_by_failure]
    groups = [one for one in groups if one.count]
    shape = top(lambda one: -sum(group.slope(one) for group in groups))
    if shape is None:
        raise FailuresError(_("failures: too close to an end of the period for a power law"))
    shift = SHIFT / math.sqrt(told)
    ends = span(lambda one: sum(group.likely(one) for group in groups), shape, Z95 + shift, Z95 - shift)
    oldest = max(one.watched for one in systems)
    whole = _whole([(one.since / oldest, one.watched / oldest) for one in systems], shape)
    count = sum(len(one.failures) for one in systems)
    scale = oldest * (whole / count) ** (1 / shape)
    return PowerLaw(shape, scale, ends, 1 / (shape / oldest * count / whole), told)


class _Group:
    """Machines whose failures are shared out among them by the law, given how many there were in all."""

    def __init__(self, systems: Sequence[System]) -> None:
        ages = [age for one in systems for age in one.before_the_end()]
        self.count = len(ages)
        self._oldest = max((one.watched for one in systems), default=1.0)
        self._logs = sum(math.log(age / self._oldest) for age in ages)
        self._ends = [(one.since / self._oldest, one.watched / self._oldest) for one in systems]

    def likely(self, shape: float) -> float:
        """Its part of the log-likelihood of a shape, but for what does not change with it."""
        return self.count * (math.log(shape) - math.log(_whole(self._ends, shape))) + shape * self._logs

    def slope(self, shape: float) -> float:
        """How that rises with the shape."""
        first = math.fsum(end**shape * math.log(end) for _, end in self._ends)
        first -= math.fsum(begin**shape * math.log(begin) for begin, _ in self._ends if begin > 0)
        return self.count * (1 / shape - first / _whole(self._ends, shape)) + self._logs


def _whole(ends: Sequence[tuple[float, float]], shape: float) -> float:
    """The sum of end ^ shape - begin ^ shape, above nothing where begin is close to end, too."""
    return math.fsum(
        -(end**shape) * math.expm1(shape * math.log(begin / end)) if begin > 0 else end**shape for begin, end in ends
    )
