"""A machine's card in a reader's words: every particular with its value, in the order of the machine.

The rules of this file: whatever a card can say is shown, so that no key is forgotten; `card_words.py` has the names.
"""

from __future__ import annotations

from collections.abc import Iterator

from reelcare.core import units
from reelcare.core.machine.card import READERS, Card
from reelcare.core.machine.card_words import CARD_WORDS
from reelcare.core.text import _, localized, mark, plural

UNKNOWN = mark("not on the card")


def particulars(card: Card, system: units.System) -> Iterator[tuple[str, str]]:
    """Every particular of a card with its value in words; the tag, which stands above them, is left out."""
    for key, words in CARD_WORDS.items():
        if key == "in_use_since":
            yield from _in_use(card, system)
        elif key == "season.metres_a_year":
            hose = card.season.metres_a_year
            yield _("hose a year"), _(UNKNOWN) if hose is None else units.show(hose, "length", system)
        elif key != "tag" and not key.startswith("in_use."):
            yield _(words), _value(card, key, system)
    yield _("pump curve"), _curve(card, system)


def _in_use(card: Card, system: units.System) -> Iterator[tuple[str, str]]:
    """Since when it is in use, and the counters on that day, which were at 0 where the card is silent."""
    since, then = card.in_use_since, card.in_use
    yield _(CARD_WORDS["in_use_since"]), str(since) if since else _(UNKNOWN)
    if since is not None:
        hose = units.show(then.metres or 0, "length", system)
        runs = plural("{n} run", "{n} runs", int(then.runs or 0))
        yield _("counters then"), _("{hours:g} h, {hose}, {runs}", hours=then.hours or 0, hose=hose, runs=runs)


def _value(card: Card, key: str, system: units.System) -> str:
    """What the card says of one key, in words."""
    room, _dot, name = key.partition(".")
    value = getattr(getattr(card, room), name) if name else getattr(card, room)
    if value is None or value == "":
        return _(UNKNOWN)
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, str):
        return _(value) if name and READERS[key].known else value
    reader = READERS[key]
    if reader.measures in (None, "count"):
        return localized(f"{value:g}")
    return units.show(value, reader.measures, system, role=reader.role)


def _curve(card: Card, system: units.System) -> str:
    """The points of the pump's curve."""
    if card.pump.points is None:
        return _(UNKNOWN)
    shown = (
        (units.show(flow, "flow", system), units.show(pressure, "pressure", system))
        for flow, pressure in card.pump.points
    )
    return ", ".join(_("{pressure} at {flow}", pressure=pressure, flow=flow) for flow, pressure in shown)
