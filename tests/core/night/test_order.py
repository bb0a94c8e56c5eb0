"""The order of sets of a night: what it must keep, and how near it comes to the best order there is."""

import itertools
from dataclasses import replace
from datetime import UTC
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelcare.core.night import other_orders
from reelcare.core.night.field import Field, Hours, Licence
from reelcare.core.night.left_out import with_left_out
from reelcare.core.night.order import by_rule, done, earliest_set, plan_set, start
from reelcare.core.night.other_orders import better, worth
from reelcare.core.night.plan import LaneSet, Night, NightAsked, Rig, Running
from tests.core.night.fields import DARK, EVENING, a_field, asked, at, rig

HOUR = 3600
RUNS = st.lists(st.integers(3, 9), min_size=1, max_size=9)


def planned(all_of: NightAsked) -> Night:
    found = by_rule(all_of)
    other = better(all_of, found)
    return other.night if other is not None else found


def best_of_all(all_of: NightAsked) -> Night:
    """Every order of lanes on every machine, the best of them."""
    nights = []
    for order in itertools.permutations(all_of.lanes):
        for machines in itertools.product(all_of.rigs, repeat=len(order)):
            course = start(all_of)
            for lane, machine in zip(order, machines, strict=True):
                found = earliest_set(course, machine, lane)
                if found is not None:
                    plan_set(course, found)
            nights.append(done(course))
    return min(nights, key=worth)


@pytest.mark.parametrize("runs", [[8, 4, 7, 5], [5, 8, 6, 7], [4, 9, 9, 3], [6.5, 4, 7.5, 5]])
@pytest.mark.parametrize(
    ("tariff", "dark"),
    [(None, None), (EVENING, None), (None, DARK), (EVENING, DARK)],
    ids=["any", "hours", "dark", "both"],
)
def test_a_small_field_is_planned_within_a_tenth_of_the_best_order(
    runs: list[float], tariff: Hours | None, dark: Hours | None
) -> None:
    all_of = asked(a_field(runs, tariff=tariff, dark=dark), [rig("A", 50), rig("B", 40)])
    found, best = planned(all_of), best_of_all(all_of)
    assert len(found.sets) == len(best.sets) == len(runs)
    assert found.last - at(0) <= 1.1 * (best.last - at(0))


@settings(max_examples=60, deadline=None)
@given(
    runs=RUNS, dark_moves=st.booleans(), tariff=st.sampled_from([None, EVENING]), a_day=st.sampled_from([None, 700.0])
)
def test_a_night_keeps_every_rule(runs: list[int], dark_moves: bool, tariff: Hours | None, a_day: float | None) -> None:
    field = a_field(runs, tariff=tariff, dark=DARK, licence=Licence(day=a_day))
    all_of = asked(field, [rig("A", 50), rig("B", 60)], dark_moves=dark_moves)
    for found in (by_rule(all_of), planned(all_of)):
        keeps_every_rule(all_of, found)


def keeps_every_rule(all_of: NightAsked, found: Night) -> None:
    flows = all_of.field.flows()
    numbers = [one.lane.number for one in found.sets]
    assert len(set(numbers)) == len(numbers)
    for one in found.sets:
        assert all_of.begins <= one.moves <= one.moves + one.move <= one.starts < one.ends <= all_of.ends
        assert any(begin <= one.starts and one.ends <= end for begin, end in all_of.water)
        assert one.move == 0 or not any(begin < one.moves + one.move and one.moves < end for begin, end in all_of.dark)
    for one, other in itertools.combinations(found.sets, 2):
        apart = one.ends <= other.starts or other.ends <= one.starts
        assert apart or flows[one.lane.number] != flows[other.lane.number]
        assert one.tag != other.tag or one.ends <= other.moves or other.ends <= one.moves
    for begin, end in all_of.days:
        taken = sum(one.volume for one in found.sets if begin <= one.ends < end)
        assert all_of.field.licence.day is None or taken <= all_of.field.licence.day


def test_twenty_four_lanes_and_two_machines_over_three_nights() -> None:
    field = a_field([5, 6, 7, 8] * 6, tariff=EVENING, dark=DARK)
    all_of = asked(field, [rig("A"), rig("B")])
    found = with_left_out(all_of, planned(all_of), UTC)
    keeps_every_rule(all_of, found)
    assert len(found.sets) == 6, "twelve hours a night, no move in the dark: one set a night and machine"
    assert {one.lane.number for one in found.left} == set(range(1, 25)) - {one.lane.number for one in found.sets}
    assert all("--until" in one.why for one in found.left)
    more = planned(asked(field, [rig("A"), rig("B")], dark_moves=True))
    assert len(more.sets) > 6


