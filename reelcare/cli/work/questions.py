"""A question of a walk-round in lines: shown, answered, and asked again before an answer holds the machine."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from datetime import datetime

from reelcare.cli import common
from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.checks.limits import CANNOT_READ, Judgement, limit_text
from reelcare.core.checks.sheet import GATE_TITLES, Question
from reelcare.core.checks.verdict import Given, Held
from reelcare.core.state.machine_state import ENDS_BY
from reelcare.core.text import _, mark, typed_figure
from reelcare.core.wording import said
from reelcare.register.acts.checks import Check


def read_line(prompt: str) -> str:
    """What is typed at a prompt, without blanks around it; '' where nobody types any more."""
    try:
        return input(f"{common.broken(prompt)} ").strip()
    except EOFError:
        if sys.stdout.isatty():
            print()  # nobody has pressed Enter
        return ""


def warn(text: str) -> None:
    """Print what speaks against an answer, below it."""
    common.print_text(f"  ! {text}")


def ask(
    question: Question, going: Check, place: str, at: datetime, system: units.System, *, is_paper: bool = False
) -> str | None:
    """What was seen, as it is kept; None for an empty line. What is entered from paper is not explained again."""
    language = going.walk.language
    _show(question, going, place, at, system, is_paper=is_paper)
    while True:
        typed = read_line("   > ")
        if not typed:
            return None
        seen = _choice(question, typed)
        if seen is None:
            told = mark("type a number from 1 to {choices}; an empty line leaves the check for later")
            warn(_(told, choices=len(question.choices)))
            continue
        trial = going.walk.judgement(Given(question.id, seen, at, ""))
        if trial.holds and not _sure(question, trial, language):
            continue
        return seen


def _show(question: Question, going: Check, place: str, at: datetime, system: units.System, *, is_paper: bool) -> None:
    """Print a question with all that belongs to it, and the limits of the set that held at its time."""
    language = going.walk.language
    common.print_text(f"{place}  {said(question.ask, language)}", gap=True)
    if question.why and not is_paper:
        common.print_text("      " + _("Why: {why}", why=said(question.why, language)))
    if question.caution and not is_paper:
        common.print_text("      " + _("CAUTION: {caution}", caution=said(question.caution, language)))
    if question.is_number:
        limit = limit_text(question, going.walk.card, going.walk.planned_at(at), unit=question.unit(system))
        if limit:
            common.print_text("      " + _("Right is {limit}.", limit=limit))
        if question.cannot_read:
            common.print_text("      " + "c  " + _("the gauge cannot be read"))
    for number, choice in enumerate(question.choices, 1):
        common.print_text(f"      {number}  {said(choice.says, language)}")


def _choice(question: Question, typed: str) -> str | None:
    if question.is_number:
        return _unread() if question.cannot_read and typed.lower() == "c" else typed_figure(typed)
    if typed.isdecimal() and 1 <= int(typed) <= len(question.choices):
        return question.choices[int(typed) - 1].id
    return typed if question.choice(typed) else None


def _unread() -> str:
    """What is seen of a gauge that cannot be read: with the reading taken elsewhere, where there is one."""
    elsewhere = read_line("  " + _("Read at pump or hydrant, as in `6.4 bar at pump`; Enter where it was not: "))
    return f"{CANNOT_READ}; {typed_figure(elsewhere)}" if elsewhere else CANNOT_READ


def _sure(question: Question, trial: Judgement, language: str) -> bool:
    warn(trial.says)
    if trial.owner != "machine":
        told = mark("This holds until it is ended ({owner}): {cure}.")
        warn(_(told, owner=_(trial.owner), cure=_(ENDS_BY[trial.owner])))
    elif question.kind == "test":
        warn(_("The first failed try counts: it holds the machine until repair, re-test and release."))
    if question.do:
        warn(said(question.do, language))
    typed = read_line("  ! " + _("Type HOLD to write it down, or Enter where it was typed by mistake: "))
    return typed.upper() == "HOLD"


def word_of_change() -> str:
    """What changed at the place, in a line; '' where nothing is said."""
    return read_line(
        "  ! " + _("Held because of the place, and place and set are still the same. What has changed? (one line) ")
    )


def asked_to_sign(gate: str, by: str) -> str:
    """What is typed to sign a gate ('': the whole check), in capitals."""
    what = _("the gate: {gate}", gate=_(GATE_TITLES[gate])) if gate else _("this check as complete")
    return read_line(_("Type DONE to sign {what}, as {by}: ", what=what, by=by)).upper()


def tell_faults(written: Iterable[e.Entry]) -> None:
    """Print the faults among entries that were written."""
    for one in written:
        if isinstance(one.what, e.Fault):
            common.print_text(_("Fault noted: {part}", part=_(one.what.part)))


def held_text(one: Held) -> str:
    """What holds, and what ends it."""
    judgement = one.judgement
    says = mark("HELD ({owner}): {says}: {cure}.")
    return _(says, owner=_(judgement.owner), says=judgement.says, cure=_(ENDS_BY[judgement.owner]))
