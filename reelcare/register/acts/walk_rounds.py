"""Walk-rounds: begun, answered one question at a time, and ended.

Each answer is an entry of its own, written when it is given. What an answer means is the core's to say; one that holds
for the machine's sake ends the check and raises its fault in the same transaction, one that holds for another raises
its fault and waits until the question is answered right.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from reelcare.core import entries as e
from reelcare.core.checks import plain_sheet
from reelcare.core.checks import sheet as sheets
from reelcare.core.checks.clearance import LAPSE
from reelcare.core.checks.limits import Judgement
from reelcare.core.checks.sheet import OWNERS
from reelcare.core.checks.verdict import Given, LaterSet, Walk
from reelcare.core.state.limits import limits_of
from reelcare.core.state.standing import HOLDING, Reason, judge, worded
from reelcare.register.acts import sets
from reelcare.register.database.models import EntryRow
from reelcare.register.errors import Refused
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader
from reelcare.register.timestamps import milliseconds
from reelcare.register.writing.writer import Writer

E = EntryRow


@dataclass(frozen=True, slots=True)
class Check:
    """A check with all that was answered so far."""

    id: str
    machine: str
    begun: e.Entry
    ended: e.Entry | None
    walk: Walk

    @property
    def sheet_id(self) -> str:
        """The sheet's id."""
        return _begun(self).sheet_id


@dataclass(frozen=True, slots=True)
class AfterAnswer:
    """What an answer did: its judgement, the check as it stands now, and the fault it raised."""

    judgement: Judgement
    check: Check
    fault: e.Entry | None = None


def check(reader: Reader, id: str) -> Check:
    """A check by the id of the entry that began it. Raises Refused."""
    return reader.cache.get(("check", id), lambda: _read(reader, id))


def _read(reader: Reader, id: str) -> Check:
    found = reader.select(queries.entries(E.id == id, E.kind == e.CheckBegun.kind))
    if not found:
        raise Refused(f"{id}: no such check")
    begun = found[0]
    assert isinstance(begun.what, e.CheckBegun)
    assert begun.machine is not None
    sheet = reader.sheet(begun.what.sheet)
    if sheet is None:
        raise Refused(f"{begun.what.sheet}: the sheet of this check is not here")
    about = reader.select(queries.in_order(queries.entries(E.refers == id, queries.stands())))
    ended = next((one for one in about if isinstance(one.what, e.CheckEnded)), None)
    card = reader.card(begun.machine, begun.happened)
    later = _sets_since(reader, begun) if begun.what.follows_set else ()
    return Check(begun.id, begun.machine, begun, ended, e.walk_of(sheet, begun, about, card, later))


def _sets_since(reader: Reader, begun: e.Entry) -> tuple[LaterSet, ...]:
    """The sets kept after a check was begun, each with its values."""
    planned = queries.entries(E.machine == begun.machine, E.kind == e.SetPlanned.kind, queries.stands())
    found = reader.select(queries.in_order(planned.where(E.happened >= milliseconds(begun.happened))))
    return tuple(
        LaterSet(one.happened, one.what.planned)
        for one in found
        if isinstance(one.what, e.SetPlanned) and one.order > begun.order
    )


def begin(
    writer: Writer,
    machine: str,
    sheet: sheets.Sheet,
    *,
    by: str,
    now: datetime,
    happened: datetime | None = None,
    language: str = "en",
    planned: Mapping[str, str] | None = None,
    again: bool = False,
) -> Check:
    """Begin a walk-round on a machine, held to the set that is planned for it unless `planned` says otherwise.

    `again` asks only what can have changed since the first run on the same hydrant. Raises Refused where a check on
    this sheet is open already, or where nothing can be asked `again`.
    """
    at = happened or now
    for one in writer.state(machine).checks:
        if one.sheet == sheet.id:
            since = f"{one.begun.astimezone(writer.zone):%Y-%m-%d %H:%M}"
            raise Refused(f"a check on this sheet is open since {since}; go on with it, or leave it")
    card = writer.card(machine)
    if not sheet.fits(card):
        raise Refused(f"this sheet is for machines with {' and '.join(sheet.needs)}; the card says that this has none")
    first = first_of_the_set(writer, machine, sheet, at) if again else None
    if again and first is None:
        raise Refused("there is no run on this hydrant, cleared within a day, to go on from: ask the whole sheet")
    what = e.CheckBegun(
        sheet=_kept_sheet(writer, sheet, by, at, now),
        sheet_id=sheet.id,
        checks_for=sheet.checks_for,
        language=language,
        left_out=sheets.left_out(sheet, card) if first is None else sheets.left_out_again(sheet, card),
        again_of="" if first is None else first.id,
        planned=dict(sets.planned_for(writer, machine, at) if planned is None else planned),
        follows_set=True if planned is None else None,
    )
    entry = writer.add(what, machine=machine, by=by, now=now, happened=at)
    return check(writer, entry.id)


