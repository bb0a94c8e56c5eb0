"""Flow and pressures of one set along its lane, by whatever two of them are known.

The rules of this file: what is known comes from the wishes, then from the card; what is taken for want of better, and
what is missing, is noted on the sheet so far. Everything in SI.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from reelcare.core import units
from reelcare.core.hydraulics import friction, gun
from reelcare.core.hydraulics.lane import LaneRun, run_along
from reelcare.core.hydraulics.pressure_profile import Line, NotFed, mean_coil_diameter
from reelcare.core.hydraulics.pump import FixedInlet, PumpCurve, SharedSupply, Supply
from reelcare.core.machine.card import Card
from reelcare.core.settings.set_limits import SetLimits
from reelcare.core.settings.set_places import Jet, Pulls
from reelcare.core.settings.set_request import WishError, Wishes
from reelcare.core.settings.settings_sheet import Setting, Taken, Unknown
from reelcare.core.settings.warning_codes import Margin
from reelcare.core.text import _, mark

AGREE = 0.02
"""By which part a speed may be off what depth and flow make of it, and still say the same."""


class SheetSoFar:
    """The sheet while it is worked out: what was taken and what is missing are gathered on the way."""

    def __init__(self, card: Card, wishes: Wishes, limits: SetLimits) -> None:
        self.card, self.wishes, self.limits = card, wishes, limits
        self.unknown: list[Unknown] = []
        self.taken: list[Taken] = []
        self.not_fed: Margin | None = None
        self.run: LaneRun | None = None
        self.low: LaneRun | None = None
        self.high: LaneRun | None = None
        self.pulls: tuple[Pulls, Pulls] | None = None
        self.jet: Jet | None = None

    def lacks(self, what: str, **parts: object) -> bool:
        """Whether any part is not known; then `what` is named with all that it needs: a card's key, `__` for its dot,
        or a wish in words."""
        lacking = [name for name, value in parts.items() if value is None]
        missing = [name.replace("__", ".") if "__" in name else _(NEEDED[name]) for name in lacking]
        if missing:
            self.unknown.append(Unknown(what, ", ".join(missing)))
        return bool(missing)

    def take(self, key: str, value: float | None, else_: float, note: str = "") -> float:
        """A value, or what is taken for it."""
        if value is not None:
            return value
        one = Taken(key, else_, note)
        if one not in self.taken:
            self.taken.append(one)
        return else_


NEEDED = {
    "pull_out": mark("pull-out"), "flow": mark("flow"), "lane_spacing": mark("lane spacing"), "depth": mark("depth"),
    "depth_or_speed": mark("depth or speed"), "nozzle": mark("nozzle"), "gun_pressure": mark("gun pressure"),
    "drive_loss": mark("drive loss"),
}  # fmt: skip
"""What is needed and is not on the card, in words."""


def temperature_of(sheet: SheetSoFar) -> float:
    """Temperature of water and hose [degC]: wished, else taken."""
    return sheet.take("temperature", sheet.wishes.temperature, sheet.limits.temperature)


def _drive_loss(sheet: SheetSoFar) -> float | None:
    """What the drive takes: measured, nothing for an engine, or taken as the most that the card allows."""
    if sheet.wishes.drive_loss is not None:
        return sheet.wishes.drive_loss
    if sheet.card.drive.kind == "engine":
        return 0.0
    most = sheet.card.drive.most_loss
    if sheet.lacks(mark("pressures"), drive_loss=most):
        return None
    return sheet.take("drive_loss", None, most or 0.0)


def _line(sheet: SheetSoFar, setting: Setting) -> Line | None:
    """The hose at pull-out; its drive loss and rise still to be put in. None where it is not known."""
    bore, length, out = sheet.card.hose.inside, sheet.card.hose.length, sheet.wishes.out
    if bore is None or length is None or out is None:
        sheet.lacks(mark("loss of the hose"), hose__inside=bore, hose__length=length, pull_out=out)
        return None
    diameter, more = None, sheet.wishes.coil_more
    if setting.wind is not None:
        diameter = mean_coil_diameter(length, setting.wind.turns(length))
    elif more is None:  # the whole hose comes home to its coils, however much of it was out
        more = sheet.take("coil_more", None, sheet.limits.coil_more)
    return Line(
        bore, length, min(out, length), sheet.wishes.rise, 0.0, friction.water(temperature_of(sheet)),
        sheet.take("roughness", None, sheet.limits.roughness), diameter, more,
    )  # fmt: skip


def _discharge(sheet: SheetSoFar) -> float:
    return sheet.take("discharge", None, sheet.limits.discharge)


def supply_of(sheet: SheetSoFar) -> Supply | None:
    """What comes in: the pressure that is wished, else the pump of the card."""
    if sheet.wishes.inlet is not None:
        return FixedInlet(sheet.wishes.inlet)
    points = sheet.card.pump.points
    return PumpCurve(points) if points is not None else None


def fed(sheet: SheetSoFar, setting: Setting) -> Setting:
    """Flow and pressures along the lane."""
    wishes, supply = sheet.wishes, supply_of(sheet)
    nozzle = wishes.nozzle or sheet.card.cart.nozzle
    line = _line(sheet, setting)
    flow = wishes.flow
    by_strip = (
        flow is None and wishes.inlet is None and not (nozzle and wishes.gun_pressure)
        and wishes.depth and wishes.speed and wishes.spacing
    )  # fmt: skip
    if by_strip:
        flow = gun.flow_for(wishes.depth or 0.0, wishes.spacing or 0.0, wishes.speed or 0.0)
    if supply is None and wishes.gun_pressure is None and nozzle is None:
        if line is not None:
            sheet.unknown.append(Unknown(mark("pressures"), _("gun pressure, inlet pressure or nozzle")))
    elif line is not None and (drive_loss := _drive_loss(sheet)) is not None:
        setting = _fed(sheet, setting, replace(line, drive_loss=drive_loss), flow, nozzle, supply)
    flow = _flow(sheet, flow, nozzle)
    if flow is not None and not by_strip:
        _say_the_same(wishes, flow)
    lost = line.hose_loss(flow) if line is not None and flow is not None else None
    if flow is None and sheet.not_fed is None:
        sheet.unknown.append(Unknown(mark("flow"), _("flow, or nozzle with gun pressure or inlet pressure")))
    return replace(setting, flow=flow, hose_loss=lost, supply=supply)


def _say_the_same(wishes: Wishes, flow: float) -> None:
    """Raises WishError where depth and speed are both wished, and do not agree at this flow."""
    speed, depth, spacing = wishes.speed, wishes.depth, wishes.spacing
    if speed is None or depth is None or spacing is None:
        return
    comes = gun.speed_for(flow, spacing, depth)
    if abs(speed / comes - 1) > AGREE:
        raise WishError([
            _("travel speed: {speed} and the depth disagree; at this flow {depth} need {comes}, {percent:.0f} % {way}; "
              "leave out the speed or the depth",
              speed=units.write(speed, "m/h", 0.1), depth=units.write(depth, "mm", 0.1),
              comes=units.write(comes, "m/h", 0.1), percent=100 * abs(comes / speed - 1),
              way=_("more") if comes > speed else _("less"))
        ], twice=True)  # fmt: skip


def _flow(sheet: SheetSoFar, flow: float | None, nozzle: float | None) -> float | None:
    """A flow that is wished; else its mean over the lane; else, of a hose that is not known, what the gun lets through.

    Raises WishError where flow, nozzle and pressure are all wished and cannot be together.
    """
    wishes = sheet.wishes
    at_gun = wishes.gun_pressure
    if sheet.run is not None and wishes.inlet is not None and at_gun is None:
        at_gun = sheet.run.places[0].gun
    lets = None
    if nozzle is not None and at_gun is not None:
        full = gun.flow_through(nozzle, at_gun, 1.0, friction.water(temperature_of(sheet)))
        lets = full * sheet.limits.discharge
        if wishes.flow is not None and wishes.nozzle is not None and not gun.can_discharge(wishes.flow / full):
            raise WishError([
                _("flow: {flow} and the nozzle disagree, which lets {lets} through at {pressure}, {percent:.0f} % "
                  "{way}; leave out one of the two",
                  flow=units.write(wishes.flow, "m3/h", 0.1), lets=units.write(lets, "m3/h", 0.1),
                  pressure=units.write(at_gun, "bar", 0.01), percent=100 * abs(lets / wishes.flow - 1),
                  way=_("more") if lets > wishes.flow else _("less"))
            ])  # fmt: skip
    if flow is not None or sheet.run is not None:
        return flow if flow is not None else sheet.run.mean_flow  # type: ignore[union-attr]  # one of them is known
    if lets is not None:
        _discharge(sheet)
    return lets


def _fed(
    sheet: SheetSoFar, setting: Setting, line: Line, flow: float | None, nozzle: float | None, supply: Supply | None
) -> Setting:
    """The run as it is fed: likely, and with what leaves the gun the least and the most."""
    wishes = sheet.wishes
    throttled = wishes.gun_pressure is not None or (flow is not None and nozzle is not None and wishes.inlet is None)
    feeds = None if throttled else supply
    known = {"flow": flow, "at_gun": wishes.gun_pressure, "nozzle": nozzle, "supply": feeds}
    if sum(one is not None for one in known.values()) < 2:
        return setting
    fits = flow is not None and (wishes.gun_pressure is not None or feeds is not None or nozzle is None)
    discharge = sheet.limits.discharge if fits else _discharge(sheet)
    try:
        run = run_along(line, discharge, **known)  # type: ignore[arg-type]  # each has the type that its name says
    except NotFed as why:
        assert supply is not None
        sheet.not_fed = Margin(
            code="not-fed", says=why.says, figures=((why.needed, "pressure", ""), (why.comes, "pressure", "")),
            quantity="pressure", likely=max(why.needed, supply.shut_off * 1.001), limit=supply.shut_off,
            where="pull-out",
        )  # fmt: skip
        return setting
    sheet.run = run
    (least, most), takes = _ends(sheet, line, discharge), wishes.neighbour_loss
    shared = known if feeds is None or not takes else known | {"supply": SharedSupply(feeds, takes)}
    if takes and feeds is None:
        sheet.unknown.append(
            Unknown(mark("pressures with a neighbour on"), _("inlet pressure or pump, and no gun pressure"))
        )
    sheet.low, sheet.high = _run_or_none(*least, shared), _run_or_none(*most, known)
    return replace(setting, pressures=run.places, discharge=run.discharge, nozzle=run.bore, throttled=throttled)


def _run_or_none(line: Line, discharge: float, known: Mapping[str, Any]) -> LaneRun | None:
    try:
        return run_along(line, discharge, **known)
    except NotFed:
        return None


def _ends(sheet: SheetSoFar, line: Line, discharge: float) -> Iterator[tuple[Line, float]]:
    """The line and the discharge coefficient that leave the gun the least pressure, and the most."""
    limits, worst, wishes = sheet.limits, sheet.limits.worst, sheet.wishes
    taken = {one.key for one in sheet.taken}
    cold, hot, more = line.fluid, line.fluid, (line.coil_more, line.coil_more)
    if wishes.temperature is None:
        cold, hot = friction.water(min(worst.cold, limits.temperature)), friction.water(worst.hot)
    if "coil_more" in taken and line.coil_more is not None:
        more = (friction.MOST_OF_COIL * line.coil_more, friction.LEAST_OF_COIL * line.coil_more)
    rough = max(worst.roughness, line.roughness)
    yield (
        replace(line, fluid=cold, roughness=rough, coils="high", coil_more=more[0]),
        max(worst.discharge_most, discharge),
    )
    loss = min(worst.drive_loss_least, line.drive_loss) if "drive_loss" in taken else line.drive_loss
    yield (
        replace(line, fluid=hot, coils="low", coil_more=more[1], drive_loss=loss),
        min(worst.discharge_least, discharge),
    )
