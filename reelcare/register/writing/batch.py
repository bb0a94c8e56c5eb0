"""What one transaction writes: the end of this terminal's chain, and the machines that its entries touch.

What belongs here: giving entries their id, place and digest; what a check at the door may ask around an entry; folding
on what comes last in order, and folding again what an entry changes in the past. `states.py` keeps the results.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta, tzinfo
from functools import cached_property
from typing import Any

from reelcare.core import entries as e
from reelcare.core.canonical_json import canonical
from reelcare.core.checks.clearance import AHEAD
from reelcare.core.fold import advance, contradicted, fold
from reelcare.core.machine.card import Card
from reelcare.core.service.plan import Plan
from reelcare.core.state.machine_state import MachineState
from reelcare.core.timestamps import day_of
from reelcare.register.database.models import EntryRow
from reelcare.register.errors import Refused
from reelcare.register.integrity import chain
from reelcare.register.integrity.ids import Ids
from reelcare.register.progress import Progress, no_progress, with_progress
from reelcare.register.reading import doubts, foreign, queries, states
from reelcare.register.reading.reader import CARDS, FOLDED, PAST, Reader, entry_of
from reelcare.register.timestamps import milliseconds, moment

E = EntryRow
END = "chain end"
"""The key in the cache of where this terminal's chain ends."""


class ChainEnd:
    """The end of this terminal's chain. Rows wait until `flush`, so that they are inserted together."""

    def __init__(self, reader: Reader, ids: Ids, *, by: str, now: datetime) -> None:
        self._reader, self._ids, self._by = reader, ids, by
        self._place, self._digest, last, self._began = reader.cache.get(END, self._read_end)
        # another program wrote while this one waited for its turn, or for a PIN: its clock was not ahead
        behind = 0 < last - milliseconds(now) <= doubts.BEHIND // timedelta(milliseconds=1)
        self._recorded = last if behind else milliseconds(now)
        self._recorded_at = moment(self._recorded)
        self.is_behind = self._recorded < last or last < self._began <= self._recorded
        """Whether the clock is behind the last entry, or is right again: from now on other entries are doubtful."""
        self._rows: list[tuple[Any, ...]] = []

    def _read_end(self) -> tuple[int, str, int, int]:
        """Place, digest and recorded time of the last entry of this terminal, and the recorded time of its first."""
        mine = E.select(E.place, E.digest, E.recorded).where(E.terminal == self._reader.terminal)
        found = self._reader.db.fetch(mine.order_by(E.place.desc()).limit(1))
        if not found:
            return 0, chain.GENESIS, 0, 0
        first = self._reader.db.fetch(mine.order_by(E.place).limit(1))
        return int(found[0][0]), str(found[0][1]), int(found[0][2]), int(first[0][2])

    def add(self, what: e.Kind, machine: str | None, happened: datetime, id: str = "") -> e.Entry:
        """Seal one entry at the end, under an id that was drawn for it or a new one. A first card makes its machine:
        its id is the machine's."""
        at, id = milliseconds(happened), id or self._ids.next(self._recorded)
        if machine is None and isinstance(what, e.Carded):
            machine = id
        body, terminal = canonical(e.to_body(what)), self._reader.terminal
        self._place += 1
        sealed = (self._place, id, what.kind, machine, at, self._recorded, terminal, self._by, body)
        self._digest = chain.digest(self._digest, *sealed)
        self._rows.append((*sealed, self._digest, what.subject()))
        return e.Entry(id, machine, moment(at), self._recorded_at, terminal, self._by, what)

    def flush(self) -> None:
        """Insert the rows that wait."""
        if self._rows:
            self._reader.db.insert_many(E, (*chain.COLUMNS, E.refers), self._rows)
            self._rows = []
            self._reader.cache.put(END, (self._place, self._digest, self._recorded, self._began or self._recorded))


