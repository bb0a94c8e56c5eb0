"""Water, and what it loses to the wall of a pipe.

The rules of this file: Darcy-Weisbach with the friction factor from the full Colebrook equation, laminar to rough;
no power law. Below the onset of sustained turbulence the flow is laminar. What a coil adds is an allowance with a
span, since published correlations disagree by a factor of two. Lengths in m, pressures in Pa, flow in m3/s.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from reelcare.core.text import _

GRAVITY = 9.80665
"""Standard acceleration of gravity [m/s2] (3rd CGPM, 1901)."""
TURBULENT_FROM = 2040.0
"""Reynolds number from which turbulence sustains itself in a pipe (Avila et al. 2011, Science 333:192)."""
LN_10 = math.log(10)
SMOOTH_PLASTIC = 1.5e-6
"""Roughness [m] of drawn plastic pipe, as handbooks give it (from memory)."""


class Water(NamedTuple):
    """Water at a temperature: density [kg/m3] and dynamic viscosity [Pa s]."""

    density: float
    viscosity: float


def water(temperature: float) -> Water:
    """Water at a temperature [degC] and one atmosphere. Raises ValueError outside 0 to 60 degC.

    Density: Kell 1975, J. Chem. Eng. Data 20(1):97; viscosity: Kestin, Sokolov, Wakeham 1978, J. Phys. Chem. Ref.
    Data 7(3):941; coefficients of both from memory, held against an independent library by the tests.

    >>> round(water(20).density, 2), round(water(20).viscosity * 1e3, 4)
    (998.2, 1.002)
    """
    if not 0 <= temperature <= 60:
        raise ValueError(_("water at {temperature:g} degC: must be between 0 and 60", temperature=temperature))
    t = temperature
    above = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12)))
    )
    cooler = 20 - t
    power = cooler / (t + 96) * (1.2364 - 1.37e-3 * cooler + 5.7e-6 * cooler**2)
    return Water(above / (1 + 16.879850e-3 * t), 1.002e-3 * 10**power)


COOL = water(20)
"""Water at 20 degC."""


def velocity(flow: float, bore: float) -> float:
    """Mean velocity [m/s] in a pipe.

    >>> round(velocity(8 / 3600, 0.05), 4)
    1.1318
    """
    return 4 * flow / (math.pi * bore**2)


def reynolds(flow: float, bore: float, fluid: Water) -> float:
    """Reynolds number of a flow in a pipe.

    >>> round(reynolds(8 / 3600, 0.05, Water(998.2, 0.001002)))
    56374
    """
    return fluid.density * velocity(flow, bore) * bore / fluid.viscosity


def friction_factor(number: float, roughness: float = 0.0) -> float:
    """Darcy's friction factor for a Reynolds number and a relative roughness. Raises ValueError.

    Laminar 64/Re; turbulent Colebrook 1939, J. Inst. Civ. Eng. 11:133, solved by Newton's method to the last digits.

    >>> friction_factor(1000), round(friction_factor(56374, 1.5e-6 / 0.05), 6)
    (0.064, 0.020459)
    """
    if not (number > 0 and math.isfinite(number)):
        raise ValueError(_("Reynolds number {number:g}: must be above 0", number=number))
    if not 0 <= roughness <= 0.1:
        raise ValueError(_("relative roughness {roughness:g}: must be between 0 and 0.1", roughness=roughness))
    if number < TURBULENT_FROM:
        return 64 / number
    rough, viscous = roughness / 3.7, 2.51 / number
    # Haaland's formula is within 2 %; from there three steps of Newton reach the end of a float: each squares the error
    x = -1.8 * math.log10(rough**1.11 + 6.9 / number)
    for _step in range(20):
        inside = rough + viscous * x
        step = (x + 2 * math.log10(inside)) / (1 + 2 * viscous / (inside * LN_10))
        x -= step
        if abs(step) < 1e-8 * x:
            break
    return 1 / (x * x)


def loss_along(flow: float, bore: float, length: float, fluid: Water, roughness: float = SMOOTH_PLASTIC) -> float:
    """Pressure lost along a straight pipe [Pa], by Darcy-Weisbach.

    >>> round(loss_along(8 / 3600, 0.05, 100, Water(998.2, 0.001002)))
    26158
    """
    if flow <= 0 or length <= 0:
        return 0.0
    factor = friction_factor(reynolds(flow, bore, fluid), roughness / bore)
    return factor * length / bore * fluid.density * velocity(flow, bore) ** 2 / 2


class LikelySpan(NamedTuple):
    """A figure that is not known closely: the likely one, and the span in which it lies."""

    low: float
    likely: float
    high: float


LEAST_OF_COIL, MOST_OF_COIL = 0.5, 2.5
"""The span of what coils add, as parts of the likely one: correlations in print run that far apart."""


def coil_factor(number: float, bore: float, coil_diameter: float) -> LikelySpan:
    """What a coil loses, as a factor on straight pipe, in turbulent flow: an allowance, not a fact.

    Ito 1959, J. Basic Eng. 81:123, for the likely one (form from memory).

    >>> [round(one, 2) for one in coil_factor(176168, 0.1, 2.0)]
    [1.18, 1.36, 1.89]
    """
    more = max(1.0, number * (bore / coil_diameter) ** 2) ** 0.05 - 1
    return LikelySpan(1 + LEAST_OF_COIL * more, 1 + more, 1 + MOST_OF_COIL * more)
