"""Runs that cannot be or were on a held machine, stops that missed, water, notes, instruction and slips, by command."""

import csv
import io
from pathlib import Path

import pytest

from tests.cli.conftest import Cli

RUN = ("--started", "2026-05-02T06:00", "--ended", "2026-05-02T15:00", "--metres", "320 m", "--by", "Ines")


@pytest.fixture
def depot(cli: Cli, tmp_path: Path) -> Cli:
    for name, role in (("Marta", "supervisor"), ("Tomas", "mechanic"), ("Ines", "operator")):
        assert cli("people", "add", name, "--role", role, "--by", "Marta").code == 0
    for tag in ("B05", "T01"):
        card = tmp_path / f"{tag}.toml"
        card.write_text(f'tag = "{tag}"\nplace = "River"\n[hose]\nlength = "400 m"\n', "utf-8")
        assert cli("machine", "add", str(card), "--by", "Marta").code == 0
    return cli


def test_a_run_faster_than_any_hose_comes_home_is_refused_by_hand_and_from_a_file(depot: Cli, tmp_path: Path) -> None:
    fast = ("--started", "2026-05-02T06:00", "--ended", "2026-05-02T06:01", "--metres", "320 m", "--by", "Ines")
    told = depot("log", "run", "B05", *fast)
    assert told.code == 2
    assert "500 m/h at most" in told.err
    runs = tmp_path / "runs.csv"
    runs.write_text("machine,started,ended,metres\nB05,2026-05-02T06:00,2026-05-02T06:01,320\n", "utf-8")
    assert depot("bring", str(runs), "--by", "Ines").code == 2
    assert depot("yard", "--json").json[0]["runs"] == 0


def test_a_run_of_a_held_machine_is_kept_told_and_put_before_the_supervisor(depot: Cli) -> None:
    held = ("log", "fault", "B05", "pawl", "--says", "slips", "--hold", "--by", "Ines", "--at", "2026-05-01T08:00")
    assert depot(*held).code == 0
    told = depot("log", "run", "B05", *RUN)
    assert told.code == 0
    assert "was held while it ran" in told.err
    misses = depot("due", "--json").json["near_misses"]
    assert [(one["machine"], one["by"]) for one in misses] == [("B05", "Ines")]
    assert depot("log", "note", "B05", "--read", "--by", "Ines").code == 2, "an operator does not end it"
    assert depot("log", "note", "B05", "--read", "--by", "Marta").code == 0
    assert depot("due", "--json").json["near_misses"] == []


@pytest.mark.parametrize(("home", "run"), [("yes", "held"), ("no", "check due"), ("", "check due")])
def test_a_stop_that_did_not_trip_by_itself_holds_where_the_hose_came_home(depot: Cli, home: str, run: str) -> None:
    more = ("--home", home) if home else ()
    assert depot("log", "run", "B05", *RUN, "--stopped-by", "operator", *more).code == 0
    machine = next(one for one in depot("yard", "--json").json if one["machine"] == "B05")
    assert machine["standing"]["run"] == run
    assert [one["part"] for one in machine["faults"]] == (["end stop"] if run == "held" else [])


