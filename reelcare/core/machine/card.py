"""The machine card: what a machine is made of, as far as it is known.

The rules of this file: a card is read from a plain table (the content of its TOML file). Every error is told at
once, with its key and the cure. What the card does not say stays None: it is named when something needs it,
not before, and never guessed. Lengths in m, pressures in Pa, temperatures in degC, use in h and m a year.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, NamedTuple

from reelcare.core.machine import card_readers
from reelcare.core.machine.card_readers import bare, day, day_of_year, flag, mass, one_of, pairs, quantity, text
from reelcare.core.text import _, mark
from reelcare.core.wording import ProblemsError, nearest


class CardError(ProblemsError):
    """A card that cannot be right."""


class Drum(NamedTuple):
    """The drum: core diameter [m], coils in one layer, layers, packing (1 = square, 0.866 = nested), and where the hose
    of a drum without turntable leaves the chassis: "rear" or "side"."""

    core_diameter: float | None = None
    coils_per_layer: float | None = None
    layers: int | None = None
    packing: float | None = None
    turntable: bool | None = None
    brake: bool | None = None
    leaves: str | None = None


class Hose(NamedTuple):
    """The hose: outside and inside diameter [m], length [m], material (for example PE80), and the least radius of a
    curve on the ground [m]."""

    outside: float | None = None
    inside: float | None = None
    length: float | None = None
    material: str | None = None
    least_radius: float | None = None

    @property
    def rated(self) -> float | None:
        """Pressure that it may hold at 20 degC [Pa]; None where its diameters are not known."""
        if self.outside is None or self.inside is None:
            return None
        from reelcare.core.hydraulics.hose import rating  # seldom asked; cards are always read

        return rating(self.outside, self.inside, self.material or "")


class Drive(NamedTuple):
    """What turns the drum, the most pressure it may take from the water [Pa], and how the hose is wound home without
    it: PTO input, hand crank, how the drive is put to winding, and whether the end stop frees that, too."""

    kind: str | None = None
    most_loss: float | None = None
    pto: bool | None = None
    crank: bool | None = None
    winding: str | None = None
    stop_frees_winding: bool | None = None


class Legs(NamedTuple):
    """The stabiliser legs, whether the cart is lifted with them (usual on hydraulic ones), and what they stand out
    from. On either, the drum is turned with the legs up: the model knows no other way that is safe."""

    kind: str | None = None
    with_cart: bool | None = None
    on: str | None = None


class Jack(NamedTuple):
    """The tongue jack: stroke [m], and what moving the pin to the next hole adds [m]."""

    kind: str | None = None
    stroke: float | None = None
    hole_gain: float | None = None


class Compensation(NamedTuple):
    """What keeps the cart's speed as the layers build."""

    kind: str | None = None


class Cart(NamedTuple):
    """The irrigating cart: gun or boom, nozzle bore [m], sector of the gun [degrees], mass [kg], the pressure at the
    gun [Pa] from and to which it works well, and when the arms of a boom are unfolded."""

    kind: str | None = None
    nozzle: float | None = None
    arc: float | None = None
    mass: float | None = None
    least_pressure: float | None = None
    most_pressure: float | None = None
    arms_out: str | None = None


class Pump(NamedTuple):
    """What feeds the machine: points of the pump's curve (flow [m3/s], pressure at the machine's inlet [Pa]), and the
    efficiencies of pump and motor as parts."""

    points: tuple[tuple[float, float], ...] | None = None
    efficiency: float | None = None
    motor_efficiency: float | None = None


class Road(NamedTuple):
    """What the machine has for the road."""

    lights: bool | None = None
    brakes: bool | None = None


class Equipment(NamedTuple):
    """What else is on it: injection into the water, a pump, an inlet valve or a shut-off by pressure or speed."""

    injection: bool | None = None
    pump: bool | None = None
    shut_off: bool | None = None


class Control(NamedTuple):
    """An electronic speed control: the least voltage of its battery under load [V]."""

    battery: float | None = None


class Season(NamedTuple):
    """When the machine works ("MM-DD") and how much in a year, as planned [h, m]."""

    opens: str | None = None
    closes: str | None = None
    hours_a_year: float | None = None
    metres_a_year: float | None = None


