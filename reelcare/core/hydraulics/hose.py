"""The hose: what it weighs, how hard it pulls, what its wall may bear, and the path that it is laid on.

The rules of this file: lengths in m, forces in N, pressures and stresses in Pa, masses in kg, temperatures in degC.
Strengths of polyethylene come from published tables for pipe; where a figure is from memory it says so. What the
hose's own maker states goes before all of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from reelcare.core.hydraulics.friction import GRAVITY
from reelcare.core.text import _, mark

POLYETHYLENE = 950.0
"""Density of polyethylene [kg/m3] (handbook value, from memory)."""
MOST_YIELD = 24.1e6
"""The most that any class counts with [Pa] (3,500 psi: ASTM D3350, cell class 5, that of the strongest pipe; from
memory). Scaling by the required strength alone would put PE100 above it."""
REQUIRED_STRENGTH: dict[str, float] = {"PE100": 10e6, "PE80": 8e6, "PE63": 6.3e6, "PE40": 4e6}
"""Minimum required strength at 20 degC over 50 years [Pa] by class (ISO 12162)."""
WEAKEST = min(REQUIRED_STRENGTH, key=REQUIRED_STRENGTH.__getitem__)
"""The class that a hose of unknown material counts as."""


def pe_class(material: str | None) -> str | None:
    """The class of polyethylene that a card's material names; None where it names none of them.

    >>> pe_class("pe 80"), pe_class("PE-100"), pe_class("rubber"), pe_class(None)
    ('PE80', 'PE100', None, None)
    """
    name = (material or "").upper().replace(" ", "").replace("-", "")
    return name if name in REQUIRED_STRENGTH else None


def yield_of(material: str | None, of_pe80: float) -> float:
    """Tensile yield strength [Pa] by class: that of PE80 scaled by the minimum required strength, and no more than the
    strongest published one. A material that is no known class counts as the weakest.

    The published spans of low density (up to 11.5 MPa) and medium density (12.4 to 19.3 MPa) hold PE40 and PE63.

    >>> [round(yield_of(one, 21e6) / 1e6, 1) for one in ("PE40", "PE63", "PE80", "PE100", None)]
    [10.5, 16.5, 21.0, 24.1, 10.5]
    """
    strength = REQUIRED_STRENGTH[pe_class(material) or WEAKEST]
    return min(of_pe80 * strength / REQUIRED_STRENGTH["PE80"], max(MOST_YIELD, of_pe80))


def end_thrust(pressure: float, inside: float) -> float:
    """Pull [N] that a pressure [Pa] puts on the wall of a hose closed at its far end: pressure on its bore.

    >>> round(end_thrust(7.31e5, 0.0938))
    5051
    """
    return pressure * math.pi * inside**2 / 4


def wall_area(outside: float, inside: float) -> float:
    """Area of the wall's ring [m2].

    >>> round(wall_area(0.110, 0.0938) * 1e6)
    2593
    """
    return math.pi * (outside**2 - inside**2) / 4


def weight_along(outside: float, inside: float, water: float) -> float:
    """Weight of a hose of polyethylene [N/m] full of water of a density [kg/m3].

    >>> round(weight_along(0.110, 0.0938, 998.2), 3), round(weight_along(0.110, 0.0938, 0), 3)
    (91.802, 24.158)
    """
    return GRAVITY * (POLYETHYLENE * wall_area(outside, inside) + water * math.pi * inside**2 / 4)


def drag(weight: float, friction: float, slope: float = 0.0) -> float:
    """Pull that moves a laid hose, or a rolling cart, along the ground [N]: F = W (friction cos b + sin b), b the angle
    of the slope.

    `weight` of all of it in N; `slope` is rise over length along the lane towards the machine (0.05 = 5 %), negative
    downhill. The form is the usual one for a body on a slope.

    >>> round(drag(91.802 * 400, 0.5)), round(drag(91.802 * 400, 0.5, 0.05)), round(drag(500 * GRAVITY, 0.1))
    (18360, 20171, 490)
    """
    angle = math.atan(slope)
    return weight * (friction * math.cos(angle) + math.sin(angle))


PULL_FOR: tuple[tuple[float, float], ...] = ((1.0, 1.0), (12.0, 0.95), (24.0, 0.91))
"""Part of the allowable pull by how long it lasts, up to [h] (form of ASTM F1804, from memory)."""
PULL_OF_YIELD = 0.4
"""Part of the yield strength that a pull may use (form of ASTM F1804, from memory)."""
HOT_STEPS: tuple[tuple[float, float], ...] = (
    (80, 1.0), (90, 0.9), (100, 0.8), (110, 0.8), (120, 0.7), (130, 0.7), (140, 0.6),
)  # fmt: skip
"""Strength left of polyethylene by temperature, up to [degF] (PPI Handbook of PE Pipe, 2nd edition, errata, table
A.2; the same to 100 degF in AWWA M55, table 4-6)."""
ISO_FACTORS: tuple[tuple[float, float], ...] = ((20, 1.0), (30, 0.87), (40, 0.74))
"""Pressure left of PE80 and PE100 by temperature [degC] (ISO 13761, from memory)."""


class TooHot(ValueError):
    """A temperature beyond every published factor."""


def strength_left(temperature: float) -> float:
    """Part of its strength that polyethylene keeps at a temperature [degC], in the steps of the published table.

    Raises TooHot above 60 degC.

    >>> strength_left(20), strength_left(30), strength_left(45)
    (1.0, 0.9, 0.7)
    """
    hot = temperature * 9 / 5 + 32
    for most, left in HOT_STEPS:
        if hot <= most + 1e-9:
            return left
    raise TooHot(
        _("a hose at {temperature:g} degC: no published strength above 60 degC; let it cool", temperature=temperature)
    )


def allowable_pull(outside: float, inside: float, hours: float, temperature: float, yield_strength: float) -> float:
    """Pull that the wall of a hose may bear for a number of hours [N]. Beyond 24 h the last factor is kept.

    >>> round(allowable_pull(0.110, 0.110 * (1 - 2 / 13.6), 10, 20, 21e6))
    20665
    """
    lasts = next((part for most, part in PULL_FOR if hours <= most), PULL_FOR[-1][1])
    return PULL_OF_YIELD * lasts * strength_left(temperature) * yield_strength * wall_area(outside, inside)


DESIGN_STRESS: dict[str, float] = {"PE100": 8.0e6, "PE80": 6.3e6, "PE63": 5.0e6, "PE40": 3.2e6}
"""Design stress at 20 degC [Pa]: the material's class over a design factor of 1.25 (ISO 12162, from memory)."""


