"""The day on which an item will fall due, from the machine's own use, with its spread.

The rules of this file: no simulation and no clock. Use is folded into weekly sums of bounded number; from them
comes a pace (mean and variance a day, the newer weeks weighing more, mixed with the year's use as planned on
the card while history is short). Work done only grows, so the chance that a threshold is reached by a day is
exactly the chance that the work done by then is beyond it; that sum is taken as gamma distributed, by the
Wilson-Hilferty transformation (E. B. Wilson and M. M. Hilferty, Proc. Natl. Acad. Sci. 17, 1931, 684-688).
Days outside the season on the card do not count. Constant use gives the exact day.
"""

from __future__ import annotations

import calendar
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from statistics import NormalDist
from typing import Any

from reelcare.core.machine.card import Season
from reelcare.core.upkeep.due import SCALES, Point, Thresholds

MOST_WEEKS = 80
"""How many weeks with work are remembered: more than one season."""
HALF_LIFE = 12.0
"""Weeks of the season after which a week weighs half."""
PRIOR_WEEKS = 3.0
"""What the year's use on the card weighs, in weeks of history."""
LEVEL_DOUBT = 0.25
"""How far the pace itself may be off in the weeks to come, beyond what its own scatter says."""
USUAL_RUN = 9.0
"""Hours of one run, from which runs are reckoned while only the year's hours are known (common practice, no source)."""
HORIZON = 3 * 366
"""Days beyond which no day is named."""
_Z90 = NormalDist().inv_cdf(0.9)

Triple = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Use:
    """The work of a machine by week: week number (day number // 7) with seconds, millimetres and runs."""

    first: date | None = None
    last: date | None = None
    weeks: tuple[tuple[int, int, int, int], ...] = ()

    def after_run(self, day: date, seconds: int, millimetres: int) -> Use:
        """The use after a run that ended on a day."""
        week = day.toordinal() // 7
        weeks = self.weeks
        if weeks and weeks[-1][0] == week:
            _, s, m, r = weeks[-1]
            weeks = (*weeks[:-1], (week, s + seconds, m + millimetres, r + 1))
        else:
            weeks = (*weeks[-MOST_WEEKS + 1 :], (week, seconds, millimetres, 1))
        first = self.first if self.first is not None and self.first <= day else day
        last = self.last if self.last is not None and self.last >= day else day
        return Use(first, last, weeks)

    def to_plain(self) -> dict[str, Any]:
        """As plain JSON values."""
        return {
            "first": self.first.isoformat() if self.first else None,
            "last": self.last.isoformat() if self.last else None,
            "weeks": [list(one) for one in self.weeks],
        }

    @classmethod
    def from_plain(cls, plain: Mapping[str, Any]) -> Use:
        """What `to_plain` wrote."""
        first, last = plain["first"], plain["last"]
        return cls(
            date.fromisoformat(first) if first else None,
            date.fromisoformat(last) if last else None,
            tuple((one[0], one[1], one[2], one[3]) for one in plain["weeks"]),
        )


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast a machine works on a day of its season: mean, variance a day, and variance of the mean.

    Each for seconds, millimetres and runs.
    """

    mean: tuple[float, float, float]
    variance: tuple[float, float, float]
    doubt: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Forecast:
    """The days by which an item will be due with a chance of 10, 50 and 90 %. None where beyond the horizon."""

    early: date
    likely: date | None
    late: date | None


def in_season(season: Season, day: date) -> bool:
    """Whether a day lies in the season; every day does where the card names none.

    >>> in_season(Season("04-15", "09-30"), date(2026, 12, 1)), in_season(Season("10-01", "03-31"), date(2026, 12, 1))
    (False, True)
    """
    return open_days(season, day.toordinal(), day.toordinal()) == 1


@lru_cache(maxsize=4096)
def _span(opens: str, closes: str, year: int) -> tuple[int, int]:
    """The first and last day number of the season that opens in a year."""
    first = _day_of(opens, year)
    last = _day_of(closes, year if closes >= opens else year + 1)
    return first, last


def _day_of(text: str, year: int) -> int:
    month, day = int(text[:2]), int(text[3:])
    if (month, day) == (2, 29) and not calendar.isleap(year):
        day = 28
    return date(year, month, day).toordinal()


def open_days(season: Season, first: int, last: int) -> int:
    """How many days of the season lie between two day numbers, both counted.

    >>> open_days(Season("04-15", "09-30"), date(2026, 1, 1).toordinal(), date(2026, 12, 31).toordinal())
    169
    """
    if season.opens is None or season.closes is None:
        return max(last - first + 1, 0)
    count = 0
    for year in range(date.fromordinal(first).year - 1, date.fromordinal(max(last, first)).year + 1):
        opens, closes = _span(season.opens, season.closes, year)
        count += max(min(closes, last) - max(opens, first) + 1, 0)
    return count


def season_days(season: Season) -> int:
    """How many days of a year the season has."""
    if season.opens is None or season.closes is None:
        return 365
    opens, closes = (
        date.fromisoformat(f"2023-{'02-28' if d == '02-29' else d}") for d in (season.opens, season.closes)
    )
    days = (closes - opens).days + 1
    return days if days > 0 else days + 365


def pace(use: Use, today: date, season: Season) -> Pace | None:
    """The machine's pace as known today; None where neither history nor card says anything."""
    weeks = _weeks(use, today, season)
    prior = _prior(season)
    weight_sum = sum(weight for _, weight, _ in weeks)
    days_sum = sum(weight * days for days, weight, _ in weeks)
    mean, variance, doubt = [], [], []
    for scale in range(3):
        worked = sum(weight * sums[scale] for _, weight, sums in weeks)
        planned = prior[scale]
        held = 7 * PRIOR_WEEKS * 0.5 ** (days_sum / 21) if planned is not None else 0.0
        if days_sum + held <= 0 or (days_sum < 7 and planned is None):
            return None
        m = (worked + held * (planned or 0.0)) / (days_sum + held)
        spread = _spread(weeks, scale, worked / days_sum if days_sum else 0.0, weight_sum)
        if planned is not None and days_sum < 21:
            # nothing but the plan is known yet: the scatter of a machine that works every other day
            spread = max(spread, planned * planned)
        mean.append(m)
        variance.append(spread)
        effective = (days_sum + held) or 1.0
        doubt.append(spread / effective + ((LEVEL_DOUBT * m) ** 2 if spread > 0 else 0.0))
    return Pace((mean[0], mean[1], mean[2]), (variance[0], variance[1], variance[2]), (doubt[0], doubt[1], doubt[2]))


