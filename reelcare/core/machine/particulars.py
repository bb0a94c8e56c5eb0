"""A machine's card in a reader's words: every particular with its value, in the order of the machine.

The rules of this file: one name for one particular, on the screen and on paper alike.
"""

from __future__ import annotations

from collections.abc import Iterator

from reelcare.core import units
from reelcare.core.machine.card import READERS, Card
from reelcare.core.machine.card_words import CARD_WORDS
from reelcare.core.text import _, localized, mark, plural

UNKNOWN = mark("not on the card")
_SHOWN = (
    "drum.core_diameter", "drum.coils_per_layer", "drum.layers", "drum.packing", "drum.turntable", "drum.brake",
    "hose.length", "hose.outside", "hose.inside", "hose.material", "hose.least_radius", "drive.kind", "drive.most_loss",
    "legs.kind", "jack.kind", "jack.stroke", "jack.hole_gain", "compensation.kind", "control.battery", "cart.kind",
    "cart.nozzle",
)  # fmt: skip
_EQUIPMENT = ("equipment.injection", "equipment.pump", "equipment.shut_off")
_AT_LENGTH = {
    "hose.least_radius": mark("least radius of the hose"), "control.battery": mark("least volts of the control"),
    "equipment.injection": mark("injection into the water"),
}  # fmt: skip
"""What is said shorter in a form or the heading of a column."""


def particulars(card: Card, system: units.System) -> Iterator[tuple[str, str]]:
    """Every particular of a card with its value in words."""
    yield _("name"), card.name or _(UNKNOWN)
    yield _("place"), card.place or _(UNKNOWN)
    yield _("in use since"), str(card.in_use_since) if card.in_use_since else _(UNKNOWN)
    if card.in_use_since is not None:
        then = card.in_use
        hose = units.show(then.metres or 0, "length", system)
        runs = plural("{n} run", "{n} runs", int(then.runs or 0))
        yield _("counters then"), _("{hours:g} h, {hose}, {runs}", hours=then.hours or 0, hose=hose, runs=runs)
    yield from (_particular(card, key, system) for key in _SHOWN)
    yield _("arc"), _(UNKNOWN) if card.cart.arc is None else _("{arc:g} degrees", arc=card.cart.arc)
    yield _("pump"), _pump(card, system)
    yield from (_particular(card, key, system) for key in _EQUIPMENT)
    opens, closes, hours, metres = card.season
    yield _("season (month-day)"), _("{opens} to {closes}", opens=opens, closes=closes) if opens else _(UNKNOWN)
    yield _("hours a year"), _(UNKNOWN) if hours is None else localized(f"{hours:g} h")
    yield _("hose a year"), _(UNKNOWN) if metres is None else units.show(metres, "length", system)


def _particular(card: Card, key: str, system: units.System) -> tuple[str, str]:
    """A particular by its key, with its value."""
    room, _dot, name = key.partition(".")
    value, reader, told = getattr(getattr(card, room), name), READERS[key], _(_AT_LENGTH.get(key, CARD_WORDS[key]))
    if value is None or value == "":
        return told, _(UNKNOWN)
    if isinstance(value, bool):
        return told, _("yes") if value else _("no")
    if isinstance(value, str):
        return told, _(value) if reader.known else value
    if reader.measures in (None, "count"):
        return told, localized(f"{value:g}")
    return told, units.show(value, reader.measures, system, role=reader.role)


def _pump(card: Card, system: units.System) -> str:
    """The points of the pump's curve."""
    if card.pump.points is None:
        return _(UNKNOWN)
    shown = (
        (units.show(flow, "flow", system), units.show(pressure, "pressure", system))
        for flow, pressure in card.pump.points
    )
    return ", ".join(_("{pressure} at {flow}", pressure=pressure, flow=flow) for flow, pressure in shown)
