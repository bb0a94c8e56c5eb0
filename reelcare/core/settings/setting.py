"""One set: from a machine's card and a person's wishes to its settings sheet.

The rules of this file: one function, `work_out`. What can be worked out is; what cannot is named with what it would
need; what was taken for want of better is named with its value. The three places of a run, likely and at their unsafe
end, come from `reelcare/core/settings/set_places.py`, limits and warnings from
`reelcare/core/settings/setting_checks.py`. Everything in SI; nothing divides by zero and nothing is nan.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, timedelta
from typing import Any

from reelcare.core import units
from reelcare.core.hydraulics import drum, friction, gun, hose, layers
from reelcare.core.hydraulics.hose import read_path
from reelcare.core.hydraulics.lane import LaneRun, run_along
from reelcare.core.hydraulics.pressure_profile import Line, NotFed, mean_coil_diameter
from reelcare.core.hydraulics.pump import FixedInlet, PumpCurve, Supply, energy
from reelcare.core.hydraulics.spray_loss import spray_loss
from reelcare.core.machine.card import Card
from reelcare.core.settings.set_limits import SetLimits
from reelcare.core.settings.set_margins import Margin
from reelcare.core.settings.set_places import Pulls, along_the_lane, mean_inlet
from reelcare.core.settings.set_request import WishError, Wishes, problems_of
from reelcare.core.settings.setting_checks import margins_of, other_warnings
from reelcare.core.settings.settings_sheet import LayerSpeed, NetDepth, Setting, Taken, Unknown
from reelcare.core.settings.warning_codes import Warned

TWICE = "travel speed: depth, flow and spacing already say it; leave out the speed or the depth"
"""What is said where depth and speed are both wished, and the flow is known from elsewhere."""
WEAKEST_FOR_WANT = f"{hose.WEAKEST}, the weakest, for want of its material"
"""How a hose counts whose material is no known class."""


class _Sheet:
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

    def lacks(self, what: str, **parts: object) -> bool:
        """Whether any part is not known; then `what` is named with all that it needs."""
        missing = [_told(name) for name, value in parts.items() if value is None]
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


def _told(name: str) -> str:
    """A card's key with its dot, a wish in words."""
    return name.replace("__", ".", 1) if "__" in name else name.replace("_", " ")


def work_out(card: Card, wishes: Wishes, limits: SetLimits) -> Setting:
    """The settings sheet. Raises WishError where the wishes cannot be."""
    problems = problems_of(wishes)
    if problems:
        raise WishError(problems)
    sheet = _Sheet(card, wishes, limits)
    setting = _on_the_drum(sheet, Setting(wishes=wishes))
    setting = _water(sheet, setting)
    setting = _time(sheet, setting)
    setting = _throw(sheet, setting)
    setting = _pull(sheet, setting)
    setting = _layers(sheet, setting)
    lift = friction.water(_temperature(sheet)).density * friction.GRAVITY * wishes.rise
    setting = along_the_lane(replace(setting, supply=_supply(sheet)), sheet.low, sheet.high, sheet.pulls, lift)
    setting = _arrives(sheet, setting)
    setting = _cost(sheet, setting)
    found = tuple(margins_of(card, setting, limits))
    if sheet.not_fed is not None:
        found = (sheet.not_fed, *(one for one in found if one.code != "not-fed"))
    return replace(
        setting, limits=found, unknown=tuple(sheet.unknown), taken=tuple(sheet.taken),
        warnings=(*(one.warned for one in found if one.over), *other_warnings(card, setting)),
    )  # fmt: skip


def _wind(sheet: _Sheet) -> drum.Wind | None:
    found, outside = sheet.card.drum, sheet.card.hose.outside
    core, across = found.core_diameter, found.coils_per_layer
    if core is None or across is None or outside is None:
        sheet.lacks(
            "coils left", drum__core_diameter=core, drum__coils_per_layer=across, hose__outside=outside,
        )  # fmt: skip
        return None
    packing = sheet.take("packing", found.packing, sheet.limits.packing)
    return drum.Wind(core, outside, across, packing, found.layers)


def _on_the_drum(sheet: _Sheet, setting: Setting) -> Setting:
    length, out = sheet.card.hose.length, sheet.wishes.out
    if sheet.lacks("metres left", hose__length=length, pull_out=out):
        return setting
    assert length is not None
    assert out is not None
    left = length - out if length - out > drum.HAIR else 0.0
    wind = _wind(sheet)
    if wind is None:
        return replace(setting, metres_left=left)
    turns = wind.turns(left)
    compensation = sheet.card.compensation.kind
    if compensation is None:
        sheet.unknown.append(Unknown("speed after compensation", "compensation.kind"))
    return replace(
        setting,
        metres_left=left,
        coils_left=turns,
        layers_left=wind.place(left).layer if left > 0 else 0,
        wind=wind,
        spread=drum.speed_spread(wind, length, min(out, length), compensation),
        strain=hose.bending_strain(wind.outside, wind.radius(1)),
    )


