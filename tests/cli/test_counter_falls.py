"""A first reading that shows less than the runs before it made: taken, with a word, and no list ends by it."""

from typing import Any


def test_what_failed_before_a_counter_showed_less_is_counted_within_what_it_shows(farm: Any) -> None:
    run = ("--started", "2026-05-01T06:30", "--ended", "2026-05-01T19:10", "--metres", "320 m")
    assert farm("log", "run", "R1", *run, "--by", "Olav").code == 0
    hold = ("hose", "--says", "bulge", "--hold", "--at", "2026-05-01T20:00")
    assert farm("log", "fault", "R1", *hold, "--by", "Olav").code == 0
    told = farm("log", "reading", "R1", "hours", "2", "--at", "2026-05-02", "--by", "Olav")
    assert "look again" in told.err
    told = farm("failures", "--json")
    assert told.code == 0, told.err
    [hose] = told.json
    assert (hose["part"], hose["failures"], hose["watched"], hose["renewal"]) == ("hose", 1, 2.0, None)
