"""What entries tell of failures: ages, lives, and what is censored."""

from datetime import UTC, datetime, timedelta
from typing import Any

from reelcare.core import entries as e
from reelcare.core.evidence.failures.counts import System
from reelcare.core.evidence.failures.exposure import Life, exposures
from reelcare.core.evidence.failures.words import sentences, tell
from reelcare.core.service.plan_table import read_plan
from reelcare.core.state.plans import Known, PlanBook

START = datetime(2026, 4, 1, 6, tzinfo=UTC)
PLAN = read_plan({"id": "p", "items": [{"id": "belt", "what": "Belt", "every": {"hours": 100}, "part": "drive"}]})
KNOWN = Known(PlanBook([(START - timedelta(days=400), None, PLAN)]))


def history(*what: tuple[float, Any]) -> list[e.Entry]:
    """Entries at life totals of hours: a number of hours run since the one before, then what happened."""
    return later(START, 1, *what)


def later(at: datetime, first: int, *what: tuple[float, Any]) -> list[e.Entry]:
    """The same, from a moment on, numbered from a number on."""
    found, number = [], first - 1
    for hours, one in what:
        if hours:
            ended = at + timedelta(hours=hours)
            run = e.Run(started=at, ended=ended, metres=int(hours * 20_000), stopped_by="end stop")
            found.append(_entry(number := number + 1, ended, run))
            at = ended
        at += timedelta(minutes=1)
        if one is not None:
            found.append(_entry(number := number + 1, at, one))
    return found


def _entry(number: int, at: datetime, what: e.Kind) -> e.Entry:
    return e.Entry(id=f"{number:04}", machine="m", happened=at, recorded=at, terminal="t", by="Ann", what=what)


def fault(part: str = "drive", **more: Any) -> e.Fault:
    return e.Fault(part=part, says="slips", **({"holds": "run"} | more))


def test_failures_services_and_repairs_cut_a_parts_life() -> None:
    entries = history(
        (40, e.Service(item="belt")), (70, fault()), (0, e.Repair(fault="0004", says="new belt")), (30, None),
    )  # fmt: skip
    found = exposures("m", entries, KNOWN, ("drive", "gun"))
    drive = found["drive"]
    assert drive.system is not None
    assert drive.system.failures == (110.0,)
    assert drive.system.watched == 140.0
    # 40 h until it was serviced (kept), 70 h until it failed, 30 h since the repair (kept)
    assert drive.lives == (Life(40.0, False), Life(70.0, True), Life(30.0, False))
    assert found["gun"].lives == (Life(140.0, False),)
    by_metres = exposures("m", entries, KNOWN, ("drive",), "metres")["drive"]
    assert by_metres.lives[1] == Life(1400.0, True)


def test_a_note_is_no_failure_and_a_second_fault_on_a_failed_part_is_the_same_one() -> None:
    entries = history((40, fault(holds="")), (10, fault()), (0, fault()), (5, None))
    drive = exposures("m", entries, KNOWN, ("drive",))["drive"]
    assert drive.system is not None
    assert drive.system.failures == (50.0,)
    # it has not been repaired: nothing lives on
    assert drive.lives == (Life(50.0, True),)


def test_a_fault_to_be_fixed_by_a_limit_is_a_failure() -> None:
    drive = exposures("m", history((40, fault(holds="", fix_by_runs=3))), KNOWN, ("drive",))["drive"]
    assert drive.system is not None
    assert drive.system.failures == (40.0,)


def test_a_machine_that_never_worked_tells_nothing() -> None:
    found = exposures("m", history((0, fault())), KNOWN, ("drive",))["drive"]
    assert found.system is None
    assert found.lives == ()
    assert exposures("m", [], KNOWN, ("drive",))["drive"].system is None


