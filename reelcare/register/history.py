"""The entries of one machine in their order, and what they make of it."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from reelcare.core import entries as e
from reelcare.core.fold import fold
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plans import Known
from reelcare.register import schema
from reelcare.register.moments import milliseconds, moment
from reelcare.register.questions import IN_ORDER

COLUMNS = "id, machine, happened, recorded, terminal, person, kind, body"

Row = tuple[Any, ...]
"""An entry as the register keeps it: COLUMNS."""


def entry_of(row: Row) -> e.Entry:
    """An entry as a core value. Raises EntryError where this version does not know it."""
    id, machine, happened, recorded, terminal, person, kind, body = row
    return e.Entry(
        id=id, machine=machine, happened=moment(happened), recorded=moment(recorded),
        terminal=terminal, by=person, what=e.from_body(kind, json.loads(body)),
    )  # fmt: skip


def rows_of(db: Any, machine: str, until: datetime | None = None) -> list[Row]:
    """All that happened to a machine up to a moment, corrections included, in order."""
    bound = milliseconds(until) if until is not None else 1 << 62
    return schema.rows(
        db, f"SELECT {COLUMNS} FROM entry WHERE machine = ? AND happened <= ? {IN_ORDER}", machine, bound
    )


def folded(db: Any, machine: str, known: Known, until: datetime | None = None) -> MachineState | None:
    """The state of a machine from all its entries up to a moment; None where there are none that count.

    A machine that was carded later than the moment is shown by its first card.
    """
    rows = rows_of(db, machine, until)
    if rows and until is not None and not any(row[6] == e.Carded.kind for row in rows):
        rows += schema.rows(db, f"SELECT {COLUMNS} FROM entry WHERE id = ?", machine)
    return fold(machine, map(entry_of, rows), known)
