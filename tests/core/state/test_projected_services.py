"""A season's plan: services played forward, each from where the one before was done."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from reelcare import languages
from reelcare.core import entries as e
from reelcare.core.fold import fold
from reelcare.core.machine.card import read_card
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.plan_table import read_plan
from reelcare.core.service.workload import monday, workload
from reelcare.core.state.machine_now import MachineNow, machine_at
from reelcare.core.state.plans import Known, PlanBook
from reelcare.core.state.projected_services import lines_ahead

CARD = {"tag": "R1", "place": "North"}
NOW = datetime(2026, 7, 9, 20, tzinfo=UTC)
TODAY = NOW.date()


def machine(items: list[dict[str, Any]], hours_a_day: float = 5, days: int = 40) -> MachineNow:
    """A machine that works so many hours each day, up to and with today."""
    plan = read_plan({"id": "p", "items": [{"what": one["id"]} | one for one in items]})
    begun = NOW - timedelta(days=days - 1)
    added = begun - timedelta(hours=20)
    card = {**CARD, "in_use_since": f"{added:%Y-%m-%d}"}
    entries = [
        e.Entry(id="0", machine="m", happened=added, recorded=NOW, terminal="t", by="Ana", what=e.Carded(card=card))
    ]
    for one in items:  # all was done on the day it came
        what = e.Service(item=one["id"])
        entries.append(
            e.Entry(id=f"0{one['id']}", machine="m", happened=added, recorded=NOW, terminal="t", by="Ana", what=what)
        )
    for number in range(days):
        ended = begun + timedelta(days=number) - timedelta(hours=1)
        run = e.Run(started=ended - timedelta(hours=hours_a_day), ended=ended, metres=150_000)
        entries.append(
            e.Entry(id=f"1{number:04d}", machine="m", happened=ended, recorded=NOW, terminal="t", by="Ana", what=run)
        )
    tally = fold("m", entries, Known(PlanBook([(begun - timedelta(days=2), None, plan)])))
    assert tally is not None
    return machine_at(read_card(card), tally, plan, NOW, UTC, forecasts=True)


def days_of(lines: list[DueLine], id: str) -> list[int]:
    found = []
    for line in lines:
        if line.item.id == id:
            day = line.planned or (line.forecast.likely if line.forecast else None)
            assert day is not None
            found.append((day - TODAY).days)
    return found


def test_a_service_comes_again_after_each_interval_of_expected_work() -> None:
    # 200 h so far at 5 h a day; every 75 h: due at 75 h, so now; then each 15 days
    lines = lines_ahead(machine([{"id": "grease", "every": {"hours": 75}}]), TODAY, TODAY + timedelta(days=70))
    assert days_of(lines, "grease") == [0, 15, 30, 45, 60]
    assert [line.planned is None for line in lines] == [True, False, False, False, False]


def test_that_a_service_comes_again_is_said_in_the_persons_language() -> None:
    one = machine([{"id": "grease", "every": {"hours": 75}}])
    languages.install("es")
    assert [line.due.why("metric") for line in lines_ahead(one, TODAY, TODAY + timedelta(days=20))][1:] == ["otra vez"]


def test_the_date_comes_first_where_it_does() -> None:
    lines = lines_ahead(
        machine([{"id": "road", "every": {"hours": 10_000, "months": 2}}], days=35), TODAY, date(2027, 1, 1)
    )
    first = date(2026, 6, 5)  # carded on the day of the first run
    assert [TODAY + timedelta(days=one) for one in days_of(lines, "road")] == [
        date(first.year, month, first.day) for month in (8, 10, 12)
    ]


def test_what_a_bigger_service_covers_is_put_back_by_it() -> None:
    items: list[dict[str, Any]] = [
        {"id": "change", "every": {"hours": 300}, "grace": 0, "covers": ["level"]},
        {"id": "level", "every": {"hours": 110}, "anchor": "done"},
    ]
    lines = lines_ahead(machine(items, days=20), TODAY, TODAY + timedelta(days=70))
    # 100 h so far: level at 110 and 220 h, change at 300 h, level again 110 h after the change
    assert days_of(lines, "change") == [40]
    assert days_of(lines, "level") == [2, 24, 62]


def test_what_each_pre_start_asks_is_not_played_forward() -> None:
    one = machine([{"id": "stop", "every": {"runs": 1}, "done_by": "pre-start"}])
    assert len(lines_ahead(one, TODAY, TODAY + timedelta(days=30))) == 1


def test_each_repeat_stands_in_its_week() -> None:
    one = machine([{"id": "grease", "every": {"hours": 75}, "minutes": 20, "part": "drum"}])
    weeks = workload(lines_ahead(one, TODAY, monday(TODAY) + timedelta(days=69)), TODAY, 10)
    counted = [sum(len(visit.jobs) for visit in week.visits) for week in weeks]
    expected = [0] * 10
    for days in (0, 15, 30, 45, 60):
        expected[(monday(TODAY + timedelta(days=days)) - monday(TODAY)).days // 7] += 1
    assert counted == expected
    assert sum(week.minutes for week in weeks) == 100
    assert all(visit.together == () for week in weeks for visit in week.visits)


@given(st.integers(1, 200), st.integers(0, 300), st.integers(1, 60))
def test_a_plan_ends_whatever_the_intervals(hours: int, metres: int, runs: int) -> None:
    every = {"hours": hours, "runs": runs} | ({"metres": metres * 1000} if metres else {})
    lines = lines_ahead(machine([{"id": "a", "every": every}], days=20), TODAY, TODAY + timedelta(days=60))
    days = days_of(lines, "a")
    assert days == sorted(set(days))
