"""The parts of a machine that a question, a fault or a service can be about."""

from __future__ import annotations

from collections.abc import Mapping

from reelcare.core.text import mark

PARTS = (
    "drum", "hose", "level wind", "drive", "gearbox", "chain", "pawl", "brake", "end stop", "compensation",
    "turntable", "legs", "jack", "cart", "gun", "supply hose", "gauges", "wheels", "drawbar", "lights",
    "guards", "site",
)  # fmt: skip

USUAL: Mapping[str, tuple[str, ...]] = {
    "drum": ("reel", "drum bearing", "tambor", "carrete", "bobine"),
    "hose": ("pipe", "tube", "hose end", "manguera", "tubo", "tuyau"),
    "level wind": ("guide", "hose guide", "spooler", "guía"),
    "drive": (
        "turbine", "belt", "drive belt", "bellows", "engine", "turbina", "correa", "transmisión", "motor",
        "transmission", "courroie", "soufflet", "moteur",
    ),
    "gearbox": ("gears", "oil", "gear oil", "caja", "engranajes", "aceite", "boîte", "huile"),
    "chain": ("sprocket", "cadena", "piñón", "chaîne", "pignon"),
    "pawl": ("latch", "ratchet", "trinquete", "cliquet"),
    "brake": ("drum brake", "freno", "frein"),
    "end stop": ("stop", "stop bar", "shut-off", "cut-out", "paro", "palpador", "arrêt", "palpeur"),
    "compensation": ("speed sensor", "regulator", "compensación", "regulador"),
    "turntable": ("slewing ring", "turntable pin", "tornamesa", "corona", "tourelle"),
    "legs": (
        "leg", "foot", "feet", "outrigger", "stabiliser", "stabilizer", "patas", "pata",
        "béquilles", "béquille", "bêche",
    ),
    "jack": ("tongue jack", "gato", "cric"),
    "cart": ("gun cart", "sled", "trolley", "carro", "chariot"),
    "gun": ("nozzle", "sprinkler", "jet", "boom", "cañón", "boquilla", "tobera", "canon", "buse", "rampe"),
    "supply hose": (
        "coupling", "hydrant hose", "feed hose", "acople", "suministro", "acometida", "alimentation", "raccord",
    ),
    "gauges": ("gauge", "manometer", "manómetro", "manómetros", "manomètre", "manomètres"),
    "wheels": (
        "wheel", "tyre", "tyres", "tire", "tires", "rim", "hub", "wheel nut", "rueda", "ruedas", "neumático", "roue",
        "roues", "pneu", "pneus",
    ),
    "drawbar": ("hitch", "towbar", "tongue", "lanza", "enganche", "timon"),
    "lights": ("light", "lamp", "lamps", "reflector", "luces", "luz", "feux", "feu"),
    "guards": ("guard", "cover", "shield", "resguardo", "resguardos", "protecteur", "protecteurs"),
    "site": ("place", "field", "lane", "sitio", "lieu"),
}  # fmt: skip
"""The usual words for each part, in English, Spanish and French (common practice, no source)."""


def part_called(text: str) -> str:
    """The part that a word names, by its name or a usual word for it; '' where there is none.

    >>> part_called("Tyre"), part_called("end stop"), part_called("dynamo")
    ('wheels', 'end stop', '')
    """
    word = " ".join(text.casefold().split())
    return word if word in PARTS else next((part for part, words in USUAL.items() if word in words), "")


def parts_matching(text: str) -> tuple[str, ...]:
    """The parts that what is typed so far can mean: the one that it names, else those of which a word begins so.

    >>> parts_matching("le"), parts_matching("tur")
    (('level wind', 'legs'), ('drive', 'turntable'))
    """
    word = " ".join(text.casefold().split())
    if not word:
        return ()
    if exact := part_called(word):
        return (exact,)
    return tuple(part for part in PARTS if any(one.startswith(word) for one in (part, *USUAL[part])))


RETESTS: dict[str, str] = {
    "drum": mark("Drum turned by hand: free, nothing grinds."),
    "hose": mark("Hose at working pressure for ten minutes: dry, no bulge."),
    "level wind": mark("One layer wound: each coil lies beside the last, the guide turns back at the flange."),
    "drive": mark("Drive run for ten minutes under load."),
    "gearbox": mark("Drive put in and taken out three times; no leak after ten minutes."),
    "chain": mark("Chain turned once round by hand: runs true."),
    "pawl": mark("Pawl dropped five times: in a tooth each time."),
    "brake": mark("Drum pulled by hand: the brake drags evenly."),
    "end stop": mark("Stop bar pushed by hand three times: the drive comes out each time; then one run's end watched."),
    "compensation": mark("Speed measured on two layers: alike within 10 %."),
    "turntable": mark("Pin drops home with its clip in each position."),
    "legs": mark("Legs hold ten minutes under load."),
    "jack": mark("Jack holds ten minutes under load."),
    "cart": mark("Cart pulled ten metres: runs straight, all locked."),
    "gun": mark("Gun at working pressure: turns through its arc."),
    "supply hose": mark("At working pressure for five minutes: dry, no kink."),
    "gauges": mark("Gauge at zero without pressure, and beside a test gauge under pressure."),
    "wheels": mark("Nuts at their torque, looked at after the first move."),
    "drawbar": mark("Hitched and pulled: nothing moves that should not."),
    "lights": mark("Every light seen from behind."),
    "guards": mark("Every guard on and fast, shaken by hand."),
    "site": mark("Look again on the spot, at the machine."),
}
"""What is tried again after a repair where nobody says better, part by part (common practice, no source)."""


def default_retest(part: str) -> str:
    """What is tried again on a part before a release, in English: it is kept with the fault. `_` translates it."""
    return RETESTS[part]


FOR_THE_ROAD = frozenset({"wheels", "drawbar", "lights"})
"""Parts whose overdue stop items hold the road rather than the run."""
