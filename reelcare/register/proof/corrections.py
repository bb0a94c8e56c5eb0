"""What was taken back, by whom and how late, and where the register or a clock went back: for the supervisor.

The rules of this file: it accuses nobody; a correction is how a register is put right. What was first written stands
beside it. An entry's place in its chain is its order, whatever the clock of its terminal said.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import peewee as pw

from reelcare.core import entries as e
from reelcare.register.database.models import EntryRow
from reelcare.register.reading import foreign, queries
from reelcare.register.reading.reader import Reader
from reelcare.register.timestamps import milliseconds, moment

E = EntryRow

STEPS_BACK = timedelta(minutes=5)
"""How far a clock may step back before it is told: setting it right by the network is no news."""


@dataclass(frozen=True, slots=True)
class Corrected:
    """A correction, the entry that it took back (None: not here yet), and the machine's tag ('' for none)."""

    correction: e.Entry
    entry: e.Entry | None
    tag: str
    uncounted: str = ""
    """Why it does not count here, where it was carried in and does not; '' where it does."""

    @property
    def after(self) -> timedelta:
        """How long after the entry was recorded it was taken back."""
        return self.correction.recorded - self.entry.recorded if self.entry is not None else timedelta(0)


@dataclass(frozen=True, slots=True)
class SteppedBack:
    """A place in a terminal's chain where its clock went back: the entry before, and the one after."""

    terminal: str
    place: int
    before: datetime
    after: datetime


def corrections(reader: Reader, since: datetime, until: datetime) -> list[Corrected]:
    """What was taken back within a time, by when it was recorded, newest first."""
    within = (E.recorded > milliseconds(since)) & (E.recorded <= milliseconds(until))
    query = queries.entries(E.kind == e.Correction.kind, within).order_by(E.recorded.desc(), E.id.desc())
    found, tags = reader.select(query), reader.tags()
    lacking = foreign.kept(reader.db)
    told = []
    for one in found:
        assert isinstance(one.what, e.Correction)
        entry = reader.entry(one.what.entry)
        told.append(
            Corrected(one, entry, tags.get((entry.machine or "") if entry else "", ""), lacking.get(one.id, ""))
        )
    return told


def stepped_back(reader: Reader) -> list[SteppedBack]:
    """Every place where the clock of a terminal went back, oldest first."""
    before = pw.fn.LAG(E.recorded).over(partition_by=[E.terminal], order_by=[E.place]).alias("before")
    chained = E.select(E.terminal, E.place, before, E.recorded, E.number).alias("chained")
    columns = chained.c
    query = (
        pw.Select([chained], [columns.terminal, columns.place, columns.before, columns.recorded])
        .where(columns.recorded < columns.before - STEPS_BACK // timedelta(milliseconds=1))
        .order_by(columns.number)
    )
    return [
        SteppedBack(str(terminal), int(place), moment(before), moment(recorded))
        for terminal, place, before, recorded in reader.db.fetch(query)
    ]
