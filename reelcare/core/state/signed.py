"""Whether a check that somebody signed as complete has passed: its answers are judged once more, by the sheet as it was
asked and the card of that time.

What was left out is worked out again from the card: no entry can say that a question did not apply.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta

from reelcare.core.checks import sheet as sheets
from reelcare.core.checks.clearance import LAPSE
from reelcare.core.checks.sheet import Sheet
from reelcare.core.checks.verdict import Given, Signature, Walk
from reelcare.core.machine.card import Card, CardError, read_card
from reelcare.core.state.machine_state import OpenCheck, PulledOut, WholeCheck

SheetOf = Callable[[str], Sheet | None]


def has_passed(
    check: OpenCheck, at: datetime, whole: Mapping[str, WholeCheck], out: PulledOut | None, sheet_of: SheetOf
) -> bool:
    """Whether the answers of a check bear out that it was signed as complete at a moment.

    A second run asks less, where the first check of the set bears it: one in `whole`, on the same sheet, not too old.
    So does a run that goes on after a stop half-way, where its hose is `out` by the gates of the check it goes on from.
    """
    walk = _provable(check, at, whole, out, sheet_of(check.kept_sheet))
    return walk is not None and walk.verdict(at) == "passed"


def gates_signed(
    check: OpenCheck, at: datetime, whole: Mapping[str, WholeCheck], out: PulledOut | None, sheet_of: SheetOf
) -> tuple[Signature, ...]:
    """The gates of an open check whose signature its answers bear out at a moment."""
    walk = _provable(check, at, whole, out, sheet_of(check.kept_sheet))
    return () if walk is None or walk.ends_held() else walk.gates(at)


def _provable(
    check: OpenCheck, at: datetime, whole: Mapping[str, WholeCheck], out: PulledOut | None, sheet: Sheet | None
) -> Walk | None:
    """The walk of a check that left out only what it may; None where it cannot have passed."""
    if sheet is None:
        return None
    try:
        card = read_card(check.card)
    except CardError:
        return None
    may_leave = sheets.left_out_again if check.again_of and not sheet.goes_on else sheets.left_out
    if not set(check.left_out) <= set(may_leave(sheet, card)):
        return None
    if sheet.goes_on:
        if out is None or out.check != check.again_of or not timedelta(0) <= at - out.at <= LAPSE:
            return None
    elif check.again_of and not _is_second(check, at, whole.get(check.again_of)):
        return None
    return _walk(check, sheet, card)


def answered_right(check: OpenCheck, question: str, sheet_of: SheetOf) -> bool:
    """Whether the newest answer of an open check to a question ends what an earlier one held."""
    sheet = sheet_of(check.kept_sheet)
    if sheet is None:
        return False
    try:
        walk = _walk(check, sheet, read_card(check.card))
    except CardError:
        return False
    tries = walk.tries(question)
    return bool(tries) and walk.judgement(tries[-1]).puts_right


def _walk(check: OpenCheck, sheet: Sheet, card: Card) -> Walk:
    return Walk(
        sheet=sheet.without(check.left_out),
        begun=check.begun,
        given=tuple(Given(one.question, one.seen, one.at, one.by, one.id) for one in check.answers),
        card=card,
        planned=check.planned,
        language=check.language,
        sets=check.sets,
        signed=check.signed,
    )


def _is_second(check: OpenCheck, at: datetime, first: WholeCheck | None) -> bool:
    if first is None or first.kept_sheet != check.kept_sheet:
        return False
    return timedelta(0) <= at - first.at <= LAPSE
