"""Which entries have a doubtful time: an entry after them in their chain has an earlier time, so the clock was ahead.

A chain keeps the true order of its entries, whatever the clock said. What is doubtful follows from the whole chain, so
the answer is kept in a table, and brought up to date after a clock that goes back, a carry file and `rebuild`. An entry
that is dated later than it was carried in had been written by then. Across chains, a run is the evidence: it names the
signatures of its machine that were dated later than the run was recorded. A run that is recorded late names none that
is dated before now, so that a check signed since stays for the next run. Where only runs of people who are not accepted
here name a signature, it is distrusted: it clears nothing, and still takes away what it would have taken.
"""

from __future__ import annotations

import json
from bisect import bisect_right, insort
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple

import peewee as pw

from reelcare.core import entries as e
from reelcare.core.canonical_json import parse
from reelcare.register.database.base import Database
from reelcare.register.database.models import DoubtfulRow, EntryRow, MachineRow, UncountedRow
from reelcare.register.reading.branches import Branches, within
from reelcare.register.reading.queries import TOLD, in_batches
from reelcare.register.timestamps import milliseconds, moment

E, D, U = EntryRow, DoubtfulRow, UncountedRow
SIGNATURES = (e.CheckEnded.kind, e.GateSigned.kind)
SIGNED = (e.GateSigned.kind, e.Release.kind, e.CarriedIn.kind, e.CarryDecision.kind)
"""The kinds that are signatures, beside a check that was signed as complete."""
_OF_ITS_CHECK = {e.Sheeted.kind, e.CheckBegun.kind, e.Answered.kind, e.PutRight.kind}
DOUBTED = tuple(sorted(e.KINDS.keys() - _OF_ITS_CHECK))
"""The kinds that count where they were written: all but those that stand or fall with the signature of their check."""
DONE = (e.Service.kind, e.Measured.kind)
"""The kinds that begin a new interval."""
READ = (e.Reading.kind, e.Run.kind)
"""The kinds that say what a machine had done by then."""
AHEAD = "brought ahead"
"""The name in `about` of what was carried in with entries that are dated later than it came: of each chain the first
and the last place, and when that was [ms]. It belongs to the register, and never travels."""
MUCH_AHEAD = timedelta(hours=1)
"""How much later than it was carried in an entry may be dated: clocks differ, and so little hides no use that
matters."""
BEHIND = timedelta(minutes=2)
"""How far a clock may be behind the last entry of its terminal: the network corrects clocks by less than this."""


def later_entry(db: Database, terminal: str, now: datetime) -> datetime | None:
    """The latest time of a terminal's entries since its last signature, where this computer's clock is behind it; else
    None. Answers given meanwhile by the clock that is behind do not hide it."""
    mine = E.select(E.place).where(E.terminal == terminal)
    passed = (E.kind == e.CheckEnded.kind) & E.body.contains('"verdict":"passed"')
    signed = mine.where(passed | E.kind.in_(SIGNED)).order_by(E.place.desc()).limit(1)
    rows = db.fetch(signed)
    since = E.select(pw.fn.MAX(E.recorded)).where(E.terminal == terminal, E.place >= (rows[0][0] if rows else 0))
    ((last,),) = db.fetch(since)
    return moment(last) if last is not None and moment(last) - now > BEHIND else None


def dated_after(db: Database, machine: str, now: datetime) -> tuple[str, ...]:
    """The signatures of a machine's checks that are here and dated after now."""
    later = (E.machine == machine) & (E.happened > milliseconds(now + BEHIND))
    return tuple(db.column(E.select(E.id).where(later, E.kind.in_(SIGNATURES)).order_by(E.id)))


def kept(db: Database) -> frozenset[str]:
    """The entries that are kept as doubtful."""
    return frozenset(db.column(D.select(D.entry)))


Parts = Mapping[str, Sequence[tuple[int, int, int]]]
"""By terminal: a first and a last place, and when they came in [ms]."""


def ahead(db: Database) -> dict[str, list[tuple[int, int, int]]]:
    """What was carried in with entries that are dated later than it came."""
    kept = json.loads(db.about().get(AHEAD, "{}"))
    return {
        str(name): [(int(first), int(last), int(came)) for first, last, came in some] for name, some in kept.items()
    }


def keep_ahead(db: Database, parts: Parts) -> None:
    """Keep these as well. In the transaction that runs."""
    found = ahead(db)
    for name, some in parts.items():
        found[name] = sorted({*found.get(name, ()), *some})
    if parts:
        db.keep_about(AHEAD, json.dumps(found, sort_keys=True, separators=(",", ":")))


def _came(db: Database) -> dict[str, int]:
    """The entries that are dated later than they came in, and when they did [ms]; but for signatures of checks, which
    the next run finds dated after now."""
    found: dict[str, int] = {}
    most = MUCH_AHEAD // timedelta(milliseconds=1)
    for terminal, some in ahead(db).items():
        for first, last, came in some:
            there = (E.terminal == terminal) & E.place.between(first, last) & (E.recorded > came + most)
            ids = db.column(E.select(E.id).where(there, E.kind.in_(DOUBTED), E.kind.not_in(SIGNATURES)))
            found |= {id: min(came, found.get(id, came)) for id in ids}
    return found


