"""How fast a machine works on a day of its season, what is known of it, and how far it may be off.

The rules of this file: no simulation and no clock. A machine has a mean pace, which is learnt, and a level around
it, which stays for some weeks (a dry spell, a stop, the peak of a crop) and goes back to the mean. Both are
followed through the weeks by a Kalman filter of two states (R. E. Kalman, J. Basic Eng. 82, 1960, 35-45), which
begins with the year's use as planned on the card. How much scatter there is comes from the machine's own weeks,
mixed with a usual one while they are few. The figures in capitals are common practice, no source: they were
chosen on simulated seasons, and `tests/bench_forecast.py` measures what they hold on others.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from reelcare.core.forecast.season import in_season, open_days, season_days, spans_from
from reelcare.core.forecast.seasonal_profile import USUAL, Shape, Weighed, learn, stretch
from reelcare.core.forecast.usage_history import Use, of_use
from reelcare.core.forecast.weeks import NEW_SEASON, USUAL_RUN, Triple, UsageWeek, alike, average, one_run, weeks_of
from reelcare.core.machine.card import Season

LASTS = 18.0
"""Days of the season over which a level fades to 1/e: weeks, as spells of weather and stops last."""
CARD_OFF = 0.35
"""How far the year's use on the card is off, as a part of it (one standard deviation)."""
YEAR_OFF = 0.2
"""How far one year's mean pace is off the last one's."""
LEVEL_OFF = 0.35
"""How far the level usually is off the mean, as a part of it."""
LEAST_OFF = 0.1
"""How far the level is off the mean at the least."""
RUN_SCATTER = 0.6
"""What of a run's size squared, times the runs of a day, usually is the variance of that day."""
USUAL_WEEKS = 6.0
"""What the usual scatter weighs against the machine's own, in weeks."""
STRETCH_BY_CHANCE = 0.1
"""How far the level alone makes one stretch of one season differ from another (variance, parts of the mean)."""
TOGETHER = 0.9
"""How closely seconds, millimetres and runs usually go with each other, and what that weighs in weeks."""
TOGETHER_WEEKS = 10
WEEKS_TOGETHER = 26
"""How many weeks back it is looked at how closely they go."""
_NEXT = ((1 - math.exp(-7 / LASTS)) / (7 / LASTS)) ** 2
"""The covariance of two weeks beside each other, as a part of the level's variance."""
_SAME = 2 * (7 / LASTS - 1 + math.exp(-7 / LASTS)) / (7 / LASTS) ** 2
"""The variance of a week's mean level, as a part of the level's."""


@dataclass(frozen=True, slots=True)
class Pace:
    """What is known of a machine's pace: per day of the season, for seconds, millimetres and runs.

    `mean` and `level` (the present one, off the mean) and `lump` (one run) are amounts; `white` is the variance of
    a day that hangs on nothing before it; `level_variance` is the level's own, and `doubt` the variances of what is
    known of mean and level with their covariance between them, all as parts of the mean squared. `together` says
    how closely seconds and millimetres, seconds and runs, millimetres and runs go with each other. `season` is the
    one counted with; `rest` how many of its days are left, after which another year's mean holds (None where there
    is no end); `weighed` counts its days by their weight, where it has a shape. `kept` is for what is worked out
    once from all this.
    """

    mean: Triple
    level: Triple
    white: Triple
    lump: Triple
    level_variance: float
    doubt: Triple
    together: Triple
    season: Season = field(default_factory=Season)
    rest: float | None = None
    weighed: Weighed | None = None
    kept: dict[int, Any] = field(default_factory=dict, compare=False, repr=False)

    def goes_with(self, one: int, other: int) -> float:
        """How closely two scales go together: their correlation."""
        return self.together[one + other - 1]


