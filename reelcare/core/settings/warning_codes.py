"""What a set is warned of: a code that other programs can rely on, a sentence in the person's units; and the margin of
each limited figure.

The rules of this file: a sentence names the figure, its limit and the cure. Figures stand in it as SI values with
their quantity, so that they are written when somebody reads them. Every limit is 100 %, whatever it measures; a margin
is what is left to that, negative past it. Only what is likely decides whether a set holds; the unsafe end warns.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

from reelcare.core import units
from reelcare.core.text import mark

Figure = tuple[float, units.Quantity, str]
"""A value in SI, what it measures, and the role that rounds it ("most" rounds a length down: so much and no more)."""
FINEST = 3
"""How many more places a figure is written with at most, so that it does not read as its limit."""

CODES: dict[str, str] = {
    "pull-out": "more is pulled out than there is hose",
    "coils": "too few coils stay on the drum",
    "drum": "the card's hose does not fit on the card's drum",
    "gun-low": "gun pressure under its range",
    "gun-high": "gun pressure over its range",
    "not-fed": "the inlet does not feed the gun as wanted",
    "nozzle": "flow, nozzle and pressure do not belong together",
    "drive-loss": "the drive takes too much",
    "drag": "the hose pulls harder than its wall may bear",
    "wall": "pull and pressure together are more than the wall of the hose may bear",
    "hose-pressure": "pressure over what the hose is rated for",
    "spacing": "lanes too far apart for the wind",
    "wind": "more wind than is worked in",
    "wind-rows": "more wind than any published spacing",
    "slope": "the lane is steeper than gun travellers are used on",
    "runoff": "water falls faster than the soil takes it in",
    "late": "the run is not done in time",
    "speed-spread": "the cart's speed changes much over the run",
    "bend-early": "a curve begins too near to the machine",
    "bend-much": "too much curve in all",
    "bend-tight": "a curve tighter than the hose may be bent",
}
"""Every code, and what it means."""
CANNOT_BE = ("pull-out", "hose-pressure", "drag", "wall", "coils")
"""What no set may have, the worst first: it is shown, and never kept. Coils of a timing check are not warned of."""


def refused(codes: Iterable[str]) -> str:
    """The code for which a set with these warnings cannot be; '' where it can.

    >>> refused(["late", "drag", "pull-out"]), refused(["late"])
    ('pull-out', '')
    """
    found = set(codes)
    return next((one for one in CANNOT_BE if one in found), "")


@dataclass(frozen=True, slots=True)
class Warned:
    """One warning. `says` has a pair of braces for each figure."""

    code: str
    says: str
    figures: tuple[Figure, ...] = ()

    def text(self, system: units.System = "metric") -> str:
        """The sentence in the units of a system.

        >>> Warned("coils", "{} coils stay", ((1.46, "count", ""),)).text()
        '1.5 coils stay'
        """
        for finer in range(FINEST + 1):
            told = [_figure(figure, system, finer) for figure in self.figures]
            if not _read_alike(self.figures, told):
                break
        return self.says.format(*told)


def _figure(figure: Figure, system: units.System, finer: int) -> str:
    """A figure with so many more places than is usual."""
    value, quantity, role = figure
    if quantity == "count":
        if role == "whole":
            return f"{value:.{0 if value % 1 == 0 else finer}f}"
        return f"{value:.{1 + finer}f}"
    rounding = "" if role == "most" else role
    name = units.unit_for(quantity, system, rounding)
    step = units.step_for(quantity, system, rounding) / 10**finer
    if role == "most":
        value = units.from_unit(math.floor(units.in_unit(value, name) / step) * step, name)
    return units.write(value, name, step)


def _read_alike(figures: tuple[Figure, ...], told: list[str]) -> bool:
    """Whether two figures of one kind that differ are written as one number."""
    kinds = [(quantity, float(text.split()[0])) for (_, quantity, _), text in zip(figures, told, strict=True)]
    values = [value for value, _, _ in figures]
    return any(kinds[i] == kinds[j] and values[i] != values[j] for i, j in combinations(range(len(values)), 2))


MOST = 999.0
"""No figure is told as more percent of its limit than this."""
LABELS: dict[str, str] = {
    "pull-out": mark("hose pulled out"),
    "coils": mark("coils left"),
    "drum": mark("hose on the drum"),
    "gun-low": mark("gun pressure, least"),
    "gun-high": mark("gun pressure, most"),
    "not-fed": mark("inlet pressure"),
    "drive-loss": mark("drive loss"),
    "drag": mark("pull on the hose"),
    "wall": mark("wall of the hose"),
    "hose-pressure": mark("rating of the hose"),
    "spacing": mark("lane spacing"),
    "wind": mark("wind"),
    "wind-rows": mark("wind, published rows"),
    "runoff": mark("rate on the soil"),
    "slope": mark("slope"),
    "bend-early": mark("straight first"),
    "bend-much": mark("curve in all"),
    "bend-tight": mark("tightest curve"),
}
"""What people call each limited figure."""
WORST_WHEN: dict[str, str] = {
    "drag": mark("on dry ground"),
    "wall": mark("on dry ground, hose hot in the sun"),
    "hose-pressure": mark("hose hot in the sun"),
    "gun-low": mark("rough hose, coils that lose most"),
    "gun-high": mark("smooth hose, coils that lose least"),
    "not-fed": mark("rough hose, coils that lose most"),
}
"""What makes a figure its worst."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """One limited figure in SI, its likely and its worst value with the limit of each, and where they stand.

    `slack` is how far past the limit still counts as on it; `warned` is what is said where it is past.
    """

    warned: Warned
    likely: float
    limit: float
    quantity: units.Quantity
    role: str = ""
    worst: float | None = None
    worst_limit: float | None = None
    where: str = ""
    worst_where: str = ""
    at_least: bool = False
    decides: bool = True
    slack: float = 1.0

    @property
    def code(self) -> str:
        """Its code among the warnings."""
        return self.warned.code

    @property
    def over(self) -> bool:
        """Whether the likely figure is past its limit."""
        return self.margin < 0

    @property
    def percent(self) -> float:
        """The likely figure in percent of its limit."""
        return 100 - self.margin

    @property
    def worst_percent(self) -> float:
        """The worst figure in percent of its limit."""
        return 100 - self.worst_margin

    @property
    def margin(self) -> float:
        """What is left, in percent of the limit; negative past it."""
        return self._margin(self.likely, self.limit)

    @property
    def worst_margin(self) -> float:
        """What is left at the unsafe end; never more than what is likely left."""
        value = self.likely if self.worst is None else self.worst
        return min(self.margin, self._margin(value, self.limit if self.worst_limit is None else self.worst_limit))

    def _margin(self, value: float, limit: float) -> float:
        above, below = (limit * self.slack, value) if self.at_least else (value, limit * self.slack)
        if below <= 0:
            return 0.0 if above <= 0 else 100 - MOST
        return max(100 * (1 - above / below), 100 - MOST)
