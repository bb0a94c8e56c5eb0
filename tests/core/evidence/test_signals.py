"""Signals from run logs with a truth that is known, and an honest 'cannot say' from logs that tell nothing."""

import math
import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.core.evidence.charts import LEARNT, RUN_LENGTH, chart
from reelcare.core.evidence.signals import LOOK, NAMES, PARTS, Event, Signal, events, residual, signals
from reelcare.core.hydraulics.drum import Wind
from reelcare.core.machine.card import Card, Compensation, Drum, Hose
from reelcare.core.service.plan import Plan
from reelcare.core.service.plan_table import read_plan

START = datetime(2026, 4, 1, 6, tzinfo=UTC)
CARD = Card("R1")
PLAN = read_plan({
    "id": "p", "items": [
        {"id": "belt", "what": "Belt", "every": {"hours": 100}, "part": "drive"},
        {"id": "gun", "what": "Gun", "every": {"hours": 250}, "part": "gun"},
    ],
})  # fmt: skip


def run(
    number: int, *, speed: float = 1.0, loss: float = 50, bore: float = 1.0, chance: random.Random, **more: Any
) -> Event:
    at = START + timedelta(hours=24 * number)
    metres = 300_000
    hours = 300 / (25 * speed * (1 + chance.gauss(0, 0.03)))
    left = chance.gauss(600, 8)
    gun = left / (1 + 0.24 * bore**4)
    what = e.Run(
        started=at, ended=at + timedelta(hours=hours), metres=metres, planned_speed=25_000,
        inlet=round(1000 * (left + loss)), gun=round(1000 * (gun + chance.gauss(0, 2))),
        drive_loss=round(1000 * (loss + chance.gauss(0, 1.5))), stopped_by="end stop",
    )  # fmt: skip
    return what.ended, replace(what, **more) if more else what


def log(before: int, after: int, seed: int = 1, **change: Any) -> list[Event]:
    chance = random.Random(seed)
    good = [run(number, chance=chance) for number in range(before)]
    return good + [run(before + number, chance=chance, **change) for number in range(after)]


def signal(happened: list[Event], name: str, card: Card = CARD) -> Signal:
    return next(one for one in signals(happened, card, PLAN) if one.name == name)


def test_a_slipping_belt_is_found_and_told_in_words() -> None:
    found = signal(log(30, 12, speed=0.95), "speed")
    assert found.state == "drifting"
    assert found.change is not None
    assert found.error is not None
    assert found.change == pytest.approx(-5, abs=3 * found.error)
    assert abs(found.runs - 12) <= 4
    assert found.item == "belt"
    assert found.says().startswith(
        f"speed has been {abs(found.change):.0f} % short of plan for {found.runs} runs: look at belt"
    )
    assert found.between is not None
    assert found.since is not None
    assert found.between[0] <= found.since <= found.between[1]


def test_a_worn_nozzle_shows_in_the_flow_and_not_in_the_speed() -> None:
    happened = log(30, 15, bore=1.03)
    flow = signal(happened, "flow")
    assert flow.state == "drifting"
    assert flow.change == pytest.approx(200 * math.log(1.03), abs=1.5)
    assert flow.look_at == ("nozzle bore against a gauge",)
    assert flow.item == "gun"
    assert signal(happened, "speed").state == "steady"


def test_a_blocked_strainer_shows_in_the_drive_loss() -> None:
    found = signal(log(30, 10, loss=60), "drive loss")
    assert found.state == "drifting"
    assert (found.change or 0) > 10
    assert "turbine strainer" in found.says()


@pytest.mark.parametrize(
    ("name", "change", "percent"),
    [("speed", {"speed": 0.8}, -20), ("speed", {"speed": 1.25}, 25), ("drive loss", {"loss": 75}, 50),
     ("flow", {"bore": 1.1}, 21)],
)  # fmt: skip
def test_a_large_change_is_told_in_percent_of_what_was_usual(name: str, change: dict[str, Any], percent: int) -> None:
    # the area of a bore goes with its square (row I30): a bore 10 % wider lets 21 % more through
    found = signal(log(40, 12, **change), name)
    assert found.change is not None
    assert found.error is not None
    assert found.change == pytest.approx(percent, abs=3 * found.error)


def test_a_service_of_its_part_begins_the_chart_anew() -> None:
    happened = log(30, 12, speed=0.95)
    at = happened[-1][0] + timedelta(hours=1)
    chance = random.Random(5)
    after = [run(60 + number, chance=chance) for number in range(15)]
    speed = signal([*happened, (at, "drive"), *after[:2]], "speed")
    assert speed.state == "learning"
    assert "still learning: 2 of 4" in speed.says()
    # the belt is as it was before it slipped: what was usual then is so again
    assert signal([*happened, (at, "drive"), *after], "speed").state == "steady"
    # a service that did not help leaves the drift to be found again
    still = [run(60 + number, chance=chance, speed=0.95) for number in range(20)]
    assert signal([*happened, (at, "drive"), *still], "speed").state == "drifting"
    # a service of another part leaves the chart as it was
    assert signal([*happened, (at, "gun")], "speed").state == "drifting"


