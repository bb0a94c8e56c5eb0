"""`measure`: figures of a machine's own, from readings on it: drum, gun, and catch cans across a lane."""

from __future__ import annotations

import argparse
import math
import re
from collections.abc import Callable, Mapping
from typing import Any

from reelcare.cli import common
from reelcare.cli.problem import Problem
from reelcare.cli.table import TextColumn
from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.hydraulics import drum as drums
from reelcare.core.hydraulics import gun as guns
from reelcare.core.hydraulics.uniformity import CatchError, Transect, best_spacing, overlap
from reelcare.core.machine.card import Card
from reelcare.core.settings import measured_gun as measured
from reelcare.core.text import _, localized, mark, typed_figure
from reelcare.register.acts import sets

Found = tuple[dict[str, float], list[tuple[str, str]]]
"""Figures to keep, in SI, and lines to tell."""


def drum(asked: argparse.Namespace) -> int:
    """Core and packing of the drum, from metres against turns."""

    def work(card: Card, system: units.System) -> Found:
        if card.hose.outside is None or card.drum.coils_per_layer is None:
            raise Problem(_("the card needs hose.outside and drum.coils_per_layer for that"))
        readings = [_turns(text) for text in asked.turns]
        most = max(metres for _count, metres in readings)
        if card.hose.length is not None and most > card.hose.length + drums.HAIR:
            raise Problem(_("{most} are more than the hose of the card ({length}): measure again, or put the card "
                            "right", most=units.show(most, "length", system),
                            length=units.show(card.hose.length, "length", system)))  # fmt: skip
        found = drums.fit(readings, card.hose.outside, card.drum.coils_per_layer)
        size = units.show(found.core_diameter, "length", system, role="diameter")
        core = _("{core}, give or take {core_error:.0f} mm", core=size, core_error=found.core_error * 1000)
        told = mark("{packing:.3f}, give or take {packing_error:.3f}")
        packing = _(told, packing=found.packing, packing_error=found.packing_error)
        return (
            {"core_diameter": found.core_diameter, "packing": found.packing},
            [
                (_("core of the drum"), core),
                (_("packing"), packing),
                (_("readings scatter by"), units.write(found.scatter, "m", 0.01)),
            ],
        )

    return _measure(asked, "drum", work)


def _turns(text: str) -> tuple[float, float]:
    turns, mark, metres = (typed_figure(one) for one in text.partition("="))
    if not mark:
        raise Problem(_("{text!r}: give turns on the drum and the hose in them, as in `24=138 m`", text=text))
    return units.number(turns), units.read(metres, "length")


def gun(asked: argparse.Namespace) -> int:
    """The gun's discharge coefficient, from its own flow and pressure."""

    def work(card: Card, system: units.System) -> Found:
        bore = units.read(typed_figure(asked.nozzle), "length") if asked.nozzle else card.cart.nozzle
        if bore is None:
            raise Problem(_("nozzle: the card is silent; say --nozzle 24mm"))
        pairs = [_pair(text) for text in asked.reading]
        fitted, error = guns.discharge_from(pairs, bore)
        least, most = guns.DISCHARGES
        if not least <= fitted <= most:
            says = mark(
                "a discharge coefficient of {fitted:.3f} cannot be right; it must be between {least:.2f} and "
                "{most:.2f}: look at flow, pressure and bore"
            )
            raise Problem(_(says, fitted=fitted, least=least, most=most))
        told = localized(f"{fitted:.3f}") + (
            _(", give or take {error:.3f}", error=error) if math.isfinite(error) else _(", from one reading")
        )
        return {"discharge": fitted}, [(_("discharge coefficient"), told)]

    return _measure(asked, "gun", work)


def _pair(text: str) -> tuple[float, float]:
    flow, mark, pressure = (typed_figure(one) for one in text.partition("@"))
    if not mark:
        raise Problem(_("{text!r}: give flow and pressure, as in `43 m3/h @ 4.5 bar`", text=text))
    return units.read(flow, "flow"), units.read(pressure, "pressure")


def cans(asked: argparse.Namespace) -> int:
    """How even the water falls, from catch cans across one lane."""

    def work(card: Card, system: units.System) -> Found:
        step = units.read(typed_figure(asked.step), "length")
        first = units.read(typed_figure(asked.first), "length") if asked.first else step / 2
        transect = Transect(_catches(asked.left), _catches(asked.right), first, step)
        even = overlap(transect, units.read(typed_figure(asked.spacing), "length"))
        best = best_spacing(transect)
        apart, most_even = (units.show(one.spacing, "length", system) for one in (even, best))
        lanes = _("{spacing} apart, {catches} cans in one lane", spacing=apart, catches=len(even.catches))
        figures = {
            "coefficient": 100 * even.coefficient, "low_quarter": 100 * even.low, "spacing": even.spacing,
            "best_spacing": best.spacing,
        }  # fmt: skip
        return figures, [
            (_("lanes"), lanes),
            (_("uniformity (Christiansen)"), localized(f"{100 * even.coefficient:.1f} %")),
            (_("low quarter"), _("{low:.1f} % (the smallest fourth of the catches)", low=100 * even.low)),
            (_("most even spacing"), most_even + localized(f", {100 * best.coefficient:.1f} %")),
        ]

    return _measure(asked, "cans", work)


def _catches(text: str) -> tuple[float, ...]:
    """Figures that spaces or semicolons part, or commas alone where no comma is a decimal sign."""
    apart = re.split(r"[\s;]+|,(?=\s)", text.strip())
    if len(apart) == 1 and typed_figure(text) == text:
        apart = text.split(",")
    return tuple(units.number(typed_figure(one)) for one in apart if one)


def figures(asked: argparse.Namespace) -> int:
    """What was measured on a machine so far."""
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        found = sets.figures_of(register, register.machine_id(asked.tag), at if past else None)
        zone = register.zone
    if asked.json:
        common.print_json([
            {"figure": name, "value": one.value, "measured": one.at.isoformat(), "about": one.about}
            for name, one in found.items()
        ])  # fmt: skip
    else:
        common.print_table(
            (mark("figure"), mark("value"), TextColumn(mark("measured"), 2)),
            [
                (*measured.tell(name, one, common.system(asked)), f"{one.at.astimezone(zone):%Y-%m-%d}, {one.about}")
                for name, one in found.items()
            ],
            empty=_("nothing was measured yet; `reelcare measure --help` shows what can be"),
        )
    return 0


def _measure(asked: argparse.Namespace, about: str, work: Callable[[Card, units.System], Found]) -> int:
    system = common.system(asked)
    with common.open_register(asked) as register:
        machine = register.machine_id(asked.tag)
        try:
            found, told = work(register.card(machine), system)
        except (units.UnitsError, CatchError, drums.DrumError, ValueError) as why:
            raise Problem(f"{about}: {why}") from None
        if asked.keep:
            what = e.Measured(about=about, figures=_plain(found), note=asked.note)
            common.add(asked, register, what, machine)
    if asked.json:
        common.print_json(_plain(found))
    else:
        for label, value in told:
            common.print_text(f"  {label:<28}{value}")
        if asked.keep:
            common.say(_("kept on the machine"))
    return 0


def _plain(found: Mapping[str, float]) -> dict[str, Any]:
    return {name: round(value, 6) for name, value in found.items()}