class BatchContext:
    """What a check may ask around an entry of a machine at a moment; each answer is looked up when it is asked for."""

    def __init__(self, batch: Batch, machine: str | None, at: datetime) -> None:
        self._batch = batch
        self.machine = machine
        """The id of the machine; None where the entry is about none, or brings a new one."""
        self.at, self.now = at, batch.now
        self.zone: tzinfo = batch.reader.zone

    @cached_property
    def state(self) -> MachineState | None:
        """The machine as it stood at that moment."""
        return self._batch.state_at(self.machine, self.at) if self.machine else None

    @cached_property
    def card(self) -> Card | None:
        """The machine's newest card."""
        state = self._batch.state(self.machine) if self.machine else None
        return self._batch.reader.card_of(state) if state is not None and state.card else None

    @cached_property
    def _carded(self) -> tuple[datetime, datetime] | None:
        """When the machine was carded, and when that was recorded."""
        return self._batch.reader.carded(self.machine) if self.machine else None

    def card_at(self, moment: datetime) -> Card | None:
        """The card that was in force at a moment; before the first one, that."""
        return self._batch.reader.card(self.machine, moment) if self.machine and self._carded else None

    @cached_property
    def plan(self) -> Plan | None:
        """The service plan that was in force for the machine at that moment."""
        return self._batch.reader.plans().at(self.machine, self.at) if self.machine else None

    @cached_property
    def carded(self) -> datetime | None:
        """When the machine was carded."""
        return self._carded[0] if self._carded else None

    @cached_property
    def in_use_since(self) -> date | None:
        """The day before which nothing can have happened: the card's, or that of a carding that was dated back."""
        if self.card is not None and self.card.in_use_since is not None:
            return self.card.in_use_since
        if self._carded is not None and self._carded[1] - self._carded[0] > AHEAD:
            return day_of(self._carded[0], self.zone)
        return None

    @cached_property
    def fastest(self) -> int:
        """The fastest that a hose comes home [mm/h]."""
        from reelcare.register import sheets  # its readers take a while to load, and only runs and sets ask for limits

        limits = self._batch.reader.cache.get("set limits", sheets.set_limits)
        return round(limits.fastest * 3_600_000)

    @property
    def roles(self) -> Mapping[str, str]:
        """Every enrolled person with the role they have now."""
        return self._batch.reader.roles()

    def run_after(self, moment: datetime) -> e.Run | None:
        """The first run of the machine that ended after a moment and was not cancelled."""
        runs = queries.entries(E.machine == self.machine, E.kind == e.Run.kind, E.happened > milliseconds(moment))
        if not self._asked().db.fetch(runs.limit(1)):
            return None  # as nearly always: then nobody need ask which of them stand
        found = self._asked().select(runs.where(queries.in_effect()).order_by(E.happened).limit(1))
        return found[0].what if found and isinstance(found[0].what, e.Run) else None

    def machine_with_tag(self, tag: str) -> str | None:
        """The id of another machine that is called so already."""
        return next((one for one in self._asked().machines_with_tag(tag) if one != self.machine), None)

    def entry(self, id: str) -> e.Entry | None:
        """The entry of this very id."""
        found = self._asked().entry(id)
        return found if found is not None and found.id == id else None

    def moved_to(self, correction: str) -> str | None:
        """The tag of the machine on which an entry counts that was written again together with the correction that took
        it back, or was moved on from there."""
        found = self._asked().db.fetch(queries.moved_with(correction))
        if not found:
            return None
        ((id, machine),) = found
        if again := self._corrections_of(id):
            return next((tag for one in again if (tag := self.moved_to(one)) is not None), None)
        return self._batch.reader.tags().get(machine, "")

    def is_in_newest_plan(self, item: str) -> bool:
        """Whether the machine's plan of today has this item."""
        plan = self._batch.reader.plans().newest(self.machine) if self.machine else None
        return plan is not None and any(one.id == item for one in plan.items)

    def is_cancelled(self, id: str) -> bool:
        """Whether a correction that stands itself cancels the entry."""
        return bool(self._corrections_of(id))

    def _corrections_of(self, id: str) -> list[str]:
        """The corrections of an entry that stand themselves."""
        corrections = E.select(E.id).where(E.refers == id, E.kind == e.Correction.kind, queries.in_effect())
        return self._asked().db.column(corrections)

    def _asked(self) -> Reader:
        """The reader, after the entries of this batch are inserted."""
        self._batch.flush()
        return self._batch.reader


