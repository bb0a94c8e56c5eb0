"""A machine's card in a reader's words: every particular with its value, in the order of the machine.

The rules of this file: one name for one particular, on the screen and on paper alike.
"""

from __future__ import annotations

from collections.abc import Iterator

from reelcare.core import units
from reelcare.core.machine.card import Card
from reelcare.core.wording import count

UNKNOWN = "not on the card"


def particulars(card: Card, system: units.System) -> Iterator[tuple[str, str]]:
    """Every particular of a card with its value in words."""

    def length(value: float | None, role: str = "length") -> str:
        return units.show(value, "length", system, role=role) if value is not None else UNKNOWN

    def plain(value: object, unit: str = "") -> str:
        if isinstance(value, bool):
            return "yes" if value else "no"
        return f"{value:g}{unit}" if isinstance(value, (int, float)) else str(value) if value else UNKNOWN

    yield "name", card.name or UNKNOWN
    yield "place", card.place or UNKNOWN
    yield "in use since", str(card.in_use_since) if card.in_use_since else UNKNOWN
    if card.in_use_since is not None:
        then = card.in_use
        hose = units.show(then.metres or 0, "length", system)
        yield "counters then", f"{then.hours or 0:g} h, {hose}, {count(then.runs or 0, 'run')}"
    yield "drum core", length(card.drum.core_diameter, "diameter")
    yield "coils in a layer", plain(card.drum.coils_per_layer)
    yield "layers", plain(card.drum.layers)
    yield "packing", plain(card.drum.packing)
    yield "turntable", plain(card.drum.turntable)
    yield "drum brake", plain(card.drum.brake)
    yield "hose length", length(card.hose.length)
    yield "hose outside", length(card.hose.outside, "bore")
    yield "hose inside", length(card.hose.inside, "bore")
    yield "hose material", card.hose.material or UNKNOWN
    yield "least radius of the hose", length(card.hose.least_radius)
    yield "drive", card.drive.kind or UNKNOWN
    loss = card.drive.most_loss
    yield (
        "most loss in drive",
        units.show(loss, "pressure", system, role="drive loss") if loss is not None else UNKNOWN,
    )
    yield "legs", card.legs.kind or UNKNOWN
    yield "tongue jack", card.jack.kind or UNKNOWN
    yield "jack stroke", length(card.jack.stroke, "stroke")
    yield "next pin hole adds", length(card.jack.hole_gain, "stroke")
    yield "speed compensation", card.compensation.kind or UNKNOWN
    volts = card.control.battery
    yield "least volts of the control", units.show(volts, "voltage", system) if volts is not None else UNKNOWN
    yield "cart", card.cart.kind or UNKNOWN
    yield "nozzle", length(card.cart.nozzle, "bore")
    yield "arc", plain(card.cart.arc, " degrees")
    yield "pump", _pump(card, system)
    yield "injection into the water", plain(card.equipment.injection)
    yield "pump on the machine", plain(card.equipment.pump)
    season = f"{card.season.opens} to {card.season.closes}" if card.season.opens else UNKNOWN
    yield "season (month-day)", season
    yield "hours a year", plain(card.season.hours_a_year, " h")
    metres = card.season.metres_a_year
    yield "hose a year", length(metres) if metres is not None else UNKNOWN


def _pump(card: Card, system: units.System) -> str:
    """The points of the pump's curve."""
    if card.pump.points is None:
        return UNKNOWN
    return ", ".join(
        f"{units.show(pressure, 'pressure', system)} at {units.show(flow, 'flow', system)}"
        for flow, pressure in card.pump.points
    )
