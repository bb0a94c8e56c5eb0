"""Pressure down the line, from the inlet of the machine to the gun, solved together with the flow.

The rules of this file: the hose on the ground is straight pipe, the rest lies in coils and loses more by an
allowance. What the drive takes is given, since it is measured on the machine. The gun stands `rise` above the
machine when it is farthest out; on the way home the rise shrinks with the metres. Pressures in Pa, flow in m3/s.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from reelcare.core.hydraulics import friction, gun
from reelcare.core.hydraulics.friction import COOL, GRAVITY, LikelySpan, Water
from reelcare.core.hydraulics.pump import Supply
from reelcare.core.text import _, localized, mark


class NotFed(ValueError):
    """An inlet that cannot bring water to the gun: `says` has the fields of what is needed and what comes [Pa]."""

    def __init__(self, says: str, needed: float, comes: float) -> None:
        bars = {"needed": localized(f"{needed / 1e5:.2f} bar"), "comes": localized(f"{comes / 1e5:.2f} bar")}
        super().__init__(_(says, **bars))
        self.says, self.needed, self.comes = says, needed, comes


@dataclass(frozen=True, slots=True)
class Line:
    """A hose of a bore and a length [m], some of it pulled out; the rest lies in coils of a mean diameter [m].

    `coil_diameter` None: not known, and `coil_more` must say what the coils add (a part, 0.3 = 30 %). `coils` says
    which end of their span is reckoned with.
    """

    bore: float
    length: float
    out: float
    rise: float = 0.0
    drive_loss: float = 0.0
    fluid: Water = COOL
    roughness: float = friction.SMOOTH_PLASTIC
    coil_diameter: float | None = None
    coil_more: float | None = None
    coils: Literal["likely", "low", "high"] = "likely"

    @property
    def lift(self) -> float:
        """Pressure that the rise takes [Pa]; negative where the gun stands lower.

        >>> round(Line(0.0938, 400, 400, rise=5).lift)
        48945
        """
        return self.fluid.density * GRAVITY * self.rise

    def coil(self, flow: float) -> LikelySpan:
        """What the coils lose against straight hose, as a factor with its span."""
        if self.coil_more is not None:
            return LikelySpan(*(3 * (1 + self.coil_more,)))
        if self.coil_diameter is None or flow <= 0:
            return LikelySpan(1.0, 1.0, 1.0)
        number = friction.reynolds(flow, self.bore, self.fluid)
        return friction.coil_factor(number, self.bore, self.coil_diameter)

    def straight_loss(self, flow: float) -> float:
        """Loss of the whole hose, were it all straight [Pa].

        >>> round(Line(0.0938, 400, 400).straight_loss(43 / 3600))
        104460
        """
        return friction.loss_along(flow, self.bore, self.length, self.fluid, self.roughness)

    def coil_loss(self, flow: float) -> LikelySpan:
        """What the coils add to that [Pa]."""
        coiled = max(0.0, self.length - self.out)
        if coiled == 0.0:
            return LikelySpan(0.0, 0.0, 0.0)
        straight = self.straight_loss(flow) * coiled / self.length
        return LikelySpan(*(straight * (one - 1) for one in self.coil(flow)))

    def hose_loss(self, flow: float) -> float:
        """Loss of the hose as it lies [Pa]."""
        straight = self.straight_loss(flow)
        if self.out >= self.length:
            return straight
        factor: float = getattr(self.coil(flow), self.coils)
        return straight * (1 + (1 - self.out / self.length) * (factor - 1))

    def between(self, flow: float) -> float:
        """Everything between inlet and gun [Pa]: drive, hose and rise."""
        return self.drive_loss + self.hose_loss(flow) + self.lift

    def feed(self, supply: Supply, bore: float, discharge: float) -> tuple[float, float]:
        """Flow [m3/s] and pressure at the gun [Pa] that a supply gives through a nozzle of a bore.

        Raises NotFed where nothing would come.

        >>> from reelcare.core.hydraulics.pump import FixedInlet
        >>> flow, at_gun = Line(0.0938, 400, 400, 5, 50e3).feed(FixedInlet(653.4e3), 0.02307, 0.95)
        >>> round(flow * 3600), round(at_gun / 1e5, 2)
        (43, 4.5)
        """
        taken, comes = self.drive_loss + self.lift, min(supply.shut_off, supply.pressure(0.0))
        left = comes - taken
        if left <= 0:  # of a supply that is shared, too little may come as soon as anything flows
            says = mark("drive and rise take {needed}; with {comes} at the inlet nothing reaches the gun")
            raise NotFed(says, taken, comes)

        def lacking(square: float) -> float:
            flow = math.sqrt(square)
            needed = gun.pressure_for(flow, bore, discharge, self.fluid) + self.hose_loss(flow) + taken
            return needed - supply.pressure(flow)

        # losses go nearly by the square of the flow, so that secants over the square are close at once
        flow = math.sqrt(_zero(lacking, 0.0, gun.flow_through(bore, left, discharge, self.fluid) ** 2, ENOUGH * left))
        return flow, gun.pressure_for(flow, bore, discharge, self.fluid)


ENOUGH = 1e-13
"""Accepted error, as a part of the pressure that is left for hose and gun."""
SECANTS = 6
"""Secant steps before every second step becomes a bisection."""


def _zero(rising: Callable[[float], float], low: float, high: float, near: float) -> float:
    """Where a rising function of one sign change is within `near` of nothing: secants inside the bracket, halving where
    they leave it or are slow.

    It may jump (the friction factor does, where turbulence sets in); then the place of the jump is the answer.
    """
    before, at_before = low, rising(low)
    last, at_last = high, rising(high)
    if at_before >= 0:
        return low
    if at_last <= 0:
        return high
    for turn in range(200):
        middle = last - at_last * (last - before) / (at_last - at_before) if at_last != at_before else low
        if (turn > SECANTS and turn % 2) or not low < middle < high:
            middle = (low + high) / 2
        found = rising(middle)
        if high - low <= 1e-15 * high or abs(found) < near:
            return middle
        if found > 0:
            high = middle
        else:
            low = middle
        before, at_before, last, at_last = last, at_last, middle, found
    return (low + high) / 2


def mean_coil_diameter(metres: float, turns: float) -> float:
    """Mean diameter [m] of the coils that hold a length [m] in a number of turns."""
    return metres / (math.pi * turns)
