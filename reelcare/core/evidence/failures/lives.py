"""How long a part lasts that is as good as new when it is renewed: Weibull lives, and what is still good after a time.

The rules of this file: what has not failed yet is right-censored. Spans are those of the likelihood, and hold at
least as often as they say from two failures on, complete or censored: whether a part wears out is said by them alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reelcare.core.evidence.distributions import Z95
from reelcare.core.evidence.failures.counts import FailuresError, count_of
from reelcare.core.evidence.failures.likelihood import span, top
from reelcare.core.text import _

SHAPES = 5
"""Shapes within the span for which the likeliest scale is kept."""


@dataclass(frozen=True, slots=True)
class Weibull:
    """A Weibull fit: scale (63 % have failed by then), shape (above 1: wear), both with a 95 % span, and how many had
    failed and were kept; `along` are shapes of the span, each with its likeliest scale."""

    scale: float
    shape: float
    scale_span: tuple[float, float]
    shape_span: tuple[float, float]
    failures: int
    kept: int
    along: tuple[tuple[float, float], ...]

    @property
    def wears(self) -> bool | None:
        """Whether it wears out (True) or fails early (False); None where the span holds chance."""
        low, high = self.shape_span
        return True if low > 1 else False if high < 1 else None


def weibull(times: Sequence[float], failed: Sequence[bool]) -> Weibull:
    """Weibull by greatest likelihood, with right censoring.

    >>> fit = weibull([54, 187, 216, 240, 244, 335, 361, 373, 375, 386] + [500] * 10, [True] * 10 + [False] * 10)
    >>> round(fit.scale, 3), round(fit.shape, 4)
    (606.528, 1.7208)
    """
    if len(times) != len(failed):
        raise FailuresError(_("times and failures: as many of one as of the other"))
    if any(not (math.isfinite(one) and one > 0) for one in times):
        raise FailuresError(_("times: each is more than nothing"))
    lost = [time for time, gone in zip(times, failed, strict=True) if gone]
    if len(set(lost)) < 2:
        raise FailuresError(_(
            "{failures} at {times} times: two or more times are needed for a fit",
            failures=count_of(len(lost)), times=len(set(lost)),
        ))  # fmt: skip
    data = _Lives(times, lost)
    shape = top(data.falls)
    if shape is None:
        raise FailuresError(_("times: too close together to fit a shape"))
    scale = data.scale(shape)
    low, high = span(data.likely, shape, *_shape_edges(len(lost)))
    edge = Z95 * (1 + 1.25 / len(lost))
    scales = span(data.likely_scale, scale, edge, edge)
    along = [low * (high / low) ** (place / (SHAPES - 1)) for place in range(SHAPES)] if 0 < low < high < 1e6 else []
    return Weibull(
        scale, shape, scales, (low, high), len(lost), len(times) - len(lost),
        tuple((one, data.scale(one)) for one in along),
    )  # fmt: skip


def _shape_edges(count: int) -> tuple[float, float]:
    """By how many standard deviations the root of the likelihood may be off, below and above the shape; of the scale it
    is as much either way, as complete lives want it.

    Few complete lives make the shape too great, heavily censored ones hardly: the lower end stands where complete lives
    want it, the upper where censored ones do (chosen on simulated lives, `tests/bench_evidence.py`).
    """
    wide = Z95 * (1 + 0.3 / count)
    return wide + 1.6 / math.sqrt(count) * (1 + 0.6 / count), wide


class _Lives:
    """The likelihood of lives; times in units of the longest, so that no power overflows."""

    def __init__(self, times: Sequence[float], lost: Sequence[float]) -> None:
        self._unit = max(times)
        self._logs = [math.log(one / self._unit) for one in times]
        self._lost = [math.log(one / self._unit) for one in lost]
        self._count = len(lost)
        self._sum = sum(self._lost)

    def falls(self, shape: float) -> float:
        """How the likelihood falls with the shape, each with its likeliest scale."""
        powers = [math.exp(shape * log) for log in self._logs]
        first = sum(power * log for power, log in zip(powers, self._logs, strict=True))
        return first / sum(powers) - self._sum / self._count - 1 / shape

    def scale(self, shape: float) -> float:
        """The likeliest scale of a shape."""
        mean = sum(math.exp(shape * log) for log in self._logs) / self._count
        return self._unit * math.exp(math.log(mean) / shape)

    def likely(self, shape: float) -> float:
        """The log-likelihood of a shape with its likeliest scale, but for what does not change with it."""
        whole = sum(math.exp(shape * log) for log in self._logs)
        return self._count * (math.log(shape) - math.log(whole)) + shape * self._sum

    def likely_scale(self, scale: float) -> float:
        """The log-likelihood of a scale with its likeliest shape, but for what does not change with it."""
        off = math.log(scale / self._unit)
        logs = [log - off for log in self._logs]
        lost = self._sum - self._count * off

        def falls(shape: float) -> float:
            return sum(log * _exp(shape * log) for log in logs) - lost - self._count / shape

        shape = top(falls)
        if shape is None:
            return -math.inf
        return self._count * math.log(shape) + shape * lost - sum(_exp(shape * log) for log in logs)


def _exp(power: float) -> float:
    return math.exp(min(power, 700.0))
