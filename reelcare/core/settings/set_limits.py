"""What a set is held to, and what is taken where nothing is known: read from a table, never from here.

The rules of this file: the shipped table is `checklists/set-limits.toml`, where the source of each figure stands;
a person's own table of the same form goes before it, a machine's card before both. Everything SI inside.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from reelcare.core import units
from reelcare.core.hydraulics.gun import DISCHARGES
from reelcare.core.text import _
from reelcare.core.wording import ProblemsError


class SetLimitsError(ProblemsError):
    """A table of limits that cannot be right."""


@dataclass(frozen=True, slots=True)
class WorstEnds:
    """The unsafe end of what is not known: friction of hose on ground, rolling of the cart, roughness [m], a hose hot
    and water cold [degC], discharge coefficient from and to, the least that a drive takes [Pa]; air [degC], humidity
    [percent] and wind [m/s] in which most is lost.
    """

    ground_friction: float
    rolling: float
    roughness: float
    hot: float
    cold: float
    discharge_least: float
    discharge_most: float
    drive_loss_least: float
    air: float
    humidity: float
    wind: float


@dataclass(frozen=True, slots=True)
class SetLimits:
    """Limits: coils that stay, drive loss [Pa], gun pressure from and to [Pa], straight part of the path [part], all
    its curves [degrees], slope [part], the fastest that a hose comes home [m/s]. Taken where not known: discharge
    coefficient, friction of hose on ground, rolling of the cart, packing, what coils add to the loss (part),
    temperature [degC], roughness [m], yield strength of PE80 [Pa], part of the wetted radius that counts for the rate,
    air [degC], humidity [percent], wind [m/s], efficiencies of pump and motor [parts]. And the unsafe end of each.
    """

    least_coils: float
    drive_loss: float
    gun_least: float
    gun_most: float
    straight_first: float
    most_curve: float
    most_slope: float
    fastest: float
    discharge: float
    ground_friction: float
    rolling: float
    packing: float
    coil_more: float
    temperature: float
    roughness: float
    yield_strength: float
    radius_counts: float
    air: float
    humidity: float
    wind: float
    pump_efficiency: float
    motor_efficiency: float
    worst: WorstEnds


_FORMS: dict[str, tuple[units.Quantity | None, float, float]] = {
    "limits.least_coils": (None, 0, 20),
    "limits.drive_loss": ("pressure", 1e3, 5e5),
    "limits.gun_least": ("pressure", 1e4, 2e6),
    "limits.gun_most": ("pressure", 1e4, 2e6),
    "limits.straight_first": (None, 0, 100),
    "limits.most_curve": (None, 0, 360),
    "limits.most_slope": (None, 1, 100),
    "limits.fastest": ("speed", 0.01, 10),
    "taken.discharge": (None, *DISCHARGES),
    "taken.ground_friction": (None, 0.05, 2.0),
    "taken.rolling": (None, 0.0, 1.0),
    "taken.packing": (None, 0.8, 1.05),
    "taken.coil_more": (None, 0, 200),
    "taken.temperature": ("temperature", 0, 60),
    "taken.roughness": ("length", 0, 0.001),
    "taken.yield_strength": ("pressure", 1e6, 1e8),
    "taken.radius_counts": (None, 0.5, 1.0),
    "taken.air": ("temperature", 0, 50),
    "taken.humidity": (None, 0, 100),
    "taken.wind": ("speed", 0, 20),
    "taken.pump_efficiency": (None, 5, 100),
    "taken.motor_efficiency": (None, 5, 100),
    "worst.ground_friction": (None, 0.05, 2.0),
    "worst.rolling": (None, 0.0, 1.0),
    "worst.roughness": ("length", 0, 0.001),
    "worst.hot": ("temperature", 0, 40),
    "worst.cold": ("temperature", 0, 60),
    "worst.discharge_least": (None, *DISCHARGES),
    "worst.discharge_most": (None, *DISCHARGES),
    "worst.drive_loss_least": ("pressure", 0, 5e5),
    "worst.air": ("temperature", 0, 50),
    "worst.humidity": (None, 0, 100),
    "worst.wind": ("speed", 0, 40),
}
_PERCENT = {"straight_first", "coil_more", "most_slope", "pump_efficiency", "motor_efficiency"}
_ROOMS = ("limits", "taken", "worst")


def read_set_limits(table: Mapping[str, Any]) -> SetLimits:
    """The limits that a table says. Raises SetLimitsError with every problem."""
    problems = [
        _("{key}: not known; choose from {known}", key=one, known=", ".join(_ROOMS))
        for one in table if one not in (*_ROOMS, "id")
    ]  # fmt: skip
    rooms = {room: table.get(room, {}) for room in _ROOMS}
    odd = [room for room, said in rooms.items() if not isinstance(said, Mapping)]
    if odd:
        raise SetLimitsError([*problems, *(_("{key}: must be a section [{key}]", key=room) for room in odd)])
    problems += [
        _("{room}.{key}: not known", room=room, key=key)
        for room, said in rooms.items() for key in said if f"{room}.{key}" not in _FORMS
    ]  # fmt: skip
    found: dict[str, dict[str, float]] = {room: {} for room in _ROOMS}
    for where, (quantity, least, most) in _FORMS.items():
        room, key = where.split(".")
        value = rooms[room].get(key)
        try:
            number = _number(value, quantity)
        except units.UnitsError as why:
            problems.append(f"{where}: {why}")
            continue
        if not (math.isfinite(number) and least <= number <= most):
            problems.append(_("{key}: {value} cannot be right", key=where, value=value))
        found[room][key] = number / 100 if key in _PERCENT else number
    limits, taken, worst = (found[room] for room in _ROOMS)
    if not problems and limits["gun_least"] > limits["gun_most"]:
        problems.append(_("{low}: above {high}", low="limits.gun_least", high="limits.gun_most"))
    if not problems and worst["discharge_least"] > worst["discharge_most"]:
        problems.append(_("{low}: above {high}", low="worst.discharge_least", high="worst.discharge_most"))
    if problems:
        raise SetLimitsError(problems)
    return SetLimits(**limits, **taken, worst=WorstEnds(**worst))


def _number(value: Any, quantity: units.Quantity | None) -> float:
    if value is None:
        raise units.UnitsError(_("missing"))
    if quantity is None:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise units.UnitsError(_("{value}: must be a bare number", value=repr(value)))
        return float(value)
    if not isinstance(value, str):
        common = units.COMMON[quantity]
        raise units.UnitsError(_("{value}: must be a number with its unit ({units})", value=repr(value), units=common))
    return units.read(value, quantity)