def first_of_the_set(reader: Reader, machine: str, sheet: sheets.Sheet, at: datetime) -> Check | None:
    """The whole check that a second run on the same hydrant may go on from; None where there is none.

    It was passed, on this very sheet, within the time that a clearance stands; a run has used it up, and neither a
    hold nor the road has come between.
    """
    passed = reader.state(machine).passed
    claim, road = passed.get("run"), passed.get("road")
    if claim is None or claim.spent is None or claim.spent_by != "the run" or sheet.checks_for != "run":
        return None
    first = check(reader, claim.check)
    if _begun(first).again_of:
        first = check(reader, _begun(first).again_of)
    passed_at = first.ended.happened if first.ended is not None else None
    if first.walk.sheet.gates:
        whole = reader.state(machine).whole.get(first.id)
        passed_at = whole.at if whole is not None else None
    if passed_at is None or at - passed_at > LAPSE or (road is not None and road.at >= passed_at):
        return None
    return first if _kept_id(reader, e.Sheeted(sheet=plain_sheet.to_plain(sheet))) == _begun(first).sheet else None


def _begun(check: Check) -> e.CheckBegun:
    assert isinstance(check.begun.what, e.CheckBegun)
    return check.begun.what


def _kept_sheet(writer: Writer, sheet: sheets.Sheet, by: str, at: datetime, now: datetime) -> str:
    """The entry that keeps this sheet as it is now; written if it was never asked before in this form."""
    what = e.Sheeted(sheet=plain_sheet.to_plain(sheet))
    return _kept_id(writer, what) or writer.add(what, by=by, now=now, happened=at).id


def _kept_id(reader: Reader, what: e.Sheeted) -> str:
    """The entry that keeps this very sheet, by its digest; '' where none does."""
    found = reader.db.fetch(E.select(E.id).where(E.kind == what.kind, E.refers == what.subject()).limit(1))
    return str(found[0][0]) if found else ""


def answer(
    writer: Writer,
    id: str,
    question: str,
    seen: str,
    *,
    by: str,
    now: datetime,
    happened: datetime | None = None,
    note: str = "",
) -> AfterAnswer:
    """Answer one question of an open check, and write what follows from it.

    Raises Refused for an answer that cannot be read; nothing is written then.
    """
    at = happened or now
    before = _open(writer, id)
    given = Given(question, seen, at, by, note=note)
    judgement = before.walk.judgement(given)
    if judgement.judged == "unreadable":
        raise Refused(judgement.says)
    what = e.Answered(check=id, question=question, seen=seen, judged=judgement.judged, note=note)
    drafts = [e.Draft(what=what, machine=before.machine, happened=at)]
    mine = [one for one in writer.state(before.machine).faults if one.question == question and one.ends_by_answer]
    if judgement.holds and judgement.owner == "machine":
        drafts.append(e.Draft(what=e.CheckEnded(check=id, verdict="held"), machine=before.machine, happened=at))
    if judgement.holds and (judgement.owner == "machine" or not mine):
        fault = _fault_of(writer, before, given, at)
        assert fault is not None
        drafts.append(e.Draft(what=fault, machine=before.machine, happened=at))
    if judgement.judged == "right":
        ended = [one for one in mine if one.owner != "place" or one.moved or note.strip()]
        puts = [e.PutRight(fault=one.id, check=id, says=note.strip()) for one in ended]
        drafts += [e.Draft(what=one, machine=before.machine, happened=at) for one in puts]
    unchanged = ("check before an answer", id)
    writer.cache.put(unchanged, before)
    written = writer.append(drafts, by=by, now=now)
    if writer.cache.known(unchanged) is before:  # nothing else has come in meanwhile, so it need not be read again
        writer.cache.put(("check", id), _after(before, written))
    writer.cache.drop(unchanged)
    fault_entry = next((one for one in written if isinstance(one.what, e.Fault)), None)
    return AfterAnswer(judgement, check(writer, id), fault_entry)


