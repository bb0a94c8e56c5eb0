"""Whose a hold is, and what ends it: of the machine, of the place, of an adjustment, of what passes."""

from datetime import timedelta
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.demo import _right
from reelcare.register.errors import Refused
from reelcare.register.reading import yard as yards
from tests.register.conftest import entries, signed_gate


def answered_to(yard: Any, question: str, sheet: str = "pre-start") -> walk_rounds.Check:
    """A check begun and answered right up to a question."""
    going = walk_rounds.begin(yard.register, yard.machine, sheets.load().by_id[sheet], by="Olav", now=yard.now)
    while (asked := going.walk.next(yard.now)) is not None and asked.id != question:
        going = signed_gate(yard, answer(yard, going, asked.id, _right(asked, going.walk)).check, yard.now)
    return going


def answer(yard: Any, going: walk_rounds.Check, question: str, seen: str, note: str = "") -> walk_rounds.AfterAnswer:
    yard.now += timedelta(seconds=20)
    return walk_rounds.answer(yard.register, going.id, question, seen, by="Olav", now=yard.now, note=note)


def standing(yard: Any) -> tuple[str, str | None]:
    found = yards.machine_now(yard.register, yard.machine, yard.now).standing
    return found.run, found.held_as


def test_an_adjustment_is_put_right_in_the_same_check_and_both_answers_stay(yard: Any) -> None:
    going = answered_to(yard, "feet")
    after = answer(yard, going, "feet", "one")
    assert standing(yard) == ("held", "adjustment")
    assert after.fault is not None
    assert after.check.ended is None
    assert after.check.walk.next(yard.now).id == "feet"  # type: ignore[union-attr]
    again = answer(yard, going, "feet", "none")
    assert again.fault is None  # held already; the try stays in the book
    after = answer(yard, going, "feet", "both")
    assert standing(yard) == ("check due", None)
    assert [one.seen for one in after.check.walk.tries("feet")] == ["one", "none", "both"]
    assert [one.what.kind for one in entries(yard.register, "kind = 'put right'")] == ["put right"]
    assert yard.register.rebuild() == []


def test_wind_that_held_and_is_only_noted_now_holds_no_more(yard: Any) -> None:
    going = answered_to(yard, "wind")
    answer(yard, going, "wind", "strong")
    assert standing(yard) == ("held", "passing")
    after = answer(yard, going, "wind", "fresh")
    assert standing(yard) == ("check due", None)
    assert after.check.walk.held() == []
    assert yard.register.rebuild() == []


def test_an_adjustment_that_is_off_by_less_now_holds_until_it_is_right(yard: Any) -> None:
    going = answered_to(yard, "inlet")
    answer(yard, going, "inlet", "25 bar")
    assert standing(yard) == ("held", "adjustment")
    after = answer(yard, going, "inlet", "0.5 bar")
    assert after.judgement.judged == "wrong"
    assert not after.judgement.holds
    assert standing(yard) == ("held", "adjustment")
    assert [one.given.seen for one in after.check.walk.held()] == ["25 bar"], "the check says what the machine does"
    after = answer(yard, going, "inlet", "7 bar")
    assert after.check.walk.held() == []


def test_a_failed_stop_test_stays_failed_and_ends_the_check(yard: Any) -> None:
    going = answered_to(yard, "stop-test")
    answer(yard, going, "stop-test", "hangs")
    assert standing(yard) == ("held", "machine")
    with pytest.raises(Refused, match="ended"):
        answer(yard, going, "stop-test", "comes-out")
    again = answered_to(yard, "pawl-up")
    answer(yard, again, "stop-test", "comes-out")
    assert standing(yard) == ("held", "machine")


def test_a_hold_of_the_place_ends_by_a_right_answer_once_place_or_set_changed(yard: Any) -> None:
    going = answered_to(yard, "stream")
    answer(yard, going, "stream", "road")
    assert standing(yard) == ("held", "place")
    assert walk_rounds.needs_word(yard.register, going, "stream")
    answer(yard, going, "stream", "field")
    assert standing(yard) == ("held", "place")
    yard.now += timedelta(minutes=1)
    yard.add(e.SetPlanned(wishes={"arc": "180"}, planned={"least_coils": "2"}))
    assert not walk_rounds.needs_word(yard.register, going, "stream")
    answer(yard, going, "stream", "field")
    assert standing(yard) == ("check due", None)
    assert yard.register.rebuild() == []


def test_without_a_change_a_word_of_what_changed_ends_it_and_stays_in_the_book(yard: Any) -> None:
    going = answered_to(yard, "stream")
    answer(yard, going, "stream", "road")
    answer(yard, going, "stream", "field", note="arc stops set to 180 degrees")
    assert standing(yard) == ("check due", None)
    (ended,) = [one.what for one in entries(yard.register, "kind = 'put right'")]
    assert isinstance(ended, e.PutRight)
    assert ended.says == "arc stops set to 180 degrees"


def test_a_hold_outlives_its_check_and_is_ended_by_the_next(yard: Any) -> None:
    going = answered_to(yard, "feet")
    answer(yard, going, "feet", "one")
    walk_rounds.leave(yard.register, going.id, "dark", by="Olav", now=yard.now)
    assert standing(yard) == ("held", "adjustment")
    going = answered_to(yard, "cart")
    assert standing(yard) == ("check due", None)


