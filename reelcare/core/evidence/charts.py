"""A signal of one machine as a control chart: what is usual is learnt from the machine itself, then watched.

The rules of this file: a series is cut where the part was serviced. First runs are learnt from (`baseline.py`) until
there is enough. From then on each run is held against all good ones before it and turned into a normal score
(self-starting, Hawkins 1987, The Statistician 36:299-315), so that the limits of a chart with known parameters hold.
The score leaves out what the run before predicts (residuals of an autoregression, Alwan & Roberts 1988, J. Bus.
Econ. Stat. 6:87-95), and the limits widen by the correlation of the runs. Two charts watch, a two-sided EWMA and a
two-sided CUSUM with a head start; their limits come from the run length that is asked for, each with twice of it,
since either may give the alarm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Literal

from reelcare.core.evidence.baseline import LEARNT, MOST, STRANGE, Baseline, inliers
from reelcare.core.evidence.run_length import cusum_limit, ewma_limit
from reelcare.core.text import _

State = Literal["learning", "steady", "drifting"]
RUN_LENGTH = 400.0
"""The mean number of runs between two false alarms of one signal of a machine, unless another is chosen."""
AGAIN = 4
"""The fewest runs to learn from after a later service, where the level stayed."""
WEIGHT, REFERENCE = 0.2, 0.5
"""Weight of the EWMA (handbooks suggest 0.2 to 0.3, row C48), and reference value of the CUSUM (half a shift of one
standard deviation, row C49)."""
SUSPECT = 0.75
"""The part of a limit beyond which a run is not learnt from, so that a drift does not become what is usual."""
HEAD_START = 0.25
"""Where the CUSUM begins after a service, as a part of its decision value (the idea: Lucas & Crosier 1982; a quarter,
so that a season has no more false alarms than were asked for)."""


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
    """One stretch: its points, what is usual (centre and spread), the limits, and what it says now.

    `widening` is the factor by which the average of runs scatters more because they are correlated.
    """

    state: State
    points: tuple[Point, ...]
    centre: float | None
    spread: float | None
    average_limit: float
    change: Change | None = None
    why: str = ""
    widening: float = 1.0


def chart_of(stretches: Sequence[Sequence[float]], *, run_length: float = RUN_LENGTH, least: float = 0.0) -> Chart:
    """The chart of the last stretch of runs, each begun by a service; `least` is the smallest spread that can be told.

    What was usual before a service is so after it, unless the first runs say otherwise: then it is learnt again. With
    each stretch the charts begin again.
    """
    learnt: Baseline | None = None
    waiting: list[float] = []  # runs of stretches that were too short to learn from
    found = _stretch([], None, waiting, run_length, least)[0]
    for values in stretches:
        found, after = _stretch(values, learnt, waiting, run_length, least)
        waiting = [] if after is not None else [*waiting, *values][-MOST:]
        learnt = after if after is not None else learnt
    return found


def _stretch(
    values: Sequence[float], before: Baseline | None, waiting: Sequence[float], run_length: float, least: float
) -> tuple[Chart, Baseline | None]:
    """The chart of a stretch, and what was usual in it (None: it was not learnt)."""
    limit = ewma_limit(WEIGHT, 2 * run_length) * math.sqrt(WEIGHT / (2 - WEIGHT))
    decision = cusum_limit(REFERENCE, 2 * run_length, ahead=HEAD_START)
    learnt, first, why = _learn(values, before, waiting, least)
    if learnt is None:
        points = tuple(Point(one) for one in values)
        return Chart("learning", points, None, None, limit, None, why), None
    watched = _watch(values, first, learnt, limit, decision)
    points = (*(Point(one) for one in values[:first]), *watched)
    last = watched[-1] if watched else Point(0.0)
    drifting = abs(last.average) > limit or max(last.upper, last.lower) > decision
    change = _change([one.score or 0.0 for one in watched], values[first:], learnt, first) if drifting else None
    state: State = "drifting" if drifting else "steady"
    return Chart(state, points, learnt.mean, learnt.spread, limit, change, widening=learnt.widening), learnt


def _learn(
    values: Sequence[float], before: Baseline | None, waiting: Sequence[float], least: float
) -> tuple[Baseline | None, int, str]:
    """What is usual in a stretch, how many of its runs were learnt from, and why it cannot be said yet."""
    if before is not None and len(values) < AGAIN:
        return None, 0, _("still learning: {n} of {wanted} runs since the last service", n=len(values), wanted=AGAIN)
    if before is not None and before.fits(values[:AGAIN]):
        learnt = before.less_sure()
        for value in values[:AGAIN]:
            if abs(learnt.score(value, None)) < STRANGE:
                learnt.add(value)
        return learnt, AGAIN, ""
    known = [] if before is not None else list(waiting)
    many = len(known) + len(values)
    if many < LEARNT:
        if before is not None:
            told = _("a new level since the last service; learning it: {n} of {wanted} runs",
                     n=len(values), wanted=LEARNT)  # fmt: skip
            return None, 0, told
        return None, 0, _("still learning: {n} of {wanted} runs", n=many, wanted=LEARNT)
    return _learn_again(known, values, least)


def _learn_again(known: list[float], values: Sequence[float], least: float) -> tuple[Baseline | None, int, str]:
    """What is usual, from as many runs as it takes until enough of them are alike."""
    why = ""
    for first in range(max(LEARNT - len(known), 0), len(values) + 1):
        begin = [*known, *values[:first]][-MOST:]
        good = inliers(begin, least)
        if len(good) < max(LEARNT, len(begin)) * 2 / 3:
            why = _("still learning: only {good} of {n} runs are alike", good=len(good), n=len(begin))
            continue
        learnt = Baseline([begin[place] for place in good], least)
        if learnt.spread <= 1e-9 * max(1.0, abs(learnt.mean)):
            why = _("cannot say: all runs are the same, so what is usual is not known")
        elif learnt.enough:
            return learnt, first, ""
        else:
            why = _("still learning: {n} runs, but each depends on the one before, so more are needed", n=len(begin))
    return None, 0, why


def _watch(values: Sequence[float], first: int, learnt: Baseline, limit: float, decision: float) -> list[Point]:
    average, upper, lower = 0.0, HEAD_START * decision, HEAD_START * decision  # fast initial response after a service
    found = []
    before = values[first - 1] if first else None
    for value in values[first:]:
        score = learnt.score(value, before)
        before = value
        held = max(-STRANGE, min(STRANGE, score))
        average = WEIGHT * held + (1 - WEIGHT) * average
        upper = max(0.0, upper + held - REFERENCE)
        lower = max(0.0, lower - held - REFERENCE)
        alarm = abs(average) > limit or max(upper, lower) > decision
        found.append(Point(value, score, average, upper, lower, alarm))
        suspect = abs(average) > SUSPECT * limit or max(upper, lower) > SUSPECT * decision
        if not suspect and abs(score) < STRANGE and learnt.count < MOST:
            learnt.add(value)
    return found


def _change(scores: Sequence[float], values: Sequence[float], learnt: Baseline, first: int) -> Change:
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
    error = learnt.spread * learnt.widening * math.sqrt(1 / len(since) + 1 / learnt.count)
    return Change(first + best[1], first + min(near), first + max(near), size, error)
