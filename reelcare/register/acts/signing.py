"""Signing what was answered: a gate, or a check as complete."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from datetime import datetime, timedelta

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.checks.clearance import LAPSE, Passed
from reelcare.core.checks.sheet import GATE_TITLES, OWNERS, Question, Sheet
from reelcare.core.checks.verdict import Walk
from reelcare.core.fold import in_turn
from reelcare.core.state.limits import limits_of
from reelcare.core.state.machine_state import MachineState, OpenFault, Side
from reelcare.core.state.standing import HOLDING, Reason, judge, worded
from reelcare.core.text import _, current_language, plural
from reelcare.core.wording import said, short_of
from reelcare.register.acts.checks import Check, check, fault_of, open_check
from reelcare.register.errors import Refused
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer


def sign(writer: Writer, id: str, *, by: str, now: datetime, happened: datetime | None = None) -> tuple[e.Entry, ...]:
    """Sign what comes next of a check: its next gate, or the check as complete. Raises Refused where the answers do not
    bear it out, or something holds the machine.

    Returns the signature, the fix-by faults that the answers raise, and, with the last one, what was measured.
    """
    with writer.writing_as(by):
        written = writer.append(_drafts(writer, id, by, happened or now), by=by, now=now)
        refuse_what_counts_not(writer, written)
        return written


def _drafts(writer: Writer, id: str, by: str, at: datetime) -> list[e.Draft]:
    here = open_check(writer, id)
    gate, state = refuse_unsigned(here.walk, at, by), writer.state(here.machine)
    if here.walk.sheet.gates:
        refuse_held(writer, here.machine, at, here.walk.sheet, state)
        if state.last is not None and state.last[0] > at:  # a hold of then may have ended since
            refuse_held(writer, here.machine, at, here.walk.sheet, writer.state(here.machine, at))
    known = {(one.part, one.question) for one in state.faults}
    written = what_is_signed(writer, here, gate, at, state, known)
    return [e.Draft(what=one, machine=here.machine, happened=at) for one in written]


def what_is_signed(
    reader: Reader, here: Check, gate: str, at: datetime, state: MachineState, known: Set[tuple[str, str]]
) -> list[e.Kind]:
    """What a signature writes: itself, the fix-by faults of its answers that are not `known`, by part and question, and
    with the last one what was measured."""
    last = is_last(here.walk.sheet, gate)
    signature = e.CheckEnded(check=here.id, verdict="passed") if last else e.GateSigned(check=here.id, gate=gate)
    faults = _faults_of(reader, here, gate, at, state)
    written: list[e.Kind] = [signature, *(one for one in faults if (one.part, one.question) not in known)]
    figures = here.walk.kept_figures()
    if last and figures:
        written.append(e.Measured(about=here.sheet_id, figures=figures))
    return written


def refuse_what_counts_not(reader: Reader, written: Iterable[e.Entry]) -> None:
    """Raise Refused, in the transaction that wrote them, where a signature among entries permits nothing: a hold or a
    run was not known of where its check was answered, or it goes on from one that is too old."""
    for one in written:
        if e.signs(one.what) and one.machine is not None and not _counts(reader, one.machine, one):
            raise Refused(
                _("this signature would not count: a hold or a run came in between, or what it "
                  "goes on from is more than {hours} h old; give this check up and begin another",
                  hours=LAPSE // timedelta(hours=1))
            )  # fmt: skip


def _counts(reader: Reader, machine: str, signed: e.Entry) -> bool:
    """Whether a signature has permitted something when it was given, whatever has undone that since."""

    def permits(passed: Mapping[str, Passed]) -> bool:
        return (signed.what.subject(), signed.happened) in {(one.check, one.at) for one in passed.values()}

    if permits(reader.state(machine).passed):
        return True
    is_next = False
    for one, state in in_turn(machine, reader.of_machine(machine), reader.known()):
        if is_next:
            return permits(state.passed)
        is_next = one.id == signed.id
    return False  # nothing came after it, so that it would be in the state of now


def is_last(sheet: Sheet, gate: str) -> bool:
    """Whether a signature (of a gate, '' for the whole check) ends the check."""
    return not gate or gate == sheet.gates[-1]


def _faults_of(reader: Reader, here: Check, gate: str, at: datetime, state: MachineState) -> list[e.Fault]:
    """The fix-by faults that the answers raise which a signature is about."""
    counting, sheet = here.walk.counting().values(), here.walk.sheet
    mine = [one for one in counting if not gate or sheet.gate_of(one.question) == gate]
    raised = (fault_of(reader, here, one, at, state) for one in mine)
    return [one for one in raised if one is not None]


def refuse_unsigned(walk: Walk, at: datetime, by: str) -> str:
    """What is signed next, a gate or '' for the whole check. Raises Refused where the answers do not bear it out."""
    gate = walk.next_gate(at, by)
    last = is_last(walk.sheet, gate)
    waiting = walk.open(at, by) if last else walk.open_for(gate, at, by)
    names = _names(waiting[:3]) + (" …" if len(waiting) > 3 else "")
    if waiting and not last:
        raise Refused(
            plural(
                "{gate}: {n} question is still open: {names}", "{gate}: {n} questions are still open: {names}",
                len(waiting), gate=_(GATE_TITLES[gate]), names=names,
            )
        )  # fmt: skip
    if waiting:
        many = len(walk.sheet.questions)
        raise Refused(
            plural("{n} of {questions} questions is still open: {names}",
                   "{n} of {questions} questions are still open: {names}", len(waiting), questions=many, names=names)
        )  # fmt: skip
    unproved = walk.unproved() if last else []
    if unproved:
        raise Refused(_("not answered right: {unproved}", unproved=_names(unproved)))
    return gate


def _names(questions: Iterable[Question]) -> str:
    """The short titles of questions, in the person's language."""
    language = current_language()
    return "; ".join(short_of(one.short or {}, one.ask, language) for one in questions)


