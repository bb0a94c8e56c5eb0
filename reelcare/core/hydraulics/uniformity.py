"""Catch cans across one lane: what the neighbouring lanes add, and how even the whole falls.

The rules of this file: a transect is what cans caught at equal distances on both sides of the hose. Catches may be in
any one unit (ml or mm); distances and spacings in m. Between cans the catch is a straight line, beyond the last one
it falls to nothing at the distance of one more can. The low quarter is the smallest fourth of the catches; where that
is no whole number of cans, the last of them counts by the part of it that belongs there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from reelcare.core.text import _, mark


def christiansen(catches: Sequence[float]) -> float:
    """Coefficient of uniformity as a part: 1 - mean deviation / mean (Christiansen 1942). Raises ValueError.

    >>> round(christiansen([47, 42, 45, 24, 13, 26, 33, 34, 27, 30, 40, 44, 32, 12, 12]), 7)
    0.6913955
    """
    mean = _mean(catches)
    return 1 - sum(abs(one - mean) for one in catches) / len(catches) / mean


def low_quarter(catches: Sequence[float]) -> float:
    """Distribution uniformity as a part: mean of the smallest fourth over the mean of all. Raises ValueError.

    Of 6 cans, the fourth is one can and half of the next.

    >>> low_quarter([1, 2, 3, 4, 5, 6]) == (1 + 2 / 2) / 1.5 / 3.5
    True
    """
    mean = _mean(catches)
    whole, part = divmod(len(catches) / 4, 1)
    low = sorted(catches)
    return (sum(low[: int(whole)]) + part * low[int(whole)]) / (len(catches) / 4) / mean


def _mean(catches: Sequence[float]) -> float:
    if len(catches) < 4:
        raise ValueError(_("{catches} catches: four or more are needed", catches=len(catches)))
    if any(not math.isfinite(one) or one < 0 for one in catches):
        raise ValueError(_("catches: every one is nothing or more"))
    mean = sum(catches) / len(catches)
    if mean <= 0:
        raise ValueError(_("catches: all cans were dry"))
    return mean


@dataclass(frozen=True, slots=True)
class Transect:
    """What the cans caught to the left and to the right of the hose, nearest first; the first can stands `first` from
    the hose, the others `step` apart [m]. Raises ValueError."""

    left: tuple[float, ...]
    right: tuple[float, ...]
    first: float
    step: float

    def __post_init__(self) -> None:
        if not self.left or not self.right:
            raise ValueError(_("catches: at least one can on each side of the hose"))
        if not (self.step > 0 and math.isfinite(self.step) and 0 <= self.first <= 10 * self.step):
            says = mark("cans: the first at {first:g} m, then {step:g} m apart, cannot be right")
            raise ValueError(_(says, first=self.first, step=self.step))
        if any(not math.isfinite(one) or one < 0 for one in (*self.left, *self.right)):
            raise ValueError(_("catches: every one is nothing or more"))

    def at(self, aside: float) -> float:
        """The catch at a distance from the hose [m], right of it positive; straight between cans.

        >>> Transect((4, 2), (6, 3), 1, 2).at(2), Transect((4, 2), (6, 3), 1, 2).at(0)
        (4.5, 5.0)
        """
        mine, other = (self.right, self.left) if aside >= 0 else (self.left, self.right)
        away = abs(aside)
        if away < self.first:
            # between the first cans of both sides, across the hose
            part = (away + self.first) / (2 * self.first)
            return other[0] + (mine[0] - other[0]) * part
        number, part = divmod((away - self.first) / self.step, 1)
        here = mine[int(number)] if number < len(mine) else 0.0
        after = mine[int(number) + 1] if number + 1 < len(mine) else 0.0
        return here + (after - here) * part

    @property
    def reach(self) -> float:
        """How far from the hose anything can fall [m]."""
        return self.first + self.step * max(len(self.left), len(self.right))


class Uniformity(NamedTuple):
    """How even the water falls with lanes a spacing apart [m]: Christiansen's coefficient and the low quarter, as
    parts; the catches that they come from."""

    spacing: float
    coefficient: float
    low: float
    catches: tuple[float, ...]


def overlap(transect: Transect, spacing: float) -> Uniformity:
    """One lane with what its neighbours throw into it, at the cans that lie nearer to this hose than to the next.

    All lanes run the same way, with the same catch; the spacing need be no whole number of cans. Raises ValueError.

    >>> even = overlap(Transect((4.0, 3.0, 2.0, 1.0), (4.0, 3.0, 2.0, 1.0), 1, 2), 8)
    >>> round(even.coefficient, 6), even.catches
    (1.0, (5.0, 5.0, 5.0, 5.0))
    """
    if not (math.isfinite(spacing) and spacing > 2 * transect.first):
        raise ValueError(
            _("lanes {spacing:g} m apart: must be more than the distance of the first cans", spacing=spacing)
        )
    if spacing > 2 * (transect.reach + transect.step):
        says = mark(
            "lanes {spacing:g} m apart: what these cans caught reaches {reach:g} m; the ground between stays dry"
        )
        raise ValueError(_(says, spacing=spacing, reach=transect.reach))
    caught = []
    for side, count in ((-1, len(transect.left)), (1, len(transect.right))):
        places = [transect.first + transect.step * number for number in range(count + int(spacing / transect.step) + 1)]
        # a can half-way between two hoses belongs to one of them, the left
        caught += [
            _together(transect, side * away, spacing)
            for away in places
            if away < spacing / 2 - 1e-9 or (side < 0 and away <= spacing / 2 + 1e-9)
        ]
    return Uniformity(spacing, christiansen(caught), low_quarter(caught), tuple(caught))


def _together(transect: Transect, aside: float, spacing: float) -> float:
    lanes = math.ceil((transect.reach + abs(aside)) / spacing)
    return sum(transect.at(aside + lane * spacing) for lane in range(-lanes, lanes + 1))


def best_spacing(transect: Transect) -> Uniformity:
    """The lane spacing, in steps of 1 m, that falls most evenly by Christiansen; the widest of equals. Raises
    ValueError.

    Lanes closer than the throw of one side are not looked at: they would only put water on twice.

    >>> best_spacing(Transect((4.0, 4.0, 3.0, 1.0), (4.0, 4.0, 3.0, 1.0), 1, 2)).spacing
    12.0
    """
    reach = float(transect.reach)
    spacings = (reach + number for number in range(math.floor(reach) + 1))
    wide = (one for one in spacings if one > 2 * transect.first and one / transect.step >= 4)
    tried = [overlap(transect, one) for one in wide]
    if not tried:
        raise ValueError(_("cans: too few on each side to look for a spacing"))
    return max(tried, key=lambda one: (round(one.coefficient, 9), one.spacing))