def test_water_is_reported_from_volumes_and_meters_and_what_is_not_known_is_told(depot: Cli, tmp_path: Path) -> None:
    runs, file = tmp_path / "runs.csv", tmp_path / "water.csv"
    runs.write_text(
        "machine,started,ended,metres,volume_m3,meter_m3,place\n"
        "B05,2026-05-02T06:00,2026-05-02T15:00,320,400,1400,River\n"
        "B05,2026-05-04T06:00,2026-05-04T15:00,320,,1900,River\n"
        "T01,2026-05-04T06:00,2026-05-04T15:00,320,,,North\n",
        "utf-8",
    )
    assert depot("bring", str(runs), "--by", "Ines").code == 0
    told = depot("report", "water", str(file), "--from", "2026-05-01", "--until", "2026-05-31")
    assert "the water of 1 run is not known" in told.err
    rows = list(csv.DictReader(io.StringIO(file.read_text("utf-8-sig"))))
    assert [(one["machine"], one["day"], one["volume_m3"]) for one in rows] == [
        ("T01", "2026-05-04", ""), ("B05", "2026-05-02", "400"), ("B05", "2026-05-04", "500"),
    ]  # fmt: skip
    page = tmp_path / "water.html"
    licence = ("--licence", "1000 m3", "--from", "2026-05-01", "--until", "2026-05-31")
    assert depot("report", "water", str(page), *licence).code == 0
    left = "at least 900 m3 in all; at least 90 % of 1000 m3, at most 100 m3 left"
    assert left in page.read_text("utf-8"), "a run of which nothing is known leaves no water over"
    assert "North: unknown" in page.read_text("utf-8")


@pytest.mark.parametrize(
    ("volume", "told"),
    [
        ("1000", "1000 m3 in all; 100 % of 1000 m3, 0 m3 left"),
        ("1000.4", "1000.4 m3 in all; 101 % of 1000.0 m3, 0.4 m3 over"),
        ("999.6", "999.6 m3 in all; 100 % of 1000.0 m3, 0.4 m3 left"),
        ("1020", "1020 m3 in all; 102 % of 1000 m3, 20 m3 over"),
    ],
)
def test_water_beyond_a_licence_does_not_read_as_all_of_it(volume: str, told: str, depot: Cli, tmp_path: Path) -> None:
    run = ("log", "run", "B05", "--started", "2026-05-02T06:00", "--ended", "2026-05-02T15:00", "--metres", "320 m")
    assert depot(*run, "--volume", f"{volume} m3", "--by", "Ines").code == 0
    page = tmp_path / "water.html"
    span = ("--from", "2026-05-01", "--until", "2026-05-31")
    assert depot("report", "water", str(page), "--licence", "1000 m3", *span).code == 0
    assert told in page.read_text("utf-8")
    nothing = depot("report", "water", str(page), "--replace", "--licence", "0 m3", *span)
    assert (nothing.code, nothing.err.count("\n")) == (2, 1)
    assert "--licence: 0 m3: must be above 0" in nothing.err


METERED = "machine,started,ended,metres,volume_m3,meter_m3,place\n"


def _water(depot: Cli, tmp_path: Path, rows: str) -> list[tuple[str, ...]]:
    """Place, day, volume, runs and unknown runs of the water of runs from a file."""
    runs, file = tmp_path / "runs.csv", tmp_path / "water.csv"
    runs.write_text(METERED + rows, "utf-8")
    assert depot("bring", str(runs), "--by", "Ines").code == 0
    assert depot("report", "water", str(file), "--from", "2026-05-01", "--until", "2026-05-31").code == 0
    found = csv.DictReader(io.StringIO(file.read_text("utf-8-sig")))
    return [tuple(one[key] for key in ("place", "day", "volume_m3", "runs", "runs_unknown")) for one in found]


def test_a_meter_tells_the_water_of_the_runs_since_it_was_read_together(depot: Cli, tmp_path: Path) -> None:
    rows = _water(depot, tmp_path, (
        "B05,2026-05-02T06:00,2026-05-02T15:00,320,,1400,River\n"
        "B05,2026-05-04T06:00,2026-05-04T15:00,320,,,River\n"
        "B05,2026-05-06T06:00,2026-05-06T15:00,320,,,Hill\n"
        "B05,2026-05-08T06:00,2026-05-08T15:00,320,,2400,River\n"
    ))  # fmt: skip
    assert rows == [("Hill", "2026-05-06", "", "1", "1"), ("River", "2026-05-02", "", "1", "1"),
                    ("River", "2026-05-08", "1000", "2", "0")]  # fmt: skip


