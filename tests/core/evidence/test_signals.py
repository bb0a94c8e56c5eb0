"""Signals from run logs with a truth that is known, and an honest 'cannot say' from logs that tell nothing."""

import math
import random
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.core.evidence.baseline import KEPT, LEARNT, Baseline
from reelcare.core.evidence.charts import RUN_LENGTH, chart_of
from reelcare.core.evidence.explained import SignalRun, explanations
from reelcare.core.evidence.gauges import step
from reelcare.core.evidence.signals import LOOK, NAMES, PARTS, Event, Signal, events, residual, signals, winds
from reelcare.core.hydraulics.drum import Wind
from reelcare.core.machine.card import Card, Compensation, Drum, Hose
from reelcare.core.service.plan import Plan
from reelcare.core.service.plan_table import read_plan
from tests.pseudo import Pseudo, outside
from tests.simulated import correlated

START = datetime(2026, 4, 1, 6, tzinfo=UTC)
CARD = Card("R1")
PLAN = read_plan({
    "id": "p", "items": [
        {"id": "belt", "what": "Belt", "every": {"hours": 100}, "part": "drive"},
        {"id": "gun", "what": "Gun", "every": {"hours": 250}, "part": "gun"},
        {"id": "opening", "what": "All", "every": {"months": 12}, "part": "drum", "covers": ["belt", "gun"]},
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
        f"speed has been {abs(found.change):.0f} % (± {found.span:.2g}) short of plan for {found.runs} runs, "
        f"since {found.since:%Y-%m-%d}: look at belt"
    )
    assert found.between is not None
    assert found.since is not None
    assert found.between[0] <= found.since <= found.between[1]


def test_no_drift_is_told_as_if_it_were_exact() -> None:
    found = signal(log(30, 12, speed=0.95), "speed")
    assert replace(found, error=0.2).says().startswith(f"speed has been {abs(found.change or 0):.0f} % (± 0.5) short")
    assert replace(found, error=0.75).says().startswith(f"speed has been {abs(found.change or 0):.0f} % (± 1.5) short")


def test_a_drift_is_known_again_on_the_bench_by_its_signal_and_its_way(pseudo: Pseudo) -> None:
    slow, fast = signal(log(30, 20, speed=0.92), "speed"), signal(log(30, 20, speed=1.09), "speed")
    loss = signal(log(30, 20, loss=70), "drive loss")
    assert re.findall("[a-z]+", outside(slow.says())) == []
    # what an entry keeps is English, and is known again whatever its figures and the person's language are
    assert slow.kept().startswith("speed has been ")
    assert "⟦" not in slow.kept()
    assert slow.is_told_by(slow.kept())
    assert slow.is_told_by("speed has been 3 % (± 1) short of plan for 1 run: look at whatever was said in 2024")
    for other in (fast, loss):
        assert not slow.is_told_by(other.kept())
        assert not other.is_told_by(slow.kept())
    assert not signal(log(30, 20, bore=1.05), "flow").is_told_by("flowers grow over what is usual")


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
    assert "a new level" in learning.says()
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
            entry(6, e.Repair(fault="no such", says="?")), entry(7, e.Service(item="opening")),
        ],
        PLAN,
    )  # fmt: skip
    told = [what for _, what in happened if isinstance(what, str)]
    assert (told[:2], sorted(told[2:])) == (["drive", "gun"], ["drive", "drum", "gun"])


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
        # a time is read to a minute; pressures to the pascal follow no step that could be told
        assert one.state == ("steady" if one.name == "speed" else "learning")
        assert one.name == "speed" or "cannot say" in one.says()
    assert chart_of([[1.0] * 40]).state == "learning"
    wild = [(-1) ** n * 10.0**n for n in range(40)]
    assert "are alike" in chart_of([wild]).why


def coarse(happened: list[Event], step: int) -> list[Event]:
    """The same log with pressures read to a step [Pa]."""
    found: list[Event] = []
    for at, what in happened:
        assert isinstance(what, e.Run)
        read = {name: step * round(getattr(what, name) / step) for name in ("inlet", "gun", "drive_loss")}
        found.append((at, replace(what, **read)))
    return found


