"""Proves a register whole: structure, every hash, every chain, and the rollup against the entries.

The rules of this file: it changes nothing and repairs nothing. Entries are read by a scan of the table, so that
damage in one copy of a fact is not hidden behind an index.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from reelcare.register import chain, schema, witness
from reelcare.register.carry import base
from reelcare.register.chain import Head
from reelcare.register.compared import comparing
from reelcare.register.errors import NotWhole, RegisterError
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
    """The full proof. The register is only read; `progress` is told how far the way is."""
    with register.db.looking(), register.db.damaged_text_is_read():
        return _prove(register, progress)


Link = tuple[int, str, tuple[Any, ...], str]
"""An entry of a chain: its place, its digest, what it was sealed over, and its id."""

End = tuple[int, str]
"""The end of a chain so far: its last entry's place and digest."""

_CAN_BE = {(int, str, str, where, int, int, str, str, str, str) for where in (str, type(None))}
"""The types that the columns can hold: damaged pages give others."""


class _Chains:
    """The chains as they grow: of each only the end is held, and what came before its turn."""

    def __init__(self, register: Register) -> None:
        self._register = register
        self.findings: list[Finding] = []
        self._ends: dict[str, End] = {}
        self._early: dict[str, list[Link]] = {}

    def heads(self) -> tuple[Head, ...]:
        """The ends of all chains."""
        return tuple(Head(terminal, *end) for terminal, end in sorted(self._ends.items()))

    def begin_after(self, row: Sequence[Any]) -> None:
        """Look at a chain from the entry after this one on; this one is not proved."""
        if self._can_be(row):
            place, terminal, digest = row[0], row[6], row[-1]
            self._ends[terminal] = (place, digest)

    def _can_be(self, row: Sequence[Any]) -> bool:
        """Whether an entry holds what can have been written; what does not is a finding."""
        if tuple(map(type, row)) in _CAN_BE:
            return True
        self.findings.append(Finding(f"entry {row[1]}", "is damaged: what stands in it cannot have been written"))
        return False

    def take(self, row: Sequence[Any]) -> None:
        """One entry: it goes on from the end of its chain, or waits for what comes before it."""
        if not self._can_be(row):
            return
        place, id, kind, machine, happened, recorded, terminal, person, body, digest = row
        sealed = (id, kind, machine, happened, recorded, base(terminal), person, body)
        count, before = self._ends.get(terminal, _BEGINNING)
        if place == count + 1:
            self._go_on(terminal, (place, digest, sealed, id), before)
        else:
            self._early.setdefault(terminal, []).append((place, digest, sealed, id))

    def end(self) -> None:
        """What still waits, in its order; a branch goes on from an entry of another chain of its terminal."""
        for terminal, links in sorted(self._early.items()):
            for place, digest, sealed, id in sorted(links, key=lambda link: link[0]):
                end = self._ends.get(terminal)
                before = end[1] if end is not None else self._before_a_branch(terminal, place, digest, sealed)
                expected = end[0] + 1 if end is not None else 1 if before == chain.GENESIS else place
                if place != expected:
                    self.findings.append(Finding(f"terminal {terminal}", f"entry {expected} is missing before {id}"))
                self._go_on(terminal, (place, digest, sealed, id), before)

    def _go_on(self, terminal: str, link: Link, before: str) -> None:
        place, digest, sealed, id = link
        if chain.digest(before, place, *sealed) != digest:
            self.findings.append(Finding(f"entry {id}", "its content is not what was sealed"))
        self._ends[terminal] = (place, digest)

    def _before_a_branch(self, terminal: str, place: int, digest: str, sealed: tuple[Any, ...]) -> str:
        if base(terminal) == terminal:
            return chain.GENESIS
        rows = schema.rows(self._register.db, "SELECT terminal, digest FROM entry WHERE place = ?", place - 1)
        for other, link in rows:
            if base(other) == base(terminal) and chain.digest(link, place, *sealed) == digest:
                return str(link)
        return chain.GENESIS


_BEGINNING: End = (0, chain.GENESIS)


TAIL = 50
"""Entries that the quick proof looks at."""


def prove_the_end(register: Register) -> list[Finding]:
    """The quick proof, at every start: the last entries of this terminal's chain, and the witnessed heads."""
    chains = _Chains(register)
    try:
        with register.db.looking(), register.db.damaged_text_is_read():
            found = [
                Finding(f"terminal {terminal}", text) for terminal, text in witness.missing(register.db, register.path)
            ]
            tail = schema.rows(
                register.db,
                f"SELECT {COLUMNS} FROM entry WHERE terminal = ? ORDER BY place DESC LIMIT ?",
                register.terminal, TAIL + 1,
            )[::-1]  # fmt: skip
            if len(tail) > TAIL:
                chains.begin_after(tail.pop(0))
            for row in tail:
                chains.take(row)
            chains.end()
    except NotWhole as why:
        return [Finding("file", str(why))]
    return found + chains.findings


def _prove(register: Register, progress: Progress) -> Proof:
    of = int(schema.rows(register.db, "SELECT COUNT(*) FROM entry")[0][0])

    # the chains are the first half of the way, what is kept beside the entries is the second
    def told(done: int, half: int) -> None:
        if of >= AT_ONCE:
            progress(half * of + done, 2 * of)

    with comparing(register, of) as compared, register.db.faults_beside() as faults:
        chains, count = _chains(register, lambda done: told(done, 0))
        findings = [Finding("file", text) for text in faults()]
        findings += chains.findings
        findings += [
            Finding(f"terminal {terminal}", text) for terminal, text in witness.missing(register.db, register.path)
        ]
        if not findings:
            try:
                differences = compared(lambda done, parts: told(of * done // (parts + 1), 1))
                findings += [Finding("rollup", text) for text in differences]
            except (RegisterError, ValueError) as why:
                findings.append(Finding("rollup", f"cannot be worked out: {why}"))
    told(of, 1)
    return Proof(entries=count, heads=chains.heads(), findings=tuple(findings))


def _chains(register: Register, told: Callable[[int], None]) -> tuple[_Chains, int]:
    """The chains of all entries, and how many these are."""
    chains, count, last, some = _Chains(register), 0, 0, AT_ONCE
    while some == AT_ONCE:
        some, last = _take_some(register.db, chains, last)
        count += some
        told(count)
    chains.end()
    return chains, count


def _lost(register: Register) -> list[Finding]:
    """What was witnessed and is not there."""
    return [Finding(f"terminal {terminal}", text) for terminal, text in witness.missing(register.db, register.path)]


def _take_some(db: Any, chains: _Chains, last: int) -> tuple[int, int]:
    """Take some thousand entries after a number: how many these were, and the number of the last of them.

    They come in the order of writing, by the table itself.
    """
    count = 0
    for number, *row in schema.rows(db, _after(db, f"number, {COLUMNS}"), last, AT_ONCE):
        chains.take(row)
        count, last = count + 1, number
    return count, last


def _after(db: Any, columns: str) -> str:
    return f"SELECT {columns} FROM entry {db.by_scan} WHERE number > ? ORDER BY number LIMIT ?"
