"""What one transaction writes: the machines that it touches are folded as it goes, and kept when it ends.

The rules of this file: an entry that comes last in order is folded on, with those beside it, once the state is asked
for; one that comes earlier, or takes another back, has its machine folded again from the beginning. What derives from
the entries is kept by `rollup.py`.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from datetime import date, datetime, tzinfo
from functools import cached_property
from typing import TYPE_CHECKING, Any

from reelcare.core import entries as e
from reelcare.core.checks.clearance import AHEAD
from reelcare.core.fold import advance, contradicted, fold
from reelcare.core.machine.card import Card, read_card
from reelcare.core.service.plan import Plan
from reelcare.core.state.machine_state import MachineState
from reelcare.core.timestamps import day_of
from reelcare.register import schema
from reelcare.register.chain_end import ChainEnd
from reelcare.register.errors import Refused
from reelcare.register.moments import milliseconds
from reelcare.register.progress import Progress, quietly
from reelcare.register.questions import STANDS
from reelcare.register.rollup import keep, kept, worked_out

if TYPE_CHECKING:
    from reelcare.register.register import Register


class Place:
    """What the door knows around an entry (`entries.Context`), each asked for once and only where it is wanted.

    One that is `alone` is for many runs that are held against each other elsewhere.
    """

    def __init__(self, work: Work, machine: str | None, at: datetime, now: datetime, *, alone: bool) -> None:
        self._work, self._register, self._alone = work, work.register, alone
        self.machine, self.at, self.now = machine, at, now
        self.zone: tzinfo = work.register.zone

    @cached_property
    def state(self) -> MachineState | None:
        """The machine as it stood then."""
        return None if self.machine is None else self._work.state_at(self.machine, self.at)

    @cached_property
    def card(self) -> Card | None:
        """The machine's newest card."""
        return None if self.machine is None else self._work.card(self.machine)

    @cached_property
    def plan(self) -> Plan | None:
        """The plan in force then."""
        return None if self.machine is None else self._register.plan(self.machine, self.at)

    @cached_property
    def in_use_since(self) -> date | None:
        """The day before which nothing can have happened."""
        if self.card is not None and self.card.in_use_since is not None:
            return self.card.in_use_since
        begun = self._begun
        return day_of(begun[0], self.zone) if begun is not None and begun[1] - begun[0] > AHEAD else None

    @property
    def _begun(self) -> tuple[datetime, datetime] | None:
        return None if self.machine is None else self._register.begun(self.machine)

    @property
    def carded(self) -> datetime | None:
        """When the machine was first carded."""
        return self._begun[0] if self._begun is not None else None

    @property
    def roles(self) -> Mapping[str, str]:
        """Everybody enrolled now, with their role."""
        return self._register.roles()

    def run_after(self, moment: datetime) -> e.Run | None:
        """The machine's first run that counts and ended after a moment."""
        if self._alone:
            return None
        later = self._register.entries(
            f"machine = ? AND kind = 'run' AND happened > ? AND {STANDS} ORDER BY happened LIMIT 1",
            self.machine, milliseconds(moment),
        )  # fmt: skip
        return next((one.what for one in later if isinstance(one.what, e.Run)), None)

    def machine_with_tag(self, tag: str) -> str | None:
        """The id of another machine that has this tag."""
        from reelcare.register.register import plain

        other = schema.rows(
            self._register.db,
            "SELECT machine FROM machine_now WHERE LOWER(tag) = ? AND machine <> ?",
            plain(tag),
            self.machine or "",
        )
        return str(other[0][0]) if other else None

    def entry(self, id: str) -> e.Entry | None:
        """The entry of this very id."""
        found = self._register.entry(id)
        return found if found is not None and found.id == id else None

    def is_cancelled(self, id: str) -> bool:
        """Whether a correction of this entry stands."""
        return bool(self._register.entries(f"kind = 'correction' AND refers = ? AND {STANDS}", id))


