"""Questions to a register, built by peewee for both databases.

What belongs here: SELECTs over the models that more than one module asks, and the conditions that they share. They are
values; a reader runs them. What must not: writing, SQL text, and any word on what an answer means.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from datetime import datetime
from itertools import islice
from typing import Any, TypeVar

import peewee as pw

from reelcare.core import entries as e
from reelcare.register.database.models import FOR_ALL_MACHINES, EntryRow, UncountedRow
from reelcare.register.timestamps import milliseconds

E, U = EntryRow, UncountedRow
TOLD = "told"
"""Why an entry is kept in the table `uncounted` though it counts: who wrote it is not accepted here."""
ENTRY = (E.id, E.machine, E.happened, E.recorded, E.terminal, E.person, E.kind, E.body)
"""The columns that make an entry as the core knows it."""
CORRECTION = e.Correction.kind
Item = TypeVar("Item")
AT_ONCE = 500
"""Ids in one question: not every SQLite takes a whole chain of them."""


def entries(*conditions: Any) -> pw.ModelSelect[Any]:
    """The entries that all these conditions pick."""
    query = E.select(*ENTRY)
    return query.where(*conditions) if conditions else query


def in_order(query: pw.ModelSelect[Any]) -> pw.ModelSelect[Any]:
    """The same in the order in which entries count: as things happened, then as they were recorded (`Entry.order`)."""
    return query.order_by(E.happened, E.recorded, E.id)


def newest_first(query: pw.ModelSelect[Any]) -> pw.ModelSelect[Any]:
    """The same, the last in that order first."""
    return query.order_by(E.happened.desc(), E.recorded.desc(), E.id.desc())


def in_effect(accepted: Collection[str] = ()) -> Any:
    """The condition that an entry counts here and was not cancelled, or that its cancelling was cancelled itself; as if
    those `accepted` counted."""
    c, d = E.alias("c"), E.alias("d")
    undone = d.select(pw.SQL("1")).where((d.refers == c.id) & (d.kind == CORRECTION) & counts(d, accepted))
    cancelled = c.select(pw.SQL("1")).where(
        (c.refers == E.id) & (c.kind == CORRECTION) & counts(c, accepted) & ~pw.fn.EXISTS(undone)
    )
    return counts(accepted=accepted) & ~pw.fn.EXISTS(cancelled)


def moved_with(correction: str) -> pw.ModelSelect[Any]:
    """The id and machine of an entry that counts, unless it was cancelled, and says word for word what this correction
    took back from another machine, as it was written next on that terminal: both are written in one act."""
    c, old = E.alias("c"), E.alias("old")
    return (
        E.select(E.id, E.machine)
        .join(c, on=(c.terminal == E.terminal) & (c.place == E.place - 1))
        .join(old, on=(old.id == c.refers))
        .where(c.id == correction, c.kind == CORRECTION, E.machine != old.machine, E.kind == old.kind)
        .where(E.happened == old.happened, E.body == old.body, counts())
    )


def counts(entry: Any = E, accepted: Collection[str] = ()) -> Any:
    """The condition that an entry counts in this register, or would if those `accepted` did. What somebody not accepted
    here tells of the use of a machine (`TOLD`) counts."""
    n = U.alias("n")
    same = (n.entry == entry.id) & (n.why != TOLD)
    if accepted:
        same &= n.entry.not_in(list(accepted))
    return ~pw.fn.EXISTS(n.select(pw.SQL("1")).where(same))


def in_batches(items: Iterable[Item], size: int = AT_ONCE) -> Iterator[list[Item]]:
    """Ids, or other items, in lists that a database takes in one question."""
    left = iter(items)
    while some := list(islice(left, size)):
        yield some


def shared(kind: str) -> pw.ModelSelect[Any]:
    """The entries of a kind that bears on every machine, in order; found by the partial index."""
    return in_order(entries(FOR_ALL_MACHINES, E.kind == kind))


def of_machine(machine: str, until: datetime | None = None) -> pw.ModelSelect[Any]:
    """All that happened to a machine up to a moment, corrections included, in order."""
    return in_order(entries(E.machine == machine, *happened(until)))


def happened(until: datetime | None) -> tuple[Any, ...]:
    """The condition that something happened up to a moment; none where it is None."""
    return () if until is None else (E.happened <= milliseconds(until),)


def between(since: datetime, until: datetime, *conditions: Any) -> pw.ModelSelect[Any]:
    """The entries of a time that were not cancelled and that all these conditions pick, in order."""
    return in_order(entries(*conditions, in_effect(), E.happened > milliseconds(since), *happened(until)))


def of_kind(machine: str | None, kind: str, until: datetime | None = None) -> pw.ModelSelect[Any]:
    """The entries of one kind of a machine (None: of those where no one machine is meant) that were not cancelled, up
    to a moment, in order."""
    return in_order(entries(E.machine == machine, E.kind == kind, in_effect(), *happened(until)))