@pytest.mark.parametrize("step", [10_000, 25_000])
def test_a_coarse_gauge_does_not_turn_a_signal_off(step: int) -> None:
    # gauges of 0.1 and 0.25 bar: what is rounded is off by 0.29 of a step (uniform distribution, 1 / sqrt(12))
    states = []
    for seed in range(12):
        good = signal(coarse(log(60, 0, seed), step), "gun pressure")
        states.append(good.state)
        assert (good.chart.spread or 0) >= 100 * step / 500_000 / 3 * 0.9
        later = log(40, 0, seed)
        for number, (_, what) in enumerate(log(20, 0, 90 + seed)):
            assert isinstance(what, e.Run)
            assert what.gun is not None
            later.append((START + timedelta(days=100 + number), replace(what, gun=round(what.gun * 0.82))))
        later = coarse(later, step)
        assert signal(later, "gun pressure").state == "drifting"
    assert states.count("steady") >= 10


def test_all_readings_alike_are_a_gauge_that_is_read_coarsely() -> None:
    one = run(0, chance=random.Random(1))[1]
    assert isinstance(one, e.Run)
    same = replace(one, inlet=650_000, gun=430_000, drive_loss=50_000)
    happened: list[Event] = [(START + timedelta(days=n), same) for n in range(20)]
    assert signal(happened, "gun pressure").state == "steady"
    lower = replace(same, gun=350_000)
    happened += [(START + timedelta(days=20 + n), lower) for n in range(8)]
    assert signal(happened, "gun pressure").state == "drifting"


def test_learning_goes_on_until_enough_runs_are_alike() -> None:
    chance = random.Random(2)
    begin = [(-1) ** n * 10.0**n for n in range(12)]
    good = [chance.gauss(0, 2) for _ in range(40)]
    assert chart_of([begin]).state == "learning"
    assert chart_of([[*begin, *good]]).state == "steady"
    assert chart_of([[*begin, *good, *[one + 12 for one in good[:12]]]]).state == "drifting"


def with_dwell(number: int, chance: random.Random, **more: Any) -> Event:
    _, what = run(number, chance=chance)
    assert isinstance(what, e.Run)
    longer = replace(what, ended=what.ended + timedelta(hours=1), **more)
    return longer.ended, longer


def test_planned_dwell_is_no_slipping_belt() -> None:
    good = log(25, 0)
    chance = random.Random(8)
    told = signal(good + [with_dwell(25 + n, chance, dwell=3600) for n in range(15)], "speed")
    assert told.state == "steady"
    chance = random.Random(8)
    silent = signal(good + [with_dwell(25 + n, chance) for n in range(15)], "speed")
    assert silent.state == "drifting"


def entry_of(number: int, at: datetime, what: e.Kind) -> e.Entry:
    return e.Entry(id=f"{number:04d}", machine="m", happened=at, recorded=at, terminal="t", by="Ann", what=what)


def test_a_run_has_the_dwell_of_the_set_that_was_kept_for_it() -> None:
    chance = random.Random(3)
    entries, many = [], 0
    for number in range(40):
        at, what = with_dwell(number, chance)
        assert isinstance(what, e.Run)
        wishes = {"dwell_start": "30 min", "dwell_end": "0.5 h", "wind": "18 km/h"}
        kept = e.SetPlanned(wishes=wishes, planned={"pull_out": "300 m"})
        entries += [entry_of(2 * number, what.started, kept), entry_of(2 * number + 1, at, what)]
        many += 1
    happened = events(entries, PLAN)
    assert [what.dwell for _, what in happened if isinstance(what, e.Run)] == [3600] * many
    assert set(winds(entries).values()) == {5.0}
    told = [replace(what, dwell=600) for _, what in happened[:1] if isinstance(what, e.Run)]
    both = events([entries[0], entry_of(1, told[0].ended, told[0])], PLAN)
    assert [what.dwell for _, what in both if isinstance(what, e.Run)] == [600]  # what was told goes before


def test_what_a_field_explains_is_not_told_as_wear() -> None:
    chance = random.Random(4)
    happened = [run(n, chance=chance, place="Low") for n in range(30)]
    happened += [run(30 + n, chance=chance, speed=0.93, place="Hill") for n in range(15)]
    told = signal(happened, "speed")
    assert told.state == "steady"
    assert told.explained is not None
    assert (told.explained.by, told.explained.runs) == ("field", 15)
    assert "less in field Hill (15 runs)" in told.says()
    # the same without the field, or with too few runs of it, is a drift
    bare: list[Event] = [(at, replace(what, place="")) for at, what in happened if isinstance(what, e.Run)]
    assert signal(bare, "speed").state == "drifting"
    assert signal(happened[:37], "speed").explained is None


