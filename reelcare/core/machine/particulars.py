"""A machine's card in a reader's words: every particular with its value, in the order of the machine.

The rules of this file: one name for one particular, on the screen and on paper alike.
"""

from __future__ import annotations

from collections.abc import Iterator

from reelcare.core import units
from reelcare.core.machine.card import Card
from reelcare.core.text import _, localized, mark, plural

UNKNOWN = mark("not on the card")


def particulars(card: Card, system: units.System) -> Iterator[tuple[str, str]]:
    """Every particular of a card with its value in words."""

    def length(value: float | None, role: str = "length") -> str:
        return units.show(value, "length", system, role=role) if value is not None else _(UNKNOWN)

    def plain(value: object, unit: str = "") -> str:
        if isinstance(value, bool):
            return _("yes") if value else _("no")
        return localized(f"{value:g}{unit}") if isinstance(value, (int, float)) else str(value) if value else _(UNKNOWN)

    yield _("name"), card.name or _(UNKNOWN)
    yield _("place"), card.place or _(UNKNOWN)
    yield _("in use since"), str(card.in_use_since) if card.in_use_since else _(UNKNOWN)
    if card.in_use_since is not None:
        then = card.in_use
        hose = units.show(then.metres or 0, "length", system)
        runs = plural("{n} run", "{n} runs", int(then.runs or 0))
        yield _("counters then"), _("{hours:g} h, {hose}, {runs}", hours=then.hours or 0, hose=hose, runs=runs)
    yield _("drum core"), length(card.drum.core_diameter, "diameter")
    yield _("coils in a layer"), plain(card.drum.coils_per_layer)
    yield _("layers"), plain(card.drum.layers)
    yield _("packing"), plain(card.drum.packing)
    yield _("turntable"), plain(card.drum.turntable)
    yield _("drum brake"), plain(card.drum.brake)
    yield _("hose length"), length(card.hose.length)
    yield _("hose outside"), length(card.hose.outside, "bore")
    yield _("hose inside"), length(card.hose.inside, "bore")
    yield _("hose material"), card.hose.material or _(UNKNOWN)
    yield _("least radius of the hose"), length(card.hose.least_radius)
    yield _("drive"), _(card.drive.kind or UNKNOWN)
    loss = card.drive.most_loss
    yield (
        _("most loss in drive"),
        units.show(loss, "pressure", system, role="drive loss") if loss is not None else _(UNKNOWN),
    )
    yield _("legs"), _(card.legs.kind or UNKNOWN)
    yield _("tongue jack"), _(card.jack.kind or UNKNOWN)
    yield _("jack stroke"), length(card.jack.stroke, "stroke")
    yield _("next pin hole adds"), length(card.jack.hole_gain, "stroke")
    yield _("speed compensation"), _(card.compensation.kind or UNKNOWN)
    volts = card.control.battery
    yield _("least volts of the control"), units.show(volts, "voltage", system) if volts is not None else _(UNKNOWN)
    yield _("cart"), _(card.cart.kind or UNKNOWN)
    yield _("nozzle"), length(card.cart.nozzle, "bore")
    yield _("arc"), _(UNKNOWN) if card.cart.arc is None else _("{arc:g} degrees", arc=card.cart.arc)
    yield _("pump"), _pump(card, system)
    yield _("injection into the water"), plain(card.equipment.injection)
    yield _("pump on the machine"), plain(card.equipment.pump)
    yield _("inlet valve, shut-off"), plain(card.equipment.shut_off)
    season = (
        _("{opens} to {closes}", opens=card.season.opens, closes=card.season.closes)
        if card.season.opens
        else _(UNKNOWN)
    )
    yield _("season (month-day)"), season
    yield _("hours a year"), plain(card.season.hours_a_year, " h")
    metres = card.season.metres_a_year
    yield _("hose a year"), length(metres) if metres is not None else _(UNKNOWN)


def _pump(card: Card, system: units.System) -> str:
    """The points of the pump's curve."""
    if card.pump.points is None:
        return _(UNKNOWN)
    return ", ".join(
        _(
            "{pressure} at {flow}",
            pressure=units.show(pressure, "pressure", system),
            flow=units.show(flow, "flow", system),
        )
        for flow, pressure in card.pump.points
    )
