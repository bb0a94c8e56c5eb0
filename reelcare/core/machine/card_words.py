"""What a person reads for each key of a card, in the order in which one walks round a machine.

The rules of this file: one word for one particular, as `particulars.py` has it on the screen and on paper.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from reelcare.core.text import _, mark

CARD_WORDS: Mapping[str, str] = {
    "tag": mark("tag"), "name": mark("name"), "place": mark("place"), "in_use_since": mark("in use since"),
    "in_use.hours": mark("hours then"), "in_use.metres": mark("metres then"), "in_use.runs": mark("runs then"),
    "hose.length": mark("hose length"), "hose.outside": mark("hose outside"), "hose.inside": mark("hose inside"),
    "hose.material": mark("hose material"), "hose.least_radius": mark("least hose radius"),
    "drum.core_diameter": mark("drum core"), "drum.coils_per_layer": mark("coils in a layer"),
    "drum.layers": mark("layers"), "drum.packing": mark("packing"), "drum.turntable": mark("turntable"),
    "drum.brake": mark("drum brake"), "drum.leaves": mark("hose leaves"), "drive.kind": mark("drive"),
    "drive.most_loss": mark("most loss in drive"), "drive.pto": mark("PTO input"), "drive.crank": mark("hand crank"),
    "drive.winding": mark("put to winding by"), "drive.stop_frees_winding": mark("stop frees winding"),
    "legs.kind": mark("legs"), "legs.with_cart": mark("legs lift the cart"), "legs.on": mark("legs fixed to"),
    "jack.kind": mark("tongue jack"),
    "jack.stroke": mark("jack stroke"), "jack.hole_gain": mark("next pin hole adds"),
    "compensation.kind": mark("speed compensation"), "control.battery": mark("least battery volts"),
    "cart.kind": mark("cart"), "cart.nozzle": mark("nozzle"), "cart.arc": mark("arc (degrees)"),
    "cart.mass": mark("cart mass (kg)"), "cart.least_pressure": mark("least at the gun"),
    "cart.most_pressure": mark("most at the gun"), "cart.arms_out": mark("boom arms out"),
    "pump.efficiency": mark("pump efficiency"), "pump.motor_efficiency": mark("motor efficiency"),
    "road.lights": mark("road lights"), "road.brakes": mark("road brakes"),
    "equipment.injection": mark("injection"), "equipment.pump": mark("pump on the machine"),
    "equipment.shut_off": mark("inlet valve, shut-off"),
    "season.opens": mark("season opens"), "season.closes": mark("season closes"),
    "season.hours_a_year": mark("hours a year"), "season.metres_a_year": mark("metres a year"),
}  # fmt: skip
"""Every key that a form or a spreadsheet can fill; curve points and part numbers stand in the card's file alone."""
_KEY = re.compile("|".join(rf"\b{re.escape(key)}\b" for key in CARD_WORDS if "." in key))


def in_words(text: str) -> str:
    """A text in which keys of a card stand as the card's page calls them.

    >>> in_words("hose.length, pull-out")
    'hose length, pull-out'
    """
    return _KEY.sub(lambda found: _(CARD_WORDS[found[0]]), text)