def test_two_hundred_lanes_take_few_trials() -> None:
    """No clock is asked: sets that are worked out are counted, and a set takes some milliseconds."""
    field = a_field([4 + number % 5 for number in range(200)], tariff=EVENING, dark=DARK)
    looked = []
    machine = rig("A")
    counted = replace(machine, set_of=lambda lane: looked.append(lane) or machine.set_of(lane))  # type: ignore[func-returns-value]
    found = planned(asked(field, [counted, rig("B")], days=3))
    assert len(found.sets) == 6
    assert len(looked) < 20_000


def test_of_lanes_that_can_begin_at_once_the_one_of_the_hydrant_comes_first_then_the_next_number() -> None:
    field = a_field([5, 5, 5, 5])
    found = by_rule(asked(field, [rig("A", lane=field.lanes[2])]))
    assert [one.lane.number for one in found.sets] == [3, 4, 1, 2]
    assert [one.move for one in found.sets] == [0, 45 * 60, 75 * 60, 45 * 60]


def test_two_machines_never_take_one_hydrant_and_the_wait_says_whose_it_is() -> None:
    field = a_field([6, 6])
    found = by_rule(asked(field, [rig("A"), rig("B", free=1)]))
    first, second = found.sets
    assert (first.tag, second.tag, second.starts) == ("A", "B", first.ends)
    assert [(one.tag, one.why, one.by) for one in found.waits] == [("B", "hydrant", "A")]


def test_lanes_that_share_a_neighbour_s_flow_are_not_run_together() -> None:
    field = a_field([6, 6], per_hydrant=1)
    apart = by_rule(asked(field, [rig("A"), rig("B")]))
    assert apart.sets[1].starts < apart.sets[0].ends
    beside = (field.lanes[0], field.lanes[1]._replace(shared_with=(1,)))
    shared = by_rule(asked(field._replace(lanes=beside), [rig("A"), rig("B")]))
    assert shared.sets[1].starts == shared.sets[0].ends
    lanes = tuple(one._replace(shared_with=("mill",)) for one in field.lanes)
    assert by_rule(asked(field._replace(lanes=lanes), [rig("A"), rig("B")])).sets[1].starts == shared.sets[1].starts


def test_nothing_is_moved_in_the_dark_and_the_wait_says_so() -> None:
    field = a_field([10, 5], dark=DARK)
    found = by_rule(asked(field, [rig("A")], days=2))
    assert found.sets[1].moves == at(17), "it is home at 23:15, and moved from 05:00 on"
    assert [one.why for one in found.waits] == ["dark"]
    assert by_rule(asked(field, [rig("A")], days=2, dark_moves=True)).sets[1].moves == found.sets[0].ends


def test_a_run_that_ends_two_hours_late_moves_the_rest() -> None:
    field = a_field([5, 5, 5])
    running = Running("A", field.lanes[0], 1, at(-3), at(2))
    intime = by_rule(replace(asked(field, [rig("A", free=2, lane=field.lanes[0])]), running=(running,),
                             lanes=field.lanes[1:]))  # fmt: skip
    late = by_rule(replace(asked(field, [rig("A", free=4, lane=field.lanes[0])]),
                           running=(replace(running, ends=at(4)),), lanes=field.lanes[1:]))  # fmt: skip
    assert [one.lane.number for one in late.sets] == [one.lane.number for one in intime.sets]
    assert [other.starts - one.starts for one, other in zip(intime.sets, late.sets, strict=True)] == [2 * HOUR] * 2


def test_a_run_at_hand_keeps_its_hydrant_from_others() -> None:
    field = a_field([5, 5])
    all_of = replace(asked(field, [rig("B")]), running=(Running("A", field.lanes[0], 1, at(-1), at(4)),),
                     lanes=field.lanes[1:])  # fmt: skip
    assert by_rule(all_of).sets[0].starts == at(4)
    unknown_lane = replace(all_of, running=(Running("A", None, "1", at(-1), at(4)),))
    assert by_rule(unknown_lane).sets[0].starts == at(4)


def test_lanes_that_were_chosen_come_first_in_their_order_and_are_no_other_machine_s() -> None:
    field = a_field([5, 5, 5, 5], per_hydrant=1)
    found = by_rule(asked(field, [rig("A"), rig("B", order=(1, "3"))]))
    assert [one.lane.number for one in found.of("B")] == [1, 3]
    assert [one.lane.number for one in found.of("A")] == [2, 4]


