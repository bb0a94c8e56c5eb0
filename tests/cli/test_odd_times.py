"""Times that people may type at any command: each is taken as it was meant, or refused in one line."""

from pathlib import Path
from typing import Any

import pytest

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
    assert "a year from 1900 to 2999 is right" in told.err


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
        assert "a year from 1900 to 2999 is right" in told.err


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
