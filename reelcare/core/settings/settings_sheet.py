"""The settings sheet of one set as values: what was worked out, is not known, was taken, and is warned of."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from reelcare.core.hydraulics import drum, gun
from reelcare.core.settings.set_request import Wishes
from reelcare.core.settings.warning_codes import Figure, Warned, refused

Where = Literal["pull-out", "half-way", "home"]


@dataclass(frozen=True, slots=True)
class Pressures:
    """Down the line with the cart at one place: flow [m3/s]; inlet, what drive, straight hose, coils and rise take,
    and what the gun has [Pa]. `coils_span` is the low and the high end of what the coils may take."""

    where: Where
    flow: float
    inlet: float
    drive_loss: float
    straight_loss: float
    coil_loss: float
    coils_span: tuple[float, float]
    lift: float
    gun: float

    @property
    def hose_loss(self) -> float:
        """What the hose takes as it lies [Pa]."""
        return self.straight_loss + self.coil_loss


@dataclass(frozen=True, slots=True)
class Unknown:
    """What could not be worked out, and what it would need."""

    what: str
    needs: str


@dataclass(frozen=True, slots=True)
class Taken:
    """What was taken because nobody said better."""

    what: str
    figure: Figure


@dataclass(frozen=True, kw_only=True)
class Setting:
    """The settings sheet of one set; None is 'not known', and `unknown` says why.

    Flow [m3/s], speed [m/s], depth, radius and spacings [m], run time [s], area [m2], water [m3], pulls [N], rate
    [m/s], strain and spread as parts, pressures [Pa].
    """

    wishes: Wishes
    flow: float | None = None
    speed: float | None = None
    depth: float | None = None
    run_time: float | None = None
    finish: datetime | None = None
    area: float | None = None
    water_used: float | None = None
    metres_left: float | None = None
    coils_left: float | None = None
    layers_left: int | None = None
    wind: drum.Wind | None = None
    spread: drum.Spread | None = None
    pressures: tuple[Pressures, ...] = ()
    hose_loss: float | None = None
    drag: float | None = None
    cart_pull: float | None = None
    allowable_pull: float | None = None
    radius: float | None = None
    widest: gun.Spacing | None = None
    rate: float | None = None
    strain: float | None = None
    rated_pressure: float | None = None
    discharge: float | None = None
    nozzle: float | None = None
    unknown: tuple[Unknown, ...] = ()
    taken: tuple[Taken, ...] = ()
    warnings: tuple[Warned, ...] = ()

    @property
    def at_pull_out(self) -> Pressures | None:
        """The pressures with the cart farthest out, where most is lost on the ground."""
        return self.pressures[0] if self.pressures else None

    @property
    def cannot_be(self) -> Warned | None:
        """What decides that this set cannot be; None where it can."""
        code = refused(one.code for one in self.warnings)
        return next((one for one in self.warnings if one.code == code), None)

    @property
    def pull(self) -> float | None:
        """Hose and cart together [N]."""
        return None if self.drag is None else self.drag + (self.cart_pull or 0.0)
