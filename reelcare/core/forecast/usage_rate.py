"""How fast a machine works on a day of its season, what is known of it, and how far it may be off.

The rules of this file: no simulation and no clock. A machine has a mean pace, a shape of its season, and a level around
both, which stays for some weeks (a dry spell, a stop) and fades. All are uncertain and are followed through the weeks
(`kalman.py`), beginning with the year's use on the card and the usual or the neighbours' shape (`seasonal_profile.py`).
How much scatter there is comes from the machine's own weeks, mixed with a usual one while they are few. The figures in
capitals are common practice, no source: they were chosen on simulated seasons, and `tests/bench_evidence.py` measures
what they hold on others.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from reelcare.core.forecast.kalman import CARD_OFF, LASTS, WORK_OFF, PaceFilter
from reelcare.core.forecast.season import in_season, season_days
from reelcare.core.forecast.seasonal_profile import (
    NOTHING,
    USUAL_PRIOR,
    Learnt,
    Matrix,
    Neighbours,
    Prior,
    Triple,
    learn,
    waves_at,
    weight,
)
from reelcare.core.forecast.usage_history import Use, of_use
from reelcare.core.forecast.weeks import USUAL_RUN, UsageWeek, alike, average, condensed, one_run, weeks_of
from reelcare.core.machine.card import Season
from reelcare.core.text import _, mark

LEVEL_OFF = 0.29
"""How far the level usually is off the mean, as a part of it."""
LEAST_OFF = 0.1
"""How far the level is off the mean at the least."""
RUN_SCATTER = 0.5
"""Usual variance of a day's work, as a part of a run's size squared times the runs of the day."""
USUAL_WEEKS = 6.0
"""Weight of the usual scatter against the machine's own, in weeks."""
TOGETHER = 0.9
"""Usual correlation of seconds, millimetres and runs, and its weight in weeks."""
TOGETHER_WEEKS = 10
WEEKS_TOGETHER = 26
"""Weeks back over which that correlation is estimated."""
MONTHS = (
    mark("January"), mark("February"), mark("March"), mark("April"), mark("May"), mark("June"), mark("July"),
    mark("August"), mark("September"), mark("October"), mark("November"), mark("December"),
)  # fmt: skip
FEW_DAYS = 28
"""Days of the season that must be known before a forecast is made while it is closed."""
_NEXT = ((1 - math.exp(-7 / LASTS)) / (7 / LASTS)) ** 2
"""The covariance of two weeks beside each other, as a part of the level's variance."""
_SAME = 2 * (7 / LASTS - 1 + math.exp(-7 / LASTS)) / (7 / LASTS) ** 2
"""The variance of a week's mean level, as a part of the level's."""


@dataclass(frozen=True, slots=True)
class Pace:
    """What is known of a machine's pace: per day of the season, for seconds, millimetres and runs.

    `mean`, `waves` (of the season, off the mean), `level` (the present one, off both) and `lump` (one run) are amounts;
    `white` is the variance of a day that hangs on nothing before it; `level_variance` is the level's own, and `doubt`
    what is not known of mean, waves and level, as parts of the mean squared (None: nothing is uncertain). `together`
    says how closely seconds and millimetres, seconds and runs, millimetres and runs go with each other. `season` is the
    one counted with, from the day after `today`; `heights` are its waves as parts of the mean, `weight_now` what a day
    weighs now. `kept` is for what is worked out once from all this.
    """

    mean: Triple
    white: Triple
    lump: Triple
    together: Triple
    level: Triple = NOTHING
    level_variance: float = 0.0
    waves: tuple[Triple, Triple, Triple] = (NOTHING, NOTHING, NOTHING)
    heights: Triple = NOTHING
    weight_now: float = 1.0
    doubt: Matrix | None = None
    season: Season = field(default_factory=Season)
    today: date = date.min
    kept: dict[Any, Any] = field(default_factory=dict, compare=False, repr=False)

    def correlation(self, one: int, other: int) -> float:
        """How closely two scales go together: their correlation."""
        return self.together[one + other - 1]


def pace(use: Use, today: date, season: Season, prior: Prior = USUAL_PRIOR) -> Pace | None:
    """The machine's pace as known today; None where too little is known (`why_no_pace`).

    >>> from datetime import timedelta
    >>> from reelcare.core.forecast.usage_history import GrowingUse
    >>> growing = GrowingUse()
    >>> for day in range(20):
    ...     growing.add(date(2026, 6, 1) + timedelta(days=day), 5 * 3600, 150_000)
    >>> even = pace(growing.freeze(), date(2026, 6, 20), Season())
    >>> even.mean, even.white
    ((18000.0, 150000.0, 1.0), (0.0, 0.0, 0.0))
    """
    season = of_use(use, season)
    planned = _planned(season)
    weeks = weeks_of(use, today, season)
    if _too_few(weeks, planned, season, today):
        return None
    lump = one_run(weeks)
    if alike(weeks):
        return Pace(average(weeks), NOTHING, lump, (1.0, 1.0, 1.0), season=season, today=today)
    leading = _leading(weeks)
    learnt = _learn(weeks, season, leading, prior)
    weights = [weight(learnt.heights, week.waves) for week in weeks]
    usual = average(weeks, weights)
    level_part, white_part = _scatter(weeks, weights, leading, usual[leading] or (planned or usual)[leading], lump)
    together = _together(weeks[-WEEKS_TOGETHER:], usual)
    begin = planned or usual
    known = PaceFilter(begin, prior, CARD_OFF if planned else WORK_OFF, level_part)
    for number, week in enumerate(condensed(weeks)):
        if number:
            known.predict(week.since, learnt.heights)
        known.update(week, weight(learnt.heights, week.waves), white_part)
    if weeks:
        since = max(today.toordinal() - weeks[-1].middle, 0)
        # while it is closed, what another year brings is told of the days to come
        known.predict(since, learnt.heights, other_year=in_season(season, today))
    return _paced(known, begin, leading, lump, white_part, level_part, together, season, today)


