"""What a machine has done and what stands open on it: its entries folded, one after the other.

The rules of this file: `fold` is the only way in which an entry changes a tally, and it is a pure function of
the tally, the entry, and the plans in force. Entries come in their order (`Entry.order`) and without those
that were taken back. A tally is small whatever the length of the history, and has a plain form that a
register can keep; folding all entries again gives the same one.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from itertools import groupby, takewhile
from typing import Any

from reelcare.core import entries as e
from reelcare.core.forecast.forecast import Use
from reelcare.core.machine.card import Season
from reelcare.core.service import due
from reelcare.core.service.plan import Item, Plan
from reelcare.core.state import counters as counting

Json = Any


@dataclass(frozen=True, slots=True)
class OpenFault:
    """A fault that has not been released. `status` is "open", "repaired" or "re-tested"."""

    id: str
    what: e.Fault
    since: datetime
    by: str
    status: str = "open"

    def lapsed(self, totals: counting.Totals, today: date) -> bool:
        """Whether its fix-by limit has been reached, so that it holds by itself."""
        w = self.what
        return (
            (w.fix_by_seconds is not None and totals.seconds >= w.fix_by_seconds)
            or (w.fix_by_millimetres is not None and totals.millimetres >= w.fix_by_millimetres)
            or (w.fix_by_runs is not None and totals.runs >= w.fix_by_runs)
            or (w.fix_by_day is not None and today >= date.fromisoformat(w.fix_by_day))
        )

    def left(self, totals: counting.Totals, today: date) -> list[tuple[str, int]]:
        """What is left of its fix-by limits: ("hours", s), ("metres", mm), ("runs", runs), ("date", days)."""
        w = self.what
        found = [
            ("hours", w.fix_by_seconds, totals.seconds),
            ("metres", w.fix_by_millimetres, totals.millimetres),
            ("runs", w.fix_by_runs, totals.runs),
            ("date", date.fromisoformat(w.fix_by_day).toordinal() if w.fix_by_day else None, today.toordinal()),
        ]
        return [(by, limit - now) for by, limit, now in found if limit is not None]


@dataclass(frozen=True, slots=True)
class OpenCheck:
    """A walk-round that was begun and has not been ended."""

    id: str
    sheet: str
    checks_for: str
    begun: datetime
    by: str
    answered: datetime | None = None


@dataclass(frozen=True, slots=True)
class Passed:
    """The last check signed as complete for the run or the road, and what has used it up since.

    It is a claim until `settle` has had the answers judged again: a wrong, missing or later answer undoes it.
    """

    check: str
    sheet: str
    at: datetime
    by: str
    spent: datetime | None = None
    spent_by: str = ""
    proved: bool = False


@dataclass(frozen=True, slots=True)
class Tally:
    """Everything that decides what a machine may do and needs, worked out from its entries."""

    machine: str
    began: date
    card: Mapping[str, Json] = field(default_factory=dict)
    counters: counting.Counters = field(default_factory=counting.start)
    cycles: Mapping[str, due.Cycle] = field(default_factory=dict)
    faults: tuple[OpenFault, ...] = ()
    checks: tuple[OpenCheck, ...] = ()
    passed: Mapping[str, Passed] = field(default_factory=dict)
    last_check: datetime | None = None
    last_run: datetime | None = None
    use: Use = field(default_factory=Use)
    last: tuple[datetime, datetime, str] | None = None

    @property
    def totals(self) -> counting.Totals:
        """Life totals as they stand."""
        return counting.totals(self.counters)

    def fault(self, id: str) -> OpenFault | None:
        """The open fault of this id."""
        return next((one for one in self.faults if one.id == id), None)


class PlanBook:
    """Which plan was in force for a machine at any moment, and the zone in which days are counted."""

    def __init__(self, put_in_force: Iterable[tuple[datetime, str | None, Plan]] = (), zone: tzinfo = UTC) -> None:
        self.zone = zone
        self._by_machine: dict[str | None, list[tuple[datetime, Plan]]] = {}
        for moment, machine, plan in sorted(put_in_force, key=lambda one: one[0]):
            self._by_machine.setdefault(machine, []).append((moment, plan))

    def at(self, machine: str, moment: datetime) -> Plan:
        """The machine's own plan of that moment, else the one for all; before the first, the first."""
        for key in (machine, None):
            kept = self._by_machine.get(key, [])
            place = bisect_right(kept, moment, key=lambda one: one[0])
            if place:
                return kept[place - 1][1]
        for_all = self._by_machine.get(None)
        return for_all[0][1] if for_all else Plan.empty()

    def newest(self, machine: str) -> Plan:
        """The machine's own newest plan, else the newest for all."""
        kept = self._by_machine.get(machine) or self._by_machine.get(None)
        return kept[-1][1] if kept else Plan.empty()