def _prior(season: Season) -> tuple[float | None, float | None, float | None]:
    days = season_days(season)
    hours, metres = season.hours_a_year, season.metres_a_year
    return (
        hours * 3600 / days if hours else None,
        metres * 1000 / days if metres else None,
        hours / USUAL_RUN / days if hours else None,
    )


def _weeks(use: Use, today: date, season: Season) -> list[tuple[int, float, Triple]]:
    """The weeks of the season so far, newest first: days in season, weight, sums."""
    if use.first is None:
        return []
    sums = {week: (s, m, r) for week, s, m, r in use.weeks}
    oldest = max(use.first.toordinal(), use.weeks[0][0] * 7)
    found: list[tuple[int, float, Triple]] = []
    age = 0.0
    week = today.toordinal() // 7
    while week * 7 + 6 >= oldest and len(found) < MOST_WEEKS:
        begins, ends = max(week * 7, oldest), min(week * 7 + 6, today.toordinal())
        days = open_days(season, begins, ends)
        worked = sums.get(week, (0, 0, 0))
        if days or any(worked):
            found.append((max(days, 1), 0.5 ** (age / HALF_LIFE), worked))
            age += max(days, 1) / 7
        week -= 1
    return found


def _spread(weeks: list[tuple[int, float, Triple]], scale: int, mean: float, weight_sum: float) -> float:
    """The variance a day, from the scatter of whole weeks (so that days that hang together count as they do)."""
    if len(weeks) < 2:
        return mean * mean
    whole = sum(weight * (sums[scale] - mean * days) ** 2 / days for days, weight, sums in weeks)
    spread = whole / weight_sum * len(weeks) / (len(weeks) - 1)
    # what is left of constant use is the last figure of a float
    return spread if spread > 1e-12 * mean * mean else 0.0


