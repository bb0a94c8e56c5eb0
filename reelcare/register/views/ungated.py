"""Runs that were logged without the gates of their pre-start: said in the book and in the marks, and nothing more.

The rules of this file: it goes by signatures as they stand in the book. Whether answers bear a signature out is judged
where permission is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from typing import Literal, NamedTuple

from reelcare.core import entries as e
from reelcare.core.checks.clearance import LAPSE, LOOKED_AT_BY
from reelcare.core.text import _, mark
from reelcare.register.database.models import EntryRow
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader

E = EntryRow
Missing = Literal["water", "running"]
"""The first gate that a run was made without, of those that it needs: *may open the water*, *may be left running*."""
SAYS: dict[Missing, str] = {
    "water": mark("logged without its gates"),
    "running": mark("not looked at while it ran: without the gate *may be left running*"),
}
LONGEST = timedelta(days=8)
"""How long before a run's end what it needs can have been signed: the longest run, and a day."""


class Ungated(NamedTuple):
    """How many runs of a machine were logged without their gates, of how many."""

    machine: str
    runs: int
    of: int


def ungated_text(tag: str, one: Ungated) -> str:
    """What is said of a machine in the marks."""
    return _("{tag}: {runs} of {of} runs logged without their gates", tag=tag, runs=one.runs, of=one.of)


class _Signed(NamedTuple):
    """A signature that permits to open the water, or one that a running machine may be left."""

    at: datetime
    gate: Missing
    check: str


def missing(reader: Reader, runs: Iterable[e.Entry]) -> dict[str, Missing]:
    """The gate that each of these entries of runs was made without, by id; nothing of those that had theirs."""
    by_machine: dict[str, list[e.Entry]] = {}
    for one in runs:
        if isinstance(one.what, e.Run) and one.machine is not None:
            by_machine.setdefault(one.machine, []).append(one)
    found: dict[str, Missing] = {}
    for machine, mine in by_machine.items():
        found.update(_of_machine(reader, machine, mine))
    return found


def between(reader: Reader, since: datetime, until: datetime) -> list[Ungated]:
    """The machines of which runs of a time were logged without their gates, the most first."""
    runs = reader.select(queries.between(since, until, E.kind == e.Run.kind))
    lacks = missing(reader, runs)
    counted: dict[str, list[int]] = {}
    for one in runs:
        if one.machine is not None:
            some = counted.setdefault(one.machine, [0, 0])
            some[0] += lacks.get(one.id) == "water"
            some[1] += 1
    found = [Ungated(machine, some, of) for machine, (some, of) in counted.items() if some]
    return sorted(found, key=lambda one: (-one.runs, one.machine))


def _of_machine(reader: Reader, machine: str, runs: Sequence[e.Entry]) -> Iterator[tuple[str, Missing]]:
    first = min(one.happened for one in runs) - LONGEST
    last = max(one.happened for one in runs)
    signed = list(_signatures(reader, machine, first, last))
    ends = [one.happened for one in _between(reader, machine, (e.Run.kind,), first, last)]
    for one in runs:
        assert isinstance(one.what, e.Run)
        before = max((end for end in ends if end < one.happened), default=first)
        gate = _missing(one.what, before, signed)
        if gate is not None:
            yield one.id, gate


def _missing(run: e.Run, before: datetime, signed: Sequence[_Signed]) -> Missing | None:
    """The gate that a run lacks: its signature comes after the run before, and is not too old when the water opens."""
    opens = (max(before, run.started - LAPSE), run.started + LOOKED_AT_BY)
    waters = {one.check for one in signed if one.gate == "water" and opens[0] < one.at <= min(opens[1], run.ended)}
    if not waters:
        return "water"
    looked = any(one.gate == "running" and one.check in waters and one.at <= run.ended for one in signed)
    return None if looked or run.ended - run.started < LOOKED_AT_BY else "running"


def _signatures(reader: Reader, machine: str, first: datetime, last: datetime) -> Iterator[_Signed]:
    """The signatures of a time. One that completes a sheet without gates for a run stands for both."""
    found = _between(reader, machine, (e.GateSigned.kind, e.CheckEnded.kind), first, last)
    ended = {one.what.check for one in found if isinstance(one.what, e.CheckEnded) and one.what.verdict == "passed"}
    gated = {one.what.check for one in found if isinstance(one.what, e.GateSigned)}
    begun = reader.select(queries.entries(E.id.in_(sorted(ended)), E.kind == e.CheckBegun.kind)) if ended else []
    for_runs = {one.id for one in begun if isinstance(one.what, e.CheckBegun) and one.what.checks_for == "run"}
    for one in found:
        if isinstance(one.what, e.GateSigned) and one.what.gate in ("water", "running"):
            yield _Signed(one.happened, "water" if one.what.gate == "water" else "running", one.what.check)
        elif isinstance(one.what, e.CheckEnded) and one.what.check in ended & for_runs:
            yield _Signed(one.happened, "running", one.what.check)
            if one.what.check not in gated:
                yield _Signed(one.happened, "water", one.what.check)


def _between(reader: Reader, machine: str, kinds: Sequence[str], first: datetime, last: datetime) -> Sequence[e.Entry]:
    return reader.select(queries.between(first, last, E.machine == machine, E.kind.in_(kinds)))
