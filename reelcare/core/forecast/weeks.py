"""The weeks of a machine's use that tell of its pace: those of its season since its first run.

The rules of this file: a week without work counts as far as it lies in the season, one with work always. Today
counts once something was done on it, so that a forecast made at breakfast does not take the day for idle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from reelcare.core.forecast.season import open_days
from reelcare.core.forecast.usage_history import Use
from reelcare.core.machine.card import Season

USUAL_RUN = (10 * 3600.0, 300_000.0, 1.0)
"""One run in seconds, millimetres and runs, while nothing else is known (common practice, no source)."""
NEW_SEASON = 42
"""Days of rest after which another season begins."""
ENOUGH = 14
"""Days after which weeks that do not differ are taken for constant use."""
MOST_WEEKS = 60
"""How many weeks back are looked at."""

Triple = tuple[float, float, float]


@dataclass(slots=True)
class UsageWeek:
    """One week that counts.

    Its days of the season (later: their weight), its seconds, millimetres and runs, its middle (day number), and
    the days since the middle of the week before.
    """

    days: float
    sums: tuple[int, int, int]
    middle: float
    since: float = 0.0

    @property
    def new_season(self) -> bool:
        """Whether the machine has rested before it."""
        return self.since > NEW_SEASON


def weeks_of(use: Use, today: date, season: Season) -> list[UsageWeek]:
    """The weeks that count, oldest first."""
    if use.first is None or use.last is None:
        return []
    sums = {week: (s, m, r) for week, s, m, r in use.weeks}
    until = today.toordinal() if use.last >= today else today.toordinal() - 1
    oldest = max(use.first.toordinal(), use.weeks[0][0] * 7)
    found: list[UsageWeek] = []
    week = until // 7
    while week * 7 + 6 >= oldest and len(found) < MOST_WEEKS:
        begins, ends = max(week * 7, oldest), min(week * 7 + 6, until)
        worked = sums.get(week)
        days = ends - begins + 1 if worked else open_days(season, begins, ends)
        if days > 0:
            found.append(UsageWeek(days, worked or (0, 0, 0), (begins + ends) / 2))
            if len(found) > 1:
                found[-2].since = found[-2].middle - found[-1].middle
        week -= 1
    found.reverse()
    return found


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


def average(weeks: Sequence[UsageWeek]) -> Triple:
    """Seconds, millimetres and runs a day."""
    days = sum(week.days for week in weeks)
    if not days:
        return 0.0, 0.0, 0.0
    seconds, millimetres, runs = (sum(week.sums[scale] for week in weeks) / days for scale in range(3))
    return seconds, millimetres, runs