def test_wear_that_goes_on_in_every_field_is_still_told() -> None:
    chance = random.Random(5)
    happened = [
        run(n, chance=chance, speed=0.93 if n >= 30 else 1.0, place="Hill" if n % 2 else "Low", operator="Ines")
        for n in range(50)
    ]
    told = signal(happened, "speed")
    assert told.state == "drifting"
    assert told.explained is None


def test_the_wind_and_the_operator_explain_too() -> None:
    chance = random.Random(6)
    happened = [run(n, chance=chance, speed=0.92 if n >= 30 else 1.0) for n in range(45)]
    wind = {at: (9.0 if n >= 30 else 2.0) for n, (at, _) in enumerate(happened)}
    (found,) = [one for one in signals(happened, CARD, PLAN, wind=wind) if one.name == "speed"]
    assert found.explained is not None
    assert found.explained.by == "wind"
    others: list[Event] = [
        (at, replace(what, operator="Tomas" if n >= 30 else "Ines"))
        for n, (at, what) in enumerate(happened)
        if isinstance(what, e.Run)
    ]
    told = signal(others, "speed").explained
    assert told is not None
    assert told.by == "operator"


@pytest.mark.parametrize("goes_with", [0.0, 0.4, 0.6])
def test_runs_that_go_together_give_no_more_false_alarms(goes_with: float) -> None:
    watched = given_ = 0
    for seed in range(60):
        points = chart_of([correlated(random.Random(f"{goes_with} {seed}"), 200, 3.0, goes_with)]).points
        begun = next((place for place, one in enumerate(points) if one.score is not None), len(points))
        first = next((place for place, one in enumerate(points) if one.alarm), None)
        watched += (first if first is not None else len(points)) - begun
        given_ += first is not None
    # one in 400 within a factor of 1.5, and four standard deviations of the count beside it
    assert given_ <= 1.5 * watched / RUN_LENGTH + 4 * math.sqrt(watched / RUN_LENGTH)


def test_the_step_of_a_gauge_is_found() -> None:
    assert step([430_000, 480_000, 440_000]) == 10_000
    assert step([433_217] * 4) == 0
    assert step([]) == 0


def test_one_strange_run_is_no_drift() -> None:
    happened = log(40, 1, speed=3.0)
    assert signal(happened, "speed").state == "steady"


@settings(max_examples=60)
@given(st.lists(st.floats(-1e6, 1e6), max_size=80))
def test_no_series_crashes_a_chart_or_makes_a_false_number(values: list[float]) -> None:
    found = chart_of([values])
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
        points = chart_of([[chance.gauss(0, 3) for _ in range(160)]]).points
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


def test_values_that_never_differ_are_explained_by_nothing() -> None:
    seen = [SignalRun(START + timedelta(days=n), 2.0, field="Hill" if n % 2 else "Low") for n in range(20)]
    assert explanations(seen) == []
    apart = [replace(one, value=3.0) if one.field == "Hill" else one for one in seen]
    assert {(told.by, abs(told.size)) for told, _ in explanations(apart)} == {("field", 1.0)}


def test_the_first_runs_after_a_service_teach_the_chart_too() -> None:
    before = [10.0 + (n % 3) / 10 for n in range(2 * LEARNT)]
    after = [10.2] * 4
    told = chart_of([before, after])
    assert told.centre is not None
    assert chart_of([before]).centre == pytest.approx(10.1, abs=0.01)
    assert told.centre > 10.11


@pytest.mark.parametrize("new", [1, 4, 25])
def test_a_new_stretch_fits_within_three_times_what_two_means_are_apart_by_chance(new: int) -> None:
    chance = random.Random(7)
    known = Baseline([chance.gauss(10, 2) for _ in range(30)])
    apart = 3 * known.spread * known.widening * math.sqrt(1 / new + 1 / min(known.count, KEPT))
    for way in (-1, 1):
        assert known.fits([known.mean + way * 0.99 * apart] * new)
        assert not known.fits([known.mean + way * 1.01 * apart] * new)
