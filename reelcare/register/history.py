"""The entries of one machine in their order, and what they make of it.

The rules of this file: what is folded here is what `tally.fold_all` gives of the entries as core values. Of runs, of
which a history is full, only what counters need is read.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import datetime
from itertools import groupby
from operator import itemgetter
from typing import Any

from reelcare.core import entries as e
from reelcare.core.upkeep import counters
from reelcare.core.upkeep import tally as tallying
from reelcare.core.upkeep.tally import PlanBook, Tally
from reelcare.register import schema
from reelcare.register.moments import milliseconds, moment
from reelcare.register.questions import IN_ORDER

COLUMNS = "id, machine, happened, recorded, terminal, person, kind, body"
_ID, _HAPPENED, _RECORDED, _KIND, _BODY = 0, 2, 3, 6, 7

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
    asked = f"SELECT {COLUMNS} FROM entry WHERE machine = ? AND happened <= ? {IN_ORDER}"
    return schema.rows(db, asked, machine, bound)


def folded(db: Any, machine: str, plans: PlanBook, until: datetime | None = None) -> Tally | None:
    """The tally of a machine from all its entries up to a moment; None where there are none that count.

    A machine that was carded later than the moment is shown by its first card.
    """
    rows = rows_of(db, machine, until)
    if rows and until is not None and not any(row[_KIND] == e.Carded.kind for row in rows):
        rows += schema.rows(db, f"SELECT {COLUMNS} FROM entry WHERE id = ?", machine)
        rows.sort(key=itemgetter(_HAPPENED, _RECORDED, _ID))
    gone = tallying.taken_back(entry_of(row) for row in rows if row[_KIND] == e.Correction.kind)
    return _folded(machine, [row for row in rows if row[_ID] not in gone] if gone else rows, plans)


def _folded(machine: str, rows: list[Row], plans: PlanBook) -> Tally | None:
    """The tally of a machine from entries that count, in order."""
    if not rows:
        return None
    tally = tallying.begin(machine, tallying.first_day((moment(row[_HAPPENED]) for row in rows), plans.zone))
    for kind, stretch in groupby(rows, key=itemgetter(_KIND)):
        if kind == e.Run.kind:
            tally = tallying.after_runs(tally, list(_spans(stretch)), plans.zone)
        else:
            tally = tallying.after_others(tally, map(entry_of, stretch), plans)
    last = rows[-1]
    return tallying.ending(tally, (moment(last[_HAPPENED]), moment(last[_RECORDED]), last[_ID]))


_read = json.JSONDecoder().raw_decode


def _spans(rows: Iterator[Row]) -> Iterator[counters.Span]:
    for row in rows:
        body, end = _read(row[_BODY])
        if end != len(row[_BODY]):
            json.loads(row[_BODY])  # which says what is wrong
        started, ended, metres = e.span_of(body)
        yield counters.span(started, ended, metres)