def begin(machine: str, began: date) -> Tally:
    """The tally of a machine of which nothing is known but the day on which its history begins."""
    return Tally(machine=machine, began=began)


def effective(all_entries: Sequence[e.Entry]) -> list[e.Entry]:
    """The entries that count, in order: without those taken back by a correction that itself still stands."""
    ordered = sorted(all_entries, key=lambda one: one.order)
    gone = taken_back(ordered)
    return [one for one in ordered if one.id not in gone] if gone else ordered


def taken_back(entries: Iterable[e.Entry]) -> set[str]:
    """The ids of what is taken back by a correction among these that itself still stands."""
    found: set[str] = set()
    corrections = [one for one in entries if isinstance(one.what, e.Correction)]
    for one in sorted(corrections, key=lambda one: (one.recorded, one.id), reverse=True):
        if isinstance(one.what, e.Correction) and one.id not in found:
            found.add(one.what.entry)
    return found


def day_of(moment: datetime, zone: tzinfo) -> date:
    """The day of a moment where the machines stand."""
    return moment.astimezone(zone).date()


def point(tally: Tally, day: date) -> due.Point:
    """Where the machine stands on the scales of its intervals."""
    totals = tally.totals
    return due.Point(day=day, seconds=totals.seconds, millimetres=totals.millimetres, runs=totals.runs)


def start_point(tally: Tally) -> due.Point:
    """Where its intervals begin: the day its history begins, with nothing done."""
    return due.Point(day=tally.began, seconds=0, millimetres=0, runs=0)


def cycle_of(tally: Tally, item: Item) -> due.Cycle:
    """How far an item's interval has come: the kept one, or a first one from the machine's beginning."""
    return tally.cycles.get(item.id) or _first_cycle(tally, item)


def _first_cycle(tally: Tally, item: Item) -> due.Cycle:
    return due.begin(item, start_point(tally), season_of(tally.card))


def season_of(card: Mapping[str, Json]) -> Season:
    """When the season opens and closes, as the card says."""
    plain = card.get("season") or {}
    return Season(plain.get("opens"), plain.get("closes"))


def fold(tally: Tally, entry: e.Entry, plans: PlanBook) -> Tally:
    """The tally after one more entry; a reading that cannot be counts for nothing."""
    return ending(after_stretch(tally, (entry,), plans), entry.order)


def fold_all(machine: str, all_entries: Sequence[e.Entry], plans: PlanBook) -> Tally | None:
    """The tally of a machine from all its entries; None where there are none that count."""
    kept = effective(all_entries)
    if not kept:
        return None
    tally = begin(machine, first_day((one.happened for one in kept), plans.zone))
    return fold_together(tally, kept, plans)


def fold_together(tally: Tally, entries: Sequence[e.Entry], plans: PlanBook) -> Tally:
    """The tally after entries in their order, as `fold` gives it after each of them."""
    for _, stretch in groupby(entries, key=lambda one: type(one.what)):
        tally = after_stretch(tally, list(stretch), plans)
    return ending(tally, entries[-1].order) if entries else tally


def ending(tally: Tally, order: tuple[datetime, datetime, str]) -> Tally:
    """The tally whose last entry has this place in the order."""
    return replace(tally, last=order)


def first_day(moments: Iterable[datetime], zone: tzinfo) -> date:
    """The first of the days that one moment or more fall on, which come in their order.

    It need not be the first moment's: a clock that is put back at midnight shows the day before once more.
    """
    moments = iter(moments)
    first = next(moments)
    near = takewhile(lambda one: one - first <= _A_DAY, moments)
    return min(day_of(one, zone) for one in (first, *near))


_A_DAY = timedelta(days=1)