def test_a_meter_that_went_on_by_more_than_a_machine_gives_tells_no_water(depot: Cli, tmp_path: Path) -> None:
    rows = _water(depot, tmp_path, (
        "B05,2026-05-02T06:00,2026-05-02T15:00,320,,1400,River\n"
        "B05,2026-05-04T06:00,2026-05-04T15:00,320,,1234567.8,River\n"
        "B05,2026-05-06T06:00,2026-05-06T15:00,320,,1235000.8,River\n"
    ))  # fmt: skip
    assert [one[2] for one in rows] == ["", "", "433"]


def test_a_meter_that_cannot_have_gone_on_is_told_at_once_with_the_way_back(depot: Cli) -> None:
    later = ("--started", "2026-05-04T06:00", "--ended", "2026-05-04T15:00", "--metres", "320 m", "--by", "Ines")
    assert "look again" not in depot("log", "run", "B05", *RUN, "--meter", "1400 m3").err
    told = depot("log", "run", "B05", *later, "--meter", "140 m3")
    assert "look again: the water meter shows 140 m3, and showed 1400 m3 on 2026-05-02" in told.err
    entry = told.err.split("log correct ")[1].split()[0]
    assert depot("log", "correct", entry, "--why", "mistyped", "--by", "Ines").code == 0
    assert "no machine gives so much" in depot("log", "run", "B05", *later, "--meter", "1234567.8 m3").err
    assert "meter 1234567.8 m3" in depot("book", "B05").out


def test_more_water_than_any_machine_gives_is_told_at_once(depot: Cli) -> None:
    told = depot("log", "run", "B05", *RUN, "--volume", "9001 m3")
    assert told.code == 0
    assert "look again: volume: 9001 m3 in 9.0 h is more than any machine gives (1000 m3/h at most)" in told.err
    later = ("--started", "2026-05-04T06:00", "--ended", "2026-05-04T15:00", "--metres", "320 m", "--by", "Ines")
    assert "look again" not in depot("log", "run", "B05", *later, "--volume", "9000 m3").err


def test_water_is_of_the_place_where_the_machine_stood_then(depot: Cli, tmp_path: Path) -> None:
    volume, file = ("--volume", "400 m3"), tmp_path / "water.csv"
    card = tmp_path / "E01.toml"
    card.write_text('tag = "E01"\nplace = "River"\n', "utf-8")
    assert depot("machine", "add", str(card), "--by", "Marta", "--at", "2026-04-01T08:00").code == 0
    assert depot("log", "run", "E01", *RUN, *volume).code == 0
    assert depot("machine", "move", "E01", "Hill", "--by", "Ines", "--at", "2026-05-03T08:00").code == 0
    later = ("--started", "2026-05-03T20:00", "--ended", "2026-05-04T05:00", "--metres", "320 m", "--by", "Ines")
    assert depot("log", "run", "E01", *later, *volume).code == 0
    assert depot("report", "water", str(file), "--from", "2026-05-01", "--until", "2026-05-31").code == 0
    rows = list(csv.DictReader(io.StringIO(file.read_text("utf-8-sig"))))
    assert [(one["place"], one["day"]) for one in rows] == [("Hill", "2026-05-04"), ("River", "2026-05-02")]


def test_a_note_is_shown_until_it_is_read_and_a_near_miss_needs_no_name(depot: Cli) -> None:
    def note() -> object:
        return next(one for one in depot("yard", "--json").json if one["machine"] == "B05")["note"]

    assert depot("log", "note", "B05", "--says", "gate code 12", "--until", "2099-01-01", "--by", "Ines").code == 0
    assert depot("log", "note", "B05", "--says", "tractor touched the hose", "--near-miss").code == 0
    assert note() == "gate code 12"
    assert [(one["says"], one["by"]) for one in depot("due", "--json").json["near_misses"]] == [
        ("tractor touched the hose", None)
    ]
    assert depot("log", "note", "B05", "--read", "--by", "Tomas").code == 0
    assert note() is None
    assert depot("log", "note", "B05", "--says", "x", "--until", "2020-01-01", "--by", "Ines").code == 2
    assert depot("log", "note", "B05", "--says", "without a name").code == 2


