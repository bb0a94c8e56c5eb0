"""A machine in plan, as it stands now: its own equipment, the part in question, and the walk round it.

The rules of this file: a part that the card says is not there is not drawn; one that it is silent about is.
A position that is not known is drawn with a question mark beside it. The walk is drawn as the way from each
place to the next: behind, where one stands, and ahead. No figure stands in it: the keys of the answers are figures.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from reelcare.core.drawing import layouts
from reelcare.core.drawing.canvas import Canvas, Picture
from reelcare.core.drawing.layouts import Layout
from reelcare.core.drawing.path import Cell, ground, nearest, way
from reelcare.core.machine.card import Card

HERE, BEHIND, AHEAD, MARK = "here", "behind", "ahead", "mark"
"""Tags of the walk, beside the parts' own names."""
UNKNOWN = "unknown"
LIT = "◆"


@dataclass(frozen=True, slots=True)
class WalkRoute:
    """The parts in the order in which they are come to, and which of them is now."""

    parts: tuple[str, ...] = ()
    at: int = 0

    @classmethod
    def of(cls, parts: Sequence[str], at: int) -> WalkRoute:
        """A walk over the parts of questions: the same part twice on end is one place.

        >>> WalkRoute.of(["legs", "legs", "cart", "legs"], 2)
        WalkRoute(parts=('legs', 'cart', 'legs'), at=1)
        """
        places: list[str] = []
        now = 0
        for number, part in enumerate(parts):
            if not places or places[-1] != part:
                places.append(part)
            if number == at:
                now = len(places) - 1
        return cls(tuple(places), now if at < len(parts) else len(places))


PART_OF: dict[str, str] = {
    "drum heading": "turntable",
    "turntable pin": "turntable",
    "legs": "legs",
    "cart": "cart",
    "pawl": "pawl",
    "drive": "gearbox",
    "turbine": "drive",
    "gear range": "gearbox",
    "supply": "supply hose",
    "supply hose": "supply hose",
    "stop mechanism": "end stop",
}
"""The part on which each position of the interlocks is seen."""

FOR_THE_ROAD: dict[str, str] = {
    "drum heading": "road", "turntable pin": "in", "legs": "up", "cart": "stowed", "pawl": "down",
    "drive": "out", "turbine": "stopped", "gear range": "chosen", "supply": "off", "supply hose": "off",
    "stop mechanism": "reset",
}  # fmt: skip
"""The positions of a machine as it is towed."""


def draw(
    card: Card,
    positions: Mapping[str, str],
    *,
    lit: str = "",
    name: str = "",
    walk: WalkRoute | None = None,
    width: int = 34,
    height: int = 14,
) -> Picture:
    """The ground plan that fits into width x height cells, the smaller one where nothing fits.

    `positions` are by the names of the interlocks (see `PART_OF`); one that is missing is not known, is
    drawn in its usual form and has a question mark beside it. Two more may be told: `hose` (`home`, `out`)
    and `tractor` (`machine`, `away`). `lit` is the part in question; its `name` stands beside its mark, where there is
    room for it on the ground.

    >>> picture = draw(Card("R1"), FOR_THE_ROAD, lit="lights")
    >>> picture.width, picture.height
    (34, 14)
    """
    layout = _layout(positions.get("drum heading", "lane"), width, height)
    canvas = Canvas(layout.width, layout.height)
    walkable = ground(layout.paths)
    _parts(canvas, layout, card, positions)
    _questions(canvas, card, positions)
    if walk is not None:
        _walk(canvas, walk, walkable, _stations(canvas, walkable, walk))
    if lit:
        _mark(canvas, lit, name)
    return canvas.picture(frozenset({lit, MARK, HERE}) if lit else frozenset({HERE}))


def _layout(heading: str, width: int, height: int) -> Layout:
    road = heading == "road"
    large = layouts.LARGE_ROAD if road else layouts.LARGE_LANE
    if width >= large.width and height >= large.height:
        return large
    return layouts.SMALL_ROAD if road else layouts.SMALL_LANE


def _parts(canvas: Canvas, layout: Layout, card: Card, positions: Mapping[str, str]) -> None:
    for part, strokes in layout.fixed:
        _stroke(canvas, strokes, part)
    for form, part in _forms(card, positions):
        _stroke(canvas, layout.forms[form], part)
    if _carried(card) == "boom":
        _stroke(canvas, _centre(layout, _cart_at(positions)), "gun")


def _centre(layout: Layout, cart: str) -> layouts.Strokes:
    """Where water leaves the cart: the middle of the gun, also on a cart with a boom."""
    strokes = layout.forms[f"gun.{cart}"]
    return tuple((x + signs.index("◎"), y, "◎") for x, y, signs in strokes if "◎" in signs)


def _carried(card: Card) -> str:
    """What the cart carries: a gun where the card does not say."""
    return card.cart.kind or "gun"


def _cart_at(positions: Mapping[str, str]) -> str:
    """Where the cart is: stowed, lowered at the machine, or out on the lane."""
    cart = positions.get("cart", "stowed" if positions.get("drum heading") == "road" else "lowered")
    return "out" if cart == "lowered" and positions.get("hose") == "out" else cart


def _stroke(canvas: Canvas, strokes: layouts.Strokes, tag: str) -> None:
    for x, y, signs in strokes:
        canvas.put(x, y, signs, tag)