def _temperature(sheet: _Sheet) -> float:
    return sheet.take("temperature", sheet.wishes.temperature, sheet.limits.temperature)


def _drive_loss(sheet: _Sheet) -> float | None:
    """What the drive takes: measured, nothing for an engine, or taken as the most that the card allows."""
    if sheet.wishes.drive_loss is not None:
        return sheet.wishes.drive_loss
    if sheet.card.drive.kind == "engine":
        return 0.0
    most = sheet.card.drive.most_loss
    if sheet.lacks("pressures", drive_loss=most):
        return None
    return sheet.take("drive_loss", None, most or 0.0)


def _line(sheet: _Sheet, setting: Setting) -> Line | None:
    """The hose at pull-out; its drive loss and rise still to be put in. None where it is not known."""
    bore, length, out = sheet.card.hose.inside, sheet.card.hose.length, sheet.wishes.out
    if sheet.lacks("loss of the hose", hose__inside=bore, hose__length=length, pull_out=out):
        return None
    assert bore is not None
    assert length is not None
    assert out is not None
    diameter, more = None, sheet.wishes.coil_more
    if setting.wind is not None:
        diameter = mean_coil_diameter(length, setting.wind.turns(length))
    elif more is None and out < length:
        more = sheet.take("coil_more", None, sheet.limits.coil_more)
    return Line(
        bore, length, min(out, length), sheet.wishes.rise, 0.0, friction.water(_temperature(sheet)),
        sheet.take("roughness", None, sheet.limits.roughness), diameter, more,
    )  # fmt: skip


def _discharge(sheet: _Sheet) -> float:
    return sheet.take("discharge", None, sheet.limits.discharge)


def _supply(sheet: _Sheet) -> Supply | None:
    """What comes in: the pressure that is wished, else the pump of the card."""
    if sheet.wishes.inlet is not None:
        return FixedInlet(sheet.wishes.inlet)
    points = sheet.card.pump.points
    return PumpCurve(points) if points is not None else None


def _water(sheet: _Sheet, setting: Setting) -> Setting:
    """Flow and pressures along the lane."""
    wishes, supply = sheet.wishes, _supply(sheet)
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
            sheet.unknown.append(Unknown("pressures", "gun pressure, inlet pressure or nozzle"))
    elif line is not None and (drive_loss := _drive_loss(sheet)) is not None:
        setting = _fed(sheet, setting, replace(line, drive_loss=drive_loss), flow, nozzle, supply)
    flow = _flow(sheet, flow, nozzle)
    if flow is not None and not by_strip and wishes.depth and wishes.speed:
        raise WishError([TWICE])
    if line is not None and flow is not None:
        setting = replace(setting, hose_loss=line.hose_loss(flow))
    if flow is None and sheet.not_fed is None:
        sheet.unknown.append(Unknown("flow", "flow, or nozzle with gun pressure or inlet pressure"))
    return replace(setting, flow=flow)


def _flow(sheet: _Sheet, flow: float | None, nozzle: float | None) -> float | None:
    """A flow that is wished; else its mean over the lane; else, of a hose that is not known, what the gun lets through.

    Raises WishError where flow, nozzle and pressure are all wished and cannot be together.
    """
    wishes = sheet.wishes
    at_gun = wishes.gun_pressure
    if sheet.run is not None and wishes.inlet is not None and at_gun is None:
        at_gun = sheet.run.places[0].gun
    lets = None
    if nozzle is not None and at_gun is not None:
        full = gun.flow_through(nozzle, at_gun, 1.0, friction.water(_temperature(sheet)))
        lets = full * sheet.limits.discharge
        if wishes.flow is not None and wishes.nozzle is not None and not in_span(wishes.flow / full, gun.DISCHARGES):
            apart = f"{100 * abs(lets / wishes.flow - 1):.0f} % {'more' if lets > wishes.flow else 'less'}"
            raise WishError([
                f"flow: {units.write(wishes.flow, 'm3/h', 0.1)} and the nozzle disagree, which lets "
                f"{units.write(lets, 'm3/h', 0.1)} through at {units.write(at_gun, 'bar', 0.01)}, {apart}; "
                "leave out the flow, the nozzle or the pressure"
            ])  # fmt: skip
    if flow is not None or sheet.run is not None:
        return flow if flow is not None else sheet.run.mean_flow  # type: ignore[union-attr]  # one of them is known
    if lets is not None:
        _discharge(sheet)
    return lets


def in_span(value: float, span: tuple[float, float]) -> bool:
    """Whether a value lies in a span, both ends counted."""
    return span[0] <= value <= span[1]


