"""Planned sets and measured figures on a register: when they count, and what they are held against."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.settings.set_request import Wishes
from reelcare.core.settings.setting import work_out
from reelcare.register import sheets
from reelcare.register.acts import people, sets, walk_rounds
from reelcare.register.errors import Refused
from reelcare.register.reading import yard as yards
from tests.register.conftest import sign_last, signed_gate

PLANNED = {"planned_speed": "25 m/h", "inlet_pressure": "6.5 bar", "least_coils": "2"}
RIGHT = {"volts": "12.6 V", "coils": "3", "inlet": "6.4 bar", "drive-loss": "0.4 bar", "speed": "24 m/h"}


def planned(yard: Any, **values: str) -> e.Entry:
    entry: e.Entry = yard.add(e.SetPlanned(wishes={"out": "300 m"}, planned=PLANNED | values))
    return entry


def begin(yard: Any, sheet: str = "pre-start", at: datetime | None = None) -> walk_rounds.Check:
    when = at or yard.now
    return walk_rounds.begin(yard.register, yard.machine, sheets.load().by_id[sheet], by="Olav", now=when)


def answer_all(yard: Any, going: walk_rounds.Check, numbers: dict[str, str]) -> walk_rounds.Check:
    at = going.begun.happened
    while (question := going.walk.next(at)) is not None:
        at += timedelta(seconds=20)
        seen = numbers[question.id] if question.is_number else next(one.id for one in question.choices if one.right)
        going = walk_rounds.answer(yard.register, going.id, question.id, seen, by="Olav", now=at).check
        going = signed_gate(yard, going, at)
    yard.now = at
    return going


def test_a_walk_round_is_held_to_the_set_that_is_planned(yard: Any) -> None:
    assert begin(yard, "after-run").walk.planned == {}
    planned(yard)
    going = begin(yard)
    assert going.walk.planned["planned_speed"] == "25 m/h"
    wrong = answer_all(yard, going, RIGHT | {"speed": "31 m/h"})
    kept = {one.question: wrong.walk.judgement(one) for one in wrong.walk.given}
    assert kept["speed"].judged == "wrong"
    assert "about 25 m/h" in kept["speed"].says
    assert kept["inlet"].judged == "right"


def test_a_newer_set_a_road_check_and_three_days_end_it(yard: Any) -> None:
    first = planned(yard)
    at = yard.now

    def current(moment: datetime) -> str | None:
        found = sets.current(yard.register, yard.machine, moment)
        return found.id if found else None

    assert current(at) == first.id
    assert current(at - timedelta(hours=1)) is None
    assert current(at + timedelta(days=2)) == first.id
    assert current(at + timedelta(days=4)) is None
    second = planned(yard, planned_speed="30 m/h")
    assert current(yard.now) == second.id
    going = answer_all(yard, begin(yard, "road"), {})
    sign_last(yard, going)
    assert current(yard.now + timedelta(minutes=1)) is None


def test_a_set_taken_back_does_not_count(yard: Any) -> None:
    entry = planned(yard)
    yard.add(e.Correction(entry=entry.id, why="another machine was meant"))
    assert sets.current(yard.register, yard.machine, yard.now) is None


def test_a_timing_check_keeps_what_it_measured_and_serves_its_item(yard: Any) -> None:
    table = sheets.default_plan()[1]
    people.put_plan_in_force(yard.register, table, by="Mara", now=yard.now) if hasattr(
        people, "put_plan_in_force"
    ) else yard.add(e.Planned(plan=table), machine=None)
    going = begin(yard, "timing-check", at=yard.now + timedelta(minutes=1))
    going = answer_all(
        yard, going, {"hose-length": "392 m", "guide-place": "55 mm", "first-layer": "11", "layers": "5"}
    )
    written = sign_last(yard, going)
    (measured,) = [one.what for one in written if isinstance(one.what, e.Measured)]
    assert measured.figures == {"hose_length": 392, "first_layer": 11, "layers": 5}
    # the sets to come are worked out from the hose that is there
    basis = sets.basis(yard.register, yard.machine)
    assert basis.card.hose.length == 392
    assert "pull-out" in [one.code for one in work_out(basis.card, Wishes(out=395), basis.limits).warnings]
    # and what a check measures is no fault
    now = yards.machine_now(yard.register, yard.machine, yard.now)
    (line,) = [one for one in now.dues if one.item.id == "level-wind-timing"]
    assert line.last_done == yard.now.date()


def test_the_newest_figure_counts_and_one_taken_back_does_not(yard: Any) -> None:
    yard.add(e.Measured(about="drum", figures={"packing": 0.95, "core_diameter": 1.5}))
    before = yard.now
    newer = yard.add(e.Measured(about="drum", figures={"packing": 0.9}))
    found = sets.figures_of(yard.register, yard.machine)
    assert (found["packing"].value, found["core_diameter"].value) == (0.9, 1.5)
    assert sets.figures_of(yard.register, yard.machine, before)["packing"].value == 0.95
    yard.add(e.Correction(entry=newer.id, why="counted the coils twice"))
    assert sets.figures_of(yard.register, yard.machine)["packing"].value == 0.95


@pytest.mark.parametrize("value", ["12 mm", None, True])
def test_a_figure_that_is_no_number_is_kept_and_not_reckoned_with(yard: Any, value: Any) -> None:
    yard.add(e.Measured(about="drum", figures={"packing": value}))
    assert sets.figures_of(yard.register, yard.machine) == {}


def test_a_set_kept_while_a_check_goes_on_holds_the_questions_after_it(yard: Any) -> None:
    going = begin(yard)
    at = yard.now
    while (question := going.walk.next(at)) is not None and question.id != "speed":
        at += timedelta(seconds=20)
        seen = RIGHT[question.id] if question.is_number else next(one.id for one in question.choices if one.right)
        going = walk_rounds.answer(yard.register, going.id, question.id, seen, by="Olav", now=at).check
        going = signed_gate(yard, going, at)
    yard.now = at + timedelta(seconds=5)
    planned(yard, inlet_pressure="3 bar")
    assert walk_rounds.check(yard.register, going.id).walk.newest_plan["planned_speed"] == "25 m/h"
    after = walk_rounds.answer(
        yard.register, going.id, "speed", "31 m/h", by="Olav", now=yard.now + timedelta(seconds=5)
    )
    assert after.judgement.judged == "wrong"
    with yard.again() as anew:
        assert walk_rounds.check(anew, going.id) == after.check
    # what was answered before it was judged by what counted then
    judged = {one.question: after.check.walk.judgement(one).judged for one in after.check.walk.given}
    assert judged["inlet"] == "right"
    assert yard.register.rebuild() == []


@pytest.mark.parametrize("code", ["pull-out", "hose-pressure", "drag", "coils"])
def test_a_set_that_cannot_be_is_not_kept(yard: Any, code: str) -> None:
    with pytest.raises(Refused, match="cannot be kept"):
        yard.add(e.SetPlanned(wishes={"out": "900 m"}, planned=PLANNED, warnings=("late", code)))
    assert sets.current(yard.register, yard.machine, yard.now) is None