def test_what_a_machine_had_behind_it_when_it_came_is_told() -> None:
    # a machine that came used: of its first 5000 h nobody here knows a failure
    carded = _entry(0, START, e.Carded(card={"tag": "R7"}))
    at = START + timedelta(days=10)
    old = [carded, _entry(1, at, e.Reading(counter="hours", value=5000 * 3600)), _entry(2, at, fault())]
    found = exposures("m", old, KNOWN, ("drive",))["drive"]
    # ten days and the two that a day's beginning may lie off, by the clock
    assert 5000 - 13 * 24 <= found.before <= 5000 - 10 * 24
    assert any("1 machine came with hours on the counter" in text for text in tell("drive", [found]).notes)
    # one that was read for the first time after half a year of work did not
    later = START + timedelta(days=180)
    new = [carded, _entry(1, later, e.Reading(counter="hours", value=1000 * 3600))]
    assert exposures("m", new, KNOWN, ("drive",))["drive"].before == 0
    # nor did anybody here see what it did since a day that its card says
    card = {"tag": "R7", "in_use_since": "2020-04-01"}
    since = [_entry(0, START, e.Carded(card=card)), *old[1:]]
    assert exposures("m", since, KNOWN, ("drive",))["drive"].before == found.before
    assert exposures("m", since, KNOWN, ("drive",), "metres")["drive"].before == 0


def test_a_machine_whose_card_says_what_its_counters_showed_is_watched_from_there() -> None:
    card = {"tag": "R7", "in_use_since": "2026-04-01", "in_use": {"hours": 1000, "metres": 30_000}}
    carded = _entry(0, START - timedelta(minutes=1), e.Carded(card=card))
    entries = [carded, *history((40, fault()), (0, e.Repair(fault="0002", says="new belt")), (60, fault()))]
    found = exposures("m", entries, KNOWN, ("drive",))["drive"]
    assert found.system == System((1040.0, 1100.0), 1100.0, 1000.0)
    # how old the belt was that failed first is not known
    assert found.lives == (Life(60.0, True),)
    told = tell("drive", [found])
    assert (told.watched, told.mean_time[0]) == (100.0, 50.0)
    by_metres = exposures("m", entries, KNOWN, ("drive",), "metres")["drive"]
    assert by_metres.system is not None
    assert by_metres.system.since == 30_000


def test_what_had_failed_when_a_machine_came_is_no_failure_of_the_watch() -> None:
    card = {"tag": "R7", "in_use": {"hours": 1000}}
    carded = _entry(0, START - timedelta(minutes=1), e.Carded(card=card))
    found = exposures("m", [carded, *history((0, fault()), (0, e.Repair(fault="0001", says="x")), (60, None))], KNOWN,
                      ("drive",))["drive"]  # fmt: skip
    assert found.system == System((), 1060.0, 1000.0)
    told = tell("drive", [found])
    assert (told.failures, told.watched, told.mean_time[0]) == (0, 60.0, None)
    assert "1 failure was there when its machine came: nobody watched it happen, so it is not counted" in told.notes


def test_a_first_reading_that_shows_hours_from_before_moves_what_came_before_it() -> None:
    at = START + timedelta(hours=50)
    entries = [
        *history((20, fault()), (0, e.Repair(fault="0002", says="new belt")), (10, None)),
        _entry(8, at, e.Reading(counter="hours", value=5000 * 3600)), *later(at, 9, (30, fault())),
    ]  # fmt: skip
    found = exposures("m", entries, KNOWN, ("drive",))["drive"]
    assert found.before > 4900
    assert found.system == System((4990.0, 5030.0), 5030.0, found.before)
    assert found.lives == (Life(40.0, True),)


def test_a_reading_below_what_the_runs_came_to_moves_the_failures_since_the_one_before() -> None:
    read = START + timedelta(minutes=30)
    first = _entry(0, read - timedelta(hours=1), e.Reading(counter="hours", value=0))
    at = START + timedelta(hours=60)
    entries = [
        first, *history((20, fault()), (0, e.Repair(fault="0002", says="new belt")), (20, fault())),
        _entry(8, at, e.Reading(counter="hours", value=30 * 3600)),
    ]  # fmt: skip
    found = exposures("m", entries, KNOWN, ("drive",))["drive"]
    assert found.system == System((15.0, 30.0), 30.0)
    assert found.lives == (Life(15.0, True), Life(15.0, True))
    assert tell("drive", [found]).watched == 30.0


