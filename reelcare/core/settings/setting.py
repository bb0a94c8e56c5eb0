"""One set: from a machine's card and a person's wishes to its settings sheet.

The rules of this file: one function, `work_out`. What can be worked out is; what cannot is named with what it would
need; what was taken for want of better is named with its value. The three places of a run, likely and at their unsafe
end, come from `reelcare/core/settings/set_places.py`, limits and warnings from
`reelcare/core/settings/setting_checks.py`. Everything in SI; nothing divides by zero and nothing is nan.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, timedelta

from reelcare.core.hydraulics import drum, friction, gun, hose
from reelcare.core.hydraulics.hose import read_path
from reelcare.core.hydraulics.lane import mean_along
from reelcare.core.hydraulics.pump import energy
from reelcare.core.hydraulics.spray_loss import spray_loss
from reelcare.core.machine.card import Card
from reelcare.core.settings.set_limits import SetLimits
from reelcare.core.settings.set_places import Jet, Pulls, along_the_lane
from reelcare.core.settings.set_request import WishError, Wishes, problems_of
from reelcare.core.settings.set_water import SheetSoFar, fed, temperature_of
from reelcare.core.settings.setting_checks import margins_of, other_warnings
from reelcare.core.settings.settings_sheet import LayerSpeed, Setting, Unknown
from reelcare.core.text import _, mark


def work_out(card: Card, wishes: Wishes, limits: SetLimits) -> Setting:
    """The settings sheet. Raises WishError where the wishes cannot be."""
    problems = problems_of(wishes)
    if problems:
        raise WishError(problems)
    sheet = SheetSoFar(card, wishes, limits)
    setting = _on_the_drum(sheet, Setting(wishes=wishes))
    setting = fed(sheet, setting)
    setting = _time(sheet, setting)
    setting = _throw(sheet, setting)
    setting = _pull(sheet, setting)
    setting = _layers(sheet, setting)
    lift = friction.water(temperature_of(sheet)).density * friction.GRAVITY * wishes.rise
    setting = along_the_lane(setting, sheet.low, sheet.high, sheet.pulls, sheet.jet, lift)
    setting = replace(setting, pulled_strain=_strained(sheet, setting), friction_to=_friction_to(sheet, setting))
    setting = replace(
        setting, most_inlet=_most_inlet(setting, lift), least_in_hose=_least_in_hose(sheet, setting, lift)
    )
    setting = _arrives(sheet, setting)
    setting = _cost(sheet, setting)
    found = tuple(margins_of(card, setting, limits))
    if sheet.not_fed is not None:
        found = (sheet.not_fed, *(one for one in found if one.code != "not-fed"))
    warned = [*(one.warned for one in found if one.over), *other_warnings(setting, limits)]
    # what does not agree stands first: every figure after it rests on one of the two
    warned.sort(key=lambda one: one.code != "nozzle")
    return replace(
        setting, limits=found, unknown=tuple(sheet.unknown), taken=tuple(sheet.taken), warnings=tuple(warned)
    )


def _wind(sheet: SheetSoFar, left: float) -> drum.Wind | None:
    found, outside = sheet.card.drum, sheet.card.hose.outside
    core, across = found.core_diameter, found.coils_per_layer
    if core is None or across is None or outside is None:
        # no hose is no coils, on whatever drum
        what = mark("coils left") if left > 0 else mark("speed spread")
        sheet.lacks(what, drum__core_diameter=core, drum__coils_per_layer=across, hose__outside=outside)
        return None
    packing = sheet.take("packing", found.packing, sheet.limits.packing)
    return drum.Wind(core, outside, across, packing, found.layers)


def _on_the_drum(sheet: SheetSoFar, setting: Setting) -> Setting:
    length, out = sheet.card.hose.length, sheet.wishes.out
    if length is None or out is None:
        sheet.lacks(mark("metres left"), hose__length=length, pull_out=out)
        return setting
    left = length - out if length - out > drum.HAIR else 0.0
    wind = _wind(sheet, left)
    if wind is None:
        return replace(setting, metres_left=left) if left > 0 else replace(setting, metres_left=left, coils_left=0.0)
    turns = wind.turns(left)
    compensation = sheet.card.compensation.kind
    if compensation is None:
        sheet.unknown.append(Unknown(mark("speed after compensation"), "compensation.kind"))
    return replace(
        setting,
        metres_left=left,
        coils_left=turns,
        layers_left=wind.layer_at(left - drum.LEAST_OF_LAYER) if left > 0 else 0,
        wind=wind,
        spread=drum.speed_spread(wind, length, min(out, length), compensation),
        strain=hose.bending_strain(wind.outside, wind.radius(1)),
    )


def _time(sheet: SheetSoFar, setting: Setting) -> Setting:
    wishes, flow, spacing = sheet.wishes, setting.flow, sheet.wishes.spacing
    speed, depth = wishes.speed, wishes.depth
    if speed is None and not sheet.lacks(mark("travel speed"), depth_or_speed=depth, flow=flow, lane_spacing=spacing):
        speed = gun.speed_for(flow or 0.0, spacing or 0.0, depth or 0.0)
    if speed is not None and flow is not None and spacing is not None:
        depth = gun.depth_on(flow, spacing, speed)  # also of a depth that was wished and nearly says the same
    elif depth is None and speed is not None:
        sheet.lacks(mark("depth"), flow=flow, lane_spacing=spacing)
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


def _throw(sheet: SheetSoFar, setting: Setting) -> Setting:
    if sheet.card.cart.kind == "boom":
        return setting
    place = setting.at_pull_out
    at_gun = place.gun if place is not None else sheet.wishes.gun_pressure
    nozzle = setting.nozzle or sheet.wishes.nozzle or sheet.card.cart.nozzle
    if sheet.lacks(mark("throw of the gun"), nozzle=nozzle, gun_pressure=at_gun):
        return setting
    radius = gun.wetted_radius(nozzle or 0.0, at_gun or 0.0)
    if sheet.wishes.wind is None:
        sheet.unknown.append(Unknown(mark("spacing in wind"), _("wind; judged without any")))
    wind = sheet.wishes.wind or 0.0
    setting = replace(setting, radius=radius, widest=gun.widest_spacing(radius, wind))
    arc = sheet.wishes.arc or sheet.card.cart.arc
    sheet.jet = Jet(nozzle or 0.0, arc, sheet.limits.radius_counts, wind)
    flow = setting.flow if place is None else place.flow
    if flow is None or sheet.lacks(mark("rate"), cart__arc=arc):
        return setting
    sheet.take("radius_counts", None, sheet.limits.radius_counts)
    return replace(setting, rate=sheet.jet.rate(flow, at_gun or 0.0))


def _pull(sheet: SheetSoFar, setting: Setting) -> Setting:
    """The pull on the hose, and what its wall may bear and hold."""
    outside, inside, out = sheet.card.hose.outside, sheet.card.hose.inside, sheet.wishes.out
    if outside is None or inside is None or out is None:
        sheet.lacks(mark("pull on the hose"), hose__outside=outside, hose__inside=inside, pull_out=out)
        return setting
    limits, wishes, temperature = sheet.limits, sheet.wishes, temperature_of(sheet)
    rub = sheet.take("ground_friction", wishes.ground_friction, limits.ground_friction)
    rolling = limits.rolling
    mass = sheet.card.cart.mass
    if mass is None:
        sheet.unknown.append(Unknown(mark("pull of the cart"), "cart.mass"))
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


def _strength(sheet: SheetSoFar, setting: Setting, temperature: float, hot: float) -> Setting:
    """What the wall may bear and hold, by its material: at the likely temperature, and at its hottest."""
    outside, inside, material = sheet.card.hose.outside, sheet.card.hose.inside, sheet.card.hose.material
    assert outside is not None
    assert inside is not None
    known = hose.pe_class(material)
    strength = hose.yield_of(material, sheet.limits.yield_strength)
    told = _(" of {material}", material=known)
    if known is None:
        told = _(", taken as {material}, the weakest: its material is not known", material=hose.WEAKEST)
        classes = ", ".join(hose.DESIGN_STRESS)
        needs = _("hose.material, one of {classes}; the weakest counts", classes=classes)
        sheet.unknown.append(Unknown(mark("material of the hose"), needs))
    sheet.take("yield_strength", None, strength, told)
    # of a run that lasts nobody knows how long: likely half a day, at worst a whole one
    lasts = [(setting.run_time or unknown * 3600) / 3600 for unknown in (12, 24)]
    bears, worst_bears = (
        hose.allowable_pull(outside, inside, hours, one, strength)
        for hours, one in zip(lasts, (temperature, hot), strict=True)
    )
    rated = [_rated(outside, inside, material, one) for one in (temperature, hot)]
    least = strain = None
    if sheet.wishes.bends:
        least = sheet.take("least_radius", sheet.card.hose.least_radius, hose.least_radius(outside, inside))
        strain = hose.bending_strain(outside, read_path(sheet.wishes.out or 0.0, sheet.wishes.bends).tightest)
    return replace(
        setting, allowable_pull=bears, worst_allowable=worst_bears, rated_pressure=rated[0], worst_rated=rated[1],
        curve_strain=strain, least_radius=least,
    )  # fmt: skip


def _strained(sheet: SheetSoFar, setting: Setting) -> float | None:
    """By how much pull and pressure stretch the wall, beside the bending on the drum and in a curve."""
    outside, inside = sheet.card.hose.outside, sheet.card.hose.inside
    carried = [one.wall for one in setting.likely if one.wall is not None]
    if outside is None or inside is None or not carried:
        return None
    modulus = hose.MODULUS[hose.pe_class(sheet.card.hose.material) or hose.WEAKEST]
    return max(carried) / hose.wall_area(outside, inside) / modulus


def _friction_to(sheet: SheetSoFar, setting: Setting) -> float | None:
    """The friction on the ground up to which the wall bears what it likely carries; None where it is given."""
    bears, pulls, out = setting.allowable_pull, sheet.pulls, setting.likely[:1]
    if bears is None or pulls is None or not out or sheet.wishes.ground_friction is not None:
        return None
    one = pulls[0]
    carried = one.at(1) if out[0].wall is None else out[0].wall
    rubs = one.weight * one.out * math.cos(math.atan(one.slope))
    return max(0.0, one.friction + (bears - carried) / rubs)


def _rated(outside: float, inside: float, material: str | None, temperature: float) -> float:
    """What the hose is rated for [Pa]; nothing where it is hotter than anything published."""
    try:
        return hose.rating(outside, inside, material, temperature)
    except hose.TooHot:
        return 0.0


def _most_inlet(setting: Setting, lift: float) -> float | None:
    """What may stand at the inlet so that the hose holds it at its lower end, as warm as it is, with the gun blocked;
    None where that is what the card's hose is rated for."""
    fall, warm = max(0.0, -lift), (setting.wishes.temperature or 0.0) > hose.ISO_FACTORS[0][0]
    if setting.rated_pressure is None or not (fall or warm):
        return None
    return max(0.0, setting.rated_pressure - fall)


