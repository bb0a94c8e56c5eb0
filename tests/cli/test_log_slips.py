"""Slips of whoever logs: what cannot be meant is refused, what may be so is told, and the way back is said."""

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelcare.core.state import fix_by
from reelcare.core.state.counters import Totals

NOT_MEANT = [
    "-20 h",
    "0 h",
    "0 runs",
    "0 days",
    "-5 m",
    "1e300 h",
    "99999999 days",
    "2e9 m",
    "99999 runs",
    "9999-12-31",
    # days are those of the calendar, never hours of work
    "1.5 days",
    "+3 days",
]


def run(farm: Any, day: int) -> None:
    told = farm(
        "log", "run", "R1", "--started", f"2026-05-{day:02}T06:00", "--ended", f"2026-05-{day:02}T16:00", "--metres",
        "300 m", "--by", "Olav",
    )  # fmt: skip
    assert told.code == 0


def test_a_first_reading_far_below_what_was_logged_is_written_and_told(farm: Any) -> None:
    for day in range(1, 6):
        run(farm, day)
    told = farm("log", "reading", "R1", "metres", "2", "--by", "Olav", "--at", "2026-05-06", "--json")
    assert told.code == 0
    assert "the runs logged so far make 1500 m" in told.err
    assert "--new-counter" in told.err
    taken = farm("log", "correct", told.json["entry"], "--why", "read wrong", "--by", "Mara")
    assert told.json["entry"][-8:] in told.err
    assert taken.code == 0


def test_a_slip_in_a_services_reading_is_told_too(farm: Any) -> None:
    farm("log", "reading", "R1", "hours", "100", "--by", "Olav", "--at", "2026-05-01T00:00")
    for day in range(1, 6):
        run(farm, day)
    told = farm("log", "service", "R1", "grease", "--hours", "101", "--by", "Tove", "--at", "2026-05-06")
    assert told.code == 0
    assert "does the counter stand still?" in told.err


def test_a_likely_reading_is_told_nothing(farm: Any) -> None:
    farm("log", "reading", "R1", "hours", "100", "--by", "Olav", "--at", "2026-05-01T00:00")
    run(farm, 2)
    told = farm("log", "reading", "R1", "hours", "110", "--by", "Olav", "--at", "2026-05-03")
    assert "look again" not in told.err


@pytest.mark.parametrize("when", NOT_MEANT)
def test_a_limit_that_cannot_be_meant_is_refused(farm: Any, when: str) -> None:
    told = farm("log", "fault", "R1", "hose", "--says", "scuff", f"--fix-by={when}", "--by", "Olav")
    assert told.code == 2
    assert len(told.err) < 120
    assert "must be" in told.err
    assert farm("book", "R1", "--kind", "fault", "--json").json == []


@given(st.floats(0.1, 9_000), st.sampled_from(("h", "min", "m", "ft")))
def test_a_limit_lies_ahead_of_what_was_done(amount: float, unit: str) -> None:
    done = Totals(36_000, 300_000, 4)
    ((field, limit),) = fix_by.read(f"{amount} {unit}", done, date(2026, 5, 1)).items()
    assert limit > getattr(done, field.removeprefix("fix_by_"))