def _too_few(weeks: Sequence[UsageWeek], planned: Triple | None, season: Season, today: date) -> bool:
    """Whether too little is known for any span."""
    days = sum(week.days for week in weeks)
    return (planned is None and days < 7) or (days < FEW_DAYS and not in_season(season, today))


def why_no_pace(use: Use, today: date, season: Season) -> str:
    """Why `pace` is None, for a person.

    >>> why_no_pace(Use(), date(2026, 12, 1), Season("04-15", "09-30"))
    'cannot say before April'
    """
    season = of_use(use, season)
    if season.opens is not None and not in_season(season, today):
        month = MONTHS[int(season.opens[:2]) - 1]
        return _("cannot say before {month}", month=_(month))
    return _("cannot say before a week of work is known")


def neighbours(known: Mapping[str, tuple[Use, Season]], today: date) -> Neighbours:
    """What the machines of one place, each with its use and season, say of the shape of their season."""
    found = {}
    for machine, (use, named) in known.items():
        season = of_use(use, named)
        weeks = weeks_of(use, today, season)
        found[machine] = _learn(weeks, season, _leading(weeks), USUAL_PRIOR)
    return Neighbours(found)


def _leading(weeks: Sequence[UsageWeek]) -> int:
    """The scale that says most: hours, or runs where no hours are kept."""
    return 0 if not weeks or any(week.sums[0] for week in weeks) else 2


def _learn(weeks: Sequence[UsageWeek], season: Season, leading: int, prior: Prior) -> Learnt:
    """What the weeks say of the shape; their waves are written into them."""
    for week in weeks:
        week.waves = waves_at(season, week.middle)
    return learn([(week.waves, week.days, week.sums[leading]) for week in weeks], prior)


def _paced(
    known: PaceFilter, begin: Triple, leading: int, lump: Triple, white_part: float, level_part: float, together:
    Triple, season: Season, today: date,
) -> Pace:  # fmt: skip
    """The pace that was followed up to today; work never goes backwards, and a machine is not written off."""
    mean = [max(state[0], 0.05 * first) for state, first in zip(known.states, begin, strict=True)]
    level = [max(state[4], -0.95 * one) for state, one in zip(known.states, mean, strict=True)]
    waves = [(state[1], state[2], state[3]) for state in known.states]
    at = mean[leading] or 1.0
    heights = (waves[leading][0] / at, waves[leading][1] / at, waves[leading][2] / at)
    return Pace(
        (mean[0], mean[1], mean[2]), (white_part * mean[0] ** 2, white_part * mean[1] ** 2, white_part * mean[2] ** 2),
        lump, together, (level[0], level[1], level[2]), level_part, (waves[0], waves[1], waves[2]), heights,
        weight(heights, waves_at(season, today.toordinal() + 1)), known.doubt, season, today,
    )  # fmt: skip


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


def _scatter(
    weeks: Sequence[UsageWeek], weights: Sequence[float], scale: int, mean: float, lump: Triple
) -> tuple[float, float]:
    """The level's variance and the variance of a day, as parts of the mean squared.

    The level is told from the days by how far a week goes with the next one.
    """
    usual = RUN_SCATTER * lump[scale] / mean if mean > 0 else 1.0
    own = [(week, week.days * one) for week, one in zip(weeks, weights, strict=True) if week.days * one >= 3]
    if len(own) < 2 or mean <= 0:
        return LEVEL_OFF**2, usual
    off = [week.sums[scale] / days / mean - 1 for week, days in own]
    count = len(off)
    spread = sum(one * one for one in off) / (count - 1)
    pairs = [a * b for a, b, (week, _) in zip(off, off[1:], own[1:], strict=False) if not week.new_season]
    # weeks beside each other seem to go apart by 1/count because their own mean was taken from them
    beside = max(sum(pairs) / len(pairs) + spread / count, 0.0) if pairs else 0.0
    level = (len(pairs) * beside / _NEXT + USUAL_WEEKS * LEVEL_OFF**2) / (len(pairs) + USUAL_WEEKS)
    level = max(min(level, spread / _SAME), LEAST_OFF**2)
    days = 7 * max(spread - level * _SAME, spread / 4)
    return level, (count * days + USUAL_WEEKS * usual) / (count + USUAL_WEEKS)


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