def pressure_left(temperature: float) -> float:
    """Part of its rated pressure that a hose of PE80 or PE100 keeps at a temperature [degC]: straight between the
    published points, as at 20 degC where it is cooler. Raises TooHot above 40 degC.

    >>> pressure_left(10), round(pressure_left(25), 3), pressure_left(40)
    (1.0, 0.935, 0.74)
    """
    before, kept = ISO_FACTORS[0]
    if temperature <= before:
        return kept
    for warm, left in ISO_FACTORS[1:]:
        if temperature <= warm:
            return kept + (left - kept) * (temperature - before) / (warm - before)
        before, kept = warm, left
    says = mark("a hose at {temperature:g} degC: no published pressure factor above 40 degC; let it cool")
    raise TooHot(_(says, temperature=temperature))


def rating(outside: float, inside: float, material: str | None, temperature: float = 20.0) -> float:
    """Pressure [Pa] that a hose may hold by the class of its polyethylene, 2 s e / (D - e); a material that is not
    known counts as the weakest class. Raises TooHot.

    >>> [round(rating(0.110, 0.110 * (1 - 2 / 13.6), one) / 1e5, 2) for one in ("PE80", "")]
    [10.0, 5.08]
    """
    stress = DESIGN_STRESS[pe_class(material) or WEAKEST]
    wall = (outside - inside) / 2
    return 2 * stress * wall / (outside - wall) * pressure_left(temperature)


LEAST_RADII: tuple[tuple[float, float], ...] = ((9, 20), (13.5, 25), (21, 27), (26, 34), (32.5, 42), (41, 52))
"""Least radius of a cold bend, in outside diameters, by the ratio of outside diameter to wall, up to (PPI Handbook of
PE Pipe, chapter 7, pipe in an open trench; as reproduced in print). A thinner wall keeps the last."""


def least_radius(outside: float, inside: float) -> float:
    """Least radius [m] to which a hose may be laid where its maker states none.

    >>> round(least_radius(0.110, 0.0938), 2)
    2.97
    """
    ratio = 2 * outside / (outside - inside)
    return outside * next((radius for most, radius in LEAST_RADII if ratio <= most + 0.05), LEAST_RADII[-1][1])


MODULUS: dict[str, float] = {"PE100": 1000e6, "PE80": 700e6, "PE63": 600e6, "PE40": 500e6}
"""Modulus of elasticity in a short pull [Pa] by class: the least that data sheets of pipe promise by ISO 527 (500, 700
and 1,000 MPa for PE40, PE80 and PE100); PE63 lies between. Over hours it falls to about half, so the strain is at
least what these say."""


def bending_strain(outside: float, radius: float) -> float:
    """Strain of the outermost fibre of a hose bent to a centre-line radius.

    >>> round(bending_strain(0.1, 1.2), 6)
    0.041667
    """
    return outside / (2 * radius)


class Bend(NamedTuple):
    """A curve of a planned path: where it begins, from the machine [m], its length along the hose [m], and by how
    much it turns [degrees, either way]."""

    begins: float
    length: float
    turns: float


@dataclass(frozen=True, slots=True)
class Path:
    """A planned path of the hose, from the machine to where the cart starts: its length [m] and its bends."""

    length: float
    bends: tuple[Bend, ...] = ()

    @property
    def straight_first(self) -> float:
        """Straight part at the machine, as a part of the whole."""
        first = min((one.begins for one in self.bends if one.turns), default=self.length)
        return first / self.length

    @property
    def turned(self) -> float:
        """All curves added up [degrees]; a bend back counts as well."""
        return sum(abs(one.turns) for one in self.bends)

    @property
    def tightest(self) -> float:
        """The smallest radius [m]; infinite where the path is straight."""
        return min((one.length / math.radians(abs(one.turns)) for one in self.bends if one.turns), default=math.inf)


def read_path(length: float, bends: Sequence[Bend]) -> Path:
    """A path that can be. Raises ValueError where bends lie outside of it or over each other."""
    done = 0.0
    for number, bend in enumerate(sorted(bends), 1):
        if bend.length <= 0 or not math.isfinite(bend.turns):
            raise ValueError(_("bend {number}: give a length above 0 and a turn in degrees", number=number))
        if bend.begins < done - 1e-9:
            raise ValueError(_(
                "bend {number}: begins at {begins:g} m, before the one before it ends ({done:g} m)",
                number=number, begins=bend.begins, done=done,
            ))  # fmt: skip
        done = bend.begins + bend.length
        if done > length + 1e-9:
            raise ValueError(_(
                "bend {number}: ends at {done:g} m; only {length:g} m are pulled out",
                number=number, done=done, length=length,
            ))  # fmt: skip
    return Path(length, tuple(sorted(bends)))
