"""Figures of a machine's own, worked out from readings on it: drum, gun, and catch cans across a lane.

The rules of this file: readings come as they were typed, and one that cannot be read is told with how it is written.
Figures are in SI, by the names under which they are kept; nothing is kept here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from typing import Literal, NamedTuple

from reelcare.core import units
from reelcare.core.hydraulics import drum as drums
from reelcare.core.hydraulics import gun as guns
from reelcare.core.hydraulics.uniformity import Transect, best_spacing, overlap
from reelcare.core.machine.card import Card
from reelcare.core.text import _, localized, mark, typed_figure


class MeasuringError(ValueError):
    """Readings that nothing can be worked out from, as they are written or for want of the card."""


class Findings(NamedTuple):
    """Figures to keep, in SI, and lines to tell: what, and how much."""

    figures: Mapping[str, float]
    told: tuple[tuple[str, str], ...]


MeasuredThing = Literal["gun", "drum", "cans"]
"""What is measured; the name under which it is kept, too."""
MEASURED: Mapping[MeasuredThing, str] = {
    "gun": mark("gun: flow and pressure"),
    "drum": mark("drum: hose on it against turns"),
    "cans": mark("catch cans across one lane"),
}
Completed = Callable[[str, units.Quantity], str]
"""What is typed of a quantity, with its unit where a face lets it be left out."""


def as_typed(text: str, quantity: units.Quantity) -> str:
    """What is typed, with a decimal point."""
    return typed_figure(text)


def drum(card: Card, readings: Iterable[str], system: units.System, completed: Completed = as_typed) -> Findings:
    """Core and packing of the drum, from metres against turns. Raises ValueError."""
    if card.hose.outside is None or card.drum.coils_per_layer is None:
        raise MeasuringError(_("the card needs hose.outside and drum.coils_per_layer for that"))
    pairs = [_turns(text, completed) for text in readings]
    most = max((metres for _count, metres in pairs), default=0.0)
    if card.hose.length is not None and most > card.hose.length + drums.HAIR:
        says = mark("{most} are more than the hose of the card ({length}): measure again, or put the card right")
        shown, length = (units.show(one, "length", system) for one in (most, card.hose.length))
        raise MeasuringError(_(says, most=shown, length=length))
    found = drums.fit(pairs, card.hose.outside, card.drum.coils_per_layer)
    shown = units.show(found.core_diameter, "length", system, role="diameter")
    unit, step = ("mm", 1) if system == "metric" else ("in", 0.01)
    core = _("{core}, give or take {error}", core=shown, error=units.write(found.core_error, unit, step))
    figures = {"packing": found.packing, "packing_error": found.packing_error}
    packing = _("{packing:.3f}, give or take {packing_error:.3f}", **figures)
    scatter = units.write(found.scatter, *(("m", 0.01) if system == "metric" else ("in", 0.1)))
    return Findings(
        {"core_diameter": found.core_diameter, "packing": found.packing},
        ((_("core of the drum"), core), (_("packing"), packing), (_("readings scatter by"), scatter)),
    )


def _turns(text: str, completed: Completed) -> tuple[float, float]:
    turns, sign, metres = (one.strip() for one in text.partition("="))
    if not sign:
        raise MeasuringError(_("{text!r}: give turns on the drum and the hose in them, as in `24=138 m`", text=text))
    return units.number(typed_figure(turns)), units.read(completed(metres, "length"), "length")


def gun(card: Card, readings: Iterable[str], bore: float | None = None, completed: Completed = as_typed) -> Findings:
    """The gun's discharge coefficient, from its own flow and pressure; without a `bore` it has that of the card. Raises
    ValueError."""
    bore = card.cart.nozzle if bore is None else bore
    if bore is None:
        raise MeasuringError(_("nozzle: not on the card; give its bore, as in 24 mm"))
    fitted, error = guns.discharge_from([_pair(text, completed) for text in readings], bore)
    if not guns.can_discharge(fitted):
        least, most = guns.DISCHARGES
        says = mark(
            "a discharge coefficient of {fitted:.3f} cannot be right; it must be between {least:.2f} and "
            "{most:.2f}: look at flow, pressure and bore"
        )
        raise MeasuringError(_(says, fitted=fitted, least=least, most=most))
    span = _(", give or take {error:.3f}", error=error) if math.isfinite(error) else _(", from one reading")
    return Findings({"discharge": fitted}, ((_("discharge coefficient"), localized(f"{fitted:.3f}") + span),))


def _pair(text: str, completed: Completed) -> tuple[float, float]:
    flow, sign, pressure = (one.strip() for one in text.partition("@"))
    if not sign:
        raise MeasuringError(_("{text!r}: give flow and pressure, as in `43 m3/h @ 4.5 bar`", text=text))
    return units.read(completed(flow, "flow"), "flow"), units.read(completed(pressure, "pressure"), "pressure")


def cans(
    left: str, right: str, step: float, spacing: float, system: units.System, first: float | None = None
) -> Findings:
    """How even the water falls, from catch cans across one lane, `step` apart [m]; without a `first` the first stands
    half a step beside the hose. Raises ValueError."""
    transect = Transect(_catches(left), _catches(right), step / 2 if first is None else first, step)
    even, best = overlap(transect, spacing), best_spacing(transect)
    figures = {
        "coefficient": 100 * even.coefficient,
        "low_quarter": 100 * even.low,
        "spacing": even.spacing,
        "best_spacing": best.spacing,
    }
    apart, most_even = (units.show(one.spacing, "length", system) for one in (even, best))
    told = (
        (_("lanes"), _("{spacing} apart, {catches} cans in one lane", spacing=apart, catches=len(even.catches))),
        (_("uniformity (Christiansen)"), localized(f"{100 * even.coefficient:.1f} %")),
        (_("low quarter"), _("{low:.1f} % (the smallest fourth of the catches)", low=100 * even.low)),
        (_("most even spacing"), most_even + localized(f", {100 * best.coefficient:.1f} %")),
    )
    return Findings(figures, told)


def _catches(text: str) -> tuple[float, ...]:
    """Figures that spaces or semicolons part, or commas alone where no comma is a decimal sign."""
    apart = re.split(r"[\s;]+|,(?=\s)", text.strip())
    if len(apart) == 1 and typed_figure(text) == text:
        apart = text.split(",")
    return tuple(units.number(typed_figure(one)) for one in apart if one)


def plain(figures: Mapping[str, float]) -> dict[str, float]:
    """Figures as they are kept and printed: no finer than can be."""
    return {name: round(value, 6) for name, value in figures.items()}