def pace(use: Use, today: date, season: Season) -> Pace | None:
    """The machine's pace as known today; None where neither history nor card says anything.

    >>> from datetime import timedelta
    >>> use = Use()
    >>> for day in range(20):
    ...     use = use.after_run(date(2026, 6, 1) + timedelta(days=day), 5 * 3600, 150_000)
    >>> even = pace(use, date(2026, 6, 20), Season())
    >>> even.mean, even.white
    ((18000.0, 150000.0, 1.0), (0.0, 0.0, 0.0))
    """
    season = of_use(use, season)
    planned = _planned(season)
    weeks = weeks_of(use, today, season)
    if planned is None and sum(week.days for week in weeks) < 7:
        return None
    lump = one_run(weeks)
    if alike(weeks):
        nothing = (0.0, 0.0, 0.0)
        return Pace(average(weeks), nothing, nothing, lump, 0.0, nothing, (1.0, 1.0, 1.0), season)
    # hours say most; where none are kept, runs do
    leading = 0 if not weeks or any(week.sums[0] for week in weeks) else 2
    shape = _shape(weeks, season, today, leading, lump)
    if shape is not None:
        for week in weeks:
            week.days *= shape[stretch(season, int(week.middle))]
    usual = average(weeks)
    level_part, white_part = _scatter(weeks, leading, usual[leading] or (planned or usual)[leading], lump)
    mean, level, doubt = _follow(weeks, planned, usual, level_part, white_part, today)
    white = (white_part * mean[0] ** 2, white_part * mean[1] ** 2, white_part * mean[2] ** 2)
    weighed = Weighed(season, shape, today) if shape is not None else None
    together = _together(weeks[-WEEKS_TOGETHER:], usual)
    return Pace(mean, level, white, lump, level_part, doubt, together, season, _rest(season, today, weighed), weighed)


def _planned(season: Season) -> Triple | None:
    """The pace a day that the card's year means; what it does not say follows from what it does by usual runs."""
    hours, metres = season.hours_a_year, season.metres_a_year
    if not hours and not metres:
        return None
    runs = hours * 3600 / USUAL_RUN[0] if hours else (metres or 0) * 1000 / USUAL_RUN[1]
    seconds = hours * 3600 if hours else runs * USUAL_RUN[0]
    millimetres = metres * 1000 if metres else runs * USUAL_RUN[1]
    days = season_days(season)
    return seconds / days, millimetres / days, runs / days


def _shape(weeks: Sequence[UsageWeek], season: Season, today: date, leading: int, lump: Triple) -> Shape | None:
    """What the seasons before this one say of its shape; None where there is no season."""
    if season.opens is None or season.closes is None:
        return None
    past = weeks
    if weeks and today.toordinal() - weeks[-1].middle <= NEW_SEASON:
        past = weeks[: max((place for place, week in enumerate(weeks) if week.new_season), default=0)]
    done = sum(week.sums[leading] for week in past)
    if not done:
        return USUAL
    days = sum(week.days for week in past)
    seasons = max(round(days / season_days(season)), 1)
    by_chance = RUN_SCATTER * lump[leading] * len(USUAL) / done + STRETCH_BY_CHANCE / seasons
    return learn(season, [(int(week.middle), week.days, week.sums[leading]) for week in past], by_chance)


def _rest(season: Season, today: date, weighed: Weighed | None) -> float | None:
    """How many days are left of the season that is open, by their weight; 0 where none is."""
    if season.opens is None or season.closes is None:
        return None
    if not in_season(season, today):
        return 0.0
    ((_, closes),) = spans_from(season, today, 1)
    days = open_days(season, today.toordinal() + 1, closes)
    return weighed(days) if weighed is not None else float(days)


