"""Run logs from CSV: all or nothing, the same file twice without effect, every bad line named."""

import json
from pathlib import Path
from typing import Any

import pytest

HEAD = "machine,started,ended,metres,planned_speed_m_h,inlet_kpa,operator,stopped_by,notes\n"
GOOD = [
    "R1,2026-05-01T06:00,2026-05-01T16:00,320,32,650,Olav,end stop,\n",
    'R1,2026-05-02T06:00+02:00,2026-05-02T16:00+02:00,300.5,,,,operator,"a, b"\n',
    "r1,2026-05-03T06:00:00Z,2026-05-03T12:00:00Z,200,,,,,\n",
]


@pytest.fixture
def log(tmp_path: Path) -> Any:
    path = tmp_path / "runs.csv"

    def write(*lines: str, head: str = HEAD, encoding: str = "utf-8") -> str:
        path.write_text(head + "".join(lines), encoding)
        return str(path)

    return write


def totals(farm: Any) -> tuple[float, float, int]:
    one = farm("yard", "--json").json[0]
    return one["hours"], one["metres"], one["runs"]


def test_a_log_is_brought_in_once(farm: Any, log: Any) -> None:
    path = log(*GOOD)
    told = farm("bring", path, "--by", "Olav", "--json").json
    assert told == {"brought": 3, "skipped": 0, "refused": [], "left": None}
    assert totals(farm) == (26, 820.5, 3)
    before = farm("prove", "--json").json
    again = farm("bring", path, "--by", "Olav", "--json").json
    assert (again["brought"], again["skipped"]) == (0, 3)
    assert farm("prove", "--json").json == before
    assert before["whole"]


def test_times_finer_than_are_kept_are_reckoned_as_they_are_kept(farm: Any, log: Any) -> None:
    # a register keeps whole milliseconds
    path = log("R1,2026-05-01T06:00:00.000900Z,2026-05-01T16:00:00.000500Z,320,,,,,\n")
    assert farm("bring", path, "--by", "Olav").code == 0
    assert totals(farm) == (10, 320, 1)
    assert farm("prove").code == 0


def test_columns_come_in_any_order_and_a_byte_order_mark_is_no_column(farm: Any, log: Any) -> None:
    path = log(
        "300,2026-05-01T16:00,R1,2026-05-01T06:00\n", head="metres,ended,machine,started\n", encoding="utf-8-sig"
    )
    assert farm("bring", path, "--by", "Olav").code == 0
    assert totals(farm) == (10, 300, 1)


def test_a_run_from_before_its_hose_was_cut_is_held_to_the_hose_of_then(farm: Any, log: Any, tmp_path: Any) -> None:
    shorter = tmp_path / "shorter.toml"
    shorter.write_text(farm("machine", "R1", "--toml").out.replace('"400 m"', '"300 m"'), "utf-8")
    revised = ("machine", "revise", "R1", str(shorter), "--by", "Mara", "--at", "2026-06-01T08:00")
    assert farm(*revised).code == 0
    for day, metres, code in (("05-20", 400, 0), ("05-21", 401, 2), ("06-02", 301, 2), ("06-03", 300, 0)):
        line = f"R1,2026-{day}T06:00,2026-{day}T16:00,{metres}\n"
        assert farm("bring", log(line, head="machine,started,ended,metres\n"), "--by", "Olav").code == code, day
    late = ("--started", "2026-05-22T06:00", "--ended", "2026-05-22T16:00", "--by", "Olav")
    assert farm("log", "run", "R1", *late, "--metres", "350 m").code == 0


@pytest.mark.parametrize(
    ("language", "says"),
    [
        ("en", ("metres: 520 m is more", "line 2, inlet_kpa: inlet: 30000 kPa: must be", "line 3, metres: empty")),
        ("es", ("metres: 520 m es más", "línea 2, inlet_kpa: entrada: 30000 kPa;", "línea 3, metres: vacío")),
        ("fr", ("metres : 520 m, c'est plus", "ligne 2, inlet_kpa : entrée : 30000 kPa ;", "ligne 3, metres : vide")),
    ],
)
def test_a_bad_line_names_the_column_as_the_file_heads_it_in_every_language(
    farm: Any, log: Any, language: str, says: tuple[str, ...]
) -> None:
    lines = "R1,2026-05-03T06:00,2026-05-03T16:00,520,30000\n", "R1,2026-05-04T06:00,2026-05-04T16:00,,\n"
    path = log(*lines, head="machine,started,ended,metres,inlet_kpa\n")
    told = farm("bring", path, "--by", "Olav", "--language", language)
    assert (told.code, told.out) == (2, "")
    for one in says:
        assert one in told.err