def forecast(limbs: Thresholds, now: Point, speed: Pace | None, season: Season) -> Forecast | None:
    """When the item will be due, whichever of its scales comes first; None where nothing can be told.

    Hours, metres and runs are made by the same runs, so they come early or late together: of each, the earliest
    early, likely and late day counts. A date is certain.
    """
    here = (*now.totals, now.day.toordinal())
    days: list[tuple[int | None, int | None, int | None]] = []
    for limb in limbs.limbs:
        left = limb.due - here[SCALES.index(limb.by)]
        if left <= 0:
            return Forecast(now.day, now.day, now.day)
        if limb.by == "date":
            days.append((left, left, left))
        elif speed is not None:
            scale = SCALES.index(limb.by)
            worked = _crossing(left, speed.mean[scale], speed.variance[scale], speed.doubt[scale])
            days.append(_on_the_calendar(worked, now.day, season))
    early, likely, late = (
        min((one[place] for one in days if one[place] is not None), default=None)  # type: ignore[type-var]
        for place in range(3)
    )
    if early is None:
        return None
    return Forecast(*(_day(now.day, count) for count in (early, likely, late)))  # type: ignore[arg-type]


def _day(today: date, days: int | None) -> date | None:
    return today + timedelta(days=days) if days is not None else None


def _crossing(left: float, mean: float, variance: float, doubt: float) -> tuple[int | None, int | None, int | None]:
    """The first days of the season on which the work done reaches `left` with 10, 50 and 90 %."""
    if mean <= 0:
        return (None, None, None)
    if variance <= 0:
        exact = math.ceil(left / mean - 1e-9)
        return (exact, exact, exact)
    return (
        _quantile(left, mean, variance, doubt, -_Z90),
        _quantile(left, mean, variance, doubt, 0.0),
        _quantile(left, mean, variance, doubt, _Z90),
    )


def reached(days: float, left: float, mean: float, variance: float, doubt: float) -> float:
    """How many standard deviations the work done in `days` lies beyond `left` (Wilson-Hilferty)."""
    expected = mean * days
    shape9 = 9 * expected * expected / (variance * days + doubt * days * days)
    return (1 - 1 / shape9 - math.pow(left / expected, 1 / 3)) * math.sqrt(shape9)


def _quantile(left: float, mean: float, variance: float, doubt: float, z: float) -> int | None:
    if reached(HORIZON, left, mean, variance, doubt) < z:
        return None
    low, high = 0, HORIZON
    likely = int(left / mean)
    # the day is seldom far from where the mean alone puts it
    for guess in (likely // 2, likely * 2):
        if low < guess < high:
            if reached(guess, left, mean, variance, doubt) >= z:
                high = guess
            else:
                low = guess
    while high - low > 1:
        middle = (low + high) // 2
        if reached(middle, left, mean, variance, doubt) >= z:
            high = middle
        else:
            low = middle
    return high


def _on_the_calendar(
    worked: tuple[int | None, int | None, int | None], today: date, season: Season
) -> tuple[int | None, int | None, int | None]:
    """Days of the season made calendar days from today."""
    if season.opens is None or season.closes is None:
        return worked
    early, likely, late = (None if one is None else _calendar_days(one, today, season) for one in worked)
    return (early, likely, late)


def _calendar_days(count: int, today: date, season: Season) -> int | None:
    """After how many days of the calendar so many days of the season have passed."""
    assert season.opens is not None
    assert season.closes is not None
    start, left = today.toordinal() + 1, count
    for year in range(today.year - 1, today.year + 8):
        opens, closes = _span(season.opens, season.closes, year)
        opens = max(opens, start)
        if closes < opens:
            continue
        if closes - opens + 1 >= left:
            return opens + left - 1 - today.toordinal()
        left -= closes - opens + 1
        start = closes + 1
    return None