class InUse(NamedTuple):
    """What the counters were on the day since which the machine is in use [h, m, runs]."""

    hours: float | None = None
    metres: float | None = None
    runs: int | None = None


@dataclass(frozen=True, slots=True)
class Card:
    """One machine's particulars."""

    tag: str
    name: str = ""
    place: str = ""
    in_use_since: date | None = None
    in_use: InUse = field(default_factory=InUse)
    drum: Drum = field(default_factory=Drum)
    hose: Hose = field(default_factory=Hose)
    drive: Drive = field(default_factory=Drive)
    legs: Legs = field(default_factory=Legs)
    jack: Jack = field(default_factory=Jack)
    compensation: Compensation = field(default_factory=Compensation)
    cart: Cart = field(default_factory=Cart)
    pump: Pump = field(default_factory=Pump)
    road: Road = field(default_factory=Road)
    equipment: Equipment = field(default_factory=Equipment)
    control: Control = field(default_factory=Control)
    season: Season = field(default_factory=Season)
    parts: Mapping[str, str] = field(default_factory=dict, hash=False)
    """Part numbers, by the item of the plan that needs them."""

    def has(self, need: str) -> bool:
        """Whether a question that needs this is asked of the machine: the card says so, or is silent. With " or " one
        of several is enough.

        >>> Card("R1", legs=Legs("hydraulic")).has("legs.cranked"), Card("R1").has("turntable")
        (False, True)
        >>> Card("R1", drive=Drive(pto=False, crank=False)).has("pto or crank")
        False
        """
        return any(self._has(one) for one in need.split(" or "))

    def has_all(self, needs: Iterable[str]) -> bool:
        """Whether it denies nothing of what something needs."""
        return all(self.has(one) for one in needs)

    def is_sure_of(self, need: str) -> bool:
        """Whether the card itself says that the machine has this, or what it lacks by it.

        >>> Card("R1", legs=Legs("hydraulic")).is_sure_of("legs.hydraulic or turntable"), Card("R1").is_sure_of("pto")
        (True, False)
        """
        wanted = {one.removeprefix("not "): not one.startswith("not ") for one in need.split(" or ")}
        return any(self.says(one) is is_wanted for one, is_wanted in wanted.items())

    def _has(self, need: str) -> bool:
        if need.startswith("not "):
            return self.says(need[4:]) is not True
        return self.says(need) is not False

    def says(self, need: str) -> bool | None:
        """Whether the machine has this, None where the card is silent. Raises ValueError for what no card can say.

        >>> Card("R1", legs=Legs("hydraulic")).says("legs.with_cart"), Card("R1").says("pto")
        (True, None)
        """
        if need == "legs.with_cart" and self.legs.with_cart is None and self.legs.kind is not None:
            return self.legs.kind == "hydraulic"
        if need == "cart.arms_out_first":
            return self.cart.arms_out != ARMS_OUT[1]  # where the card is silent, the safe side: before anything moves
        if need in _FLAGS:
            room, name = _FLAGS[need]
            value = getattr(getattr(self, room), name)
            return None if value is None else bool(value)
        room, kind = (*need.split(".", 1), "")[:2]
        if room not in KINDS or kind not in KINDS[room]:
            raise ValueError(_("{need}: no such need; choose from {needs}", need=need, needs=", ".join(NEEDS)))
        value = getattr(self, room).kind
        return None if value is None else value == kind

    def value(self, name: str) -> float | str | None:
        """A card's value by its dotted name (`drive.most_loss`), in SI; None where the card is silent."""
        room, _, key = name.partition(".")
        found: object = getattr(getattr(self, room, None), key, None)
        return found if isinstance(found, (float, int, str)) else None


