"""What was carried in and waits to be accepted counts in no report before it is, as it does not in the yard."""

import csv
import io
import re
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Cli

CARD = 'tag = "A1"\nplace = "North"\nin_use_since = "2026-01-01"\n[hose]\nlength = "400 m"\n'
FIELD = """
id = "north"
place = "North"
[licence]
m3_season = 10000
[[lanes]]
number = 1
hydrant = 1
length = "300 m"
"""
SPAN = ("--from", "2026-01-01", "--until", "2026-05-20")


class Depots:
    """Two registers, and what goes from the first to the second: nobody of the first is accepted in the second."""

    def __init__(self, cli: Cli, folder: Path) -> None:
        self.cli, self.folder, self.carried = cli, folder, 0

    def at(self, depot: str, *words: str) -> Any:
        told = self.cli(*words, "--register", str(self.folder / f"{depot}.db"))
        assert told.code == 0, told.err
        return told

    def carry(self) -> None:
        self.carried += 1
        path = str(self.folder / f"{self.carried}.carry")
        self.at("first", "carry", "out", path)
        self.at("second", "carry", "in", path, "--by", "Bo")

    def accept_all(self) -> None:
        while waiting := self.at("second", "carry", "waiting", "--json").json:
            ids = [one["id"] for one in waiting if one["kind"] == "person"] or [one["id"] for one in waiting]
            self.at("second", "carry", "accept", *ids, "--by", "Bo", "--why", "ours")

    def season(self) -> str:
        page = self.folder / "season.html"
        self.at("second", "report", "season", str(page), *SPAN, "--replace")
        return page.read_text("utf-8")

    def water(self, *more: str) -> list[str]:
        file = self.folder / "water.csv"
        self.at("second", "report", "water", str(file), *SPAN, "--replace", *more)
        return [one["volume_m3"] for one in csv.DictReader(io.StringIO(file.read_text("utf-8-sig")))]


@pytest.fixture
def depots(cli: Cli, tmp_path: Path) -> Depots:
    found = Depots(cli, tmp_path)
    card = tmp_path / "card.toml"
    card.write_text(CARD, "utf-8")
    for depot, name in (("first", "Ana"), ("second", "Bo")):
        found.at(depot, "people", "add", name, "--role", "supervisor", "--by", name, "--at", "2026-01-01T08:00")
    found.at("first", "machine", "add", str(card), "--by", "Ana", "--at", "2026-01-01T09:00")
    return found


RUN = ("log", "run", "A1", "--metres", "300 m", "--volume", "400 m3", "--started", "2026-05-01T06:00")


def test_a_run_whose_cancelling_waits_counts_in_every_report(depots: Depots, tmp_path: Path) -> None:
    entry = depots.at("first", *RUN, "--ended", "2026-05-01T16:00", "--by", "Ana", "--json").json["entry"]
    depots.carry()
    depots.accept_all()
    depots.at("first", "log", "correct", entry, "--why", "typed wrong", "--by", "Ana", "--at", "2026-05-03T08:00")
    depots.carry()
    field = tmp_path / "field.toml"
    field.write_text(FIELD, "utf-8")
    depots.at("second", "lanes", "add", str(field), "--by", "Bo")
    night = ("night", "North", "--json", "--from", "2026-05-20T18:00", "--until", "2026-05-21T08:00")
    for runs in (1, 0):
        (yard,) = depots.at("second", "yard", "--json").json
        assert (yard["hours"], yard["runs"]) == (10 * runs, runs)
        assert f"{10 * runs} h, {300 * runs} m of hose, {runs} run" in depots.season()
        assert depots.water() == depots.water("--as-of", "2026-05-19T12:00") == ["400"] * runs
        licence = depots.cli(*night, "--register", str(tmp_path / "second.db")).json["licence"]
        assert licence["before_m3"] == 400 * runs
        depots.accept_all()


def test_a_release_that_waits_ends_no_hold_in_the_season(depots: Depots) -> None:
    fault = ("log", "fault", "A1", "pawl", "--says", "slips", "--hold")
    told = depots.at("first", *fault, "--by", "Ana", "--at", "2026-05-02T06:00", "--json").json["entry"]
    at = ("--by", "Ana", "--at")
    depots.at("first", "log", "repair", told, "--says", "new spring", *at, "2026-05-02T12:00")
    depots.at("first", "log", "retest", told, *at, "2026-05-02T13:00")
    depots.at("first", "log", "release", told, *at, "2026-05-02T14:00")
    depots.carry()
    held = re.compile(r"held</[a-z]+>\s*<[^>]*>([^<]*)<")
    for hours in ("19 days", "8 h"):
        found = held.search(depots.season())
        assert found is not None
        assert found[1] == hours
        depots.accept_all()


def test_what_waits_renews_no_part_and_begins_no_signal_anew(depots: Depots) -> None:
    at = ("--by", "Ana", "--at")
    fault = ("log", "fault", "A1", "drive", "--says", "slips", "--hold", *at)
    log = depots.folder / "runs.csv"
    runs = [f"A1,2026-05-0{day}T06:00,2026-05-0{day}T16:00,300,30" for day in (2, 3)]
    log.write_text("\n".join(["machine,started,ended,metres,planned_speed_m_h", *runs]), "utf-8")
    depots.at("first", "bring", str(log), "--by", "Ana")
    for day in (2, 3):
        told = depots.at("first", *fault, f"2026-05-0{day}T17:00", "--json").json["entry"]
        depots.at("first", "log", "repair", told, "--says", "new belt", *at, f"2026-05-0{day}T18:00")
    depots.carry()
    for failures, seen in ((1, 2), (2, 0)):
        (drive,) = depots.at("second", "failures", "drive", "--json").json
        assert (drive["failures"], drive["watched"]) == (failures, 20)
        speed = next(one for one in depots.at("second", "signals", "--json").json if one["signal"] == "speed")
        assert speed["runs"] == seen
        depots.accept_all()
    book = depots.at("first", "book", "A1", "--json").json
    newest = next(one["entry"] for one in book if one["kind"] == "run")
    depots.at("first", "log", "correct", newest, "--why", "not so", *at, "2026-05-03T19:00")
    depots.carry()
    for watched in (20, 10):
        assert depots.at("second", "failures", "drive", "--json").json[0]["watched"] == watched
        depots.accept_all()
