"""The day on which an item will fall due, from the machine's own use, with its spread.

The rules of this file: no simulation and no clock. A machine's use gives its pace (`usage_rate.py`), the pace the
chance that a threshold is passed by a day (`first_passage.py`), and the days by which that chance is 10, 50 and 90 %
are the forecast. Days outside the season on the card do not count. Where several scales can come first, the
chance that any of them has is taken, with how closely they go together: the earlier of two random days is
earlier than either middle. A date is certain: where nothing is known of the use it is the latest day, and the
earliest is the first on which the machine may work. Constant use gives the exact day.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import NamedTuple

from reelcare.core.forecast.days_ahead import HORIZON
from reelcare.core.forecast.first_passage import Course
from reelcare.core.forecast.joint_passage import soonest, whole
from reelcare.core.forecast.season import day_after
from reelcare.core.forecast.usage_history import Use
from reelcare.core.forecast.usage_rate import Pace, why_no_pace
from reelcare.core.machine.card import Season
from reelcare.core.scales import SCALES, ScalePoint, Threshold
from reelcare.core.text import _


class Forecast(NamedTuple):
    """The days by which an item will be due with a chance of 10, 50 and 90 %. None where beyond the horizon."""

    early: date
    likely: date | None
    late: date | None


def forecast(thresholds: Sequence[Threshold], now: ScalePoint, speed: Pace | None, season: Season) -> Forecast | None:
    """When the item will be due, whichever of its scales comes first; None where nothing can be told."""
    here = now.position
    certain: int | None = None
    courses: list[Course] = []
    unknown = False
    for by, _used, limit, _due in thresholds:
        scale = SCALES.index(by)
        left = limit - here[scale]
        if left <= 0:
            return Forecast(now.day, now.day, now.day)
        if by == "date":
            certain = left
        elif speed is not None:
            courses.append(Course(speed, scale, left))
        else:
            unknown = True
    by_work = [_worked(courses, place, now.day, speed) for place in range(3)]
    found = [min((one for one in (days, certain) if one is not None), default=None) for days in by_work]
    if found[0] is None:
        return None
    if unknown:
        found[0] = min(day_after(1, now.day, season) or 1, found[0])
    early, likely, late = (now.day + timedelta(days=one) if one is not None else None for one in found)
    assert early is not None
    return Forecast(early, likely, late)


def why_none(use: Use, today: date, season: Season, speed: Pace | None) -> str:
    """Why `forecast` is None, for a person."""
    return why_no_pace(use, today, season) if speed is None else _("not within the years that can be foreseen")


def _worked(courses: list[Course], place: int, today: date, speed: Pace | None) -> int | None:
    """The days of the calendar by which one of the courses has passed with 10, 50 or 90 %."""
    if not courses or speed is None:
        return None
    if len(courses) == 1:
        alone = courses[0].day(place)
        days = None if alone is None else whole(alone)
    else:
        days = soonest(courses, place, speed, HORIZON)
    return None if days is None else day_after(days, today, speed.season)
