"""The exhaustive proof: no forbidden step can be taken by allowed activities, on any machine, from any state.

The oracle is written the naive way, from the interlocks of the trade (common practice, no source), and shares nothing
with the table. Run as a program it prints the figures: `python tests/core/checks/test_positions_proof.py`.
"""

import itertools
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.sparse import lil_matrix
from scipy.sparse.csgraph import shortest_path

from reelcare.core.checks.positions import Table, read_positions
from reelcare.core.machine.card import KINDS, Card, Cart, Compensation, Drive, Drum, Jack, Legs

TABLE = read_positions(tomllib.loads(Path("checklists/positions.toml").read_text("utf-8")))
ON_THE_ROAD = {
    "drum heading": "road", "turntable pin": "in", "legs": "up", "cart": "stowed", "hose": "home", "pawl": "down",
    "drive": "out", "turbine": "stopped", "gear range": "chosen", "supply": "off", "supply hose": "off",
    "stop mechanism": "tripped", "stop test": "untested",
}  # fmt: skip
State = dict[str, str]


def machines() -> Iterator[Card]:
    """Every combination of equipment that a card can name, and the card that says nothing."""
    yield Card("R0")
    for turntable, drive, legs, jack, compensation, cart in itertools.product(
        (True, False), KINDS["drive"], KINDS["legs"], KINDS["jack"], KINDS["compensation"], KINDS["cart"]
    ):
        yield Card(
            "R1", drum=Drum(turntable=turntable), drive=Drive(drive), legs=Legs(legs), jack=Jack(jack),
            compensation=Compensation(compensation), cart=Cart(cart),
        )  # fmt: skip


def forbidden(doing: str, s: State) -> str:  # noqa: C901 -- one rule after the other, as the trade tells them
    """Why a step must never be taken in a state; '' where it may. Written by hand, part by part."""
    turntable = "drum heading" in s
    if doing == "tow":
        if turntable and (s["drum heading"] != "road" or s["turntable pin"] != "in"):
            return "road with the drum unlocked"
        if s["legs"] != "up" or s["cart"] != "stowed" or s["supply hose"] != "off" or s["pawl"] != "down":
            return "road with something down, on or loose"
    if doing.startswith("turn to"):
        if s["turntable pin"] != "out" or s["hose"] != "home":
            return "drum turned with pin in or hose out"
        if s["supply"] == "on":
            return "drum turned with water on"
    if doing == "pull out":
        if s["drive"] == "in":
            return "pull-out with the drive in"
        if s["pawl"] == "down":
            return "pull-out with the pawl down"
        if s["legs"] != "set" or s["cart"] != "lowered" or s["supply"] == "on":
            return "pull-out without feet, with the cart up or water on"
        if turntable and (s["turntable pin"] != "in" or s["drum heading"] == "road"):
            return "pull-out off the lane"
    if doing == "put the drive in":
        if s["turbine"] == "driving":
            return "drive in while the turbine drives"
        if s["pawl"] == "up" or s["stop mechanism"] != "reset":
            return "drive in with pawl up or stop tripped"
    if doing in ("move the gear lever", "choose the gear") and (s["turbine"] == "driving" or s["drive"] == "in"):
        return "gear change under load"
    if doing == "lift the pawl" and s["supply"] == "on":
        return "pawl up with water on"
    if doing == "open the water" and s["pawl"] == "up":
        return "water on with the pawl up"
    if doing in ("open the water", "start", "reel in") and s["stop test"] != "tested":
        return "start with the stop untested"
    if doing in ("start", "reel in"):
        if s["pawl"] == "up" or s["drive"] == "out" or s["stop mechanism"] != "reset" or s["supply"] == "off":
            return "run with pawl up, drive out, stop tripped or water off"
        if s["legs"] != "set" or (turntable and (s["turntable pin"] != "in" or s["drum heading"] == "road")):
            return "run without feet or off the lane"
    if doing == "work on it" and (
        s["supply"] == "on" or s["supply hose"] == "coupled" or s["turbine"] == "driving" or s["drive"] == "in"
    ):
        return "worked on under pressure or drive"
    return ""


def unsafe(s: State) -> str:
    """What must never be so, however it came about."""
    if s["supply"] == "on" and s["pawl"] == "up":
        return "water on with the pawl up"
    if s["turbine"] == "driving" and s["gear range"] == "between":
        return "between two gears while the turbine drives"
    if s["hose"] == "out" and (s["legs"] == "up" or s["cart"] == "stowed"):
        return "hose out on a machine that is not anchored"
    if s["hose"] == "out" and s.get("turntable pin") == "out":
        return "hose out with the pin out"
    if s["supply"] == "on" and s["legs"] == "up":
        return "water on without feet"
    if s["turbine"] == "driving" and s["supply"] == "off":
        return "driving without water"
    if s["drive"] == "in" and s["pawl"] == "up":
        return "drive in with the pawl up"
    if s.get("drum heading") == "road" and s["legs"] == "set":
        return "feet in the ground with the drum on the road"
    if s.get("turntable pin") == "out" and s["legs"] == "set":
        return "feet in the ground with the drum free"
    if s["drive"] == "in" and s["gear range"] == "between":
        return "drive in between two gears"
    return ""


