"""A settings sheet in words: what is to be set first, then what comes of it, in the person's units."""

from __future__ import annotations

from collections.abc import Iterator

from reelcare.core import units
from reelcare.core.settings.settings_sheet import Pressures, Setting


def figure_text(figure: tuple[float, units.Quantity, str], system: units.System) -> str:
    """A figure that was taken, as a person reads it."""
    value, quantity, role = figure
    if quantity == "count":
        return f"{value:g}" + (" %" if role == "percent" else "")
    if role == "strength":
        return units.write(value, "MPa" if system == "metric" else "psi")
    return units.show(value, quantity, system, role=role)


def sheet_lines(setting: Setting, system: units.System) -> Iterator[tuple[str, str]]:
    """The settings sheet as labels and values, what is to be set first."""

    def show(value: float | None, quantity: units.Quantity, role: str = "") -> str:
        return "not known" if value is None else units.show(value, quantity, system, role=role)

    yield "travel speed", show(setting.speed, "speed")
    yield "depth", show(setting.depth, "length", "depth")
    yield "flow", show(setting.flow, "flow")
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
    for place in setting.pressures:
        yield f"pressure, {place.where}", _pressures(place, system)
    if setting.drag is not None:
        cart = "" if setting.cart_pull is None else f" and cart {show(setting.cart_pull, 'force')}"
        yield (
            "pull",
            f"hose {show(setting.drag, 'force')}{cart}; the wall bears {show(setting.allowable_pull, 'force')}",
        )
    if setting.widest is not None:
        yield "throw", f"{show(setting.radius, 'length')}; lanes {show(setting.widest.tapered, 'length')} apart at most"
    if setting.rate is not None:
        yield "rate", show(setting.rate, "speed", "rate")
    if setting.area is not None:
        yield "area and water", f"{show(setting.area, 'area')}, {show(setting.water_used, 'volume')}"


def _pressures(place: Pressures, system: units.System) -> str:
    inlet, at_gun = (units.show(one, "pressure", system) for one in (place.inlet, place.gun))
    hose = units.show(place.hose_loss, "pressure", system, role="drive loss")
    low, high = (
        units.show(place.straight_loss + one, "pressure", system, role="drive loss") for one in place.coils_span
    )
    span = f" ({low} to {high}: what coils lose is uncertain)" if low != high else ""
    return f"inlet {inlet}, hose takes {hose}{span}, gun {at_gun}"