def test_a_hold_ends_by_nothing_but_a_right_answer(yard: Any) -> None:
    going = answered_to(yard, "feet")
    fault = answer(yard, going, "feet", "one").fault
    assert fault is not None
    yard.add(e.PutRight(fault=fault.id, check=going.id), machine=yard.machine)
    assert standing(yard) == ("held", "adjustment")
    held = yard.add(e.Fault(part="pawl", says="spring gone", holds="both", retest="pawl holds"))
    with pytest.raises(Refused, match="repair, re-test and release"):
        yard.add(e.PutRight(fault=held.id, check=going.id))


def test_with_several_holds_the_hardest_to_end_names_it(yard: Any) -> None:
    going = answered_to(yard, "people")
    answer(yard, going, "people", "some")
    assert standing(yard) == ("held", "passing")
    yard.add(e.Fault(part="legs", says="loose", holds="run", question="feet", owner="adjustment"))
    assert standing(yard) == ("held", "adjustment")
    yard.add(e.Fault(part="site", says="line", holds="run", question="overhead", owner="place"))
    assert standing(yard) == ("held", "place")
    yard.add(e.Fault(part="pawl", says="spring gone", holds="road"))
    assert standing(yard) == ("held", "place")
    yard.add(e.Fault(part="pawl", says="spring gone", holds="run"))
    assert standing(yard) == ("held", "machine")


def test_a_cut_hose_holds_and_a_scuffed_one_is_to_be_fixed(yard: Any) -> None:
    going = answered_to(yard, "hose-hurt", "after-run")
    fault = answer(yard, going, "hose-hurt", "cut").fault
    assert fault is not None
    assert standing(yard) == ("held", "machine")
    assert isinstance(fault.what, e.Fault)
    assert "working pressure" in fault.what.retest  # the default re-test of the part


@pytest.mark.parametrize("anew", [True, False])
def test_a_hold_of_a_later_gate_ends_before_the_gate_that_it_keeps_from_being_signed(yard: Any, anew: bool) -> None:
    """In another check, or where the gate has fallen back: its question is asked there, and again in its own gate."""
    going = answered_to(yard, "people")
    answer(yard, going, "people", "thunder")
    yard.now += timedelta(hours=9)
    if anew:
        walk_rounds.leave(yard.register, going.id, "rain", by="Olav", now=yard.now)
        going = answered_to(yard, going.walk.sheet.questions[0].id)
    going = walk_rounds.check(yard.register, going.id)
    while (asked := going.walk.next_in_gate(yard.now, "Olav")) is not None:
        going = answer(yard, going, asked.id, _right(asked, going.walk)).check
    assert standing(yard) == ("held", "passing")
    with pytest.raises(Refused, match="cannot be signed"):
        walk_rounds.sign(yard.register, going.id, by="Olav", now=yard.now)
    asked = walk_rounds.held_still(yard.register, going)
    assert asked is not None
    assert asked.id == "people"
    assert going.walk.is_ahead(asked, yard.now, "Olav")
    going = answer(yard, going, "people", "none").check
    assert standing(yard) == ("check due", None)
    assert walk_rounds.held_still(yard.register, going) is None
    walk_rounds.sign(yard.register, going.id, by="Olav", now=yard.now)
    going = walk_rounds.check(yard.register, going.id)
    assert "people" in {one.id for one in going.walk.open_for("water", yard.now, "Olav")}
    assert yard.register.rebuild() == []


def test_a_hold_that_ends_on_another_sheet_names_it_where_a_gate_is_refused(yard: Any) -> None:
    """A check for work was given up as somebody stood in reach; who answers the pre-start must know what ends that."""
    sheet = sheets.load().by_id["weekly-shop"]
    going = walk_rounds.begin(yard.register, yard.machine, sheet, by="Tove", now=yard.now)
    answer(yard, going, "clear", "not")
    walk_rounds.leave(yard.register, going.id, "dark", by="Tove", now=yard.now)
    going = walk_rounds.begin(yard.register, yard.machine, sheets.load().by_id["pre-start"], by="Olav", now=yard.now)
    while (asked := going.walk.next_in_gate(yard.now)) is not None:
        going = answer(yard, going, asked.id, _right(asked, going.walk)).check
    with pytest.raises(Refused, match=r"look again on the spot\); its question is on the sheet Weekly shop check"):
        walk_rounds.sign(yard.register, going.id, by="Olav", now=yard.now)
    yard.now += timedelta(minutes=1)
    work = walk_rounds.begin(yard.register, yard.machine, sheet, by="Tove", now=yard.now)
    answer(yard, work, "clear", "clear")
    assert standing(yard) == ("check due", None)


def test_a_hold_that_ends_on_the_sheet_at_hand_names_no_sheet(yard: Any) -> None:
    going = answered_to(yard, "feet")
    answer(yard, going, "feet", "one")
    [held] = walk_rounds.holds_of(yard.register, yard.machine, yard.now, going.walk.sheet)
    assert held.says.endswith("answer again)")
