"""What was taken back, by whom and how late; and where a clock went back: for the supervisor.

The rules of this file: it accuses nobody; a correction is how a register is put right. What was first written stands
beside it. An entry's place in its chain is its order, whatever the clock of its terminal said.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from reelcare.core import entries as e
from reelcare.register import schema
from reelcare.register.moments import milliseconds, moment

if TYPE_CHECKING:
    from reelcare.register.register import Register

STEPS_BACK = timedelta(minutes=5)
"""How far a clock may step back before it is told: setting it right by the network is no news."""


@dataclass(frozen=True, slots=True)
class Corrected:
    """A correction, the entry that it took back (None: not here yet), and the machine's tag ('' for none)."""

    correction: e.Entry
    entry: e.Entry | None
    tag: str

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


def corrections(register: Register, since: datetime, until: datetime) -> list[Corrected]:
    """What was taken back within a time, by when it was recorded, newest first."""
    found = register.entries(
        "kind = 'correction' AND recorded > ? AND recorded <= ? ORDER BY recorded DESC, id DESC",
        milliseconds(since), milliseconds(until),
    )  # fmt: skip
    carded = schema.rows(register.db, "SELECT machine, tag FROM machine_now")
    tags = {str(machine): str(tag) for machine, tag in carded}
    told = []
    for one in found:
        assert isinstance(one.what, e.Correction)
        entry = register.entry(one.what.entry)
        told.append(Corrected(one, entry, tags.get((entry.machine or "") if entry else "", "")))
    return told


def stepped_back(register: Register) -> list[SteppedBack]:
    """Every place where the clock of a terminal went back, oldest first."""
    rows = schema.rows(
        register.db,
        "SELECT terminal, place, before, recorded FROM (SELECT terminal, place, recorded, number,"
        " LAG(recorded) OVER (PARTITION BY terminal ORDER BY place) AS before FROM entry) AS chained"
        " WHERE recorded < before - ? ORDER BY number",
        STEPS_BACK // timedelta(milliseconds=1),
    )
    return [
        SteppedBack(str(terminal), int(place), moment(before), moment(recorded))
        for terminal, place, before, recorded in rows
    ]


def clock_behind(register: Register, now: datetime) -> timedelta:
    """How far this computer's clock stands before the last entry of its terminal; nothing where it is right."""
    last = schema.rows(
        register.db, "SELECT recorded FROM entry WHERE terminal = ? ORDER BY place DESC LIMIT 1", register.terminal
    )
    behind = moment(last[0][0]) - now if last else timedelta(0)
    return behind if behind > STEPS_BACK else timedelta(0)
