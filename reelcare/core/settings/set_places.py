"""A set at pull-out, half-way and home: what is likely there, and the unsafe end of what is not known.

The rules of this file: worst is the least pressure at the gun, the greatest at the inlet and in the hose, the greatest
pull, the fastest cart with the speed left as it was set at pull-out, and the least depth. A value that is given has
no span. Everything in SI.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

from reelcare.core.hydraulics import gun, hose
from reelcare.core.hydraulics.friction import GRAVITY
from reelcare.core.hydraulics.gun import depth_on
from reelcare.core.hydraulics.lane import PARTS, LaneRun, Pressures, standing
from reelcare.core.settings.settings_sheet import AtPlace, LayerSpeed, Setting


class Pulls(NamedTuple):
    """What pulls on the hose: its weight [N/m], the hose that is out [m], friction, slope, mass of the cart [kg] and
    its rolling; and the bore [m], on which the pressure pulls."""

    weight: float
    out: float
    friction: float
    slope: float
    mass: float | None
    rolling: float
    inside: float

    def of_hose(self, part: float) -> float:
        """Pull of the hose with a part of it still out [N]."""
        return hose.drag(self.weight * (self.out * part), self.friction, self.slope)

    def of_cart(self) -> float | None:
        """Pull of the cart [N]; None where its mass is not known."""
        return None if self.mass is None else hose.drag(self.mass * GRAVITY, self.rolling, self.slope)

    def at(self, part: float) -> float:
        """Both together [N]."""
        return self.of_hose(part) + (self.of_cart() or 0.0)


class Jet(NamedTuple):
    """What the gun throws with: bore of the nozzle [m], arc [degrees] where it is known, and the part of the throw
    that counts for the rate; and the wind in which lanes are spaced [m/s]."""

    bore: float
    arc: float | None
    counts: float
    wind: float

    def throw(self, at_gun: float | None) -> float | None:
        """How far it throws at a pressure [m]."""
        return None if at_gun is None else gun.wetted_radius(self.bore, at_gun)

    def rate(self, flow: float, at_gun: float) -> float | None:
        """Rate on the wetted sector [m/s]; None where the arc is not known, or nothing is thrown."""
        throw = self.throw(at_gun)
        return gun.rate_over(flow, throw, self.arc, effective=self.counts) if throw and self.arc else None

    def widest(self, places: tuple[AtPlace, ...]) -> gun.Spacing | None:
        """The widest lanes, by the place where it throws the least."""
        throws = [one.throw for one in places if one.throw is not None]
        return gun.widest_spacing(min(throws), self.wind) if throws else None


def along_the_lane(
    setting: Setting, low: LaneRun | None, high: LaneRun | None, pulls: tuple[Pulls, Pulls] | None, jet: Jet | None,
    lift: float,
) -> Setting:  # fmt: skip
    """The sheet with its three places, likely and worst, and what stands in the hose with the gun blocked.

    `low` and `high` are the runs with what leaves the gun the least and the most; `lift` is what the rise takes [Pa].
    """
    if setting.wishes.out is None:
        return setting
    likely = tuple(_likely(setting, number, pulls, jet) for number in range(len(PARTS)))
    worst = tuple(_worst(setting, number, low, high, pulls, jet) for number in range(len(PARTS)))
    inlets = [one.inlet for one in likely[:1] if one.inlet is not None]
    shut = max(inlets + ([] if setting.supply is None else [setting.supply.shut_off]), default=None)
    # a supply that is known has no span; an inlet that is worked out has
    spans = [one.inlet for one in worst if one.inlet is not None and setting.supply is None]
    return replace(
        setting,
        likely=likely,
        worst=worst,
        widest=setting.widest if jet is None else jet.widest(likely) or setting.widest,
        worst_widest=None if jet is None else jet.widest(worst),
        standing=None if shut is None else standing(shut, lift),
        worst_standing=None if shut is None else standing(max([shut, *spans]), lift),
        highest_gun=max((one.gun for one in (high.places if high else setting.pressures)), default=None),
    )


def _place(run: tuple[Pressures, ...] | LaneRun | None, number: int) -> Pressures | None:
    places = run.places if isinstance(run, LaneRun) else run or ()
    return places[number] if number < len(places) else None


def _likely(setting: Setting, number: int, pulls: tuple[Pulls, Pulls] | None, jet: Jet | None) -> AtPlace:
    here = _place(setting.pressures, number)
    # where nothing comes, it is fed by the fall of the ground alone, which is behind it there
    starved = here is None and bool(setting.pressures)
    runs = [] if here is None else [here]
    return _at_place(setting, number, runs, pulls[0] if pulls else None, jet, setting.speed, starved=starved)


def _worst(
    setting: Setting, number: int, low: LaneRun | None, high: LaneRun | None, pulls: tuple[Pulls, Pulls] | None,
    jet: Jet | None,
) -> AtPlace:  # fmt: skip
    known = (setting.pressures, low, high) if setting.pressures else ()
    runs = [one for one in (_place(run, number) for run in known) if one is not None]
    starved = bool(setting.pressures) and _place(low, number) is None
    speed = None if setting.speed is None else setting.speed * _left_alone(setting, number)
    return _at_place(setting, number, runs, pulls[1] if pulls else None, jet, speed, starved=starved)


def _at_place(
    setting: Setting, number: int, runs: list[Pressures], pulls: Pulls | None, jet: Jet | None, speed: float | None, *,
    starved: bool,
) -> AtPlace:  # fmt: skip
    """The unsafe end of some runs at a place; of a single one it is what that has there. Nothing reaches a gun that is
    `starved`."""
    where, part = PARTS[number]

    def extreme(pick: Callable[[list[float]], float], name: str) -> float | None:
        return pick([getattr(one, name) for one in runs]) if runs else None

    at_gun, flow = (0.0, 0.0) if starved else (extreme(min, "gun"), extreme(min, "flow"))
    pull = None if pulls is None else pulls.at(part)
    rates = [] if jet is None else [rate for one in runs if (rate := jet.rate(one.flow, one.gun)) is not None]
    return AtPlace(
        where,
        gun=at_gun,
        inlet=extreme(max, "inlet"),
        hose=extreme(max, "highest"),
        pull=pull,
        wall=_wall(pull, pulls, extreme(max, "behind_drive")),
        speed=speed,
        depth=_depth(setting, flow, speed),
        throw=None if jet is None else jet.throw(at_gun),
        rate=max(rates, default=None),
    )


def _wall(pull: float | None, pulls: Pulls | None, pressure: float | None) -> float | None:
    """What the wall carries at the drum: the pull, and the thrust of the pressure on the closed end [N]."""
    if pull is None or pulls is None or pressure is None:
        return None
    return pull + hose.end_thrust(pressure, pulls.inside)


def _depth(setting: Setting, flow: float | None, speed: float | None) -> float | None:
    flow = setting.flow if flow is None else flow
    spacing = setting.wishes.spacing
    return None if flow is None or speed is None or spacing is None else depth_on(flow, spacing, speed)


def _left_alone(setting: Setting, number: int) -> float:
    """How much faster the cart is than at pull-out, as a factor, where nobody sets it again: by the drum alone, or by
    what its compensation leaves of that."""
    spread, found = setting.spread, setting.layers
    if spread is None or not found or found[-1].faster <= 1:
        return 1.0
    left = setting.wishes.out or 0.0
    out = min(left, found[0].begins) * PARTS[number][1]
    here: LayerSpeed = next((one for one in found if one.ends < out <= one.begins + 1e-9), found[-1])
    return 1 + spread.left * (here.faster - 1) / (found[-1].faster - 1)
