"""A check clears a machine for one run or one move: work on it, as another sheet tells, and a move use that up."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.fold import fold
from reelcare.core.state.plans import Uncounted
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.demo import _right
from reelcare.register.errors import Over
from reelcare.register.reading import yard as yards
from reelcare.register.views import previous_answers
from tests.register.conftest import signed_gate

SHOP = ("after-run", "lay-up", "rescue", "season-opening", "timing-check", "weekly-shop")
MINUTE = timedelta(minutes=1)


def answered(yard: Any, sheet: str, until: str = "") -> walk_rounds.Check:
    """A check answered right and signed gate by gate, until a gate is signed; or, unsigned, up to and with the first
    question that tells how a part stands."""
    yard.now += MINUTE
    going = walk_rounds.begin(yard.register, yard.machine, sheets.load().by_id[sheet], by="Olav", now=yard.now)
    while (asked := going.walk.next(yard.now)) is not None:
        yard.now += timedelta(seconds=20)
        seen = _right(asked, going.walk)
        going = walk_rounds.answer(yard.register, going.id, asked.id, seen, by="Olav", now=yard.now).check
        going = signed_gate(yard, going, yard.now)
        if until == "position" and asked.established(seen):
            break
        if until in [one.gate for one in going.walk.signed]:
            break
    return going


def answered_and_signed(yard: Any, sheet: str) -> None:
    going = answered(yard, sheet)
    walk_rounds.sign(yard.register, going.id, by="Olav", now=yard.now)


def made_ready(yard: Any, side: str) -> walk_rounds.Check:
    going = answered(yard, "pre-start", "water") if side == "run" else answered(yard, "road")
    if side == "road":
        walk_rounds.sign(yard.register, going.id, by="Olav", now=yard.now)
    assert word(yard, side) == "clear"
    return going


def word(yard: Any, side: str) -> str:
    stands = yards.machine_now(yard.register, yard.machine, yard.now).standing
    (listed,) = (one for one in yards.listed(yard.register, yard.now) if one.id == yard.machine)
    assert (listed.judged.standing.run, listed.judged.standing.road) == (stands.run, stands.road)
    return str(stands.run if side == "run" else stands.road)


def why(yard: Any, side: str) -> str:
    because = yards.machine_now(yard.register, yard.machine, yard.now).standing.because
    return next(one.says for one in because if one.side == side and one.code != "unknown")


@pytest.mark.parametrize("sheet", SHOP)
@pytest.mark.parametrize("side", ["run", "road"])
def test_a_sheet_that_tells_how_parts_stand_undoes_what_was_ready_as_it_is_signed(
    yard: Any, sheet: str, side: str
) -> None:
    going = made_ready(yard, side)
    answered_and_signed(yard, sheet)
    assert word(yard, side) == "check due"
    assert "no longer counts after another check since" in why(yard, side)
    if side == "run":
        with pytest.raises(Over):
            walk_rounds.sign(yard.register, going.id, by="Olav", now=yard.now)
    assert yard.register.rebuild() == []


def test_a_clock_that_was_ahead_at_the_signature_blocks_no_check_of_today(yard: Any) -> None:
    today = yard.now
    yard.now += timedelta(days=3)
    answered_and_signed(yard, "weekly-shop")
    yard.now = today + MINUTE
    going = answered(yard, "pre-start", "position")
    yard.register.clock_is_right = True
    while (asked := going.walk.next_in_gate(yard.now)) is not None:
        yard.now += timedelta(seconds=20)
        seen = _right(asked, going.walk)
        going = walk_rounds.answer(yard.register, going.id, asked.id, seen, by="Olav", now=yard.now).check
    walk_rounds.sign(yard.register, going.id, by="Olav", now=yard.now)
    assert yards.machine_now(yard.register, yard.machine, yard.now).standing.gate == "pull-out"


def test_a_gate_begun_before_the_work_is_not_gone_on_with(yard: Any) -> None:
    going = answered(yard, "pre-start", "pull-out")
    answered_and_signed(yard, "weekly-shop")
    assert yard.register.state(yard.machine).open_checks == ()
    with pytest.raises(Over):
        walk_rounds.answer(yard.register, going.id, "pawl-down", "down", by="Olav", now=yard.now)


def test_a_check_that_was_only_begun_before_the_work_is_open_no_more(yard: Any) -> None:
    walk_rounds.begin(yard.register, yard.machine, sheets.load().by_id["pre-start"], by="Olav", now=yard.now)
    answered_and_signed(yard, "weekly-shop")
    assert yard.register.state(yard.machine).open_checks == ()
    assert yard.register.rebuild() == []


def test_after_work_a_whole_pre_start_clears_again(yard: Any) -> None:
    made_ready(yard, "run")
    answered_and_signed(yard, "weekly-shop")
    made_ready(yard, "run")


def test_a_run_that_goes_on_after_work_half_way_asks_whether_the_drum_is_free(yard: Any) -> None:
    made_ready(yard, "run")
    answered_and_signed(yard, "weekly-shop")
    answered(yard, "goes-on", "water")
    assert word(yard, "run") == "clear"
    model = sheets.machine_model().for_machine(yard.register.card(yard.machine))
    stands = previous_answers.positions(yard.register, yard.machine, model, yard.now)
    assert stands["drum block"] == "off"


def test_a_second_run_goes_on_where_the_sheet_after_the_run_came_before_its_log(yard: Any) -> None:
    first = made_ready(yard, "run")
    started = yard.now + MINUTE
    yard.now += timedelta(hours=5)
    answered_and_signed(yard, "after-run")
    ended = yard.now + MINUTE
    yard.add(e.Run(started=started, ended=ended, metres=250_000, stopped_by="end stop"), at=ended)
    sheet = sheets.load().by_id["pre-start"]
    yard.now += MINUTE
    again = walk_rounds.prepare(yard.register, yard.machine, sheet, by="Olav", at=yard.now, again=True)
    assert again.begin.again_of == first.id


def test_without_a_run_since_there_is_no_second_one(yard: Any) -> None:
    made_ready(yard, "run")
    answered_and_signed(yard, "weekly-shop")
    sheet = sheets.load().by_id["pre-start"]
    assert walk_rounds.first_of_the_set(yard.register, yard.machine, sheet, yard.now) is None


def test_a_road_check_is_for_one_move(yard: Any) -> None:
    made_ready(yard, "road")
    yard.add(e.Moved(place="South"), by="Olav")
    assert word(yard, "road") == "check due"
    assert "no longer counts after the move" in why(yard, "road")
    assert yard.register.rebuild() == []
    made_ready(yard, "road")


def test_work_signed_by_somebody_who_is_not_accepted_here_uses_up_what_was_ready(yard: Any) -> None:
    made_ready(yard, "run")
    answered_and_signed(yard, "weekly-shop")
    entries = yard.register.of_machine(yard.machine)
    (signed,) = (one.id for one in entries if isinstance(one.what, e.CheckEnded))
    known = replace(yard.register.known(), uncounted=Uncounted(waiting=frozenset({signed})))
    state = fold(yard.machine, entries, known)
    assert state is not None
    assert state.passed["run"].spent_by == "another check since"
