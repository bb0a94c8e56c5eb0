"""The entries of one machine in their order, and what they make of it.

The rules of this file: what is folded here is what `tally.fold_all` gives of the entries as core values. Of runs,
services and answers, of which a history is full, only what a tally needs is read.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from datetime import datetime
from itertools import groupby
from operator import itemgetter
from typing import Any

from reelcare.core import entries as e
from reelcare.core.state import counters
from reelcare.core.state import tally as tallying
from reelcare.core.state.tally import PlanBook, Tally
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
    return _asked(db, COLUMNS, machine, until, IN_ORDER)


def _asked(db: Any, columns: str, machine: str, until: datetime | None, order: str) -> list[Row]:
    bound = milliseconds(until) if until is not None else 1 << 62
    return schema.rows(db, f"SELECT {columns} FROM entry WHERE machine = ? AND happened <= ? {order}", machine, bound)


Line = tuple[str, int, str, str | None]
"""An entry of a machine as it is folded: kind, happened, body, and `_ABOUT`; None where nobody asks for that."""

_ABOUT = "recorded || ' ' || length(id) || ' ' || length(terminal) || ' ' || id || terminal || person"
"""The rest of an entry in one text, which is quicker to ask for than four columns: `_told` takes it apart."""
_LINE = "kind, happened, body, " + _ABOUT


def folded(db: Any, machine: str, plans: PlanBook, until: datetime | None = None) -> Tally | None:
    """The tally of a machine from all its entries up to a moment; None where there are none that count.

    A machine that was carded later than the moment is shown by its first card.
    """
    lines = _lines(db, machine, until)
    if not lines:
        return None
    tally = tallying.begin(machine, tallying.first_day((moment(line[1]) for line in lines), plans.zone))
    for kind, stretch in groupby(lines, key=itemgetter(0)):
        if kind in _AFTER:
            tally = _AFTER[kind](tally, list(stretch), plans)
        else:
            tally = tallying.after_stretch(tally, [_entry(machine, line) for line in stretch], plans)
    return tallying.ending(tally, _order(db, machine, until, lines[-1]))


def _lines(db: Any, machine: str, until: datetime | None) -> list[Line]:
    """What counts of a machine up to a moment, in order."""
    lines: list[Line] = _asked(db, _LINE_IF_FEW, machine, until, IN_ORDER)
    gone = set[str]()
    if any(kind == e.Correction.kind for kind, *_ in lines):
        lines = _asked(db, _LINE, machine, until, IN_ORDER)
        gone = tallying.taken_back(_entry(machine, line) for line in lines if line[0] == e.Correction.kind)
    if lines and until is not None and not any(kind == e.Carded.kind for kind, *_ in lines):
        # which is later than all the others
        lines += schema.rows(db, f"SELECT {_LINE} FROM entry WHERE id = ?", machine)
    return [line for line in lines if _told(line[3] or "")[1] not in gone] if gone else lines


def _told(about: str) -> tuple[int, str, str, str]:
    """Recorded, id, terminal and person of what `_ABOUT` gives.

    >>> _told("5 2 3 01t-1Ann Poe")
    (5, '01', 't-1', 'Ann Poe')
    """
    recorded, of_id, of_terminal, names = about.split(" ", 3)
    first, second = int(of_id), int(of_id) + int(of_terminal)
    return int(recorded), names[:first], names[first:second], names[second:]


def _entry(machine: str, line: Line) -> e.Entry:
    kind, happened, body, about = line
    recorded, id, terminal, person = _told(about or "")
    return entry_of((id, machine, happened, recorded, terminal, person, kind, body))


def _order(db: Any, machine: str, until: datetime | None, line: Line) -> tuple[datetime, datetime, str]:
    """The place of the last line in the order."""
    _, happened, _, about = line
    if about is not None:
        recorded, id, *_ = _told(about)
        return moment(happened), moment(recorded), id
    last = "ORDER BY happened DESC, recorded DESC, id DESC LIMIT 1"
    ((at, noted, id),) = _asked(db, "happened, recorded, id", machine, until, last)
    return moment(at), moment(noted), id


def _after_runs(tally: Tally, lines: list[Line], plans: PlanBook) -> Tally:
    return tallying.after_runs(tally, counters.spans(e.spans_of(_bodies(lines))), plans.zone)


def _after_services(tally: Tally, lines: list[Line], plans: PlanBook) -> Tally:
    items = e.items_of(_bodies(lines))
    done = [(moment(line[1]), (item,)) for line, item in zip(lines, items, strict=True)]
    return tallying.after_services(tally, done, plans)


def _after_answers(tally: Tally, lines: list[Line], plans: PlanBook) -> Tally:
    checks = e.checks_of(_bodies(lines))
    latest = {check: line[1] for line, check in zip(lines, checks, strict=True)}
    return tallying.after_answers(tally, {check: moment(happened) for check, happened in latest.items()})


_AFTER: Mapping[str, Callable[[Tally, list[Line], PlanBook], Tally]] = {
    e.Run.kind: _after_runs,
    e.Service.kind: _after_services,
    e.Answered.kind: _after_answers,
}
"""What is made of the kinds of which a history is full."""
_LINE_IF_FEW = f"kind, happened, body, CASE WHEN kind IN {tuple(_AFTER)} THEN NULL ELSE {_ABOUT} END"


def _bodies(lines: list[Line]) -> list[dict[str, e.Json]]:
    """The bodies of these entries. Raises ValueError where one of them is not one table."""
    bodies = [line[2] for line in lines]
    try:
        found = json.loads(f"[{','.join(bodies)}]")  # all at once: it takes half as long
    except ValueError:
        found = []
    # where it is not one table for each, each is read by itself, which says what is wrong
    return found if len(found) == len(bodies) else [json.loads(one) for one in bodies]
