"""The first day by command: machines moved and retired, people who left, plans that drop what holds a machine."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

PLAN = """
id = "short"
[[items]]
id = "oil"
what = "Oil"
every = { hours = 500 }
"""


@pytest.fixture
def plan(tmp_path: Path) -> str:
    path = tmp_path / "plan.toml"
    path.write_text(PLAN, encoding="utf-8")
    return str(path)


def test_a_card_is_printed_as_it_can_be_revised(farm: Any, tmp_path: Path) -> None:
    printed = farm("machine", "R1", "--toml").out
    assert tomllib.loads(printed) == farm("machine", "R1", "--json").json
    again = tmp_path / "again.toml"
    again.write_text(printed, encoding="utf-8")
    told = farm("machine", "revise", "R1", str(again), "--by", "Mara")
    assert (told.code, told.err) == (0, "R1 is revised\n")


def test_revising_says_what_falls_away_and_what_changes(farm: Any, tmp_path: Path) -> None:
    short = tmp_path / "short.toml"
    short.write_text('tag = "R1"\nplace = "South"\n[drum]\nbrake = false\n', encoding="utf-8")
    told = farm("machine", "revise", "R1", str(short), "--by", "Mara")
    assert told.code == 0
    assert "hose.length: 400 m is removed" in told.err
    assert "place: South in place of North" in told.err
    assert "drum.brake: false in place of nothing" in told.err, "as the file says it"


@pytest.fixture
def renamed(farm: Any, tmp_path: Path) -> Any:
    """The farm after its machine R1 was given the tag R9."""
    card = tmp_path / "renamed.toml"
    card.write_text(farm("machine", "R1", "--toml").out.replace('"R1"', '"R9"'), encoding="utf-8")
    told = farm("machine", "revise", "R1", str(card), "--by", "Mara")
    assert told.err == "tag: R9 in place of R1\nR9 is revised\n"
    return farm


def test_a_machine_with_another_tag_keeps_its_book_which_says_the_tag_before(renamed: Any) -> None:
    says = [one["says"] for one in renamed("book", "R9", "--json").json]
    assert says == ["card of R9: Long Reach; tag before: R1", "card of R1: Long Reach"]
    assert renamed("--language", "es", "book", "r9").out.count("nombre corto anterior: R1") == 1
    told = renamed("book", "R1")
    assert (told.code, told.err) == (2, "reelcare: R1: no machine has this tag now; R9 had it before\n")
    assert renamed("rebuild").code == 0
    assert renamed("prove").code == 0


def test_a_tag_that_another_machine_has_is_refused_with_nothing_changed(renamed: Any, tmp_path: Path) -> None:
    card = tmp_path / "other.toml"
    card.write_text('tag = "R2"\n', encoding="utf-8")
    assert renamed("machine", "add", str(card), "--by", "Mara").code == 0
    card.write_text('tag = "R9"\n', encoding="utf-8")
    told = renamed("machine", "revise", "R2", str(card), "--by", "Mara")
    assert told.code == 2
    assert told.err.endswith("tag: R9 is another machine's already\n")
    assert len(renamed("book", "R2", "--json").json) == 1


def test_a_row_of_a_spreadsheet_with_the_tag_before_is_refused_and_makes_no_second_machine(
    renamed: Any, tmp_path: Path
) -> None:
    listed, runs = tmp_path / "list.csv", tmp_path / "runs.csv"
    listed.write_text("tag,place\nR9,North\nr1,North\n", encoding="utf-8")
    told = renamed("machine", "add", str(listed), "--by", "Mara")
    assert told.code == 2
    assert "column tag, row 3: r1: R9 had this tag before: write R9, or add another machine" in told.err
    assert [one["tag"] for one in renamed("machine", "--json").json] == ["R9"]
    runs.write_text("machine,started,ended,metres\nR1,2026-05-01T06:00,2026-05-01T16:00,300\n", encoding="utf-8")
    told = renamed("bring", str(runs), "--by", "Olav")
    assert "R1: no machine has this tag now; R9 had it before" in told.err
    (tmp_path / "r1.toml").write_text('tag = "R1"\n', encoding="utf-8")
    told = renamed("machine", "add", str(tmp_path / "r1.toml"), "--by", "Mara")
    assert (told.code, told.err) == (0, "R1 is added\nR9 had the tag R1 before: this is another machine\n")
    assert renamed("book", "R1", "--json").code == 0


def test_a_move_keeps_the_card_and_is_an_entry_of_its_own(farm: Any) -> None:
    before = farm("machine", "R1", "--json").json
    assert farm("machine", "move", "R1", "South Field", "--by", "Olav").code == 0
    assert farm("machine", "R1", "--json").json == {**before, "place": "South Field"}
    assert [one["kind"] for one in farm("book", "R1", "--json").json[:1]] == ["moved"]
    assert farm("yard", "--json").json[0]["place"] == "South Field"
    told = farm("machine", "move", "R1", "South Field", "--by", "Olav")
    assert (told.code, told.err) == (2, "reelcare: place: it is at South Field already\n")
    assert farm("rebuild").code == 0


def test_a_retired_machine_leaves_the_yard_and_stays_in_the_record(farm: Any) -> None:
    told = farm("machine", "retire", "R1", "--by", "Mara")
    assert told.code == 2
    assert "--why" in told.err
    assert farm("machine", "retire", "R1", "--why", "sold", "--by", "Olav").code == 6
    assert farm("machine", "retire", "R1", "--why", "sold", "--by", "Mara").code == 0
    assert farm("yard", "--json").json == []
    assert farm("machine", "--json").json == []
    assert farm("due", "--json").json["items"] == []
    adds_one = "no machine in the yard; `reelcare machine add CARD.toml --by NAME` adds one\n"
    assert [farm(*words).err for words in (("yard",), ("due", "--all"), ("machine",))] == [adds_one] * 3
    assert "left the yard" in farm("machine", "R1").err
    told = farm("log", "reading", "R1", "hours", "100", "--by", "Mara")
    assert told.code == 2
    assert "left the yard" in told.err
    entry = farm("book", "R1", "--json").json[0]["entry"]
    assert farm("log", "correct", entry, "--why", "sale fell through", "--by", "Mara").code == 0
    assert len(farm("yard", "--json").json) == 1
    assert farm("rebuild").code == 0


def test_who_left_signs_no_more_and_stays_in_the_book(farm: Any) -> None:
    farm("machine", "move", "R1", "South", "--by", "Olav")
    assert farm("people", "left", "Olav", "--by", "Mara").code == 0
    assert "Olav" not in [one["name"] for one in farm("people", "--json").json]
    assert farm("machine", "move", "R1", "North", "--by", "Olav").code == 6
    assert farm("book", "R1", "--json").json[0]["by"] == "Olav"
    assert farm("people", "left", "Olav", "--by", "Mara").code == 2
    told = farm("people", "left", "Mara", "--by", "Mara")
    assert told.code == 2
    assert "only supervisor" in told.err
    assert farm("people", "add", "Olav", "--role", "operator", "--by", "Mara").code == 0
    assert farm("machine", "move", "R1", "North", "--by", "Olav").code == 0


def test_who_left_is_named_with_what_is_still_given_to_them(farm: Any) -> None:
    farm("give", "R1", "end-stop", "--to", "Olav", "--day", "2030-01-02", "--by", "Mara")
    told = farm("people", "left", "Olav", "--by", "Mara")
    assert "still given to Olav: R1 end-stop" in told.err


def test_a_plan_drops_a_stop_item_only_by_name(farm: Any, plan: str) -> None:
    stops = [one["id"] for one in farm("plan", "--json").json["items"] if one.get("stop")]
    told = farm("plan", "--use", plan, "--by", "Mara")
    assert told.code == 2
    assert all(f"--drop {id}" in told.err for id in stops)
    told = farm("plan", "--use", plan, "--drop", "oil", *[f"--drop={id}" for id in stops], "--by", "Mara")
    assert told.code == 2
    assert "--drop oil: the plan does not drop it" in told.err
    told = farm("plan", "--use", plan, *[f"--drop={id}" for id in stops], "--by", "Mara")
    assert told.code == 0
    assert all(f"dropped: {id}" in told.err for id in stops)
    assert "new: oil" in told.err


def test_a_plan_of_its_own_is_said_and_given_back(farm: Any, tmp_path: Path) -> None:
    general = farm("plan", "--json").json
    own = tmp_path / "own.toml"
    stops = [one["id"] for one in general["items"] if one.get("stop")]
    own.write_text(PLAN, encoding="utf-8")
    drops = [f"--drop={id}" for id in stops]
    assert farm("plan", "R1", "--use", str(own), *drops, "--by", "Mara").code == 0
    assert "a plan of its own" in farm("plan", "R1").err
    assert "with a plan of their own: R1" in farm("plan").err
    assert farm("plan", "R1", "--general", "--by", "Mara").code == 0
    assert farm("plan", "R1", "--json").json == general
    assert "own" not in farm("plan", "R1").err
    told = farm("plan", "R1", "--general", "--by", "Mara")
    assert told.code == 2
    assert "already" in told.err
    assert farm("rebuild").code == 0
