"""Proves a register whole: structure, every hash, every chain, and the rollup against the entries.

The rules of this file: it changes nothing and repairs nothing. Entries are read by a scan of the table, so that
damage in one copy of a fact is not hidden behind an index.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from reelcare.register import chain, rollup, schema, witness
from reelcare.register.carry import base
from reelcare.register.chain import Head
from reelcare.register.errors import RegisterError
from reelcare.register.progress import Progress, quietly
from reelcare.register.register import Register


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

    @property
    def whole(self) -> bool:
        """Whether nothing was found."""
        return not self.findings


COLUMNS = "place, id, kind, machine, happened, recorded, terminal, person, body, digest"
AT_ONCE = 5000


def prove(register: Register, progress: Progress = quietly) -> Proof:
    """The full proof. The register is only read; `progress` is told how many entries of how many were looked at."""
    with register.db.looking(), register.db.damaged_text_is_read():
        return _prove(register, progress)


def _scan(register: Register) -> Iterator[tuple[Any, ...]]:
    """Every entry in the order of writing, by the table itself; a few thousand are held at a time."""
    db, last = register.db, 0
    while True:
        rows = schema.rows(
            db,
            f"SELECT number, {COLUMNS} FROM entry {db.by_scan} WHERE number > ? ORDER BY number LIMIT {AT_ONCE}",
            last,
        )
        for _, *row in rows:
            yield tuple(row)
        if len(rows) < AT_ONCE:
            return
        last = int(rows[-1][0])


Link = tuple[int, str, tuple[Any, ...], str]
"""An entry of a chain: its place, its digest, what it was sealed over, and its id."""


_TYPES: tuple[Any, ...] = (int, str, str, (str, type(None)), int, int, str, str, str, str)


def _can_be(row: Sequence[Any]) -> bool:
    """Whether every column holds what it is declared to hold: damaged pages give other things."""
    return all(isinstance(one, types) for one, types in zip(row, _TYPES, strict=True))


class _Chains:
    """The chains as they grow: of each only the end is held, and what came before its turn."""

    def __init__(self, register: Register) -> None:
        self._register = register
        self.heads: dict[str, Head] = {}
        self.findings: list[Finding] = []
        self._early: dict[str, list[Link]] = {}

    def take(self, row: Sequence[Any]) -> None:
        """One entry: it goes on from the end of its chain, or waits for what comes before it."""
        if not _can_be(row):
            self.findings.append(Finding(f"entry {row[1]}", "is damaged: what stands in it cannot have been written"))
            return
        place, id, kind, machine, happened, recorded, terminal, person, body, digest = row
        sealed = (id, kind, machine, happened, recorded, base(terminal), person, body)
        head = self.heads.get(terminal)
        if (head is None and place == 1) or (head is not None and place == head.count + 1):
            self._go_on(terminal, (place, digest, sealed, str(id)), head.digest if head else chain.GENESIS)
        else:
            self._early.setdefault(terminal, []).append((place, digest, sealed, str(id)))

    def end(self) -> None:
        """What still waits, in its order; a branch goes on from an entry of another chain of its terminal."""
        for terminal, links in sorted(self._early.items()):
            for place, digest, sealed, id in sorted(links, key=lambda link: link[0]):
                head = self.heads.get(terminal)
                before = head.digest if head is not None else self._before_a_branch(terminal, place, digest, sealed)
                expected = head.count + 1 if head is not None else 1 if before == chain.GENESIS else place
                if place != expected:
                    self.findings.append(Finding(f"terminal {terminal}", f"entry {expected} is missing before {id}"))
                self._go_on(terminal, (place, digest, sealed, id), before)

    def _go_on(self, terminal: str, link: Link, before: str) -> None:
        place, digest, sealed, id = link
        if chain.digest(before, place, *sealed) != digest:
            self.findings.append(Finding(f"entry {id}", "its content is not what was sealed"))
        self.heads[terminal] = Head(terminal, place, digest)

    def _before_a_branch(self, terminal: str, place: int, digest: str, sealed: tuple[Any, ...]) -> str:
        if base(terminal) == terminal:
            return chain.GENESIS
        rows = schema.rows(self._register.db, "SELECT terminal, digest FROM entry WHERE place = ?", place - 1)
        for other, link in rows:
            if base(other) == base(terminal) and chain.digest(link, place, *sealed) == digest:
                return str(link)
        return chain.GENESIS


TAIL = 50
"""Entries that the quick proof looks at."""


def prove_the_end(register: Register) -> list[Finding]:
    """The quick proof, at every start: the last entries of this terminal's chain, and the witnessed heads."""
    found = [Finding(f"terminal {terminal}", text) for terminal, text in witness.missing(register)]
    rows = schema.rows(
        register.db,
        f"SELECT {COLUMNS} FROM entry WHERE terminal = ? ORDER BY place DESC LIMIT ?",
        register.terminal, TAIL + 1,
    )  # fmt: skip
    for (place, *values, digest), before in zip_longest(rows, rows[1:]):
        if before is None and place != 1:
            break
        link = chain.GENESIS if before is None else str(before[-1])
        if before is not None and before[0] != place - 1:
            found.append(Finding(f"terminal {register.terminal}", f"entry {place - 1} is missing"))
        elif chain.digest(link, place, *values) != digest:
            found.append(Finding(f"entry {values[0]}", "its content is not what was sealed"))
    return found


def _prove(register: Register, progress: Progress) -> Proof:
    findings = [Finding("file", text) for text in register.db.faults()]
    of = int(schema.rows(register.db, "SELECT COUNT(*) FROM entry")[0][0])
    chains, count = _Chains(register), 0
    for row in _scan(register):
        chains.take(row)
        count += 1
        if count % AT_ONCE == 0:
            progress(count, of)
    if of >= AT_ONCE:
        progress(count, of)
    chains.end()
    findings += chains.findings
    findings += [Finding(f"terminal {terminal}", text) for terminal, text in witness.missing(register)]
    if not findings:
        try:
            findings += [Finding("rollup", text) for text in rollup.differences(register)]
        except (RegisterError, ValueError) as why:
            findings.append(Finding("rollup", f"cannot be worked out: {why}"))
    heads = tuple(head for _, head in sorted(chains.heads.items()))
    return Proof(entries=count, heads=heads, findings=tuple(findings))
