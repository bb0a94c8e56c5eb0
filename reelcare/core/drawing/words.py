"""The ground plan in words: where a part is, how it stands, and what is left of the walk.

For screen readers, for the command line and for the line under the picture. The rules of this file: short,
the same places as drawn, and each language whole.
"""

from __future__ import annotations

from collections.abc import Mapping

from reelcare.core.drawing.machine import PART_OF, DrawnEquipment, WalkRoute
from reelcare.core.wording import Words, count, said

PARTS: dict[str, Words] = {
    "drum": {"en": "drum", "es": "tambor"},
    "hose": {"en": "hose", "es": "manguera"},
    "level wind": {"en": "level wind", "es": "guía de manguera"},
    "drive": {"en": "drive", "es": "transmisión"},
    "gearbox": {"en": "gearbox", "es": "caja de engranajes"},
    "chain": {"en": "chain", "es": "cadena"},
    "pawl": {"en": "pawl", "es": "trinquete"},
    "brake": {"en": "drum brake", "es": "freno del tambor"},
    "end stop": {"en": "end-of-run stop", "es": "paro de fin de carrera"},
    "compensation": {"en": "speed compensation", "es": "compensación de velocidad"},
    "turntable": {"en": "turntable", "es": "tornamesa"},
    "legs": {"en": "legs", "es": "patas"},
    "jack": {"en": "tongue jack", "es": "gato de la lanza"},
    "cart": {"en": "cart", "es": "carro"},
    "gun": {"en": "gun", "es": "cañón"},
    "supply hose": {"en": "supply hose", "es": "manguera de suministro"},
    "gauges": {"en": "gauges", "es": "manómetros"},
    "wheels": {"en": "wheels", "es": "ruedas"},
    "drawbar": {"en": "drawbar", "es": "lanza"},
    "lights": {"en": "lights", "es": "luces"},
    "guards": {"en": "guards", "es": "resguardos"},
    "site": {"en": "site", "es": "sitio"},
}
"""Each part's name."""

PLACES: dict[str, Words] = {
    "drum": {"en": "in the middle of the machine", "es": "en el centro de la máquina"},
    "hose": {"en": "on the drum and along the lane", "es": "en el tambor y a lo largo del carril"},
    "level wind": {"en": "across the front of the drum", "es": "a lo ancho delante del tambor"},
    "drive": {"en": "beside the gearbox, outside", "es": "junto a la caja, por fuera"},
    "gearbox": {"en": "beside the drum, towards the wheels", "es": "al lado del tambor, hacia las ruedas"},
    "chain": {"en": "between gearbox and drum", "es": "entre la caja y el tambor"},
    "pawl": {"en": "on the drum's flange, drawbar side", "es": "en la brida del tambor, hacia la lanza"},
    "brake": {"en": "on the drum's flange, at the back", "es": "en la brida del tambor, por detrás"},
    "end stop": {"en": "before the level wind, over the hose", "es": "delante de la guía, sobre la manguera"},
    "compensation": {"en": "behind the drum, on the coils", "es": "detrás del tambor, sobre las espiras"},
    "turntable": {"en": "under the drum, pin at the back", "es": "bajo el tambor, el perno detrás"},
    "legs": {"en": "at both front corners of the drum", "es": "en las dos esquinas delanteras del tambor"},
    "jack": {"en": "under the drawbar", "es": "bajo la lanza"},
    "cart": {"en": "in front of the drum, or out on the lane", "es": "delante del tambor, o en el carril"},
    "gun": {"en": "on the cart", "es": "sobre el carro"},
    "supply hose": {"en": "from the hydrant to the drum's hub", "es": "del hidrante al cubo del tambor"},
    "gauges": {"en": "at the inlet and at the gun", "es": "en la entrada y en el cañón"},
    "wheels": {"en": "at the rear of the chassis", "es": "atrás en el chasis"},
    "drawbar": {"en": "between tractor and drum", "es": "entre el tractor y el tambor"},
    "lights": {"en": "at the rear end", "es": "en el extremo trasero"},
    "guards": {"en": "round chain, belt and shaft", "es": "alrededor de cadena, correa y eje"},
    "site": {"en": "all round, and up", "es": "todo alrededor, y arriba"},
}
"""Where each part is on the machine, looking down the lane."""

POSITIONS: dict[str, Words] = {
    "drum heading": {"en": "drum", "es": "tambor"},
    "turntable pin": {"en": "pin", "es": "perno"},
    "legs": {"en": "legs", "es": "patas"},
    "cart": {"en": "cart", "es": "carro"},
    "pawl": {"en": "pawl", "es": "trinquete"},
    "drive": {"en": "drive", "es": "transmisión"},
    "turbine": {"en": "turbine", "es": "turbina"},
    "gear range": {"en": "gear range", "es": "gama"},
    "supply": {"en": "supply", "es": "suministro"},
    "supply hose": {"en": "supply hose", "es": "manguera de suministro"},
    "stop mechanism": {"en": "stop", "es": "paro"},
}
"""What each position is of."""

