"""Proves a register whole: structure, every hash, every chain, and what is kept against the entries.

It changes nothing and repairs nothing. Entries are read by a scan of the table in the order of writing, so that
damage in one copy of a fact is not hidden behind an index.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import peewee as pw

from reelcare.core.text import _, mark
from reelcare.register.database import schema_check
from reelcare.register.database.models import EntryRow
from reelcare.register.errors import Damaged, RegisterError
from reelcare.register.integrity import chain, witness
from reelcare.register.integrity.chain import Head
from reelcare.register.progress import Progress, no_progress
from reelcare.register.reading import doubts, foreign, states
from reelcare.register.reading.reader import Reader, in_pages

E = EntryRow
PAGE = 5000
NO_HEADS = mark("whether entries are missing at the end: no heads are kept beside this register")
TAIL = 50
"""Entries that the quick proof looks at."""


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that is not as it must be."""

    place: str
    what: str


@dataclass(frozen=True, slots=True)
class Proof:
    """What a proof found."""

    entries: int
    heads: tuple[Head, ...]
    findings: tuple[Finding, ...]
    not_looked_at: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether nothing was found."""
        return not self.findings


class End(NamedTuple):
    """The end of a chain so far: its last entry's place and digest, and when that was recorded [ms]."""

    place: int = 0
    digest: str = chain.GENESIS
    recorded: int = 0


_BEGINNING = End()
_POSSIBLE = {(int, str, str, where, int, int, str, str, str, str) for where in (str, type(None))}
"""The types that the columns can hold: damaged pages give others."""


class _Chains:
    """The chains as they grow: of each only the end is held, and what came before its turn."""

    def __init__(self, reader: Reader) -> None:
        self._reader = reader
        self.findings: list[Finding] = []
        self.went_back: set[str] = set()
        """The terminals of which a clock went back between two entries."""
        self._ends: dict[str, End] = {}
        self._early: dict[str, list[Sequence[Any]]] = {}

    def heads(self) -> tuple[Head, ...]:
        """The ends of all chains."""
        return tuple(Head(terminal, end.place, end.digest) for terminal, end in sorted(self._ends.items()))

    def begin_after(self, row: Sequence[Any]) -> None:
        """Look at a chain from the entry after this one on; this one is not proved."""
        if self._is_possible(row):
            self._end_at(row)

    def take(self, row: Sequence[Any]) -> None:
        """One entry: it goes on from the end of its chain, or waits for what comes before it."""
        if not self._is_possible(row):
            return
        place, terminal = row[0], row[6]
        end = self._ends.get(terminal, _BEGINNING)
        if place == end.place + 1:
            self._go_on(row, end.digest)
        else:
            self._early.setdefault(terminal, []).append(row)

    def end(self) -> None:
        """What still waits, in its order; a branch goes on from an entry of another chain of its terminal."""
        for terminal, rows in sorted(self._early.items()):
            for row in sorted(rows, key=lambda row: int(row[0])):
                end = self._ends.get(terminal)
                before = end.digest if end is not None else self._before_a_branch(row)
                place, id = row[0], row[1]
                expected = end.place + 1 if end is not None else 1 if before == chain.GENESIS else place
                if place != expected:
                    self.findings.append(
                        Finding(
                            _("terminal {terminal}", terminal=terminal),
                            _("entry {expected} is missing before {id}", expected=expected, id=id),
                        )
                    )
                self._go_on(row, before)

    def _is_possible(self, row: Sequence[Any]) -> bool:
        """Whether an entry holds what can have been written; what does not is a finding."""
        if tuple(map(type, row)) in _POSSIBLE:
            return True
        self.findings.append(
            Finding(_("entry {row}", row=row[1]), _("is damaged: no program can have written what is in it"))
        )
        return False

    def _go_on(self, row: Sequence[Any], before: str) -> None:
        if not chain.follows(before, row):
            self.findings.append(
                Finding(_("entry {row}", row=row[1]), _("its content was changed after it was written"))
            )
        terminal, recorded = row[6], row[5]
        if recorded < self._ends.get(terminal, _BEGINNING).recorded:
            self.went_back.add(terminal)
        self._end_at(row)

    def _end_at(self, row: Sequence[Any]) -> None:
        place, terminal, digest, recorded = row[0], row[6], row[9], row[5]
        self._ends[terminal] = End(place, digest, recorded)

    def _before_a_branch(self, row: Sequence[Any]) -> str:
        place, terminal = row[0], row[6]
        name = chain.base(terminal)
        if name == terminal:
            return chain.GENESIS
        rows = self._reader.db.fetch(E.select(E.terminal, E.digest).where(E.place == place - 1))
        for other, link in rows:
            if chain.base(other) == name and chain.follows(link, row):
                return str(link)
        return chain.GENESIS


