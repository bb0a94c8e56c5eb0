"""What a set is warned of: a code that other programs can rely on, a sentence in the person's units; and the margin of
each limited figure.

The rules of this file: a sentence names the figure, its limit and the cure. Figures stand in it as SI values with
their quantity, so that they are written when somebody reads them. Every limit is 100 %, whatever it measures; a margin
is what is left to that, negative past it. Only what is likely decides whether a set holds; the unsafe end warns.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations, repeat
from string import Formatter
from typing import NamedTuple

from reelcare.core import units
from reelcare.core.text import _, localized, mark

Figure = tuple[float, units.Quantity, str]
"""A value in SI, what it measures, and the role that rounds it. A limit has its side before that: "most" is rounded
down, "least" up, so that what is read still holds."""
SIDES = ("most", "least")
"""Of which side a figure is a limit."""
FINEST = 3
"""How many more places a figure is written with at most, so that it does not read as its limit."""


class Code(NamedTuple):
    """A warning that other programs can rely on: what it means, what people call the figure that it limits, and what
    makes that its worst; the last two '' where there is none."""

    means: str
    label: str = ""
    worst_when: str = ""


CODES: Mapping[str, Code] = {
    "pull-out": Code(mark("more is pulled out than there is hose"), mark("hose pulled out")),
    "coils": Code(mark("too few coils stay on the drum"), mark("coils left")),
    "drum": Code(mark("the card's hose does not fit on the card's drum"), mark("hose on the drum")),
    "gun-low": Code(
        mark("gun pressure under its range"), mark("gun pressure, least"), mark("rough hose, coils that lose most")
    ),
    "gun-high": Code(
        mark("gun pressure over its range"), mark("gun pressure, most"), mark("smooth hose, coils that lose least")
    ),
    "not-fed": Code(
        mark("the inlet does not feed the gun as wanted"),
        mark("inlet pressure"),
        mark("rough hose, coils that lose most"),
    ),
    "nozzle": Code(mark("flow, nozzle and pressure do not belong together")),
    "drive-loss": Code(mark("the drive takes too much"), mark("drive loss")),
    "drag": Code(mark("the hose pulls harder than its wall may bear"), mark("pull on the hose"), mark("on dry ground")),
    "wall": Code(
        mark("pull and pressure together are more than the wall of the hose may bear"),
        mark("wall of the hose"),
        mark("on dry ground, hose hot in the sun"),
    ),
    "hose-pressure": Code(
        mark("pressure over what the hose is rated for"), mark("rating of the hose"), mark("hose hot in the sun")
    ),
    "spacing": Code(mark("lanes too far apart for the wind"), mark("lane spacing")),
    "wind": Code(mark("too much wind to work in"), mark("wind")),
    "wind-rows": Code(mark("more wind than published lane spacings cover"), mark("wind, published rows")),
    "slope": Code(mark("the lane is steeper than gun travellers are used on"), mark("slope")),
    "runoff": Code(mark("water falls faster than the soil takes it in"), mark("rate on the soil")),
    "late": Code(mark("the run is not done in time")),
    "speed-spread": Code(mark("the cart's speed changes much over the run")),
    "bend-early": Code(mark("a curve begins too near to the machine"), mark("straight first")),
    "bend-much": Code(mark("too much curve in all"), mark("curve in all")),
    "bend-tight": Code(mark("a curve tighter than the hose may be bent"), mark("tightest curve")),
}
"""Every code."""
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
    """One warning. `says` names its figures as fields, in their order in English, and the place as `where`."""

    code: str
    says: str
    figures: tuple[Figure, ...] = ()
    where: str = ""
    slack: float = 1.0
    """How far past the limit among the figures still counts as on it."""

    def text(self, system: units.System = "metric") -> str:
        """The sentence in the person's language, in the units of a system.

        >>> Warned("coils", "{coils} coils stay", ((1.46, "count", ""),)).text()
        '1.5 coils stay'
        """
        for finer in range(FINEST + 1):
            told = [_figure(figure, system, finer, self.slack) for figure in self.figures]
            if not _read_alike(self.figures, told) and not any(map(_too_coarse, self.figures, told, repeat(system))):
                break
        fields = [field for _text, field, _spec, _convert in Formatter().parse(self.says) if field and field != "where"]
        return _(self.says, **dict(zip(fields, map(localized, told), strict=True)), where=_(self.where))


def _figure(figure: Figure, system: units.System, finer: int, slack: float = 1.0) -> str:
    """A figure with more decimal places than is usual, with a point; a limit on its safe side."""
    value, quantity, role = figure
    side, rounding = _side_and_role(role)
    if quantity == "count":
        places = finer + 1
        if rounding == "whole":
            places = 0 if value % 1 == 0 else max(finer, 1 if side else 0)
        return f"{on_step(value, role, 10.0**-places, slack):.{places}f}"
    name = units.unit_for(quantity, system, rounding)
    step = units.step_for(quantity, system, rounding) / 10**finer
    return units.as_kept(units.from_unit(on_step(units.in_unit(value, name), role, step, slack), name), name, step)


def _side_and_role(role: str) -> tuple[str, str]:
    """The side of which a figure is a limit ('' where it is none), and the role that rounds it.

    >>> _side_and_role("most drive loss"), _side_and_role("least"), _side_and_role("rate")
    (('most', 'drive loss'), ('least', ''), ('', 'rate'))
    """
    first, _blank, rest = role.partition(" ")
    return (first, rest) if first in SIDES else ("", role)


def on_step(value: float, role: str, step: float, slack: float = 1.0) -> float:
    """A limit on a step: on the next one to its safe side, where the nearest would be past it by more than its slack.
    What is no limit stays as it is.

    >>> [round(on_step(value, role, 0.1), 1) for value, role in ((7.88, "most"), (7.0, "most"), (7.84, "least"))]
    [7.8, 7.0, 7.9]
    >>> round(on_step(4.137, "least", 0.1, 0.99), 1), on_step(7.88, "", 0.1)
    (4.1, 7.88)
    """
    side, steps = _side_and_role(role)[0], value / step
    if side == "least":
        return max(round(steps), math.ceil(steps * min(slack, 1.0) - 1e-9)) * step
    return min(round(steps), math.floor(steps * max(slack, 1.0) + 1e-9)) * step if side else value


COARSE = 0.05
"""By which part a written figure may be off its value: a radius of 0.36 m does not read as 0 m."""


def _too_coarse(figure: Figure, told: str, system: units.System) -> bool:
    """Whether a small figure is written so roughly that it reads as another, or as nothing."""
    value, quantity, role = figure
    if quantity in ("count", "temperature"):
        return False
    here = units.in_unit(value, units.unit_for(quantity, system, _side_and_role(role)[1]))
    return abs(float(told.split()[0]) - here) > COARSE * abs(here)


def fine_enough(
    value: float, quantity: units.Quantity, role: str, system: units.System, finer: int = 0, slack: float = 1.0
) -> str:
    """A figure as it is usually written, or with more decimal places; finer where it is so small that this would tell
    another.

    >>> fine_enough(0.358, "length", "", "metric"), fine_enough(47.7, "length", "", "metric")
    ('0.36 m', '48 m')
    """
    figure = (value, quantity, role)
    return localized(_figure(figure, system, places_for(figure, system, finer, slack), slack))


def places_for(figure: Figure, system: units.System, finer: int = 0, slack: float = 1.0) -> int:
    """With how many more places than usual a figure is written so that it does not tell another."""
    tries = range(finer, FINEST)
    return next((one for one in tries if not _too_coarse(figure, _figure(figure, system, one, slack), system)), FINEST)


def no_more_than(value: float, quantity: units.Quantity, system: units.System) -> str:
    """A figure that may be reached and not passed, rounded down.

    >>> no_more_than(75.71, "length", "metric"), no_more_than(75.71, "length", "us")
    ('75 m', '248 ft')
    """
    return fine_enough(value, quantity, "most", system)


def _read_alike(figures: tuple[Figure, ...], told: list[str]) -> bool:
    """Whether two figures of one kind that differ are written as one number."""
    kinds = [(quantity, float(text.split()[0])) for (_, quantity, _), text in zip(figures, told, strict=True)]
    values = [value for value, _, _ in figures]
    return any(kinds[i] == kinds[j] and values[i] != values[j] for i, j in combinations(range(len(values)), 2))


MOST = 999.0
"""No figure is told as more percent of its limit than this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """One limited figure in SI, its likely and its worst value with the limit of each, and where they stand.

    `slack` is how far past the limit still counts as on it. `says` is the warning where it is past: it names the likely
    figure and the limit, or other `figures`.
    """

    code: str
    says: str
    likely: float
    limit: float
    quantity: units.Quantity
    role: str = ""
    figures: tuple[Figure, ...] = ()
    worst: float | None = None
    worst_limit: float | None = None
    where: str = ""
    worst_where: str = ""
    at_least: bool = False
    decides: bool = True
    slack: float = 1.0

    @property
    def warned(self) -> Warned:
        """What is said where it is past its limit."""
        usual = ((self.likely, self.quantity, self.role), (self.limit, self.quantity, self.limit_role))
        return Warned(self.code, self.says, self.figures or usual, self.where, self.slack)

    @property
    def limit_role(self) -> str:
        """The role of the limit, with its side."""
        return f"{'least' if self.at_least else 'most'} {self.role}".rstrip()

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
        return min(self.margin, self._margin(self.at_worst, self.limit_at_worst))

    @property
    def at_worst(self) -> float:
        """The figure at the unsafe end."""
        return self.likely if self.worst is None else self.worst

    @property
    def limit_at_worst(self) -> float:
        """Its limit there."""
        return self.limit if self.worst_limit is None else self.worst_limit

    def _margin(self, value: float, limit: float) -> float:
        above, below = (limit, value) if self.at_least else (value, limit)
        if below <= 0:
            return 0.0 if above <= 0 else 100 - MOST
        left = max(100 * (1 - above / below), 100 - MOST)
        return 0.0 if left < 0 and self._is_on(value, limit) else left

    def _is_on(self, value: float, limit: float) -> bool:
        """Whether a value is past its limit by no more than counts as on it."""
        return value >= limit * self.slack if self.at_least else value <= limit * self.slack