def test_instruction_that_runs_out_stands_in_the_work_list(depot: Cli) -> None:
    # a yearly one of two years ago would lie before the machines: this one is of today, for a month
    assert depot("log", "instruction", "ines", "B05", "--valid", "1", "--by", "Marta").code == 0
    for months in ("12.5", "0", "-3", "121", "x"):
        told = depot("log", "instruction", "ines", "B05", f"--valid={months}", "--by", "Marta")
        assert (told.code, "must be a whole number of months from 1 to 120" in told.err) == (2, True)
    assert depot("log", "instruction", "Tomas", "all", "--by", "Marta").code == 0
    found = depot("due", "--json").json["instructions"]
    assert [(one["person"], one["machine"], one["by"]) for one in found if one["left"] <= 31] == [
        ("Ines", "B05", "Marta")
    ][: len(found)]
    assert depot("log", "instruction", "Ines", "all", "--by", "Ines").code == 6
    assert "did you mean Ines?" in depot("log", "instruction", "Inez", "all", "--by", "Marta").err


def test_what_is_for_the_supervisor_stands_in_the_lists_on_paper_too(depot: Cli, tmp_path: Path) -> None:
    held = ("log", "fault", "B05", "pawl", "--says", "slips", "--hold", "--by", "Ines", "--at", "2026-05-01T08:00")
    fault = depot(*held, "--json").json["entry"]
    assert depot("log", "run", "B05", *RUN).code == 0
    assert depot("log", "note", "B05", "--says", "tractor touched the hose", "--near-miss").code == 0
    assert depot("give", "B05", fault, "--to", "Tomas", "--day", "2099-01-05", "--by", "Marta").code == 0
    told = depot("due").err
    for report in ("due", "list"):
        page = tmp_path / f"{report}.html"
        assert depot("report", report, str(page)).code == 0
        for says in ("B05: ran while it was held", "B05: tractor touched the hose"):
            assert says in told
            assert says in page.read_text("utf-8")
    mine = tmp_path / "tomas.html"
    assert depot("report", "list", "--for", "Tomas", str(mine)).code == 0
    assert "slips" in mine.read_text("utf-8")
    assert "tractor touched" not in mine.read_text("utf-8")
    spanish = depot("due", "--language", "es").err
    assert "tractor touched the hose" in spanish
    assert "ran while" not in spanish


def test_one_s_own_slip_is_cancelled_by_oneself_while_nothing_was_built_on_it(depot: Cli) -> None:
    first = depot("log", "reading", "B05", "hours", "100", "--by", "Ines", "--json").json["entry"]
    assert depot("log", "correct", first, "--why", "misread", "--by", "Tomas").code == 6, "it is not theirs"
    assert depot("log", "correct", first, "--why", "misread", "--by", "Ines").code == 0
    second = depot("log", "reading", "B05", "hours", "110", "--by", "Ines", "--json").json["entry"]
    assert depot("log", "run", "B05", *RUN).code == 0
    assert depot("log", "correct", second, "--why", "misread", "--by", "Ines").code == 6, "a run was recorded after it"
    hold = depot("log", "fault", "B05", "pawl", "--says", "slips", "--hold", "--by", "Ines", "--json").json["entry"]
    assert depot("log", "correct", hold, "--why", "misread", "--by", "Ines").code == 6


def test_a_service_on_the_wrong_machine_is_moved_with_its_day(depot: Cli) -> None:
    day = ("--at", "2026-05-20T08:00")
    wrong = depot("log", "service", "B05", "grease", "--by", "Tomas", *day, "--json").json["entry"]
    assert depot("log", "correct", wrong, "--why", "other machine", "--move-to", "T01", "--by", "Tomas").code == 0
    done = {one["machine"]: one["last_done"] for one in depot("due", "--json").json["items"] if one["item"] == "grease"}
    assert done == {"B05": None, "T01": "2026-05-20"}