def begin(table: Table) -> State:
    return {part: where for part, where in ON_THE_ROAD.items() if part in table.parts}


def reachable(table: Table) -> list[State]:
    """Every state that allowed activities lead to, from the road."""
    first = begin(table)
    seen = {tuple(first.items())}
    waiting = [first]
    found = [first]
    while waiting:
        here = waiting.pop()
        for one in table.allowed(here):
            there = {part: one.changes.get(part, where) for part, where in here.items()}
            if tuple(there.items()) not in seen:
                seen.add(tuple(there.items()))
                waiting.append(there)
                found.append(there)
    return found


def every_state(table: Table) -> Iterator[State]:
    for where in itertools.product(*(part.positions for part in table.parts.values())):
        yield dict(zip(table.parts, where, strict=True))


def prove(table: Table) -> tuple[int, int]:
    """Walk every reachable state of a machine; how many states, and how many steps were tried in them."""
    states, steps = reachable(table), 0
    for here in states:
        assert not unsafe(here), (unsafe(here), here)
        for doing in table.activities:
            steps += 1
            if not table.in_the_way(doing, here):
                assert not forbidden(doing, here), (doing, forbidden(doing, here), here)
    return len(states), steps


def test_no_forbidden_state_can_be_reached_on_any_machine() -> None:
    figures = {prove(TABLE.for_machine(card)) for card in machines()}
    assert all(states > 100 for states, _ in figures)


@pytest.mark.parametrize("turntable", [True, False])
def test_no_forbidden_step_is_allowed_in_any_state_at_all(turntable: bool) -> None:
    # stronger: also in states that no allowed step leads to, as a machine may be found
    table = TABLE.for_machine(Card("R1", drum=Drum(turntable=turntable)))
    count = 0
    for here in every_state(table):
        count += 1
        for one in table.allowed(here):
            assert not forbidden(one.id, here), (one.id, forbidden(one.id, here), here)
            if not unsafe(here):
                there = {**here, **one.changes}
                assert not unsafe(there), (one.id, unsafe(there), here)
    assert count == (12288 if turntable else 2048)


def test_the_oracle_is_not_asleep() -> None:
    """Every forbidden step of the trade is refused somewhere, and the table names what is in the way."""
    table = TABLE.for_machine(Card("R1"))
    told: dict[str, set[str]] = {}
    for here in every_state(table):
        for doing in table.activities:
            why = forbidden(doing, here)
            if why:
                assert table.in_the_way(doing, here)
                told.setdefault(why, set()).add(doing)
    assert {
        "pull-out with the drive in", "drive in while the turbine drives", "gear change under load",
        "road with the drum unlocked", "start with the stop untested", "pull-out with the pawl down",
        "water on with the pawl up", "drum turned with water on", "worked on under pressure or drive",
    } <= set(told)  # fmt: skip


@pytest.mark.parametrize("left_out", ["pawl", "drive", "turbine", "stop test", "supply"])
def test_a_table_with_a_hole_does_not_pass_the_proof(left_out: str) -> None:
    plain = tomllib.loads(Path("checklists/positions.toml").read_text("utf-8"))
    for row in plain["activities"]:
        row["needs"].pop(left_out, None)
    with pytest.raises(AssertionError):
        prove(read_positions(plain).for_machine(Card("R1")))


def test_the_shortest_sequence_is_that_of_an_independent_search() -> None:
    table = TABLE.for_machine(Card("R1"))
    states = reachable(table)
    number = {tuple(sorted(state.items())): place for place, state in enumerate(states)}
    graph: Any = lil_matrix((len(states), len(states)))
    for place, here in enumerate(states):
        for one in table.activities.values():
            if all(here[part] in where for part, where in one.needs.items()):
                graph[place, number[tuple(sorted({**here, **one.changes}.items()))]] = 1
    far = shortest_path(graph.tocsr(), unweighted=True)
    for begin_at, end_at in itertools.product(range(0, len(states), 61), range(0, len(states), 47)):
        steps = table.steps_to({part: (where,) for part, where in states[end_at].items()}, states[begin_at])
        if begin_at == end_at:
            assert steps == []
        elif np.isinf(far[begin_at, end_at]):
            assert steps is None
        else:
            assert steps is not None
            assert len(steps) == far[begin_at, end_at]


@pytest.mark.parametrize("goal", ["irrigating", "road", "opposite", "working on it"])
def test_from_everywhere_there_is_a_safe_way_to_every_goal(goal: str) -> None:
    table = TABLE.for_machine(Card("R1"))
    for here in reachable(table)[::7]:
        steps = table.steps_to(table.goals[goal].where, here)
        assert steps is not None
        for one in steps:
            assert not forbidden(one.id, here)
            here = table.after(one.id, here)
        assert all(here[part] in where for part, where in table.goals[goal].where.items())


if __name__ == "__main__":
    cards = list(machines())
    walked = [prove(TABLE.for_machine(card)) for card in cards]
    print(f"{len(cards)} combinations of equipment, {len(TABLE.activities)} activities, {len(TABLE.parts)} parts")
    print(
        f"{sum(one[0] for one in walked)} reachable states walked, {sum(one[1] for one in walked)} steps tried in them"
    )
    print("12288 + 2048 states looked at besides, reachable or not: no forbidden step is allowed in any")