def test_planned_dwell_is_taken_in_minutes(farm: Any, log: Any) -> None:
    head = "machine,started,ended,metres,dwell_minutes\n"
    brought = log("R1,2026-05-01T06:00,2026-05-01T16:00,320,45\n", head=head)
    assert farm("bring", brought, "--by", "Olav").code == 0
    times = ("--started", "2026-05-02T06:00", "--ended", "2026-05-02T16:00")
    assert farm("log", "run", "R1", *times, "--metres", "300 m", "--dwell", "30 min", "--by", "Olav").code == 0
    runs = [one["body"] for one in farm("book", "R1", "--json").json if one["kind"] == "run"]
    assert sorted(one["dwell"] for one in runs) == [1800, 2700]
    too_long = log("R1,2026-05-03T06:00,2026-05-03T16:00,320,600\n", head=head)
    refused = farm("bring", too_long, "--by", "Olav", "--json")
    assert refused.code != 0
    assert [one["column"] for one in refused.json["refused"]] == ["dwell_minutes"]


BAD = [
    ("R1,2026-05-05T16:00,2026-05-05T06:00,320,,,,,\n", "ended", "not after started"),
    ("R1,2026-05-01T10:00,2026-05-01T20:00,320,,,,,\n", "started", "overlaps the run of line 2"),
    ("R1,2026-05-06T06:00,2026-05-06T16:00,401,,,,,\n", "metres", "more than the card's hose"),
    ("R7,2026-05-06T06:00,2026-05-06T16:00,300,,,,,\n", "machine", "no such machine"),
    ("R1,6 May,2026-05-06T16:00,300,,,,,\n", "started", "not a time"),
    ("R1,2026-05-06T06:00,2026-05-06T16:00,,,,,,\n", "metres", "empty"),
    ("R1,2026-05-06T06:00,2026-05-06T16:00,nan,,,,,\n", "metres", "not a number"),
    ('R1,2026-05-06T06:00,2026-05-06T16:00,"3,5",,,,,\n', "metres", "comma"),
    ("R1,2026-05-06T06:00,2026-05-06T16:00,300,-4,,,,\n", "planned speed", "between 0 and"),
    ("R1,2026-05-06T06:00,2026-05-06T16:00,300,,,,wind,\n", "stopped_by", "choose from"),
    ("R1,2026-05-06T06:00,2026-05-06T16:00,300\n", "", "4 columns where the header has 9"),
    ("R1,2999-05-06T06:00,2999-05-06T16:00,300,,,,,\n", "", "future"),
    ("R1,2026-02-06T06:00,2026-02-06T16:00,300,,,,,\n", "", "before the machine's beginning"),
]


def test_one_bad_line_refuses_the_whole_file_and_every_bad_line_is_named(farm: Any, log: Any, capsys: Any) -> None:
    from reelcare.cli import main

    path = log(*GOOD, *(line for line, _, _ in BAD))
    assert main(["bring", path, "--by", "Olav"]) == 2
    told = capsys.readouterr().err.splitlines()
    assert len(told) == len(BAD) + 1
    for number, (_, column, says) in enumerate(BAD, len(GOOD) + 2):
        line = next(one for one in told if f"line {number}" in one)
        assert column in line
        assert says in line
    assert "nothing was brought in" in told[-1]
    assert main(["bring", path, "--by", "Olav", "--json"]) == 2
    assert json.loads(capsys.readouterr().out)["brought"] == 0
    assert totals(farm) == (0, 0, 0)


def test_the_good_lines_can_be_taken_and_the_others_are_left_beside(farm: Any, log: Any, tmp_path: Path) -> None:
    path = log(*GOOD, *(line for line, _, _ in BAD))
    told = farm("bring", path, "--keep-good", "--by", "Olav", "--json").json
    assert told["brought"] == 3
    left = Path(told["left"])
    assert left == tmp_path / "runs.refused.csv"
    assert len(left.read_text("utf-8").splitlines()) == 1 + len(BAD)
    assert totals(farm)[2] == 3
    again = farm("bring", path, "--keep-good", "--by", "Olav", "--json").json
    assert (again["brought"], again["skipped"]) == (0, 3)
    assert again["left"].endswith("runs.refused-2.csv")


def test_a_line_that_overlaps_a_run_in_the_register_is_named(farm: Any, log: Any) -> None:
    farm("bring", log(GOOD[0]), "--by", "Olav")
    told = farm("bring", log("R1,2026-05-01T15:00,2026-05-01T18:00,10,,,,,\n"), "--by", "Olav", "--json")
    assert told.code == 2
    assert "overlaps a run that is in the register" in told.out


