"""`may`, `marks` and `check --again` from the command line."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Cli = Callable[..., Any]
TOWED = {
    "drum heading": "road", "turntable pin": "in", "legs": "up", "jack": "up", "chocks": "off", "tractor": "drawbar",
    "oil hoses": "off", "PTO shaft": "off", "hand crank": "off", "cart": "stowed", "arms": "folded", "hose": "home",
    "tension": "slack", "pressure": "none", "supply": "off", "supply hose": "off", "pawl": "down", "drum block": "off",
    "drive": "out", "turbine": "stopped", "gear range": "chosen", "stop mechanism": "tripped", "stop test": "untested",
    "guards": "on", "control": "off",
}  # fmt: skip
OUT = TOWED | {
    "drum heading": "lane", "legs": "set", "jack": "carrying", "chocks": "on", "tractor": "away", "cart": "lowered",
    "arms": "out", "hose": "out", "tension": "stretched", "supply hose": "coupled",
}  # fmt: skip


def seen(positions: dict[str, str]) -> list[str]:
    return [word for pair in positions.items() for word in ("--seen", "=".join(pair))]


ROAD = seen(TOWED)


@pytest.fixture
def yard(cli: Cli, tmp_path: Path) -> Cli:
    (tmp_path / "card.toml").write_text('tag = "R1"\n', "utf-8")
    cli("people", "add", "Ann", "--role", "supervisor")
    cli("machine", "add", str(tmp_path / "card.toml"), "--by", "Ann")
    return cli


def in_band(listed: str, band: str) -> set[str]:
    """The steps, as typed, that stand below one heading of the list."""
    rows = [re.split(" {2,}", line) for line in listed.splitlines()[1:]]
    return {row[2] for row in rows if row[0] == band}


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


def activity(told: Any, id: str) -> Any:
    return next(one for one in told.json["activities"] if one["id"] == id)


@pytest.mark.parametrize(("doing", "found", "part"), FORBIDDEN)
def test_each_forbidden_step_is_stopped_with_its_reason(yard: Cli, doing: str, found: str, part: str) -> None:
    told = yard("may", "R1", doing, *ROAD, "--seen", found, "--json")
    assert told.code == 1
    one = activity(told, doing)
    assert one["allowed"] is False
    assert part in [need["part"] for need in one["needs"] if need["is"] not in need["positions"]]
    words = yard("may", "R1", doing, *ROAD, "--seen", found)
    assert "NOT NOW" in words.out


def test_the_way_to_a_goal_is_told_step_by_step(yard: Cli, monkeypatch: pytest.MonkeyPatch) -> None:
    told = yard("may", "R1", "--to", "irrigating", *ROAD, "--json")
    assert told.code == 0
    way = told.json["way"]
    assert way.index("pull the pin") < way.index("set the legs" if "set the legs" in way else "lower legs and cart")
    assert way[-1] == "start"
    assert way.index("lower the pawl") < way.index("put the drive in") < way.index("try the stop")
    assert way.index("try the stop") < way.index("open the water")
    words = yard("may", "R1", "--to", "irrigating", *ROAD).out
    assert "CAUTION" in words
    monkeypatch.setenv("REELCARE_LANGUAGE", "es")
    assert "CUIDADO" in yard("may", "R1", "--to", "irrigating", *ROAD).out


def test_what_is_not_seen_is_not_allowed(yard: Cli) -> None:
    assert yard("may", "R1", "tow").code == 1
    assert "not seen" in yard("may", "R1", "tow").out
    assert yard("may", "R1", "tow", *ROAD).code == 0
    listed = yard("may", "R1", *ROAD)
    assert listed.code == 0
    assert in_band(listed.out, "may be done") >= {"tow"}
    assert not in_band(listed.out, "not now")
    assert "others are not possible now" in listed.err
    everything = yard("may", "R1", *ROAD, "--all").out
    assert in_band(everything, "may be done") == in_band(listed.out, "may be done")
    assert "pull out" in in_band(everything, "not now")
    assert len(in_band(everything, "not now")) == int(listed.err.split()[0])


@pytest.mark.parametrize("stop", ["stop now", "close the water", "trip the stop bar", "stop the PTO"])
@pytest.mark.parametrize("found", [(), ("--seen", "supply=on", "--seen", "turbine=driving"), ("--seen", "pawl=up")])
def test_stopping_is_never_forbidden(yard: Cli, stop: str, found: tuple[str, ...]) -> None:
    told = yard("may", "R1", stop, *found)
    assert told.code == 0
    assert "may be done" in told.out
    assert yard("may", "R1", *found).out.splitlines()[1].startswith("stop now, at any time  Trip the stop bar")


def test_working_on_it_with_the_hose_out_names_all_of_safe(yard: Cli) -> None:
    told = yard("may", "R1", "--to", "working on it", "--seen", "hose=out")
    assert told.code == 1
    for piece in ("Hose tension", "Drum block", "PTO shaft", "Hand crank", "Pressure in hose", "Oil hoses"):
        assert f"  {piece}: not seen, must be" in told.out
    known = yard("may", "R1", "--to", "working on it", *seen(OUT), "--json").json
    assert known["way"] == ["let the tension off", "block the drum"]
    assert activity(yard("may", "R1", *seen(OUT), "--json"), "make safe")["allowed"] is False
    done = OUT | {"tension": "slack", "drum block": "on"}
    assert yard("may", "R1", "work on it", *seen(done)).code == 0


def test_where_one_of_several_is_enough_the_others_stand_beside_it(yard: Cli) -> None:
    told = yard("may", "R1", "make safe", "--seen", "legs=set", "--json")
    need = activity(told, "make safe")["needs"][-1]
    assert (need["part"], need["positions"], need["is"]) == ("legs", ["set"], "set")
    assert [one["part"] for one in need["or"]] == ["chocks", "tractor"]


def test_a_machine_without_shaft_and_crank_says_that_it_has_no_rescue(yard: Cli, tmp_path: Path) -> None:
    (tmp_path / "bare.toml").write_text('tag = "R2"\n[drive]\npto = false\ncrank = false\n', "utf-8")
    yard("machine", "add", str(tmp_path / "bare.toml"), "--by", "Ann")
    told = yard("may", "R2", "--to", "road", "--seen", "hose=out")
    assert told.code == 1
    assert "neither PTO shaft nor hand crank" in told.out
    assert "neither" not in yard("may", "R1", "--to", "road", "--seen", "hose=out").out


def test_a_hold_forbids_the_water_and_neither_stopping_rescue_nor_making_safe(yard: Cli) -> None:
    yard("log", "fault", "R1", "end stop", "--says", "it hangs", "--hold", "--retest", "three times", "--by", "Ann")
    ready = OUT | {"drive": "in", "stop mechanism": "reset", "stop test": "tested", "tension": "slack", "control": "on"}
    held = yard("may", "R1", "open the water", *seen(ready))
    assert held.code == 1
    assert "the machine is held" in held.out
    for doing in ("stop now", "close the water", "take the drive out"):
        assert yard("may", "R1", doing, *seen(ready)).code == 0
    winding = OUT | {"drive": "wind", "tractor": "shaft", "PTO shaft": "turning"}
    assert yard("may", "R1", "wind home by PTO", *seen(winding)).code == 0
    assert yard("may", "R1", "--to", "working on it", *seen(OUT)).code == 0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("fly",), "no such step"),
        (("--to", "moon"), "no such goal"),
        (("--seen", "wings=out"), "give a part and its position"),
        (("--seen", "pawl=sideways"), "pawl can be down, up"),
    ],
)
def test_what_is_not_known_is_one_line(yard: Cli, words: tuple[str, ...], says: str) -> None:
    told = yard("may", "R1", *words)
    assert told.code == 2
    assert says in told.err


@pytest.mark.long
def test_marks_stand_beside_what_is_usual(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    where = str(tmp_path / "demo.db")
    assert cli("demo", "--at", where, "--no-app").code == 0
    monkeypatch.setenv("REELCARE_REGISTER", where)
    told = cli("marks", "--weeks", "52", "--json").json
    assert told["all"]["checks"] == sum(one["checks"] for one in told["people"]) > 10
    assert told["all"]["found_something"]["of"] == told["all"]["checks"]
    words = cli("marks", "--weeks", "52").out
    assert "not always a bad one" in words
    assert cli("sheets", "--json").json["sheets"][0]["think_over"] == []


def test_nothing_to_go_on_from_is_one_line(yard: Cli) -> None:
    told = yard("check", "R1", "--again", "--by", "Ann")
    assert told.code == 2
    assert "answer the whole sheet" in told.err
