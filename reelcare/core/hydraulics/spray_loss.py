"""What of the water never arrives: evaporation on its way through the air, and drift.

The rules of this file: three published field relations that disagree, for small sprinklers and for moving ones; none
was measured on big guns alone. The least, the middle and the greatest of them are given, as parts of the water.
Pressures in Pa, bores in m, wind in m/s, air in degC, humidity in percent.
"""

from __future__ import annotations

import math

from reelcare.core.hydraulics.friction import LikelySpan

MOST = 0.6
"""No relation is believed beyond this part: the greatest losses measured are under a half (Sarwar, Peters, Mohamed
2019, ASABE 1901235: 3 to 49 %)."""


def vapour_deficit(air: float, humidity: float) -> float:
    """Vapour pressure deficit of the air [Pa] (FAO Irrigation and Drainage Paper 56, equation 11).

    >>> round(vapour_deficit(25, 0)), round(vapour_deficit(25, 100))
    (3168, 0)
    """
    return 610.8 * math.exp(17.27 * air / (air + 237.3)) * (1 - humidity / 100)


def by_nozzle(bore: float, pressure: float, wind: float, deficit: float) -> float:
    """Part that is lost by bore, pressure, wind and vapour pressure deficit.

    Trimmer 1987, J. Irrig. Drain. Eng. 113(4):616, fitted to the nomograph of Frost and Schwalen 1955 of over 700
    tests of small sprinklers (coefficients from memory).

    >>> round(100 * by_nozzle(0.024, 450e3, 3, 1500), 1)
    2.3
    """
    grown = (
        1.98 * (1000 * bore) ** -0.72 + 0.22 * (deficit / 1000) ** 0.63
        + 3.6e-4 * (pressure / 1000) ** 1.16 + 0.14 * wind**0.7
    )  # fmt: skip
    return math.pow(grown, 4.2) / 100


def moving(wind: float, air: float) -> float:
    """Part that is lost under moving laterals by wind and air (Playan et al. 2005, Agric. Water Manage. 76:139).

    >>> round(100 * moving(3, 25), 1)
    9.4
    """
    return max(0.0, -2.1 + 1.91 * wind + 0.231 * air) / 100


def solid_set(wind: float, humidity: float) -> float:
    """Part that is lost under solid sets by wind and humidity (Playan et al. 2005, Agric. Water Manage. 76:139).

    >>> round(100 * solid_set(3, 50), 1)
    16.5
    """
    return max(0.0, 20.3 + 0.214 * wind**2 - 2.29e-3 * humidity**2) / 100


def spray_loss(bore: float, pressure: float, wind: float, air: float, humidity: float) -> LikelySpan:
    """The part of the water that is lost: the least, the middle and the greatest of the three relations.

    >>> [round(100 * one) for one in spray_loss(0.024, 450e3, 3, 25, 50)]
    [2, 9, 17]
    """
    found = sorted(
        min(MOST, one)
        for one in (
            by_nozzle(bore, pressure, wind, vapour_deficit(air, humidity)), moving(wind, air),
            solid_set(wind, humidity),
        )
    )  # fmt: skip
    return LikelySpan(*found)