def after_stretch(tally: Tally, entries: Sequence[e.Entry], plans: PlanBook) -> Tally:
    """The tally after entries of one kind, one or more in their order, as `fold` gives it but for its `last`.

    Runs, services and answers, of which histories are made, change it once.
    """
    kind = type(entries[0].what)
    if kind is e.Run:
        return after_runs(tally, _spans(entries), plans.zone)
    if kind is e.Answered:
        latest = {one.what.check: one.happened for one in entries if isinstance(one.what, e.Answered)}
        return after_answers(tally, latest)
    if kind is e.Service:
        done = [(one.happened, (one.what.item,)) for one in entries if isinstance(one.what, e.Service)]
        return after_services(tally, done, plans)
    step = _STEPS.get(kind, _nothing)
    for one in entries:
        tally = step(tally, one, plans)
    return tally


def _nothing(tally: Tally, entry: e.Entry, plans: PlanBook) -> Tally:
    return tally


def settle(tally: Tally, has_passed: Callable[[Passed], bool]) -> Tally:
    """The tally without the claims of passed checks that their own answers do not bear out."""
    if all(one.proved for one in tally.passed.values()):
        return tally
    kept = {side: replace(one, proved=True) for side, one in tally.passed.items() if one.proved or has_passed(one)}
    return replace(tally, passed=kept)


def _card(tally: Tally, entry: e.Entry, plans: PlanBook) -> Tally:
    assert isinstance(entry.what, e.Carded)
    return replace(tally, card=entry.what.card)


def _reading(tally: Tally, entry: e.Entry, plans: PlanBook) -> Tally:
    assert isinstance(entry.what, e.Reading)
    try:
        return replace(tally, counters=counting.after_reading(tally.counters, entry.what, entry.happened))
    except counting.CounterError:
        # two terminals that were apart can each have read what the other's reading contradicts: it counts for
        # nothing, stays in the book, and `contradicted` names it
        return tally


def contradicted(entries: Sequence[e.Entry]) -> dict[str, str]:
    """The readings of a machine that cannot be, with why, by id; they count for nothing."""
    counters, found = counting.start(), {}
    for one in effective(entries):
        if isinstance(one.what, e.Reading):
            try:
                counters = counting.after_reading(counters, one.what, one.happened)
            except counting.CounterError as why:
                found[one.id] = str(why)
        elif isinstance(one.what, e.Run):
            counters = counting.after_run(counters, one.what.started, one.what.ended, one.what.metres)
    return found


def _spans(entries: Iterable[e.Entry]) -> list[counting.Span]:
    runs = [one.what for one in entries]
    return counting.spans((one.started, one.ended, one.metres) for one in runs if isinstance(one, e.Run))


def after_runs(tally: Tally, runs: Sequence[counting.Span], zone: tzinfo) -> Tally:
    """The tally after runs in their order, one or more, as `fold` gives it but for its `last`."""
    ends = [ended for _, ended, _, _ in runs]
    return replace(
        tally,
        counters=counting.after_runs(tally.counters, runs),
        use=tally.use.after_runs([(day_of(ended, zone), seconds, metres) for _, ended, seconds, metres in runs]),
        last_run=max(ends if tally.last_run is None else (tally.last_run, *ends)),
        passed={side: _spent_by_runs(one, ends) for side, one in tally.passed.items()},
    )


def _spent_by_runs(passed: Passed, ends: Sequence[datetime]) -> Passed:
    """A passed check after runs that ended so, in their order: the first one after it has used it up."""
    if passed.spent is not None:
        return passed
    first = next((ended for ended in ends if ended >= passed.at), None)
    return _spent(passed, first, "the run") if first is not None else passed


def _spent(passed: Passed, at: datetime, by: str) -> Passed:
    if passed.spent is not None or at < passed.at:
        return passed
    return replace(passed, spent=at, spent_by=by)


def _check_begun(tally: Tally, entry: e.Entry, plans: PlanBook) -> Tally:
    what = entry.what
    assert isinstance(what, e.CheckBegun)
    check = OpenCheck(entry.id, what.sheet_id, what.checks_for, entry.happened, entry.by)
    return replace(tally, checks=(*tally.checks, check))


def after_answers(tally: Tally, latest: Mapping[str, datetime]) -> Tally:
    """The tally after answers in their order, as `fold` gives it but for its `last`; of each check only the latest."""
    return replace(
        tally,
        checks=tuple(replace(one, answered=latest[one.id]) if one.id in latest else one for one in tally.checks),
    )


