"""Who was shown which machine, and whose instruction runs out: a line for the supervisor in the work list."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime

from reelcare.core import entries as e
from reelcare.core.service.months import add_months
from reelcare.core.timestamps import day_of
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader

ALL_MACHINES = ""
AHEAD = 30
"""Days before it runs out from which on it stands in the list (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Instruction:
    """The last instruction of a person on a machine (its id; '' for all): when, by whom, until when, days left."""

    person: str
    machine: str
    on: date
    by: str
    until: date
    left: int


def all_of(reader: Reader, now: datetime) -> Iterator[Instruction]:
    """The last instruction of each person on each machine, up to a moment, of those who are enrolled; one that holds no
    longer than theirs on all machines is left out."""
    newest: dict[tuple[str, str], Instruction] = {}
    today = day_of(now, reader.zone)
    for one in reader.select(queries.of_kind(None, e.Instructed.kind, now)):
        if isinstance(one.what, e.Instructed):
            on = day_of(one.happened, reader.zone)
            until, who = add_months(on, one.what.valid), (one.what.name, one.what.of)
            newest[who] = Instruction(*who, on, one.by, until, (until - today).days)
    people = reader.roles()
    for (person, machine), mine in newest.items():
        of_all = newest.get((person, ALL_MACHINES))
        if person in people and (machine == ALL_MACHINES or of_all is None or of_all.until < mine.until):
            yield mine


def running_out(reader: Reader, now: datetime) -> list[Instruction]:
    """Those that have run out or soon will, the first to run out first."""
    return sorted((one for one in all_of(reader, now) if one.left <= AHEAD), key=lambda one: (one.until, one.person))
