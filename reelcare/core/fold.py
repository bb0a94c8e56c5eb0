"""The fold: a machine's state from its entries, one after the other.

The rules of this file: a state is a pure function of the machine's entries and of what is known beside them (plans, the
zone of days, sheets, this register's view of what others wrote). Entries count in their order (`Entry.order`) and
without those that are cancelled, whichever way they came in; what a clock dated that was ahead counts where it was
written, so that it neither hides what came after it nor is charged to it. Folding on with newer entries gives what
folding all of them again gives.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta, tzinfo
from itertools import takewhile

from reelcare.core import entries as e
from reelcare.core.state import counters as counting
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.machine_state import MachineState, first_point
from reelcare.core.state.plans import Known
from reelcare.core.timestamps import day_of

_NOTHING = Known()


def fold(machine: str, entries: Iterable[e.Entry], known: Known) -> MachineState | None:
    """The state of a machine from all its entries, corrections among them, in any order; None where none counts."""
    standing = effective(entries, known)
    begun = _begin(machine, standing, known)
    return _folded(begun, standing, known) if begun is not None else None


def in_turn(machine: str, entries: Iterable[e.Entry], known: Known) -> Iterator[tuple[e.Entry, FoldState]]:
    """Every entry that counts, in order, with the state before it: to be read at once, for it goes on changing.

    After the last one the state is the one after all of them.
    """
    standing = effective(entries, known)
    state = _begin(machine, standing, known)
    if state is None:
        return
    for one in standing:
        if one.id not in known.uncounted.waiting:
            yield one, state
        _apply(state, one, known)


def _begin(machine: str, standing: Sequence[e.Entry], known: Known) -> FoldState | None:
    """A machine of which nothing was folded yet; None where nothing of it counts."""
    waiting = known.uncounted.waiting
    these = [one for one in standing if one.id not in waiting] if waiting else standing
    if not these:
        return None
    cards = [one.what.card for one in these if isinstance(one.what, e.Carded)] or [{}]
    # a day that only strangers tell of vouches for nothing
    ours = [one for one in these if one.id not in known.uncounted.told] or these
    # nor does what is told of an earlier time, but by a run: nobody counted what was done between
    kept = [one for one in ours if isinstance(one.what, (e.Carded, e.Run))] or ours
    began = first_day(sorted(one.happened for one in kept), known.zone)
    start = first_point(began, cards[-1])
    return FoldState(
        machine=machine, began=began, start=start, first_card=cards[0], last_card=cards[-1],
        counters=counting.start(*start.totals),
    )  # fmt: skip


def advance(state: MachineState, entries: Iterable[e.Entry], known: Known) -> MachineState | None:
    """The state after newer entries of its machine; None where the machine must be folded again.

    That is so where one of them comes before what was folded already, changes what earlier entries did, tells another
    beginning of its use, or falls on a day before the first (a clock that is put back at midnight shows it once more);
    and where there is no card yet.
    """
    newer = sorted(entries, key=lambda one: one.order)
    if not newer:
        return state
    if not state.card or state.last is None or newer[0].order < state.last:
        return None
    if any(one.what.reaches is e.UpdateScope.HISTORY or _begins_otherwise(one.what, state) for one in newer):
        return None
    ours = [one.happened for one in newer if one.id not in known.uncounted.told]
    if ours and first_day(ours, known.zone) < state.began:
        return None
    return _folded(FoldState.of(state), newer, known)


def _begins_otherwise(what: e.Kind, state: MachineState) -> bool:
    """Whether a card says another day, or other counters, with which the machine's use began, or another season: the
    dates of what was done before stand on that."""
    return isinstance(what, e.Carded) and any(what.card.get(key) != state.card.get(key) for key in BEGINNING)


BEGINNING = ("in_use_since", "in_use", "season")
"""The keys of a card that say with what a machine's use began, and on which days of the year its dates stand."""


def _folded(state: FoldState, entries: Sequence[e.Entry], known: Known) -> MachineState:
    for one in entries:
        _apply(state, one, known)
    return state.freeze(entries[-1].order)


def _apply(state: FoldState, one: e.Entry, known: Known) -> None:
    """Do to a state what an entry does in this register."""
    uncounted, what = known.uncounted, one.what
    if one.id in uncounted.waiting:
        what.apply_waiting(state, one, known)
    elif one.id in uncounted.told and isinstance(what, (e.Run, e.Reading)):
        what.apply_unaccepted(state, one, known)
    else:
        what.apply(state, one, known)


def effective(entries: Iterable[e.Entry], known: Known = _NOTHING) -> list[e.Entry]:
    """The entries that count here or wait to do so, in order: without those cancelled by a correction that itself
    still stands."""
    waiting, out, _told = known.uncounted
    ordered = sorted((one for one in entries if one.id not in out) if out else entries, key=lambda one: one.order)
    gone = e.cancelled([one for one in ordered if one.id not in waiting] if waiting else ordered)
    if gone:
        ordered = [one for one in ordered if one.id not in gone]
    return as_written(ordered, known.doubtful)


def counted(entries: Iterable[e.Entry], known: Known) -> list[e.Entry]:
    """The entries that count here, in order: `effective` without those that wait to be accepted."""
    waiting = known.uncounted.waiting
    return [one for one in effective(entries, known) if one.id not in waiting]


def as_written(entries: list[e.Entry], written: Mapping[str, datetime]) -> list[e.Entry]:
    """The entries in their order, where a clock that was ahead dated some of them: what an entry tells of had happened
    when it was `written`. Signatures of checks stay where they are: they clear nothing."""
    if not any(one.id in written for one in entries):
        return entries
    true = [
        one._replace(happened=min(one.happened, written[one.id]))
        if one.id in written and not isinstance(one.what, (e.GateSigned, e.CheckEnded))
        else one
        for one in entries
    ]
    return sorted(true, key=lambda one: one.order)


def first_day(moments: Iterable[datetime], zone: tzinfo) -> date:
    """The first of the days that one moment or more fall on, which come in their order.

    It need not be the first moment's: a clock that is put back at midnight shows the day before once more.
    """
    moments = iter(moments)
    first = next(moments)
    near = takewhile(lambda one: one - first <= _A_DAY, moments)
    return min(day_of(one, zone) for one in (first, *near))


_A_DAY = timedelta(days=1)


def contradicted(entries: Iterable[e.Entry], known: Known = _NOTHING) -> dict[str, str]:
    """The readings of a machine that cannot be, with why, by id; they count for nothing."""
    counters, found = counting.start(), {}
    for one in effective(entries, known):
        what = one.what
        if one.id in known.uncounted.told:
            continue
        if isinstance(what, e.Reading):
            try:
                sure = one.id not in known.doubtful
                counters = counting.after_reading(counters, what, one.happened, sure=sure, zone=known.zone)
            except counting.CounterError as why:
                found[one.id] = str(why)
        elif isinstance(what, e.Run):
            counters = counting.after_run(counters, what.started, what.ended, what.metres)
    return found
