"""What a person wants of one set, in SI; and what cannot be wanted.

The rules of this file: every value is optional, and None is 'not said'. A value that cannot be is refused with its
name and the span that can be; two that say the same thing twice are refused with the cure.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from reelcare.core import units
from reelcare.core.hydraulics.hose import Bend, read_path
from reelcare.core.settings.fields import FIELDS, PERCENT, SetField
from reelcare.core.text import _, localized, mark


class WishError(ValueError):
    """Wishes that cannot be: every problem, with its name and a cure; `twice` where depth and speed say two things."""

    def __init__(self, problems: list[str], *, twice: bool = False) -> None:
        super().__init__("; ".join(problems))
        self.problems, self.twice = problems, twice


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """One set as it is wanted: lane spacing and pull-out [m], depth of water [m] or travel speed [m/s], flow [m3/s] or
    nozzle [m] with gun pressure [Pa], inlet, drive loss and what a neighbour on the line takes from the inlet [Pa],
    rise of the gun over the machine [m]; start, dwell at both ends [s] and the time to be done by; wind and the most
    that is worked in [m/s], air [degC] and its humidity [percent], soil's intake [m/s], temperature of water and hose
    [degC], friction of hose on ground, what coils add (part), arc [degrees], the bends of the path; gear and hydrant in
    words.
    """

    spacing: float | None = None
    out: float | None = None
    depth: float | None = None
    speed: float | None = None
    flow: float | None = None
    nozzle: float | None = None
    gun_pressure: float | None = None
    inlet: float | None = None
    drive_loss: float | None = None
    neighbour_loss: float | None = None
    rise: float = 0.0
    start: datetime | None = None
    dwell_start: float = 0.0
    dwell_end: float = 0.0
    until: datetime | None = None
    wind: float | None = None
    intake: float | None = None
    temperature: float | None = None
    ground_friction: float | None = None
    coil_more: float | None = None
    arc: float | None = None
    wind_limit: float | None = None
    air: float | None = None
    humidity: float | None = None
    gear: str = ""
    hydrant: str = ""
    bends: tuple[Bend, ...] = ()
    timing_check: bool = False


SAYS = {
    "depth": mark("depth"), "nozzle": mark("nozzle"), "drive_loss": mark("drive loss"), "rise": mark("rise"),
    "wind_limit": mark("wind at most"), "humidity": mark("humidity"), "ground_friction": mark("ground friction"),
    "coil_more": mark("loss of the coils"), "arc": mark("arc"),
}  # fmt: skip
"""What is called shorter in a sentence than where it is asked for."""


def _told(value: float, unit: str) -> str:
    if not unit or not math.isfinite(value):
        return localized(f"{value:g}")
    return localized(f"{100 * value:g} {PERCENT}") if unit == PERCENT else units.write(value, unit)


def beyond(field: SetField, value: float | None, unit: str = "") -> str:
    """What is said of a figure that cannot be, in a unit or in that of its field; '' of one that can."""
    if field.span is None or value is None:
        return ""
    least, most, usual = field.span
    if math.isfinite(value) and least <= value <= most:
        return ""
    bounds = (_told(least, usual), _told(most, usual))
    if unit not in ("", usual):
        bounds = (_rounded(least, unit, math.ceil), _rounded(most, unit, math.floor))
    return _("{what}: {value} cannot be right; it must be between {least} and {most}",
             what=_(SAYS.get(field.key) or field.label), value=_told(value, unit or usual),
             least=bounds[0], most=bounds[1])  # fmt: skip


def _rounded(bound: float, unit: str, inwards: Callable[[float], int]) -> str:
    """A bound in another unit than its own, to three figures, so that what it says can be."""
    figure = units.in_unit(bound, unit)
    step = 10.0 ** (math.floor(math.log10(abs(figure) or 1.0)) - 2)
    return units.write(units.from_unit(inwards(round(figure / step, 6)) * step, unit), unit)


def problems_of(wishes: Wishes) -> list[str]:
    """Everything that cannot be wanted, each with its name and what would be right.

    >>> problems_of(Wishes(spacing=-3, out=300))
    ['lane spacing: -3 m cannot be right; it must be between 2 m and 400 m']
    """
    found = [told for one in FIELDS if (told := beyond(one, getattr(wishes, one.key)))]
    if wishes.out is not None and not found and abs(wishes.rise) > wishes.out:
        rise, out = (units.write(one, "m") for one in (wishes.rise, wishes.out))
        found.append(
            _("rise: {rise} on a pull-out of {out} cannot be right; say how far the gun stands above the machine, at "
              "most {out}, up or down", rise=rise, out=out)
        )  # fmt: skip
    if wishes.bends and wishes.out is not None and not found:
        try:
            read_path(wishes.out, wishes.bends)
        except ValueError as why:
            found.append(_("curve: {why}", why=why))
    if wishes.until is not None and wishes.start is None:
        found.append(_("start: needed to tell whether the run is done by a time"))
    return found
