"""What must never be on a hose-reel machine, and what must never be done: written from the interlocks of the trade,
part by part (common practice, no source; where a published source stands beside a row, it is named). It shares
nothing with the table that is proved by it.

A row is a reason and the positions that must not meet. A part that a machine has not takes no part in it; a row that
speaks of it alone then says nothing.
"""

from collections.abc import Iterator, Mapping

from reelcare.core.machine.model import MachineModel

Box = Mapping[str, str | tuple[str, ...]]

TURNING = ("turn to the lane", "turn to the opposite lane", "turn to the road")
MOVING_SHAFT = ("coupled", "turning")
JOINED = ("in", "wind")

NEVER: tuple[tuple[str, Box], ...] = (
    # water
    ("water on without its hose", {"supply": "on", "supply hose": "off"}),
    ("water on with the pawl up", {"supply": "on", "pawl": "up"}),
    ("water on without feet", {"supply": "on", "legs": "up"}),
    ("water on with the cart up", {"supply": "on", "cart": "stowed"}),
    ("water on with the pin out", {"supply": "on", "turntable pin": "out"}),
    ("water on with the drum to the road", {"supply": "on", "drum heading": ("road", "between")}),
    ("water on with folded arms", {"supply": "on", "arms": "folded"}),
    ("water on with a guard off", {"supply": "on", "guards": "off"}),
    ("water on with the crank on", {"supply": "on", "hand crank": "on"}),
    ("water on with a shaft on", {"supply": "on", "PTO shaft": MOVING_SHAFT}),
    ("water on while the drum is joined to the input", {"supply": "on", "drive": "wind"}),
    ("water on with the drum blocked", {"supply": "on", "drum block": "on"}),
    ("a coupling opened under pressure", {"pressure": "water", "supply hose": "off", "supply": "on"}),
    # drive, crank, shaft
    ("drive in with the pawl up", {"drive": JOINED, "pawl": "up"}),
    ("drive in with the crank on", {"drive": "in", "hand crank": "on"}),
    ("drive in with a shaft on", {"drive": "in", "PTO shaft": MOVING_SHAFT}),
    ("drive in with the drum blocked", {"drive": JOINED, "drum block": "on"}),
    ("drive in with a guard off", {"drive": JOINED, "guards": "off"}),
    ("drive in between two gears", {"drive": "in", "gear range": "between"}),
    ("turbine driving between two gears", {"turbine": "driving", "gear range": "between"}),
    ("turbine or engine at work while the drum is wound by hand", {"drive": "wind", "turbine": ("idling", "driving")}),
    ("crank and shaft together", {"hand crank": "on", "PTO shaft": MOVING_SHAFT}),
    ("crank on without the pawl", {"hand crank": "on", "pawl": "up"}),
    ("crank on while something drives", {"hand crank": "on", "turbine": ("idling", "driving")}),
    ("crank on with a blocked drum", {"hand crank": "on", "drum block": "on"}),
    ("shaft on with the pawl up", {"PTO shaft": MOVING_SHAFT, "pawl": "up"}),
    ("shaft on with no tractor at it", {"PTO shaft": MOVING_SHAFT, "tractor": ("drawbar", "away", "cart")}),
    ("shaft on with a guard off (29 CFR 1928.57)", {"PTO shaft": MOVING_SHAFT, "guards": "off"}),
    ("shaft turning under pressure", {"PTO shaft": "turning", "pressure": ("water", "air")}),
    ("shaft turning without feet", {"PTO shaft": "turning", "legs": "up"}),
    ("shaft turning with oil hoses on", {"PTO shaft": "turning", "oil hoses": "coupled"}),
    ("shaft turning while the drum is not joined", {"PTO shaft": "turning", "drive": "in"}),
    # turntable, legs, cart
    ("pin out with the legs set", {"turntable pin": "out", "legs": "set"}),
    ("pin out with the hose out", {"turntable pin": "out", "hose": "out"}),
    ("pin out under pressure", {"turntable pin": "out", "pressure": ("water", "air")}),
    ("pin out with the drive in", {"turntable pin": "out", "drive": JOINED}),
    ("pin out with the supply hose on", {"turntable pin": "out", "supply hose": "coupled"}),
    ("pin out with the cart down", {"turntable pin": "out", "cart": "lowered"}),
    ("pin out with the arms out", {"turntable pin": "out", "arms": "out"}),
    ("pin out with the crank on", {"turntable pin": "out", "hand crank": "on"}),
    ("pin out with a shaft on", {"turntable pin": "out", "PTO shaft": MOVING_SHAFT}),
    ("the hose out without feet", {"hose": "out", "legs": "up"}),
    ("the hose out with the cart up", {"hose": "out", "cart": "stowed"}),
    ("the hose out to the road", {"hose": "out", "drum heading": ("road", "between")}),
    ("feet in the ground with the drum to the road", {"legs": "set", "drum heading": ("road", "between")}),
    ("legs up with neither tractor nor chocks", {"legs": "up", "chocks": "off", "tractor": ("away", "cart", "shaft")}),
    ("drawbar on no jack and no tractor", {"jack": "up", "tractor": ("away", "cart", "shaft")}),
    ("stretched hose with the pawl up", {"tension": "stretched", "pawl": "up"}),
    ("hose pulled while the legs can be moved", {"tractor": "cart", "oil hoses": "coupled"}),
    # opened for work
    ("a guard off where the drum can turn (30 CFR 56.14105)", {"guards": "off", "drum block": "off"}),
    ("a guard off while something drives", {"guards": "off", "turbine": ("idling", "driving")}),
    ("a guard off with the pawl up", {"guards": "off", "pawl": "up"}),
    ("a guard off with the crank on", {"guards": "off", "hand crank": "on"}),
    ("a guard off with a stretched hose", {"guards": "off", "tension": "stretched"}),
    ("the drum blocked against a stretched hose", {"drum block": "on", "tension": "stretched"}),
    ("air in a hose whose drum can turn", {"pressure": "air", "drum block": "off"}),
    ("air against a coupled supply", {"pressure": "air", "supply hose": "coupled"}),
)

