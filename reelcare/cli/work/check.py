"""`check`: a walk-round in lines, for slow lines and screen readers."""

from __future__ import annotations

import argparse

from reelcare.cli import common
from reelcare.cli.parser import Problem
from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.checks.limits import limit_text
from reelcare.core.checks.sheet import Question, Sheet
from reelcare.core.text import _
from reelcare.core.wording import nearest, said
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.errors import Refused
from reelcare.register.writing.writer import Writer


def check(asked: argparse.Namespace) -> int:
    """Ask a sheet's questions one after the other; an empty line goes on later."""
    found = sheets.load()
    sheet = found.by_id.get(asked.sheet)
    if sheet is None:
        raise Problem(
            _("{sheet}: no such sheet{nearest}", sheet=asked.sheet, nearest=nearest(asked.sheet, list(found.by_id)))
        )
    with common.open_register(asked) as register:
        machine = register.machine_id(asked.tag)
        by = common.by(asked)
        going = _begin_or_resume(register, machine, sheet, asked, by)
        return _walk(register, going, asked, by)


def _begin_or_resume(
    register: Writer, machine: str, sheet: Sheet, asked: argparse.Namespace, by: str
) -> walk_rounds.Check:
    for one in register.state(machine).checks:
        if one.sheet == sheet.id:
            print(
                _(
                    "Going on with the check begun {begun:%Y-%m-%d %H:%M} by {by}.",
                    begun=one.begun.astimezone(register.zone),
                    by=one.by,
                )
            )
            return walk_rounds.check(register, one.id)
    return walk_rounds.begin(
        register, machine, sheet, by=by, now=common.now(), language=common.language(asked), again=asked.again
    )


def _walk(register: Writer, going: walk_rounds.Check, asked: argparse.Namespace, by: str) -> int:
    sheet, language = going.walk.sheet, going.walk.language
    total = len(sheet.questions)
    question = going.walk.resume(common.now())
    stage = ""
    while question is not None:
        here = sheet.stage_of(question.id)
        if here is not None and here.id != stage:
            stage = here.id
            print(f"\n== {said(here.title, language)}")
        number = sheet.questions.index(question) + 1
        seen = _ask(question, going, f"{number}/{total}")
        if seen is None:
            print(_("Kept as it is. The same command goes on from here."))
            return 0
        try:
            after = walk_rounds.answer(register, going.id, question.id, seen, by=by, now=common.now())
        except Refused as why:
            print(f"  ! {why}")
            continue
        print(f"  {after.judgement.judged}: {after.judgement.says}")
        going = after.check
        if after.fault is not None:
            print("\n" + _("HELD. {do}", do=said(question.do, language) if question.do else ""))
            print(_("The machine is held until the fault is repaired, tested again and released."))
            return 1
        question = going.walk.next(common.now())
    return _sign(register, going, by, common.system(asked))


def _ask(question: Question, going: walk_rounds.Check, place: str) -> str | None:
    language = going.walk.language
    print(f"\n{place}  {said(question.ask, language)}")
    if question.why:
        print("      " + _("Why: {why}", why=said(question.why, language)))
    if question.caution:
        print("      " + _("CAUTION: {caution}", caution=said(question.caution, language)))
    if question.is_number:
        limit = limit_text(question, going.walk.card, going.walk.planned, language=language)
        if limit:
            print("      " + _("Right is {limit}.", limit=limit))
    for number, choice in enumerate(question.choices, 1):
        print(f"      {number}  {said(choice.says, language)}")
    while True:
        try:
            typed = input("   > ").strip()
        except EOFError:
            return None
        if not typed:
            return None
        seen = _choice(question, typed)
        if seen is None:
            print(
                "  ! "
                + _("a number from 1 to {most} is right; an empty line goes on later", most=len(question.choices))
            )
            continue
        chosen = question.choice(seen)
        if question.if_not == "stop" and chosen is not None and not chosen.right and not _sure(question, language):
            continue
        return seen


def _choice(question: Question, typed: str) -> str | None:
    if question.is_number:
        return typed
    if typed.isdigit() and 1 <= int(typed) <= len(question.choices):
        return question.choices[int(typed) - 1].id
    return typed if question.choice(typed) else None


def _sure(question: Question, language: str) -> bool:
    print(f"  ! {said(question.do, language) if question.do else _('Put it right if you can.')}")
    try:
        return (
            input("  ! " + _("This holds the machine. Type HOLD to write it down, or Enter to look again: "))
            .strip()
            .upper()
            == "HOLD"
        )
    except EOFError:
        return False


def _sign(register: Writer, going: walk_rounds.Check, by: str, system: units.System) -> int:
    print("\n" + _("All {questions} questions are answered.", questions=len(going.walk.sheet.questions)))
    try:
        typed = input(_("Type DONE to sign this check as complete, as {by}: ", by=by)).strip().upper()
    except EOFError:
        typed = ""
    if typed != "DONE":
        print(_("Not signed. The same command goes on from here."))
        return 0
    written = walk_rounds.complete(register, going.id, by=by, now=common.now())
    for one in written:
        if isinstance(one.what, e.Fault):
            print(_("Fault noted: {part}", part=one.what.part))
        elif isinstance(one.what, e.Measured):
            print(_("Kept on the machine: {describe}", describe=one.what.describe(system)))
    print(_("Complete."))
    return 0
