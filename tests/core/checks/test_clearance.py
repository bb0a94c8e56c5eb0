"""What a passed check is good for, and the day that it is named by."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from reelcare.core.checks.clearance import LAPSE, Clearance, Passed, clearance, clearance_text, planned_end

AT = datetime(2026, 6, 2, 2, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


@pytest.mark.parametrize(
    ("passed", "after", "expected"),
    [
        (None, timedelta(0), "no check"),
        (Passed("c", "pre-start", AT, "Olav"), timedelta(0), "passed"),
        (Passed("c", "pre-start", AT, "Olav"), LAPSE, "passed"),
        (Passed("c", "pre-start", AT, "Olav"), LAPSE + MINUTE, "lapsed"),
        (Passed("c", "pre-start", AT, "Olav"), -5 * MINUTE, "passed"),
        (Passed("c", "pre-start", AT, "Olav"), -6 * MINUTE, "dated later"),
        (Passed("c", "pre-start", AT, "Olav", AT + MINUTE, "the run"), MINUTE, "used up"),
    ],
)
def test_a_check_is_good_for_one_run_and_for_a_time(passed: Passed | None, after: timedelta, expected: str) -> None:
    assert clearance(passed, AT + after) == expected


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        ("passed", "road check passed by Olav"),
        ("used up", "road check of {} no longer counts after the run; do a new one"),
        ("lapsed", "road check of {} is more than 24 h old"),
        ("dated later", "road check is dated {}, later than now; check the clock"),
    ],
)
def test_a_check_is_named_by_the_day_of_its_own_place(code: Clearance, expected: str) -> None:
    # 02:00 on 2 June in UTC is 22:00 on 1 June in New York (IANA time-zone data)
    passed = Passed("c", "road", AT, "Olav", AT, "the run")
    for zone, day in ((ZoneInfo("America/New_York"), "2026-06-01"), (UTC, "2026-06-02")):
        assert clearance_text(code, "road", passed, zone, AT) == expected.format(day)


def test_a_finish_that_was_past_before_the_water_was_on_is_of_another_run() -> None:
    """A set that was kept on Monday made a run of Wednesday *running until 20:10*, and late home at once."""
    passed = Passed("c1", "pre-start", AT, "Ines", gate="running", opened=AT - timedelta(minutes=20))
    ends = AT + timedelta(hours=9)
    planned = passed._replace(finish=ends.isoformat()), passed._replace(finish=(AT - timedelta(days=2)).isoformat())
    assert [planned_end(one, UTC) for one in planned] == [ends, None]
    told = [clearance_text("passed", "run", one, UTC, AT) for one in planned]
    assert told[0].startswith(f"running until {ends:%H:%M}, signed ")
    assert told[1].startswith("running, signed ")


def test_a_check_that_was_never_passed_is_named_without_a_day() -> None:
    assert clearance_text("no check", "run", None, UTC, AT) == "no valid pre-start"