def prove(reader: Reader, progress: Progress = no_progress) -> Proof:
    """The full proof. The register is only read; `progress` is told how far the work is."""
    witnessed = _witnessed(reader)
    with reader.db.reading():
        return _prove(reader, witnessed, progress)


def prove_the_end(reader: Reader) -> list[Finding]:
    """The quick proof, at every start: the last entries of this terminal's chain, and the witnessed heads."""
    chains, witnessed = _Chains(reader), _witnessed(reader)
    try:
        with reader.db.reading():
            found = _unwitnessed(reader, witnessed)
            last = (
                E.select(*chain.COLUMNS).where(E.terminal == reader.terminal).order_by(E.place.desc()).limit(TAIL + 1)
            )
            tail = _rows(reader, last)[::-1]
            if len(tail) > TAIL:
                chains.begin_after(tail.pop(0))
            for row in tail:
                chains.take(row)
            chains.end()
    except Damaged as why:
        return [Finding(_("file"), str(why))]
    return found + chains.findings


def _rows(reader: Reader, query: pw.SelectQuery) -> list[tuple[Any, ...]]:
    """The rows of a query; where a text in them is damaged it is read all the same, so that its entry can be named."""
    try:
        return reader.db.fetch(query)
    except Damaged:
        with reader.db.lenient_text():
            return reader.db.fetch(query)


def _witnessed(reader: Reader) -> Sequence[Head]:
    """The heads kept beside the register. Read before the register is: what others write meanwhile is in both, or in
    the register alone."""
    return witness.kept(reader.path) or ()


def _unwitnessed(reader: Reader, witnessed: Sequence[Head]) -> list[Finding]:
    """What was witnessed and is not there."""
    return [
        Finding(_("terminal {terminal}", terminal=terminal), text)
        for terminal, text in witness.missing(reader.db, witnessed)
    ]


def _prove(reader: Reader, witnessed: Sequence[Head], progress: Progress) -> Proof:
    of = int(E.select().count(reader.db))

    # the chains are the first half of the work, what is kept beside the entries is the second
    def report(done: int, half: int) -> None:
        if of >= PAGE:
            progress(half * of + done, 2 * of)

    findings = [Finding(_("file"), text) for text in reader.db.integrity_problems()]
    chains, count = _chains(reader, lambda done: report(done, 0))
    findings += chains.findings
    unseen = reader.db.not_looked_at()
    if not findings:
        try:
            if doubts.kept(reader.db) != doubts.found(reader.db, chains.went_back):
                says = _("the list of entries with a doubtful time does not match the chains")
                findings.append(Finding(_("rollup"), says))
            if foreign.differs(reader):
                says = _("the list of carried entries that count does not match the entries")
                findings.append(Finding(_("rollup"), says))
            machines = states.machines(reader)
            differences = states.differences(
                reader, machines, lambda done, parts: report(of * done // max(parts, 1), 1)
            )
            findings += [Finding(_("rollup"), text) for text in differences]
        except (RegisterError, ValueError) as why:
            findings.append(Finding(_("rollup"), _("cannot be computed: {why}", why=why)))
            report(of, 1)
    else:
        unseen.append(_("the totals kept beside the entries: the entries themselves are damaged"))
        report(of, 1)
    # a head that is gone says nothing against the entries that are there: what is kept is held against these
    findings += _unwitnessed(reader, witnessed)
    findings += [Finding(_("schema"), text) for text in schema_check.schema_problems(reader.db)]
    if not witnessed:
        unseen.append(_(NO_HEADS))
    return Proof(entries=count, heads=chains.heads(), findings=tuple(findings), not_looked_at=tuple(unseen))


def _chains(reader: Reader, report: Callable[[int], None]) -> tuple[_Chains, int]:
    """The chains of all entries, and how many these are."""
    chains, count = _Chains(reader), 0

    def after(last: tuple[Any, ...] | None) -> list[tuple[Any, ...]]:
        query = E.select(E.number, *chain.COLUMNS).where(E.number > (last[0] if last else 0))
        return _rows(reader, query.order_by(E.number).limit(PAGE))

    for rows in in_pages(after, PAGE):
        for row in rows:
            chains.take(row[1:])
        count += len(rows)
        report(count)
    chains.end()
    return chains, count
