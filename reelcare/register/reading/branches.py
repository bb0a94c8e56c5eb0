"""Chains that forked: a copy of a register wrote on, so that entries of one terminal stand in two columns or more.

Which of the branches kept the name depends on which was here first, and says nothing: what comes after an entry, or
before it, is told by the digests alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import reduce
from operator import or_
from typing import Any

from reelcare.register.database.base import Database
from reelcare.register.database.models import EntryRow
from reelcare.register.integrity import chain, witness

E = EntryRow
Segment = tuple[str, int]
"""A column, and the last place of it that counts."""


class Branches:
    """The columns of a register that go on from another one."""

    def __init__(self, db: Database) -> None:
        columns = list(witness.columns(db))
        self._from: dict[str, Segment] = {}
        """Of each branch what it goes on from, where that is here."""
        for column in columns:
            if chain.FORK in column:
                same = [one for one in columns if one != column and chain.base(one) == chain.base(column)]
                parent = _parent(db, column, same)
                if parent is not None:
                    self._from[column] = parent

    def all(self) -> Iterable[str]:
        """The columns that go on from another one."""
        return self._from

    def before(self, column: str) -> Iterator[Segment]:
        """What comes before a column, from its fork to the beginning."""
        while column in self._from:
            column, last = self._from[column]
            yield column, last

    def after(self, column: str) -> Iterator[Segment]:
        """The columns that go on from one, by way of another too, each with the place of it that it goes on from."""
        for branch in self._from:
            for name, last in self.before(branch):
                if name == column:
                    yield branch, last

    def root(self, column: str) -> str:
        """The column in which the chain of a column begins."""
        return next((name for name, _last in reversed(list(self.before(column)))), column)


def _parent(db: Database, column: str, others: list[str]) -> Segment | None:
    """The column and the place that a branch goes on from; None where it begins a chain of its own."""
    (first,) = db.fetch(E.select(*chain.COLUMNS).where(E.terminal == column).order_by(E.place).limit(1))
    place = int(first[0])
    links = E.select(E.terminal, E.digest).where(E.terminal.in_(others), E.place == place - 1)
    for name, link in db.fetch(links) if others else ():
        if chain.follows(str(link), first):
            return str(name), place - 1
    return None


def within(segments: Iterable[Segment]) -> Any:
    """The condition that an entry stands in one of these segments; None where there are none."""
    parts = [(E.terminal == name) & (E.place <= last) for name, last in segments]
    return reduce(or_, parts) if parts else None
