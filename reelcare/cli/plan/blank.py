"""`report blank`: a check on paper, to be filled in at the machine."""

from __future__ import annotations

import argparse
from datetime import datetime

from reelcare.cli import common
from reelcare.cli.plan.report import PAGES, file_asked, printing
from reelcare.cli.problem import Problem
from reelcare.core import units
from reelcare.core.checks.judged_by import judged_by
from reelcare.core.checks.sheet import for_machine
from reelcare.core.checks.verdict import Walk
from reelcare.core.text import _
from reelcare.register import sheets
from reelcare.register.acts import sets
from reelcare.register.acts.signing import holds_of
from reelcare.register.reading import yard
from reelcare.register.writing.writer import Writer
from reelcare.reports import blank as blanks


def blank(asked: argparse.Namespace) -> int:
    """The pre-start of a machine (or another sheet) with boxes to tick, on paper."""
    path, sheet = file_asked(asked, PAGES), sheets.load().named(asked.sheet)
    with printing(asked, path) as made:
        register, now, system = made.register, made.now, common.system(asked)
        id = register.machine_id(asked.tag)
        card = register.card(id)
        if not sheet.fits(card):
            raise Problem(
                _("{sheet}: for machines with {needs}; the card says that this has none", sheet=asked.sheet,
                  needs=_(" and ").join(sheet.needs))
            )  # fmt: skip
        planned = sets.planned_for(register, id, now)
        walk = Walk(for_machine(sheet, card), now, (), card, planned, common.language(asked))
        told = judged_by(walk, sets.wishes_for(register, id, now), system, register.zone, now)
        held, known = _held(register, id, walk, now, system), _known(register, id, walk, now)
        form = blanks.blank(walk, id, told, system, made.stamp, held, known)
    return made.write(form)


def _held(register: Writer, machine: str, walk: Walk, now: datetime, system: units.System) -> list[str]:
    """What holds the machine by now for what a check is about, and that no gate can be signed then."""
    if walk.sheet.checks_for not in ("run", "road"):
        return []
    holds = holds_of(register, machine, now, walk.sheet, side=walk.sheet.checks_for, system=system)
    told = [_("HELD ({owner}): {says}", owner=_(one.owner), says=one.says) + "." for one in holds]
    if told and walk.sheet.gates:
        told.append(_("You can still answer questions; no gate can be signed while this holds."))
    return told


def _known(register: Writer, machine: str, walk: Walk, now: datetime) -> tuple[str, ...]:
    """Before a run: stop items of which nothing is known, and notes that are unread."""
    if walk.sheet.checks_for != "run":
        return ()
    one = yard.machine_now(register, machine, now, forecasts=False, language=walk.language)
    return one.known_before(now, register.zone)
