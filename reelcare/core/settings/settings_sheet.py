"""The settings sheet of one set as values: what was worked out, is not known, was taken, and is warned of."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from reelcare.core.hydraulics import drum, gun
from reelcare.core.hydraulics.friction import LikelySpan
from reelcare.core.hydraulics.lane import Pressures, Where
from reelcare.core.hydraulics.pump import Supply
from reelcare.core.settings.fields import ASSUMPTIONS
from reelcare.core.settings.set_request import Wishes
from reelcare.core.settings.warning_codes import Figure, Margin, Warned, refused
from reelcare.core.text import _


@dataclass(frozen=True, slots=True)
class AtPlace:
    """A set with the cart at one place: pressure at gun and inlet and the highest in the hose [Pa], pull of hose and
    cart and what the wall carries with the thrust of the pressure [N], speed [m/s], depth [m], throw [m] and rate [m/s]
    of the gun; None is not known."""

    where: Where
    gun: float | None = None
    inlet: float | None = None
    hose: float | None = None
    pull: float | None = None
    wall: float | None = None
    speed: float | None = None
    depth: float | None = None
    throw: float | None = None
    rate: float | None = None


@dataclass(frozen=True, slots=True)
class LayerSpeed:
    """What to set when a layer begins, so that the cart keeps its planned speed: the layer, metres still out where it
    begins and ends, the speed to set [m/s] as the first layer of the run reads it, how long it takes [s], and how much
    faster than in the first layer the cart is where nobody sets it (a factor)."""

    layer: int
    begins: float
    ends: float
    speed: float | None
    time: float | None
    faster: float


@dataclass(frozen=True, slots=True)
class Unknown:
    """What could not be worked out (a key of the catalogues), and what it would need, in the person's language."""

    what: str
    needs: str


@dataclass(frozen=True, slots=True)
class Taken:
    """What was taken because nobody said better: its key, and its value in SI."""

    key: str
    value: float
    note: str = ""

    @property
    def what(self) -> str:
        """What people call it."""
        return _(ASSUMPTIONS[self.key].label) + self.note

    @property
    def figure(self) -> Figure:
        """The value, as figures are written."""
        one = ASSUMPTIONS[self.key]
        return (100 * self.value if one.role == "percent" else self.value), one.quantity, one.role

    @property
    def source(self) -> str:
        """Where the shipped figure comes from."""
        return _(ASSUMPTIONS[self.key].source)


@dataclass(frozen=True, kw_only=True)
class Setting:
    """The settings sheet of one set; None is 'not known', and `unknown` says why.

    Flow [m3/s], speed [m/s] and depth [m] are means over the lane, pressures and pulls [Pa, N] likely ones at
    pull-out; radius and spacings [m], run time and the run time with the speed left as set first [s], area [m2],
    water [m3], rate [m/s], strains and spread as parts, energy [J]. `likely` and `worst` have the three places.
    `friction_to` is the friction on the ground up to which the wall bears what it carries, all else as is likely; None
    where it is given. `most_inlet` is what the inlet may have where the ground falls or the hose is warm; None where it
    is the hose's rating. `least_in_hose` is the least pressure in the hose where no more is known of pressures [Pa], as
    nobody knows what the drive takes. `throttled` is whether flow and gun pressure are wished: the inlet may have more
    than that.
    """

    wishes: Wishes
    flow: float | None = None
    speed: float | None = None
    depth: float | None = None
    run_time: float | None = None
    left_alone: float | None = None
    finish: datetime | None = None
    area: float | None = None
    water_used: float | None = None
    energy: float | None = None
    metres_left: float | None = None
    coils_left: float | None = None
    layers_left: int | None = None
    wind: drum.Wind | None = None
    spread: drum.Spread | None = None
    layers: tuple[LayerSpeed, ...] = ()
    pressures: tuple[Pressures, ...] = ()
    supply: Supply | None = None
    throttled: bool = False
    standing: float | None = None
    least_in_hose: float | None = None
    hose_loss: float | None = None
    drag: float | None = None
    cart_pull: float | None = None
    allowable_pull: float | None = None
    worst_allowable: float | None = None
    friction_to: float | None = None
    radius: float | None = None
    widest: gun.Spacing | None = None
    worst_widest: gun.Spacing | None = None
    rate: float | None = None
    net: LikelySpan | None = None
    """Depth that arrives [m]: at the greatest loss, the likely one, and the least."""
    strain: float | None = None
    curve_strain: float | None = None
    pulled_strain: float | None = None
    least_radius: float | None = None
    rated_pressure: float | None = None
    worst_rated: float | None = None
    most_inlet: float | None = None
    discharge: float | None = None
    nozzle: float | None = None
    likely: tuple[AtPlace, ...] = ()
    worst: tuple[AtPlace, ...] = ()
    highest_gun: float | None = None
    worst_standing: float | None = None
    limits: tuple[Margin, ...] = ()
    unknown: tuple[Unknown, ...] = ()
    taken: tuple[Taken, ...] = ()
    warnings: tuple[Warned, ...] = ()

    @property
    def at_pull_out(self) -> Pressures | None:
        """The pressures with the cart farthest out, where most is lost on the ground."""
        return self.pressures[0] if self.pressures else None

    @property
    def deciding(self) -> Margin | None:
        """The limit that comes nearest, or is over the most, as is likely; None where nothing can be judged."""
        return min((one for one in self.limits if one.decides), key=lambda one: one.margin, default=None)

    @property
    def deciding_worst(self) -> Margin | None:
        """The same at the unsafe end of what is not known."""
        return min((one for one in self.limits if one.decides), key=lambda one: one.worst_margin, default=None)

    @property
    def holds(self) -> bool | None:
        """Whether every limit is kept, as is likely; None where none can be judged."""
        return None if self.deciding is None else self.deciding.margin >= 0

    @property
    def cannot_be(self) -> Warned | None:
        """What decides that this set cannot be; None where it can."""
        code = refused(one.code for one in self.warnings)
        return next((one for one in self.warnings if one.code == code), None)
