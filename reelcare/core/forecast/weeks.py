"""The weeks of a machine's use that tell of its pace: those of its season since its first run.

The rules of this file: a week without work counts as far as it lies in the season, one with work always. Today
counts once something was done on it, so that a forecast made at breakfast does not take the day for idle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from reelcare.core.forecast.season import open_days
from reelcare.core.forecast.seasonal_profile import NOTHING, Triple
from reelcare.core.forecast.usage_history import Use
from reelcare.core.machine.card import Season

USUAL_RUN = (10 * 3600.0, 300_000.0, 1.0)
"""One run in seconds, millimetres and runs, while nothing else is known (common practice, no source)."""
NEW_SEASON = 42
"""Days of rest after which another season begins."""
ENOUGH = 14
"""Days after which weeks that do not differ are taken for constant use."""
RECENT = 14
"""How many weeks back each week counts by itself."""
MOST_WEEKS = 52
"""How many weeks back are looked at."""


@dataclass(slots=True)
class UsageWeek:
    """One week that counts.

    Its days of the season, its seconds, millimetres and runs, its middle (day number), the days since the middle of
    the week before, and the waves of the season in its middle.
    """

    days: float
    sums: tuple[int, int, int]
    middle: float
    since: float = 0.0
    waves: Triple = NOTHING

    @property
    def new_season(self) -> bool:
        """Whether the machine has rested before it."""
        return self.since > NEW_SEASON


def weeks_of(use: Use, today: date, season: Season) -> list[UsageWeek]:
    """The weeks that count, oldest first."""
    if use.first is None or use.last is None:
        return []
    sums = {week[0]: week[1:] for week in use.weeks}
    until = today.toordinal() if use.last >= today else today.toordinal() - 1
    oldest = max(use.first.toordinal(), use.weeks[0][0] * 7)
    found: list[UsageWeek] = []
    later = None
    for week in range(until // 7, oldest // 7 - 1, -1):
        begins, ends = max(week * 7, oldest), min(week * 7 + 6, until)
        worked = sums.get(week)
        days = ends - begins + 1 if worked else open_days(season, begins, ends)
        if days > 0:
            one = UsageWeek(days, worked or (0, 0, 0), (begins + ends) / 2)
            if later is not None:
                later.since = later.middle - one.middle
            found.append(one)
            later = one
            if len(found) == MOST_WEEKS:
                break
    found.reverse()
    return found


def condensed(weeks: Sequence[UsageWeek]) -> list[UsageWeek]:
    """The same, those of long ago in months: of them only mean and shape are still of use."""
    found: list[UsageWeek] = []
    old = len(weeks) - RECENT
    for place, week in enumerate(weeks):
        last = found[-1] if found else None
        if last is None or place >= old or week.since > 7 or last.days > 21:
            found.append(week if place >= old else replace(week))
            continue
        days = last.days + week.days
        s, m, r = last.sums
        last.waves = _mean(last.waves, last.days, week.waves, week.days)
        last.middle = (last.middle * last.days + week.middle * week.days) / days
        last.sums, last.days = (s + week.sums[0], m + week.sums[1], r + week.sums[2]), days
    for before, week in pairwise(found):
        week.since = week.middle - before.middle
    return found


def _mean(one: Triple, weight: float, other: Triple, more: float) -> Triple:
    part = more / (weight + more)
    return (
        one[0] + part * (other[0] - one[0]), one[1] + part * (other[1] - one[1]), one[2] + part * (other[2] - one[2]),
    )  # fmt: skip


def alike(weeks: Sequence[UsageWeek]) -> bool:
    """Whether no week differs from another, to the second: constant use."""
    if sum(week.days for week in weeks) < ENOUGH:
        return False
    first = weeks[0]
    return all(
        one * first.days == other * week.days
        for week in weeks
        for one, other in zip(week.sums, first.sums, strict=True)
    )


def one_run(weeks: Sequence[UsageWeek]) -> Triple:
    """What one run makes: seconds, millimetres, and 1."""
    runs = sum(week.sums[2] for week in weeks)
    if not runs:
        return USUAL_RUN
    return sum(week.sums[0] for week in weeks) / runs, sum(week.sums[1] for week in weeks) / runs, 1.0


def average(weeks: Sequence[UsageWeek], weights: Sequence[float] | None = None) -> Triple:
    """Seconds, millimetres and runs a day, or a day that weighs 1."""
    if weights is None:
        days = sum(week.days for week in weeks)
    else:
        days = sum(week.days * one for week, one in zip(weeks, weights, strict=True))
    if not days:
        return NOTHING
    seconds, millimetres, runs = (sum(week.sums[scale] for week in weeks) / days for scale in range(3))
    return seconds, millimetres, runs
