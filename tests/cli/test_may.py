"""`may`, `marks` and `check --again` from the command line."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Cli = Callable[..., Any]
ROAD = [
    word
    for one in (
        "drum heading=road", "turntable pin=in", "legs=up", "cart=stowed", "hose=home", "pawl=down", "drive=out",
        "turbine=stopped", "gear range=chosen", "supply=off", "supply hose=off", "stop mechanism=tripped",
        "stop test=untested",
    )
    for word in ("--seen", one)
]  # fmt: skip


@pytest.fixture
def yard(cli: Cli, tmp_path: Path) -> Cli:
    (tmp_path / "card.toml").write_text('tag = "R1"\n', "utf-8")
    cli("people", "add", "Ann", "--role", "supervisor")
    cli("machine", "add", str(tmp_path / "card.toml"), "--by", "Ann")
    return cli


FORBIDDEN = [
    ("pull out", "drive=in", "drive"),
    ("pull out", "pawl=down", "pawl"),
    ("put the drive in", "turbine=driving", "turbine"),
    ("move the gear lever", "turbine=driving", "turbine"),
    ("move the gear lever", "drive=in", "drive"),
    ("tow", "drum heading=lane", "drum heading"),
    ("tow", "turntable pin=out", "turntable pin"),
    ("open the water", "pawl=up", "pawl"),
    ("start", "stop test=untested", "stop test"),
    ("turn to the lane", "supply=on", "supply"),
    ("work on it", "supply=on", "supply"),
]


@pytest.mark.parametrize(("doing", "seen", "part"), FORBIDDEN)
def test_each_forbidden_step_is_stopped_with_its_reason(yard: Cli, doing: str, seen: str, part: str) -> None:
    told = yard("may", "R1", doing, *ROAD, "--seen", seen, "--json")
    assert told.code == 1
    assert told.json["may"] is False
    assert part in [one["part"] for one in told.json["in_the_way"]]
    words = yard("may", "R1", doing, *ROAD, "--seen", seen)
    assert "NOT NOW" in words.out


def test_the_way_to_a_goal_is_told_step_by_step(yard: Cli) -> None:
    told = yard("may", "R1", "--to", "irrigating", *ROAD, "--json").json
    steps = told["steps"]
    assert steps[0] == "pull the pin"
    assert steps[-1] == "start"
    assert steps.index("try the stop") < steps.index("open the water")
    words = yard("may", "R1", "--to", "irrigating", *ROAD).out
    assert "CAUTION" in words


def test_what_is_not_seen_is_not_allowed(yard: Cli) -> None:
    assert yard("may", "R1", "tow").code == 1
    assert "not looked at" in yard("may", "R1", "tow").out
    assert yard("may", "R1", "tow", *ROAD).code == 0
    listed = yard("may", "R1", *ROAD)
    assert listed.code == 0
    assert "✓ tow" in listed.out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("fly",), "no such step"),
        (("--to", "moon"), "no such goal"),
        (("--seen", "wings=out"), "a part and where it stands"),
        (("--seen", "pawl=sideways"), "pawl can be down, up"),
    ],
)
def test_what_is_not_known_is_one_line(yard: Cli, words: tuple[str, ...], says: str) -> None:
    told = yard("may", "R1", *words)
    assert told.code == 2
    assert says in told.err


def test_marks_stand_beside_what_is_usual(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    where = str(tmp_path / "demo.db")
    assert cli("demo", "--at", where, "--no-app").code == 0
    monkeypatch.setenv("REELCARE_REGISTER", where)
    told = cli("marks", "--weeks", "52", "--json").json
    assert told["all"]["checks"] == sum(one["checks"] for one in told["people"]) > 10
    assert told["all"]["found_something"]["of"] == told["all"]["checks"]
    words = cli("marks", "--weeks", "52").out
    assert "not by itself a bad one" in words
    assert cli("sheets", "--json").json["sheets"][0]["think_over"] == []


def test_nothing_to_go_on_from_is_one_line(yard: Cli) -> None:
    told = yard("check", "R1", "--again", "--by", "Ann")
    assert told.code == 2
    assert "ask the whole sheet" in told.err
