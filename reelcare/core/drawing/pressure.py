"""Pressure down the line, from inlet to gun, as bars under each other.

The rules of this file: pressures in Pa; every bar has the same scale from nothing to the highest; what is
lost on the way to a place is drawn light behind its bar, so that the sum of the losses can be seen.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reelcare.core import units
from reelcare.core.drawing.canvas import Canvas, Picture, cut
from reelcare.core.text import _

BAR, LOST, WANTED, NAME, VALUE, WRONG, CHANGE = "bar", "lost", "wanted", "name", "value", "wrong", "change"
"""Tags: bar, what is lost, marks of the wanted range, name, value, a value outside its range, change."""
SHORTEST, LONG = 6, 14
SMALLEST = 500.0
"""Changes [Pa] below this are not written."""


@dataclass(frozen=True, slots=True)
class PressurePoint:
    """A place on the line: its name, the pressure there [Pa], and the range [Pa] wanted there, if any."""

    name: str
    pressure: float
    wanted: tuple[float, float] | None = None

    @property
    def fits(self) -> bool:
        """Whether the pressure is inside the wanted range."""
        return self.wanted is None or self.wanted[0] <= self.pressure <= self.wanted[1]


def draw(places: Sequence[PressurePoint], *, width: int = 60, system: units.System = "metric") -> Picture:
    """One row for each place, from the inlet on. Raises ValueError where a pressure is not a number."""
    for place in places:
        if not math.isfinite(place.pressure):
            raise ValueError(
                _("{name}: a pressure of {pressure} cannot be drawn", name=place.name, pressure=place.pressure)
            )
    shown = [units.show(one.pressure, "pressure", system) for one in places]
    before = [place.pressure for place in (*places[:1], *places[:-1])]
    changes = [_change(place, was, system) for place, was in zip(places, before, strict=True)]
    names = min(max((len(one.name) for one in places), default=0), max(10, width // 2 - 4))
    value = max((len(one) for one in shown), default=0)
    change = max((len(one) for one in changes), default=0)
    if width - names - value - change - 3 < LONG:
        change = 0
    bar = max(SHORTEST, width - names - value - change - (3 if change else 2))
    most = max([1.0, *(one.pressure for one in places), *(one.wanted[1] for one in places if one.wanted)])
    canvas = Canvas(max(width, names + bar + value + 2), len(places))
    for row, (place, was) in enumerate(zip(places, before, strict=True)):
        canvas.put(0, row, cut(place.name, names), NAME)
        _bar(canvas, names + 1, row, bar, place.pressure / most, max(0.0, was) / most)
        if place.wanted is not None:
            for edge, sign in zip(place.wanted, "[]", strict=True):
                canvas.put(names + 1 + min(bar - 1, round(edge / most * bar)), row, sign, WANTED)
        canvas.put(names + 2 + bar, row, f"{shown[row]:>{value}}", VALUE if place.fits else WRONG)
        if change:
            canvas.put(names + 3 + bar + value, row, f"{changes[row]:>{change}}", CHANGE)
    return canvas.picture()


def _change(place: PressurePoint, before: float, system: units.System) -> str:
    change = place.pressure - before
    if abs(change) < SMALLEST:
        return ""
    return ("−" if change < 0 else "+") + units.show(abs(change), "pressure", system, role="drive loss")


def _bar(canvas: Canvas, x: int, row: int, width: int, part: float, before: float) -> None:
    full = max(0.0, min(1.0, part)) * width
    whole = int(full + 1e-9)
    for place in range(min(width, round(min(1.0, before) * width))):
        canvas.put(x + place, row, "░", LOST)
    for place in range(whole):
        canvas.put(x + place, row, "█", BAR)
    if full - whole >= 0.5 and whole < width:
        canvas.put(x + whole, row, "▌", BAR)
