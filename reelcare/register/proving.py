"""Proves a register whole: structure, every hash, every chain, and the rollup against the entries.

The rules of this file: it changes nothing and repairs nothing. Entries are read by a scan of the table, so that
damage in one copy of a fact is not hidden behind an index.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from reelcare.register import chain, rollup, schema, witness
from reelcare.register.carry import base
from reelcare.register.errors import RegisterError
from reelcare.register.register import Register


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that is not as it must be."""

    place: str
    what: str


@dataclass(frozen=True, slots=True)
class Head:
    """The end of one terminal's chain: worth writing down on paper, to compare later."""

    terminal: str
    count: int
    digest: str


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


Link = tuple[int, str, tuple[Any, ...], str]
"""An entry of a chain: its place, its digest, what it was sealed over, and its id."""


def _begins(terminal: str, first: Link, chains: dict[str, list[Link]]) -> tuple[str, int]:
    """What stands before the first entry of a chain, and its place: nothing and 1, but for a branch, which goes on from
    an entry of another chain of the same terminal."""
    place, digest, values, _ = first
    if base(terminal) == terminal or place == 1:
        return chain.GENESIS, 1
    for other, links in chains.items():
        if base(other) == base(terminal) and other != terminal:
            for at, link, _, _ in links:
                if at == place - 1 and chain.digest(link, place, *values) == digest:
                    return link, place
    return chain.GENESIS, 1


_SCAN = (
    "SELECT place, id, kind, machine, happened, recorded, terminal, person, body, digest FROM entry {scan}"
    " ORDER BY number"
)


def prove(register: Register) -> Proof:
    """The full proof. The register is only read."""
    with register.db.looking(), register.db.damaged_text_is_read():
        return _prove(register)


TAIL = 50
"""Entries that the quick proof looks at."""


def prove_the_end(register: Register) -> list[Finding]:
    """The quick proof, at every start: the last entries of this terminal's chain, and the witnessed heads."""
    found = [Finding(f"terminal {terminal}", text) for terminal, text in witness.missing(register)]
    rows = schema.rows(
        register.db,
        "SELECT place, id, kind, machine, happened, recorded, terminal, person, body, digest FROM entry"
        " WHERE terminal = ? ORDER BY place DESC LIMIT ?",
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


def _prove(register: Register) -> Proof:
    db = register.db
    findings = [Finding("file", text) for text in db.faults()]
    heads: dict[str, tuple[int, str]] = {}
    waiting: dict[str, list[Link]] = {}
    count = 0
    for place, id, kind, machine, happened, recorded, terminal, person, body, digest in schema.rows(
        db, _SCAN.format(scan=db.by_scan)
    ):
        count += 1
        values = (id, kind, machine, happened, recorded, terminal, person, body)
        waiting.setdefault(terminal, []).append((place, digest, (*values[:5], base(terminal), *values[6:]), str(id)))
    for terminal, links in waiting.items():
        ordered = sorted(links, key=lambda link: link[0])
        before, expected = _begins(terminal, ordered[0], waiting)
        for place, digest, values, id in ordered:
            if place != expected:
                findings.append(Finding(f"terminal {terminal}", f"entry {expected} is missing before {id}"))
            seal = chain.digest(before, place, *values)
            if seal != digest:
                findings.append(Finding(f"entry {id}", "its content is not what was sealed"))
            before, expected = digest, place + 1
        heads[terminal] = (expected - 1, before)
    findings += [Finding(f"terminal {terminal}", text) for terminal, text in witness.missing(register)]
    if not findings:
        try:
            findings += [Finding("rollup", text) for text in rollup.differences(register)]
        except (RegisterError, ValueError) as why:
            findings.append(Finding("rollup", f"cannot be worked out: {why}"))
    return Proof(
        entries=count,
        heads=tuple(Head(terminal, number, digest) for terminal, (number, digest) in sorted(heads.items())),
        findings=tuple(findings),
    )
