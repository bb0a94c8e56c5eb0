"""Distributions that charts and failures need: Student's t, chi-square, and the normal, in plain Python.

The rules of this file: the standard library only; series and continued fractions to the last digits that matter (1e-12
in the middle). Tests hold them against an independent library.
"""

from __future__ import annotations

import math
from statistics import NormalDist

from reelcare.core.text import _

NORMAL = NormalDist()
Z95 = NORMAL.inv_cdf(0.975)
"""Standard deviations of a two-sided span of 95 %."""
_SMALL = 1e-300


def _regularized_gamma(a: float, x: float) -> float:
    """Regularised lower incomplete gamma function P(a, x): a series below a + 1, a continued fraction above."""
    if x <= 0:
        return 0.0
    front = math.exp(a * math.log(x) - x - math.lgamma(a))
    if x < a + 1:
        term = total = 1 / a
        count = a
        while abs(term) > abs(total) * 1e-16:
            count += 1
            term *= x / count
            total += term
        return total * front
    b = x + 1 - a
    c, d = 1 / _SMALL, 1 / b
    h = d
    for number in range(1, 1000):
        an = -number * (number - a)
        b += 2
        d = 1 / _nonzero(an * d + b)
        c = _nonzero(b + an / c)
        h *= d * c
        if abs(d * c - 1) < 1e-16:
            break
    return 1 - front * h


def _nonzero(value: float) -> float:
    return value if abs(value) > _SMALL else _SMALL


def chi_square_cdf(x: float, freedom: float) -> float:
    """Chance that chi-square stays below x.

    >>> round(chi_square_cdf(3.841459, 1), 6)
    0.95
    """
    return _regularized_gamma(freedom / 2, x / 2)


def chi_square_quantile(part: float, freedom: float) -> float:
    """The value below which chi-square stays with a chance. Raises ValueError outside 0 to 1.

    >>> round(chi_square_quantile(0.95, 6), 4)
    12.5916
    """
    if not 0 < part < 1:
        raise ValueError(_("{part:g}: a chance must be between 0 and 1", part=part))
    # Newton's steps from the cube root's normal approximation (Wilson & Hilferty 1931), halving where one leads outside
    low, high = 0.0, math.inf
    at = freedom * max(1 - 2 / (9 * freedom) + NORMAL.inv_cdf(part) * math.sqrt(2 / (9 * freedom)), 0.05) ** 3
    half = freedom / 2
    for _step in range(200):
        off = chi_square_cdf(at, freedom) - part
        low, high = (at, high) if off < 0 else (low, at)
        density = math.exp((half - 1) * math.log(at / 2) - at / 2 - math.lgamma(half)) / 2
        step = at - off / density if density > 0 else math.nan
        if not low < step < high:
            step = (low + high) / 2 if high < math.inf else 2 * at
        if abs(step - at) <= 1e-14 * at or high - low < 1e-13 * high:
            return step
        at = step
    return at


def _regularized_beta(a: float, b: float, x: float) -> float:
    """Regularised incomplete beta function I_x(a, b), by its continued fraction."""
    if x <= 0 or x >= 1:
        return 0.0 if x <= 0 else 1.0
    if x > (a + 1) / (a + b + 2):
        return 1 - _regularized_beta(b, a, 1 - x)
    front = math.exp(math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)) / a
    c, d = 1.0, 1 / _nonzero(1 - (a + b) * x / (a + 1))
    h = d
    for m in range(1, 500):
        for an in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1 / _nonzero(1 + an * d)
            c = _nonzero(1 + an / c)
            h *= d * c
        if abs(d * c - 1) < 1e-15:
            break
    return front * h


def student_t_cdf(t: float, freedom: float) -> float:
    """Chance that Student's t stays below t.

    >>> round(student_t_cdf(2.228139, 10), 6)
    0.975
    """
    if t * t < freedom:
        # from the middle, where the chance of the tail would lose its digits
        return 0.5 + math.copysign(0.5 * _regularized_beta(0.5, freedom / 2, t * t / (freedom + t * t)), t)
    tail = 0.5 * _regularized_beta(freedom / 2, 0.5, freedom / (freedom + t * t))
    return 1 - tail if t > 0 else tail


def student_t_quantile(part: float, freedom: float) -> float:
    """The value below which Student's t stays with a chance. Raises ValueError outside 0 to 1.

    >>> round(student_t_quantile(0.975, 10), 6)
    2.228139
    """
    if not 0 < part < 1:
        raise ValueError(_("{part:g}: a chance must be between 0 and 1", part=part))
    if part > 0.5:
        return -student_t_quantile(1 - part, freedom)
    low, high = -1.0, 0.0
    while student_t_cdf(low, freedom) > part:
        low, high = 2 * low, low
    for _step in range(200):
        middle = (low + high) / 2
        if high - low < 1e-13 * max(-low, 1.0):
            break
        low, high = (middle, high) if student_t_cdf(middle, freedom) < part else (low, middle)
    return (low + high) / 2


def normal_score(t: float, freedom: float) -> float:
    """The normal deviate as unlikely as a t with so many degrees of freedom; at most 8 either way.

    >>> round(normal_score(2.228139, 10), 4)
    1.96
    """
    # from the tail, where the chance keeps its digits
    tail = student_t_cdf(-abs(t), freedom)
    score = -NORMAL.inv_cdf(tail) if tail > 1e-15 else 8.0
    return math.copysign(min(score, 8.0), t)
