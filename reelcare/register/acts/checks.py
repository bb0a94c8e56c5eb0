"""Checks as the register has them: read with all that was answered, and whether they still go on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from reelcare.core import entries as e
from reelcare.core.checks.sheet import Sheet
from reelcare.core.checks.verdict import Given, LaterSet, Walk
from reelcare.core.state.machine_state import MachineState
from reelcare.core.text import _
from reelcare.register.database.models import EntryRow
from reelcare.register.errors import Refused
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader
from reelcare.register.timestamps import milliseconds

E = EntryRow


@dataclass(frozen=True, slots=True)
class Check:
    """A check with all that was answered so far."""

    id: str
    machine: str
    begun: e.Entry
    ended: e.Entry | None
    walk: Walk
    sheet: Sheet | None = None
    """The sheet as it is to be kept, where it is not written yet."""

    @property
    def is_written(self) -> bool:
        """Whether it stands in the register; its first answer writes it."""
        return bool(self.id)

    @property
    def begin(self) -> e.CheckBegun:
        """What it was begun with."""
        assert isinstance(self.begun.what, e.CheckBegun)
        return self.begun.what

    @property
    def sheet_id(self) -> str:
        """The sheet's id."""
        return self.begin.sheet_id


def check(reader: Reader, id: str) -> Check:
    """A check by the id of the entry that began it. Raises Refused."""
    return reader.cache.get(("check", id), lambda: _read(reader, id))


def _read(reader: Reader, id: str) -> Check:
    found = reader.select(queries.entries(E.id == id, E.kind == e.CheckBegun.kind))
    if not found:
        raise Refused(_("{id}: no such check", id=id))
    begun = found[0]
    assert isinstance(begun.what, e.CheckBegun)
    assert begun.machine is not None
    sheet = reader.sheet(begun.what.sheet)
    if sheet is None:
        raise Refused(_("{sheet}: the sheet of this check is not here", sheet=begun.what.sheet))
    about = reader.select(queries.in_order(queries.entries(E.refers == id, queries.stands())))
    ended = next((one for one in about if isinstance(one.what, e.CheckEnded)), None)
    card = reader.card(begun.machine, begun.happened)
    later = sets_since(reader, begun) if begun.what.follows_set else ()
    return Check(begun.id, begun.machine, begun, ended, e.walk_of(sheet, begun, about, card, later))


def sets_since(reader: Reader, begun: e.Entry) -> tuple[LaterSet, ...]:
    """The sets kept after a check was begun, each with its values."""
    planned = queries.entries(E.machine == begun.machine, E.kind == e.SetPlanned.kind, queries.stands())
    found = reader.select(queries.in_order(planned.where(E.happened >= milliseconds(begun.happened))))
    return tuple(
        LaterSet(one.happened, one.what.planned)
        for one in found
        if isinstance(one.what, e.SetPlanned) and one.order > begun.order
    )


def open_check(reader: Reader, id: str) -> Check:
    """A check that goes on. Raises Refused where it is over."""
    found = check(reader, id)
    if found.ended is not None:
        raise Refused(_("this check has ended already"))
    if found.walk.sheet.gates and not any(one.id == id for one in reader.state(found.machine).checks):
        raise Refused(_("this check is over: a run, a move or a hold came since; begin another"))
    return found


def fault_of(
    reader: Reader, check: Check, given: Given, at: datetime, state: MachineState | None = None
) -> e.Fault | None:
    """The fault that an answer raises in a state (None: now), None where it raises none."""
    totals = (state or reader.state(check.machine)).totals
    counted = (totals.seconds, totals.millimetres, totals.runs)
    return e.fault_of(check.walk, given, check.id, totals=counted, day=at.astimezone(reader.zone))
