"""The second run on a hydrant: what may go on from the first check, and what may not."""

from datetime import timedelta
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.checks import sheet as sheeting
from reelcare.core.checks.sheet_table import to_plain
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.errors import Refused
from tests.register.conftest import sign_last, signed_gate

NUMBERS = {"volts": "12.6 V", "coils": "3", "inlet": "6.4 bar", "drive-loss": "0.4 bar", "speed": "24 m/h"}
PRE_START = sheets.load().by_id["pre-start"]


def answer_all(yard: Any, going: walk_rounds.Check, **wrong: str) -> walk_rounds.Check:
    at = going.begun.happened
    while (question := going.walk.next(at)) is not None:
        at += timedelta(seconds=15)
        right = NUMBERS[question.id] if question.is_number else next(one.id for one in question.choices if one.right)
        going = walk_rounds.answer(
            yard.register, going.id, question.id, wrong.get(question.id, right), by="Olav", now=at
        ).check
        going = signed_gate(yard, going, at)
        if going.ended is not None:
            break
    yard.now = max(yard.now, at)
    return going


def check(yard: Any, sheet: str = "pre-start", **how: Any) -> walk_rounds.Check:
    yard.now += timedelta(minutes=1)
    going = walk_rounds.begin(yard.register, yard.machine, sheets.load().by_id[sheet], by="Olav", now=yard.now, **how)
    going = answer_all(yard, going)
    sign_last(yard, going)
    return going


def run(yard: Any, hours: float = 5) -> None:
    started = yard.now + timedelta(minutes=1)
    yard.now = started + timedelta(hours=hours)
    yard.add(e.Run(started=started, ended=yard.now, metres=250_000, stopped_by="end stop"), at=yard.now)


def standing(yard: Any) -> str:
    from reelcare.register.reading import yard as yards

    return yards.machine_now(yard.register, yard.machine, yard.now).standing.run


def test_a_second_run_asks_only_what_can_have_changed_and_clears_the_machine(yard: Any) -> None:
    first = check(yard)
    assert standing(yard) == "clear"
    run(yard)
    assert standing(yard) == "check due"
    second = check(yard, again=True)
    asked = {one.id for one in second.walk.sheet.questions}
    whole = {one.id for one in first.walk.sheet.questions}
    assert asked < whole
    assert all(one.again for one in second.walk.sheet.questions)
    assert {"stop-test", "pawl-up", "drive-out", "feet", "coils"} <= asked
    assert standing(yard) == "clear"
    # it is spent by its run as well; a third goes on from the same first check
    run(yard)
    assert standing(yard) == "check due"
    third = check(yard, again=True)
    assert isinstance(third.begun.what, e.CheckBegun)
    assert third.begun.what.again_of == first.id


def test_no_second_run_goes_on_from_a_run_at_another_place(yard: Any) -> None:
    """What was seen before the first run was seen on its hydrant."""
    check(yard)
    run(yard)
    yard.now += timedelta(minutes=1)
    yard.add(e.Moved(place="South"), at=yard.now)
    assert walk_rounds.first_of_the_set(yard.register, yard.machine, PRE_START, yard.now) is None
    with pytest.raises(Refused, match="answer the whole sheet"):
        check(yard, again=True)


def test_without_a_run_after_a_day_after_a_move_or_a_hold_all_is_asked(yard: Any) -> None:
    with pytest.raises(Refused, match="answer the whole sheet"):
        check(yard, again=True)
    check(yard)
    with pytest.raises(Refused, match="answer the whole sheet"):
        check(yard, again=True)  # it is not spent yet: nothing to go on from
    run(yard)
    assert walk_rounds.first_of_the_set(yard.register, yard.machine, PRE_START, yard.now) is not None
    assert walk_rounds.first_of_the_set(yard.register, yard.machine, PRE_START, yard.now + timedelta(days=1)) is None
    check(yard, "road")
    assert walk_rounds.first_of_the_set(yard.register, yard.machine, PRE_START, yard.now) is None
    check(yard)
    run(yard)
    yard.add(e.Fault(part="pawl", says="spring gone", holds="run"))
    assert walk_rounds.first_of_the_set(yard.register, yard.machine, PRE_START, yard.now) is None


def test_another_version_of_the_sheet_is_asked_whole(yard: Any) -> None:
    check(yard)
    run(yard)
    other = sheeting.Sheet(PRE_START.id, {"en": "Pre-start, revised"}, PRE_START.checks_for, PRE_START.stages)
    assert walk_rounds.first_of_the_set(yard.register, yard.machine, other, yard.now) is None


