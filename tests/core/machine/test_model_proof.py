"""The exhaustive proof of the model of the machine: over all its states, for every kind of equipment.

What must never be stands in `never.py`, written apart from the table. Run as a program it prints the figures:
`python -m tests.core.machine.test_model_proof`.
"""

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from reelcare.core.machine.card import Card
from reelcare.core.machine.equipment_kinds import every_kind, few_kinds
from reelcare.core.machine.model import SAFE, MachineModel
from reelcare.core.machine.model_reader import read_model
from tests.core.machine.never import FORBIDDEN, STOPPED, rows
from tests.core.machine.walking import Space, States

PLAIN = tomllib.loads(Path("checklists/machine.toml").read_text("utf-8"))
MODEL = read_model(PLAIN)
FEW = few_kinds()
QUICK = FEW[:4]
"""Among them turntable and fixed, turbine and engine, all legs, all carts, all ways of winding home."""

BOTH = next(one for one in FEW if one.drive.pto and one.drive.crank and one.drum.turntable)


@cache
def walked(card: Card) -> tuple[Space, States]:
    space = Space(MODEL.for_machine(card))
    return space, space.reachable(space.state(space.model.states["towed"]))


def at_goal(space: Space, states: States, goal: str) -> Any:
    one = space.model.goals[goal]
    found = space.are(states, one.where)
    for group in one.one_of:
        found &= np.any([space.are(states, {part: where}) for part, where in group.items()], axis=0)
    return found


def prove(space: Space, states: States) -> int:
    """Hold every state against what must never be, and every step against what must never be done; how many steps."""
    steps = 0
    for reason, box in rows(space.model):
        wrong = states[space.are(states, box)]
        assert not wrong.size, (reason, space.told(wrong[0]))
    for one in space.steps():
        may = states[space.may(one, states)]
        steps += may.size
        for reason, doing, box in FORBIDDEN:
            if one.id in doing and all(part in space.model.parts for part in box):
                wrong = may[space.are(may, box)]
                assert not wrong.size, (one.id, reason, space.told(wrong[0]))
    return steps


def stopped(space: Space, states: States) -> States:
    """The states after all the stops, done one after the other."""
    for one in space.model.stops:
        assert space.may(one, states).all(), one.id
        states = space.after(one, states)
    assert space.are(states, {part: where for part, where in STOPPED.items() if part in space.model.parts}).all()
    return states


def elsewhere(space: Space, states: States) -> States:
    """The states with one part found elsewhere, wherever it was."""
    found = [
        (states & ~space.part[part]) | space.bit[part, where]
        for part, one in space.model.parts.items()
        for where in one.positions
    ]
    return np.unique(np.concatenate(found))


@pytest.mark.parametrize("card", QUICK, ids=lambda one: f"{one.drive.kind}-{one.legs.kind}-{one.cart.kind}")
def test_no_allowed_step_leads_to_what_must_never_be(card: Card) -> None:
    space, states = walked(card)
    assert states.size > 1000
    assert prove(space, states) > states.size


@pytest.mark.parametrize("card", QUICK, ids=lambda one: f"{one.drive.kind}-{one.legs.kind}-{one.cart.kind}")
def test_the_road_the_water_and_safe_are_come_to_from_everywhere(card: Card) -> None:
    space, states = walked(card)
    for goal in space.model.goals:
        assert space.can_come_to(at_goal(space, states, goal), states).all(), goal


@pytest.mark.parametrize("card", QUICK, ids=lambda one: f"{one.drive.kind}-{one.legs.kind}-{one.cart.kind}")
def test_stop_now_is_allowed_in_every_state_and_stops(card: Card) -> None:
    space, states = walked(card)
    stopped(space, states)
    stopped(space, elsewhere(space, states))


def test_a_stop_needs_nothing_on_any_machine_and_no_hold_bars_it() -> None:
    for card in FEW:
        model = MODEL.for_machine(card)
        now = model.activities["stop now"]
        assert set(now.stands_for) == {one.id for one in model.stops}
        for one in (now, *model.stops):
            assert not one.needs
            assert not one.one_of
            assert not one.barred(("run", "road"))
        nothing_known = model.after("stop now", {})
        assert nothing_known["supply"] == "off"
        assert nothing_known["turbine"] == "stopped"


def test_no_forbidden_step_is_allowed_in_any_state_at_all() -> None:
    """Exactly, over all combinations of positions, come to or not: what an activity needs and what is forbidden never
    meet, because some part would have to stand in two places."""
    model = MODEL
    for reason, doing, box in FORBIDDEN:
        for id in doing:
            one = model.activities[id]
            apart = any(
                not set(one.needs[part]) & set((where,) if isinstance(where, str) else where)
                for part, where in box.items()
                if part in one.needs
            )
            for group in one.one_of:
                apart |= all(
                    part in box and not set(where) & set((box[part],) if isinstance(box[part], str) else box[part])
                    for part, where in group.items()
                )
            assert apart, (id, reason)


