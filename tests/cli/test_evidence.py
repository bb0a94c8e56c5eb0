"""`signals` and `failures` on the demo estate, whose stories are known."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Cli = Callable[..., Any]


@pytest.fixture
def demo(cli: Cli, estate: Path, monkeypatch: pytest.MonkeyPatch) -> Cli:
    monkeypatch.setenv("REELCARE_REGISTER", str(estate))
    return cli


def test_the_worn_nozzle_of_the_story_is_found(demo: Cli) -> None:
    told = demo("signals", "--json").json
    keys = {"machine", "signal", "state", "since", "runs", "change_percent", "look_at"}
    assert told
    assert all(keys <= set(one) for one in told)
    drifting = [one for one in told if one["state"] == "drifting"]
    assert ("T09", "flow") in [(one["machine"], one["signal"]) for one in drifting]
    flow = next(one for one in drifting if (one["machine"], one["signal"]) == ("T09", "flow"))
    assert flow["change_percent"] > 3
    assert flow["look_at"] == ["nozzle bore against a gauge"]
    assert flow["item"] == "gun"
    whole, one = demo("signals"), demo("signals", "T09")
    rows = [re.split(" {2,}", line) for line in whole.out.splitlines()[1:]]
    assert [row[:3] for row in rows] == [[each["machine"], each["signal"], "drifting"] for each in drifting]
    assert next(row for row in rows if row[1] == "flow")[-1] == "nozzle bore against a gauge"
    assert f"{len(told) - len(drifting)} other signals do not drift" in whole.err
    assert one.out.count("\n") == 5
    assert one.err == ""


def test_a_machine_that_left_the_yard_has_signals_only_where_it_is_named(farm: Cli) -> None:
    run = ("--started", "2026-05-01T06:00", "--ended", "2026-05-01T16:00", "--metres", "300 m", "--by", "Olav")
    assert farm("log", "run", "R1", *run).code == 0
    before = farm("signals", "--json").json
    assert "R1" in {one["machine"] for one in before}
    assert farm("machine", "retire", "R1", "--why", "sold", "--by", "Mara").code == 0
    assert farm("signals", "--json").json == []
    assert farm("signals", "R1", "--json").json == before
    assert farm("signals", "--json", "--as-of", "2026-06-01").json == before


def test_a_moment_past_is_asked_as_it_was_known_then(demo: Cli) -> None:
    before = demo("signals", "T09", "--as-of", "2026-05-20", "--json").json
    assert all(one["state"] != "drifting" for one in before)


def test_failures_say_what_they_rest_on(demo: Cli) -> None:
    told = demo("failures", "--json").json
    assert {"end stop", "pawl", "hose"} <= {one["part"] for one in told}
    assert all(one["failures"] >= 1 for one in told)
    words = demo("failures", "end stop").out
    assert "1 failure in" in words
    assert "too few for a trend" in words
    none = demo("failures", "gearbox", "--by-counter", "metres", "--json").json[0]
    assert none["failures"] == 0
    assert none["mean_time_span_95"][1] is None


def test_no_interval_is_told_without_costs_or_where_the_span_holds_chance(demo: Cli) -> None:
    keys = {"part", "machines", "failures", "watched", "unit", "says", "mean_cumulative", "weibull", "renewal"}
    for words in ((), ("--planned", "300", "--unplanned", "1500")):
        told = demo("failures", *words, "--json").json
        assert told
        for one in told:
            assert keys | {"power_law", "trend"} <= set(one)
            assert one["renewal"] is None or (words and one["weibull"]["low"] > 1)
            assert one["trend"] is None or not one["power_law"]["low"] <= 1 <= one["power_law"]["high"]
            assert not one["few"] or one["says"][0].startswith("rough: ")


def test_the_failures_of_one_machine_have_no_span_between_machines(farm: Cli) -> None:
    farm("log", "reading", "R1", "hours", "300 h", "--by", "Tove", "--at", "2026-04-01")
    farm("log", "fault", "R1", "chain", "--says", "broke", "--fix-by", "50 h", "--by", "Tove", "--at", "2026-04-02")
    (told,) = farm("failures", "chain", "--json").json
    assert [(one["mean"], one["low"], one["high"]) for one in told["mean_cumulative"]] == [(1.0, 0.0, None)]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("signals", "T99"), "T99"),
        (("signals", "--run-length", "3"), "a number of runs from 20"),
        (("failures", "wing"), "no such part"),
        (("failures", "--planned", "-1"), "a cost must be above 0"),
        (("failures", "--planned", "dear"), "'dear': not a number"),
        (("failures", "--planned", "1.500", "--language", "es"), "1500"),
        (("failures", "--planned", "300"), "--unplanned: missing; give both costs"),
    ],
)
def test_what_cannot_be_asked_is_one_line(demo: Cli, words: tuple[str, ...], says: str) -> None:
    told = demo(*words)
    assert told.code == 2
    assert says in told.err