def test_a_second_run_goes_on_from_a_check_whose_sheet_two_registers_kept(yard: Any) -> None:
    """As one that was carried in names it: the same sheet, by the entry of the register that it was begun in."""
    plain = e.Sheeted(sheet=to_plain(PRE_START))
    kept = [yard.add(plain, machine=None).id for _ in range(2)]
    for sheet in kept:
        yard.now += timedelta(minutes=1)
        card = yard.register.card(yard.machine)
        begun = e.CheckBegun(
            sheet=sheet, sheet_id="pre-start", checks_for="run", left_out=sheeting.left_out(PRE_START, card)
        )
        first = answer_all(yard, walk_rounds.check(yard.register, yard.add(begun, by="Olav").id))
        sign_last(yard, first)
        run(yard)
        second = check(yard, again=True)
        assert (second.begin.again_of, second.begin.sheet) == (first.id, sheet)
        assert standing(yard) == "clear"
        run(yard)
    assert len(set(kept)) == 2


def test_a_second_run_is_not_signed_once_the_first_is_a_day_old(yard: Any) -> None:
    """It was told as signed, and the machine stood as it had before."""
    check(yard)
    run(yard)
    yard.now += timedelta(hours=18)
    second = walk_rounds.begin(yard.register, yard.machine, PRE_START, by="Olav", now=yard.now, again=True)
    gate = {one.id for one in second.walk.sheet.questions if second.walk.sheet.gate_of(one.id) == "pull-out"}
    while (question := second.walk.next_in_gate(yard.now)) is not None and question.id in gate:
        right = next(one.id for one in question.choices if one.right)
        second = walk_rounds.answer(yard.register, second.id, question.id, right, by="Olav", now=yard.now).check
    yard.now += timedelta(hours=2)
    with pytest.raises(Refused, match="what it goes on from is more than 24 h old"):
        sign_last(yard, second)
    assert walk_rounds.check(yard.register, second.id).walk.signed == ()


def test_a_wrong_stop_answer_holds_on_the_second_run_too(yard: Any) -> None:
    check(yard)
    run(yard)
    going = walk_rounds.begin(yard.register, yard.machine, PRE_START, by="Olav", now=yard.now, again=True)
    answer_all(yard, going, **{"stop-test": "stays"})
    assert standing(yard) == "held"


def test_no_entry_can_say_that_a_question_did_not_apply(yard: Any) -> None:
    going = check(yard)
    begun = going.begun.what
    assert isinstance(begun, e.CheckBegun)
    # the same check once more, forged: all stop questions left out, and signed as complete
    left = tuple(one.id for one in PRE_START.questions if one.id != "wind")
    yard.now += timedelta(minutes=5)
    forged = yard.register.add(
        e.CheckBegun(sheet=begun.sheet, sheet_id="pre-start", checks_for="run", left_out=left),
        machine=yard.machine, by="Olav", now=yard.now,
    )  # fmt: skip
    yard.now += timedelta(seconds=30)
    walk_rounds.answer(yard.register, forged.id, "wind", "light", by="Olav", now=yard.now)
    yard.register.add(e.CheckEnded(check=forged.id, verdict="passed"), machine=yard.machine, by="Olav", now=yard.now)
    assert standing(yard) == "check due"


def test_a_second_run_cannot_go_on_from_a_check_of_another_machine(yard: Any) -> None:
    first = check(yard)
    run(yard)
    entry = yard.register.add(e.Carded(card={"tag": "R2"}), by="Mara", now=yard.now)
    begun = first.begun.what
    assert isinstance(begun, e.CheckBegun)
    assert entry.machine is not None
    card = yard.register.card(entry.machine)
    yard.now += timedelta(minutes=1)
    forged = yard.register.add(
        e.CheckBegun(
            sheet=begun.sheet, sheet_id="pre-start", checks_for="run", again_of=first.id,
            left_out=sheeting.left_out_again(PRE_START, card),
        ),
        machine=entry.machine, by="Olav", now=yard.now,
    )  # fmt: skip
    with pytest.raises(Refused, match="would not count"):
        answer_all(yard, walk_rounds.check(yard.register, forged.id))
    yard.now += timedelta(hours=1)
    for what in (e.GateSigned(check=forged.id, gate="pull-out"), e.CheckEnded(check=forged.id, verdict="passed")):
        yard.add(what, machine=entry.machine, by="Olav")
    yard.machine = entry.machine
    assert standing(yard) == "check due"
