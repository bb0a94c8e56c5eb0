"""A settings sheet in words: what is to be set first, then what comes of it, in the person's units."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from reelcare.core import units
from reelcare.core.settings.settings_sheet import Pressures, Setting
from reelcare.core.settings.warning_codes import LABELS, WORST_WHEN, Margin
from reelcare.core.text import _, mark


def figure_text(figure: tuple[float, units.Quantity, str], system: units.System) -> str:
    """A figure that was taken, as a person reads it."""
    value, quantity, role = figure
    if quantity == "count":
        return f"{value:g}" + (" %" if role in ("percent", "whole percent") else "")
    if role == "strength":
        return units.write(value, "MPa" if system == "metric" else "psi")
    if role == "roughness":
        return units.write(value, "mm" if system == "metric" else "in")
    return units.show(value, quantity, system, role=role)


def verdict(setting: Setting) -> str:
    """Whether a set holds, as is likely; and what is over at the unsafe end of what is not known, in one line."""
    decides, worst = setting.deciding, setting.deciding_worst
    if decides is None or worst is None:
        return _("nothing to judge: the card is silent")
    if decides.over:
        told = _("does not hold: {what}", what=_past(decides, worst=False))
    else:
        spare = math.floor(decides.margin)
        told = _("holds, {percent} % to spare ({what})", percent=spare, what=_(LABELS[decides.code]))
    if worst.worst_margin < 0 <= worst.margin or (decides.over and worst.worst_margin < decides.margin):
        told += _("; worst: {what}", what=_past(worst, worst=True))
        if worst.code in WORST_WHEN:
            told += ", " + _(WORST_WHEN[worst.code])
    missing = [one.what for one in setting.unknown if one.what in JUDGED]
    return told + (_("; not judged: {what}", what=", ".join(missing)) if missing else "")


JUDGED = ("pressures", "pull on the hose", "coils left", "metres left", "loss of the hose", "flow", "pull of the cart")
"""What is not known and would be judged."""


def _past(one: Margin, *, worst: bool) -> str:
    """What is past its limit, by how many percent (never told as none), and where."""
    where = one.worst_where if worst else one.where
    label, place = _(LABELS[one.code]), _(PLACES[where]) if where in PLACES else ""
    if one.at_least:
        short = math.ceil(100 - 1e4 / (one.worst_percent if worst else one.percent))
        return _("{what} {percent} % short{place}", what=label, percent=short, place=place)
    over = math.ceil(-(one.worst_margin if worst else one.margin))
    return _("{what} {percent} % over{place}", what=label, percent=over, place=place)


PLACES: dict[str, str] = {
    "pull-out": mark(" at pull-out"), "half-way": mark(" half-way"), "home": mark(" at home"),
    "gun blocked": mark(", gun blocked"),
}  # fmt: skip
"""Where a figure is past its limit, as it follows on that."""


def percent_text(percent: float) -> str:
    """Percent of a limit, never read as within it where it is past, nor as past it where it is within.

    >>> percent_text(99.7), percent_text(100.2), percent_text(100)
    ('99 %', '101 %', '100 %')
    """
    return f"{math.ceil(percent - 1e-9) if percent > 100 + 1e-9 else math.floor(percent + 1e-9)} %"


def limit_text(one: Margin, system: units.System, *, worst: bool = True) -> tuple[str, str, str]:
    """A limited figure: what it likely is, its worst, and its limit, with that of its worst, as a person reads them."""

    def show(value: float) -> str:
        if one.quantity == "count":
            return f"{100 * value:.0f} %" if one.code == "slope" else f"{value:.1f}".removesuffix(".0")
        return units.show(value, one.quantity, system, role=one.role)

    limit = ("at least " if one.at_least else "") + show(one.limit)
    if worst and one.worst_limit is not None and show(one.worst_limit) != show(one.limit):
        limit += f" (worst {show(one.worst_limit)})"
    return show(one.likely), show(one.likely if one.worst is None else one.worst), limit


def sheet_lines(setting: Setting, system: units.System) -> Iterator[tuple[str, str]]:
    """The settings sheet as labels and values, what is to be set first."""

    def show(value: float | None, quantity: units.Quantity, role: str = "") -> str:
        return "not known" if value is None else units.show(value, quantity, system, role=role)

    yield "travel speed", show(setting.speed, "speed")
    yield "depth", _along(setting.depth, [one.depth for one in setting.likely], "length", "depth", system)
    yield "flow", _along(setting.flow, [one.flow for one in setting.pressures], "flow", "", system)
    yield "run time", show(setting.run_time, "duration")
    if setting.finish is not None:
        yield "finish", f"{setting.finish:%Y-%m-%d %H:%M}"
    left = "not known"
    if setting.coils_left is not None:
        layers = "1 layer" if setting.layers_left == 1 else f"{setting.layers_left} layers"
        left = f"{setting.coils_left:.1f} coils in {layers}, {show(setting.metres_left, 'length')}"
    yield "left on the drum", left
    if setting.spread is not None:
        yield "speed spread", f"{100 * setting.spread.left:.0f} % ({100 * setting.spread.bare:.0f} % by the drum alone)"
    yield from _by_layer(setting, system)
    for place in setting.pressures:
        yield f"pressure, {place.where}", _pressures(place, system)
    if setting.drag is not None:
        cart = "" if setting.cart_pull is None else f" and cart {show(setting.cart_pull, 'force')}"
        yield (
            "pull",
            f"hose {show(setting.drag, 'force')}{cart}; the wall bears {show(setting.allowable_pull, 'force')}",
        )
    if setting.strain is not None:
        yield "strain of the hose", _strains(setting)
    yield from _of_the_water(setting, system)


def _of_the_water(setting: Setting, system: units.System) -> Iterator[tuple[str, str]]:
    """How the water is thrown, what of it arrives, and what it takes."""

    def show(value: float | None, quantity: units.Quantity, role: str = "") -> str:
        return "not known" if value is None else units.show(value, quantity, system, role=role)

    if setting.widest is not None:
        throw = _along(setting.radius, [one.throw for one in setting.likely], "length", "", system)
        yield "throw", f"{throw}; lanes {show(setting.widest.tapered, 'length')} apart at most"
    if setting.rate is not None:
        yield "rate", _along(setting.rate, [one.rate for one in setting.likely], "speed", "rate", system)
    if setting.net is not None:
        low, high = show(setting.net.low, "length", "depth"), show(setting.net.high, "length", "depth")
        yield "net depth", f"{show(setting.net.likely, 'length', 'depth')} ({low} to {high}: what is lost is uncertain)"
    if setting.area is not None:
        yield "area and water", f"{show(setting.area, 'area')}, {show(setting.water_used, 'volume')}"
    if setting.energy is not None:
        yield "energy", f"{setting.energy / KWH:.0f} kWh, for the pressure at the inlet"


def _along(
    value: float | None, values: Sequence[float | None], quantity: units.Quantity, role: str, system: units.System
) -> str:
    """A figure, and from and to of it along the lane where it does not read the same all the way."""
    if value is None:
        return "not known"
    told = units.show(value, quantity, system, role=role)
    known = [one for one in values if one is not None]
    if not known:
        return told
    low, high = (units.show(one, quantity, system, role=role) for one in (min(known), max(known)))
    return told if low == high else f"{told} ({low} to {high} along the lane)"


def _strains(setting: Setting) -> str:
    """How far the outermost fibre is stretched: bent on the drum, bent in a curve, and pulled; the most of it."""
    bent = max(setting.strain or 0.0, setting.curve_strain or 0.0)
    told = f"bent on the drum {100 * (setting.strain or 0.0):.1f} %"
    if setting.curve_strain:
        told += f", in the curve {100 * setting.curve_strain:.1f} %"
    if setting.pulled_strain is None:
        return told
    return f"{told}, pulled {100 * setting.pulled_strain:.1f} %: {100 * (bent + setting.pulled_strain):.1f} % at most"


KWH = 3.6e6
"""Joules in a kilowatt hour."""


def _by_layer(setting: Setting, system: units.System) -> Iterator[tuple[str, str]]:
    """What to set when, where nothing compensates for the layers; and what comes of it if nobody does."""
    if setting.left_alone is None or setting.run_time is None or len(setting.layers) < 2:
        return
    for one in setting.layers:
        if one.speed is not None:
            speed, left = units.show(one.speed, "speed", system), units.show(one.begins, "length", system)
            yield f"set in layer {one.layer}", f"{speed}, from {left} out"
    alone, part = units.show(setting.left_alone, "duration", system), setting.left_alone / setting.run_time
    yield "left as set first", f"done after {alone}, with {100 * part:.0f} % of the water"


def _pressures(place: Pressures, system: units.System) -> str:
    inlet, at_gun = (units.show(one, "pressure", system) for one in (place.inlet, place.gun))
    hose = units.show(place.hose_loss, "pressure", system, role="drive loss")
    low, high = (
        units.show(place.straight_loss + one, "pressure", system, role="drive loss") for one in place.coils_span
    )
    span = f" ({low} to {high}: what coils lose is uncertain)" if low != high else ""
    return f"inlet {inlet}, hose takes {hose}{span}, gun {at_gun}"
