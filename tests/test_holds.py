"""Every hold that a shipped sheet can bring: its kind, what ends it, and its re-test, answer by answer."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import get_args

import pytest

from reelcare.core import entries as e
from reelcare.core.checks.sheet import Owner, Question, Sheet
from reelcare.core.checks.verdict import Given, Walk
from reelcare.core.entries import fault_of
from reelcare.core.fold import fold
from reelcare.core.machine.card import Card
from reelcare.core.parts import PARTS, default_retest
from reelcare.core.state.machine_state import ENDS_BY
from reelcare.core.state.plans import Known, PlanBook
from reelcare.register import sheets

SHEETS = sheets.load(own=Path("no-such-folder")).by_id
T = datetime(2026, 5, 1, 6, tzinfo=UTC)
# what is read where a reading must never be: beyond what any machine of the shipped sheets can have
BEYOND = {
    "pressure": ("25 bar", "0 bar"), "speed": ("2000 m/h", "0 m/h"), "voltage": ("60 V", "0 V"), "count": ("99", "0"),
    "length": ("3 m", "0 m"),
}  # fmt: skip


def answers(question: Question) -> Iterator[str]:
    """What can be answered wrong."""
    yield from (one.id for one in question.choices if not one.right)
    if question.is_number:
        yield from BEYOND.get(question.quantity, ())
    if question.cannot_read:
        yield "cannot be read"


def only(sheet: Sheet, question: Question) -> Sheet:
    return sheet.without(tuple(one.id for one in sheet.questions if one.id != question.id))


def holds() -> Iterator[tuple[str, Walk, Given]]:
    for sheet in SHEETS.values():
        for question in sheet.questions:
            for seen in answers(question):
                given = Given(question.id, seen, T, "Ines", id="1")
                walk = Walk(only(sheet, question), T, (given,), Card("R1"), {})
                if walk.held():
                    yield f"{sheet.id}.{question.id}={seen}", walk, given


HOLDS = list(holds())


def test_every_question_that_can_hold_does_by_some_answer() -> None:
    can = {f"{sheet.id}.{one.id}" for sheet in SHEETS.values() for one in sheet.questions if one.can_hold}
    assert {place.partition("=")[0] for place, _walk, _given in HOLDS} == can
    assert len(HOLDS) > 200


@pytest.mark.parametrize(("place", "walk", "given"), HOLDS, ids=[one[0] for one in HOLDS])
def test_a_hold_names_its_kind_what_ends_it_and_its_re_test(place: str, walk: Walk, given: Given) -> None:
    (held,) = walk.held()
    fault = fault_of(walk, given, "check", totals=(0, 0, 0), day=T)
    assert fault is not None
    assert fault.holds in ("run", "road", "both")
    assert fault.part in PARTS
    owner = fault.owner or "machine"
    assert owner == held.judgement.owner
    assert owner in get_args(Owner)
    assert (owner in ENDS_BY) == (owner != "machine")
    assert owner == "machine" or ENDS_BY[owner] in fault.describe()
    assert fault.retest, f"{place}: a hold without a re-test"
    assert len(fault.retest) > 15, f"{place}: {fault.retest}"
    if held.question.retest is None:
        assert fault.retest == default_retest(fault.part)


def test_a_hold_of_the_machine_ends_by_repair_re_test_and_release_alone() -> None:
    """A right answer afterwards ends what is of the place, of passing or of an adjustment, and no hold of a machine."""
    owners = set()
    for _place, walk, given in HOLDS:
        (held,) = walk.held()
        right = next((one.id for one in held.question.choices if one.right), "")
        if right:
            after = Walk(walk.sheet, T, (*walk.given, Given(given.question, right, T, "Ines", id="2")), walk.card, {})
            assert bool(after.held()) == (held.judgement.owner == "machine"), _place
            owners.add(held.judgement.owner)
    assert owners == {"machine", "place", "passing", "adjustment"}


CARDED = e.Entry("0", "m", T, T, "t", "Ana", e.Carded(card={"tag": "R1"}))
FIX_BY = e.Entry("1", "m", T, T, "t", "Ana", e.Fault(part="pawl", says="slips", fix_by_day="2026-05-03"))


@pytest.mark.parametrize(("day", "retest"), [(1, ""), (3, default_retest("pawl"))])
def test_what_holds_by_its_fix_by_limit_has_the_re_test_of_its_part(day: int, retest: str) -> None:
    at = T + timedelta(days=day)
    repair = e.Entry("2", "m", at, at, "t", "Ana", e.Repair(fault="1", says="spring"))
    state = fold("m", [CARDED, FIX_BY, repair], Known(PlanBook([])))
    assert state is not None
    (fault,) = state.faults
    assert (fault.status, fault.retest) == ("repaired", retest)


def test_every_part_has_a_re_test_of_its_own() -> None:
    assert len({default_retest(part) for part in PARTS}) == len(PARTS)
