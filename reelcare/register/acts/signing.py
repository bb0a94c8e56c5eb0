"""Signing what was answered: a gate, or a check as complete."""

from __future__ import annotations

from datetime import datetime

from reelcare.core import entries as e
from reelcare.core.checks.sheet import OWNERS
from reelcare.core.state.limits import limits_of
from reelcare.core.state.standing import HOLDING, Reason, judge, worded
from reelcare.core.text import _
from reelcare.register.acts.checks import fault_of, open_check
from reelcare.register.errors import Refused
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer


def sign(writer: Writer, id: str, *, by: str, now: datetime, happened: datetime | None = None) -> tuple[e.Entry, ...]:
    """Sign what comes next of a check: its next gate, or the check as complete. Raises Refused where the answers do not
    bear it out, or something holds the machine.

    Returns the signature, and the fix-by faults that the answers raise.
    """
    at = happened or now
    here = open_check(writer, id)
    gate = here.walk.next_gate(at, by)
    if not gate or gate == here.walk.sheet.gates[-1]:
        return complete(writer, id, by=by, now=now, happened=happened)
    waiting = here.walk.open_for(gate, at, by)
    if waiting:
        names = ", ".join(one.id for one in waiting[:3]) + (" …" if len(waiting) > 3 else "")
        raise Refused(
            _("gate {gate}: {waiting} questions are still open: {names}", gate=gate, waiting=len(waiting), names=names)
        )
    _refuse_held(writer, here.machine, at)
    known = {(one.part, one.question) for one in writer.state(here.machine).faults}
    mine = [one for one in here.walk.counting().values() if here.walk.sheet.gate_of(one.question) == gate]
    raised = [fault_of(writer, here, one, at) for one in mine]
    written: list[e.Kind] = [e.GateSigned(check=id, gate=gate)]
    written += [one for one in raised if one is not None and (one.part, one.question) not in known]
    return writer.append([e.Draft(what=one, machine=here.machine, happened=at) for one in written], by=by, now=now)


def holds_of(reader: Reader, machine: str, at: datetime) -> list[Reason]:
    """What holds a machine for a run, in words, the hardest to end first."""
    limits, plan = limits_of(reader.state(machine), reader.plan(machine, at)), reader.plan(machine, at)
    standing = worded(judge(limits, at, reader.zone).standing, limits, plan, reader.zone, at)
    found = [one for one in standing.because if one.code in HOLDING and one.side in ("run", "both")]
    return sorted(found, key=lambda one: OWNERS.index(one.owner))


def _refuse_held(reader: Reader, machine: str, at: datetime) -> None:
    """Raise Refused where something holds the machine for a run."""
    holds = holds_of(reader, machine, at)
    if holds:
        raise Refused(
            _("held ({owner}), so this gate cannot be signed: {says}", owner=holds[0].owner, says=holds[0].says)
        )


def complete(
    writer: Writer, id: str, *, by: str, now: datetime, happened: datetime | None = None
) -> tuple[e.Entry, ...]:
    """Sign a check as complete. Raises Refused where the answers do not bear it out.

    Returns the entry that ends it, the fix-by faults that its answers raise, and what it measured.
    """
    at = happened or now
    here = open_check(writer, id)
    gate = here.walk.next_gate(at, by)
    if gate and gate != here.walk.sheet.gates[-1]:
        raise Refused(_("sign the gate {gate} first", gate=gate))
    if gate:
        _refuse_held(writer, here.machine, at)
    waiting = here.walk.open(at, by)
    if waiting:
        names = ", ".join(one.id for one in waiting[:3]) + (" …" if len(waiting) > 3 else "")
        raise Refused(
            _(
                "{waiting} of {questions} questions are still open: {names}",
                waiting=len(waiting),
                questions=len(here.walk.sheet.questions),
                names=names,
            )
        )
    unproved = here.walk.unproved()
    if unproved:
        raise Refused(_("not answered right: {unproved}", unproved=", ".join(one.id for one in unproved)))
    known = {(one.part, one.question) for one in writer.state(here.machine).faults}
    last = here.walk.sheet.gates[-1:]
    raised = [
        fault_of(writer, here, one, at)
        for one in here.walk.counting().values()
        if not last or here.walk.sheet.gate_of(one.question) == last[0]
    ]
    written: list[e.Kind] = [e.CheckEnded(check=id, verdict="passed")]
    written += [one for one in raised if one is not None and (one.part, one.question) not in known]
    figures = here.walk.kept_figures()
    if figures:
        written.append(e.Measured(about=here.sheet_id, figures=figures))
    drafts = [e.Draft(what=one, machine=here.machine, happened=at) for one in written]
    return writer.append(drafts, by=by, now=now)
