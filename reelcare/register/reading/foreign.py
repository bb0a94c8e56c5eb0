"""Which of the entries that were carried in do not count here as they stand: derived, and kept beside them.

Which entries came in stands in a fact about this register (`BROUGHT`), in ranges of each chain: it belongs to the
register, never travels, and what it does not name counts as written here. So everything counts that stood in a register
before its program knew of this. What is made of them is the core's word (`core/foreign.py`).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from functools import reduce
from operator import or_
from typing import Any

from reelcare.core import entries as e
from reelcare.core import foreign as view
from reelcare.register.database.base import Database
from reelcare.register.database.models import EntryRow, UncountedRow
from reelcare.register.integrity import chain
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader, entry_of
from reelcare.register.timestamps import milliseconds

E, U = EntryRow, UncountedRow
BROUGHT = "brought"
"""The name in `about` of the ranges of chains that were carried in."""
HERE = (e.Enrolled.kind, e.CarryDecision.kind, e.Correction.kind)
"""The kinds of which those written here decide what counts."""

Ranges = Mapping[str, Sequence[tuple[int, int]]]
"""By terminal, as it stands in its entries: the first and the last place of each part that was carried in."""


def brought(db: Database) -> dict[str, list[tuple[int, int]]]:
    """The parts of chains that were carried in."""
    kept = json.loads(db.about().get(BROUGHT, "{}"))
    return {str(name): [(int(first), int(last)) for first, last in parts] for name, parts in kept.items()}


def keep_brought(db: Database, ranges: Ranges) -> None:
    """Keep these parts of chains as carried in, beside those that are. In the transaction that runs."""
    kept = brought(db)
    for name, parts in ranges.items():
        kept[name] = _joined([*kept.get(name, ()), *parts])
    if kept:
        db.keep_about(BROUGHT, json.dumps(kept, sort_keys=True, separators=(",", ":")))


def _joined(parts: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    found: list[tuple[int, int]] = []
    for first, last in sorted(parts):
        if found and first <= found[-1][1] + 1:
            found[-1] = (found[-1][0], max(found[-1][1], last))
        else:
            found.append((first, last))
    return found


def ranges_of(places: Iterable[tuple[str, int]]) -> dict[str, list[tuple[int, int]]]:
    """Places of chains as ranges.

    >>> ranges_of([("a", 2), ("a", 1), ("b", 7)])
    {'a': [(1, 2)], 'b': [(7, 7)]}
    """
    found: dict[str, list[tuple[int, int]]] = {}
    for name, place in sorted(places):
        found.setdefault(name, []).append((place, place))
    return {name: _joined(parts) for name, parts in found.items()}


AT_ONCE = 50
"""Ranges asked for in one query: a database bears some ninety conditions in one another."""


def carried_in(reader: Reader, *conditions: Any) -> list[e.Entry]:
    """The entries that were carried in and that all these conditions pick; all of them where there are none."""
    ranges = [(name, first, last) for name, parts in brought(reader.db).items() for first, last in parts]
    found: list[e.Entry] = []
    for some in queries.in_batches(ranges, AT_ONCE):
        parts = [(E.terminal == name) & E.place.between(first, last) for name, first, last in some]
        found += reader.select(queries.entries(reduce(or_, parts), *conditions))
    return found


def written_here(reader: Reader, *conditions: Any) -> list[e.Entry]:
    """The entries that were written here and that all these conditions pick."""
    theirs = {one.id for one in carried_in(reader, *conditions)}
    return [one for one in reader.select(queries.entries(*conditions)) if one.id not in theirs]


def recorded_here(reader: Reader, kind: str, since: datetime, until: datetime) -> list[e.Entry]:
    """The entries of a kind that were written here within a time, newest first."""
    within = (E.recorded > milliseconds(since)) & (E.recorded <= milliseconds(until))
    found = written_here(reader, E.kind == kind, within)
    return sorted(found, key=lambda one: (one.recorded, one.id), reverse=True)


def kept(db: Database) -> dict[str, str]:
    """What does not count, with why, as it is kept."""
    return db.pairs(U.select(U.entry, U.why))


def found(reader: Reader) -> dict[str, str]:
    """What does not count, with why, as the entries tell."""
    theirs = carried_in(reader)
    if not theirs:
        return {}
    return dict(view.uncounted(own_entries(reader), theirs, _finder(reader, theirs), chain.base))


def own_entries(reader: Reader) -> list[e.Entry]:
    """What was written here that decides what counts."""
    found = written_here(reader, E.kind.in_(HERE))
    # of two decisions the one that was written last holds, whatever the clock of the first said
    written = reader.written
    return [one._replace(recorded=min(one.recorded, written.get(one.id, one.recorded))) for one in found]


def _finder(reader: Reader, some: Iterable[e.Entry]) -> Any:
    at_hand: dict[str, e.Entry | None] = {one.id: one for one in some}

    def find(id: str) -> e.Entry | None:
        if id not in at_hand:
            rows = reader.db.fetch(queries.entries(E.id == id))
            at_hand[id] = entry_of(rows[0]) if rows else None
        return at_hand[id]

    return find


def refresh(reader: Reader) -> set[str]:
    """Keep what does not count; the machines whose history is another through it. In the transaction that runs."""
    before, now = kept(reader.db), found(reader)
    changed = {id for id in before.keys() | now.keys() if before.get(id) != now.get(id)}
    for gone in queries.in_batches(changed & before.keys()):
        reader.db.write(U.delete().where(U.entry.in_(gone)))
    new = sorted(changed & now.keys())
    if new:
        reader.db.insert_many(U, (U.entry, U.why), [(id, now[id]) for id in new])
    if changed:
        reader.cache.clear()
    return _machines(reader, changed)


def _machines(reader: Reader, changed: set[str]) -> set[str]:
    """The machines that these entries bear on: of a plan for all, every one."""
    machines: set[str] = set()
    for ids in queries.in_batches(changed):
        rows = reader.db.fetch(E.select(E.machine, E.kind, E.refers).where(E.id.in_(ids)).distinct())
        for machine, kind, refers in rows:
            if kind in (e.Planned.kind, e.Correction.kind):
                cancelled = reader.db.fetch(E.select(E.machine).where(E.id == refers)) if refers else [(machine,)]
                machines |= {str(one) for (one,) in cancelled if one}
                if any(not one for (one,) in cancelled):
                    machines |= set(reader.machine_ids())
            if machine:
                machines.add(str(machine))
    return machines


def differs(reader: Reader) -> bool:
    """Whether what is kept is not what the entries tell."""
    return kept(reader.db) != found(reader)
