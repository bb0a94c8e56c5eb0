"""When the planned renewal of a part that is as good as new pays, from its Weibull fit and two costs.

The rules of this file: costs are in any one unit, times in that of the scale; without wear, waiting is best.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from reelcare.core.evidence.distributions import chi_square_cdf
from reelcare.core.evidence.failures.counts import FailuresError
from reelcare.core.evidence.failures.lives import Weibull
from reelcare.core.text import _


@dataclass(frozen=True, slots=True)
class Renewal:
    """The interval that costs least for one scale and shape (None: no finite one), and its cost per unit of time."""

    time: float | None
    cost: float
    cost_unplanned_only: float


def best_renewal(scale: float, shape: float, planned: float, unplanned: float) -> Renewal:
    """When to renew a part that is as good as new: cost of planned against unplanned renewal (Barlow and Hunter 1960,
    Oper. Res. 8:90). Without wear (shape at most 1), or where a failure costs no more, waiting is best.

    >>> found = best_renewal(1000, 2.5, 1, 5)
    >>> round(found.time, 2), round(found.cost, 8)
    (493.05, 0.00346204)
    """
    if not (math.isfinite(planned) and math.isfinite(unplanned) and planned > 0 and unplanned > 0):
        raise FailuresError(_("costs: both are more than nothing"))
    waiting = unplanned / (scale * math.gamma(1 + 1 / shape))
    if shape <= 1 or unplanned <= planned:
        return Renewal(None, waiting, waiting)

    def cost(x: float) -> float:  # x in units of the scale
        good = math.exp(-_power(x, shape))
        return (planned * good + unplanned * (1 - good)) / (scale * _good_until(x, shape))

    # the cost falls, then rises to that of waiting: look from early to late, then narrow down
    places = [0.002 * 1.1**number for number in range(109)]
    best = min(range(len(places)), key=lambda place: cost(places[place]))
    if best >= len(places) - 1 or cost(places[best]) >= waiting * (1 - 1e-9):
        return Renewal(None, waiting, waiting)
    low, high = places[max(best - 1, 0)], places[best + 1]
    ratio = (math.sqrt(5) - 1) / 2
    for _step in range(100):
        a, b = high - ratio * (high - low), low + ratio * (high - low)
        low, high = (low, b) if cost(a) < cost(b) else (a, high)
    x = (low + high) / 2
    return Renewal(scale * x, cost(x), waiting)


@dataclass(frozen=True, slots=True)
class RenewalAdvice:
    """The renewal that costs least by the likeliest fit, and the 95 % span of its interval (infinite: never) and of the
    part of the cost that it saves."""

    best: Renewal
    times: tuple[float, float]
    saves: tuple[float, float]

    @property
    def time(self) -> float:
        """The interval by the likeliest fit; infinite where waiting is best."""
        return math.inf if self.best.time is None else self.best.time

    @property
    def saving(self) -> float:
        """The part of the cost that it saves, by the likeliest fit."""
        return _saving(self.best)

    @property
    def sure(self) -> bool:
        """Whether it saves something by every fit that the span holds."""
        return math.isfinite(self.times[1]) and self.saves[0] > 0


def advise(fit: Weibull, planned: float, unplanned: float) -> RenewalAdvice | None:
    """When renewal pays, over all shapes that the span of a fit holds; None where the span holds chance, which no
    interval mends."""
    if not fit.wears:
        return None
    found = [best_renewal(scale, shape, planned, unplanned) for shape, scale in fit.along]
    best = best_renewal(fit.scale, fit.shape, planned, unplanned)
    times = [math.inf if one.time is None else one.time for one in (best, *found)]
    saves = [_saving(one) for one in (best, *found)]
    return RenewalAdvice(best, (min(times), max(times)), (min(saves), max(saves)))


def _saving(one: Renewal) -> float:
    return 1 - one.cost / one.cost_unplanned_only


def _power(x: float, shape: float) -> float:
    """x to the power of a shape, of lives that are all but alike, too."""
    return math.exp(min(shape * math.log(x), 700.0))


def _good_until(x: float, shape: float) -> float:
    """The integral of exp(-y^shape) from nothing to x, by the incomplete gamma function."""
    power = _power(x, shape)
    if power < 1e-17:
        return x  # nothing has failed yet, and the digits of the function are gone
    below = chi_square_cdf(2 * power, 2 / shape)
    return math.gamma(1 + 1 / shape) * below
