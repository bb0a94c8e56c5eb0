"""Walk-rounds on a register: begun, answered one question at a time, and ended.

The rules of this file: each answer is an entry of its own, written when it is given. What an answer means is
the core's to say (`verdict.py`); a wrong answer to a stop question ends the check as held and raises its fault
in the same transaction.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from reelcare.core import entries as e
from reelcare.core.checks import sheet as sheets
from reelcare.core.checks import sheet_table
from reelcare.core.checks.limits import Judgement
from reelcare.core.checks.verdict import Given, Walk, fault_of, given_in, walk_of
from reelcare.core.state.standing import LAPSE
from reelcare.core.state.tally import Passed
from reelcare.register import rollup, sets
from reelcare.register.errors import Refused

if TYPE_CHECKING:
    from reelcare.register.register import Register


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
        assert isinstance(self.begun.what, e.CheckBegun)
        return self.begun.what.sheet_id


@dataclass(frozen=True, slots=True)
class AfterAnswer:
    """What an answer did: its judgement, the check as it stands now, and the fault it raised."""

    judgement: Judgement
    check: Check
    fault: e.Entry | None = None


def begin(
    register: Register,
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
    for one in register.tally(machine).checks:
        if one.sheet == sheet.id:
            raise Refused(
                f"a check on this sheet is open since {_said(register, one.begun)}; go on with it, or leave it"
            )
    card = register.card(machine)
    if not sheet.fits(card):
        raise Refused(f"this sheet is for machines with {' and '.join(sheet.needs)}; the card says that this has none")
    first = first_of_the_set(register, machine, sheet, at) if again else None
    if again and first is None:
        raise Refused("there is no run on this hydrant, cleared within a day, to go on from: ask the whole sheet")
    kept = _kept_sheet(register, sheet, by, at, now)
    what = e.CheckBegun(
        sheet=kept,
        sheet_id=sheet.id,
        checks_for=sheet.checks_for,
        language=language,
        left_out=sheets.left_out(sheet, card) if first is None else sheets.left_out_again(sheet, card),
        again_of="" if first is None else first.id,
        planned=dict(sets.planned_for(register, machine, at) if planned is None else planned),
    )
    entry = register.add(what, machine=machine, by=by, now=now, happened=at)
    return check(register, entry.id)


def first_of_the_set(register: Register, machine: str, sheet: sheets.Sheet, at: datetime) -> Check | None:
    """The whole check that a second run on the same hydrant may go on from; None where there is none.

    It was passed, on this very sheet, within the time that a clearance stands; a run has used it up, and neither a
    hold nor the road has come between.
    """
    tally = register.tally(machine)
    claim = tally.passed.get("run")
    if claim is None or claim.spent is None or claim.spent_by != "the run" or sheet.checks_for != "run":
        return None
    last = check(register, claim.check)
    assert isinstance(last.begun.what, e.CheckBegun)
    first = check(register, last.begun.what.again_of) if last.begun.what.again_of else last
    assert isinstance(first.begun.what, e.CheckBegun)
    road = tally.passed.get("road")
    same = rollup.sheet_key(sheet_table.to_plain(sheet)) == _key_of(register, first.begun.what.sheet)
    if first.ended is None or not same or at - first.ended.happened > LAPSE:
        return None
    return None if road is not None and road.at >= first.ended.happened else first


def _key_of(register: Register, sheet: str) -> str:
    kept = register.entry(sheet)
    return rollup.sheet_key(kept.what.sheet) if kept is not None and isinstance(kept.what, e.Sheeted) else ""


def _kept_sheet(register: Register, sheet: sheets.Sheet, by: str, at: datetime, now: datetime) -> str:
    """The entry that keeps this sheet as it is now; written if it was never asked before in this form."""
    plain = sheet_table.to_plain(sheet)
    found = register.entries("kind = 'sheet' AND refers = ? LIMIT 1", rollup.sheet_key(plain))
    if found:
        return found[0].id
    return register.add(e.Sheeted(sheet=plain), by=by, now=now, happened=at).id


def check(register: Register, id: str) -> Check:
    """A check by the id of the entry that began it. Raises Refused."""
    if register.db.in_transaction():
        # entries are coming in that no mark tells of yet, and may be taken back: nothing is held in hand
        return _read_check(register, id)
    mark = register.mark()
    if register.kept_check is not None and (register.kept_check[0], register.kept_check[1].id) == (mark, id):
        return register.kept_check[1]
    found = _read_check(register, id)
    register.kept_check = (mark, found)
    return found


def _read_check(register: Register, id: str) -> Check:
    found = register.entries("id = ? AND kind = 'check begun'", id)
    if not found:
        raise Refused(f"{id}: no such check")
    begun = found[0]
    assert isinstance(begun.what, e.CheckBegun)
    assert begun.machine is not None
    from reelcare.register.questions import IN_ORDER, STANDS

    about = register.entries(
        f"refers = ? AND {STANDS} {IN_ORDER}",
        id,
    )
    ended = next((one for one in about if isinstance(one.what, e.CheckEnded)), None)
    sheet = _read_kept(register, begun.what.sheet)
    card = register.card(begun.machine, begun.happened)
    return Check(begun.id, begun.machine, begun, ended, walk_of(sheet, begun, about, card))


def _read_kept(register: Register, id: str) -> sheets.Sheet:
    """A kept sheet. An entry never changes, so what was read once is read."""
    known = register.kept_sheets.get(id)
    if known is None:
        known = register.kept_sheets[id] = _read_sheet(register, id)
    return known


def _read_sheet(register: Register, id: str) -> sheets.Sheet:
    found = register.entry(id)
    if found is None or not isinstance(found.what, e.Sheeted):
        raise Refused(f"{id}: the sheet of this check is not here")
    return sheet_table.read_sheet(found.what.sheet, kept=True)


def answer(
    register: Register,
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
    from reelcare.register.register import Draft

    at = happened or now
    others = register.change()
    before = _open(register, id)
    given = Given(question, seen, at, by, note=note)
    judgement = before.walk.judgement(given)
    if judgement.judged == "unreadable":
        raise Refused(judgement.says)
    what = e.Answered(check=id, question=question, seen=seen, judged=judgement.judged, note=note)
    drafts = [Draft(what=what, machine=before.machine, happened=at)]
    asked = before.walk.sheet.question(question)
    stop = asked is not None and asked.if_not == "stop" and judgement.judged == "wrong"
    if stop:
        totals, day = register.tally(before.machine).totals, at.astimezone(register.zone)
        fault = fault_of(before.walk, given, id, totals=(totals.seconds, totals.millimetres, totals.runs), day=day)
        assert fault is not None
        drafts.append(Draft(what=e.CheckEnded(check=id, verdict="held"), machine=before.machine, happened=at))
        drafts.append(Draft(what=fault, machine=before.machine, happened=at))
    written = register.add_all(drafts, by=by, now=now)
    if register.change() == others:
        register.kept_check = (register.mark(), _after(before, written))
    return AfterAnswer(judgement, check(register, id), written[-1] if stop else None)


def _said(register: Register, moment: datetime) -> str:
    return f"{moment.astimezone(register.zone):%Y-%m-%d %H:%M}"


def _after(before: Check, written: Sequence[e.Entry]) -> Check:
    """A check after entries that were written when nothing else had come in since it was looked at."""
    ended = next((one for one in written if isinstance(one.what, e.CheckEnded)), before.ended)
    given = sorted([*before.walk.given, *given_in(written)], key=lambda one: (one.at, one.id))
    return replace(before, ended=ended, walk=replace(before.walk, given=tuple(given)))


def complete(
    register: Register, id: str, *, by: str, now: datetime, happened: datetime | None = None
) -> tuple[e.Entry, ...]:
    """Sign a check as complete. Raises Refused where the answers do not bear it out.

    Returns the entry that ends it, the fix-by faults that its answers raise, and what it measured.
    """
    from reelcare.register.register import Draft

    at = happened or now
    here = _open(register, id)
    waiting = here.walk.open(at)
    if waiting:
        names = ", ".join(one.id for one in waiting[:3]) + (" …" if len(waiting) > 3 else "")
        raise Refused(f"{len(waiting)} of {len(here.walk.sheet.questions)} questions are still open: {names}")
    unproved = here.walk.unproved()
    if unproved:
        raise Refused(f"not answered right: {', '.join(one.id for one in unproved)}")
    tally = register.tally(here.machine)
    totals, day = tally.totals, at.astimezone(register.zone)
    known = {(one.what.part, one.what.question) for one in tally.faults}
    faults = [
        fault_of(here.walk, one, id, totals=(totals.seconds, totals.millimetres, totals.runs), day=day)
        for one in here.walk.counting().values()
    ]
    drafts = [Draft(what=e.CheckEnded(check=id, verdict="passed"), machine=here.machine, happened=at)]
    drafts += [
        Draft(what=one, machine=here.machine, happened=at)
        for one in faults
        if one is not None and (one.part, one.question) not in known
    ]
    figures = here.walk.kept_figures()
    if figures:
        what = e.Measured(about=here.sheet_id, figures=figures)
        drafts.append(Draft(what=what, machine=here.machine, happened=at))
    return register.add_all(drafts, by=by, now=now)


def leave(
    register: Register, id: str, why: str, *, by: str, now: datetime, happened: datetime | None = None
) -> e.Entry:
    """Give a check up, with the reason. It clears nothing."""
    here = _open(register, id)
    if not why.strip():
        raise Refused("why: say in a few words why the check is given up")
    what = e.CheckEnded(check=id, verdict="left", why=why)
    return register.add(what, machine=here.machine, by=by, now=now, happened=happened)


def _open(register: Register, id: str) -> Check:
    found = check(register, id)
    if found.ended is not None:
        raise Refused("this check has ended already")
    return found


def has_passed(register: Register, claim: Passed, at: datetime | None) -> bool:
    """Whether the answers of a check that was signed as complete bear it out.

    What was left out is worked out again from the card: no entry can say that a question did not apply.
    """
    try:
        found = check(register, claim.check)
        if found.walk.until(claim.at).verdict(claim.at) != "passed":
            return False
        begun = found.begun.what
        assert isinstance(begun, e.CheckBegun)
        whole, card = _read_kept(register, begun.sheet), register.card(found.machine, found.begun.happened)
        if not begun.again_of:
            return set(begun.left_out) <= set(sheets.left_out(whole, card))
        return set(begun.left_out) <= set(sheets.left_out_again(whole, card)) and _goes_on(
            register, found, begun, claim
        )
    except (Refused, sheet_table.SheetError):
        return False


def _goes_on(register: Register, found: Check, begun: e.CheckBegun, claim: Passed) -> bool:
    """Whether the first check of the set bears a second run: whole, passed, the same machine and sheet, not too old."""
    first = check(register, begun.again_of)
    what = first.begun.what
    assert isinstance(what, e.CheckBegun)
    if first.ended is None or first.machine != found.machine or what.again_of or what.sheet != begun.sheet:
        return False
    ended = first.ended.happened
    if not timedelta(0) <= claim.at - ended <= LAPSE:
        return False
    return has_passed(register, Passed(first.id, first.sheet_id, ended, first.ended.by), None)