@pytest.mark.parametrize("left_out", ["pawl", "drive", "turbine", "supply", "guards", "legs"])
def test_a_table_with_a_hole_does_not_pass_the_proof(left_out: str) -> None:
    plain = tomllib.loads(Path("checklists/machine.toml").read_text("utf-8"))
    for row in plain["activities"]:
        row.get("needs", {}).pop(left_out, None)
    space = Space(read_model(plain).for_machine(BOTH))
    with pytest.raises(AssertionError):
        prove(space, space.reachable(space.state(space.model.states["towed"])))


def without_drive(model: MachineModel) -> MachineModel:
    """The same machine with a drive that has failed: it starts no more."""
    left = {id: one for id, one in model.activities.items() if id not in ("start", "reel in", "put the drive in")}
    return MachineModel(model.parts, left, model.goals, model.states)


@pytest.mark.parametrize("card", [one for one in FEW if one.drive.pto or one.drive.crank][:4])
def test_with_the_drive_failed_the_hose_comes_home_by_shaft_or_crank(card: Card) -> None:
    model = MODEL.for_machine(card)
    failed = without_drive(model)
    way = failed.way_to({"hose": ("home",), "tension": ("slack",)}, model.state_at("stopped half-way"), held=("run",))
    assert way is not None
    assert {one.id for one in way} & set(model.rescue)


def test_a_machine_with_neither_shaft_nor_crank_has_no_rescue_but_is_made_safe() -> None:
    card = next(one for one in FEW if not one.drive.pto and not one.drive.crank)
    model = MODEL.for_machine(card)
    failed = without_drive(model)
    here = model.state_at("stopped half-way")
    assert model.rescue == ()
    assert model.no_rescue["en"]
    assert failed.way_to({"hose": ("home",)}, here) is None
    assert failed.way_to_goal(SAFE, here, held=("run", "road")) is not None


def test_the_ways_are_checked_by_an_independent_search() -> None:
    card = FEW[0]
    space, states = walked(card)
    model = space.model
    for goal in ("road", "irrigating", SAFE):
        there = at_goal(space, states, goal)
        for state in states[:: states.size // 6]:
            left = 0
            front = np.array([state])
            while not at_goal(space, front, goal).any():
                left += 1
                front = np.unique(
                    np.concatenate(
                        [
                            space.after(one, front[space.may(one, front)])
                            for one in space.steps()
                            if one.id not in model.goals[goal].without
                        ]
                    )
                )
            way = model.way_to_goal(goal, space.told(state))
            assert way is not None
            assert left <= len(way) <= left + 2, (goal, [one.id for one in way])
            now = space.told(state)
            for one in way:
                now = model.after(one.id, now)
            assert at_goal(space, space.state(now), goal).all()
        assert there.any()


@pytest.mark.long
def test_every_kind_of_machine_is_proved() -> None:
    figures = figures_of(list(every_kind()))
    assert figures["kinds"] == 384


@pytest.mark.long
def test_with_one_part_found_elsewhere_the_machine_is_made_safe() -> None:
    for card in FEW:
        space, states = walked(card)
        found = space.reachable(stopped(space, elsewhere(space, states)))
        assert space.can_come_to(at_goal(space, found, SAFE), found).all()


def figures_of(cards: list[Card]) -> dict[str, int]:
    told = {"kinds": 0, "states": 0, "steps": 0, "found elsewhere": 0}
    for card in cards:
        space = Space(MODEL.for_machine(card))
        states = space.reachable(space.state(space.model.states["towed"]))
        told["steps"] += prove(space, states)
        for goal in ("road", "irrigating", SAFE):
            assert space.can_come_to(at_goal(space, states, goal), states).all(), (goal, card)
        more = elsewhere(space, states)
        stopped(space, more)
        told["kinds"] += 1
        told["states"] += states.size
        told["found elsewhere"] += more.size
    return told


if __name__ == "__main__":
    told = figures_of(list(every_kind()))
    print(f"{told['kinds']} kinds of machine, {len(MODEL.parts)} parts, {len(MODEL.activities)} activities")
    print(f"{told['states']} states come to by allowed steps, {told['steps']} steps allowed in them: none unsafe")
    print(f"{told['found elsewhere']} states with one part found elsewhere: stop now allowed in all, and all stopped")
    print("the road, the water and safe to work on: come to from every state")
