"""What one transaction writes: the machines that it touches are folded as it goes, and kept when it ends.

The rules of this file: an entry that comes last in order is folded on; one that comes earlier, or takes another back,
has its machine folded again from the beginning. What derives from the entries is kept by `rollup.py`.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from reelcare.core import admit
from reelcare.core import entries as e
from reelcare.core.machine.card import Card, read_card
from reelcare.core.upkeep import tally as tallying
from reelcare.core.upkeep.tally import Tally
from reelcare.register import schema
from reelcare.register.errors import Refused
from reelcare.register.progress import Progress, quietly
from reelcare.register.rollup import has_passed, keep, kept, worked_out

if TYPE_CHECKING:
    from reelcare.register.register import Register


class Work:
    """The tallies that one transaction touches, folded as it writes and kept when it ends."""

    def __init__(self, register: Register, now: datetime) -> None:
        self._register = register
        self._now = now
        self._tallies: dict[str, Tally | None] = {}
        self._again: set[str] = set()
        self.known: dict[str, list[e.Entry]] = {}
        """All entries of a machine, where so many are written that they are not read back."""
        self._plans: tallying.PlanBook | None = None
        self._cycles_moved: set[str] = set()
        self._written: set[str] = set()

    def _tally(self, machine: str) -> Tally | None:
        if machine not in self._tallies:
            self._tallies[machine] = kept(self._register, machine)
        return self._tallies[machine]

    def place(self, machine: str | None, at: datetime, now: datetime) -> admit.Place:
        """What `admit` needs to know around an entry of this machine at this moment."""
        zone = self._register.zone
        if machine is None:
            return admit.Place(at=at, now=now, zone=zone)
        tally = self._tally(machine)
        if machine in self._again or (tally is not None and tally.last is not None and at < tally.last[0]):
            then = worked_out(self._register, machine, at)
        else:
            then = tally
        card = read_card(tally.card) if tally is not None and tally.card else None
        carded = self._register.entries("id = ?", machine)
        return admit.Place(
            at=at,
            now=now,
            zone=zone,
            tally=then,
            card=card,
            plan=self._register.plan(machine, at),
            in_use_since=_in_use_since(card, carded, zone),
            carded=carded[0].happened if carded else None,
        )

    def take(self, entry: e.Entry) -> None:
        """One entry written: fold it on, or mark its machine to be folded again."""
        self._written.add(entry.id)
        if isinstance(entry.what, e.Planned) and entry.machine is None:
            self._again.update(self._all_machines())
        if isinstance(entry.what, e.Correction):
            self._take_back(entry.what.entry)
        if entry.machine is None or isinstance(entry.what, e.Sheeted):
            return
        if entry.machine in self.known:
            self.known[entry.machine].append(entry)
        if entry.machine in self._again:
            return
        tally = self._tally(entry.machine)
        if self._plans is None or isinstance(entry.what, (e.Planned, e.Correction)):
            self._plans = self._register.plans()
        plans = self._plans
        late = tally is not None and tally.last is not None and entry.order < tally.last
        if late or isinstance(entry.what, (e.Correction, e.Planned)):
            self._again.add(entry.machine)
            return
        if tally is None:
            tally = tallying.begin(entry.machine, tallying.day_of(entry.happened, plans.zone))
        if not isinstance(entry.what, _LEAVE_CYCLES):
            self._cycles_moved.add(entry.machine)
        self._tallies[entry.machine] = tallying.fold(tally, entry, plans)

    def _take_back(self, id: str) -> None:
        """Whatever an entry that is taken back bears on is folded again, whichever machine its correction names."""
        taken_back = self._register.entry(id)
        if taken_back is not None:
            self._again.update([taken_back.machine] if taken_back.machine else self._all_machines())

    def take_runs(self, machine: str, entries: list[e.Entry]) -> None:
        """Runs of one machine written, in their order."""
        if machine in self.known:
            self.known[machine] += entries
        tally = self._tally(machine)
        if machine in self._again or tally is None or (tally.last is not None and entries[0].order < tally.last):
            self._again.add(machine)
            return
        if self._plans is None:
            self._plans = self._register.plans()
        self._tallies[machine] = tallying.fold_runs(tally, entries, self._plans)

    def _all_machines(self) -> list[str]:
        return [str(one[0]) for one in schema.rows(self._register.db, "SELECT machine FROM machine_now")]

    def finish(self) -> None:
        """Keep what was folded."""
        for machine in self._again:
            known = self.known.get(machine)
            if known is None:
                known = self._register.of_machine(machine)
            self._refuse_contradictions(known)
            self._tallies[machine] = worked_out(self._register, machine, known=known)
        for machine, tally in self._tallies.items():
            if tally is not None:
                settled = tallying.settle(tally, lambda one: has_passed(self._register, one, None))
                keep(self._register, machine, settled, items=machine in self._again | self._cycles_moved)

    def _refuse_contradictions(self, known: list[e.Entry]) -> None:
        """Refuse what would make a reading impossible that was possible before."""
        wrong = tallying.contradicted(known)
        if wrong:
            before = tallying.contradicted([one for one in known if one.id not in self._written])
            new = [why for id, why in wrong.items() if id not in before]
            if new:
                raise Refused(new[0])


_LEAVE_CYCLES = (
    e.Run,
    e.Reading,
    e.Answered,
    e.CheckBegun,
    e.Fault,
    e.Retest,
    e.Release,
    e.SetPlanned,
)
"""Entries after which every item still counts from where it did, so that its thresholds need not be written."""


def _in_use_since(card: Card | None, carded: list[e.Entry], zone: Any) -> date | None:
    """The day before which nothing can have happened: the card's, or that of a carding that was dated back."""
    if card is not None and card.in_use_since is not None:
        return card.in_use_since
    if carded and carded[0].recorded - carded[0].happened > admit.AHEAD:
        return tallying.day_of(carded[0].happened, zone)
    return None


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
        work = Work(register, now)
        for machine in {machine for machine, _, _ in runs}:
            work.known[machine] = register.of_machine(machine)
        written = register.append_runs(runs, by=by, now=now, progress=progress)
        for machine, entries in itertools.groupby(written, key=lambda one: one.machine):
            work.take_runs(str(machine), list(entries))
        work.finish()
