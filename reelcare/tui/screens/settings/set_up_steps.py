"""A value of a set one step more or less, as a text in a line."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from reelcare.core import units
from reelcare.core.settings.fields import TEXT, SetField
from reelcare.core.text import localized, typed_figure
from reelcare.tui.widgets.typed_quantity import with_unit

COUNT_STEPS = {"arc": 10.0, "humidity": 5.0, "ground_friction": 0.05, "coil_more": 1.0}
TIME_STEP = timedelta(minutes=30)


def stepped(field: SetField, text: str, steps: int, system: units.System, now: datetime) -> str | None:
    """The text some steps farther, from `now` where a time is not typed yet; None where it cannot be read."""
    if field.role == TEXT:
        return None
    if field.quantity is None:
        try:
            moment = datetime.fromisoformat(text) if text else now
        except ValueError:
            return None
        moment = moment.replace(minute=moment.minute // 30 * 30, second=0, microsecond=0) + steps * TIME_STEP
        return moment.replace(tzinfo=None).isoformat(timespec="minutes")
    if field.quantity == "count":
        try:
            value = units.number(typed_figure(text)) if text else 0.0
        except units.UnitsError:
            return None
        return localized(f"{max(0.0, value + steps * COUNT_STEPS[field.key]):g}")
    name = units.unit_for(field.quantity, system, field.role)
    step = units.step_for(field.quantity, system, field.role)
    try:
        typed = with_unit(text, field.quantity, system, field.role) if text else ""
        value = units.in_unit(units.read(typed, field.quantity), name) if typed else 0.0
    except units.UnitsError:
        return None
    least = -math.inf if field.key in ("rise", "temperature", "air") else 0.0
    whole = round(value / step) + steps
    return units.write(units.from_unit(max(least, whole * step), name), name, step)