def with_latest_times(db: Database) -> dict[str, datetime]:
    """The doubtful entries, each with the latest time at which it can have been written: just before the earliest time
    after it in its chain, but not before a signature that stands before it there. A service was done no later than
    that, and counts from the last entry before it whose time is not doubtful, so that no use after it is hidden."""
    columns = (E.id, E.terminal, E.place, E.recorded, E.happened, E.machine, E.kind)
    # by their ids: in a join SQLite would go through all entries, which this is asked of at every start
    doubtful = db.fetch(E.select(*columns).where(E.id.in_(D.select(D.entry))))
    if not doubtful:
        return {}
    first_places: dict[str, int] = {}
    for _id, terminal, place, *_rest in doubtful:
        first_places[terminal] = min(int(place), first_places.get(terminal, int(place)))
    branches = Branches(db)
    chains = {terminal: _earliest_after(db, branches, terminal, place) for terminal, place in first_places.items()}
    signed, came = _signed(db, branches, first_places), _came(db)
    found: dict[str, datetime] = {}
    services: dict[str, list[_Done]] = {}
    for id, terminal, place, recorded, happened, machine, kind in doubtful:
        least = chains[terminal](int(place), int(recorded))
        if str(id) in came:
            least = min(came[str(id)], came[str(id)] if least is None else least)
        if least is None and kind not in SIGNATURES:
            continue
        least = recorded if least is None else least
        is_signed_at_once = signed.get((terminal, int(least)), place) < place
        found[str(id)] = moment(least - 1 if least < recorded and not is_signed_at_once else least)
        if kind in DONE and happened > least:
            services.setdefault(terminal, []).append(_Done(int(place), str(id), int(least), machine))
    for terminal, some in services.items():
        found |= _counts_from(db, branches, terminal, sorted(some))
    return found


class _Done(NamedTuple):
    """A service by its place in its chain: its entry, the earliest time after it [ms], and its machine."""

    place: int
    id: str
    least: int
    machine: str | None


def _counts_from(db: Database, branches: Branches, terminal: str, services: Sequence[_Done]) -> dict[str, datetime]:
    """The time from which each of these services of a chain counts (in the order of the chain): the last time before it
    that is not doubtful. A service is left out where the same clock dated what its machine had done by then."""
    earlier = within([(terminal, services[-1].place - 1), *branches.before(terminal)])
    rows = E.select(E.place, E.recorded, E.machine, E.kind).where(earlier)
    before = iter(db.fetch(rows.order_by(E.place)))
    seen: list[int] = []
    told: dict[str | None, int] = {}
    found, row = {}, next(before, None)
    for one in services:
        while row is not None and row[0] < one.place:
            insort(seen, int(row[1]))
            if row[3] in READ:
                told[row[2]] = max(int(row[1]), told.get(row[2], int(row[1])))
            row = next(before, None)
        last = bisect_right(seen, one.least)
        if last and told.get(one.machine, one.least) <= one.least:
            found[one.id] = moment(seen[last - 1])
    return found


def _signed(db: Database, branches: Branches, terminals: Iterable[str]) -> dict[tuple[str, int], int]:
    """The first place of a signature in each of these chains, by the time at which it was recorded [ms]."""
    found: dict[tuple[str, int], int] = {}
    for terminal in terminals:
        there = within([(terminal, LATEST), *branches.before(terminal)])
        first = E.select(E.recorded, pw.fn.MIN(E.place)).where(there, E.kind.in_(SIGNATURES))
        found |= {(terminal, int(recorded)): int(place) for recorded, place in db.fetch(first.group_by(E.recorded))}
    return found


def _earliest_after(db: Database, branches: Branches, terminal: str, first: int) -> Callable[[int, int], int | None]:
    """A function of an entry's place and recorded time: the earliest time [ms] in the chain from that place on, None
    where it is the entry's own. A clock that fell back to before the chain began, and was right again, is left out."""
    rows = [(float(place), recorded) for place, recorded in db.fetch(_places(terminal, first))]
    for branch, last in branches.after(terminal):
        # whatever it has comes after the place that it goes on from, and after none beyond
        rows += [(last + 0.5, recorded) for _place, recorded in db.fetch(_places(branch, 0))]
    began = db.fetch(E.select(E.recorded).where(E.terminal == branches.root(terminal), E.place == 1))
    start = int(began[0][0]) if began else 0
    after: dict[int, int] = {}
    least = sane = LATEST
    for place, recorded in sorted(rows, reverse=True):
        least = min(least, recorded)
        sane = min(sane, recorded) if recorded >= start else sane
        after[int(place)] = sane if least < start and sane < LATEST else least

    def of(place: int, recorded: int) -> int | None:
        return after[place] if after[place] < recorded else None

    return of