class Batch:
    """The entries of one transaction, and the states of the machines that they touch."""

    def __init__(self, reader: Reader, ids: Ids, *, by: str, now: datetime) -> None:
        self.reader, self.now = reader, now
        self.written: dict[str, e.Entry] = {}
        """What was written, in order, by id."""
        self._end = ChainEnd(reader, ids, by=by, now=now)
        self._states: dict[str, MachineState | None] = {}
        self._waiting: dict[str, list[e.Entry]] = {}
        """What is to be folded on, by machine."""
        self._again: set[str] = set()
        """The machines to be folded from their beginning when their state is next asked for."""
        self._scopes: dict[str, e.UpdateScope] = {}
        """How much of what is kept of a machine its new entries can change."""
        self._folded: set[str] = set()
        """The machines that were folded from their beginning, now or before: their states are as their entries say."""
        self._ahead: dict[str, tuple[str, ...]] = {}
        """The signatures that were dated after now, of machines that ran."""
        self._doubted = False
        self._past_changed: set[str] = set()
        """Those of them whose new entries change what earlier ones did."""
        self._impossible: dict[str, dict[str, str]] = {}
        """The readings of those of them that cannot be, with why, by id."""

    def context(self, what: e.Kind, machine: str | None, at: datetime) -> BatchContext:
        """What may be asked around an entry of this machine at this moment.

        What can end a hold is held against the machine as its entries give it, not as it is kept beside them.
        """
        if what.news == "good" and machine is not None:
            self.state(machine)  # which tells whether what waits changes the past
            if machine not in self._folded:
                self._states[machine] = self._fold(machine)
        return BatchContext(self, machine, at)

    def add(self, what: e.Kind, machine: str | None, happened: datetime, id: str = "") -> e.Entry:
        """Write one entry that was checked before."""
        if isinstance(what, e.Run) and machine is not None and what.doubts != (dated := self._dated_after_now(machine)):
            what = replace(what, doubts=dated)
        entry = self._end.add(what, machine, happened, id)
        self.written[entry.id] = entry
        if self._end.is_behind and not self._doubted:
            self._doubted = True
            self._keep_doubts()
        if what.for_all:
            self.flush()
            self.reader.cache.clear()
        else:
            self.reader.cache.drop(("check", what.subject()))
            self.reader.cache.drop("renamed")
            self.reader.cache.drop(PAST)
        if isinstance(what, (e.Carded, e.Moved)):
            self.reader.cache.drop((CARDS, entry.machine))
        if isinstance(what, (e.Carded, e.Moved, e.SetPlanned)):
            self.reader.cache.drop_all("check")  # those begun after it, and those held to it from now on
        if isinstance(what, e.Mapped):
            self.reader.cache.drop("fields")
        self._take(entry)
        return entry

    def _dated_after_now(self, machine: str) -> tuple[str, ...]:
        if machine not in self._ahead:
            self._ahead[machine] = doubts.dated_after(self.reader.db, machine, self.now)
        return self._ahead[machine]

    def flush(self) -> None:
        """Insert what waits, so that it is found by whoever asks the database."""
        self._end.flush()

    def state(self, machine: str) -> MachineState | None:
        """A machine's state, with everything written in this batch."""
        if machine not in self._states:
            folded: MachineState | None = self.reader.cache.known((FOLDED, machine))
            if folded is not None:
                self._folded.add(machine)
            self._states[machine] = folded or self.reader.kept_state(machine)
        state, waiting = self._states[machine], self._waiting.pop(machine, None)
        if waiting or machine in self._again:
            self.flush()  # the sheet of a check can be among what waits
            newer = advance(state, waiting or (), self.reader.known()) if state and machine not in self._again else None
            if newer is None:
                newer = self._fold(machine)
                self._past_changed.add(machine)
            self._again.discard(machine)
            if state is not None and (newer is None or newer.passed != state.passed or newer.faults != state.faults):
                # an answer by another person lets a gate fall back: what the machine is judged by is another then
                self._scopes[machine] = max(e.UpdateScope.LIMITS, self._scopes.get(machine, e.UpdateScope.LIMITS))
            state = self._states[machine] = newer
        return state

    def _fold(self, machine: str) -> MachineState | None:
        self.flush()
        self._folded.add(machine)
        self._scopes[machine] = e.UpdateScope.HISTORY
        # what this batch has written need not be read again
        rows, known = self.reader.db.fetch(queries.of_machine(machine)), self.reader.known()
        entries = [self.written.get(row[0]) or entry_of(row) for row in rows]
        self._impossible[machine] = contradicted(entries, known)
        return fold(machine, entries, known)

    def state_at(self, machine: str, at: datetime) -> MachineState | None:
        """A machine's state as it was at a moment."""
        state = self.state(machine)
        # what a clock that was ahead has dated later than now is there all the same
        if (
            state is None
            or state.last is None
            or at >= state.last[0]
            or (self._end.is_behind and at >= e.kept(self.now))
        ):
            return state
        self.flush()
        return self.reader.fold(machine, at)

    def finish(self, progress: Progress = no_progress) -> None:
        """Insert what waits and keep the states of all machines that were touched; `progress` is told how many.

        Raises Refused where a reading that was possible before would be impossible now.
        """
        self.flush()
        self.reader.cache.drop_all("night")  # which lane is next hangs on runs, holds, sets, places and fields
        if any(self._ahead.values()):
            self._keep_doubts()
        touched = sorted({*self._waiting, *self._again})
        for machine in with_progress(touched, len(touched), progress):
            self.state(machine)
        for machine in sorted(self._past_changed):
            self._refuse_contradictions(machine)
        for machine, state in sorted(self._states.items()):
            if state is not None and state.card:
                states.keep(self.reader, machine, state, self._scopes.get(machine, e.UpdateScope.NOTHING))
            if machine in self._folded:
                self.reader.cache.put((FOLDED, machine), state)
            else:
                self.reader.cache.drop((FOLDED, machine))

    def _keep_doubts(self) -> None:
        """Keep what is doubtful from now on, which can change people, plans and machines."""
        self.flush()
        self._again |= doubts.refresh(self.reader.db, [self.reader.terminal])
        self.reader.cache.clear()
        self._keep_foreign()

    def _keep_foreign(self) -> None:
        """Keep what of other registers does not count from now on."""
        if foreign.brought(self.reader.db):
            self._again |= foreign.refresh(self.reader)

    def _take(self, entry: e.Entry) -> None:
        self._again |= states.changed_by(self.reader, entry.what, entry.machine)
        if entry.what.for_all:
            self._keep_foreign()
        machine = entry.machine
        if machine is not None:
            # whatever names a machine moves the end of its history, even where it changes nothing else
            scope = max(entry.what.reaches, e.UpdateScope.STATE)
            self._waiting.setdefault(machine, []).append(entry)
            self._scopes[machine] = max(scope, self._scopes.get(machine, scope))

    def _refuse_contradictions(self, machine: str) -> None:
        """Refuse what would make a reading impossible that was possible before."""
        wrong = self._impossible[machine]
        if wrong:
            others = [one for one in self.reader.of_machine(machine) if one.id not in self.written]
            before = contradicted(others, self.reader.known())
            for id, why in wrong.items():
                if id not in before:
                    raise Refused(why)
