"""`set-up`: the settings sheet of one set, and the plan of the day."""

from __future__ import annotations

import argparse
from typing import Any

from reelcare.cli import common
from reelcare.cli.problem import Problem
from reelcare.core import units
from reelcare.core.hydraulics.lane import Pressures
from reelcare.core.settings import set_parser as wishing
from reelcare.core.settings.fields import ASSUMPTIONS, FIELDS
from reelcare.core.settings.set_request import WishError
from reelcare.core.settings.setting import work_out
from reelcare.core.settings.settings_sheet import Setting
from reelcare.core.settings.sheet_words import figure_text, limit_text, percent_text, sheet_lines, verdict
from reelcare.core.settings.warning_codes import CODES
from reelcare.core.text import _, mark
from reelcare.register.acts import sets
from reelcare.register.sheets import FileError


def set_up(asked: argparse.Namespace) -> int:
    """Work a set out; with --keep, walk-rounds are held to it."""
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        machine = register.machine_id(asked.tag)
        given = ((one, getattr(asked, one.key)) for one in FIELDS)
        texts = {one.key: one.as_kept(text) for one, text in given if text is not None}
        for one in FIELDS:
            if not texts.get(one.key, one.example).strip():
                says = mark("{label}: empty; say it as in {example}, or leave the option out")
                raise Problem(_(says, label=_(one.label), example=one.example))
        try:
            basis = sets.basis(register, machine, at if past else None)
            wishes = wishing.read_wishes(
                texts, register.zone, bends=tuple(asked.curve), timing_check=asked.timing_check
            )
            setting = work_out(basis.card, wishes, basis.limits)
        except (WishError, FileError) as why:
            raise Problem(str(why)) from None
        system, wrong = common.system(asked), setting.cannot_be
        if asked.keep and wrong is None:
            now = common.now()
            sets.plan(
                register, machine, setting, texts, basis.limits, by=common.by(asked), now=now,
                happened=common.happened(asked, register, now),
            )  # fmt: skip
    if asked.json:
        common.print_json(as_json(setting, system))
    else:
        _print(setting, system, asked.tag)
        if asked.keep and wrong is None:
            common.say(_("kept: walk-rounds are judged by this set until the next one, the road, or three days"))
    if asked.keep and wrong is not None:
        raise Problem(_("not kept, {code}: {text}", code=wrong.code, text=wrong.text(system)))
    return 1 if asked.exit_code and setting.warnings else 0


def as_json(setting: Setting, system: units.System = "metric") -> dict[str, Any]:
    """The settings sheet for other programs; null is 'not known', and `unknown` says what it would need."""
    place = setting.at_pull_out
    spread = setting.spread
    return {
        "flow_m3_h": _scaled(setting.flow, 3600),
        "travel_speed_m_h": _scaled(setting.speed, 3600),
        "depth_mm": _scaled(setting.depth, 1000),
        "run_time_h": _scaled(setting.run_time, 1 / 3600),
        "finish": setting.finish.isoformat() if setting.finish is not None else None,
        "metres_left": _scaled(setting.metres_left, 1),
        "coils_left": _scaled(setting.coils_left, 1),
        "layers_left": setting.layers_left,
        "speed_spread_percent": None if spread is None else _scaled(spread.left, 100),
        "speed_spread_without_compensation_percent": None if spread is None else _scaled(spread.bare, 100),
        "pressure": _pressure_json(place, setting.hose_loss),
        "pressures": [{"where": one.where, **_pressure_json(one, None)} for one in setting.pressures],
        "pull": {
            "drag_n": _scaled(setting.drag, 1),
            "cart_n": _scaled(setting.cart_pull, 1),
            "allowable_n": _scaled(setting.allowable_pull, 1),
            "ground_friction_to": _scaled(setting.friction_to, 1),
        },
        "area_ha": _scaled(setting.area, 1e-4),
        "water_m3": _scaled(setting.water_used, 1),
        "wetted_radius_m": _scaled(setting.radius, 1),
        "widest_spacing_m": None if setting.widest is None else _scaled(setting.widest.tapered, 1),
        "rate_mm_h": _scaled(setting.rate, 3.6e6),
        "bending_strain_percent": _scaled(setting.strain, 100),
        "hose_rated_kpa": _scaled(setting.rated_pressure, 1e-3),
        **_places_json(setting),
        **_verdict_json(setting),
        "net_depth_mm": None
        if setting.net is None
        else {name: _scaled(getattr(setting.net, name), 1000) for name in ("low", "likely", "high")},
        "layers": [
            {
                "layer": one.layer,
                "from_m": _scaled(one.begins, 1),
                "to_m": _scaled(one.ends, 1),
                "set_speed_m_h": _scaled(one.speed, 3600),
                "minutes": _scaled(one.time, 1 / 60),
            }
            for one in setting.layers
        ],
        "run_time_without_setting_h": _scaled(setting.left_alone, 1 / 3600),
        "energy_kwh": _scaled(setting.energy, 1 / units.KWH),
        "curve_strain_percent": _scaled(setting.curve_strain, 100),
        "pulled_strain_percent": _scaled(setting.pulled_strain, 100),
        "assumed": {
            ASSUMPTIONS[one.key].json: _scaled(one.value, 1 / ASSUMPTIONS[one.key].unit) for one in setting.taken
        },
        "unknown": [{"what": one.what, "needs": one.needs} for one in setting.unknown],
        "taken": [
            {"what": one.what, "value": figure_text(one.figure, system), "source": one.source} for one in setting.taken
        ],
        "warnings": [{"code": one.code, "text": one.text(system)} for one in setting.warnings],
    }


