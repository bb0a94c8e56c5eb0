"""What a set is warned of: a code that other programs can rely on, and a sentence in the person's units.

The rules of this file: a sentence names the figure, its limit and the cure. Figures stand in it as SI values with
their quantity, so that they are written when somebody reads them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

from reelcare.core import units

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
    "hose-pressure": "pressure over what the hose is rated for",
    "spacing": "lanes too far apart for the wind",
    "runoff": "water falls faster than the soil takes it in",
    "late": "the run is not done in time",
    "speed-spread": "the cart's speed changes much over the run",
    "bend-early": "a curve begins too near to the machine",
    "bend-much": "too much curve in all",
}
"""Every code, and what it means."""
CANNOT_BE = ("pull-out", "hose-pressure", "drag", "coils")
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
