"""The parts of a machine that a question, a fault or a service can be about."""

from __future__ import annotations

from collections.abc import Mapping

from reelcare.core.wording import Words, said

PARTS = (
    "drum", "hose", "level wind", "drive", "gearbox", "chain", "pawl", "brake", "end stop", "compensation",
    "turntable", "legs", "jack", "cart", "gun", "supply hose", "gauges", "wheels", "drawbar", "lights",
    "guards", "site",
)  # fmt: skip

USUAL: Mapping[str, tuple[str, ...]] = {
    "drum": ("reel", "drum bearing", "tambor", "carrete"),
    "hose": ("pipe", "tube", "hose end", "manguera", "tubo"),
    "level wind": ("guide", "hose guide", "spooler", "guía"),
    "drive": ("turbine", "belt", "drive belt", "bellows", "engine", "turbina", "correa", "transmisión", "motor"),
    "gearbox": ("gears", "oil", "gear oil", "caja", "engranajes", "aceite"),
    "chain": ("sprocket", "cadena", "piñón"),
    "pawl": ("latch", "ratchet", "trinquete"),
    "brake": ("drum brake", "freno"),
    "end stop": ("stop", "stop bar", "shut-off", "cut-out", "paro", "palpador"),
    "compensation": ("speed sensor", "regulator", "compensación"),
    "turntable": ("slewing ring", "turntable pin", "tornamesa"),
    "legs": ("leg", "foot", "feet", "outrigger", "stabiliser", "stabilizer", "patas", "pata"),
    "jack": ("tongue jack", "gato"),
    "cart": ("gun cart", "sled", "trolley", "carro"),
    "gun": ("nozzle", "sprinkler", "jet", "boom", "cañón", "boquilla", "tobera"),
    "supply hose": ("coupling", "hydrant hose", "feed hose", "acople", "suministro"),
    "gauges": ("gauge", "manometer", "manómetro", "manómetros"),
    "wheels": ("wheel", "tyre", "tyres", "tire", "tires", "rim", "hub", "wheel nut", "rueda", "ruedas", "neumático"),
    "drawbar": ("hitch", "towbar", "tongue", "lanza", "enganche"),
    "lights": ("light", "lamp", "lamps", "reflector", "luces", "luz"),
    "guards": ("guard", "cover", "shield", "resguardo", "resguardos"),
    "site": ("place", "field", "lane", "sitio"),
}
"""The usual words for each part, in English and Spanish (common practice, no source)."""


def usual(text: str) -> str:
    """The part that a word means, by its name or a usual word for it; '' where there is none.

    >>> usual("Tyre"), usual("end stop"), usual("dynamo")
    ('wheels', 'end stop', '')
    """
    word = " ".join(text.casefold().split())
    return word if word in PARTS else next((part for part, words in USUAL.items() if word in words), "")


def meant(text: str) -> tuple[str, ...]:
    """The parts that what is typed so far can mean: the one that it names, else those of which a word begins so.

    >>> meant("le"), meant("tur")
    (('level wind', 'legs'), ('drive', 'turntable'))
    """
    word = " ".join(text.casefold().split())
    if not word:
        return ()
    if exact := usual(word):
        return (exact,)
    return tuple(part for part in PARTS if any(one.startswith(word) for one in (part, *USUAL[part])))


RETESTS: Mapping[str, Words] = {
    "drum": {"en": "Drum turned by hand: free, nothing grinds.", "es": "Tambor girado a mano: libre, nada roza."},
    "hose": {
        "en": "Hose at working pressure for ten minutes: dry, no bulge.",
        "es": "Manguera a presión de trabajo diez minutos: seca, sin bultos.",
    },
    "level wind": {
        "en": "One layer wound: each coil lies beside the last, the guide turns back at the flange.",
        "es": "Una capa enrollada: cada espira junto a la otra, la guía vuelve en la brida.",
    },
    "drive": {"en": "Drive run for ten minutes under load.", "es": "Transmisión diez minutos con carga."},
    "gearbox": {
        "en": "Drive put in and taken out three times; no leak after ten minutes.",
        "es": "Transmisión conectada y soltada tres veces; sin fuga tras diez minutos.",
    },
    "chain": {
        "en": "Chain turned once round by hand: runs true.",
        "es": "Cadena girada una vuelta a mano: corre bien.",
    },
    "pawl": {
        "en": "Pawl dropped five times: in a tooth each time.",
        "es": "Trinquete soltado cinco veces: entra cada vez.",
    },
    "brake": {
        "en": "Drum pulled by hand: the brake drags evenly.",
        "es": "Tambor tirado a mano: el freno roza parejo.",
    },
    "end stop": {
        "en": "Stop bar pushed by hand three times: the drive comes out each time; then one run's end watched.",
        "es": "Palpador empujado a mano tres veces: la transmisión se suelta cada vez; luego se vigila un final.",
    },
    "compensation": {
        "en": "Speed measured on two layers: alike within 10 %.",
        "es": "Velocidad medida en dos capas: igual dentro del 10 %.",
    },
    "turntable": {
        "en": "Pin drops home with its clip in each position.",
        "es": "El pasador entra con su seguro en cada posición.",
    },
    "legs": {"en": "Legs hold ten minutes under load.", "es": "Las patas aguantan diez minutos con carga."},
    "jack": {"en": "Jack holds ten minutes under load.", "es": "El gato aguanta diez minutos con carga."},
    "cart": {
        "en": "Cart pulled ten metres: runs straight, all locked.",
        "es": "Carro tirado diez metros: recto, trabado.",
    },
    "gun": {"en": "Gun at working pressure: turns through its arc.", "es": "Cañón a presión: gira todo su sector."},
    "supply hose": {
        "en": "At working pressure for five minutes: dry, no kink.",
        "es": "A presión de trabajo cinco minutos: seca, sin dobleces.",
    },
    "gauges": {
        "en": "Gauge at zero without pressure, and beside a test gauge under pressure.",
        "es": "Manómetro a cero sin presión, y junto a uno de prueba con presión.",
    },
    "wheels": {
        "en": "Nuts at their torque, looked at after the first move.",
        "es": "Tuercas a su par, vistas tras mover.",
    },
    "drawbar": {
        "en": "Hitched and pulled: nothing moves that should not.",
        "es": "Enganchado y tirado: nada se mueve.",
    },
    "lights": {"en": "Every light seen from behind.", "es": "Cada luz vista desde atrás."},
    "guards": {
        "en": "Every guard on and fast, shaken by hand.",
        "es": "Cada resguardo puesto y firme, sacudido a mano.",
    },
    "site": {"en": "Looked at again where the machine stands.", "es": "Visto otra vez donde está la máquina."},
}
"""What is tried again after a repair where nobody says better, part by part (common practice, no source)."""


def default_retest(part: str, language: str = "en") -> str:
    """What is tried again on a part before a release, in a language."""
    return said(RETESTS[part], language)


FOR_THE_ROAD = frozenset({"wheels", "drawbar", "lights"})
"""Parts whose overdue stop items hold the road rather than the run."""
