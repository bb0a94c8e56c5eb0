"""The scales on which services fall due: where a machine stands on them, thresholds, and distances in words.

Whole numbers of a scale are seconds, millimetres, runs, or day numbers (`date.toordinal`).
"""

from __future__ import annotations

import math
from datetime import date
from typing import Literal, NamedTuple, get_args

from reelcare.core import units
from reelcare.core.text import _, localized, plural

By = Literal["hours", "metres", "runs", "date"]
SCALES: tuple[By, ...] = get_args(By)
SOON = 0.9
"""The used part of an interval from which an item is shown as coming soon (common practice, no source)."""
WHOLE = {"hours": 3600, "metres": 1000, "runs": 1, "date": 1}
"""How many of the whole numbers that are kept (s, mm, runs, days) make one of what is said (h, m, runs, days)."""


class ScalePoint(NamedTuple):
    """Where a machine stands: the day, and its life totals (s, mm, runs)."""

    day: date
    seconds: int = 0
    millimetres: int = 0
    runs: int = 0

    @property
    def totals(self) -> tuple[int, int, int]:
        """Seconds, millimetres, runs."""
        return (self.seconds, self.millimetres, self.runs)

    @property
    def by_scale(self) -> dict[str, int]:
        """Where it stands on each of `SCALES`, by name."""
        return dict(zip(SCALES, self.position, strict=True))

    @property
    def position(self) -> tuple[int, int, int, int]:
        """Where it stands on each of `SCALES`."""
        return (self.seconds, self.millimetres, self.runs, self.day.toordinal())


class Threshold(NamedTuple):
    """One scale of an item: where it counts from, where it is due, and where its grace ends."""

    by: By
    base: int
    due: int
    late: int


def why(by: str, left: float, system: units.System = "metric") -> str:
    """Where something stands, in words; `left` is in h, m, runs or days, and negative when past. Metres are told in
    the units of the system.

    >>> why("hours", 12.25), why("date", -1), why("metres", 0.01), why("date", 0)
    ('in 12 h', '1 day past due', 'in less than 0.1 m', 'due today')
    """
    distance = amount(by, left, system)
    if not distance:
        return _("due today") if by == "date" else _("due now")
    return _("{amount} past due", amount=distance) if left < 0 else _("in {amount}", amount=distance)


def left_of(by: str, left: float, system: units.System = "metric") -> str:
    """What is left, as a column of figures says it; `left` as for `why`.

    >>> left_of("hours", 12.25), left_of("date", -1), left_of("metres", 0.01), left_of("date", 0)
    ('12 h', '1 day over', 'less than 0.1 m', 'today')
    """
    distance = amount(by, left, system)
    if not distance:
        return _("today") if by == "date" else _("now")
    return _("{amount} over", amount=distance) if left < 0 else distance


def counter_then(life: int, not_shown: int = 0) -> str:
    """What the hour counter showed at so many hours of the machine's life [s], of which it does `not_shown`; those
    hours where that was on a counter that is gone.

    >>> counter_then(5112_000), counter_then(5112_000, 3600_000), counter_then(0), counter_then(1800, 3600)
    ('1420 h', '420 h', '0 h', '0.5 h')
    """
    hours = (life - not_shown if life >= not_shown else life) / 3600
    return localized(f"{round(hours, 1):g} h")


def amount(by: str, left: float, system: units.System = "metric") -> str:
    """How far it is, whichever way, with its unit; '' where it is neither before nor past. What is left is rounded
    down: so much is there.

    >>> amount("runs", -1), amount("hours", 1342.6), amount("hours", -0.01), amount("metres", 15000, "us")
    ('1 run', '1342 h', '', '49212 ft')
    """
    distance = abs(left)
    if by == "runs":
        return plural("{n} run", "{n} runs", round(distance)) if left else ""
    if by == "date":
        return plural("{n} day", "{n} days", round(distance)) if left else ""
    unit = "h" if by == "hours" else units.unit_for("length", system)
    distance = distance if by == "hours" else units.in_unit(distance, unit)
    places = 0 if distance >= 10 or distance == int(distance) else 1
    figure = f"{_down(distance, places) if left > 0 else distance:.{places}f}"
    if figure == "0.0":
        least = localized(f"0.1 {unit}")
        return _("less than {amount}", amount=least) if left > 0 else ""
    return localized(f"{figure} {unit}") if left else ""


def figure_at(by: str, figure: float, system: units.System = "metric") -> str:
    """A figure of a counter at which something is due, as a sticker says it: hours to the tenth that a counter shows,
    rounded down, so that nobody passes it unawares.

    >>> figure_at("hours", 222.68), figure_at("hours", 500), figure_at("metres", 15000.7), figure_at("runs", 40)
    ('222.6 h', '500 h', '15000 m', 'run 40')
    """
    if by == "runs":
        return _("run {number}", number=f"{figure:.0f}")
    if by == "hours":
        return localized(f"{_down(figure, 1):.10g} h")
    unit = units.unit_for("length", system)
    return localized(f"{_down(units.in_unit(figure, unit), 0):.0f} {unit}")


def _down(value: float, places: int) -> float:
    """A figure with so many decimal places, rounded down."""
    scale = 10.0**places
    return math.floor(value * scale + 1e-6) / scale
