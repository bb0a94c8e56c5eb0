"""`formats`: every key that a file may have and every key that JSON has is told, and none that is not there."""

import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

from reelcare.cli.keep import formats
from reelcare.cli.parser import COMMANDS
from reelcare.core.machine.card import CardError, read_card
from reelcare.core.night.field import read_field
from reelcare.core.spreadsheet.columns import read_matching

ROOT = Path(__file__).parents[2]
FORMS = {one.name: one for one in formats.all_formats()}
IN_JSON = {name.removeprefix("json "): keys for name, keys in formats.meanings().items() if name.startswith("json ")}


def keys_of(value: Any, before: str = "") -> Iterator[str]:
    """The path of every plain value: `items[].due_at.day`."""
    if isinstance(value, dict):
        for key, one in value.items():
            yield from keys_of(one, f"{before}.{key}" if before else key)
    elif isinstance(value, list):
        for one in value:
            yield from keys_of(one, f"{before}[]")
    elif before:
        yield before


def described(path: str, said: Mapping[str, str]) -> bool:
    """Whether a path has its line; `*` is the rest of any path, and null stands for what would be below it."""
    whole = any(re.fullmatch(re.escape(one).replace(r"\*", ".+"), path) for one in said)
    return whole or any(one.startswith((f"{path}.", f"{path}[]")) for one in said)


# files


@pytest.mark.parametrize("form", [name for name in FORMS if name != "json"])
def test_every_key_of_a_form_is_told_and_no_other(form: str) -> None:
    titles = {"a sheet": "sheet", "a stage": "stage", "a question": "question", "a choice": "choice", "a plan": "plan",
              "an item": "item", "a field": "field", "a card": "card", "a run log": "runs",
              "a matching": "matching", "report due, report list": "csv due", "report workload": "csv workload",
              "report water": "csv water"}  # fmt: skip
    for title, rows in FORMS[form].tables:
        assert {row.key for row in rows} == set(formats.meanings()[titles[title]])
        assert all(row.says for row in rows)


def test_the_card_of_the_page_is_one_and_what_is_said_to_be_right_is_read() -> None:
    assert read_card(tomllib.loads(formats.CARD_EXAMPLE)).hose.length == 350
    (rows,) = (rows for _title, rows in FORMS["card"].tables)
    for row in rows:
        example = re.search(r'`(\[.*\]|".*?"|true)`', row.right)
        number = re.search(r"; ([\d.]+) to", row.right)
        written = example[1] if example else number[1] if number else '"x"'
        table = tomllib.loads(f"{row.key.replace('*', 'oil')} = {written}")
        table.setdefault("tag", "A")
        if row.key.startswith("in_use."):
            table["in_use_since"] = "2024-01-01"
        if row.key.startswith("season."):
            table["season"] |= {"opens": "04-01", "closes": "10-01"}
        read_card(table)  # raises where it is not right
    with pytest.raises(CardError):
        read_card(tomllib.loads('tag = "A"\nhose.length = 350'))


def test_the_other_examples_of_the_page_are_read(farm: Any, tmp_path: Path) -> None:
    assert read_field(tomllib.loads(formats.FIELD_EXAMPLE)).lanes[0].length == 320
    assert read_matching(tomllib.loads(formats.MATCHING_EXAMPLE))
    runs = tmp_path / "runs.csv"
    runs.write_text(formats.RUN_EXAMPLE.replace("T01", "R1"), "utf-8")
    assert farm("bring", str(runs), "--by", "Olav", "--json").json["brought"] == 1


def test_a_form_is_printed_alone_and_one_that_is_none_is_named(farm: Any) -> None:
    told = farm("formats", "runs")
    assert told.code == 0
    assert told.out.startswith("## Run log\n")
    assert "## Card" not in told.out
    assert "card" in farm("formats", "--json").json
    told = farm("formats", "cards")
    assert told.code == 2
    assert "card, sheet, plan, lanes, runs, matching, csv, json" in told.err


# JSON


ASKED: dict[str, tuple[str, ...]] = {
    "yard": ("yard",), "due": ("due",), "workload": ("workload",), "may": ("may", "R1", "--to", "road"),
    "book": ("book", "R1"), "signals": ("signals", "R1"), "people": ("people",), "corrections": ("corrections",),
    "marks": ("marks",), "failures": ("failures",),
    "set-up": ("set-up", "R1", "--spacing", "70 m", "--out", "300 m", "--depth", "25 mm", "--inlet", "8 bar"),
    "night": ("night", "R1"), "lanes": ("lanes",), "prove": ("prove",), "health": ("health",), "sheets": ("sheets",),
    "paths": ("paths",), "plan": ("plan",), "carry-waiting": ("carry", "waiting"), "machine": ("machine", "R1"),
    "measure-figures": ("measure", "figures", "R1"),
}  # fmt: skip


@pytest.fixture
def busy(farm: Any, tmp_path: Path) -> Any:
    """The farm after some work: a run, a fault, a note, a near miss, a field, something cancelled."""
    (tmp_path / "field.toml").write_text(formats.FIELD_EXAMPLE.replace("North Field", "North"), "utf-8")
    for words in (
        ("log", "fault", "R1", "hose", "--says", "scuffed", "--fix-by", "10 h", "--by", "Olav"),
        ("log", "note", "R1", "--says", "mind the gate", "--by", "Olav"),
        ("log", "note", "R1", "--says", "nearly", "--near-miss"),
        ("measure", "gun", "R1", "43 m3/h @ 4.5 bar", "--nozzle", "24 mm", "--keep", "--by", "Tove"),
        ("log", "instruction", "Olav", "R1", "--valid", "1", "--by", "Mara"),
        ("lanes", "add", str(tmp_path / "field.toml"), "--by", "Mara"),
    ):
        done = farm(*words)
        assert done.code == 0, done.err
    entry = farm("book", "R1", "--kind", "note", "--json").json[0]["entry"]
    assert farm("log", "correct", entry, "--why", "wrong", "--by", "Mara").code == 0
    return farm


def test_every_key_of_json_is_told(busy: Any) -> None:
    assert set(ASKED) == set(IN_JSON), "a table [json.NAME] of formats.toml has its command in ASKED"
    lacking = {}
    for name, words in ASKED.items():
        told = busy(*words, "--json")
        assert told.code in (0, 1), (name, told.err)
        lacking[name] = sorted({path for path in keys_of(told.json) if not described(path, IN_JSON[name])})
    assert {name: paths for name, paths in lacking.items() if paths} == {}


def test_every_command_that_only_prints_data_has_its_table() -> None:
    reads = {name for name, one in COMMANDS.items() if one.json and not one.by and not one.makes}
    without = {"begin", "rebuild", "bring", "formats", "check"}
    assert reads - without <= set(IN_JSON), "a command has its table [json.NAME] in reelcare/cli/keep/formats.toml"


def test_no_key_of_json_is_told_that_no_program_line_writes() -> None:
    sources = "".join(path.read_text("utf-8") for path in (ROOT / "reelcare").rglob("*.py"))
    for name, said in IN_JSON.items():
        for path in said:
            for key in re.split(r"\.|\[\]", path):
                assert key in ("", "*") or f'"{key}"' in sources or f"{key}:" in sources, (name, path)


def test_the_page_of_the_manual_is_what_the_command_prints() -> None:
    page = (ROOT / "manual" / "formats.md").read_text("utf-8")
    assert page.endswith(formats.text()), "run `python manual/make.py`"