KINDS: dict[str, tuple[str, ...]] = {
    "drive": (mark("turbine"), mark("bellows"), mark("engine")),
    "legs": (mark("cranked"), mark("hydraulic")),
    "jack": (mark("screw"), mark("hydraulic")),
    "compensation": (mark("mechanical"), mark("electronic"), mark("none")),
    "cart": (mark("gun"), mark("boom")),
}
_FLAGS = {
    "turntable": ("drum", "turntable"), "brake": ("drum", "brake"), "lights": ("road", "lights"),
    "road.brakes": ("road", "brakes"), "pto": ("drive", "pto"), "crank": ("drive", "crank"),
    "injection": ("equipment", "injection"), "pump": ("equipment", "pump"), "shut_off": ("equipment", "shut_off"),
    "drive.stop_frees_winding": ("drive", "stop_frees_winding"), "legs.with_cart": ("legs", "with_cart"),
}  # fmt: skip
ARMS_OUT = ("before pull-out", "after pull-out")
"""When the arms of a boom are unfolded."""
WINDING = ("lever", "belt off", "bypass open")
"""How a drive is put to winding: by a place of its lever, or by what parts the turbine from the drum."""
LEAVES = ("rear", "side")
LEGS_ON = ("turntable", "chassis")
"""What the stabiliser legs are fixed to."""
NEEDS: tuple[str, ...] = (
    *_FLAGS,
    "cart.arms_out_first",
    *(f"{room}.{kind}" for room, kinds in KINDS.items() for kind in kinds),
)
"""Everything that a question can need of a machine."""


def is_need(text: str) -> bool:
    """Whether a text names what a question can need, one of several with " or "."""
    return all(one.removeprefix("not ") in NEEDS for one in text.split(" or "))


_ROOMS: dict[str, type[Any]] = {
    "drum": Drum, "hose": Hose, "drive": Drive, "legs": Legs, "jack": Jack, "compensation": Compensation,
    "in_use": InUse, "cart": Cart, "pump": Pump, "road": Road, "equipment": Equipment, "control": Control,
    "season": Season,
}  # fmt: skip

READERS: dict[str, card_readers.ValueReader] = {
    "drum.core_diameter": quantity("length", 0.2, 8, "1.6 m", "diameter"),
    "drum.coils_per_layer": bare(1, 200, mark("coils side by side in one layer")),
    "drum.layers": bare(1, 20, mark("layers"), whole=True),
    "drum.packing": bare(0.8, 1.05, mark("1 = square, 0.866 = nested")),
    "drum.turntable": flag,
    "drum.brake": flag,
    "drum.leaves": one_of(LEAVES),
    "hose.outside": quantity("length", 0.02, 0.3, "110 mm", "bore"),
    "hose.inside": quantity("length", 0.015, 0.29, "94 mm", "bore"),
    "hose.length": quantity("length", 10, 2000, "400 m"),
    "hose.material": text,
    "hose.least_radius": quantity("length", 0.2, 100, "3 m"),
    "drive.kind": one_of(KINDS["drive"]),
    "drive.most_loss": quantity("pressure", 1000, 500_000, "0.7 bar", "drive loss"),
    "drive.pto": flag,
    "drive.crank": flag,
    "drive.winding": one_of(WINDING),
    "drive.stop_frees_winding": flag,
    "legs.kind": one_of(KINDS["legs"]),
    "legs.with_cart": flag,
    "legs.on": one_of(LEGS_ON),
    "jack.kind": one_of(KINDS["jack"]),
    "jack.stroke": quantity("length", 0.05, 2, "350 mm", "stroke"),
    "jack.hole_gain": quantity("length", 0.01, 1, "280 mm", "stroke"),
    "compensation.kind": one_of(KINDS["compensation"]),
    "cart.kind": one_of(KINDS["cart"]),
    "cart.nozzle": quantity("length", 0.003, 0.08, "24 mm", "bore"),
    "cart.arc": bare(10, 360, mark("degrees")),
    "cart.mass": mass(10, 5000, "500 kg"),
    "cart.least_pressure": quantity("pressure", 10_000, 3_000_000, "4 bar"),
    "cart.most_pressure": quantity("pressure", 10_000, 3_000_000, "7 bar"),
    "cart.arms_out": one_of(ARMS_OUT),
    "pump.points": pairs("flow", "pressure", '[["0 m3/h", "8 bar"], ["60 m3/h", "6 bar"]]'),
    "pump.efficiency": bare(0.05, 1, mark("a part, as in 0.7")),
    "pump.motor_efficiency": bare(0.05, 1, mark("a part, as in 0.9")),
    "road.lights": flag,
    "road.brakes": flag,
    "in_use.hours": bare(0, 200_000, mark("hours on the counter")),
    "in_use.metres": bare(0, 100_000_000, mark("metres on the counter")),
    "in_use.runs": bare(0, 100_000, mark("runs until then"), whole=True),
    "equipment.injection": flag,
    "equipment.pump": flag,
    "equipment.shut_off": flag,
    "control.battery": quantity("voltage", 1, 60, "11.8 V"),
    "season.opens": day_of_year,
    "season.closes": day_of_year,
    "season.hours_a_year": bare(1, 8784, mark("hours")),
    "season.metres_a_year": bare(1, 10_000_000, mark("metres")),
}
PARTS = "parts"
"""The section of part numbers, by item of the plan."""
TOP: dict[str, card_readers.ValueReader] = {"tag": text, "name": text, "place": text, "in_use_since": day}