def _least_in_hose(sheet: SheetSoFar, setting: Setting, lift: float) -> float | None:
    """The least that is in the hose to bring what is wished to the gun; None where more is known, or nothing is wished
    there."""
    wishes, nozzle = sheet.wishes, sheet.wishes.nozzle or sheet.card.cart.nozzle
    if setting.standing is not None:
        return None
    at_gun = wishes.gun_pressure
    if at_gun is None and nozzle is not None and setting.flow is not None:
        fluid = friction.water(temperature_of(sheet))
        at_gun = gun.pressure_for(setting.flow, nozzle, sheet.limits.worst.discharge_most, fluid)
    return None if at_gun is None else at_gun + max(0.0, (setting.hose_loss or 0.0) + lift)


def _layers(sheet: SheetSoFar, setting: Setting) -> Setting:
    """What to set when each layer begins, and how long the run takes if nobody does."""
    length, out, speed = sheet.card.hose.length, sheet.wishes.out, setting.speed
    if setting.wind is None or length is None or out is None:
        return setting
    found = drum.layers_of(setting.wind, length, out)
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
        alone = drum.time_without_setting(found, speed) + sheet.wishes.dwell_start + sheet.wishes.dwell_end
    return replace(setting, layers=told, left_alone=alone)


def _arrives(sheet: SheetSoFar, setting: Setting) -> Setting:
    """What of the depth arrives: by the weather that is given, or by what is taken, with its unsafe end."""
    place, nozzle, wishes, worst = setting.at_pull_out, setting.nozzle, sheet.wishes, sheet.limits.worst
    if sheet.card.cart.kind == "boom" or setting.depth is None:
        return setting
    if place is None or nozzle is None:
        sheet.lacks(mark("net depth"), nozzle=nozzle, gun_pressure=None if place is None else place.gun)
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
        setting, net=friction.LikelySpan(depth * (1 - most.high), depth * (1 - likely.likely), depth * (1 - likely.low))
    )


def _cost(sheet: SheetSoFar, setting: Setting) -> Setting:
    """Energy that the water takes at the machine's inlet, by the efficiencies of the card."""
    place = setting.at_pull_out
    if setting.water_used is None or place is None:
        return setting
    pump = sheet.take("pump_efficiency", sheet.card.pump.efficiency, sheet.limits.pump_efficiency)
    motor = sheet.take("motor_efficiency", sheet.card.pump.motor_efficiency, sheet.limits.motor_efficiency)
    return replace(
        setting, energy=energy(setting.water_used, mean_along([one.inlet for one in setting.pressures]), pump * motor)
    )
