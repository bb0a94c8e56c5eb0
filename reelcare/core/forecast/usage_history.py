"""The work of a machine as the forecast remembers it: sums by week, of bounded number, folded run by run.

The rules of this file: whole numbers only, plain JSON form, the same whatever order a day's runs came in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise
from typing import Any, NamedTuple

from reelcare.core.machine.card import Season

MOST_WEEKS = 80
"""How many weeks with work are remembered: about three seasons."""

A_REST = 12
"""Weeks without work after which another season begins, where the card names none."""

Week = tuple[int, int, int, int]


class Use(NamedTuple):
    """The work of a machine by week: week number (day number // 7) with seconds, millimetres and runs.

    `first` and `last` are the days of its first and latest run.
    """

    first: date | None = None
    last: date | None = None
    weeks: tuple[Week, ...] = ()

    @classmethod
    def from_plain(cls, plain: Mapping[str, Any]) -> Use:
        """A use of plain JSON values, by the names of its fields."""
        first, last = plain["first"], plain["last"]
        return cls(
            date.fromisoformat(first) if first else None,
            date.fromisoformat(last) if last else None,
            tuple((one[0], one[1], one[2], one[3]) for one in plain["weeks"]),
        )


@dataclass(slots=True)
class GrowingUse:
    """A `Use` to which runs are added, one after the other."""

    first: date | None = None
    last: date | None = None
    weeks: dict[int, tuple[int, int, int]] = field(default_factory=dict)

    @classmethod
    def of(cls, use: Use) -> GrowingUse:
        """One that goes on from a use."""
        return cls(use.first, use.last, {week: (s, m, r) for week, s, m, r in use.weeks})

    def add(self, day: date, seconds: int, millimetres: int) -> None:
        """Add a run that ended on a day.

        >>> growing = GrowingUse()
        >>> for day in (4, 5):
        ...     growing.add(date(2026, 5, day), 28800, 300_000)
        >>> growing.freeze().weeks
        ((105677, 57600, 600000, 2),)
        """
        week = day.toordinal() // 7
        s, m, r = self.weeks.get(week, (0, 0, 0))
        self.weeks[week] = (s + seconds, m + millimetres, r + 1)
        if self.first is None or day < self.first:
            self.first = day
        if self.last is None or day > self.last:
            self.last = day

    def freeze(self) -> Use:
        """The use as it stands: of many weeks the newest."""
        kept = sorted(self.weeks)[-MOST_WEEKS:]
        return Use(self.first, self.last, tuple((week, *self.weeks[week]) for week in kept))


def of_use(use: Use, season: Season) -> Season:
    """The season on the card; where it names none, the one that the machine's own long rests show, if any.

    >>> from datetime import timedelta
    >>> growing = GrowingUse()
    >>> for week in (*range(20), *range(52, 60)):
    ...     growing.add(date(2025, 5, 8) + timedelta(weeks=week), 36000, 300_000)
    >>> of_use(growing.freeze(), Season()).opens, of_use(growing.freeze(), Season()).closes
    ('05-03', '09-20')
    """
    if (season.opens is not None and season.closes is not None) or len(use.weeks) < 2:
        return season
    numbers = [week[0] for week in use.weeks]
    longest, before, after = max((b - a, a, b) for a, b in pairwise(numbers))
    if not A_REST <= longest < 50:
        return season
    opens, closes = date.fromordinal(after * 7), date.fromordinal(before * 7 + 6)
    return Season(f"{opens:%m-%d}", f"{closes:%m-%d}", season.hours_a_year, season.metres_a_year)
