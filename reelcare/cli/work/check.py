"""`check`: a walk-round in lines, for slow lines and screen readers."""

from __future__ import annotations

import argparse
from datetime import datetime, tzinfo

from reelcare.cli import common
from reelcare.cli.problem import Problem
from reelcare.cli.work import paper, questions
from reelcare.core import entries as e
from reelcare.core.checks.judged_by import judged_by
from reelcare.core.checks.sheet import GATE_TITLES, GOES_ON, PRE_START, Question, Sheet
from reelcare.core.checks.verdict import Given
from reelcare.core.text import _, mark, plural
from reelcare.core.wording import said
from reelcare.register import sheets
from reelcare.register.acts import sets, walk_rounds
from reelcare.register.errors import Over, Refused
from reelcare.register.proof.health import clock_behind
from reelcare.register.reading import yard
from reelcare.register.writing.writer import Writer


def _at(asked: argparse.Namespace, register: Writer) -> datetime:
    """When it happens: `--at`, else now."""
    return common.happened(asked, register, common.now())


def check(asked: argparse.Namespace) -> int:
    """Ask a sheet's questions one after the other; an empty line goes on later."""
    found = sheets.load()
    named = found.named(asked.sheet) if asked.sheet else None
    with common.open_register(asked) as register:
        machine = register.machine_id(asked.tag)
        by = common.by(asked)
        register.must_be_allowed(e.CheckBegun.kind, by)  # before a question is asked, not after its answer
        sheet = named or found.named(_usual(register, machine, asked))
        if asked.from_paper and not asked.at:
            raise Problem(_("--from-paper: say when it was filled in at the machine: --at 2026-05-01T06:30"))
        going = _begin_or_resume(register, machine, sheet, asked, by)
        register.refuse_time(going.begin, machine, _at(asked, register), now=common.now())
        return paper.enter(register, going, asked, by) if asked.from_paper else _walk(register, going, asked, by)


def _usual(register: Writer, machine: str, asked: argparse.Namespace) -> str:
    """The sheet that is asked where none is named: the short one after a stop half-way, else the pre-start."""
    going = [one.sheet for one in register.state(machine).open_checks]
    if asked.again or PRE_START in going:
        return PRE_START
    if GOES_ON in going:
        return GOES_ON
    if not walk_rounds.is_stopped(register, machine, _at(asked, register)):
        return PRE_START
    common.print_text(
        _("The run was stopped half-way, its hose is out: this goes on with it. To answer "
            "everything: `check {tag} pre-start`.",
          tag=asked.tag)
    )  # fmt: skip
    return GOES_ON


def _must_be_next(gate: str, sheet: Sheet, asked: argparse.Namespace) -> None:
    """Raise Problem where the gate that is asked for is not the next one."""
    if asked.gate and asked.gate != gate:
        known, right = ", ".join(sheet.gates) or _("none"), gate or _("there is none")
        says = mark("--gate {gate}: not the next gate ({right}); this sheet has {known}")
        raise Problem(_(says, gate=asked.gate, right=right, known=known))


def _must_come_after(going: walk_rounds.Check, at: datetime, zone: tzinfo) -> None:
    """Raise Problem for a time before something that was done in a check: answers of that time would not count."""
    begun, last = (one.astimezone(zone) for one in (going.begun.happened, going.last))
    if at < begun:
        raise Problem(_("--at: the open check was begun {begun:%Y-%m-%d %H:%M}; give a time since then", begun=begun))
    if at < last:
        raise Problem(
            _("--at: the open check has an answer of {last:%Y-%m-%d %H:%M:%S}; give a time since then", last=last)
        )


def _begin_or_resume(
    register: Writer, machine: str, sheet: Sheet, asked: argparse.Namespace, by: str
) -> walk_rounds.Check:
    for one in register.state(machine).open_checks:
        if one.sheet == sheet.id:
            begun = one.begun.astimezone(register.zone)
            going = walk_rounds.check(register, one.id)
            if asked.at:
                _must_come_after(going, _at(asked, register), register.zone)
            common.print_text(
                _("Going on with the check begun {begun:%Y-%m-%d %H:%M} by {by}.", begun=begun, by=one.by)
            )
            _must_be_next(going.walk.next_gate(_at(asked, register), by), going.walk.sheet, asked)
            return going
    _must_be_next(next(iter(sheet.gates), ""), sheet, asked)
    return walk_rounds.prepare(
        register, machine, sheet, by=by, at=_at(asked, register), language=common.language(asked), again=asked.again
    )


