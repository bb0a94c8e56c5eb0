"""The day by which any of several correlated sums has passed its threshold.

The rules of this file: chances are told as normal deviates, so that they can be compared with those of one sum.
Two sums by the bivariate normal distribution, as an integral over the angle of the correlation
(Z. Drezner and G. O. Wesolowsky, J. Statist. Comput. Simul. 35, 1990, 101-107; R. L. Plackett, Biometrika 41,
1954, 351-360) with Gauss-Legendre points; a third one is joined to the first two as if these were one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from statistics import NormalDist

from reelcare.core.forecast.first_passage import WANTED, Course
from reelcare.core.forecast.usage_rate import Pace

TOO_FEW = -2.6
"""What has passed with less than this (about one in two hundred) moves nothing."""
ROOT2 = math.sqrt(2)
_NORMAL = NormalDist()
# Gauss-Legendre points and weights of order 12 on -1 to 1, one half of them (Abramowitz & Stegun, table 25.4)
_POINTS = (
    (0.125233408511469, 0.249147045813403), (0.367831498998180, 0.233492536538355),
    (0.587317954286617, 0.203167426723066), (0.769902674194305, 0.160078328543346),
    (0.904117256370475, 0.106939325995318), (0.981560634246719, 0.047175336386512),
)  # fmt: skip
_PARTS = tuple((part, weight) for point, weight in _POINTS for part in ((1 - point) / 2, (1 + point) / 2))


@lru_cache(maxsize=4096)
def _angles(correlation: float) -> tuple[tuple[float, float, float], ...]:
    """The points of the integral, with what of them does not hang on the bounds."""
    top = math.asin(correlation)
    sines = [(math.sin(top * part), weight * top / (4 * math.pi)) for part, weight in _PARTS]
    return tuple((sine, 1 / (1 - sine * sine), weight) for sine, weight in sines)


def bivariate_normal_cdf(a: float, b: float, correlation: float) -> float:
    """The chance that two standard normal variables of this correlation lie below a and b.

    For a = b = 0 it is 1/4 + asin(correlation) / (2 pi):

    >>> round(bivariate_normal_cdf(0, 0, 0.5), 6)
    0.333333
    >>> round(bivariate_normal_cdf(0.3, -0.2, 0) - _NORMAL.cdf(0.3) * _NORMAL.cdf(-0.2), 9)
    0.0
    """
    apart, product, exp = (a * a + b * b) / 2, a * b, math.exp
    joint = 0.0
    for sine, sharp, weight in _angles(correlation):
        joint += weight * exp((sine * product - apart) * sharp)
    return 0.25 * math.erfc(-a / ROOT2) * math.erfc(-b / ROOT2) + joint


def any_of(courses: Sequence[Course], days: float, pace: Pace) -> float:
    """How sure it is that one of the courses has passed by a day, as a normal deviate."""
    joined, scale = courses[0].at(days), courses[0].scale
    for course in courses[1:]:
        none = bivariate_normal_cdf(-joined, -course.at(days), pace.correlation(scale, course.scale))
        joined = -_NORMAL.inv_cdf(min(max(none, 1e-15), 1 - 1e-15))
    return joined


def soonest(courses: Sequence[Course], place: int, pace: Pace, horizon: int) -> int | None:
    """The first day by whose end any of the courses has passed with 10, 50 or 90 %; None beyond the horizon."""
    days = [course.day(place) for course in courses]
    known = [one for one in days if one is not None]
    wanted = WANTED[place]
    if known:
        last = min(known)
        courses = _near(courses, days.index(last), last, wanted, pace)
        high = whole(last)
        if len(courses) == 1:
            return high
    elif any_of(courses, horizon, pace) < wanted:
        return None
    else:
        high = horizon
    return _first(courses, wanted, high, pace)


def whole(days: float) -> int:
    """The day of the season, tomorrow being 1, by whose end so many days have passed."""
    return max(math.ceil(days - 1e-9), 1)


def _first(courses: Sequence[Course], wanted: float, high: int, pace: Pace) -> int:
    """The first day up to one that is known (`high`) by which the courses have passed as surely as is wanted.

    Straight lines through what is known lead near it; every third try halves what is left.
    """
    low, tries = 0, 0
    below, above = wanted - 3.0, any_of(courses, high, pace)
    while high - low > 1:
        tries += 1
        part = (wanted - below) / (above - below) if tries % 3 and above > below else 0.5
        middle = min(max(math.ceil(low + part * (high - low)), low + 1), high - 1)
        here = any_of(courses, middle, pace)
        if here >= wanted:
            high, above = middle, here
        else:
            low, below = middle, here
    return high


def _near(courses: Sequence[Course], first: int, days: float, sure: float, pace: Pace) -> list[Course]:
    """The course that passes first, and those that may well have passed before it."""
    leader = courses[first]
    found = [leader]
    for course in courses:
        if course is not leader:
            here = course.at(days)
            apart = math.sqrt(2 - 2 * pace.correlation(leader.scale, course.scale))
            if here > TOO_FEW and sure - here < 3 * apart:
                found.append(course)
    return found
