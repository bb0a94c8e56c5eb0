"""`check --from-paper`: a blank that was filled in at the machine, entered as one form."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from reelcare.cli import common
from reelcare.cli.work import questions
from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.checks.sheet import GATE_TITLES, Question
from reelcare.core.checks.verdict import Given
from reelcare.core.state.machine_state import Side
from reelcare.core.state.standing import Reason
from reelcare.core.text import _, plural
from reelcare.core.typed_time import TimeError, read_after
from reelcare.register.acts.checks import Check
from reelcare.register.acts.signing import holds_of
from reelcare.register.errors import Refused
from reelcare.register.exchange.papers import Paper, paper_of, refuse_entered, which_sheet
from reelcare.register.writing.writer import Writer


def enter(register: Writer, going: Check, asked: argparse.Namespace, by: str) -> int:
    """Ask for all that stands on a paper, and write it at once; an empty line is the end of what stands there."""
    paper = paper_of(going, by=by, at=common.moment_of(asked.at, register.zone))
    if not going.is_written:
        refuse_entered(register, going, paper.at)
    local = paper.at.astimezone(register.zone)
    common.print_text(
        _("From paper, as of {at:%Y-%m-%d %H:%M}: type what is on it, line by line. An empty "
          "line ends it; nothing is written before.", at=local)
    )  # fmt: skip
    common.print_text(which_sheet(going))
    is_at_end = False
    while not (is_at_end or paper.is_complete or paper.here.walk.ends_held()):
        question = paper.here.walk.next_in_gate(paper.at, by)
        if question is not None:
            after = _answered(register, paper, question, common.system(asked))
        else:
            after = _signed(register, paper, by)
            is_at_end = after is not None and bool(asked.gate)
        is_at_end = is_at_end or after is None
        paper = after or paper
    if not paper.done:
        common.print_text(_("Nothing was entered, and nothing is written."))
        return 0
    return _written(register, paper, common.system(asked))


def _answered(register: Writer, paper: Paper, question: Question, system: units.System) -> Paper | None:
    """The paper with the answer to a question; None where nothing more stands on it."""
    walk = paper.here.walk
    place = walk.sheet.questions.index(question) + 1
    while True:
        told = f"{place}/{len(walk.sheet.questions)}"
        seen = questions.ask(question, paper.here, told, paper.at, system, is_paper=True)
        if seen is None:
            return None
        note = ""
        judged = walk.judgement(Given(question.id, seen, paper.at, paper.by)).judged
        if judged == "right" and paper.needs_word(register, question.id):
            note = questions.word_of_change()
        try:
            return paper.answered(question.id, seen, note)
        except Refused as why:
            questions.warn(str(why))


def _signed(register: Writer, paper: Paper, by: str) -> Paper | None:
    """The paper with what comes next signed; None where it is not signed there."""
    common.print_text(_("If the paper is signed here: DONE, and the time if it is there, as in DONE 06:50."), gap=True)
    typed = questions.asked_to_sign(paper.here.walk.next_gate(paper.at, by), by)
    done, _blank, clock = typed.partition(" ")
    if done != "DONE":
        return None
    try:
        at = read_after(clock, paper.at, register.zone)
        register.refuse_time(paper.going.begin, paper.going.machine, at, now=common.now())
        return paper.signed(register, at)
    except (Refused, TimeError) as why:
        questions.warn(str(why))
        return None


def _written(register: Writer, paper: Paper, system: units.System) -> int:
    """Write what was entered, and say what came of it."""
    try:
        written = paper.write(register, now=common.now())
    except Refused as why:
        questions.warn(str(why))
        common.print_text(_("Nothing is written."))
        return 1
    answers = sum(isinstance(one.what, e.Answered) for one in written)
    signed = [one.what.gate for one in written if isinstance(one.what, e.GateSigned)]
    common.print_text(
        plural("Written, from paper: {n} answer.", "Written, from paper: {n} answers.", answers), gap=True
    )
    for gate in signed:
        common.print_text(_("Signed: {gate}.", gate=_(GATE_TITLES[gate])))
    questions.tell_faults(written)
    held = paper.here.walk.held()
    if paper.is_complete:
        common.print_text(_("Complete."))
    elif paper.here.walk.ends_held():
        common.print_text(_("The machine is held until the fault is repaired, tested again and released."))
    elif held:
        for one in held:
            common.print_text(questions.held_text(one))
    else:
        common.print_text(_("The rest stays open. The same command goes on from here."))
    holds = () if held else _holds_now(register, paper, system)
    for reason in holds:
        common.print_text(_("HELD ({owner}): {says}", owner=_(reason.owner), says=reason.says))
    return 1 if held or holds else 0


def _holds_now(register: Writer, paper: Paper, system: units.System) -> Sequence[Reason]:
    """What holds the machine by now for what a paper is about: the paper is of a time before."""
    side: Side = "road" if paper.going.begin.checks_for == "road" else "run"
    return holds_of(register, paper.going.machine, common.now(), paper.going.walk.sheet, side=side, system=system)