def test_a_line_that_begins_with_another_run_and_says_otherwise_is_named_not_passed_over(farm: Any, log: Any) -> None:
    farm("bring", log(GOOD[0]), "--by", "Olav")
    shorter = "R1,2026-05-01T06:00,2026-05-01T15:00,32,,,,,\n"
    wetter = "R1,2026-05-04T06:00,2026-05-04T16:00,300,,650,,,\n"
    told = farm("bring", log(shorter, wetter.replace("650", ""), wetter), "--by", "Olav")
    assert (told.code, totals(farm)[2]) == (2, 1)
    assert "line 2, ended: begins with a run in the register but says otherwise (ended, metres); take that" in told.err
    assert "line 4, inlet_kpa: begins with the run of line 3 but says otherwise (inlet_kpa); leave one" in told.err
    same = log(GOOD[0], wetter, wetter.replace("650", ""))  # a line that says less is there already
    again = farm("bring", same, "--by", "Olav", "--json").json
    assert (again["brought"], again["skipped"]) == (1, 2)


def test_a_run_that_was_taken_back_can_be_brought_again(farm: Any, log: Any) -> None:
    path = log(GOOD[0])
    farm("bring", path, "--by", "Olav")
    entry = farm("book", "R1", "--kind", "run", "--json").json[0]["entry"]
    farm("log", "correct", entry, "--why", "a slip", "--by", "Mara")
    assert farm("bring", path, "--by", "Olav", "--json").json["brought"] == 1
    assert totals(farm)[2] == 1


def test_all_runs_that_were_brought_by_mistake_are_taken_back_at_once_or_none(farm: Any, log: Any) -> None:
    farm("bring", log(*GOOD), "--by", "Olav")
    runs = [one["entry"] for one in farm("book", "R1", "--kind", "run", "--json").json]
    back = ("log", "correct", "--why", "feet taken for metres", "--by", "Mara")
    told = farm(*back, *runs[:2], "zzzzzzzz")
    assert (told.code, totals(farm)) == (2, (26, 820.5, 3))
    assert "zzzzzzzz: no such entry" in told.err
    told = farm(*back, *runs, runs[0][-8:], "--json")
    assert (told.code, [one["kind"] for one in told.json]) == (0, ["correction"] * 3)
    assert totals(farm) == (0, 0, 0)
    assert farm("bring", log(*GOOD), "--by", "Olav", "--json").json["brought"] == 3


def test_runs_brought_late_are_reckoned_in_their_place(farm: Any, log: Any) -> None:
    farm("log", "reading", "R1", "hours", "500", "--by", "Olav", "--at", "2026-05-02T00:00Z")
    farm("bring", log(*GOOD), "--by", "Olav")
    assert totals(farm)[0] == 500 + 10 + 6
    assert farm("rebuild", "--json").json == {"changed": []}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (b"", "empty"),
        (b"machine;started;ended;metres\n", "semicolons"),
        (b"machine,started,ended\n", "metres is missing"),
        (b"machine,started,ended,metres,colour\n", "'colour'"),
        (b"machine,started,ended,metres,metres\n", "twice"),
        (b"machine,started,ended,metres\nR1,\xff\xfe,x,1\n", "line 2: not UTF-8"),
        (b'machine,started,ended,metres\nR1,"x\n', "line 2: cannot be read as CSV"),
    ],
)
def test_what_is_no_run_log_is_refused_in_one_line(farm: Any, tmp_path: Path, text: bytes, says: str) -> None:
    path = tmp_path / "odd.csv"
    path.write_bytes(text)
    told = farm("bring", str(path), "--by", "Olav")
    assert told.code == 2
    assert says in told.err
    assert farm("bring", str(tmp_path / "nowhere.csv"), "--by", "Olav").code == 2


def test_nobody_unknown_brings_anything(farm: Any, log: Any) -> None:
    assert farm("bring", log(*GOOD), "--by", "Stranger").code == 6
    assert totals(farm) == (0, 0, 0)


def test_a_bad_line_is_named_by_the_column_of_the_file(farm: Any, log: Any) -> None:
    lines = [
        "R1,2026-05-06T06:00,2026-05-06T16:00,300,-4,,,,\n",
        "R1,2026-05-06T06:00,2026-05-06T16:00,300,,99999,,,\n",
        "R1,2026-05-06T06:00,2026-05-06T16:00,300,,,,wind,\n",
        "R1,2026-05-06T06:00,2026-05-06T16:00,9000,,,,,\n",
    ]
    told = farm("bring", log(*lines), "--by", "Olav", "--json").json
    columns = [one["column"] for one in told["refused"]]
    assert columns == ["planned_speed_m_h", "inlet_kpa", "stopped_by", "metres"]
    assert set(columns) <= set(HEAD.strip().split(","))


def test_a_row_of_nothing_but_commas_is_an_empty_line(farm: Any, log: Any) -> None:
    told = farm("bring", log(GOOD[0], ",,,,,,,,\n", "\n", ",,,,,,,,\n"), "--by", "Olav", "--json")
    assert (told.code, told.json["brought"], told.json["refused"]) == (0, 1, [])


def test_one_bad_line_is_one_line(farm: Any, log: Any) -> None:
    assert ": 1 line has an error" in farm("bring", log(GOOD[0], "R1,noon,,,,,,,\n"), "--by", "Olav").err