def _walk(register: Writer, going: walk_rounds.Check, asked: argparse.Namespace, by: str) -> int:
    sheet, language = going.walk.sheet, going.walk.language
    total = len(sheet.questions)
    behind = "" if asked.clock_is_right else clock_behind(register, common.now())
    if behind:  # before a question is asked, not at the signature
        common.print_text(behind)
    _say_held(register, going, asked)
    _say_known(register, going)
    _say_judged_by(register, going, asked, by)
    question = going.walk.resume(_at(asked, register), by) or walk_rounds.held_still(register, going)
    stage = ""
    while question is not None:
        here = sheet.stage_of(question.id)
        if here is not None and here.id != stage:
            stage = here.id
            common.print_text(f"== {said(here.title, language)}", gap=True)
        if going.walk.is_ahead(question, _at(asked, register), by):
            common.print_text(_(walk_rounds.HELD_AHEAD), gap=True)
        number = sheet.questions.index(question) + 1
        seen = questions.ask(question, going, f"{number}/{total}", _at(asked, register), common.system(asked))
        if seen is None:
            return _leave_open(going)
        try:
            at = _at(asked, register)
            note = _what_changed(register, going, question, seen, at)
            after = walk_rounds.answer(
                register, going, question.id, seen, by=by, now=common.now(), happened=at, note=note
            )
        except Refused as why:
            questions.warn(str(why))
            if isinstance(why, Over):
                return 1
            continue
        common.print_text(f"  {_(after.judgement.judged)}: {after.judgement.says}")
        going = after.check
        if going.walk.ends_held():
            common.print_text(_("HELD. {do}", do=said(question.do, language) if question.do else ""), gap=True)
            common.print_text(_("The machine is held until the fault is repaired, tested again and released."))
            return 1
        question = walk_rounds.to_ask(register, going, _at(asked, register), by)
    return _sign(register, going, asked, by)


def _leave_open(going: walk_rounds.Check) -> int:
    """Say how a check goes on whose answers end here, and what holds the machine."""
    common.print_text(_("Saved as it is. The same command goes on from here."))
    for one in going.walk.held():
        common.print_text(questions.held_text(one))
    return 1 if going.walk.held() else 0


def _say_held(register: Writer, going: walk_rounds.Check, asked: argparse.Namespace) -> None:
    """Say first what holds the machine, and that no gate can be signed while it does."""
    if going.walk.sheet.gates:
        sheet, system = going.walk.sheet, common.system(asked)
        for one in walk_rounds.holds_of(register, going.machine, _at(asked, register), sheet, system=system):
            common.print_text(_("HELD ({owner}): {says}", owner=_(one.owner), says=one.says))
            common.print_text(_("You can still answer questions; no gate can be signed while this holds."))


def _say_known(register: Writer, going: walk_rounds.Check) -> None:
    """Before the gate *may pull out* of a run: stop items of which nothing is known, and notes that are unread."""
    if going.walk.sheet.checks_for == "run" and not going.walk.signed:
        now = common.now()
        one = yard.machine_now(register, going.machine, now, forecasts=False, language=going.walk.language)
        for says in one.known_before(now, register.zone):
            common.print_text(f"? {says}")


def _say_judged_by(register: Writer, going: walk_rounds.Check, asked: argparse.Namespace, by: str) -> None:
    """Before the first question of a gate: what it will be judged by. It reads no line."""
    walk, now = going.walk, _at(asked, register)
    if not walk.begins_gate(now, by):
        return
    gate = _(GATE_TITLES[walk.next_gate(now, by)])
    common.print_text(_("Gate: {gate}. It is judged by:", gate=gate), gap=True)
    if not walk.newest_plan:
        common.print_text("  " + _("no set is kept: the card and common limits alone"))
    told = judged_by(walk, sets.wishes_for(register, going.machine, now), common.system(asked), register.zone, now)
    width = max(len(one.label) for one in told)
    for one in told:
        common.print_text(
            f"  {one.label:<{width}}  " + "   ".join((one.planned or _("not planned"), one.limit)).rstrip()
        )


def _what_changed(register: Writer, going: walk_rounds.Check, question: Question, seen: str, at: datetime) -> str:
    """What changed at the place, in a line, where a right answer needs it to end a hold; '' where nothing is said."""
    trial = going.walk.judgement(Given(question.id, seen, at, ""))
    if trial.judged != "right" or not walk_rounds.needs_word(register, going, question.id):
        return ""
    return questions.word_of_change()


def _sign(register: Writer, going: walk_rounds.Check, asked: argparse.Namespace, by: str) -> int:
    """Sign what comes next: a gate, and then on to the next one, or the check as complete."""
    gate = going.walk.next_gate(_at(asked, register), by)
    many = len(going.walk.counting())
    answered = (
        plural("{n} question so far is answered.", "All {n} questions so far are answered.", many)
        if gate
        else plural("{n} question is answered.", "All {n} questions are answered.", many)
    )
    common.print_text(answered, gap=True)
    if questions.asked_to_sign(gate, by) != "DONE":
        common.print_text(_("Not signed. The same command goes on from here."))
        return 0
    try:
        written = walk_rounds.sign(register, going.id, by=by, now=common.now(), happened=_at(asked, register))
    except Refused as why:
        questions.warn(str(why))
        return 1
    questions.tell_faults(written)
    for one in written:
        if isinstance(one.what, e.Measured):
            common.print_text(_("Kept on the machine: {describe}", describe=one.what.describe(common.system(asked))))
    if not gate or gate == going.walk.sheet.gates[-1]:
        common.print_text(_("Complete."))
        return 0
    common.print_text(_("Signed: {gate}.", gate=_(GATE_TITLES[gate])))
    if asked.gate:
        return 0
    return _walk(register, walk_rounds.check(register, going.id), asked, by)
