"""The ground plan in words: where a part is, how it stands, and what is left of the walk.

For the lines under the picture. The rules of this file: short, the same places as drawn, and each language whole.
"""

from __future__ import annotations

from collections.abc import Mapping

from reelcare.core.drawing.machine import PART_OF, WalkRoute
from reelcare.core.machine.card import Card
from reelcare.core.text import _, mark, plural

NAMES: dict[str, str] = {
    "brake": mark("drum brake"), "end stop": mark("end-of-run stop"), "compensation": mark("speed compensation"),
    "jack": mark("tongue jack"),
}  # fmt: skip
"""The names of parts that are called otherwise than in files."""

PLACES: dict[str, str] = {
    "drum": mark("in the middle of the machine"),
    "hose": mark("on the drum and along the lane"),
    "level wind": mark("across the front of the drum"),
    "drive": mark("beside the gearbox, outside"),
    "gearbox": mark("beside the drum, towards the wheels"),
    "chain": mark("between gearbox and drum"),
    "pawl": mark("on the drum's flange, drawbar side"),
    "brake": mark("on the drum's flange, at the back"),
    "end stop": mark("before the level wind, over the hose"),
    "compensation": mark("behind the drum, on the coils"),
    "turntable": mark("under the drum, pin at the back"),
    "legs": mark("at both front corners of the drum"),
    "jack": mark("under the drawbar"),
    "cart": mark("in front of the drum, or out on the lane"),
    "gun": mark("on the cart"),
    "supply hose": mark("from the hydrant to the drum's hub"),
    "gauges": mark("at the inlet and at the gun"),
    "wheels": mark("at the rear of the chassis"),
    "drawbar": mark("between tractor and drum"),
    "lights": mark("at the rear end"),
    "guards": mark("around chain, belt and shaft"),
    "site": mark("all around, and above"),
}
"""Where each part is on the machine, looking down the lane."""

STANDS: dict[tuple[str, str], str] = {
    ("drum heading", "lane"): mark("drum to the lane"),
    ("drum heading", "road"): mark("drum to the road"),
    ("drum heading", "opposite"): mark("drum to the lane opposite"),
    ("drum heading", "between"): mark("drum between two places"),
    ("drum heading", ""): mark("drum not known"),
    ("turntable pin", "in"): mark("pin in"),
    ("turntable pin", "out"): mark("pin out"),
    ("turntable pin", ""): mark("pin not known"),
    ("legs", "set"): mark("legs set"),
    ("legs", "up"): mark("legs up"),
    ("legs", ""): mark("legs not known"),
    ("cart", "stowed"): mark("cart stowed"),
    ("cart", "lowered"): mark("cart lowered"),
    ("cart", "out"): mark("cart out on the lane"),
    ("cart", ""): mark("cart not known"),
    ("pawl", "down"): mark("pawl down"),
    ("pawl", "up"): mark("pawl up"),
    ("pawl", ""): mark("pawl not known"),
    ("drive", "in"): mark("drive in"),
    ("drive", "out"): mark("drive out"),
    ("drive", "wind"): mark("drive put to winding"),
    ("drive", ""): mark("drive not known"),
    ("turbine", "stopped"): mark("turbine stopped"),
    ("turbine", "idling"): mark("engine idling"),
    ("turbine", "driving"): mark("turbine driving"),
    ("turbine", ""): mark("turbine not known"),
    ("gear range", "chosen"): mark("gear range chosen"),
    ("gear range", "between"): mark("gear range being changed"),
    ("gear range", ""): mark("gear range not known"),
    ("supply", "on"): mark("supply on"),
    ("supply", "off"): mark("supply off"),
    ("supply", ""): mark("supply not known"),
    ("supply hose", "coupled"): mark("supply hose coupled"),
    ("supply hose", "off"): mark("supply hose off"),
    ("supply hose", ""): mark("supply hose not known"),
    ("stop mechanism", "reset"): mark("stop set"),
    ("stop mechanism", "tripped"): mark("stop tripped"),
    ("stop mechanism", ""): mark("stop not known"),
}
"""How each part stands in each position, and where none is known."""
MOST_NEXT = 3


def part(name: str) -> str:
    """A part's name.

    >>> part("level wind"), part("end stop")
    ('level wind', 'end-of-run stop')
    """
    return _(NAMES.get(name, name))


def place_of(name: str) -> str:
    """Where a part is on the machine; '' for what is no part.

    >>> place_of("jack")
    'under the drawbar'
    """
    return _(PLACES.get(name, ""))


def stands(name: str, where: str) -> str:
    """A position in words.

    >>> stands("pawl", "up"), stands("drive", "in"), stands("legs", "")
    ('pawl up', 'drive in', 'legs not known')
    """
    told = STANDS.get((name, where))
    return _(told) if told is not None else f"{_(name)} {_(where)}"


def positions_of(lit: str, card: Card, positions: Mapping[str, str]) -> list[str]:
    """How one part stands, in all its positions.

    >>> positions_of("gearbox", Card("R1"), {"drive": "out", "gear range": "chosen"})
    ['drive out', 'gear range chosen']
    """
    return [
        stands(name, positions.get(name, ""))
        for name, of in PART_OF.items()
        if of == lit and (card.has("turntable") or name != "turntable pin")
    ]


def every_position(card: Card, positions: Mapping[str, str]) -> list[tuple[str, bool]]:
    """All positions in words, in the order of the interlocks, and whether each is known."""
    return [
        (stands(name, positions.get(name, "")), bool(positions.get(name)))
        for name in PART_OF
        if card.has("turntable") or name != "turntable pin"
    ]


def left_of(walk: WalkRoute) -> str:
    """What is left of a walk; '' at its end.

    >>> left_of(WalkRoute(("legs", "cart", "pawl"), 0))
    '2 places to go; next: cart, pawl'
    >>> left_of(WalkRoute(("legs", "cart"), 1))
    'this is the last place'
    """
    ahead = walk.parts[walk.at + 1 :]
    if not ahead:
        return _("this is the last place") if walk.at < len(walk.parts) else ""
    names = ", ".join(part(one) for one in ahead[:MOST_NEXT])
    return plural("{n} place to go; next: {parts}", "{n} places to go; next: {parts}", len(ahead), parts=names)
