"""The workload: every service in the week of its likely day, nothing twice, nothing lost."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from reelcare.core.forecast.forecast import Forecast
from reelcare.core.scales import ScalePoint
from reelcare.core.service import due
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.plan_table import read_plan
from reelcare.core.service.workload import Week, monday, week_of, workload

TODAY = date(2026, 5, 6)  # a Wednesday
PLAN = read_plan(
    {
        "id": "p",
        "items": [
            {"id": "oil", "what": "Oil", "every": {"hours": 500}, "part": "gearbox", "covers": ["level"], "minutes": 45,
             "supplies": ["gear oil", "seal"]},
            {"id": "level", "what": "Level", "every": {"hours": 100}, "part": "gearbox", "minutes": 10,
             "supplies": ["gear oil"]},
            {"id": "seals", "what": "Seals", "every": {"hours": 400}, "part": "gearbox", "minutes": 30},
            {"id": "chain", "what": "Chain", "every": {"hours": 50}, "part": "chain", "minutes": 20},
            {"id": "stop", "what": "Stop", "every": {"runs": 1}, "part": "end stop", "done_by": "pre-start"},
        ],
    }
)  # fmt: skip


def line(id: str, hours: float, days: int | None, machine: str = "R1", place: str = "North") -> DueLine:
    item = PLAN.item(id)
    assert item is not None
    judged = due.judge(
        item, due.begin(item, ScalePoint(TODAY)), ScalePoint(TODAY, round(hours * 3600), 0, int(hours > 0))
    )
    likely = TODAY + timedelta(days=days) if days is not None else None
    ahead = Forecast(likely, likely, likely) if likely is not None else None
    return DueLine(machine, machine, place, item, judged, (), None, ahead)


def jobs(weeks: list[Week]) -> list[tuple[int, str, str]]:
    first = weeks[0].begins
    return [
        ((week.begins - first).days // 7, visit.machine, job.item.id)
        for week in weeks
        for visit in week.visits
        for job in (*visit.jobs, *visit.covered)
    ]


def test_each_service_stands_in_the_week_of_its_likely_day() -> None:
    weeks = workload([line("chain", 10, 2), line("level", 10, 5), line("oil", 10, 30)], TODAY, 6)
    # Wednesday and two days is Friday; five days on is the Monday after
    assert jobs(weeks) == [(0, "R1", "chain"), (1, "R1", "level"), (4, "R1", "oil")]


def test_what_is_due_or_overdue_stands_in_the_present_week() -> None:
    weeks = workload([line("chain", 52, 0), line("level", 190, 0)], TODAY, 2)
    assert jobs(weeks) == [(0, "R1", "chain"), (0, "R1", "level")]


def test_what_a_bigger_service_covers_takes_no_time_of_its_own() -> None:
    (week,) = workload([line("oil", 501, 0), line("level", 120, 0)], TODAY, 1)
    (visit,) = week.visits
    assert [job.item.id for job in visit.jobs] == ["oil"]
    assert [job.item.id for job in visit.covered] == ["level"]
    assert week.minutes == 45
    assert week.supplies() == {"gear oil": 1, "seal": 1}


def test_what_is_open_on_the_same_part_and_inside_its_grace_is_worth_doing_too() -> None:
    (week, *_) = workload([line("oil", 501, 0), line("seals", 365, 20), line("chain", 46, 10)], TODAY, 2)
    assert [one.item.id for one in week.visits[0].together] == ["seals"]
    (week, *_) = workload([line("oil", 501, 0), line("seals", 200, 90)], TODAY, 2)
    assert week.visits[0].together == ()


def test_what_each_pre_start_asks_is_left_out_until_it_was_forgotten() -> None:
    assert jobs(workload([line("stop", 1, 0)], TODAY, 1)) == []


def test_minutes_and_places_add_up() -> None:
    lines = [
        line("chain", 60, 0, "R1", "South"),
        line("chain", 60, 0, "R2", "North"),
        line("level", 150, 0, "R2", "North"),
    ]
    (week,) = workload(lines, TODAY, 1)
    assert list(week.by_place()) == ["North", "South"]
    assert week.minutes == 50
    assert sum(visit.minutes for visits in week.by_place().values() for visit in visits) == week.minutes


@given(
    st.lists(
        st.tuples(st.sampled_from(["oil", "level", "seals", "chain"]), st.integers(0, 90), st.sampled_from("ABC")),
        unique_by=lambda one: (one[0], one[2]), max_size=12,
    )
)  # fmt: skip
def test_nothing_is_lost_and_nothing_stands_twice(wanted: list[tuple[str, int, str]]) -> None:
    lines = [line(id, 10, days, machine) for id, days, machine in wanted]
    weeks = workload(lines, TODAY, 15)
    assert sorted(jobs(weeks)) == sorted(
        ((week_of(one, TODAY) - monday(TODAY)).days // 7, one.machine, one.item.id)  # type: ignore[operator]
        for one in lines
    )


def test_without_a_forecast_what_is_inside_its_grace_is_worth_doing_too() -> None:
    # a grace of 10 % unless the plan says another: from 360 of 400 h on
    (week, *_) = workload([line("oil", 501, 0), line("seals", 365, None)], TODAY, 2)
    assert [one.item.id for one in week.visits[0].together] == ["seals"]
    (week, *_) = workload([line("oil", 501, 0), line("seals", 355, None)], TODAY, 2)
    assert week.visits[0].together == ()


def test_what_is_due_is_acute_whether_or_not_it_holds() -> None:
    late, soon, begun = line("oil", 501, 0), line("oil", 470, 3), line("oil", 10, 90)
    assert (late.due.held, late.is_acute) == (False, True)
    assert not soon.is_acute
    assert not begun.is_acute
