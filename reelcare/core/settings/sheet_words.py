"""A settings sheet in words: what is to be set first, then what comes of it, in the person's units."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from functools import partial

from reelcare.core import units
from reelcare.core.hydraulics.lane import Pressures
from reelcare.core.settings.settings_sheet import Setting
from reelcare.core.settings.warning_codes import (
    CODES,
    FINEST,
    Margin,
    fine_enough,
    no_more_than,
    on_step,
    places_for,
)
from reelcare.core.text import _, localized, mark, plural
from reelcare.core.wording import percent_of


def figure_text(figure: tuple[float, units.Quantity, str], system: units.System) -> str:
    """A figure that was taken, as a person reads it."""
    value, quantity, role = figure
    if quantity == "count":
        return localized(f"{value:g}") + (" %" if role in ("percent", "whole percent") else "")
    if role == "strength":
        return units.write(value, "MPa") if system == "metric" else units.write(value, "psi", 10)
    if role == "roughness":
        return units.write(value, "mm") if system == "metric" else units.write(value, "in", 1e-6)
    return units.show(value, quantity, system, role=role)


def verdict(setting: Setting) -> str:
    """Whether a set is within its limits, as is likely; and what is over at the unsafe end of what is not known: one
    line."""
    decides, worst = setting.deciding, setting.deciding_worst
    if decides is None or worst is None:
        return _("nothing to judge by: the card gives no figures")
    if decides.over:
        told = _("outside its limits: {what}", what=_past(decides, worst=False))
    else:
        spare = math.floor(decides.margin)
        told = _("within its limits, {percent} % to spare ({what})", percent=spare, what=_(CODES[decides.code].label))
    if worst.worst_margin < 0 <= worst.margin or (decides.over and worst.worst_margin < decides.margin):
        told += _("; worst: {what}", what=_past(worst, worst=True))
        if CODES[worst.code].worst_when:
            told += ", " + _(CODES[worst.code].worst_when)
        if worst.code in ("drag", "wall") and setting.friction_to is not None and not decides.over:
            # rounded down: what is told must still hold
            to = math.floor(100 * setting.friction_to) / 100
            told += _(" (the hose holds up to a friction of {friction:.2f} on the ground)", friction=to)
    missing = [_(one.what) for one in setting.unknown if one.what in JUDGED]
    return told + (_("; not judged: {what}", what=", ".join(missing)) if missing else "")


JUDGED = ("pressures", "pull on the hose", "coils left", "metres left", "loss of the hose", "flow", "pull of the cart")
"""What is not known and would be judged."""


def _past(one: Margin, *, worst: bool) -> str:
    """What is past its limit, by how many percent (never told as none), and where."""
    where = one.worst_where if worst else one.where
    label, place = _(CODES[one.code].label), _(PLACES[where]) if where in PLACES else ""
    if one.at_least:
        # of the figures themselves: percent of a limit end at a thousand
        value, limit = (one.at_worst, one.limit_at_worst) if worst else (one.likely, one.limit)
        short = math.ceil(100 * (1 - value / limit) - 1e-9)
        return _("{what} {percent} % short{place}", what=label, percent=short, place=place)
    over = math.ceil(-(one.worst_margin if worst else one.margin))
    return _("{what} {percent} % over{place}", what=label, percent=over, place=place)


PLACES: dict[str, str] = {
    "pull-out": mark(" at pull-out"), "half-way": mark(" half-way"), "home": mark(" at home"),
    "gun blocked": mark(", gun blocked"),
}  # fmt: skip
"""Where a figure is past its limit, as it follows on that."""


def percent_text(percent: float) -> str:
    """Percent of a limit, rounded up: never read as within it where it is past, and together with what is told as to
    spare, which is rounded down, a hundred.

    >>> percent_text(98.7), percent_text(100.2), percent_text(100)
    ('99 %', '101 %', '100 %')
    """
    return f"{percent_of(percent, 100)} %"


def limit_text(one: Margin, system: units.System, *, worst: bool = True) -> tuple[str, str, str]:
    """A limited figure: what it likely is, its worst, and its limit, with that of its worst, as a person reads them:
    the limit on its safe side, and all of them finer than usual where one that is past its limit would read as kept,
    or one that is kept as past it."""
    pairs = [(one.likely, one.limit, one.over)]
    if worst:
        pairs.append((one.at_worst, one.limit_at_worst, one.worst_margin < 0))
    least = places_for((one.limit, one.quantity, one.limit_role), system, slack=one.slack)
    for finer in range(least, FINEST + 1):
        show = partial(_limited, one, system, finer)
        if all(_reads_right(one, show, *pair) for pair in pairs):
            break
    limit = show(one.limit, limit=True)
    at_worst = show(one.limit_at_worst, limit=True)
    told = _("at least {value}", value=limit) if one.at_least else limit
    if worst and one.worst_limit is not None and at_worst != limit:
        told += _(" (worst {value})", value=at_worst)
    return show(one.likely), show(one.at_worst), told


def _reads_right(one: Margin, show: Callable[..., str], value: float, limit: float, is_over: bool) -> bool:
    """Whether a figure reads as past its limit where it is, and as kept where it is that without any slack."""
    sign = -1 if one.at_least else 1
    by = sign * (_read(show(value)) - _read(show(limit, limit=True)))
    return by > 0 if is_over else by <= 0 or sign * (value - limit) > 0


def _read(text: str) -> float:
    return float(text.split()[0].replace(localized("."), "."))


def _limited(one: Margin, system: units.System, finer: int, value: float, *, limit: bool = False) -> str:
    """A figure of a margin, or its limit, with so many more places than usual."""
    role, slack = (one.limit_role, one.slack) if limit else (one.role, 1.0)
    if one.quantity != "count":
        return fine_enough(value, one.quantity, role, system, finer, slack)
    if one.code == "slope":
        return localized(f"{on_step(100 * value, role, 10.0**-finer, slack):.{finer}f} %")
    return localized(f"{on_step(value, role, 10.0 ** -(1 + finer), slack):.{1 + finer}f}".rstrip("0").rstrip("."))


def coils_text(setting: Setting) -> str:
    """The coils that stay on the drum; too few never read as enough."""
    too_few = next((one for one in setting.limits if one.code == "coils" and one.over), None)
    return localized(f"{setting.coils_left:.1f}") if too_few is None else limit_text(too_few, "metric")[0]


def _shown(system: units.System, value: float | None, quantity: units.Quantity, role: str = "") -> str:
    return _("not known") if value is None else units.show(value, quantity, system, role=role)


def sheet_lines(setting: Setting, system: units.System) -> Iterator[tuple[str, str]]:
    """The settings sheet as labels and values, what is to be set first."""

    show = partial(_shown, system)

    yield _("travel speed"), show(setting.speed, "speed")
    yield _("depth"), _along(setting.depth, [one.depth for one in setting.likely], "length", "depth", system)
    yield _("flow"), _along(setting.flow, [one.flow for one in setting.pressures], "flow", "", system)
    yield _("run time"), show(setting.run_time, "duration")
    if setting.finish is not None:
        yield _("finish"), f"{setting.finish:%Y-%m-%d %H:%M}"
    left = _("not known")
    if setting.coils_left is not None:
        layers = plural("{n} layer", "{n} layers", setting.layers_left or 0)
        metres = show(setting.metres_left, "length")
        left = _("{coils} coils in {layers}, {metres}", coils=coils_text(setting), layers=layers, metres=metres)
    yield _("left on the drum"), left
    if setting.spread is not None:
        yield _("speed spread"), _(
            "{percent:.0f} % ({bare:.0f} % by the drum alone)",
            percent=100 * setting.spread.left, bare=100 * setting.spread.bare,
        )  # fmt: skip
    yield from _by_layer(setting, system)
    for place in setting.pressures:
        yield _("pressure, {where}", where=_(place.where)), _pressures(place, system)
    if setting.drag is not None:
        cart = "" if setting.cart_pull is None else _(" and cart {pull}", pull=show(setting.cart_pull, "force"))
        bears = _("not known")
        if setting.allowable_pull is not None:
            bears = no_more_than(setting.allowable_pull, "force", system)
        told = _("hose {pull}{cart}; the wall bears {bears}", pull=show(setting.drag, "force"), cart=cart, bears=bears)
        yield _("pull"), told
    if setting.strain is not None:
        yield _("strain of the hose"), _strains(setting)
    yield from _of_the_water(setting, system)


def _of_the_water(setting: Setting, system: units.System) -> Iterator[tuple[str, str]]:
    """How the water is thrown, what of it arrives, and what it takes."""

    show = partial(_shown, system)

    if setting.widest is not None:
        throw = _along(setting.radius, [one.throw for one in setting.likely], "length", "", system)
        most = no_more_than(setting.widest.tapered, "length", system)
        yield _("throw"), _("{throw}; lanes {spacing} apart at most", throw=throw, spacing=most)
    if setting.rate is not None:
        yield _("rate"), _along(setting.rate, [one.rate for one in setting.likely], "speed", "rate", system)
    if setting.net is not None:
        low, high = show(setting.net.low, "length", "depth"), show(setting.net.high, "length", "depth")
        yield _("net depth"), _(
            "{depth} ({low} to {high}: what is lost is uncertain)",
            depth=show(setting.net.likely, "length", "depth"), low=low, high=high,
        )  # fmt: skip
    if setting.area is not None:
        yield _("area and water"), f"{show(setting.area, 'area')}, {show(setting.water_used, 'volume')}"
    if setting.energy is not None:
        yield _("energy"), _("{kwh:.0f} kWh, for the pressure at the inlet", kwh=setting.energy / units.KWH)


def _along(
    value: float | None, values: Sequence[float | None], quantity: units.Quantity, role: str, system: units.System
) -> str:
    """A figure, and from and to of it along the lane where it does not read the same all the way."""
    told = _shown(system, value, quantity, role)
    known = [one for one in values if one is not None]
    if value is None or not known:
        return told
    low, high = (_shown(system, one, quantity, role) for one in (min(known), max(known)))
    return told if low == high else _("{value} ({low} to {high} along the lane)", value=told, low=low, high=high)


def _strains(setting: Setting) -> str:
    """How far the outermost fibre is stretched: bent on the drum, bent in a curve, and pulled; the most of it."""
    bent = max(setting.strain or 0.0, setting.curve_strain or 0.0)
    told = _("bent on the drum {percent:.1f} %", percent=100 * (setting.strain or 0.0))
    if setting.curve_strain:
        told += _(", in the curve {percent:.1f} %", percent=100 * setting.curve_strain)
    if setting.pulled_strain is None:
        return told
    pulled, most = 100 * setting.pulled_strain, 100 * (bent + setting.pulled_strain)
    return told + _(", pulled {percent:.1f} %: {most:.1f} % at most", percent=pulled, most=most)


def _by_layer(setting: Setting, system: units.System) -> Iterator[tuple[str, str]]:
    """What to set when, where nothing compensates for the layers; and what comes of it if nobody does."""
    if setting.left_alone is None or setting.run_time is None or len(setting.layers) < 2:
        return
    for one in setting.layers:
        if one.speed is not None:
            speed, left = units.show(one.speed, "speed", system), units.show(one.begins, "length", system)
            yield _("set in layer {layer}", layer=one.layer), _("{speed}, from {left} out", speed=speed, left=left)
    alone, part = units.show(setting.left_alone, "duration", system), setting.left_alone / setting.run_time
    yield (
        _("left as set first"),
        _("done after {time}, with {percent:.0f} % of the water", time=alone, percent=100 * part),
    )


def _pressures(place: Pressures, system: units.System) -> str:
    inlet, at_gun = (units.show(one, "pressure", system) for one in (place.inlet, place.gun))
    hose = units.show(place.hose_loss, "pressure", system, role="drive loss")
    low, high = (
        units.show(place.straight_loss + one, "pressure", system, role="drive loss") for one in place.coils_span
    )
    span = _(" ({low} to {high}: what coils lose is uncertain)", low=low, high=high) if low != high else ""
    return _("inlet {inlet}, hose takes {hose}{span}, gun {gun}", inlet=inlet, hose=hose, span=span, gun=at_gun)