def read_card(table: Mapping[str, Any]) -> Card:
    """The card that a table says. Raises CardError with every problem.

    >>> read_card({"tag": "R1", "hose": {"length": "400 m", "inside": "94 mm"}}).hose.inside
    0.094
    """
    problems: list[str] = []
    top: dict[str, Any] = {}
    for key, value in table.items():
        if key == PARTS:
            top[key] = _part_numbers(value, problems)
        elif key in _ROOMS:
            top[key] = _room(key, value, problems)
        elif key in TOP:
            top |= card_readers.read_values({key: value}, TOP, "", problems)
        else:
            problems.append(_("{key}: not known{near}", key=key, near=nearest(key, [*TOP, *_ROOMS, PARTS])))
    tag = top.get("tag", "")
    if "tag" not in table:
        problems.append(_('tag: missing; what the machine is called by, as in tag = "R1"'))
    elif isinstance(tag, str) and not _fit_for_a_tag(tag):
        problems.append(_("tag: {tag!r}: must be 1 to 24 letters, figures, - . _ (no spaces or slashes)", tag=tag))
    if not problems:
        problems += _together(top)
    if problems:
        raise CardError(problems)
    return Card(**top)


def _fit_for_a_tag(tag: str) -> bool:
    return 0 < len(tag) <= 24 and all(sign.isalnum() or sign in "-._" for sign in tag) and tag[0] not in "-."


def _part_numbers(value: Any, problems: list[str]) -> dict[str, str]:
    if not isinstance(value, Mapping) or not all(isinstance(one, str) for one in value.values()):
        problems.append(_('parts: must be a section [parts] of part numbers by item, as in oil = "AB-12, 4 l"'))
        return {}
    return {str(item): number.strip() for item, number in value.items()}


def _room(key: str, value: Any, problems: list[str]) -> Any:
    cls = _ROOMS[key]
    if not isinstance(value, Mapping):
        problems.append(_("{key}: must be a section [{key}]", key=key))
        return cls()
    known = {name: READERS[f"{key}.{name}"] for name in cls._fields}
    return cls(**card_readers.read_values(value, known, key, problems))


def _together(top: Mapping[str, Any]) -> list[str]:
    hose: Hose = top.get("hose", Hose())
    found = []
    if hose.inside is not None and hose.outside is not None and hose.inside >= hose.outside:
        found.append(_("hose.inside: not smaller than hose.outside"))
    cart: Cart = top.get("cart", Cart())
    if cart.least_pressure is not None and cart.most_pressure is not None and cart.least_pressure > cart.most_pressure:
        found.append(_("cart.least_pressure: above cart.most_pressure"))
    pump: Pump = top.get("pump", Pump())
    if pump.points is not None:
        from reelcare.core.hydraulics.pump import curve_problem  # few cards have a pump

        if problem := curve_problem(pump.points):
            found.append(f"pump.points: {problem}")
    if top.get("in_use") not in (None, InUse()) and top.get("in_use_since") is None:
        found.append(_("in_use: counters of which day? say `in_use_since`, too"))
    season: Season = top.get("season", Season())
    if (season.opens is None) != (season.closes is None):
        found.append(_("season: opens and closes go together; give both or neither"))
    return found
