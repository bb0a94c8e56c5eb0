"""Where everything stands on the ground plan of a machine: two sizes, and the drum to the lane or to the
road.

The rules of this file: data only. A stroke is (x, y, signs): blanks leave what is there. `fixed` is always
drawn, by part; `forms` is drawn for a part's position or kind. `paths` are straight pieces of ground that a
person walks on. The lane is at the top, the tractor to the left; with the drum to the road everything that
turns with it has turned a quarter to the right.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

Stroke = tuple[int, int, str]
Strokes = tuple[Stroke, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """One ground plan."""

    width: int
    height: int
    fixed: tuple[tuple[str, Strokes], ...]
    forms: Mapping[str, Strokes]
    paths: tuple[tuple[int, int, int, int], ...]


def down(x: int, y: int, signs: str) -> Strokes:
    """Signs under each other."""
    return tuple((x, y + number, sign) for number, sign in enumerate(signs))


def block(x: int, y: int, *lines: str) -> Strokes:
    """Lines under each other."""
    return tuple((x, y + number, line) for number, line in enumerate(lines))


same = dict.fromkeys
"""Forms that are drawn alike, each by its name."""
SIGNS = {
    "turbine": {"driving": "*", "stopped": "◎", "idling": "•"},
    "gearbox": {"in": "▣", "out": "□", "wind": "▫", "changing": "▒"},
    "turntable": {"in": "⊙", "out": "○"},
}
"""What tells the positions of a part that is drawn alike in each."""


def each(part: str, *strokes: Stroke) -> dict[str, Strokes]:
    """The forms of a part in all its positions: its sign stands where `@` does."""
    return {
        f"{part}.{position}": tuple((x, y, signs.replace("@", sign)) for x, y, signs in strokes)
        for position, sign in SIGNS[part].items()
    }


# fmt: off
SMALL_TRACTOR = ("▄▄ ▄█", "╞╪═╡╞━", "▀▀ ▀█")
LARGE_TRACTOR = ("▄▄▄  ▄███", "╒╧╧══╧══╕", "│▒▒│    ├", "│▒▒│    │", "╘╤╤══╤══╛", "▀▀▀  ▀███")
SMALL_LANE = Layout(
    width=34,
    height=14,
    fixed=(
        ("chassis", ((6, 9, "━━"), (9, 9, "━╺"), (28, 9, "━━┿━"), (30, 8, "│"), (30, 10, "│"))),
        ("drum", (*down(11, 7, "┃┃┃┃┃"), *down(23, 7, "┃┃┃┃┃"))),
        ("level wind", ((11, 6, "╞═════◇═════╡"),)),
        ("chain", down(24, 8, "╓╫╙")),
        ("guards", ((24, 7, "╭──╮"), (24, 11, "╰──╯"))),
        ("drawbar", ((6, 9, "╾"),)),
        ("gauges", ((10, 8, "⊘"),)),
        ("wheels", ((29, 7, "▄▄▄"), (29, 11, "▀▀▀"))),
        ("site", (*down(4, 2, "╎╎"), *down(30, 2, "╎╎"))),
    ),
    forms={
        "hose.home": block(12, 7, *["│││││││││││"] * 4),
        "hose.out": (*block(12, 7, *["╎│╎│╎│╎│╎│╎"] * 4), (17, 3, "┃"), (17, 4, "┃")),
        "hose.to the cart": ((17, 5, "┃"),),
        "drive.in": ((25, 8, "─"), (27, 9, "═")),
        **same(("drive.out", "drive.wind"), ((27, 9, "╴"),)),
        **each("turbine", (28, 9, "@")),
        **each("gearbox", (25, 8, "─┐"), (25, 9, "@├"), (25, 10, "─┘")),
        "pawl.down": ((10, 7, "▾"),),
        "pawl.up": ((10, 7, "▴"),),
        "brake": ((10, 11, "▐"),),
        "end stop.reset": ((14, 5, "╾──┼──╼"),),
        "end stop.tripped": ((14, 5, "╲╴ ┼ ╶╱"),),
        "compensation": ((12, 11, "╘═════════╛"),),
        "no compensation": ((12, 11, "╷"), (22, 11, "╷")),
        **each("turntable", (11, 12, "╰┄┄┄┄┄@┄┄┄┄┄╯")),
        "no turntable": ((11, 12, "└───────────┘"),),
        "legs.set": ((10, 6, "╱"), (9, 5, "╱"), (8, 5, "▟"), (24, 6, "╲"), (25, 5, "╲"), (26, 5, "▙")),
        "legs.up": ((10, 6, "┘"), (10, 5, "╷"), (24, 6, "└"), (24, 5, "╷")),
        "legs.cranked": ((9, 6, "°"), (25, 6, "°")),
        "legs.hydraulic": ((9, 6, "▪"), (25, 6, "▪")),
        "jack.screw": ((8, 9, "┯"), (8, 10, "┴")),
        "jack.hydraulic": ((8, 9, "╤"), (8, 10, "╨")),
        "cart.out": ((13, 1, "▐╭─────╮▌"), (13, 2, "▐╰──┬──╯▌")),
        "cart.lowered": ((13, 3, "▐╭─────╮▌"), (13, 4, "▐╰──┬──╯▌")),
        "cart.stowed": ((13, 4, "▗├─────┤▖"), (14, 3, "╷"), (20, 3, "╷")),
        "gun.out": ((17, 0, "╿"), (17, 1, "◎")),
        "gun.lowered": ((17, 2, "╿"), (17, 3, "◎")),
        "gun.stowed": ((17, 3, "╿"), (17, 4, "◎")),
        "boom.out": ((6, 0, "╷ ╷  ╷  ╷  ╷  ╷  ╷ ╷"), (5, 1, "╾┴─┴──┴╼"), (22, 1, "╾┴──┴─┴╼")),
        "boom.lowered": ((5, 3, "╾┬─┬──┬╼"), (22, 3, "╾┬──┬─┬╼")),
        "boom.stowed": ((13, 4, "▗├══ ══┤▖"),),
        "water.gun": ((6, 1, "˙"), (8, 0, "·  ˙  ¨"), (20, 0, "¨  ˙  ·"), (28, 1, "˙")),
        "water.boom": ((5, 0, "˙ ˙  ˙"), (23, 0, "˙  ˙ ˙"), (9, 2, "˙  ˙"), (22, 2, "˙  ˙")),
        "supply hose.coupled": ((3, 12, "~~~~~~╯"), (9, 11, "│"), (9, 10, "╭╼")),
        "supply hose.off": ((3, 12, "~~~╴"),),
        "supply.on": ((2, 12, "⊕"), (4, 12, "» » »")),
        "supply.off": ((2, 12, "⊗"),),
        "lights": ((32, 8, "▪"), (32, 10, "▪")),
        "tractor.machine": block(0, 8, *SMALL_TRACTOR),
    },
    paths=((7, 4, 33, 4), (7, 13, 33, 13), (7, 4, 7, 13), (33, 4, 33, 13), (23, 1, 23, 4)),
)

SMALL_ROAD = Layout(
    width=34,
    height=14,
    fixed=(
        ("chassis", ((6, 6, "━━━━"), (29, 6, "━┿━"), *down(30, 4, "││"), *down(30, 7, "││"))),
        ("drum", ((11, 3, "━━━━━━━━━━"), (11, 9, "━━━━━━━━━━"))),
        ("level wind", down(21, 3, "╥║║◇║║╨")),
        ("chain", ((14, 10, "╥╥╥"),)),
        ("guards", (*down(12, 10, "╭│"), *down(18, 10, "╮│"), (12, 12, "╰──"), (16, 12, "──╯"))),
        ("drawbar", ((6, 6, "╾"),)),
        ("gauges", ((14, 2, "⊘"),)),
        ("wheels", ((29, 3, "▄▄▄"), (29, 9, "▀▀▀"))),
        ("site", ((1, 1, "╌╌╌╌"), (1, 12, "╌╌╌╌"))),
    ),
    forms={
        "hose.home": block(12, 4, *["─────────"] * 5),
        "hose.out": block(12, 4, *["─────────", "╌╌╌╌╌╌╌╌╌"] * 2, "─────────"),
        "hose.to the cart": ((22, 6, "─"),),
        **same(("drive.in", "drive.out", "drive.wind", "turbine.stopped"), ((15, 12, "◎"),)),
        "turbine.idling": ((15, 12, "•"),),
        "turbine.driving": ((15, 12, "*"),),
        **each("gearbox", (14, 11, "╟@╢")),
        "pawl.down": ((12, 2, "▾"),),
        "pawl.up": ((12, 2, "▴"),),
        "brake": ((18, 2, "▄"),),
        "end stop.reset": down(23, 4, "╿│┼│╽"),
        "end stop.tripped": ((24, 4, "╱"), (23, 5, "╷"), (23, 6, "┼"), (23, 7, "╵"), (24, 8, "╲")),
        "compensation": down(11, 4, "╓║║║╙"),
        "no compensation": ((11, 4, "╶"), (11, 8, "╶")),
        **each("turntable", *down(10, 4, "╭┆@┆╰")),
        "no turntable": down(10, 4, "┌│││└"),
        "legs.set": ((22, 2, "╱"), (23, 1, "╱▟"), (22, 10, "╲"), (23, 11, "╲▜")),
        "legs.up": ((22, 2, "┌╴"), (22, 10, "└╴")),
        "legs.cranked": ((22, 1, "°"), (22, 11, "°")),
        "legs.hydraulic": ((22, 1, "▪"), (22, 11, "▪")),
        "jack.screw": ((8, 6, "┯"), (8, 7, "┴")),
        "jack.hydraulic": ((8, 6, "╤"), (8, 7, "╨")),
        **same(("cart.out", "cart.lowered"), block(25, 4, "▄▄▄", "┌─┐", "┤ │", "└─┘", "▀▀▀")),
        "cart.stowed": ((25, 5, "╔═╗"), (24, 5, "╶"), (25, 6, "╣ ║"), (25, 7, "╚═╝"), (24, 7, "╶")),
        **same(("gun.out", "gun.lowered"), ((26, 6, "◎╼"),)),
        "gun.stowed": ((26, 6, "◎"),),
        **same(("boom.out", "boom.lowered", "boom.stowed"), ((26, 5, "║"), (26, 7, "║"))),
        **same(("water.gun", "water.boom"), ()),
        "supply hose.coupled": ((3, 11, "~~~~"), (8, 11, "╯"), *down(8, 8, "│││"), (8, 7, "╭"), (9, 7, "╼")),
        "supply hose.off": ((3, 8, "~~~"),),
        "supply.on": ((2, 11, "⊕"),),
        "supply.off": ((2, 11, "⊗"),),
        "lights": ((32, 5, "▪"), (32, 7, "▪")),
        "tractor.machine": block(0, 5, *SMALL_TRACTOR),
    },
    paths=((7, 1, 33, 1), (7, 13, 33, 13), (7, 1, 7, 13), (33, 1, 33, 13)),
)

LARGE_LANE = Layout(
    width=60,
    height=24,
    fixed=(
        ("chassis", ((14, 14, "━━━━━━╸"), (14, 15, "━━━━╸"), (49, 14, "━━━━━┿━━┓"), (49, 15, "━━━━━┿━━┛"),
                     *down(54, 12, "│││"), *down(54, 16, "││"))),
        ("drum", (*down(21, 11, "┃┃┃┃┃┃┃┃"), *down(41, 11, "┃┃┃┃┃┃┃┃"))),
        ("level wind", ((21, 10, "╞═════════◇═════════╡"),)),
        ("chain", down(42, 13, "╓╫╫╙")),
        ("guards", ((42, 12, "╭───────╮"), (42, 17, "╰───────╯"))),
        ("drawbar", ((10, 14, "╾───"), (13, 15, "╰"))),
        ("gauges", ((18, 13, "⊘"),)),
        ("wheels", ((52, 11, "▟███▙"), (52, 18, "▜███▛"))),
        ("site", (*down(22, 1, "╎╎╎╎╎"), *down(40, 1, "╎╎╎╎╎"))),
    ),
    forms={
        "hose.home": block(22, 11, *["│││││││││││││││││││"] * 7),
        "hose.out": (*block(22, 11, *["╎│╎│╎│╎│╎│╎│╎│╎│╎│╎"] * 7), *down(31, 4, "┃┃┃")),
        "hose.to the cart": down(31, 8, "┃┃"),
        "drive.in": ((46, 14, "═"), (46, 15, "═")),
        **same(("drive.out", "drive.wind"), ((46, 14, "╴"), (46, 15, "╴"))),
        **each("turbine", (47, 13, "╭╮"), (47, 14, "┤@"), (47, 15, "┤@"), (47, 16, "╰╯")),
        **each("gearbox", (43, 13, "┌─┐"), (43, 14, "│@├"), (43, 15, "│@├"), (43, 16, "└─┘")),
        "pawl.down": ((19, 12, "╾▾"),),
        "pawl.up": ((19, 11, "╱▴"),),
        "brake": down(20, 16, "▐▐"),
        "end stop.reset": ((26, 9, "╾────┼────╼"),),
        "end stop.tripped": ((26, 9, "╲──╴ ┼ ╶──╱"),),
        "compensation": ((22, 18, "╘═════════════════╛"),),
        "no compensation": ((22, 18, "╷"), (40, 18, "╷")),
        **each("turntable", (21, 19, "╲┄┄┄┄┄┄┄┄┄┄┄┄┄┄┄┄┄┄┄╱"), (23, 20, "╲▁▁▁▁▁▁▁@▁▁▁▁▁▁▁╱")),
        "no turntable": ((21, 19, "└───────────────────┘"),),
        "legs.set": ((20, 10, "╱"), (19, 9, "╱"), (18, 8, "╱"), (15, 8, "▄▟▘"),
                     (42, 10, "╲"), (43, 9, "╲"), (44, 8, "╲"), (45, 8, "▝▙▄")),
        "legs.up": ((20, 8, "╷"), (20, 9, "│"), (20, 10, "┘"), (42, 8, "╷"), (42, 9, "│"), (42, 10, "└")),
        "legs.cranked": ((18, 10, "°╶"), (43, 10, "╴°")),
        "legs.hydraulic": ((18, 9, "▪"), (19, 10, "▪"), (44, 9, "▪"), (43, 10, "▪")),
        "jack.screw": down(15, 13, "╥╫╫╨"),
        "jack.hydraulic": down(15, 13, "┳╋╋┻"),
        "cart.out": ((25, 1, "▐▌╭───────╮▐▌"), (25, 2, "▐▌│       │▐▌"), (25, 3, "▐▌╰───┬───╯▐▌")),
        "cart.lowered": ((25, 5, "▐▌╭───────╮▐▌"), (25, 6, "▐▌│       │▐▌"), (25, 7, "▐▌╰───┬───╯▐▌")),
        "cart.stowed": ((25, 6, "╺┯╔═══════╗┯╸"), (26, 7, "╎╚═══╤═══╝╎"), (26, 8, "╎"), (36, 8, "╎")),
        "gun.out": ((31, 0, "╿"), (31, 1, "┃"), (30, 2, "(◎)")),
        "gun.lowered": ((31, 4, "╿"), (31, 5, "┃"), (30, 6, "(◎)")),
        "gun.stowed": ((31, 5, "╿"), (31, 6, "◎")),
        "boom.out": ((2, 2, "╾┬──┬──┬──┬──┬──┬──┬──╼"), (38, 2, "╾──┬──┬──┬──┬──┬──┬─╼")),
        "boom.lowered": ((2, 6, "╾┬──┬──┬──┬──┬──┬──┬──╼"), (38, 6, "╾──┬──┬──┬──┬──┬──┬─╼")),
        "boom.stowed": ((28, 6, "══ ══"),),
        "water.gun": ((12, 4, "˙"), (14, 2, "·"), (17, 1, "˙"), (19, 0, "¨  ·  ˙"), (37, 0, "˙  ·  ¨"),
                      (45, 1, "˙"), (48, 2, "·"), (50, 4, "˙")),
        "water.boom": ((3, 1, "˙  ˙  ˙  ˙  ˙  ˙"), (41, 1, "˙  ˙  ˙  ˙  ˙  ˙"),
                       (3, 3, "¨  ¨  ¨  ¨  ¨  ¨"), (41, 3, "¨  ¨  ¨  ¨  ¨  ¨")),
        "supply hose.coupled": ((6, 21, "~~~~~~~~~~~╯"), *down(17, 17, "││││"), (17, 16, "╭─╼")),
        "supply hose.off": ((6, 21, "~~~~╴"),),
        "supply.on": ((5, 21, "⊕"), (7, 21, "»  »  »")),
        "supply.off": ((5, 21, "⊗"),),
        "lights": ((58, 13, "▪"), (58, 16, "▪")),
        "tractor.machine": block(0, 12, *LARGE_TRACTOR),
    },
    paths=((12, 7, 59, 7), (12, 22, 59, 22), (12, 7, 12, 22), (59, 7, 59, 22), (42, 2, 42, 7)),
)

LARGE_ROAD = Layout(
    width=60,
    height=24,
    fixed=(
        ("chassis", ((14, 11, "━━━━"), (14, 12, "━━━━"), (48, 11, "━━━━━┿━━┓"), (48, 12, "━━━━━┿━━┛"),
                     *down(53, 7, "││││"), *down(53, 13, "││││"))),
        ("drum", ((19, 6, "━━━━━━━━━━━━━━━━━━━━"), (19, 17, "━━━━━━━━━━━━━━━━━━━━"))),
        ("level wind", down(39, 6, "╥║║║║◇║║║║║╨")),
        ("chain", ((27, 18, "╥╥╥╥"),)),
        ("guards", ((24, 18, "╭"), (33, 18, "╮"), *down(24, 19, "││"), *down(33, 19, "││"),
                    (24, 21, "╰────────╯"))),
        ("drawbar", ((10, 11, "╾───"), (13, 12, "╰"))),
        ("gauges", ((24, 5, "⊘"),)),
        ("wheels", ((51, 6, "▟███▙"), (51, 17, "▜███▛"))),
        ("site", ((1, 3, "╌╌╌╌╌╌╌"), (1, 20, "╌╌╌╌╌╌╌"))),
    ),
    forms={
        "hose.home": block(20, 7, *["───────────────────"] * 10),
        "hose.out": block(20, 7, *["───────────────────", "╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌"] * 5),
        "hose.to the cart": ((40, 11, "━"),),
        "drive.in": ((28, 20, "╎"),),
        **same(("drive.out", "drive.wind"), ()),
        **each("turbine", (27, 20, "(@@)")),
        "gearbox.in": ((26, 19, "╞▣══▣╡"),),
        "gearbox.out": ((26, 19, "╞□──□╡"),),
        "gearbox.wind": ((26, 19, "╞▫──▫╡"),),
        "gearbox.changing": ((26, 19, "╞▒──▒╡"),),
        "pawl.down": ((20, 5, "╾▾"),),
        "pawl.up": ((20, 4, "╱▴"),),
        "brake": ((34, 5, "▄▄▄"),),
        "end stop.reset": down(42, 8, "╿││┼││╽"),
        "end stop.tripped": ((43, 8, "╱"), *down(42, 9, "╷│┼│╵"), (43, 14, "╲")),
        "compensation": down(19, 7, "╓║║║║║║║║╙"),
        "no compensation": ((19, 7, "╶"), (19, 16, "╶")),
        **each("turntable", (18, 7, "╱"), *down(17, 8, "╱┆┆@┆┆┆╲"), (18, 16, "╲")),
        "no turntable": down(18, 7, "┌││││││││└"),
        "legs.set": ((40, 5, "╱"), (41, 4, "╱"), (42, 3, "╱▟▘"),
                     (40, 18, "╲"), (41, 19, "╲"), (42, 20, "╲▜▖")),
        "legs.up": ((40, 5, "┌──╴"), (40, 18, "└──╴")),
        "legs.cranked": ((40, 4, "°"), (40, 19, "°")),
        "legs.hydraulic": ((40, 4, "▪"), (40, 19, "▪")),
        "jack.screw": down(15, 10, "╥╫╫╨"),
        "jack.hydraulic": down(15, 10, "┳╋╋┻"),
        **same(("cart.out", "cart.lowered"), (
            (44, 7, "▄▄▄▄"), (44, 8, "┌──┐"), *down(44, 9, "││┤│││"), *down(47, 9, "││││││"), (44, 15, "└──┘"),
            (44, 16, "▀▀▀▀"),
        )),
        "cart.stowed": ((43, 8, "╶╔══╗"), *down(44, 9, "║║╣║║║"), *down(47, 9, "║║║║║║"), (43, 15, "╶╚══╝")),
        **same(("gun.out", "gun.lowered", "gun.stowed"), ((45, 11, "◎╼"),)),
        **same(("boom.out", "boom.lowered", "boom.stowed"), down(45, 9, "╫╫ ╫╫╫")),
        **same(("water.gun", "water.boom"), ()),
        "supply hose.coupled": ((6, 19, "~~~~~~~~~╯"), *down(15, 15, "││││"), (15, 14, "╭─╼")),
        "supply hose.off": ((13, 15, "~~~~"), (13, 16, "~~~~")),
        "supply.on": ((5, 19, "⊕"),),
        "supply.off": (),
        "lights": ((57, 10, "▪"), (57, 13, "▪")),
        "tractor.machine": block(0, 9, *LARGE_TRACTOR),
    },
    paths=((12, 2, 59, 2), (12, 22, 59, 22), (12, 2, 12, 22), (59, 2, 59, 22)),
)
