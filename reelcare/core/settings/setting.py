"""One set: from a machine's card and a person's wishes to its settings sheet.

The rules of this file: one function, `work_out`. What can be worked out is; what cannot is named with what it would
need; what was taken for want of better is named with its value. Warnings come from
`reelcare/core/settings/setting_checks.py`.
Everything in SI; nothing divides by zero and nothing is nan.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, timedelta

from reelcare.core.hydraulics import drum, friction, gun, hose
from reelcare.core.hydraulics.pressure_profile import Line, NotFed, mean_coil_diameter
from reelcare.core.machine.card import Card
from reelcare.core.settings.set_limits import SetLimits
from reelcare.core.settings.set_request import WishError, Wishes, problems_of
from reelcare.core.settings.setting_checks import warnings_of
from reelcare.core.settings.settings_sheet import Pressures, Setting, Taken, Unknown, Where
from reelcare.core.settings.warning_codes import Figure, Warned

TWICE = "travel speed: depth, flow and spacing already say it; leave out the speed or the depth"
"""What is said where depth and speed are both wished, and the flow is known from elsewhere."""


class _Sheet:
    """The sheet while it is worked out: what was taken and what is missing are gathered on the way."""

    def __init__(self, card: Card, wishes: Wishes, limits: SetLimits) -> None:
        self.card, self.wishes, self.limits = card, wishes, limits
        self.unknown: list[Unknown] = []
        self.taken: list[Taken] = []
        self.warnings: list[Warned] = []

    def lacks(self, what: str, **parts: object) -> bool:
        """Whether any part is not known; then `what` is named with all that it needs."""
        missing = [_told(name) for name, value in parts.items() if value is None]
        if missing:
            self.unknown.append(Unknown(what, ", ".join(missing)))
        return bool(missing)

    def take(self, what: str, value: float | None, else_: float, figure: Callable[[float], Figure]) -> float:
        """A value, or what is taken for it."""
        if value is not None:
            return value
        one = Taken(what, figure(else_))
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
    return replace(
        setting, unknown=tuple(sheet.unknown), taken=tuple(sheet.taken),
        warnings=(*sheet.warnings, *warnings_of(card, setting, limits)),
    )  # fmt: skip


def _wind(sheet: _Sheet) -> drum.Wind | None:
    found, outside = sheet.card.drum, sheet.card.hose.outside
    core, across = found.core_diameter, found.coils_per_layer
    if core is None or across is None or outside is None:
        sheet.lacks(
            "coils left", drum__core_diameter=core, drum__coils_per_layer=across, hose__outside=outside,
        )  # fmt: skip
        return None
    packing = sheet.take("packing", found.packing, sheet.limits.packing, lambda value: (value, "count", "packing"))
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
    return sheet.take(
        "temperature", sheet.wishes.temperature, sheet.limits.temperature, lambda value: (value, "temperature", "")
    )


def _drive_loss(sheet: _Sheet) -> float | None:
    """What the drive takes: measured, nothing for an engine, or taken as the most that the card allows."""
    if sheet.wishes.drive_loss is not None:
        return sheet.wishes.drive_loss
    if sheet.card.drive.kind == "engine":
        return 0.0
    most = sheet.card.drive.most_loss
    if sheet.lacks("pressures", drive_loss=most):
        return None
    return sheet.take(
        "drive loss, the most on the card", None, most or 0.0, lambda value: (value, "pressure", "drive loss")
    )


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
        more = sheet.take(
            "loss of the coils", None, sheet.limits.coil_more, lambda value: (100 * value, "count", "percent")
        )
    return Line(
        bore, length, min(out, length), sheet.wishes.rise, 0.0, friction.water(_temperature(sheet)),
        sheet.limits.roughness, diameter, more,
    )  # fmt: skip


def _discharge(sheet: _Sheet) -> float:
    return sheet.take("discharge coefficient", None, sheet.limits.discharge, lambda value: (value, "count", "part"))


def _water(sheet: _Sheet, setting: Setting) -> Setting:
    wishes = sheet.wishes
    nozzle = wishes.nozzle or sheet.card.cart.nozzle
    line = _line(sheet, setting)
    flow, at_gun = wishes.flow, wishes.gun_pressure
    if flow is None and nozzle is not None and at_gun is not None:
        flow = gun.flow_through(nozzle, at_gun, _discharge(sheet), friction.water(_temperature(sheet)))
    by_strip = flow is None and wishes.inlet is None and wishes.depth and wishes.speed and wishes.spacing
    if by_strip:
        flow = gun.flow_for(wishes.depth or 0.0, wishes.spacing or 0.0, wishes.speed or 0.0)
    needs_line = wishes.inlet is not None or at_gun is not None or nozzle is not None
    drive_loss = _drive_loss(sheet) if line is not None and needs_line else None
    if line is not None and drive_loss is not None:
        line = replace(line, drive_loss=drive_loss)
        if flow is None and nozzle is not None and wishes.inlet is not None:
            try:
                flow, at_gun = line.solve(wishes.inlet, nozzle, _discharge(sheet))
            except NotFed as why:
                sheet.warnings.append(Warned("not-fed", _literal(str(why))))
        setting = _budget(sheet, setting, line, flow, at_gun, nozzle)
    if flow is not None and not by_strip and wishes.depth and wishes.speed:
        raise WishError([TWICE])
    if line is not None and not needs_line:
        sheet.unknown.append(Unknown("pressures", "gun pressure, inlet pressure or nozzle"))
    if line is not None and flow is not None:
        setting = replace(setting, hose_loss=line.hose_loss(flow))
    if flow is None and not sheet.warnings:
        sheet.unknown.append(Unknown("flow", "flow, or nozzle with gun pressure or inlet pressure"))
    return replace(setting, flow=flow)


def _literal(text: str) -> str:
    return text.replace("{", "{{").replace("}", "}}")


def _budget(
    sheet: _Sheet, setting: Setting, line: Line, flow: float | None, at_gun: float | None, nozzle: float | None
) -> Setting:
    """Pressures with the cart at pull-out, half-way and home, at one inlet pressure."""
    if flow is None:
        return setting
    if at_gun is None and sheet.wishes.inlet is not None:
        at_gun = sheet.wishes.inlet - line.between(flow)
        if at_gun <= 0:
            says = "the inlet does not carry this flow: {} are lost on the way, {} come in; less flow, or more pressure"
            lost: Figure = (line.between(flow), "pressure", "")
            sheet.warnings.append(Warned("not-fed", says, (lost, (sheet.wishes.inlet, "pressure", ""))))
            return setting
    if at_gun is None and nozzle is not None:
        at_gun = gun.pressure_for(flow, nozzle, _discharge(sheet), line.fluid)
    assert at_gun is not None  # one of gun pressure, inlet pressure and nozzle is known here
    # a nozzle that is not known is the one that fits flow and pressure
    bore = nozzle or gun.bore_for(flow, at_gun, sheet.limits.discharge, line.fluid)
    discharge = gun.discharge_from([(flow, at_gun)], bore, line.fluid)[0]
    inlet = at_gun + line.between(flow)
    places = [_at("pull-out", line, inlet, flow, at_gun)]
    out = line.out
    for where, part in (("half-way", 0.5), ("home", 0.0)):
        there = replace(line, out=out * part, rise=line.rise * part)
        try:
            places.append(_at(where, there, inlet, *there.solve(inlet, bore, discharge)))  # type: ignore[arg-type]
        except NotFed:  # downhill to a gun that is farthest out only: nothing arrives nearer
            break
    return replace(setting, pressures=tuple(places), discharge=discharge, nozzle=bore)


def _at(where: Where, line: Line, inlet: float, flow: float, at_gun: float) -> Pressures:
    likely, low, high = line.coil_loss(flow)
    return Pressures(
        where, flow, inlet, line.drive_loss, line.straight_loss(flow), likely, (low, high), line.lift, at_gun,
    )  # fmt: skip


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
    return replace(setting, rate=gun.rate_over(setting.flow, radius, arc or 360, effective=sheet.limits.radius_counts))


def _pull(sheet: _Sheet, setting: Setting) -> Setting:
    outside, inside, out = sheet.card.hose.outside, sheet.card.hose.inside, sheet.wishes.out
    if sheet.lacks("pull on the hose", hose__outside=outside, hose__inside=inside, pull_out=out):
        return setting
    assert outside is not None
    assert inside is not None
    assert out is not None
    temperature = _temperature(sheet)
    rub = sheet.take(
        "friction of hose on ground", sheet.wishes.ground_friction, sheet.limits.ground_friction,
        lambda value: (value, "count", "part"),
    )  # fmt: skip
    # the hose is pulled both ways, out by the tractor and home by the drum: the way uphill pulls harder
    slope = abs(sheet.wishes.rise) / out
    weight = hose.weight_along(outside, inside, friction.water(temperature).density)
    mass = sheet.card.cart.mass
    if mass is None:
        sheet.unknown.append(Unknown("pull of the cart", "cart.mass"))
    material = sheet.card.hose.material
    strength = sheet.take(
        "yield strength", None, sheet.limits.yield_strength, lambda value: (value, "pressure", "strength")
    )
    rated = None
    if not sheet.lacks("pressure that the hose is rated for", hose__material=material):
        rated = _rated(sheet, outside, inside, material or "", temperature)
    return replace(
        setting,
        drag=hose.drag(weight, out, rub, slope),
        cart_pull=None if mass is None else hose.cart_pull(mass, sheet.limits.rolling, slope),
        allowable_pull=hose.allowable_pull(outside, inside, (setting.run_time or 43200) / 3600, temperature, strength),
        rated_pressure=rated,
    )


def _rated(sheet: _Sheet, outside: float, inside: float, material: str, temperature: float) -> float | None:
    try:
        rated = hose.rated_pressure(outside, inside, material, temperature)
    except hose.TooHot as why:
        sheet.warnings.append(Warned("hose-pressure", _literal(str(why))))
        return None
    if rated is None:
        known = ", ".join(hose.DESIGN_STRESS)
        sheet.unknown.append(Unknown("pressure that the hose is rated for", f"hose.material, one of {known}"))
    return rated