def _places_json(setting: Setting) -> dict[str, Any]:
    """The three places, likely and worst."""
    forms = {"gun": ("gun_kpa", 1e-3), "inlet": ("inlet_kpa", 1e-3), "hose": ("hose_kpa", 1e-3), "pull": ("pull_n", 1),
             "wall": ("wall_n", 1), "speed": ("speed_m_h", 3600), "depth": ("depth_mm", 1000),
             "throw": ("throw_m", 1), "rate": ("rate_mm_h", 3.6e6)}  # fmt: skip
    return {
        name: {
            one.where.replace("-", "_"): {key: _scaled(getattr(one, of), scale) for of, (key, scale) in forms.items()}
            for one in getattr(setting, name)
        }
        for name in ("likely", "worst")
    }


def _verdict_json(setting: Setting) -> dict[str, Any]:
    """Whether it holds, by what, and every limit; figures in SI, null where nothing can be judged."""
    decides, worst = setting.deciding, setting.deciding_worst
    return {
        "holds": setting.holds,
        "decides": None if decides is None else decides.code,
        "margin_percent": None if decides is None else _scaled(decides.margin, 1),
        "worst_margin_percent": None if worst is None else _scaled(worst.worst_margin, 1),
        "limits": [
            {
                "code": one.code, "likely": _digits(one.likely),
                "worst": _digits(one.likely if one.worst is None else one.worst), "limit": _digits(one.limit),
                "worst_limit": _digits(one.limit if one.worst_limit is None else one.worst_limit),
                "percent": _scaled(one.percent, 1), "worst_percent": _scaled(one.worst_percent, 1),
                "where": one.where, "decides": one.decides,
            }
            for one in setting.limits
        ],
    }  # fmt: skip


def _pressure_json(place: Pressures | None, hose_loss: float | None) -> dict[str, Any]:
    if place is None:
        empty = dict.fromkeys(("inlet_kpa", "drive_loss_kpa", "hose_loss_kpa", "rise_kpa", "gun_kpa"))
        return empty | {"hose_loss_kpa": _scaled(hose_loss, 1e-3), "coil_part_kpa": None, "flow_m3_h": None}
    return {
        "inlet_kpa": _scaled(place.inlet, 1e-3),
        "drive_loss_kpa": _scaled(place.drive_loss, 1e-3),
        "hose_loss_kpa": _scaled(place.hose_loss, 1e-3),
        "rise_kpa": _scaled(place.lift, 1e-3),
        "gun_kpa": _scaled(place.gun, 1e-3),
        "coil_part_kpa": [_scaled(one, 1e-3) for one in (place.coils_span[0], place.coil_loss, place.coils_span[1])],
        "flow_m3_h": _scaled(place.flow, 3600),
    }


def _scaled(value: float | None, scale: float) -> float | None:
    return None if value is None else round(value * scale, 6)


def _digits(value: float) -> float:
    """A figure in SI with nine digits that count: a rate of rain is a few millionths of a metre per second."""
    return float(f"{value:.9g}")


def _print(setting: Setting, system: units.System, tag: str) -> None:
    common.print_text(_("Set of {tag}. The machine's own manual and local codes come first.", tag=tag))
    common.print_text(f"  {verdict(setting)}")
    known = list(sheet_lines(setting, system))
    wide = max((20, *(len(label) + 1 for label, _value in known)))
    for label, value in known:
        common.print_text(f"  {label:<{wide}}{value}")
    for warned in setting.warnings:
        common.print_text(f"  ! {warned.code}: {warned.text(system)}")
    for one in setting.unknown:
        common.print_text("  ? " + _("{what}: needs {needs}", what=_(one.what), needs=one.needs))
    _print_limits(setting, system)
    if setting.taken:
        common.print_text("  " + _("taken, since nothing else is said:"))
        for taken in setting.taken:
            common.print_text(f"    {taken.what}: {figure_text(taken.figure, system)} ({taken.source})")


def _print_limits(setting: Setting, system: units.System) -> None:
    """Every limit in percent of it, the tightest first."""
    if not setting.limits:
        return
    common.print_text("  " + _("limits, in percent of each: likely, worst"))
    for one in sorted(setting.limits, key=lambda one: one.margin):
        likely, worst, limit = limit_text(one, system)
        also = "" if worst == likely else _(", worst {worst}", worst=worst)
        percents = f"{percent_text(one.percent):>6}{percent_text(one.worst_percent):>7}"
        told = _("{likely}, limit {limit}", likely=likely + also, limit=limit)
        only = "" if one.decides else " " + _("(warning only)")
        common.print_text(f"    {_(CODES[one.code].label):<24}{percents}  {told}{only}")
