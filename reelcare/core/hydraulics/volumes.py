"""Volumes of water as a person reads them: in m3, or in acre-inches."""

from __future__ import annotations

from reelcare.core import units
from reelcare.core.text import localized

PLACES: dict[units.System, int] = {"metric": 0, "us": 2}
"""How many decimals a volume has: about as fine in either unit."""


def unit(system: units.System) -> str:
    """The unit, as the heading of a column names it.

    >>> unit("metric"), unit("us")
    ('m3', 'acre-in')
    """
    return units.unit_for("volume", system)


def figure(volume: float, system: units.System, least: int = 0) -> str:
    """A volume [m3] without its unit, with at least so many decimals.

    >>> figure(510.2, "metric"), figure(510.2, "metric", 1), figure(510.2, "us", 1)
    ('510', '510.2', '4.96')
    """
    return localized(f"{units.in_unit(volume, unit(system)):.{max(PLACES[system], least)}f}")


def told(volume: float, system: units.System, least: int = 0) -> str:
    """A volume [m3] with its unit, with at least so many decimals.

    >>> told(510.2, "metric"), told(510.2, "us")
    ('510 m3', '4.96 acre-in')
    """
    return f"{figure(volume, system, least)} {unit(system)}"


def beside_limit(system: units.System, value: float, limit: float, *others: float) -> list[str]:
    """A volume, its limit, and others [m3]: as they are told, and finer where the volume would read as its limit.

    >>> beside_limit("metric", 1020, 1000, 20), beside_limit("metric", 1000.4, 1000, 0.4)
    (['1020 m3', '1000 m3', '20 m3'], ['1000.4 m3', '1000.0 m3', '0.4 m3'])
    >>> beside_limit("metric", 1000, 1000), beside_limit("us", 1000.4, 1000)
    (['1000 m3', '1000 m3'], ['9.732 acre-in', '9.729 acre-in'])
    """
    alike = (least for least in range(6) if figure(value, system, least) != figure(limit, system, least))
    least = next(alike, 0)
    return [told(one, system, least) for one in (value, limit, *others)]
