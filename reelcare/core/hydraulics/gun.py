"""The gun: what a nozzle lets through, how far it throws, and what falls on the ground.

The rules of this file: one formula each, any one figure from the others. Flow in m3/s, pressure in Pa, lengths and
depths in m, speeds and rates in m/s. Throw and spacing come from published rows, whose standing is told beside them.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from reelcare.core.hydraulics.friction import COOL, Water
from reelcare.core.text import _
from reelcare.core.units import MILE

DISCHARGES = (0.80, 1.0)
"""Discharge coefficients that a nozzle can have: no jet is faster than its pressure makes it, and 0.90 to 0.95 is
published, with room for wear. Outside, flow, bore and pressure do not belong together."""


def can_discharge(coefficient: float) -> bool:
    """Whether a nozzle can have a discharge coefficient."""
    return DISCHARGES[0] <= coefficient <= DISCHARGES[1]


def flow_through(bore: float, pressure: float, discharge: float, fluid: Water = COOL) -> float:
    """Flow [m3/s] of a nozzle of a bore [m] at a pressure [Pa]: the orifice law.

    >>> round(flow_through(0.0254, 10 * 6894.757, 1.0) * 15850.32, 1)  # one inch at 10 psi, in gpm
    94.4
    """
    if pressure <= 0:
        return 0.0
    return discharge * math.pi * bore**2 / 4 * math.sqrt(2 * pressure / fluid.density)


def pressure_for(flow: float, bore: float, discharge: float, fluid: Water = COOL) -> float:
    """Pressure [Pa] at which a nozzle lets a flow through.

    >>> round(pressure_for(flow_through(0.024, 450e3, 0.95), 0.024, 0.95))
    450000
    """
    return fluid.density / 2 * (4 * flow / (math.pi * bore**2 * discharge)) ** 2


def bore_for(flow: float, pressure: float, discharge: float, fluid: Water = COOL) -> float:
    """Bore [m] that lets a flow through at a pressure [Pa > 0].

    >>> round(bore_for(43 / 3600, 450e3, 0.95) * 1000, 1)
    23.1
    """
    return math.sqrt(4 * flow / (math.pi * discharge * math.sqrt(2 * pressure / fluid.density)))


def discharge_from(measured: list[tuple[float, float]], bore: float, fluid: Water = COOL) -> tuple[float, float]:
    """Discharge coefficient of a machine's own gun, and its standard error, from (flow, pressure) pairs.

    Least squares through nothing, since no pressure means no flow. The error of a single pair is not known (nan is
    never given: it is told as infinite).

    >>> [round(one, 3) for one in discharge_from([(flow_through(0.024, p, 0.95), p) for p in (3e5, 4e5, 5e5)], 0.024)]
    [0.95, 0.0]
    """
    if bore <= 0:
        raise ValueError(_("nozzle: its bore must be more than nothing"))
    if not measured or min(min(pair) for pair in measured) <= 0:
        raise ValueError(_("flow and pressure of the gun: give at least one pair above 0"))
    full = [flow_through(bore, pressure, 1.0, fluid) for _flow, pressure in measured]
    square = sum(one**2 for one in full)
    fitted = sum(one * flow for one, (flow, _pressure) in zip(full, measured, strict=True)) / square
    if len(measured) < 2:
        return fitted, math.inf
    left = sum((flow - fitted * one) ** 2 for one, (flow, _pressure) in zip(full, measured, strict=True))
    return fitted, math.sqrt(left / (len(measured) - 1) / square)


def wetted_radius(bore: float, pressure: float) -> float:
    """How far a big gun throws without wind [m]: tapered nozzle, trajectory of 24 degrees.

    A power law fitted here to the wetted diameters that the USDA-NRCS National Engineering Handbook (part 623,
    chapter 11) gives for bores of 0.8 to 1.2 in at 60 to 100 psi (rows from memory, medium confidence); it is within
    3 ft of each. Outside of them it is an estimate. A ring nozzle or a flatter gun throws less.

    >>> round(2 * wetted_radius(0.0254, 80 * 6894.757) / 0.3048)
    354
    """
    if bore <= 0 or pressure <= 0:
        return 0.0
    return 0.5 * THROW[0] * math.pow(bore, THROW[1]) * math.pow(pressure, THROW[2])


THROW = (23.535, 0.5993, 0.2817)
"""Wetted diameter [m] = first x bore [m] ^ second x pressure [Pa] ^ third."""

WIND_ROWS: tuple[tuple[float, float, float], ...] = (
    (1.0, 0.80, 0.80),
    (5.0, 0.70, 0.75),
    (10.0, 0.60, 0.65),
    (math.inf, 0.50, 0.55),
)
"""Lane spacing by wind: wind up to [mph], part of the wetted diameter for ring and for tapered nozzles (USDA-NRCS
National Engineering Handbook part 623, chapter 11, travelling sprinklers; from memory)."""
MPH = MILE / 3600


class Spacing(NamedTuple):
    """The widest lane spacing [m] that still overlaps: with a ring nozzle, and with a tapered one."""

    ring: float
    tapered: float


def widest_spacing(radius: float, wind: float) -> Spacing:
    """The widest lane spacing for a wetted radius [m] in a wind [m/s].

    >>> [round(one, 1) for one in widest_spacing(50, 2)]
    [70.0, 75.0]
    """
    if wind < 0:
        raise ValueError(_("wind of {wind:g} m/s: must be 0 or more", wind=wind))
    ring, tapered = next(row[1:] for row in WIND_ROWS if wind / MPH <= row[0] + 1e-9)
    return Spacing(2 * radius * ring, 2 * radius * tapered)


def depth_on(flow: float, spacing: float, speed: float) -> float:
    """Depth of water [m] that a cart leaves on its strip: what flows, over the strip that it covers.

    >>> round(depth_on(43 / 3600, 68, 25.2941 / 3600) * 1000, 3)
    25.0
    """
    return flow / (spacing * speed)


def speed_for(flow: float, spacing: float, depth: float) -> float:
    """Travel speed [m/s] that leaves a depth [m].

    >>> round(speed_for(43 / 3600, 75, 0.025) * 3600, 4)
    22.9333
    """
    return flow / (spacing * depth)


def flow_for(depth: float, spacing: float, speed: float) -> float:
    """Flow [m3/s] that leaves a depth [m] at a travel speed [m/s].

    >>> round(flow_for(0.025, 68, 25.2941 / 3600) * 3600, 3)
    43.0
    """
    return depth * spacing * speed


def rate_over(flow: float, radius: float, arc: float, *, effective: float = 1.0) -> float:
    """Rate of application [m/s] over the wetted sector of an arc [degrees]; `effective` is the part of the radius
    that counts (handbooks take 0.9 for part-circle guns).

    >>> round(rate_over(43 / 3600, 46.5, 360) * 3.6e6, 4)
    6.3301
    """
    return flow * 360 / (math.pi * (effective * radius) ** 2 * arc)