def _scatter(weeks: Sequence[UsageWeek], scale: int, mean: float, lump: Triple) -> tuple[float, float]:
    """The level's variance and the variance of a day, as parts of the mean squared.

    The level is told from the days by how far a week goes with the next one.
    """
    usual = RUN_SCATTER * lump[scale] / mean if mean > 0 else 1.0
    own = [week for week in weeks if week.days >= 4]
    if len(own) < 2 or mean <= 0:
        return LEVEL_OFF**2, usual
    off = [week.sums[scale] / week.days / mean - 1 for week in own]
    count = len(off)
    spread = sum(one * one for one in off) / (count - 1)
    pairs = [a * b for a, b, week in zip(off, off[1:], own[1:], strict=False) if not week.new_season]
    # weeks beside each other seem to go apart by 1/count because their own mean was taken from them
    beside = max(sum(pairs) / len(pairs) + spread / count, 0.0) if pairs else 0.0
    level = (len(pairs) * beside / _NEXT + USUAL_WEEKS * LEVEL_OFF**2) / (len(pairs) + USUAL_WEEKS)
    level = max(min(level, spread / _SAME), LEAST_OFF**2)
    days = 7 * max(spread - level * _SAME, spread / 4)
    return level, (count * days + USUAL_WEEKS * usual) / (count + USUAL_WEEKS)


def _follow(
    weeks: Sequence[UsageWeek], planned: Triple | None, usual: Triple, level_part: float, white_part: float, today: date
) -> tuple[Triple, Triple, Triple]:
    """Mean, level and what is not known of them, followed through the weeks up to today."""
    begin = planned or usual
    mean, level = list(begin), [0.0, 0.0, 0.0]
    doubt = (CARD_OFF**2 if planned else 1.0, 0.0, level_part)
    for number, week in enumerate(weeks):
        if number:
            doubt = _faded(level, doubt, week.since, level_part)
        of_mean, of_both, of_level = doubt
        seen = of_mean + 2 * of_both + of_level + white_part / week.days
        for_mean, for_level = (of_mean + of_both) / seen, (of_both + of_level) / seen
        for scale in range(3):
            surprise = week.sums[scale] / week.days - mean[scale] - level[scale]
            mean[scale] += for_mean * surprise
            level[scale] += for_level * surprise
        doubt = (
            of_mean - for_mean * (of_mean + of_both),
            of_both - for_mean * (of_both + of_level),
            of_level - for_level * (of_both + of_level),
        )
    if weeks:
        doubt = _faded(level, doubt, max(today.toordinal() - weeks[-1].middle, 0), level_part)
    # work never goes backwards, and a machine is not written off
    mean = [max(one, 0.05 * first) for one, first in zip(mean, begin, strict=True)]
    level = [max(one, -0.95 * base) for one, base in zip(level, mean, strict=True)]
    return (mean[0], mean[1], mean[2]), (level[0], level[1], level[2]), doubt


def _faded(level: list[float], doubt: Triple, days: float, level_part: float) -> Triple:
    """What is not known after some days more; the level is faded in place, and gone after a rest."""
    of_mean, of_both, of_level = doubt
    if days > NEW_SEASON:
        level[:] = 0.0, 0.0, 0.0
        return of_mean + YEAR_OFF**2, 0.0, level_part
    kept = math.exp(-days / LASTS)
    level[:] = [one * kept for one in level]
    return of_mean, of_both * kept, level_part + kept * kept * (of_level - level_part)


def _together(weeks: Sequence[UsageWeek], usual: Triple) -> Triple:
    """How closely the scales go with each other from week to week."""
    off = [[week.sums[scale] - usual[scale] * week.days for scale in range(3)] for week in weeks]
    squares = [sum(one[scale] ** 2 for one in off) for scale in range(3)]
    found = []
    for a, b in ((0, 1), (0, 2), (1, 2)):
        both = math.sqrt(squares[a] * squares[b])
        own = sum(one[a] * one[b] for one in off) / both if both > 0 else TOGETHER
        found.append(min((len(off) * own + TOGETHER_WEEKS * TOGETHER) / (len(off) + TOGETHER_WEEKS), 0.98))
    return found[0], found[1], found[2]