NOT_BY_ENGINE: tuple[tuple[str, Box], ...] = (("driving without water", {"turbine": "driving", "supply": "off"}),)
"""True of machines that water drives."""

FORBIDDEN: tuple[tuple[str, tuple[str, ...], Box], ...] = (
    ("towed with the drum off the road position", ("tow",), {"drum heading": ("lane", "opposite", "between")}),
    ("towed with the drum not locked", ("tow",), {"turntable pin": "out"}),
    ("towed with legs down", ("tow",), {"legs": "set"}),
    ("towed on its jack", ("tow",), {"jack": "carrying"}),
    ("towed with chocks", ("tow",), {"chocks": "on"}),
    ("towed with the cart down", ("tow",), {"cart": "lowered"}),
    ("towed with arms out", ("tow",), {"arms": "out"}),
    ("towed with the hose out", ("tow",), {"hose": "out"}),
    ("towed with the supply hose on", ("tow",), {"supply hose": "coupled"}),
    ("towed with the pawl up", ("tow",), {"pawl": "up"}),
    ("towed with the drive in", ("tow",), {"drive": JOINED}),
    ("towed with crank on", ("tow",), {"hand crank": "on"}),
    ("towed with shaft on", ("tow",), {"PTO shaft": MOVING_SHAFT}),
    ("towed with a guard off", ("tow",), {"guards": "off"}),
    ("drum turned with the hose out", TURNING, {"hose": "out"}),
    ("drum turned with legs set", TURNING, {"legs": "set"}),
    ("drum turned with water on", TURNING, {"supply": "on"}),
    ("drum turned with the pin in", TURNING, {"turntable pin": "in"}),
    ("pin pulled under load", ("pull the pin",), {"hose": "out"}),
    ("pin pulled with legs set", ("pull the pin",), {"legs": "set"}),
    ("pull-out with the drive in", ("pull out", "lift the pawl"), {"drive": JOINED}),
    ("pull-out with the pawl down", ("pull out",), {"pawl": "down"}),
    ("pull-out with a full hose", ("pull out", "lift the pawl"), {"pressure": ("water", "air")}),
    ("pull-out with the water on", ("pull out", "lift the pawl"), {"supply": "on"}),
    ("pull-out without feet", ("pull out", "lift the pawl"), {"legs": "up"}),
    ("pull-out with the pin out", ("pull out", "lift the pawl"), {"turntable pin": "out"}),
    ("pull-out off the lane", ("pull out", "lift the pawl"), {"drum heading": ("road", "between")}),
    ("pull-out with the cart up", ("pull out", "lift the pawl"), {"cart": "stowed"}),
    ("pull-out with the crank on", ("pull out", "lift the pawl"), {"hand crank": "on"}),
    ("pawl lifted under load", ("lift the pawl",), {"hose": "out"}),
    ("drive in while the turbine drives", ("put the drive in",), {"turbine": "driving"}),
    ("drive in with the stop tripped", ("put the drive in",), {"stop mechanism": "tripped"}),
    ("drive in with the pawl up", ("put the drive in", "put the drive to winding"), {"pawl": "up"}),
    ("drive in with crank on", ("put the drive in",), {"hand crank": "on"}),
    ("gear changed while the turbine drives", ("move the gear lever", "choose the gear"), {"turbine": "driving"}),
    ("gear changed under load", ("move the gear lever", "choose the gear"), {"drive": JOINED}),
    ("water on with the stop not tried", ("open the water", "start"), {"stop test": "untested"}),
    ("water on with the stop tripped", ("open the water", "start"), {"stop mechanism": "tripped"}),
    ("water on with the pawl up", ("open the water", "start"), {"pawl": "up"}),
    ("water on with the drive out", ("open the water", "start"), {"drive": "out"}),
    ("water on with a tractor on it", ("open the water", "start"), {"tractor": ("drawbar", "cart", "shaft")}),
    ("start with water off", ("start", "reel in"), {"supply": "off"}),
    ("wound home with the turbine joined", ("wind home by PTO", "wind home by crank"), {"drive": "in"}),
    ("wound home under pressure", ("wind home by PTO", "wind home by crank"), {"pressure": ("water", "air")}),
    ("wound home with water on", ("wind home by PTO", "wind home by crank", "let the shaft turn"), {"supply": "on"}),
    ("wound home with the pawl up", ("wind home by PTO", "wind home by crank", "let the shaft turn"), {"pawl": "up"}),
    ("wound home without feet", ("wind home by PTO", "wind home by crank", "let the shaft turn"), {"legs": "up"}),
    ("wound home by both", ("wind home by PTO", "put the shaft on"), {"hand crank": "on"}),
    ("wound home by both", ("wind home by crank", "put the crank on"), {"PTO shaft": MOVING_SHAFT}),
    ("coupling opened under pressure", ("take the supply hose off",), {"pressure": ("water", "air")}),
    ("coupling opened with the water on", ("take the supply hose off",), {"supply": "on"}),
    ("legs raised under pull", ("raise the legs", "raise legs and cart"), {"hose": "out"}),
    ("legs raised with water on", ("raise the legs", "raise legs and cart"), {"supply": "on"}),
    ("tension let off under pressure", ("let the tension off",), {"pressure": ("water", "air")}),
    ("tension let off with a shaft on", ("let the tension off",), {"PTO shaft": MOVING_SHAFT}),
    *(
        (f"worked on with {part} {where}", ("work on it", "make safe", "take a guard off"), {part: where})
        for part, where in (
            ("supply", "on"), ("pressure", ("water", "air")), ("tension", "stretched"), ("drum block", "off"),
            ("pawl", "up"), ("drive", JOINED), ("turbine", ("idling", "driving")), ("PTO shaft", MOVING_SHAFT),
            ("hand crank", "on"), ("oil hoses", "coupled"), ("control", "on"),
        )
    ),
    ("worked on with the machine free to roll", ("work on it", "make safe", "take a guard off"),
     {"chocks": "off", "legs": "up", "tractor": ("away", "cart", "shaft")}),
)  # fmt: skip

STOPPED: Box = {"supply": "off", "turbine": "stopped", "drive": ("out", "wind"), "PTO shaft": ("off", "coupled")}
"""A machine that was stopped: nothing drives, turns or takes water."""


def rows(model: MachineModel) -> Iterator[tuple[str, Box]]:
    """The rows of what must never be that say something of a machine."""
    by_engine = any(one == "idling" for one in model.parts["turbine"].positions)
    for reason, box in (*NEVER, *(() if by_engine else NOT_BY_ENGINE)):
        if all(part in model.parts for part in box):
            yield reason, box
