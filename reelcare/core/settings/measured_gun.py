"""What was measured on a machine itself goes before its card: hose, drum and gun as they were found.

The rules of this file: a measured figure has a name, a value in SI and the day it was measured; the newest counts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from reelcare.core import units
from reelcare.core.machine.card import Card
from reelcare.core.text import _, localized, mark

if TYPE_CHECKING:  # figures are read wherever entries are; limits only where a set is worked out
    from reelcare.core.settings.set_limits import SetLimits


class Figure(NamedTuple):
    """A measured value in SI, when it was measured, and in what."""

    value: float
    at: datetime
    about: str


class Measures(NamedTuple):
    """A kind of figure: what people call it, what it measures, its role."""

    label: str
    quantity: units.Quantity
    role: str


KNOWN: dict[str, Measures] = {
    "hose_length": Measures(mark("hose, measured"), "length", ""),
    "core_diameter": Measures(mark("core of the drum, from its own readings"), "length", "diameter"),
    "packing": Measures(mark("packing, from its own readings"), "count", ""),
    "first_layer": Measures(mark("coils in the first layer, counted"), "count", ""),
    "layers": Measures(mark("layers of the whole hose, counted"), "count", ""),
    "discharge": Measures(mark("discharge coefficient of the gun"), "count", ""),
    "coefficient": Measures(mark("uniformity (Christiansen), percent"), "count", ""),
    "low_quarter": Measures(mark("uniformity of the low quarter, percent"), "count", ""),
    "spacing": Measures(mark("lane spacing"), "length", ""),
    "best_spacing": Measures(mark("most even lane spacing"), "length", ""),
}
"""Every figure that the program understands; others are kept and shown as they are."""


def tell(name: str, figure: Figure, system: units.System = "metric") -> tuple[str, str]:
    """A figure's label and its value, as a person reads them.

    >>> from datetime import UTC, datetime
    >>> tell("hose_length", Figure(401.5, datetime(2026, 5, 1, tzinfo=UTC), "timing-check"))
    ('hose, measured', '402 m')
    """
    known = KNOWN.get(name)
    label, quantity, role = known if known else Measures(name.replace("_", " "), "count", "")
    label = _(label) if known else label
    if quantity == "count":
        return label, localized(f"{figure.value:.4g}")
    return label, units.show(figure.value, quantity, system, role=role)


def as_measured(card: Card, figures: Mapping[str, Figure]) -> Card:
    """The card with what was measured in the place of what it says."""
    drum, hose = card.drum, card.hose
    if "core_diameter" in figures:
        drum = drum._replace(core_diameter=figures["core_diameter"].value)
    if "packing" in figures:
        drum = drum._replace(packing=figures["packing"].value)
    if "hose_length" in figures:
        hose = hose._replace(length=figures["hose_length"].value)
    return replace(card, drum=drum, hose=hose)


def limits_as_measured(limits: SetLimits, figures: Mapping[str, Figure]) -> SetLimits:
    """The limits with the gun's own discharge coefficient, where it was measured: no span is left of it."""
    if "discharge" not in figures:
        return limits
    value = figures["discharge"].value
    return replace(limits, discharge=value, worst=replace(limits.worst, discharge_least=value, discharge_most=value))
