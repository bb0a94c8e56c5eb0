"""A run along its lane: flow and pressures with the cart at pull-out, half-way and home, at what feeds the machine.

The rules of this file: on the way home the coils grow and the rise shrinks, so flow and pressures change; a mean over
the lane is Simpson's of its three places. Pressures in Pa, flow in m3/s.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from reelcare.core.hydraulics import gun
from reelcare.core.hydraulics.pressure_profile import Line, NotFed
from reelcare.core.hydraulics.pump import FixedInlet, Supply
from reelcare.core.text import _, mark

Where = Literal["pull-out", "half-way", "home"]
PARTS: tuple[tuple[Where, float], ...] = (("pull-out", 1.0), ("half-way", 0.5), ("home", 0.0))
"""The places of a run, and the part of the hose that is still out there."""


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

    @property
    def behind_drive(self) -> float:
        """What stands in the hose where it begins [Pa]."""
        return self.inlet - self.drive_loss

    @property
    def highest(self) -> float:
        """The highest pressure in the hose: where it begins, or downhill at its end [Pa]."""
        return max(self.behind_drive, self.gun)


class LaneRun(NamedTuple):
    """The places of a run, and the nozzle [m] with its discharge coefficient."""

    places: tuple[Pressures, ...]
    bore: float
    discharge: float

    @property
    def mean_flow(self) -> float:
        """Flow as a mean over the lane [m3/s]."""
        return mean_along([one.flow for one in self.places])


def mean_along(values: Sequence[float]) -> float:
    """A mean over the lane from the values at its places; that of pull-out where nothing arrives nearer.

    >>> mean_along([1.0, 2.0, 6.0]), mean_along([1.0])
    (2.5, 1.0)
    """
    return (values[0] + 4 * values[1] + values[2]) / 6 if len(values) == len(PARTS) else values[0]


def run_along(
    line: Line, discharge: float, *, flow: float | None = None, at_gun: float | None = None,
    nozzle: float | None = None, supply: Supply | None = None,
) -> LaneRun:  # fmt: skip
    """The run of a line, known at pull-out by two of flow, pressure at the gun, nozzle and supply.

    Without a supply the inlet is what brings flow and gun pressure there, whatever flows later. Raises NotFed where
    nothing would come, and ValueError where less than two are known.
    """
    if flow is None and nozzle is not None and at_gun is not None:
        flow = gun.flow_through(nozzle, at_gun, discharge, line.fluid)
    if flow is None:
        if supply is None or nozzle is None:
            raise ValueError(_("a run: two of flow, gun pressure, nozzle and supply are needed"))
        flow, at_gun = line.feed(supply, nozzle, discharge)
    elif at_gun is None and supply is not None:
        at_gun = supply.pressure(flow) - line.between(flow)
        if at_gun <= 0:
            says = mark("{needed} are lost on the way, and the inlet gets {comes}: less flow, or more pressure")
            raise NotFed(says, line.between(flow), supply.pressure(flow))
    else:
        supply = None
        if at_gun is None:
            if nozzle is None:
                raise ValueError(_("a run: two of flow, gun pressure, nozzle and supply are needed"))
            at_gun = gun.pressure_for(flow, nozzle, discharge, line.fluid)
    bore = nozzle or gun.bore_for(flow, at_gun, discharge, line.fluid)
    fits = gun.discharge_from([(flow, at_gun)], bore, line.fluid)[0]
    feeds = supply or FixedInlet(at_gun + line.between(flow))
    places = [_at("pull-out", line, feeds, flow, at_gun)]
    for where, part in PARTS[1:]:
        there = replace(line, out=line.out * part, rise=line.rise * part)
        try:
            places.append(_at(where, there, feeds, *there.feed(feeds, bore, fits)))
        except NotFed:  # downhill to a gun that is farthest out only: nothing arrives nearer
            break
    return LaneRun(tuple(places), bore, fits)


def _at(where: Where, line: Line, supply: Supply, flow: float, at_gun: float) -> Pressures:
    straight, (low, _, high) = line.straight_loss(flow), line.coil_loss(flow)
    return Pressures(
        where, flow, supply.pressure(flow), line.drive_loss, straight, line.hose_loss(flow) - straight, (low, high),
        line.lift, at_gun,
    )  # fmt: skip


def standing(shut_off: float, lift: float) -> float:
    """The highest pressure in the hose with the gun blocked [Pa]: the supply against no flow, and the fall of the
    ground; nothing flows, so the drive takes nothing.

    >>> round(standing(8e5, -98_000)), round(standing(8e5, 98_000))
    (898000, 800000)
    """
    return shut_off + max(0.0, -lift)
