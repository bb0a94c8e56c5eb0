"""The machine in plan, drawn with characters for its own equipment: pure, nothing of the terminal in it.

The view is from above with the lane running up the page: the cart and its gun or boom at the top, the hose down
the lane, the drum between the two stabiliser feet, drawbar and tractor below, hydrant at the side.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from reelcare.core.machine.card import Card


class Stroke(NamedTuple):
    """A piece of the drawing: where it stands, what it looks like, which part it belongs to."""

    row: int
    column: int
    text: str
    part: str


Put = Callable[[Stroke], None]
WIDTH, HEIGHT = 32, 17

PLACES: dict[str, str] = {
    "site": "all round the machine and along the lane",
    "hose": "on the drum and along the lane",
    "drum": "in the middle of the machine",
    "level wind": "in front of the drum, where the hose leaves",
    "drive": "beside the drum, on the water side",
    "gearbox": "beside the drum, on the drive side",
    "chain": "between gearbox and drum",
    "pawl": "at the drum's flange, above the gearbox",
    "brake": "at the drum's flange",
    "end stop": "in front of the drum, under the level wind",
    "compensation": "over the drum, against the coils",
    "turntable": "under the drum",
    "legs": "at both sides towards the lane",
    "jack": "at the drawbar",
    "cart": "at the end of the hose",
    "gun": "on the cart",
    "supply hose": "between hydrant and machine",
    "gauges": "at the inlet",
    "wheels": "at both sides of the chassis",
    "drawbar": "at the tractor",
    "lights": "at the rear of the chassis",
    "guards": "over chain, belt and shaft",
}
"""Where each part is found, for those who do not see the drawing."""


def strokes(card: Card, positions: Mapping[str, str]) -> list[Stroke]:
    """The drawing of a machine with these parts, as its positions are now.

    `positions` has the names of the walk-round (pawl, drive, legs, cart, ...); what is not known is drawn plain.
    """
    drawn: list[Stroke] = []
    put = drawn.append
    legs_set = positions.get("legs") != "up"
    heading = positions.get("drum heading", "lane")
    home = positions.get("cart") == "stowed"
    _cart(card, put, home)
    if not home:
        for row in range(4, 8):
            put(Stroke(row, 15, "┃", "hose"))
    _front(card, put, legs_set)
    _drum(card, put, heading, positions)
    for row in (9, 12):
        put(Stroke(row, 7, "▐█", "wheels"))
        put(Stroke(row, 22, "█▌", "wheels"))
    _tail(card, put)
    return drawn


def _cart(card: Card, add: Put, home: bool) -> None:
    top = 4 if home else 0
    if card.cart.kind == "boom":
        add(Stroke(top, 4, "╷─╷─╷─╷─╷─╷─╷─╷─╷─╷─╷─╷", "cart"))
        add(Stroke(top + 1, 12, "╘══╤══╛", "cart"))
    else:
        add(Stroke(top, 10, "·  ╲ │ ╱  ·", "gun"))
        add(Stroke(top + 1, 14, "╲◉╱", "gun"))
    add(Stroke(top + 2, 12, "o─┬┴┬─o", "cart"))
    add(Stroke(top + 3, 12, "o─┴┬┴─o", "cart"))


def _front(card: Card, add: Put, legs_set: bool) -> None:
    foot = "▼" if legs_set else "△"
    ram = "═" if card.legs.kind == "hydraulic" else "─"
    add(Stroke(8, 3, f"{foot}{ram * 5}", "legs"))
    add(Stroke(8, 22, f"{ram * 5}{foot}", "legs"))
    add(Stroke(8, 10, "├", "level wind"))
    add(Stroke(8, 11, "┄┄┄", "end stop"))
    add(Stroke(8, 14, "◁┃▷", "level wind"))
    add(Stroke(8, 17, "┄┄┄", "end stop"))
    add(Stroke(8, 20, "┤", "level wind"))


def _drum(card: Card, add: Put, heading: str, positions: Mapping[str, str]) -> None:
    pawl = {"up": "↑", "down": "↓"}.get(positions.get("pawl", ""), "¬")
    drive = {"in": "▣", "out": "□"}.get(positions.get("drive", ""), "▪")
    add(Stroke(9, 10, "╔═════════╗", "drum"))
    for row, coils in ((10, "≡≡≡≡≡≡≡≡≡"), (11, "≡≡≡≡≡≡≡≡≡")):
        add(Stroke(row, 10, "║", "drum"))
        add(Stroke(row, 11, coils, "hose"))
        add(Stroke(row, 20, "║", "drum"))
    add(Stroke(12, 10, "╚═════════╝", "drum"))
    if heading == "road":
        add(Stroke(10, 14, "◄─►", "turntable"))
    if card.compensation.kind != "none":
        add(Stroke(11, 15, "┬", "compensation"))
    add(Stroke(9, 21, pawl, "pawl"))
    if card.has("brake"):
        add(Stroke(9, 9, "⊓", "brake"))
    add(Stroke(10, 21, drive, "gearbox"))
    add(Stroke(11, 21, "⋮", "chain"))
    add(Stroke(10, 22, "┐", "guards"))
    add(Stroke(11, 22, "┘", "guards"))
    sign = {"turbine": "⊛", "bellows": "≋", "engine": "▤"}.get(card.drive.kind or "", "⊙")
    add(Stroke(10, 8, sign, "drive"))
    add(Stroke(11, 8, "◔", "gauges"))
    base = "( turntable )" if card.has("turntable") else "[  chassis  ]"
    add(Stroke(13, 9, base, "turntable"))


def _tail(card: Card, add: Put) -> None:
    add(Stroke(14, 15, "║", "drawbar"))
    add(Stroke(14, 17, "⊥" if card.jack.kind != "hydraulic" else "╨", "jack"))
    add(Stroke(15, 15, "○", "drawbar"))
    add(Stroke(16, 12, "[tractor]", "site"))
    if card.has("lights"):
        add(Stroke(13, 7, "*", "lights"))
        add(Stroke(13, 23, "*", "lights"))
    add(Stroke(14, 1, "◎", "supply hose"))
    add(Stroke(14, 2, "╌╌", "supply hose"))
    add(Stroke(13, 4, "╌", "supply hose"))
    add(Stroke(12, 5, "╌", "supply hose"))
    add(Stroke(11, 6, "╌╌", "supply hose"))


def grid(card: Card, positions: Mapping[str, str]) -> list[list[tuple[str, str]]]:
    """The drawing as rows of (character, part)."""
    field = [[(" ", "")] * WIDTH for _ in range(HEIGHT)]
    for stroke in strokes(card, positions):
        for offset, sign in enumerate(stroke.text):
            column = stroke.column + offset
            if 0 <= column < WIDTH and sign != " ":
                field[stroke.row][column] = (sign, stroke.part)
    return field


def text(card: Card, positions: Mapping[str, str], lit: str = "") -> str:
    """The drawing as plain text; the lit part is marked by an arrow at the side.

    >>> "◄ legs" in text(Card("R1"), {}, "legs")
    True
    """
    lines = []
    marked = False
    for row in grid(card, positions):
        line = "".join(sign for sign, _ in row).rstrip()
        if lit and not marked and any(part == lit for _, part in row):
            line = f"{line:<{WIDTH - 2}} ◄ {lit}"
            marked = True
        lines.append(line)
    return "\n".join(lines)