def test_stretches_that_are_too_short_are_learnt_from_together() -> None:
    chance = random.Random(9)
    happened: list[Event] = []
    for number in range(24):
        if number % 8 == 0:
            happened.append((START + timedelta(hours=24 * number - 1), "drive"))
        happened.append(run(number, chance=chance))
    found = signal(happened, "speed")
    assert found.state == "steady"
    assert len(found.seen) == 8
    assert signal(happened[:9], "speed").says() == "speed: still learning: 8 of 12 runs"


def test_another_level_after_a_service_is_learnt_anew() -> None:
    happened = log(30, 0)
    at = happened[-1][0] + timedelta(hours=1)
    chance = random.Random(6)
    other = [run(60 + number, chance=chance, bore=1.2) for number in range(30)]
    learning = signal([*happened, (at, "gun"), *other[:6]], "flow")
    assert learning.state == "learning"
    assert "another level" in learning.says()
    assert signal([*happened, (at, "gun"), *other], "flow").state == "steady"


def test_services_and_repairs_are_read_from_the_entries() -> None:
    def entry(number: int, what: e.Kind) -> e.Entry:
        at = START + timedelta(days=number)
        return e.Entry(id=f"{number}", machine="m", happened=at, recorded=at, terminal="t", by="Ann", what=what)

    (_, one) = run(1, chance=random.Random(1))
    assert isinstance(one, e.Run)
    happened = events(
        [
            entry(1, one), entry(2, e.Service(item="belt")), entry(3, e.Service(item="nothing")),
            entry(4, e.Fault(part="gun", says="x")), entry(5, e.Repair(fault="4", says="new bore")),
            entry(6, e.Repair(fault="no such", says="?")),
        ],
        PLAN,
    )  # fmt: skip
    assert [what for _, what in happened if isinstance(what, str)] == ["drive", "gun"]


def test_layers_are_taken_out_where_nothing_compensates() -> None:
    card = Card(
        "R1", drum=Drum(1.5, 11, 5, 1.0), hose=Hose(0.11, 0.0938, 300.0), compensation=Compensation("none"),
    )  # fmt: skip
    wind = Wind(1.5, 0.11, 11, 1.0)
    turning = 0.3  # turns an hour, whatever lies on the drum
    values = []
    for out in (100.0, 200.0, 290.0):
        hours = (wind.turns(300) - wind.turns(300 - out)) / turning
        one = e.Run(
            started=START, ended=START + timedelta(hours=hours), metres=round(out * 1000), planned_speed=2_000,
            stopped_by="end stop",
        )  # fmt: skip
        value = residual("speed", one, card)
        assert value is not None
        values.append(value)
    assert max(values) - min(values) < 0.01
    bare = [residual("speed", one, CARD) for one in (one,)]
    assert bare != values[-1:]


@pytest.mark.parametrize(
    "change",
    [
        {"planned_speed": None},
        {"planned_speed": 0},
        {"metres": 0},
        {"stopped_by": "fault"},
        {"stopped_by": "operator"},
        {"ended": START},
        {"inlet": None, "gun": None, "drive_loss": None},
        {"gun": 0},
        {"gun": 10**7},
        {"drive_loss": 0},
    ],
)
def test_a_run_that_tells_nothing_is_left_out(change: dict[str, Any]) -> None:
    _, one = run(0, chance=random.Random(1))
    assert isinstance(one, e.Run)
    base = replace(one, **change)
    for name in NAMES:
        value = residual(name, base, CARD)
        assert value is None or math.isfinite(value)


def test_logs_that_tell_nothing_say_so() -> None:
    assert signals([], CARD, PLAN)[0].says() == "speed: still learning: 0 of 12 runs"
    same = [(START + timedelta(days=n), run(n, chance=random.Random(1))[1]) for n in range(30)]
    for one in signals(same, CARD, PLAN):
        assert one.state == "learning"
        assert "cannot say" in one.says()
    assert chart([1.0] * 40).state == "learning"
    wild = [(-1) ** n * 10.0**n for n in range(40)]
    assert "cannot say" in chart(wild).why


def test_one_strange_run_is_no_drift() -> None:
    happened = log(40, 1, speed=3.0)
    assert signal(happened, "speed").state == "steady"


@settings(max_examples=60)
@given(st.lists(st.floats(-1e6, 1e6), max_size=80))
def test_no_series_crashes_a_chart_or_makes_a_false_number(values: list[float]) -> None:
    found = chart(values)
    assert len(found.points) == len(values)
    for point in found.points:
        assert all(math.isfinite(one) for one in (point.average, point.upper, point.lower))
    if found.change is not None:
        assert LEARNT <= found.change.first <= found.change.at <= found.change.last < len(values)
        assert math.isfinite(found.change.size)


def test_false_alarms_are_about_as_rare_as_they_were_asked_for() -> None:
    chance = random.Random(21)
    watched = given_ = 0
    for _ in range(150):
        points = chart([chance.gauss(0, 3) for _ in range(160)]).points
        first = next((place for place, one in enumerate(points) if one.alarm), None)
        watched += (first if first is not None else 160) - LEARNT
        given_ += first is not None
    # about 45 are expected; five standard deviations either way
    expected = watched / RUN_LENGTH
    assert abs(given_ - expected) < 5 * math.sqrt(expected)


def test_every_signal_has_parts_and_words_for_both_ways() -> None:
    for name in NAMES:
        assert PARTS[name]
        assert LOOK[name, 1]
        assert LOOK[name, -1]
    assert signals([], CARD, Plan.empty())[0].item == ""
