"""When the planned renewal of a part that begins anew pays, from its Weibull fit and two costs.

The rules of this file: costs are in any one unit, times in that of the scale; without wear, waiting is best.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from reelcare.core.evidence.distributions import chi_square_below
from reelcare.core.evidence.failures import FailuresError


@dataclass(frozen=True, slots=True)
class Renewal:
    """The interval that costs least, and what it costs for each unit of time; None: no finite one is best."""

    time: float | None
    cost: float
    cost_unplanned_only: float


def best_renewal(scale: float, shape: float, planned: float, unplanned: float) -> Renewal:
    """When to renew a part that begins anew: cost of planned against unplanned renewal (Barlow and Hunter 1960, Oper.
    Res. 8:90). Without wear (shape at most 1), or where a failure costs no more, waiting is best.

    >>> found = best_renewal(1000, 2.5, 1, 5)
    >>> round(found.time, 2), round(found.cost, 8)
    (493.05, 0.00346204)
    """
    _costs(planned, unplanned)
    waiting = unplanned / (scale * math.gamma(1 + 1 / shape))
    if shape <= 1 or unplanned <= planned:
        return Renewal(None, waiting, waiting)

    def cost(x: float) -> float:  # x in units of the scale
        good = math.exp(-(x**shape))
        return (planned * good + unplanned * (1 - good)) / (scale * _good_until(x, shape))

    # the cost falls, then rises to that of waiting: look from early to late, then narrow down
    places = [0.002 * 1.02**number for number in range(520)]
    best = min(range(len(places)), key=lambda place: cost(places[place]))
    if best >= len(places) - 1 or cost(places[best]) >= waiting * (1 - 1e-9):
        return Renewal(None, waiting, waiting)
    low, high = places[max(best - 1, 0)], places[best + 1]
    ratio = (math.sqrt(5) - 1) / 2
    for _ in range(100):
        a, b = high - ratio * (high - low), low + ratio * (high - low)
        low, high = (low, b) if cost(a) < cost(b) else (a, high)
    x = (low + high) / 2
    return Renewal(scale * x, cost(x), waiting)


def _good_until(x: float, shape: float) -> float:
    """The integral of exp(-y^shape) from nothing to x, by the incomplete gamma function."""
    below = chi_square_below(2 * x**shape, 2 / shape)
    return math.gamma(1 + 1 / shape) * below


def _costs(planned: float, unplanned: float) -> None:
    if not (math.isfinite(planned) and math.isfinite(unplanned) and planned > 0 and unplanned > 0):
        raise FailuresError("costs: both are more than nothing")
