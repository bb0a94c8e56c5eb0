"""What one transaction writes: the machines that it touches are folded as it goes, and kept when it ends.

The rules of this file: an entry that comes last in order is folded on, with those beside it, once the tally is asked
for; one that comes earlier, or takes another back, has its machine folded again from the beginning. What derives from
the entries is kept by `rollup.py`.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from reelcare.core import admit
from reelcare.core import entries as e
from reelcare.core.machine.card import Card, read_card
from reelcare.core.state import tally as tallying
from reelcare.core.state.tally import Tally
from reelcare.register import schema
from reelcare.register.chain_end import ChainEnd
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
        self._waiting: dict[str, list[e.Entry]] = {}
        """What is to be folded on, by machine."""
        self._again: set[str] = set()
        self.known: dict[str, list[e.Entry]] = {}
        """All entries of a machine, where so many are written that they are not read back."""
        self._reach: dict[str, Reach] = {}
        self._cards: dict[str, tuple[Mapping[str, Any], Card]] = {}
        self._near: tuple[str, admit.Place] | None = None
        """The machine and the place that were asked for last, where it was for an entry by its time alone."""
        self._written: set[str] = set()

    def _known(self, machine: str) -> Tally | None:
        """A machine's tally without what waits to be folded on; its card is the newest all the same."""
        if machine not in self._tallies:
            again = machine in self._again
            self._tallies[machine] = worked_out(self._register, machine) if again else kept(self._register, machine)
        return self._tallies[machine]

    def _tally(self, machine: str) -> Tally | None:
        """A machine's tally with all that was taken so far."""
        tally = self._known(machine)
        waiting = self._waiting.pop(machine, None)
        if waiting and machine not in self._again:
            tally = self._tallies[machine] = self._folded_on(machine, tally, waiting)
        return tally

    def _folded_on(self, machine: str, tally: Tally | None, entries: list[e.Entry]) -> Tally:
        plans = self._register.plans()
        began = tallying.first_day((one.happened for one in entries), plans.zone)
        if tally is None:
            tally = tallying.begin(machine, began)
        elif began < tally.began:
            self._again.add(machine)  # a clock that was put back shows the day before its first one once more
        for kind in {type(one.what) for one in entries}:
            self._reaches(machine, _REACHES.get(kind, Reach.CYCLES))
        return tallying.fold_together(tally, entries, plans)

    def _is_late(self, entry: e.Entry, machine: str) -> bool:
        """Whether an entry of a machine comes before another in order that was taken already."""
        waiting = self._waiting.get(machine)
        if waiting:
            return entry.order < waiting[-1].order
        tally = self._known(machine)
        return tally is not None and tally.last is not None and entry.order < tally.last

    def _card(self, machine: str, tally: Tally | None) -> Card | None:
        """A machine's card, read once as long as it is the same."""
        if tally is None or not tally.card:
            return None
        read = self._cards.get(machine) or self._register.kept_card
        if read is None or read[0] is not tally.card:
            read = (tally.card, read_card(tally.card))
        self._cards[machine] = self._register.kept_card = read
        return read[1]

    def place(self, kind: type[e.What], machine: str | None, at: datetime, now: datetime) -> admit.Place:
        """What `admit` needs to know around an entry of a kind, of this machine at this moment."""
        zone = self._register.zone
        if machine is None:
            return admit.Place(at=at, now=now, zone=zone)
        if kind in admit.ALONE:
            return self._place_in_time(machine, at, now)
        tally = self._tally(machine)
        if machine in self._again or (tally is not None and tally.last is not None and at < tally.last[0]):
            then = worked_out(self._register, machine, at)
        else:
            then = tally
        return replace(
            self._place_in_time(machine, at, now),
            tally=then,
            card=self._card(machine, tally),
            plan=self._register.plan(machine, at),
        )

    def _place_in_time(self, machine: str, at: datetime, now: datetime) -> admit.Place:
        """What is to be known around an entry that is held against its time alone."""
        if self._near is not None:
            last, place = self._near
            if last == machine and place.at == at and place.now == now:
                return place
        begun = self._register.begun(machine)
        card, zone = self._card(machine, self._known(machine)), self._register.zone
        since, carded = _in_use_since(card, begun, zone), begun[0] if begun else None
        place = admit.Place(at=at, now=now, zone=zone, in_use_since=since, carded=carded)
        self._near = (machine, place)
        return place

    def take(self, entry: e.Entry) -> None:
        """One entry written: it is to be folded on, or its machine to be folded again."""
        self._written.add(entry.id)
        what, machine = entry.what, entry.machine
        if isinstance(what, e.Planned) and machine is None:
            self._again.update(all_machines(self._register))
        if isinstance(what, e.Correction):
            for one in borne_on(self._register, what.entry):
                self._fold_again(one, what)
        if machine is None or isinstance(what, e.Sheeted):
            return
        if machine in self.known:
            self.known[machine].append(entry)
        if machine in self._again or isinstance(what, (e.Correction, e.Planned)) or self._is_late(entry, machine):
            self._fold_again(machine, what)
            return
        self._waiting.setdefault(machine, []).append(entry)
        if isinstance(what, e.Carded):
            self._near = None  # a card says since when its machine is in use
            self._tally(machine)

    def _fold_again(self, machine: str, what: e.What) -> None:
        """A machine to be folded again, since this was written; its newest card can be another one."""
        self._again.add(machine)
        if isinstance(what, (e.Carded, e.Correction)):
            self._near = None
            self._tallies.pop(machine, None)

    def take_runs(self, machine: str, entries: list[e.Entry]) -> None:
        """Runs of one machine written, in their order."""
        if machine in self.known:
            self.known[machine] += entries
        if machine in self._again or self._known(machine) is None or self._is_late(entries[0], machine):
            self._again.add(machine)
            return
        self._waiting.setdefault(machine, []).extend(entries)

    def _reaches(self, machine: str, reach: Reach) -> None:
        self._reach[machine] = max(reach, self._reach.get(machine, reach))

    def finish(self) -> None:
        """Keep what was folded."""
        for machine in list(self._waiting):
            self._tally(machine)
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
        written = ChainEnd(register, by=by, now=now).add_runs(runs, progress)
        for machine, entries in itertools.groupby(written, key=lambda one: one.machine):
            work.take_runs(str(machine), list(entries))
        work.finish()