def _forms(card: Card, positions: Mapping[str, str]) -> list[tuple[str, str]]:
    """Which forms are drawn, in their order, each with its tag."""
    legs, carried = positions.get("legs", "set"), _carried(card)
    cart = _cart_at(positions)
    hose = positions.get("hose", "out" if cart == "out" else "home")
    gear = "changing" if positions.get("gear range", "chosen") != "chosen" else positions.get("drive", "out")
    stop = positions.get("stop mechanism", "reset")
    supply = positions.get("supply", "off")
    coupled = positions.get("supply hose", "off")
    forms = [
        (f"hose.{hose}", "hose"),
        ("hose.to the cart", "hose"),
        (f"drive.{positions.get('drive', 'out')}", "drive"),
        (f"turbine.{positions.get('turbine', 'stopped')}", "drive"),
        (f"gearbox.{gear}", "gearbox"),
        (f"pawl.{positions.get('pawl', 'down')}", "pawl"),
        (f"end stop.{stop}", "end stop"),
        ("compensation", "compensation") if card.compensation.kind != "none" else ("no compensation", "drum"),
        (f"turntable.{positions.get('turntable pin', 'in')}" if card.has("turntable") else "no turntable", "turntable"),
        (f"legs.{legs}", "legs"),
        (f"legs.{card.legs.kind or 'cranked'}", "legs"),
        (f"jack.{card.jack.kind or 'screw'}", "jack"),
        (f"cart.{cart}", "cart"),
        (f"{carried}.{cart}", "gun" if carried == "gun" else "cart"),
        (f"supply hose.{coupled}", "supply hose"),
        (f"supply.{supply}", "supply hose"),
    ]
    if supply == "on":
        forms.append((f"water.{carried}", "water"))
    if card.has("brake"):
        forms.append(("brake", "brake"))
    if card.has("lights"):
        forms.append(("lights", "lights"))
    if positions.get("tractor", "machine") == "machine":
        forms.append(("tractor.machine", "tractor"))
    return forms


def _stations(canvas: Canvas, walkable: frozenset[Cell], walk: WalkRoute) -> dict[str, Cell]:
    """Where one stands for each part of the walk: on free ground, nearest to the part's outline."""
    free = frozenset(cell for cell in walkable if canvas.free(*cell))
    tagged = canvas.by_tag()
    return {part: nearest(_outline(tagged[part]), free) for part in set(walk.parts) if part in tagged}


def _outline(cells: list[Cell]) -> list[Cell]:
    """The first and the last cell of each row."""
    rows: dict[int, list[int]] = {}
    for x, y in cells:
        rows.setdefault(y, []).append(x)
    return [(x, y) for y, found in rows.items() for x in {min(found), max(found)}]


def _walk(canvas: Canvas, walk: WalkRoute, walkable: frozenset[Cell], stations: Mapping[str, Cell]) -> None:
    places = [stations.get(part) for part in walk.parts]
    known = [(number, cell) for number, cell in enumerate(places) if cell is not None]
    for (_, start), (number, end) in pairwise(known):
        tag, sign = (BEHIND, "·") if number <= walk.at else (AHEAD, "∘")
        for x, y in way(start, end, walkable):
            if canvas.free(x, y) or (tag == AHEAD and canvas.sign(x, y) == "·"):
                canvas.put(x, y, sign, tag)
    here = [cell for number, cell in known if number == walk.at]
    if here:
        canvas.put(*here[0], "◉", HERE)


def _questions(canvas: Canvas, card: Card, positions: Mapping[str, str]) -> None:
    """A question mark beside each part of which a position is not known."""
    asked = {part for name, part in PART_OF.items() if name not in positions}
    for part in sorted(asked if card.has("turntable") else asked - {"turntable"}):
        place = _beside(canvas, part)
        if place is not None:
            canvas.put(*place, "?", UNKNOWN)


def _mark(canvas: Canvas, part: str, name: str) -> None:
    """The mark of the lit part: beside it, a little off where it is built in, and else on it; its name beside that."""
    cells = canvas.by_tag().get(part, [])
    place = _beside(canvas, part)
    if place is None and cells:
        off = [(x + dx, y + dy) for dx in (-2, 2, -3, 3) for dy in (0, -1, 1) for x, y in cells]
        place = next((cell for cell in off if canvas.free(*cell)), cells[0] if len(cells) > 1 else None)
    if place is None:
        return
    canvas.put(*place, LIT, MARK)
    x, y = place
    rows = [(start, y + dy) for dy in (0, -1, 1) for start in (x + 2, x - len(name) - 1)]
    for start, row in rows if name else ():
        if all(_ground(canvas, column, row) for column in range(start - 1, start + len(name) + 1)):
            canvas.clear(start - 1, row, len(name) + 2)
            canvas.put(start, row, name, MARK)
            return


def _ground(canvas: Canvas, x: int, y: int) -> bool:
    """Whether a cell is empty, or only walked over."""
    return canvas.free(x, y) or canvas.sign(x, y) in "·∘"


def _beside(canvas: Canvas, part: str) -> Cell | None:
    """A free cell beside a part: its left first, nearest to its top left."""
    for x, y in canvas.by_tag().get(part, []):
        for dx, dy in ((-1, 0), (1, 0), (0, -1), (0, 1)):
            if canvas.free(x + dx, y + dy):
                return (x + dx, y + dy)
    return None
