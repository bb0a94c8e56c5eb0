"""A signal of one machine as a control chart: what is usual is learnt from the machine itself, then watched.

The rules of this file: a series is cut where the part was serviced. First runs are learnt from; they are screened by
median and MAD, so that a strange run does not set what is usual. From then on each run is held against all good ones
before it and turned into a normal score (self-starting, Hawkins 1987, J. Qual. Technol. 19:189), so that the limits of
a chart with known parameters hold. Two charts watch, a two-sided EWMA and a two-sided CUSUM with a head start; their
limits come from the run length that is asked for, each with twice of it, since either may give the alarm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from statistics import fmean, median
from typing import Literal

from reelcare.core.evidence.distributions import normal_score
from reelcare.core.evidence.run_length import cusum_limit, ewma_limit

State = Literal["learning", "steady", "drifting"]
RUN_LENGTH = 400.0
"""One false alarm for each machine and signal in so many runs, where nobody chose another."""
LEARNT, AGAIN = 12, 4
"""Runs that are learnt from before anything is watched; and after a later service, where the level stayed."""
KEPT = 12
"""Runs that the level of before a service weighs as much as, in that of after it."""
MOST = 60
"""Runs that are learnt from at most: what is usual does not follow a slow drift for ever."""
WEIGHT, REFERENCE = 0.2, 0.5
"""Weight of the EWMA (handbooks suggest 0.2 to 0.3, row C48), and reference value of the CUSUM (half a shift of one
standard deviation, row C49)."""
HEAD_START = 0.25
"""Where the CUSUM begins after a service, as a part of its decision value (the idea: Lucas & Crosier 1982; a quarter,
so that a season has no more false alarms than were asked for)."""
STRANGE = 4.0
"""Normal scores beyond which one run by itself is taken as read or typed wrong, and not learnt from."""
MAD_TO_SIGMA = 1.482602218505602


@dataclass(frozen=True, slots=True)
class Point:
    """One run on the chart: its value, its score (None while learning), and both charts after it."""

    value: float
    score: float | None = None
    average: float = 0.0
    upper: float = 0.0
    lower: float = 0.0
    alarm: bool = False


@dataclass(frozen=True, slots=True)
class Change:
    """Where a drift began: the most likely point, and the span of points that are nearly as likely; its size in the
    signal's own unit, with its standard error."""

    at: int
    first: int
    last: int
    size: float
    error: float


@dataclass(frozen=True, slots=True)
class Chart:
    """One stretch: its points, what is usual (centre and spread), the limits, and what it says now."""

    state: State
    points: tuple[Point, ...]
    centre: float | None
    spread: float | None
    average_limit: float
    cusum_limit: float
    change: Change | None = None
    why: str = ""


def usual(values: Sequence[float]) -> list[int]:
    """The places of the values that are not strange among the others, by median and MAD.

    >>> usual([1.0, 1.1, 0.9, 1.0, 9.0, 1.05])
    [0, 1, 2, 3, 5]
    """
    middle = median(values)
    spread = MAD_TO_SIGMA * median(abs(one - middle) for one in values)
    if spread == 0:
        return [place for place, one in enumerate(values) if one == middle]
    return [place for place, one in enumerate(values) if abs(one - middle) <= STRANGE * spread]


class _Learnt:
    """Level and spread of good runs, kept as sums; the spread may rest on more runs than the level."""

    def __init__(self, values: Sequence[float]) -> None:
        self.count = len(values)
        self.mean = fmean(values)
        self._squares = sum((one - self.mean) ** 2 for one in values)
        self._freedom = len(values) - 1

    @property
    def spread(self) -> float:
        return math.sqrt(self._squares / self._freedom)

    def softened(self) -> _Learnt:
        """The same, its level less sure: a service may have moved it."""
        other = copy(self)
        other.count = min(self.count, KEPT)
        return other

    def add(self, value: float) -> None:
        self.count += 1
        self._freedom += 1
        off = value - self.mean
        self.mean += off / self.count
        self._squares += off * (value - self.mean)

    def fits(self, values: Sequence[float]) -> bool:
        """Whether values of a new stretch can have this level."""
        error = self.spread * math.sqrt(1 / len(values) + 1 / min(self.count, KEPT))
        return abs(fmean(values) - self.mean) <= 3 * error

    def score(self, value: float) -> float:
        return normal_score((value - self.mean) / (self.spread * math.sqrt(1 + 1 / self.count)), self._freedom)


def chart(values: Sequence[float], *, run_length: float = RUN_LENGTH) -> Chart:
    """The chart of one stretch of runs, from which alone it is learnt. Values must be finite."""
    return chart_of([values], run_length=run_length)