def _places(terminal: str, first: int) -> Any:
    return E.select(E.place, E.recorded).where(E.terminal == terminal, E.place >= first)


LATEST = 2**62
"""Later than any time in a chain [ms]."""


def found(db: Database, terminals: Iterable[str] | None = None) -> frozenset[str]:
    """Find the doubtful entries in the chains of these terminals, or of all, and the signatures that runs name. The
    chain of a terminal whose clock never went back has none."""
    least = pw.fn.MIN(E.recorded).over(partition_by=[E.terminal], order_by=[E.place.desc()]).alias("least")
    chained = E.select(E.id, E.kind, E.recorded, least)
    if terminals is not None:
        chained = chained.where(E.terminal.in_(list(terminals)))
    table = chained.alias("chained")
    columns = table.c
    query = pw.Select([table], [columns.id]).where(columns.kind.in_(DOUBTED), columns.recorded > columns.least)
    in_chains = frozenset(db.column(query))
    return in_chains | _before_branches(db, E.kind.in_(DOUBTED)) | _named(db) | _came(db).keys()


def _before_branches(db: Database, condition: Any) -> frozenset[str]:
    """The entries that a condition picks before a branch which has an earlier time."""
    branches = Branches(db)
    found: set[str] = set()
    for branch in branches.all():
        ((least,),) = db.fetch(E.select(pw.fn.MIN(E.recorded)).where(E.terminal == branch))
        earlier = within(branches.before(branch)) & (E.recorded > least)
        found.update(db.column(E.select(E.id).where(earlier, condition)))
    return frozenset(found)


def _named(db: Database, *conditions: Any) -> frozenset[str]:
    """The signatures that runs of their machine found dated after now when they were recorded, as far as they are here;
    of the runs that these conditions pick, where any are given."""
    doubting = (E.kind == e.Run.kind) & E.body.contains('"doubts":[')
    runs = db.fetch(E.select(E.machine, E.recorded, E.body).where(doubting, *conditions))
    before: dict[tuple[str, str], int] = {}
    for machine, recorded, body in runs:
        for id in parse(body).get("doubts", ()):
            key = str(id), str(machine)
            before[key] = min(int(recorded), before.get(key, int(recorded)))
    named = sorted({id for id, _ in before})
    query = E.select(E.id, E.machine, E.happened).where(E.id.in_(named), E.kind.in_(SIGNATURES))
    behind = BEHIND // timedelta(milliseconds=1)
    return frozenset(
        str(id)
        for id, machine, happened in (db.fetch(query) if named else ())
        if int(happened) > before.get((str(id), str(machine)), int(happened)) + behind
    )


def in_this_register(db: Database) -> tuple[dict[str, datetime], frozenset[str]]:
    """The doubtful entries with the moment by which they were written (`with_latest_times`), and the signatures that
    are only distrusted."""
    doubtful = with_latest_times(db)
    runs = E.select(E.id).where(E.kind == e.Run.kind, E.body.contains('"doubts":['))
    told, void = (
        db.column(runs.where(E.id.in_(U.select(U.entry).where(one)))) for one in (U.why == TOLD, U.why != TOLD)
    )
    if not told and not void:
        return doubtful, frozenset()
    distrusted = _named(db, E.id.in_(told)) & doubtful.keys() if told else frozenset()
    some = distrusted | (_named(db, E.id.in_(void)) & doubtful.keys() if void else frozenset())
    some -= _named(db, E.id.not_in([*told, *void])) | _ahead_in_chain(db, some)
    return {id: when for id, when in doubtful.items() if id not in some}, distrusted & some


def _ahead_in_chain(db: Database, some: Iterable[str]) -> frozenset[str]:
    """Those of these entries that have an earlier time after them in their chain."""
    later = E.alias("later")
    after = later.select(pw.SQL("1")).where(
        later.terminal == E.terminal, later.place > E.place, later.recorded < E.recorded
    )
    these = E.id.in_(sorted(some))
    return frozenset(db.column(E.select(E.id).where(these, pw.fn.EXISTS(after)))) | _before_branches(db, these)


def refresh(db: Database, terminals: Iterable[str] | None = None) -> set[str]:
    """Keep what is doubtful in these chains, or in all; return the machines whose history changes by it."""
    before, now = kept(db), found(db, terminals)
    gone = before - now if terminals is None else frozenset()
    new = now - before
    for some in in_batches(gone):
        db.write(D.delete().where(D.entry.in_(some)))
    if new:
        db.insert_many(D, (D.entry,), [(id,) for id in sorted(new)])
    # of a run that was doubtful before, it can be another time by which it was over
    rows = [
        row
        for some in in_batches(new | gone | now)
        for row in db.fetch(E.select(E.machine, E.kind).where(E.id.in_(some)).distinct())
    ]
    if any(machine is None and kind == e.Planned.kind for machine, kind in rows):
        return set(db.column(MachineRow.select(MachineRow.machine)))
    return {str(machine) for machine, _kind in rows if machine is not None}
