"""The end of this terminal's chain, to which one transaction adds.

The rules of this file: an entry gets its id, its place and its digest here, and nowhere else. Rows may wait, so that
they are put in together; who adds sees to it that none waits where entries are asked for.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from reelcare.core import entries as e
from reelcare.register import chain, rollup, schema
from reelcare.register.moments import milliseconds, moment
from reelcare.register.progress import Progress

if TYPE_CHECKING:
    from reelcare.register.register import Register

_INSERT = (
    "INSERT INTO entry (id, kind, machine, happened, recorded, terminal, person, refers, body, place, digest)"
    " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
)
_HEAD = "SELECT place, digest FROM entry WHERE terminal = ? ORDER BY place DESC LIMIT 1"

Row = tuple[Any, ...]


class ChainEnd:
    """Adds what one person writes at one moment to the chain of this terminal."""

    def __init__(self, register: Register, *, by: str, now: datetime) -> None:
        self._register = register
        self._terminal, self._by = register.terminal, by
        self._recorded = milliseconds(now)
        self._noted = moment(self._recorded)
        found = schema.rows(register.db, _HEAD, self._terminal)
        self._place, self._digest = (int(found[0][0]), str(found[0][1])) if found else (0, chain.GENESIS)
        self._waiting: list[Row] = []

    def add(self, what: e.What, machine: str | None, happened: datetime) -> e.Entry:
        """One entry at the end; its row waits for `put_in`. A first card makes its machine."""
        at = milliseconds(happened)
        id = self._register.ids.next(self._recorded)
        if machine is None and type(what) is e.Carded:
            machine = id
        self._waiting.append(
            self._row(id, what.kind, machine, at, rollup.refers(what), chain.canonical(e.to_body(what)))
        )
        self._register.came_in(what.kind)
        return self._entry(id, machine, happened, what)

    def put_in(self) -> None:
        """Put the rows in that wait."""
        if len(self._waiting) == 1:
            self._register.db.execute_sql(_INSERT, self._waiting[0])
        elif self._waiting:
            self._register.db.many(_INSERT, self._waiting)
        self._waiting = []

    def add_runs(self, runs: Sequence[tuple[str, e.Run, int]], progress: Progress) -> list[e.Entry]:
        """Runs at the end, each with its machine and its end [ms]; their rows are put in."""
        written: list[e.Entry] = []

        def rows() -> Iterator[Row]:
            for number, (machine, run, ended) in enumerate(runs):
                id = self._register.ids.next(self._recorded)
                written.append(self._entry(id, machine, run.ended, run))
                if number % 20_000 == 0:
                    progress(number, len(runs))
                yield self._row(id, e.Run.kind, machine, ended, None, chain.canonical(e.to_body(run)))

        self._register.db.many(_INSERT, rows())
        return written

    def _row(self, id: str, kind: str, machine: str | None, happened: int, refers: str | None, body: str) -> Row:
        """The row of the next entry, sealed."""
        self._place += 1
        self._digest = chain.digest(
            self._digest, self._place, id, kind, machine, happened, self._recorded, self._terminal, self._by, body
        )
        return (
            id, kind, machine, happened, self._recorded, self._terminal, self._by, refers, body, self._place,
            self._digest,
        )  # fmt: skip

    def _entry(self, id: str, machine: str | None, happened: datetime, what: e.What) -> e.Entry:
        """The entry as it will be read again."""
        return e.Entry(
            id=id,
            machine=machine,
            happened=e.kept(happened),
            recorded=self._noted,
            terminal=self._terminal,
            by=self._by,
            what=what,
        )
