"""The days of the season to come, cut at nodes, and mean and variance of the work up to each of them.

The rules of this file: no simulation. Where in the season the days lie is worked out once for all machines of one
season. Between two nodes mean and variance are as good as straight.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date
from functools import lru_cache
from typing import NamedTuple

from reelcare.core.forecast.kalman import LASTS, YEAR_OFF
from reelcare.core.forecast.season import in_season, spans_from
from reelcare.core.forecast.seasonal_profile import LEAST, NOTHING, YEAR_APART, Triple
from reelcare.core.forecast.usage_rate import Pace
from reelcare.core.machine.card import Season

HORIZON = 3 * 366
"""Days of the season beyond which no day is named."""
_FIRST = (0.5, 1.0, 2.0, 3.5, 6.0, 10.0, 15.0)
_PARTS = (9, 8, 4, 1)
"""Into how many parts this season, the next and those after it are cut."""


class Node(NamedTuple):
    """A number of days of the season from tomorrow on, and the sum of each wave over them; the same for the part of
    them in the season that is open now (`now`), and in seasons to come (`then`)."""

    days: float
    waves: Triple
    now: float
    now_waves: Triple
    then: float
    then_waves: Triple


@lru_cache(maxsize=256)
def nodes(opens: str | None, closes: str | None, today: date) -> tuple[Node, ...]:
    """The nodes from today on.

    A whole season moves no work out of itself:

    >>> (whole,) = [one for one in nodes("04-15", "09-30", date(2026, 1, 1)) if one.days == 169]
    >>> [abs(round(one, 9)) for one in whole.waves], whole.now, whole.then
    ([0.0, 0.0, 0.0], 0.0, 169.0)
    """
    season = Season(opens, closes)
    if opens is None or closes is None:
        days = [0.0, *_FIRST]
        while days[-1] < HORIZON:
            days.append(min(days[-1] * 1.3, HORIZON))
        return tuple(Node(one, NOTHING, one, NOTHING, 0.0, NOTHING) for one in days)
    found = [Node(0.0, NOTHING, 0.0, NOTHING, 0.0, NOTHING)]
    open_now = in_season(season, today)
    for number, (first, last) in enumerate(spans_from(season, today, HORIZON // 28)):
        if found[-1].days >= HORIZON:
            break
        if last > today.toordinal():
            found += _of_span(found[-1], first, last, max(first, today.toordinal() + 1), number, open_now)
    return tuple(found)


def _of_span(before: Node, first: int, last: int, begins: int, number: int, open_now: bool) -> Iterator[Node]:
    """The nodes of one season after those before."""
    length = last - first + 1
    from_here = float(begins - first)
    parts = _PARTS[min(number, len(_PARTS) - 1)]
    cuts = [length * part / parts for part in range(1, parts + 1)]
    if number == 0:
        near = [from_here + one for one in _FIRST]
        cuts = sorted({*(one for one in near if one < length), *(one for one in cuts if one > near[-1]), float(length)})
    begun = _sums(from_here, length)
    for cut in cuts:
        if cut <= from_here:
            continue
        days = cut - from_here
        here = _sums(cut, length)
        waves = (here[0] - begun[0], here[1] - begun[1], here[2] - begun[2])
        whole = _added(before.waves, waves)
        if number == 0 and open_now:
            yield Node(days, whole, days, waves, 0.0, NOTHING)
        else:
            yield Node(
                before.days + days, whole, before.now, before.now_waves, before.then + days,
                _added(before.then_waves, waves),
            )  # fmt: skip


def _sums(at: float, length: float) -> Triple:
    """The waves summed from the beginning of a season to a day of it."""
    part = math.pi * at / length
    of = length / math.pi
    return of * math.sin(part), of / 2 * math.sin(2 * part), of / 3 * math.sin(3 * part)


def _added(one: Triple, other: Triple) -> Triple:
    return one[0] + other[0], one[1] + other[1], one[2] + other[2]


def _dot(one: Triple, other: Triple) -> float:
    return one[0] * other[0] + one[1] * other[1] + one[2] * other[2]


def _weighed(days: float, heights: Triple, waves: Triple) -> float:
    return max(days + _dot(heights, waves), LEAST * days)


def _spread(pace: Pace, node: Node) -> float:
    """The variance of the work up to a node, without that of single days, as a part of the mean squared.

    It has what is not known of mean, shape and level, the changes of the level itself, and other years.
    """
    now, then = node.now, node.then
    faded = math.exp(-now / LASTS)
    part = 1 - faded
    reach = LASTS * part * pace.weight_now
    swing = pace.level_variance * LASTS
    found = 0.0
    if pace.doubt is not None:
        d, (a, b, c) = node.days, node.waves
        for row, one in zip(pace.doubt, (d, a, b, c, reach), strict=True):
            found += one * (row[0] * d + row[1] * a + row[2] * b + row[3] * c + row[4] * reach)
    if now > 0:
        weighed = _weighed(now, pace.heights, node.now_waves) / now
        found += swing * (2 * now - LASTS * part * (3 - faded)) * weighed * weighed
    if then > 0:
        # another season: a level of which nothing is known, another year's mean and shape
        whole = _weighed(then, pace.heights, node.then_waves)
        found += 2 * swing * (then - LASTS * (1 - math.exp(-then / LASTS))) * (whole / then) ** 2
        if pace.doubt is not None:
            found += (YEAR_OFF * whole) ** 2
            found += sum((off * wave) ** 2 for off, wave in zip(YEAR_APART, node.then_waves, strict=True))
    return max(found, 0.0)


def _profile(pace: Pace) -> list[tuple[Node, float, float, float]]:
    """What is the same on every scale, node by node: the node, its days weighted by the season, the days that the
    present level adds, and the variance of the work up to it (without that of single days) as a part of the mean
    squared."""
    found = []
    for node in nodes(pace.season.opens, pace.season.closes, pace.today):
        reach = LASTS * pace.weight_now * (1 - math.exp(-node.now / LASTS))
        found.append((node, _weighed(node.days, pace.heights, node.waves), reach, _spread(pace, node)))
    return found


def sums_ahead(pace: Pace, scale: int) -> tuple[list[float], list[float], list[float]]:
    """The days of the season at the nodes, and mean and variance of the work up to each on a scale."""
    known = pace.kept.get("shape")
    if known is None:
        known = pace.kept["shape"] = _profile(pace)
    mean, white, level = pace.mean[scale], pace.white[scale], pace.level[scale]
    first, second, third = pace.waves[scale]
    square, least = mean * mean, LEAST * mean
    all_days, means, variances = [0.0], [0.0], [0.0]
    before, days, total = 0.0, 0.0, 0.0
    for node, weighed, reach, spread in known:
        if node.days == 0:
            continue
        one, two, three = node.waves
        work = mean * node.days + first * one + second * two + third * three + level * reach
        # work never goes backwards, and no day is written off
        total += max(work - before, least * (node.days - days))
        before, days = work, node.days
        all_days.append(days)
        means.append(total)
        variances.append(square * spread + white * weighed)
    return all_days, means, variances