def _fed(
    sheet: _Sheet, setting: Setting, line: Line, flow: float | None, nozzle: float | None, supply: Supply | None
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
        needed = line.drive_loss + line.lift if flow is None else line.between(flow)
        sheet.not_fed = Margin(
            warned=Warned("not-fed", str(why).replace("{", "{{").replace("}", "}}")), quantity="pressure",
            likely=max(needed, supply.shut_off * 1.001), limit=supply.shut_off, where="pull-out",
        )  # fmt: skip
        return setting
    sheet.run = run
    sheet.low, sheet.high = (_run_or_none(one, at, known) for one, at in _ends(sheet, line, discharge))
    return replace(setting, pressures=run.places, discharge=run.discharge, nozzle=run.bore)


def _run_or_none(line: Line, discharge: float, known: Mapping[str, Any]) -> LaneRun | None:
    try:
        return run_along(line, discharge, **known)
    except NotFed:
        return None


def _ends(sheet: _Sheet, line: Line, discharge: float) -> Iterator[tuple[Line, float]]:
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


def _time(sheet: _Sheet, setting: Setting) -> Setting:
    wishes, flow, spacing = sheet.wishes, setting.flow, sheet.wishes.spacing
    speed, depth = wishes.speed, wishes.depth
    if speed is None and not sheet.lacks("travel speed", depth_or_speed=depth, flow=flow, lane_spacing=spacing):
        speed = gun.speed_for(flow or 0.0, spacing or 0.0, depth or 0.0)
    if depth is None and speed is not None and not sheet.lacks("depth", flow=flow, lane_spacing=spacing):
        depth = gun.depth_on(flow or 0.0, spacing or 0.0, speed)
    setting = replace(setting, speed=speed, depth=depth)
    if wishes.out is None or speed is None:
        return setting
    run_time = wishes.out / speed + wishes.dwell_start + wishes.dwell_end
    finish = None
    if wishes.start is not None:
        # by the time that passes: a zone's own clocks may be put on or back on the way
        done = wishes.start.astimezone(UTC) + timedelta(seconds=round(run_time))
        finish = done.astimezone(wishes.start.tzinfo)
    return replace(
        setting,
        run_time=run_time,
        finish=finish,
        area=None if spacing is None else spacing * wishes.out,
        water_used=None if flow is None else flow * run_time,
    )


def _throw(sheet: _Sheet, setting: Setting) -> Setting:
    if sheet.card.cart.kind == "boom":
        return setting
    place = setting.at_pull_out
    at_gun = place.gun if place is not None else sheet.wishes.gun_pressure
    nozzle = setting.nozzle or sheet.wishes.nozzle or sheet.card.cart.nozzle
    if sheet.lacks("throw of the gun", nozzle=nozzle, gun_pressure=at_gun):
        return setting
    radius = gun.wetted_radius(nozzle or 0.0, at_gun or 0.0)
    if sheet.wishes.wind is None:
        sheet.unknown.append(Unknown("spacing in wind", "wind; judged without any"))
    setting = replace(setting, radius=radius, widest=gun.widest_spacing(radius, sheet.wishes.wind or 0.0))
    arc = sheet.wishes.arc or sheet.card.cart.arc
    if setting.flow is None or sheet.lacks("rate", cart__arc=arc):
        return setting
    counts = sheet.take("radius_counts", None, sheet.limits.radius_counts)
    return replace(setting, rate=gun.rate_over(setting.flow, radius, arc or 360, effective=counts))


def _pull(sheet: _Sheet, setting: Setting) -> Setting:
    """The pull on the hose, and what its wall may bear and hold."""
    outside, inside, out = sheet.card.hose.outside, sheet.card.hose.inside, sheet.wishes.out
    if sheet.lacks("pull on the hose", hose__outside=outside, hose__inside=inside, pull_out=out):
        return setting
    assert outside is not None
    assert inside is not None
    assert out is not None
    limits, wishes, temperature = sheet.limits, sheet.wishes, _temperature(sheet)
    rub = sheet.take("ground_friction", wishes.ground_friction, limits.ground_friction)
    rolling = limits.rolling
    mass = sheet.card.cart.mass
    if mass is None:
        sheet.unknown.append(Unknown("pull of the cart", "cart.mass"))
    else:
        rolling = sheet.take("rolling", None, rolling)
    # the hose is pulled both ways, out by the tractor and home by the drum: the way uphill pulls harder
    slope = abs(wishes.rise) / out
    weight = hose.weight_along(outside, inside, friction.water(temperature).density)
    worst = limits.worst
    dry = rub if wishes.ground_friction is not None else max(worst.ground_friction, rub)
    pulls = (
        Pulls(weight, out, rub, slope, mass, rolling, inside),
        Pulls(weight, out, dry, slope, mass, max(worst.rolling, rolling), inside),
    )
    sheet.pulls = pulls
    hot = temperature if wishes.temperature is not None else max(worst.hot, temperature)
    return _strength(sheet, replace(setting, drag=pulls[0].of_hose(1), cart_pull=pulls[0].of_cart()), temperature, hot)


def _strength(sheet: _Sheet, setting: Setting, temperature: float, hot: float) -> Setting:
    """What the wall may bear and hold, by its material: at the likely temperature, and at its hottest."""
    outside, inside, material = sheet.card.hose.outside, sheet.card.hose.inside, sheet.card.hose.material
    assert outside is not None
    assert inside is not None
    known = hose.pe_class(material)
    strength = hose.yield_of(material, sheet.limits.yield_strength)
    sheet.take("yield_strength", None, strength, f" of {known}" if known else f", {WEAKEST_FOR_WANT}")
    if known is None:
        sheet.unknown.append(
            Unknown(
                "material of the hose", f"hose.material, one of {', '.join(hose.DESIGN_STRESS)}; the weakest counts"
            )
        )
    hours = (setting.run_time or 43200) / 3600
    bears, worst_bears = (hose.allowable_pull(outside, inside, hours, one, strength) for one in (temperature, hot))
    rated = [_rated(outside, inside, material, one) for one in (temperature, hot)]
    bends = [read_path(sheet.wishes.out or 0.0, sheet.wishes.bends).tightest] if sheet.wishes.bends else []
    least = None
    if bends:
        least = sheet.take("least_radius", sheet.card.hose.least_radius, hose.least_radius(outside, inside))
    return replace(
        setting, allowable_pull=bears, worst_allowable=worst_bears, rated_pressure=rated[0], worst_rated=rated[1],
        curve_strain=hose.bending_strain(outside, bends[0]) if bends else None, least_radius=least,
    )  # fmt: skip


def _rated(outside: float, inside: float, material: str | None, temperature: float) -> float:
    """What the hose is rated for [Pa]; nothing where it is hotter than anything published."""
    try:
        return hose.rating(outside, inside, material, temperature)
    except hose.TooHot:
        return 0.0


def _layers(sheet: _Sheet, setting: Setting) -> Setting:
    """What to set when each layer begins, and how long the run takes if nobody does."""
    length, out, speed = sheet.card.hose.length, sheet.wishes.out, setting.speed
    if setting.wind is None or length is None or out is None:
        return setting
    found = layers.layers_of(setting.wind, length, out)
    if not found:
        return setting
    told = tuple(
        LayerSpeed(
            one.layer, one.begins, one.ends,
            None if speed is None else speed * found[0].radius / one.radius,
            None if speed is None else (one.begins - one.ends) / speed,
            one.radius / found[0].radius,
        )
        for one in found
    )  # fmt: skip
    alone = None
    if speed is not None and sheet.card.compensation.kind in (None, "none"):
        alone = layers.time_without_setting(found, speed) + sheet.wishes.dwell_start + sheet.wishes.dwell_end
    return replace(setting, layers=told, left_alone=alone)


def _arrives(sheet: _Sheet, setting: Setting) -> Setting:
    """What of the depth arrives: by the weather that is given, or by what is taken, with its unsafe end."""
    place, nozzle, wishes, worst = setting.at_pull_out, setting.nozzle, sheet.wishes, sheet.limits.worst
    if sheet.card.cart.kind == "boom" or setting.depth is None:
        return setting
    if place is None or nozzle is None:
        sheet.lacks("net depth", nozzle=nozzle, gun_pressure=None if place is None else place.gun)
        return setting
    limits = sheet.limits
    wind = sheet.take("wind", wishes.wind, limits.wind)
    air = sheet.take("air", wishes.air, limits.air)
    humidity = sheet.take("humidity", wishes.humidity, limits.humidity)
    likely = spray_loss(nozzle, place.gun, wind, air, humidity)
    most = spray_loss(
        nozzle, place.gun,
        wind if wishes.wind is not None else max(wind, worst.wind),
        air if wishes.air is not None else max(air, worst.air),
        humidity if wishes.humidity is not None else min(humidity, worst.humidity),
    )  # fmt: skip
    depth = setting.depth
    return replace(
        setting, net=NetDepth(depth * (1 - most.high), depth * (1 - likely.likely), depth * (1 - likely.low))
    )


def _cost(sheet: _Sheet, setting: Setting) -> Setting:
    """Energy that the water takes at the machine's inlet, by the efficiencies of the card."""
    place = setting.at_pull_out
    if setting.water_used is None or place is None:
        return setting
    pump = sheet.take("pump_efficiency", sheet.card.pump.efficiency, sheet.limits.pump_efficiency)
    motor = sheet.take("motor_efficiency", sheet.card.pump.motor_efficiency, sheet.limits.motor_efficiency)
    return replace(setting, energy=energy(setting.water_used, mean_inlet(setting.pressures), pump * motor))
