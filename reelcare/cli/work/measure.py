"""`measure`: figures of a machine's own, from readings on it: drum, gun, and catch cans across a lane."""

from __future__ import annotations

import argparse
from collections.abc import Callable

from reelcare.cli import common
from reelcare.cli.problem import Problem
from reelcare.cli.table import TextColumn
from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.machine import measuring
from reelcare.core.machine.card import Card
from reelcare.core.machine.measuring import Findings
from reelcare.core.settings import measured_gun as measured
from reelcare.core.text import _, mark, typed_figure
from reelcare.register.acts import sets


def drum(asked: argparse.Namespace) -> int:
    """Core and packing of the drum, from metres against turns."""
    return _measure(asked, "drum", lambda card, system: measuring.drum(card, asked.turns, system))


def gun(asked: argparse.Namespace) -> int:
    """The gun's discharge coefficient, from its own flow and pressure."""

    def work(card: Card, system: units.System) -> Findings:
        if not asked.nozzle and card.cart.nozzle is None:
            raise Problem(_("nozzle: not on the card; give --nozzle 24mm"))
        return measuring.gun(card, asked.reading, _length(asked.nozzle) if asked.nozzle else None)

    return _measure(asked, "gun", work)


def cans(asked: argparse.Namespace) -> int:
    """How even the water falls, from catch cans across one lane."""

    def work(card: Card, system: units.System) -> Findings:
        step, spacing = _length(asked.step), _length(asked.spacing)
        first = _length(asked.first) if asked.first else None
        return measuring.cans(asked.left, asked.right, step, spacing, system, first)

    return _measure(asked, "cans", work)


def _length(text: str) -> float:
    return units.read(typed_figure(text), "length")


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


def _measure(asked: argparse.Namespace, about: str, work: Callable[[Card, units.System], Findings]) -> int:
    system = common.system(asked)
    with common.open_register(asked) as register:
        machine = register.machine_id(asked.tag)
        try:
            found = work(register.card(machine), system)
        except measuring.MeasuringError as why:
            raise Problem(str(why)) from None
        except ValueError as why:
            raise Problem(f"{about}: {why}") from None
        figures = measuring.plain(found.figures)
        if asked.keep:
            common.add(asked, register, e.Measured(about=about, figures=figures, note=asked.note), machine)
    if asked.json:
        common.print_json(figures)
    else:
        for label, value in found.told:
            common.print_text(f"  {label:<28}{value}")
        if asked.keep:
            common.say(_("kept on the machine"))
    return 0