def needs_word(reader: Reader, here: Check, question: str) -> bool:
    """Whether a right answer ends a hold of the place only with a word of what changed: neither its place nor its set
    did."""
    faults = reader.state(here.machine).faults
    return any(one.question == question and one.owner == "place" and not one.moved for one in faults)


def _after(before: Check, written: Sequence[e.Entry]) -> Check:
    """A check after entries that were just written about it."""
    ended = next((one for one in written if isinstance(one.what, e.CheckEnded)), before.ended)
    given = sorted([*before.walk.given, *e.given_in(written)], key=lambda one: (one.at, one.id))
    signed = (*before.walk.signed, *e.signatures_in(written))
    return replace(before, ended=ended, walk=replace(before.walk, given=tuple(given), signed=signed))


def _fault_of(reader: Reader, check: Check, given: Given, at: datetime) -> e.Fault | None:
    """The fault that an answer raises now, None where it raises none."""
    totals, day = reader.state(check.machine).totals, at.astimezone(reader.zone)
    counted = (totals.seconds, totals.millimetres, totals.runs)
    return e.fault_of(check.walk, given, check.id, totals=counted, day=day)


def sign(writer: Writer, id: str, *, by: str, now: datetime, happened: datetime | None = None) -> tuple[e.Entry, ...]:
    """Sign what comes next of a check: its next gate, or the check as complete. Raises Refused where the answers do not
    bear it out, or something holds the machine.

    Returns the signature, and the fix-by faults that the answers raise.
    """
    at = happened or now
    here = _open(writer, id)
    gate = here.walk.next_gate(at, by)
    if not gate or gate == here.walk.sheet.gates[-1]:
        return complete(writer, id, by=by, now=now, happened=happened)
    waiting = here.walk.open_for(gate, at, by)
    if waiting:
        names = ", ".join(one.id for one in waiting[:3]) + (" …" if len(waiting) > 3 else "")
        raise Refused(f"gate {gate}: {len(waiting)} questions are still open: {names}")
    _refuse_held(writer, here.machine, at)
    known = {(one.part, one.question) for one in writer.state(here.machine).faults}
    mine = [one for one in here.walk.counting().values() if here.walk.sheet.gate_of(one.question) == gate]
    raised = [_fault_of(writer, here, one, at) for one in mine]
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
        raise Refused(f"held ({holds[0].owner}), so this gate cannot be signed: {holds[0].says}")


def complete(
    writer: Writer, id: str, *, by: str, now: datetime, happened: datetime | None = None
) -> tuple[e.Entry, ...]:
    """Sign a check as complete. Raises Refused where the answers do not bear it out.

    Returns the entry that ends it, the fix-by faults that its answers raise, and what it measured.
    """
    at = happened or now
    here = _open(writer, id)
    gate = here.walk.next_gate(at, by)
    if gate and gate != here.walk.sheet.gates[-1]:
        raise Refused(f"sign the gate {gate} first")
    if gate:
        _refuse_held(writer, here.machine, at)
    waiting = here.walk.open(at, by)
    if waiting:
        names = ", ".join(one.id for one in waiting[:3]) + (" …" if len(waiting) > 3 else "")
        raise Refused(f"{len(waiting)} of {len(here.walk.sheet.questions)} questions are still open: {names}")
    unproved = here.walk.unproved()
    if unproved:
        raise Refused(f"not answered right: {', '.join(one.id for one in unproved)}")
    known = {(one.part, one.question) for one in writer.state(here.machine).faults}
    last = here.walk.sheet.gates[-1:]
    raised = [
        _fault_of(writer, here, one, at)
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


def leave(writer: Writer, id: str, why: str, *, by: str, now: datetime, happened: datetime | None = None) -> e.Entry:
    """Give a check up, with the reason. It clears nothing."""
    here = _open(writer, id)
    if not why.strip():
        raise Refused("why: say in a few words why the check is given up")
    what = e.CheckEnded(check=id, verdict="left", why=why)
    return writer.add(what, machine=here.machine, by=by, now=now, happened=happened)


def _open(reader: Reader, id: str) -> Check:
    found = check(reader, id)
    if found.ended is not None:
        raise Refused("this check has ended already")
    if found.walk.sheet.gates and not any(one.id == id for one in reader.state(found.machine).checks):
        raise Refused("this check is over: a run or a hold came since; begin another")
    return found
