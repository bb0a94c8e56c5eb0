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


class SetLimitsError(ValueError):
    """A table of limits that cannot be right: every problem, with its key."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("; ".join(problems))
        self.problems = problems


@dataclass(frozen=True, slots=True)
class SetLimits:
    """Limits: coils that stay, drive loss [Pa], gun pressure from and to [Pa], straight part of the path [part], all
    its curves [degrees]. Taken where not known: discharge coefficient, friction of hose on ground, rolling of the
    cart, packing, what coils add to the loss (part), temperature [degC], roughness [m], yield strength [Pa], part of
    the wetted radius that counts for the rate.
    """

    least_coils: float
    drive_loss: float
    gun_least: float
    gun_most: float
    straight_first: float
    most_curve: float
    discharge: float
    ground_friction: float
    rolling: float
    packing: float
    coil_more: float
    temperature: float
    roughness: float
    yield_strength: float
    radius_counts: float


_FORMS: dict[str, tuple[str, units.Quantity | None, float, float]] = {
    "limits.least_coils": ("least_coils", None, 0, 20),
    "limits.drive_loss": ("drive_loss", "pressure", 1e3, 5e5),
    "limits.gun_least": ("gun_least", "pressure", 1e4, 2e6),
    "limits.gun_most": ("gun_most", "pressure", 1e4, 2e6),
    "limits.straight_first": ("straight_first", None, 0, 100),
    "limits.most_curve": ("most_curve", None, 0, 360),
    "taken.discharge": ("discharge", None, 0.5, 1.0),
    "taken.ground_friction": ("ground_friction", None, 0.05, 2.0),
    "taken.rolling": ("rolling", None, 0.0, 1.0),
    "taken.packing": ("packing", None, 0.8, 1.05),
    "taken.coil_more": ("coil_more", None, 0, 200),
    "taken.temperature": ("temperature", "temperature", 0, 60),
    "taken.roughness": ("roughness", "length", 0, 0.001),
    "taken.yield_strength": ("yield_strength", "pressure", 1e6, 1e8),
    "taken.radius_counts": ("radius_counts", None, 0.5, 1.0),
}
_PERCENT = {"straight_first", "coil_more"}


def read_set_limits(table: Mapping[str, Any]) -> SetLimits:
    """The limits that a table says. Raises SetLimitsError with every problem."""
    problems = [
        f"{one}: not known; right are limits and taken" for one in table if one not in ("limits", "taken", "id")
    ]
    found: dict[str, float] = {}
    for room in ("limits", "taken"):
        for key in table.get(room, {}):
            if f"{room}.{key}" not in _FORMS:
                problems.append(f"{room}.{key}: not known")
    for where, (name, quantity, least, most) in _FORMS.items():
        room, _, key = where.partition(".")
        value = table.get(room, {}).get(key)
        try:
            number = _number(value, quantity)
        except units.UnitsError as why:
            problems.append(f"{where}: {why}")
            continue
        if not (math.isfinite(number) and least <= number <= most):
            problems.append(f"{where}: {value} cannot be")
        found[name] = number / 100 if name in _PERCENT else number
    if not problems and found["gun_least"] > found["gun_most"]:
        problems.append("limits.gun_least: above limits.gun_most")
    if problems:
        raise SetLimitsError(problems)
    return SetLimits(**found)


def _number(value: Any, quantity: units.Quantity | None) -> float:
    if value is None:
        raise units.UnitsError("missing")
    if quantity is None:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise units.UnitsError(f"{value!r}; a bare number is right here")
        return float(value)
    if not isinstance(value, str):
        raise units.UnitsError(f"{value!r}; a number with its unit is right here ({units.COMMON[quantity]})")
    return units.read(value, quantity)
