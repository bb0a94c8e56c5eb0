"""Sets on a register: worked out from card and measurements, planned, and found again by the walk-round.

The rules of this file: a planned set is an entry like any other. It counts for the walk-rounds that begin after it,
until another is planned, until the machine is made ready for the road, or until it is three days old.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.machine import asked, measured
from reelcare.core.machine.card import Card
from reelcare.core.machine.measured import Figure
from reelcare.core.machine.set_limits import SetLimits
from reelcare.core.machine.setting import work_out
from reelcare.core.machine.settings_sheet import Setting
from reelcare.register import sheets
from reelcare.register.moments import milliseconds

if TYPE_CHECKING:
    from reelcare.register.register import Register

HOLDS_FOR = timedelta(days=3)
"""How long a planned set counts: a longer stay in one place is planned anew (our choice)."""


@dataclass(frozen=True, slots=True)
class Ground:
    """What a set of one machine is worked out from: its card as measured, the limits, and what was measured."""

    card: Card
    limits: SetLimits
    figures: Mapping[str, Figure]


def figures_of(register: Register, machine: str, at: datetime | None = None) -> dict[str, Figure]:
    """The newest of each figure that was measured on a machine, up to a moment."""
    from reelcare.register.questions import IN_ORDER, STANDS

    until = "" if at is None else f"AND happened <= {milliseconds(at)} "
    found = register.entries(f"machine = ? AND kind = 'measured' AND {STANDS} {until}{IN_ORDER}", machine)
    return e.newest_figures(found)


def ground(register: Register, machine: str, at: datetime | None = None) -> Ground:
    """What sets of a machine are worked out from. Raises FileError where a table of limits cannot be read."""
    figures = figures_of(register, machine, at)
    card = measured.as_measured(register.card(machine, at), figures)
    return Ground(card, measured.limits_as_measured(sheets.set_limits(), figures), figures)


def plan(
    register: Register,
    machine: str,
    setting: Setting,
    texts: Mapping[str, str],
    limits: SetLimits,
    *,
    by: str,
    now: datetime,
    happened: datetime | None = None,
) -> e.Entry:
    """Plan a set: what was wished, what walk-rounds are held to, and what was warned of."""
    what = e.SetPlanned(
        wishes={key: text for key, text in texts.items() if text},
        planned=asked.plan_of_the_day(setting, limits),
        warnings=tuple(one.code for one in setting.warnings),
    )
    return register.add(what, machine=machine, by=by, now=now, happened=happened)


def current(register: Register, machine: str, at: datetime) -> e.Entry | None:
    """The set that counts for a machine at a moment, if one was planned."""
    from reelcare.register.questions import STANDS

    found = register.entries(
        f"machine = ? AND kind = 'set-up' AND {STANDS} AND happened <= ? ORDER BY happened DESC, recorded DESC LIMIT 1",
        machine,
        milliseconds(at),
    )
    if not found or at - found[0].happened > HOLDS_FOR:
        return None
    road = register.tally(machine).passed.get("road")
    if road is not None and found[0].happened < road.at <= at:
        return None
    return found[0]


def planned_for(register: Register, machine: str, at: datetime) -> Mapping[str, str]:
    """What a walk-round that begins now is held to; nothing where no set is planned."""
    entry = current(register, machine, at)
    return entry.what.planned if entry is not None and isinstance(entry.what, e.SetPlanned) else {}


def work(texts: Mapping[str, str], on: Ground, register: Register, *, system: units.System | None = None) -> Setting:
    """The settings sheet that texts ask for. Raises WishError."""
    return work_out(on.card, asked.read_wishes(texts, register.zone, system=system), on.limits)
