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
from reelcare.register.rollup import Reach, has_passed, keep, kept, worked_out

if TYPE_CHECKING:
    from reelcare.register.register import Register


class Work:
    """The tallies that one transaction touches, folded as it writes and kept when it ends."""

    def __init__(self, register: Register) -> None:
        self._register = register
        self._tallies: dict[str, Tally | None] = {}
        self._again: set[str] = set()
        self.known: dict[str, list[e.Entry]] = {}
        """All entries of a machine, where so many are written that they are not read back."""
        self._reach: dict[str, Reach] = {}
        self._cards: dict[str, tuple[object, Card]] = {}
        self._written: set[str] = set()

    def _tally(self, machine: str) -> Tally | None:
        if machine not in self._tallies:
            self._tallies[machine] = kept(self._register, machine)
        return self._tallies[machine]

    def _card(self, machine: str, tally: Tally | None) -> Card | None:
        """A machine's card, read once as long as it is the same."""
        if tally is None or not tally.card:
            return None
        table, card = self._cards.get(machine, (None, None))
        if card is None or table is not tally.card:
            card = read_card(tally.card)
            self._cards[machine] = (tally.card, card)
        return card

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
        card = self._card(machine, tally)
        begun = self._register.begun(machine)
        return admit.Place(
            at=at,
            now=now,
            zone=zone,
            tally=then,
            card=card,
            plan=self._register.plan(machine, at),
            in_use_since=_in_use_since(card, begun, zone),
            carded=begun[0] if begun else None,
        )

    def take(self, entry: e.Entry) -> None:
        """One entry written: fold it on, or mark its machine to be folded again."""
        self._written.add(entry.id)
        if isinstance(entry.what, e.Planned) and entry.machine is None:
            self._again.update(all_machines(self._register))
        if isinstance(entry.what, e.Correction):
            self._again.update(borne_on(self._register, entry.what.entry))
        if entry.machine is None or isinstance(entry.what, e.Sheeted):
            return
        if entry.machine in self.known:
            self.known[entry.machine].append(entry)
        if entry.machine in self._again:
            return
        tally = self._tally(entry.machine)
        plans = self._register.plans()
        late = tally is not None and tally.last is not None and entry.order < tally.last
        if late or isinstance(entry.what, (e.Correction, e.Planned)):
            self._again.add(entry.machine)
            return
        if tally is None:
            tally = tallying.begin(entry.machine, tallying.day_of(entry.happened, plans.zone))
        self._reaches(entry.machine, _REACHES.get(type(entry.what), Reach.CYCLES))
        self._tallies[entry.machine] = tallying.fold(tally, entry, plans)

    def take_runs(self, machine: str, entries: list[e.Entry]) -> None:
        """Runs of one machine written, in their order."""
        if machine in self.known:
            self.known[machine] += entries
        tally = self._tally(machine)
        if machine in self._again or tally is None or (tally.last is not None and entries[0].order < tally.last):
            self._again.add(machine)
            return
        self._reaches(machine, Reach.TOTALS)
        self._tallies[machine] = tallying.fold_together(tally, entries, self._register.plans())

    def _reaches(self, machine: str, reach: Reach) -> None:
        self._reach[machine] = max(reach, self._reach.get(machine, reach))

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
                reach = Reach.CYCLES if machine in self._again else self._reach.get(machine, Reach.TALLY)
                keep(self._register, machine, settled, reach)

    def _refuse_contradictions(self, known: list[e.Entry]) -> None:
        """Refuse what would make a reading impossible that was possible before."""
        wrong = tallying.contradicted(known)
        if wrong:
            before = tallying.contradicted([one for one in known if one.id not in self._written])
            new = [why for id, why in wrong.items() if id not in before]
            if new:
                raise Refused(new[0])


_REACHES: dict[type[e.What], Reach] = {
    e.CheckBegun: Reach.TALLY,
    e.Answered: Reach.TALLY,
    e.SetPlanned: Reach.TALLY,
    e.Fault: Reach.STANDING,
    e.Retest: Reach.STANDING,
    e.Release: Reach.STANDING,
    e.Run: Reach.TOTALS,
    e.Reading: Reach.TOTALS,
}
"""How far an entry reaches that is folded on; any other may reach the cycles."""


def all_machines(register: Register) -> list[str]:
    """The ids of all machines."""
    return [str(one[0]) for one in schema.rows(register.db, "SELECT machine FROM machine_now")]


def borne_on(register: Register, id: str) -> list[str]:
    """The machines to be folded again where an entry is taken back, whichever machine its correction names."""
    entry = register.entry(id)
    if entry is None:
        return []
    return [entry.machine] if entry.machine else all_machines(register)


def _in_use_since(card: Card | None, begun: tuple[datetime, datetime] | None, zone: Any) -> date | None:
    """The day before which nothing can have happened: the card's, or that of a carding that was dated back."""
    if card is not None and card.in_use_since is not None:
        return card.in_use_since
    if begun is not None and begun[1] - begun[0] > admit.AHEAD:
        return tallying.day_of(begun[0], zone)
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
        work = Work(register)
        for machine in {machine for machine, _, _ in runs}:
            work.known[machine] = register.of_machine(machine)
        written = register.append_runs(runs, by=by, now=now, progress=progress)
        for machine, entries in itertools.groupby(written, key=lambda one: one.machine):
            work.take_runs(str(machine), list(entries))
        work.finish()