def holds_of(
    reader: Reader, machine: str, at: datetime, sheet: Sheet, state: MachineState | None = None, *, side: Side = "run",
    system: units.System = "metric",
) -> list[Reason]:  # fmt: skip
    """What holds a machine for a run, or for the road, in words, the hardest to end first; in the state that it has
    now, or in one. Of what a right answer ends on another sheet than the one at hand, that sheet is named."""
    plan, state = reader.plans().at(machine, at), reader.state(machine) if state is None else state
    limits = limits_of(state, plan, reader.card_of(state))
    standing = worded(
        judge(limits, at, reader.zone).standing,
        limits,
        plan,
        reader.zone,
        at,
        language=current_language(),
        system=system,
    )
    found = [one for one in standing.because if one.code in HOLDING and one.side in (side, "both")]
    told = [one._replace(says=_with_its_sheet(reader, one.says, state.fault(one.fault), sheet)) for one in found]
    return sorted(told, key=lambda one: OWNERS.index(one.owner))


def _with_its_sheet(reader: Reader, says: str, fault: OpenFault | None, sheet: Sheet) -> str:
    """A hold in words, with the sheet that asks what ends it, where that is not the one at hand."""
    if fault is None or not (fault.ends_by_answer and fault.check) or sheet.question(fault.question) is not None:
        return says
    try:
        its = check(reader, fault.check).walk.sheet
    except Refused:  # it was carried in without its check
        return says
    return _("{says}; its question is on the sheet {sheet}", says=says, sheet=said(its.title, current_language()))


def refuse_held(reader: Reader, machine: str, at: datetime, sheet: Sheet, state: MachineState) -> None:
    """Raise Refused where something holds the machine for a run in this state."""
    holds = holds_of(reader, machine, at, sheet, state)
    if holds:
        raise Refused(
            _("held ({owner}), so this gate cannot be signed: {says}", owner=_(holds[0].owner), says=holds[0].says)
        )
