"""Checks as the register has them: read with all that was answered, and whether they still go on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from reelcare.core import entries as e
from reelcare.core.checks.sheet import Sheet
from reelcare.core.checks.verdict import Given, LaterSet, Walk
from reelcare.core.state.machine_state import MachineState
from reelcare.core.text import _
from reelcare.register.database.models import EntryRow
from reelcare.register.errors import Over, Refused
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
    def verdict(self) -> str:
        """How it ended: passed, held or left; '' where it has not."""
        return self.ended.what.verdict if self.ended is not None and isinstance(self.ended.what, e.CheckEnded) else ""

    @property
    def last(self) -> datetime:
        """When it was begun, answered or signed last. An answer that is dated before that comes out of order."""
        done = [one.at for one in self.walk.given] + [one.at for one in self.walk.signed]
        return max(done, default=self.begun.happened)

    @property
    def sheet_id(self) -> str:
        """The sheet's id."""
        return self.begin.sheet_id


def check(reader: Reader, id: str) -> Check:
    """A check by the id of the entry that began it, with the signatures that count as long as it is open. Raises
    Refused."""
    found: Check = reader.cache.get(("check", id), lambda: _read(reader, [id])[0])
    state = reader.kept_state(found.machine) if found.walk.signed else None
    open_one = next((one for one in state.checks if one.id == id), None) if state is not None else None
    if open_one is None:
        return found
    # one that was signed where nobody knew of a hold yet does not count here
    counting = {one.id for one in open_one.signed}
    signed = tuple(one for one in found.walk.signed if one.id in counting)
    return found if signed == found.walk.signed else replace(found, walk=replace(found.walk, signed=signed))


READ_TOGETHER = 100
"""Checks that are read by one query where many are read."""


def checks(reader: Reader, ids: Sequence[str]) -> Iterator[Check]:
    """Checks by the ids of the entries that began them, in that order. Raises Refused."""
    for some in queries.in_batches(ids, READ_TOGETHER):
        yield from _read(reader, some)


def _read(reader: Reader, ids: Sequence[str]) -> list[Check]:
    begun = {one.id: one for one in reader.select(queries.entries(E.id.in_(ids), E.kind == e.CheckBegun.kind))}
    for id in ids:
        if id not in begun:
            raise Refused(_("{id}: no such check", id=id))
    about: dict[str, list[e.Entry]] = {id: [] for id in ids}
    for one in reader.select(queries.in_order(queries.entries(E.refers.in_(ids), queries.in_effect()))):
        about[str(one.what.subject())].append(one)
    sets = sets_since(reader, list(begun.values()))
    return [_check(reader, begun[id], about[id], sets[id]) for id in ids]


def _check(reader: Reader, begun: e.Entry, about: Sequence[e.Entry], sets: tuple[LaterSet, ...]) -> Check:
    assert isinstance(begun.what, e.CheckBegun)
    assert begun.machine is not None
    sheet = reader.sheet(begun.what.sheet)
    if sheet is None:
        raise Refused(_("{sheet}: the sheet of this check is not here", sheet=begun.what.sheet))
    ended = next((one for one in about if isinstance(one.what, e.CheckEnded)), None)
    walk = e.walk_of(sheet, begun, about, reader.card(begun.machine, begun.happened), sets)
    return Check(begun.id, begun.machine, begun, ended, walk)


LOOKED_AT = 20
"""How many checks of a machine are looked at, of whichever sheet, for one on a sheet."""


def newest_on(reader: Reader, machine: str, sheet: str, *conditions: Any) -> Iterator[Check]:
    """Those of the newest checks of a machine that these conditions pick which are on a sheet, newest first."""
    begun = queries.entries(E.machine == machine, E.kind == e.CheckBegun.kind, queries.in_effect(), *conditions)
    for one in reader.select(queries.newest_first(begun).limit(LOOKED_AT)):
        if isinstance(one.what, e.CheckBegun) and one.what.sheet_id == sheet:
            yield check(reader, one.id)


def sets_since(reader: Reader, begun: Sequence[e.Entry]) -> dict[str, tuple[LaterSet, ...]]:
    """The sets that each of these checks is held to beside the one it was begun with, by the id of what began it: those
    kept since, where it follows the set."""
    found: dict[str, tuple[LaterSet, ...]] = {one.id: () for one in begun}
    following = [one for one in begun if isinstance(one.what, e.CheckBegun) and one.what.follows_set]
    if not following:
        return found
    machines, since = {one.machine for one in following}, min(one.happened for one in following)
    planned = queries.entries(E.machine.in_(machines), E.kind == e.SetPlanned.kind, queries.in_effect())
    sets = reader.select(queries.in_order(planned.where(E.happened >= milliseconds(since))))
    return found | {
        check.id: tuple(
            LaterSet(one.happened, one.what.planned)
            for one in sets
            if isinstance(one.what, e.SetPlanned) and one.machine == check.machine and one.order > check.order
        )
        for check in following
    }


def open_check(reader: Reader, id: str) -> Check:
    """A check that goes on. Raises Over where it does not."""
    found = check(reader, id)
    if found.ended is not None:
        raise Over(_("this check has ended already"))
    if not any(one.id == id for one in reader.state(found.machine).open_checks):
        raise Over(_("this check is over: a run, a move, a hold or another check came since; begin another"))
    return found


def fault_of(
    reader: Reader, check: Check, given: Given, at: datetime, state: MachineState | None = None
) -> e.Fault | None:
    """The fault that an answer raises in a state (None: now), None where it raises none."""
    totals = (state or reader.state(check.machine)).totals
    counted = (totals.seconds, totals.millimetres, totals.runs)
    return e.fault_of(check.walk, given, check.id, totals=counted, day=at.astimezone(reader.zone))
