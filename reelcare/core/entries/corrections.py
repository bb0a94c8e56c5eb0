"""Corrections: an earlier entry is cancelled, and both stay visible."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from reelcare.core import units
from reelcare.core.entries.base import SHORTEST_WHY, Context, Entry, Json, Kind, UpdateScope, WaitsFor
from reelcare.core.entries.cards import Carded
from reelcare.core.entries.carried import CarriedIn
from reelcare.core.entries.checks import Sheeted
from reelcare.core.entries.faults import Fault
from reelcare.core.entries.people import Enrolled
from reelcare.core.entries.runs import Reading, Run
from reelcare.core.entries.work import Measured, Noted, Service, SetPlanned
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.plans import Known
from reelcare.core.text import _, mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction(Kind):
    """An earlier entry taken back, with the reason. Both stay visible; only what follows from it changes.

    One's own slip is cancelled by oneself within `SLIP`, while nothing was recorded after it (`is_slip`); everything
    else takes a supervisor.
    """

    kind = "correction"
    least_role = "supervisor"
    reaches = UpdateScope.HISTORY
    news = "good"
    for_all = True
    after_retirement = True
    looked_up_by = "entry"
    entry: str
    why: str

    def problems(self, context: Context) -> Iterator[str]:
        """There is a reason, and the entry can be taken back."""
        if len(self.why) < SHORTEST_WHY:
            yield _("why: say in a few words why the entry is taken back")
        entry = context.entry(self.entry)
        if entry is None:
            yield _("{entry}: no such entry", entry=self.entry)
        elif context.is_cancelled(self.entry):
            yield _("{entry}: taken back already", entry=self.entry)
        else:
            yield from self._final(entry, context)

    def _final(self, entry: Entry, context: Context) -> Iterator[str]:
        """Why an entry that counts is not taken back."""
        what = entry.what
        if isinstance(what, Correction):
            first = context.entry(what.entry)
            if first is not None and isinstance(first.what, Correction):
                yield _("this correction is final: write the entry again instead")
            elif (tag := context.moved_to(entry.id)) is not None:
                yield _("it was moved to {tag}, and would count for both: take it back there first", tag=tag)
            elif first is not None and isinstance(first.what, Run):
                yield from _stands_in_its_way(first.what, context)
        else:
            why = never_taken_back(entry)
            if why:
                yield why

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """Nothing: what it cancels is not folded in."""

    def describe(self, system: units.System = "metric") -> str:
        return _("takes back {entry}: {why}", entry=self.entry[-8:], why=self.why)


def _stands_in_its_way(run: Run, context: Context) -> Iterator[str]:
    """The run that was logged meanwhile for the time of one that would count again."""
    if (other := run.other_then(context)) is not None:
        says = mark(
            "the run would count again, and overlaps that of {started:%Y-%m-%d %H:%M} to {ended:%H:%M}: take that one "
            "back first"
        )
        yield _(says, started=other[0], ended=other[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored(Kind):
    """Going back to a copy: from which heads of the chains to which, each {terminal: [count, digest]}, and why.

    What the set-aside file still had is in the register again; what only its heads show is gone, and this says so.
    """

    kind = "restore"
    least_role = "supervisor"
    reaches = UpdateScope.NOTHING
    news = "good"
    for_all = True
    why: str
    before: Mapping[str, Json]
    after: Mapping[str, Json]

    def problems(self, context: Context) -> Iterator[str]:
        if len(self.why) < SHORTEST_WHY:
            yield _("why: say in a few words why the register goes back to a copy")

    def waits_for(self, entry: Entry) -> WaitsFor:
        """Nothing: what another register went through changes nothing here."""
        return ""

    def describe(self, system: units.System = "metric") -> str:
        return _("went back to a copy: {why}", why=self.why)


SLIP = timedelta(minutes=10)
"""For how long somebody may cancel what they have just written (common practice, no source)."""


def is_slip(entry: Entry, by: str, now: datetime) -> bool:
    """Whether an entry is a person's own and so new that they may cancel it themselves, while nothing was recorded
    after it: never a gate, an answer, a test, a hold or a release, nor what only a supervisor writes."""
    if isinstance(entry.what, Fault) and entry.what.holds:
        return False
    return isinstance(entry.what, SLIPS) and entry.by == by and timedelta(0) <= now - entry.recorded <= SLIP


SLIPS = (Reading, Run, Service, Measured, SetPlanned, Noted, Fault)
"""What can be a slip."""

KINDS: tuple[type[Kind], ...] = (Correction, Restored)


def never_taken_back(entry: Entry) -> str:
    """Why an entry that is no correction may be taken back by nobody, with what to do instead; '' where it may be."""
    what = entry.what
    if isinstance(what, Fault) and what.holds:
        return _("a hold is not taken back: repair it, test it again and release it")
    if isinstance(what, (Enrolled, Sheeted, CarriedIn, Restored)):
        return _("a {kind} entry is not taken back: write a new one", kind=_(what.kind))
    if isinstance(what, Carded) and entry.id == entry.machine:
        return _("a machine's first card is not taken back: revise the card")
    return ""


def cancelled(entries: Iterable[Entry]) -> set[str]:
    """The ids of what is cancelled by a correction among these that itself still stands, whatever their clocks said."""
    cancels = {one.id: one.what.entry for one in entries if isinstance(one.what, Correction)}
    found: set[str] = set()
    speak_against = Counter(target for target in cancels.values() if target in cancels)
    decided = [id for id in cancels if id not in speak_against]
    while decided:
        id = decided.pop()
        target = cancels[id]
        if id not in found:
            found.add(target)
        speak_against[target] -= 1
        if speak_against[target] == 0 and target in cancels:
            decided.append(target)
    return found