def test_what_a_right_answer_ends_is_no_failure_and_leaves_the_part_in_use() -> None:
    out_of_place = (20, fault(owner="adjustment"))
    found = exposures("m", history(out_of_place, (20, fault())), KNOWN, ("drive",))["drive"]
    assert found.system == System((40.0,), 40.0)
    assert found.lives == (Life(40.0, True),)
    # what had to be repaired was more than out of place
    mended = history(out_of_place, (5, e.Repair(fault="0002", says="new belt")), (20, None))
    found = exposures("m", mended, KNOWN, ("drive",))["drive"]
    assert found.system == System((20.0,), 45.0)
    assert found.lives == (Life(20.0, True), Life(20.0, False))


def test_a_part_is_down_until_the_last_of_its_faults_is_mended() -> None:
    mended = (0, e.Repair(fault="0002", says="new belt"))
    two = history((20, fault()), (0, fault()), mended, (10, fault()), (0, e.Repair(fault="0003", says="new pulley")))
    found = exposures("m", two, KNOWN, ("drive",))["drive"]
    assert found.system == System((20.0,), 30.0)
    again = history((20, fault()), mended, (0, e.Retest(fault="0002", passed=False)), (10, fault()))
    assert exposures("m", again, KNOWN, ("drive",))["drive"].system == System((20.0,), 30.0)


def test_a_service_that_covers_another_renews_what_that_is_about() -> None:
    whole = {"id": "whole", "what": "All", "every": {"hours": 500}, "part": "gun", "covers": ["belt"]}
    belt = {"id": "belt", "what": "Belt", "every": {"hours": 100}, "part": "drive"}
    plan = read_plan({"id": "p", "items": [belt, whole]})
    known = Known(PlanBook([(START - timedelta(days=400), None, plan)]))
    found = exposures("m", history((40, e.Service(item="whole")), (30, fault())), known, ("drive",))["drive"]
    assert found.lives == (Life(40.0, False), Life(30.0, True))


def test_what_was_done_before_a_machine_came_begins_no_life_that_was_watched() -> None:
    card = {"tag": "R7", "in_use": {"hours": 1000}}
    earlier = START - timedelta(days=200)
    entries = [
        _entry(0, earlier, e.Service(item="belt")), _entry(0, START - timedelta(minutes=1), e.Carded(card=card)),
        *history((60, fault()), (0, e.Repair(fault="0002", says="new belt")), (30, None)),
    ]  # fmt: skip
    assert exposures("m", entries, KNOWN, ("drive",))["drive"].lives == (Life(30.0, False),)


def test_words_say_what_they_rest_on() -> None:
    none = tell("drive", [exposures("m", history((500, None)), KNOWN, ("drive",))["drive"]])
    assert sentences(none)[0].startswith("no failure of the drive in 500 h on 1 machine: one in")
    one = tell("drive", [exposures("m", history((100, fault())), KNOWN, ("drive",))["drive"]])
    assert sentences(one)[0] == "rough: 1 failure in all, too few for a trend or an interval"
    cycles = []
    for number in range(12):
        hours = 90 + 5 * (number % 5)
        cycles += [(hours, fault()), (0, e.Repair(fault=f"{3 * number + 2:04}", says="new belt"))]
    many = tell("drive", [exposures("m", history(*cycles), KNOWN, ("drive",))["drive"]], costs=(1, 10))
    told = sentences(many)
    assert any("it wears out: shape" in text for text in told)
    assert any("costs least" in text for text in told)
    assert any("no trend with age shows: growth" in text for text in told)
    assert many.renewal is not None
    assert many.renewal.best.time is not None
    assert many.renewal.best.time < 100
    assert not any("few" in text for text in told)


def test_costs_are_asked_and_never_assumed() -> None:
    cycles = []
    for number in range(12):
        cycles += [(90 + 5 * (number % 5), fault()), (0, e.Repair(fault=f"{3 * number + 2:04}", says="new belt"))]
    told = tell("drive", [exposures("m", history(*cycles), KNOWN, ("drive",))["drive"]])
    assert told.renewal is None
    assert not any("costs least" in text for text in sentences(told))
    assert "when renewing pays is said once the costs of planned and unplanned work are told" in sentences(told)