def _check_ended(tally: Tally, entry: e.Entry, plans: PlanBook) -> Tally:
    what = entry.what
    assert isinstance(what, e.CheckEnded)
    check = next((one for one in tally.checks if one.id == what.check), None)
    if check is None:
        return tally
    tally = replace(tally, checks=tuple(one for one in tally.checks if one.id != what.check))
    if what.verdict == "left":
        return tally
    tally = replace(tally, last_check=entry.happened)
    passed = dict(tally.passed)
    if what.verdict == "passed":
        other = {"run": "road", "road": "run"}.get(check.checks_for, "")
        if other in passed:
            # set up again, or made ready for the road: what was true for the other is so no longer
            passed[other] = _spent(passed[other], entry.happened, f"the {check.checks_for} check since")
        passed[check.checks_for] = Passed(check.id, check.sheet, entry.happened, entry.by)
        tally = _done(
            tally,
            entry,
            plans,
            *(one.id for one in _plan(tally, entry, plans).items if one.done_by == check.sheet),
        )
    else:
        passed.pop(check.checks_for, None)
    return replace(tally, passed=passed)


def _plan(tally: Tally, entry: e.Entry, plans: PlanBook) -> Plan:
    return plans.at(tally.machine, entry.happened)


def _done(tally: Tally, entry: e.Entry, plans: PlanBook, *items: str) -> Tally:
    return after_services(tally, ((entry.happened, items),), plans)


def after_services(tally: Tally, done: Iterable[tuple[datetime, Sequence[str]]], plans: PlanBook) -> Tally:
    """The tally after items of the plan, and all that they cover, were done at these moments, in their order.

    It is as `fold` gives it but for its `last`.
    """
    cycles = dict(tally.cycles)
    totals = tally.totals
    for moment, items in done:
        here = due.Point(day_of(moment, plans.zone), totals.seconds, totals.millimetres, totals.runs)
        for item in plans.at(tally.machine, moment).with_covered(*items):
            cycles[item.id] = due.after_service(item, cycles.get(item.id) or _first_cycle(tally, item), here)
    return replace(tally, cycles=cycles)


def _measured(tally: Tally, entry: e.Entry, plans: PlanBook) -> Tally:
    what = entry.what
    assert isinstance(what, e.Measured)
    items = [one.id for one in _plan(tally, entry, plans).items if one.done_by == what.about]
    return _done(tally, entry, plans, *items) if items else tally


def _fault(tally: Tally, entry: e.Entry, plans: PlanBook) -> Tally:
    what = entry.what
    assert isinstance(what, e.Fault)
    sides = {"run": ("run",), "road": ("road",), "both": ("run", "road")}.get(what.holds, ())
    return replace(
        tally,
        faults=(*tally.faults, OpenFault(entry.id, what, entry.happened, entry.by)),
        passed={k: p for k, p in tally.passed.items() if k not in sides},
    )


def _repair(tally: Tally, entry: e.Entry, plans: PlanBook) -> Tally:
    assert isinstance(entry.what, e.Repair)
    fault = tally.fault(entry.what.fault)
    if fault is not None:
        here = point(tally, day_of(entry.happened, plans.zone))
        again = [
            one for one in _plan(tally, entry, plans).items if one.first_after_repair and one.part == fault.what.part
        ]
        cycles = {one.id: due.restart(one, cycle_of(tally, one), here) for one in again}
        tally = replace(tally, cycles={**tally.cycles, **cycles}) if cycles else tally
    return _fault_moved("repaired")(tally, entry, plans)


def _fault_moved(status: str) -> Callable[..., Tally]:
    def step(tally: Tally, entry: e.Entry, plans: PlanBook) -> Tally:
        what = entry.what
        assert isinstance(what, (e.Repair, e.Retest))
        now = "open" if isinstance(what, e.Retest) and not what.passed else status
        return replace(
            tally,
            faults=tuple(replace(one, status=now) if one.id == what.fault else one for one in tally.faults),
        )

    return step


def _release(tally: Tally, entry: e.Entry, plans: PlanBook) -> Tally:
    what = entry.what
    assert isinstance(what, e.Release)
    return replace(tally, faults=tuple(one for one in tally.faults if one.id != what.fault))


_STEPS: dict[type[e.What], Callable[[Tally, e.Entry, PlanBook], Tally]] = {
    e.Carded: _card,
    e.Reading: _reading,
    e.CheckBegun: _check_begun,
    e.CheckEnded: _check_ended,
    e.Measured: _measured,
    e.Fault: _fault,
    e.Repair: _repair,
    e.Retest: _fault_moved("re-tested"),
    e.Release: _release,
}
"""What an entry of a kind does, one by one; what runs, services and answers do is in `after_stretch`."""
