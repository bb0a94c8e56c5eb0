"""The parts of a machine that a question, a fault or a service can be about."""

from __future__ import annotations

from collections.abc import Mapping

from reelcare.core.wording import Words, said

PARTS = (
    "drum", "hose", "level wind", "drive", "gearbox", "chain", "pawl", "brake", "end stop", "compensation",
    "turntable", "legs", "jack", "cart", "gun", "supply hose", "gauges", "wheels", "drawbar", "lights",
    "guards", "site",
)  # fmt: skip

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
