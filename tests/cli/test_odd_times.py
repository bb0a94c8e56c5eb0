"""Times that people may type at any command: each is taken as it was meant, or refused in one line."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests import commands

FAR = ("9999-12-31", "9999-12-31T23:59:59-12:00", "0001-01-01", "0001-01-01T00:00+14:00")


@pytest.mark.parametrize("far", FAR)
@pytest.mark.parametrize(
    "words",
    [
        ["yard"], ["due"], ["workload", "--weeks", "60"], ["book", "R1"], ["machine", "R1"], ["plan", "R1"],
        ["signals"], ["failures"], ["marks"], ["corrections"], ["set-up", "R1", "--spacing", "60 m", "--out", "300 m"],
    ],
)  # fmt: skip
def test_the_ends_of_the_calendar_are_refused_in_one_line(farm: Any, words: list[str], far: str) -> None:
    told = farm(*words, "--as-of", far)
    assert (told.code, told.out) == (2, "")
    assert "must be a year from 1900 to 2999" in told.err


@pytest.mark.parametrize("far", FAR)
def test_nothing_is_written_at_the_ends_of_the_calendar(farm: Any, tmp_path: Path, far: str) -> None:
    run = farm("log", "run", "R1", "--started", far, "--ended", far, "--metres", "300 m", "--by", "Olav")
    service = farm("log", "service", "R1", "grease", "--by", "Mara", "--at", far)
    planned = farm(
        "set-up", "R1", "--spacing", "60 m", "--out", "300 m", "--depth", "20 mm", "--flow", "40 m3/h", "--start", far
    )
    path = tmp_path / "runs.csv"
    path.write_text(f"machine,started,ended,metres\nR1,{far},{far},300\n", "utf-8")
    for told in (run, service, planned, farm("bring", str(path), "--by", "Olav")):
        assert told.code == 2
        assert "must be a year from 1900 to 2999" in told.err


def test_midnight_may_be_written_as_the_end_of_its_day(farm: Any, tmp_path: Path) -> None:
    farm("log", "run", "R1", "--started", "2026-05-01T18:00", "--ended", "2026-05-01T24:00", "--metres", "200 m",
         "--by", "Olav")  # fmt: skip
    path = tmp_path / "runs.csv"
    path.write_text("machine,started,ended,metres\nR1,2026-05-02T18:00,2026-05-02T24:00,200\n", "utf-8")
    assert farm("bring", str(path), "--by", "Olav").code == 0
    told = farm("book", "R1", "--kind", "run", "--json").json
    assert [one["happened"] for one in told] == ["2026-05-03T00:00:00.000Z", "2026-05-02T00:00:00.000Z"]


@pytest.mark.parametrize("day", ["2026-05-01", "20260501", "2026-W18-5"])
def test_a_day_alone_is_asked_about_at_its_end_however_it_is_written(farm: Any, day: str) -> None:
    farm("log", "reading", "R1", "hours", "52", "--by", "Olav", "--at", "2026-05-01T12:00")
    assert farm("yard", "--json", "--as-of", day).json[0]["hours"] == 52


@pytest.fixture
def madrid(cli: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """A register in a zone whose clocks went back on 26 October 2025 at 03:00, and on on 29 March 2026 at 02:00."""
    monkeypatch.setenv("TZ", "Europe/Madrid")
    card = tmp_path / "card.toml"
    card.write_text('tag = "R1"\nin_use_since = "2025-01-01"\n[hose]\nlength = "400 m"\n', "utf-8")
    cli("people", "add", "Mara", "--role", "supervisor", "--at", "2025-01-01")
    cli("machine", "add", str(card), "--by", "Mara", "--at", "2025-01-01")
    return cli


def logged(cli: Any, started: str, ended: str) -> Any:
    return cli("log", "run", "R1", "--started", started, "--ended", ended, "--metres", "100 m", "--by", "Mara")


def test_a_time_that_comes_twice_is_refused_with_both_that_can_be_meant(madrid: Any, tmp_path: Path) -> None:
    """03:00 of 26 October 2025 was 02:00 (Directive 2000/84/EC)."""
    told = logged(madrid, "2025-10-25T22:00", "2025-10-26T02:10")
    assert told.code == 2
    assert "write 2025-10-26 02:10+02:00 or 2025-10-26 02:10+01:00" in told.err
    runs = tmp_path / "runs.csv"
    runs.write_text("machine,started,ended,metres\nR1,2025-10-25T22:00,2025-10-26T02:10,100\n", "utf-8")
    assert "line 2, ended: '2025-10-26T02:10' comes twice" in madrid("bring", str(runs), "--by", "Mara").err
    assert madrid("yard", "--json").json[0]["hours"] == 0
    assert logged(madrid, "2025-10-25T22:00", "2025-10-26 02:00+01:00").code == 0
    assert madrid("yard", "--json").json[0]["hours"] == 5


def test_a_time_that_the_clock_skipped_is_refused_with_its_place(madrid: Any, tmp_path: Path) -> None:
    """02:00 of 29 March 2026 was 03:00 (Directive 2000/84/EC): nobody can say which hour was meant."""
    for started, ended in (("2026-03-29T02:45", "2026-03-29T12:15"), ("2026-03-28T22:00", "2026-03-29T02:10")):
        told = logged(madrid, started, ended)
        assert told.code == 2
        assert "no such time, as the clocks went forward in this hour; write the one that was meant" in told.err
    strict, own, ours = tmp_path / "strict.csv", tmp_path / "own.csv", tmp_path / "ours.toml"
    strict.write_text("machine,started,ended,metres\nR1,2026-03-29T02:30,2026-03-29T12:00,318\n", "utf-8")
    told = madrid("bring", str(strict), "--by", "Mara")
    assert "line 2, started: '2026-03-29T02:30': no such time" in told.err
    own.write_text("Nr;Tag;von;bis;gelegt (m)\nR1;30/3/26;02:30;12:00;318\nR1;29/3/26;02:30;12:00;318\n", "utf-8")
    ours.write_text('[columns]\nmachine = "Nr"\nstarted = ["Tag", "von"]\nended = ["Tag", "bis"]\nmetres = "gelegt"\n')
    told = madrid("bring", str(own), "--as", str(ours), "--by", "Mara")
    assert told.code == 2
    assert "column Tag + von, row 3: '29/3/26 02:30': no such time" in told.err
    assert madrid("book", "R1", "--kind", "run", "--json").json == []


def test_a_reading_that_cannot_be_is_told_with_the_day_of_the_one_before_where_the_machine_stands(madrid: Any) -> None:
    """Midnight of 1 March in Madrid was 23:00 of 28 February in UTC."""
    by = ("--by", "Mara", "--at")
    assert madrid("log", "reading", "R1", "hours", "9990", *by, "2026-03-01T00:00").code == 0
    assert (
        "less than the 9990 h read on 2026-03-01;"
        in madrid("log", "reading", "R1", "hours", "12", *by, "2026-03-09").err
    )
    assert "more than on 2026-03-01 00:00," in madrid("log", "reading", "R1", "hours", "19990", *by, "2026-03-09").err


def test_hours_are_those_of_the_earth_where_the_clock_is_changed(madrid: Any) -> None:
    assert logged(madrid, "2025-10-25T22:00", "2025-10-26T06:00").code == 0
    assert madrid("yard", "--json").json[0]["hours"] == 9
    assert logged(madrid, "2025-10-26T05:30+02:00", "2025-10-26T05:30+01:00").code == 2  # overlaps
    assert logged(madrid, "2026-03-28T22:00", "2026-03-29T06:00").code == 0
    assert madrid("yard", "--json").json[0]["hours"] == 9 + 7


def test_a_set_over_the_change_of_the_clock_finishes_when_its_time_is_up(madrid: Any) -> None:
    asked = ("set-up", "R1", "--spacing", "60 m", "--out", "300 m", "--speed", "25 m/h", "--json")
    told = madrid(*asked, "--start", "2026-03-28T20:00").json
    assert told["run_time_h"] == 12
    assert told["finish"] == "2026-03-29T09:00:00+02:00"
    late = madrid(*asked, "--start", "2026-03-28T20:00", "--until", "2026-03-29T08:30").json
    assert "late" in [one["code"] for one in late["warnings"]]
    assert madrid(*asked, "--start", "2025-10-25T20:00").json["finish"] == "2025-10-26T07:00:00+01:00"


def test_a_clock_behind_is_told_before_the_first_question_of_a_check(farm: Any, tmp_path: Path) -> None:
    farm("log", "reading", "R1", "hours", "9", "--by", "Olav")
    early = datetime.now(UTC) - timedelta(hours=3)
    words = ("check", "R1", "--by", "Olav")
    told = commands.run(tmp_path / "register.db", early, *words).out
    assert told.index("set this computer's clock right") < told.index("1/")
    assert "clock right" not in commands.run(tmp_path / "register.db", early, *words, "--clock-is-right").out
    assert "clock right" not in commands.run(tmp_path / "register.db", datetime.now(UTC), *words).out


@pytest.mark.parametrize(("day", "hours"), [("2026-03-29", 23), ("2025-10-26", 25), ("2026-03-30", 24)])
def test_a_machine_that_is_held_all_day_is_held_by_the_hours_that_pass(
    madrid: Any, tmp_path: Path, day: str, hours: int
) -> None:
    fault = ("log", "fault", "R1", "pawl", "--says", "slips", "--hold")
    assert madrid(*fault, "--by", "Mara", "--at", "2025-03-01T08:00").code == 0
    page = tmp_path / "season.html"
    assert madrid("report", "season", str(page), "--from", day, "--until", day).code == 0
    assert f"<td>pawl</td><td>{hours} h</td>" in re.sub(r"<td [^>]*>", "<td>", page.read_text("utf-8"))