STANDS: dict[str, Words] = {
    "lane": {"en": "to the lane", "es": "al carril"},
    "road": {"en": "to the road", "es": "al camino"},
    "in": {"en": "in", "es": "puesto"},
    "out": {"en": "out", "es": "fuera"},
    "set": {"en": "set", "es": "clavadas"},
    "up": {"en": "up", "es": "arriba"},
    "down": {"en": "down", "es": "abajo"},
    "stowed": {"en": "stowed", "es": "recogido"},
    "lowered": {"en": "lowered", "es": "bajado"},
    "stopped": {"en": "stopped", "es": "parada"},
    "driving": {"en": "driving", "es": "empujando"},
    "chosen": {"en": "chosen", "es": "elegida"},
    "being changed": {"en": "being changed", "es": "en cambio"},
    "on": {"en": "on", "es": "abierto"},
    "off": {"en": "off", "es": "cerrado"},
    "coupled": {"en": "coupled", "es": "acoplada"},
    "reset": {"en": "set", "es": "armado"},
    "tripped": {"en": "tripped", "es": "disparado"},
}
"""How a part stands."""
_BY_PART: dict[tuple[str, str], Words] = {
    ("drive", "in"): {"en": "in", "es": "conectada"},
    ("cart", "out"): {"en": "out on the lane", "es": "en el carril"},
    ("supply hose", "off"): {"en": "off", "es": "quitada"},
    ("drive", "out"): {"en": "out", "es": "desconectada"},
}
NOT_KNOWN: Words = {"en": "not known", "es": "sin saber"}
MOST_NEXT = 3


def part(name: str, language: str = "en") -> str:
    """A part's name; the name itself where there is no other.

    >>> part("level wind", "es")
    'guía de manguera'
    """
    return said(PARTS.get(name, {"en": name}), language)


def stands(name: str, where: str, language: str = "en") -> str:
    """A position in words.

    >>> stands("pawl", "up"), stands("drive", "in", "es"), stands("legs", "")
    ('pawl up', 'transmisión conectada', 'legs not known')
    """
    how = _BY_PART.get((name, where)) or STANDS.get(where) or ({"en": where} if where else NOT_KNOWN)
    return f"{said(POSITIONS.get(name, {'en': name}), language)} {said(how, language)}"


def positions_of(lit: str, machine: DrawnEquipment, positions: Mapping[str, str], language: str = "en") -> list[str]:
    """How one part stands, in all its positions.

    >>> positions_of("gearbox", DrawnEquipment(), {"drive": "out", "gear range": "chosen"})
    ['drive out', 'gear range chosen']
    """
    return [
        stands(name, positions.get(name, ""), language)
        for name, of in PART_OF.items()
        if of == lit and (machine.turntable or name != "turntable pin")
    ]


def every_position(
    machine: DrawnEquipment, positions: Mapping[str, str], language: str = "en"
) -> list[tuple[str, bool]]:
    """All positions in words, in the order of the interlocks, and whether each is known."""
    return [
        (stands(name, positions.get(name, ""), language), bool(positions.get(name)))
        for name in PART_OF
        if machine.turntable or name != "turntable pin"
    ]


def left_of(walk: WalkRoute, language: str = "en") -> str:
    """What is left of a walk.

    >>> left_of(WalkRoute(("legs", "cart", "pawl"), 0))
    '2 places to go; next: cart, pawl'
    >>> left_of(WalkRoute(("legs", "cart"), 1), "es")
    'es el último punto'
    >>> left_of(WalkRoute(("legs", "cart"), 0), "es")
    'falta 1 punto; sigue: carro'
    """
    ahead = walk.parts[walk.at + 1 :]
    if not ahead:
        return "es el último punto" if language == "es" else "this is the last place"
    names = ", ".join(part(one, language) for one in ahead[:MOST_NEXT])
    if language == "es":
        return f"{'falta' if len(ahead) == 1 else 'faltan'} {count(len(ahead), 'punto')}; sigue: {names}"
    return f"{count(len(ahead), 'place')} to go; next: {names}"


def in_words(
    machine: DrawnEquipment,
    positions: Mapping[str, str],
    *,
    lit: str,
    walk: WalkRoute | None = None,
    language: str = "en",
) -> str:
    """The picture as one line: where one is, how it stands there, and what comes next.

    >>> in_words(DrawnEquipment(), {"pawl": "down"}, lit="pawl", walk=WalkRoute(("pawl", "gearbox"), 0))
    "At the pawl, on the drum's flange, drawbar side (pawl down); 1 place to go; next: gearbox"
    """
    name, place = part(lit, language), said(PLACES.get(lit, {"en": ""}), language)
    text = f"{name[:1].upper()}{name[1:]}: {place}" if language == "es" else f"At the {name}, {place}"
    how = ", ".join(positions_of(lit, machine, positions, language))
    if how:
        text += f" ({how})"
    return f"{text}; {left_of(walk, language)}" if walk is not None and walk.parts else text