def chart_of(stretches: Sequence[Sequence[float]], *, run_length: float = RUN_LENGTH) -> Chart:
    """The chart of the last stretch of runs, each begun by a service.

    What was usual before a service is so after it, unless the first runs say otherwise: then it is learnt anew. With
    each stretch the charts begin again.
    """
    learnt: _Learnt | None = None
    waiting: list[float] = []  # runs of stretches that were too short to learn from
    found = _stretch([], None, waiting, run_length)[0]
    for values in stretches:
        found, after = _stretch(values, learnt, waiting, run_length)
        waiting = [] if after is not None else [*waiting, *values][-LEARNT + 1 :]
        learnt = after if after is not None else learnt
    return found


def _stretch(
    values: Sequence[float], before: _Learnt | None, waiting: Sequence[float], run_length: float
) -> tuple[Chart, _Learnt | None]:
    """The chart of a stretch, and what was usual in it (None: it was not learnt)."""
    limit = ewma_limit(WEIGHT, 2 * run_length) * math.sqrt(WEIGHT / (2 - WEIGHT))
    decision = cusum_limit(REFERENCE, 2 * run_length, ahead=HEAD_START)
    nothing = Chart("learning", tuple(Point(one) for one in values), None, None, limit, decision)
    learnt, first, why = _learn(values, before, waiting)
    if learnt is None:
        return _why(nothing, why), None
    watched = _watch(values[first:], learnt, limit, decision)
    points = (*(Point(one) for one in values[:first]), *watched)
    last = watched[-1] if watched else Point(0.0)
    drifting = abs(last.average) > limit or max(last.upper, last.lower) > decision
    change = _change([one.score or 0.0 for one in watched], values[first:], learnt, first) if drifting else None
    state: State = "drifting" if drifting else "steady"
    return Chart(state, points, learnt.mean, learnt.spread, limit, decision, change), learnt


def _learn(
    values: Sequence[float], before: _Learnt | None, waiting: Sequence[float]
) -> tuple[_Learnt | None, int, str]:
    """What is usual in a stretch, how many of its runs were learnt from, and why it cannot be said yet."""
    if before is not None and len(values) < AGAIN:
        return None, 0, f"still learning: {len(values)} of {AGAIN} runs since the last service"
    if before is not None and before.fits(values[:AGAIN]):
        learnt = before.softened()
        for value in values[:AGAIN]:
            if abs(learnt.score(value)) < STRANGE:
                learnt.add(value)
        return learnt, AGAIN, ""
    known = [] if before is not None else list(waiting)
    first = LEARNT - len(known)
    if len(values) < first:
        if before is not None:
            return None, 0, f"another level since the last service; learning it: {len(values)} of {LEARNT} runs"
        return None, 0, f"still learning: {len(known) + len(values)} of {LEARNT} runs"
    begin = [*known, *values[:first]]
    good = usual(begin)
    if len(good) < LEARNT * 2 / 3:
        return None, 0, "cannot say: too many of the first runs are unlike the others"
    learnt = _Learnt([begin[place] for place in good])
    if learnt.spread <= 1e-9 * max(1.0, abs(learnt.mean)):
        return None, 0, "cannot say: the first runs are all the same, so nothing tells how much is usual"
    return learnt, first, ""


def _why(chart: Chart, why: str) -> Chart:
    return Chart(chart.state, chart.points, None, None, chart.average_limit, chart.cusum_limit, None, why)


def _watch(values: Sequence[float], learnt: _Learnt, limit: float, decision: float) -> list[Point]:
    average, upper, lower = 0.0, HEAD_START * decision, HEAD_START * decision  # fast initial response after a service
    found = []
    for value in values:
        score = learnt.score(value)
        held = max(-STRANGE, min(STRANGE, score))
        average = WEIGHT * held + (1 - WEIGHT) * average
        upper = max(0.0, upper + held - REFERENCE)
        lower = max(0.0, lower - held - REFERENCE)
        alarm = abs(average) > limit or max(upper, lower) > decision
        found.append(Point(value, score, average, upper, lower, alarm))
        if not alarm and abs(score) < STRANGE and learnt.count < MOST:
            learnt.add(value)
    return found


def _change(scores: Sequence[float], values: Sequence[float], learnt: _Learnt, first: int) -> Change:
    """Where the mean of the scores stepped away, by greatest likelihood; points within 1.92 of it are as good (the 95 %
    span of one parameter)."""
    total, tails = 0.0, []
    for place in range(len(scores) - 1, -1, -1):
        total += scores[place]
        tails.append((total * total / (len(scores) - place) / 2, place))
    best = max(tails)
    near = [place for likely, place in tails if best[0] - likely <= 1.92]
    since = values[best[1] :]
    size = fmean(since) - learnt.mean
    error = learnt.spread * math.sqrt(1 / len(since) + 1 / learnt.count)
    return Change(first + best[1], first + min(near), first + max(near), size, error)
