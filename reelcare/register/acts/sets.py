"""Sets on a register: worked out from card and measurements, planned, and found again by the walk-round.

The rules of this file: a planned set is an entry like any other. It counts for the walk-rounds that begin after it,
until another is planned, until the machine is made ready for the road, or until it is three days old.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from reelcare.core import entries as e
from reelcare.core.machine.card import Card
from reelcare.core.settings import measured_gun as measured
from reelcare.core.settings import set_parser as asked
from reelcare.core.settings.measured_gun import Figure
from reelcare.core.settings.set_limits import SetLimits
from reelcare.core.settings.settings_sheet import Setting
from reelcare.core.text import _
from reelcare.register import sheets
from reelcare.register.errors import Refused
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer

HOLDS_FOR = timedelta(days=3)
"""How long a planned set counts: a longer stay in one place is planned again (our choice)."""


@dataclass(frozen=True, slots=True)
class SetBasis:
    """What a set of one machine is worked out from: its card as measured, the limits, and what was measured."""

    card: Card
    limits: SetLimits
    figures: Mapping[str, Figure]


def figures_of(reader: Reader, machine: str, at: datetime | None = None) -> dict[str, Figure]:
    """The newest of each figure that was measured on a machine, up to a moment."""
    return e.newest_figures(reader.select(queries.of_kind(machine, e.Measured.kind, at)))


def basis(reader: Reader, machine: str, at: datetime | None = None) -> SetBasis:
    """What sets of a machine are worked out from. Raises FileError where a table of limits cannot be read."""
    figures = figures_of(reader, machine, at)
    card = measured.as_measured(reader.card(machine, at), figures)
    return SetBasis(card, measured.limits_as_measured(sheets.set_limits(), figures), figures)


def plan(
    writer: Writer,
    machine: str,
    setting: Setting,
    texts: Mapping[str, str],
    limits: SetLimits,
    *,
    by: str,
    now: datetime,
    happened: datetime | None = None,
) -> e.Entry:
    """Plan a set: what was wished, what walk-rounds are held to, and what was warned of. Raises Refused where nothing
    could be judged by it."""
    if setting.wishes.spacing is None or setting.wishes.out is None:
        raise Refused(_("to keep a set, give its lane spacing and its pull-out"))
    what = e.SetPlanned(
        wishes={key: text for key, text in texts.items() if text},
        planned=asked.plan_of_the_day(setting, limits),
        warnings=tuple(one.code for one in setting.warnings),
    )
    return writer.add(what, machine=machine, by=by, now=now, happened=happened)


def current(reader: Reader, machine: str, at: datetime) -> e.Entry | None:
    """The set that counts for a machine at a moment, if one was planned."""
    found = reader.newest(machine, e.SetPlanned.kind, at)
    if found is None or at - found.happened > HOLDS_FOR:
        return None
    road = reader.state(machine).passed.get("road")
    if road is not None and found.happened < road.at <= at:
        return None
    return found


def planned_for(reader: Reader, machine: str, at: datetime) -> Mapping[str, str]:
    """What a walk-round that begins now is held to; nothing where no set is planned."""
    entry = current(reader, machine, at)
    return entry.what.planned if entry is not None and isinstance(entry.what, e.SetPlanned) else {}


def wishes_for(reader: Reader, machine: str, at: datetime) -> Mapping[str, str]:
    """What was wished for the set that counts now, as typed; nothing where no set is planned."""
    return e.wishes_of(current(reader, machine, at))
