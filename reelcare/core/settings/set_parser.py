"""A set as it is asked for in words: texts to wishes, and the plan of the day that walk-rounds are held to.

The rules of this file: what can be asked stands in `reelcare/core/settings/fields.py`, for the command line and the
screen alike. A bare number is refused, unless the person's units are handed in. Every problem is told at once, with the
name of its field.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import datetime, tzinfo
from typing import Any

from reelcare.core import units
from reelcare.core.hydraulics.hose import Bend
from reelcare.core.settings.fields import BY_KEY, TEXT, SetField
from reelcare.core.settings.set_limits import SetLimits
from reelcare.core.settings.set_request import WishError, Wishes, beyond
from reelcare.core.settings.settings_sheet import Setting
from reelcare.core.text import _
from reelcare.core.typed_time import TimeError, read_time


def read_wishes(
    texts: Mapping[str, str],
    zone: tzinfo,
    *,
    system: units.System | None = None,
    bends: tuple[str, ...] = (),
    timing_check: bool = False,
) -> Wishes:
    """The wishes that texts say; empty ones are not said. Raises WishError with every problem.

    >>> from datetime import UTC
    >>> read_wishes({"spacing": "70 m", "depth": "1 in"}, UTC).depth
    0.0254
    """
    found: dict[str, Any] = {}
    problems = []
    for key, text in texts.items():
        if not text.strip():
            continue
        try:
            found[key] = _read(BY_KEY[key], text.strip(), zone, system)
            problems += _beyond(BY_KEY[key], text, found[key], system)
        except units.UnitsError as why:
            problems.append(f"{_(BY_KEY[key].label)}: {why}")
    curves = []
    for text in bends:
        try:
            curves.append(_bend(text))
        except units.UnitsError as why:
            problems.append(_("curve: {why}", why=why))
    if problems:
        raise WishError(problems)
    return Wishes(**found, bends=tuple(curves), timing_check=timing_check)


def _read(field: SetField, text: str, zone: tzinfo, system: units.System | None) -> float | datetime | str:
    if field.role == TEXT:
        return text
    if field.quantity is None:
        try:
            return read_time(text, zone, field.example)
        except TimeError as why:
            raise units.UnitsError(str(why)) from None
    if system is not None and field.quantity != "count" and not units.split(text)[1]:
        text = f"{text} {units.unit_for(field.quantity, system, field.role)}"
    value = units.read(text, field.quantity)
    return value / 100 if field.key == "coil_more" else value


def _beyond(field: SetField, text: str, value: float | datetime | str, system: units.System | None) -> list[str]:
    """What is said of a figure that cannot be, in the unit in which it was typed."""
    if field.quantity is None or field.quantity == "count" or not isinstance(value, float):
        return []
    unit = units.split(text)[1] or units.unit_for(field.quantity, system or "metric", field.role)
    told = beyond(field, value, unit)
    return [told] if told else []


def _bend(text: str) -> Bend:
    parts = [one.strip() for one in text.split(",")]
    if len(parts) != 3:
        raise units.UnitsError(
            _("{text}: give where it begins, its length and its degrees, as in `60 m, 100 m, 45`", text=repr(text))
        )
    return Bend(units.read(parts[0], "length"), units.read(parts[1], "length"), units.number(parts[2]))


def plan_of_the_day(setting: Setting, limits: SetLimits) -> dict[str, str]:
    """What a walk-round on this set is held to: named values as texts with their units.

    Sheets name them as `set.` and the name: planned_speed, inlet_pressure, most_inlet (where the ground falls or the
    hose is warm), gun_pressure, least_coils, coils_left, pull_out, finish.
    """
    plan: dict[str, str] = {}
    if setting.speed is not None:
        plan["planned_speed"] = units.as_kept(setting.speed, "m/h", 0.01)
    place = setting.at_pull_out
    if place is not None:
        plan["inlet_pressure"] = units.as_kept(place.inlet, "bar", 0.01)
        plan["gun_pressure"] = units.as_kept(place.gun, "bar", 0.01)
    if setting.most_inlet is not None:
        plan["most_inlet"] = f"{math.floor(setting.most_inlet / 1e3) / 100:.2f} bar"
    plan["least_coils"] = "0" if setting.wishes.timing_check else f"{limits.least_coils:g}"
    if setting.coils_left is not None:
        plan["coils_left"] = f"{setting.coils_left:.1f}"
    if setting.wishes.out is not None:
        plan["pull_out"] = units.as_kept(setting.wishes.out, "m", 0.1)
    if setting.finish is not None:
        plan["finish"] = setting.finish.isoformat(timespec="minutes")
    return plan
