"""What feeds a machine: a pump by points of its curve, or one pressure whatever flows; and what that costs in energy.

The rules of this file: flow in m3/s, pressure in Pa, energy in J, efficiencies as parts. A curve goes through its
points: straight through two, smooth through three, and never rises with the flow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

from reelcare.core.text import _, plural


class Supply(Protocol):
    """What comes in at the machine."""

    def pressure(self, flow: float) -> float:
        """Pressure [Pa] at a flow [m3/s]."""

    @property
    def shut_off(self) -> float:
        """Pressure [Pa] where nothing flows."""


@dataclass(frozen=True, slots=True)
class FixedInlet:
    """One pressure [Pa] whatever flows."""

    inlet: float

    def pressure(self, flow: float) -> float:
        """That pressure."""
        return self.inlet

    @property
    def shut_off(self) -> float:
        """That pressure."""
        return self.inlet


@dataclass(frozen=True, slots=True)
class SharedSupply:
    """A supply while a neighbour draws from it as well: less by what that takes [Pa]; nothing drawn, nothing taken.

    >>> shared = SharedSupply(FixedInlet(7e5), 5e4)
    >>> shared.pressure(0.01), shared.shut_off
    (650000.0, 700000.0)
    """

    supply: Supply
    takes: float

    def pressure(self, flow: float) -> float:
        """Pressure at a flow, with the neighbour on."""
        return max(0.0, self.supply.pressure(flow) - self.takes)

    @property
    def shut_off(self) -> float:
        """Pressure with the neighbour off."""
        return self.supply.shut_off


@dataclass(frozen=True, slots=True)
class PumpCurve:
    """A pump by two or three points (flow [m3/s], pressure [Pa]). Raises ValueError where they rise with the flow."""

    points: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        problem = curve_problem(self.points)
        if problem:
            raise ValueError(problem)

    def pressure(self, flow: float) -> float:
        """Pressure at a flow; nothing beyond the flow at which the curve has come down to nothing.

        Through three points goes the parabola, where it falls all the way; else the steadily falling cubic of Fritsch
        and Carlson 1980, SIAM J. Numer. Anal. 17:238 (end slopes by three points). Past its ends the curve goes on
        straight, and towards no flow it never falls.

        >>> curve = PumpCurve(((0, 8e5), (0.01, 7e5), (0.02, 4e5)))
        >>> [round(curve.pressure(flow) / 1e5, 2) for flow in (0, 0.005, 0.015, 0.03)]
        [8.0, 7.75, 5.75, 0.0]
        """
        first, last = self.points[0], self.points[-1]
        if flow <= first[0]:
            return first[1] + max(0.0, -self._slopes()[0]) * (first[0] - flow)
        if flow >= last[0]:
            return max(0.0, last[1] + min(0.0, self._slopes()[-1]) * (flow - last[0]))
        number = next(n for n, one in enumerate(self.points) if flow <= one[0]) - 1
        (left, above), (right, below) = self.points[number : number + 2]
        width, (m, n) = right - left, self._slopes()[number : number + 2]
        t = (flow - left) / width
        # the cubic of Hermite through both points with both slopes
        return (
            above * (1 + 2 * t) * (1 - t) ** 2 + below * t * t * (3 - 2 * t)
            + width * (m * t * (1 - t) ** 2 - n * t * t * (1 - t))
        )  # fmt: skip

    @property
    def shut_off(self) -> float:
        """Pressure against a closed gun.

        >>> round(PumpCurve(((0.01, 7e5), (0.02, 6e5))).shut_off)
        800000
        """
        return self.pressure(0.0)

    def _slopes(self) -> tuple[float, ...]:
        """The slope at each point."""
        secants = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(self.points)]
        if len(secants) == 1:
            return secants[0], secants[0]
        (one, two), width = secants, [b[0] - a[0] for a, b in pairwise(self.points)]
        bow = (two - one) / (width[0] + width[1])
        parabola = (one - bow * width[0], one + bow * width[0], two + bow * width[1])
        if max(parabola) <= 0:
            return parabola
        middle = 0.0
        if one and two:
            weights = (2 * width[1] + width[0], width[1] + 2 * width[0])
            middle = sum(weights) / (weights[0] / one + weights[1] / two)
        ends = [wanted if wanted < 0 and near < 0 else 0.0 for wanted, near in ((parabola[0], one), (parabola[2], two))]
        return ends[0], middle, ends[1]


def curve_problem(points: Sequence[tuple[float, float]]) -> str:
    """What is wrong with the points of a curve, in one line; '' where nothing is.

    >>> curve_problem([(0, 5e5), (0.01, 6e5)])
    'pressure rises from 5 bar to 6 bar as the flow rises to 36 m3/h; a pump gives less pressure at more flow'
    """
    if not 2 <= len(points) <= 3:
        return plural(
            "{n} point: give two or three, each a flow and its pressure",
            "{n} points: give two or three, each a flow and its pressure", len(points),
        )  # fmt: skip
    for (flow, pressure), (more, after) in pairwise(points):
        if more <= flow:
            return _("the flow goes from {flow:g} m3/h to {more:g} m3/h; list the points by rising flow",
                     flow=flow * 3600, more=more * 3600)  # fmt: skip
        if after > pressure:
            return _(
                "pressure rises from {before:g} bar to {after:g} bar as the flow rises to {flow:g} m3/h; "
                "a pump gives less pressure at more flow",
                before=pressure / 1e5, after=after / 1e5, flow=more * 3600,
            )  # fmt: skip
    return ""


def energy(volume: float, pressure: float, efficiency: float) -> float:
    """Energy [J] that puts a volume [m3] under a pressure [Pa], at an efficiency of pump and motor together.

    >>> round(energy(100, 6e5, 0.7 * 0.9) / 3.6e6, 1)  # kWh
    26.5
    """
    return volume * pressure / efficiency