class Work:
    """The states that one transaction touches, folded as it writes and kept when it ends."""

    def __init__(self, register: Register) -> None:
        self.register = register
        self._states: dict[str, MachineState | None] = {}
        self._waiting: dict[str, list[e.Entry]] = {}
        """What is to be folded on, by machine."""
        self._again: set[str] = set()
        self.known: dict[str, list[e.Entry]] = {}
        """All entries of a machine, where so many are written that they are not read back."""
        self._reach: dict[str, e.UpdateScope] = {}
        self._cards: dict[str, tuple[Mapping[str, Any], Card]] = {}
        self._written: set[str] = set()

    def _known(self, machine: str) -> MachineState | None:
        """A machine's state without what waits to be folded on; its card is the newest all the same."""
        if machine not in self._states:
            again = machine in self._again
            self._states[machine] = worked_out(self.register, machine) if again else kept(self.register, machine)
        return self._states[machine]

    def _state(self, machine: str) -> MachineState | None:
        """A machine's state with all that was taken so far."""
        state = self._known(machine)
        waiting = self._waiting.pop(machine, None)
        if waiting and machine not in self._again:
            state = self._states[machine] = self._folded_on(machine, state, waiting)
        return state

    def _folded_on(self, machine: str, state: MachineState | None, entries: list[e.Entry]) -> MachineState | None:
        for one in entries:
            self._reach[machine] = max(one.what.reaches, self._reach.get(machine, one.what.reaches))
        known = self.register.known()
        if state is None:
            return fold(machine, entries, known)
        found = advance(state, entries, known)
        if found is None:
            self._again.add(machine)
            found = worked_out(self.register, machine)
        return found

    def _is_late(self, entry: e.Entry, machine: str) -> bool:
        """Whether an entry of a machine comes before another in order that was taken already."""
        waiting = self._waiting.get(machine)
        if waiting:
            return entry.order < waiting[-1].order
        state = self._known(machine)
        return state is not None and state.last is not None and entry.order < state.last

    def card(self, machine: str) -> Card | None:
        """A machine's card, read once as long as it is the same."""
        state = self._known(machine)
        if state is None or not state.card:
            return None
        read = self._cards.get(machine) or self.register.kept_card
        if read is None or read[0] is not state.card:
            read = (state.card, read_card(state.card))
        self._cards[machine] = self.register.kept_card = read
        return read[1]

    def state_at(self, machine: str, at: datetime) -> MachineState | None:
        """A machine as it stood at a moment, with all that was taken so far."""
        state = self._state(machine)
        if machine in self._again or (state is not None and state.last is not None and at < state.last[0]):
            return worked_out(self.register, machine, at)
        return state

    def place(self, machine: str | None, at: datetime, now: datetime, *, alone: bool = False) -> Place:
        """What is to be known around an entry of this machine at this moment."""
        return Place(self, machine, at, now, alone=alone)

    def take(self, entry: e.Entry) -> None:
        """One entry written: it is to be folded on, or its machine to be folded again."""
        self._written.add(entry.id)
        what, machine = entry.what, entry.machine
        if isinstance(what, e.Planned) and machine is None:
            self._again.update(all_machines(self.register))
        if isinstance(what, e.Correction):
            for one in borne_on(self.register, what.entry):
                self._fold_again(one, what)
        if machine is None or isinstance(what, e.Sheeted):
            return
        if machine in self.known:
            self.known[machine].append(entry)
        if machine in self._again or what.reaches is e.UpdateScope.HISTORY or self._is_late(entry, machine):
            self._fold_again(machine, what)
            return
        self._waiting.setdefault(machine, []).append(entry)
        if isinstance(what, e.Carded):
            self._state(machine)

    def _fold_again(self, machine: str, what: e.Kind) -> None:
        """A machine to be folded again, since this was written; its newest card can be another one."""
        self._again.add(machine)
        if isinstance(what, (e.Carded, e.Correction)):
            self._states.pop(machine, None)

    def take_runs(self, machine: str, entries: list[e.Entry]) -> None:
        """Runs of one machine written, in their order."""
        if machine in self.known:
            self.known[machine] += entries
        if machine in self._again or self._known(machine) is None or self._is_late(entries[0], machine):
            self._again.add(machine)
            return
        self._waiting.setdefault(machine, []).extend(entries)

    def finish(self) -> None:
        """Keep what was folded."""
        for machine in list(self._waiting):
            self._state(machine)
        for machine in self._again:
            known = self.known.get(machine)
            if known is None:
                known = self.register.of_machine(machine)
            self._refuse_contradictions(known)
            self._states[machine] = worked_out(self.register, machine, known=known)
        for machine, state in self._states.items():
            if state is not None:
                whole = machine in self._again
                reach = e.UpdateScope.HISTORY if whole else self._reach.get(machine, e.UpdateScope.STATE)
                keep(self.register, machine, state, reach)

    def _refuse_contradictions(self, known: list[e.Entry]) -> None:
        """Refuse what would make a reading impossible that was possible before."""
        wrong = contradicted(known)
        if wrong:
            before = contradicted([one for one in known if one.id not in self._written])
            new = [why for id, why in wrong.items() if id not in before]
            if new:
                raise Refused(new[0])


def all_machines(register: Register) -> list[str]:
    """The ids of all machines."""
    return [str(one[0]) for one in schema.rows(register.db, "SELECT machine FROM machine_now")]


def borne_on(register: Register, id: str) -> list[str]:
    """The machines to be folded again where an entry is taken back, whichever machine its correction names."""
    entry = register.entry(id)
    if entry is None:
        return []
    return [entry.machine] if entry.machine else all_machines(register)


def write_runs(
    register: Register,
    runs: Sequence[tuple[str, e.Run, int]],
    *,
    by: str,
    now: datetime,
    progress: Progress = quietly,
) -> None:
    """Write runs that were admitted before, by machine and then by their ends [ms], and bring each machine's rows up
    to date.

    Every machine's runs stand together: so they are folded at once.
    """
    if not runs:
        return
    with register.writing():
        work = Work(register)
        for machine in {machine for machine, _, _ in runs}:
            work.known[machine] = register.of_machine(machine)
        written = ChainEnd(register, by=by, now=now).add_runs(runs, progress)
        for machine, entries in itertools.groupby(written, key=lambda one: one.machine):
            work.take_runs(str(machine), list(entries))
        work.finish()