def test_an_order_that_gains_more_than_a_tenth_is_found() -> None:
    field = a_field([4, 4, 8], per_hydrant=1)
    all_of = asked(field, [rig("A"), rig("B")])
    found, other = by_rule(all_of), better(all_of, by_rule(all_of))
    assert other is not None, "the longest lane is begun last by the rule"
    assert other.earlier == found.last - other.night.last > 0.1 * (found.last - at(0))
    assert better(all_of, other.night) is None


def left(field: Field, *rigs: object, **more: object) -> list[str]:
    all_of = asked(field, rigs or [rig("A")], **more)  # type: ignore[arg-type]
    return [one.why for one in with_left_out(all_of, by_rule(all_of), UTC).left]


def test_what_does_not_fit_is_named_with_what_would() -> None:
    (why,) = left(a_field([13], tariff=EVENING))
    assert "runs 13 h 00 with A" in why
    assert "12 h 00 at a time" in why
    assert "9 % faster" in why  # 8 % leaves 13 h / 1.08, still more than 12 h
    (why,) = left(a_field([8], licence=Licence(day=300)))
    assert "takes 400 m3" in why
    assert "300 m3 a day" in why
    (why,) = left(a_field([8]), season_left=100)
    assert "leaves 100 m3 of the season" in why
    (why,) = left(a_field([9, 9], tariff=EVENING), days=1)
    assert "--until 2026-06-03T05:00" in why


def test_how_much_faster_leaves_the_dwell_as_it_is() -> None:
    # row H8-05: run time = length / speed + dwell at both ends; 13 h of which one stands: 12 h travelled in 11
    of = LaneSet(13 * HOUR + 20, dwell=HOUR)
    (why,) = left(a_field([13], tariff=EVENING), replace(rig("A"), set_of=lambda _lane: of))
    assert "10 % faster" in why  # 9 % leaves 1 + 12 h / 1.09, still more than 12 h
    assert "runs 13 h 01 with A" in why


def takes(volume: float) -> Rig:
    """A machine that takes a volume [m3] for any lane."""
    of = LaneSet(8 * 3600, volume)
    return replace(rig("A"), set_of=lambda _lane: of)


@pytest.mark.parametrize(("licence", "season"), [(Licence(day=400), None), (Licence(), 400.0)])
def test_what_a_licence_leaves_may_be_taken_to_the_last_litre(licence: Licence, season: float | None) -> None:
    """A volume that was worked out ends in what a float can say: 510 m3 came as 510.00000000000006."""
    field = a_field([8], licence=licence)
    assert left(field, takes(400 * (1 + 1e-12)), season_left=season) == []
    (why,) = left(field, takes(400.4), season_left=season)
    assert "takes 400.4 m3" in why
    assert "400.0 m3" in why


def test_machines_of_which_the_same_is_wrong_stand_together() -> None:
    weak = LaneSet(cannot="with it: too hard", why="too hard")
    rigs = (replace(rig("A"), set_of=lambda _lane: weak), replace(rig("B"), set_of=lambda _lane: weak),
            replace(rig("C"), set_of=lambda _lane: LaneSet(cannot="no set was kept for C")))  # fmt: skip
    assert left(a_field([5]), *rigs) == ["with A, B: too hard; no set was kept for C"]


def test_the_licence_of_a_day_counts_what_was_taken_before() -> None:
    field = a_field([4], licence=Licence(day=300))
    all_of = asked(field, [rig("A")])
    today = next(one for one in all_of.days if one[0] <= at(6) < one[1])
    found = by_rule(replace(all_of, taken={today: 150.0}))
    assert found.sets[0].ends >= today[1]
    assert [one.why for one in found.waits] == ["licence"]


def test_a_large_field_is_searched_in_as_many_lanes_as_one_can_try(monkeypatch: pytest.MonkeyPatch) -> None:
    tried: list[int] = []
    neighbours = other_orders._neighbours

    def counted(order: Any) -> Any:
        tried.append(len(order))
        return neighbours(order)

    monkeypatch.setattr(other_orders, "_neighbours", counted)
    all_of = asked(a_field([5] * (3 * other_orders.MOST_LANES)), [rig("A")])
    other_orders.search(all_of, by_rule(all_of))
    assert tried
    assert max(tried) == other_orders.MOST_LANES
