"""What people look at, read from a register as core values: the yard, one machine, what is due, the book.

The rules of this file: it writes nothing. Every question takes the moment it is asked for; a moment past is
answered by folding the entries up to it again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from reelcare.core import entries as e
from reelcare.core.machine.card import read_card
from reelcare.core.service.due_line import DueLine
from reelcare.core.state.machine_now import MachineNow, see, yard_order
from reelcare.core.state.plain_form import from_plain
from reelcare.register import schema
from reelcare.register.errors import Refused
from reelcare.register.moments import milliseconds
from reelcare.register.progress import Progress, quietly
from reelcare.register.register import Register


@dataclass(frozen=True, slots=True)
class BookLine:
    """One entry of a machine's book, with the correction that took it back, if one did."""

    entry: e.Entry
    taken_back: e.Entry | None = None


def yard(
    register: Register,
    now: datetime,
    *,
    past: bool = False,
    forecasts: bool = False,
    of_next: bool = False,
    progress: Progress = quietly,
) -> list[MachineNow]:
    """Every machine at `now`, holds first. `past` says that `now` is a moment past, to be worked out anew; forecasts
    are made as `see` says. `progress` is told how many machines of how many are seen."""
    found = []
    wanted: dict[str, Any] = {"forecasts": forecasts, "of_next": of_next}
    if past:
        machines = schema.rows(register.db, "SELECT machine FROM machine_now")
        for (machine,) in _counted(machines, progress):
            try:
                found.append(machine_now(register, machine, now, past=True, **wanted))
            except Refused:
                continue  # nothing is known of it at that time
    else:
        plans = register.plans()
        kept = schema.rows(register.db, "SELECT machine, tally FROM machine_now")
        for machine, tally in _counted(kept, progress):
            seen = from_plain(tally)
            plan = plans.newest(machine)
            found.append(see(machine, read_card(seen.card), seen, plan, now, register.zone, **wanted))
    return sorted(found, key=yard_order)


TELL = 200
"""After so many machines it is told how far the way is: in a yard of fewer, nobody waits."""


def _counted(rows: Sequence[tuple[Any, ...]], progress: Progress) -> Iterator[tuple[Any, ...]]:
    for number, row in enumerate(rows):
        if number and number % TELL == 0:
            progress(number, len(rows))
        yield row
    if len(rows) > TELL:
        progress(len(rows), len(rows))


def machine_now(
    register: Register,
    machine: str,
    now: datetime,
    *,
    past: bool = False,
    forecasts: bool = True,
    of_next: bool = False,
) -> MachineNow:
    """One machine, by its id, at `now`."""
    tally = register.tally(machine, now if past else None)
    plan = register.plans().at(machine, now)
    return see(machine, read_card(tally.card), tally, plan, now, register.zone, forecasts=forecasts, of_next=of_next)


def due_lines(machines: Iterable[MachineNow]) -> list[DueLine]:
    """What is due over machines, worst first."""
    lines = [line for machine in machines for line in machine.dues]
    return sorted(lines, key=lambda line: (-line.due.used_fraction, line.tag, line.item.id))


def book(
    register: Register,
    machine: str,
    *,
    kinds: Iterable[str] = (),
    until: datetime | None = None,
    most: int = -1,
) -> list[BookLine]:
    """Everything that happened to a machine, newest first, with what was taken back marked as such.

    An entry whose correction was taken back itself counts again, and is not marked.
    """
    wanted = sorted(set(kinds))
    condition = f" AND kind IN ({', '.join('?' * len(wanted))})" if wanted else ""
    bound = milliseconds(until) if until is not None else 1 << 62
    newest = register.entries(
        f"machine = ? AND happened <= ?{condition} ORDER BY happened DESC, recorded DESC, id DESC"
        + (f" LIMIT {int(most)}" if most >= 0 else ""),
        machine, bound, *wanted,
    )  # fmt: skip
    written = register.entries("machine = ? AND kind = 'correction' AND happened <= ?", machine, bound)
    gone = e.cancelled(written)
    corrections = {one.what.entry: one for one in written if isinstance(one.what, e.Correction) and one.id not in gone}
    return [BookLine(one, corrections.get(one.id)) for one in newest]
