"""The work list: services and faults in one list, the same on every face, given to people and days."""

import csv
import io
import re
from pathlib import Path
from typing import Any

import pytest

from reelcare.reports import day_list
from tests.cli.conftest import ESTATE_AT as AT
from tests.cli.conftest import Cli

CARD = """tag = "{tag}"
place = "{place}"
{since}
[hose]
length = "400 m"
"""


@pytest.fixture
def depot(cli: Cli, tmp_path: Path) -> Cli:
    """A supervisor, a mechanic, two machines."""
    for name, role in (("Marta", "supervisor"), ("Tomas", "mechanic"), ("Ines", "operator")):
        assert cli("people", "add", name, "--role", role, "--by", "Marta").code == 0
    for tag, place, since in (("B05", "River", "2026-11-01"), ("T01", "North", "2019-04-01")):
        card = tmp_path / f"{tag}.toml"
        card.write_text(CARD.format(tag=tag, place=place, since=f'in_use_since = "{since}"'), "utf-8")
        assert cli("machine", "add", str(card), "--by", "Marta").code == 0
    return cli


def items(cli: Cli, *asked: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = cli("due", "--json", *asked).json["items"]
    return found


def in_weeks(cli: Cli, *asked: str) -> list[tuple[str, str]]:
    weeks = cli("workload", "--json", *asked).json["weeks"]
    return [(line["machine"], line["item"]) for week in weeks for visit in week["visits"] for line in visit["lines"]]


def rows_of(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"))))


def test_a_fault_to_be_fixed_by_a_day_stands_on_every_face(depot: Cli, tmp_path: Path) -> None:
    told = ("log", "fault", "B05", "wheels", "--says", "tube shows", "--fix-by", "2099-12-30", "--by", "Ines")
    fault = depot(*told, "--json").json["entry"]
    line = next(one for one in items(depot) if one["kind"] == "fault")
    assert (line["item"], line["machine"], line["part"], line["state"]) == (fault, "B05", "wheels", "soon")
    assert (line["by"], line["due_at"], line["waits_for"], line["held"]) == (
        "date", {"day": "2099-12-30"}, "repair", False,
    )  # fmt: skip
    assert line["left"] > 0
    assert line["used"] is line["life"] is line["grace_left"] is line["last_done"] is None
    assert "tube shows" in depot("due").out
    assert ("B05", fault) in in_weeks(depot), "however far ahead its limit is"
    assert ("B05", fault) not in in_weeks(depot, "--within", "14")
    assert "1 to be fixed by a limit" in depot("yard").err
    assert "tube shows" in depot("workload").out
    yard = next(one for one in depot("yard", "--json").json if one["machine"] == "B05")
    assert yard["faults"][0]["fix_by"]["day"] == "2099-12-30"
    assert yard["faults"][0]["id"] == fault
    assert depot("report", "workload", str(tmp_path / "weeks.html")).code == 0
    assert "tube shows" in (tmp_path / "weeks.html").read_text("utf-8")
    for name in ("due.html", "due.ics", "due.csv"):
        assert depot("report", "due", str(tmp_path / name)).code == 0
        assert "tube shows" in (tmp_path / name).read_text("utf-8-sig")
    assert depot("report", "list", str(tmp_path / "list.html")).code == 0
    assert "tube shows" in (tmp_path / "list.html").read_text("utf-8")


def test_what_is_due_after_a_new_counter_is_told_by_that_counter(farm: Cli, tmp_path: Path) -> None:
    farm("log", "reading", "R1", "hours", "300", "--by", "Tove", "--at", "2026-04-01")
    farm("log", "service", "R1", "grease", "--by", "Tove", "--at", "2026-04-02")
    for words in (("0", "--new-counter", "--at", "2026-04-03"), ("7", "--at", "2026-04-09")):
        assert farm("log", "reading", "R1", "hours", *words, "--by", "Tove").code == 0
    at = ("--as-of", "2026-04-10")
    line = next(one for one in farm("due", "--json", *at).json["items"] if one["item"] == "grease")
    assert (line["due_at"], line["left"]) == ({"hours": 50}, 43)
    assert re.search(r" 50 h +43 h .* grease$", farm("due", "--all", *at).out, re.MULTILINE)
    assert farm("report", "machine", "R1", str(tmp_path / "r1.html"), *at).code == 0
    assert "hour counter shows 7 h" in (tmp_path / "r1.html").read_text("utf-8")


def test_a_fault_without_a_day_stands_in_the_first_week(depot: Cli) -> None:
    fault = depot("log", "fault", "B05", "hose", "--says", "scuffed", "--by", "Ines", "--json").json["entry"]
    first = depot("workload", "--json").json["weeks"][0]
    assert fault in [one for visit in first["visits"] for one in visit["items"]]
    line = next(one for one in items(depot) if one["kind"] == "fault")
    assert line["by"] is line["left"] is line["due_at"] is line["forecast"] is None
    assert line["forecast_reason"]
    assert fault in [one["item"] for one in items(depot, "--within", "1")]


@pytest.mark.parametrize(("step", "waits"), [(0, "repair"), (1, "re-test"), (2, "release")])
def test_a_hold_says_what_it_waits_for_until_it_is_released(depot: Cli, step: int, waits: str) -> None:
    assert depot("log", "fault", "B05", "pawl", "--says", "slips", "--hold", "--by", "Ines").code == 0
    steps = (
        ("log", "repair", "B05", "--says", "new spring", "--by", "Tomas"),
        ("log", "retest", "B05", "--says", "five of five", "--by", "Tomas"),
    )
    for words in steps[:step]:
        assert depot(*words).code == 0
    first = items(depot)[0]
    assert (first["kind"], first["state"], first["held"], first["waits_for"]) == ("fault", "due", True, waits)
    assert depot("due", "--overdue", "--json").json["items"][0] == first, "--overdue keeps what holds"
    assert depot("due", "--exit-code", "--machine", "B05").code == 1
    assert depot("log", "repair", "B05", "--says", "again", "--by", "Tomas").code == 0
    assert depot("log", "retest", "B05", "--says", "again", "--by", "Tomas").code == 0
    assert depot("log", "release", "B05", "--by", "Marta").code == 0
    assert not [one for one in items(depot) if one["kind"] == "fault"]


def test_what_was_never_done_is_unknown_on_every_face_and_one_row_for_people(depot: Cli, tmp_path: Path) -> None:
    mine = items(depot, "--machine", "T01")
    assert {one["state"] for one in mine} == {"unknown"}
    for one in mine:
        if one["state"] == "unknown":
            assert one["used"] is one["left"] is one["life"] is one["forecast"] is one["due_at"] is None
            assert one["interval"] > 0
    told = depot("due", "--machine", "T01").out
    assert told.count("unknown") == 1
    assert "never done" in told
    assert depot("due", "--overdue", "--machine", "T01", "--json").json["items"] == [
        one for one in mine if one["state"] == "unknown"
    ]


def test_a_line_is_given_to_a_person_and_a_day_and_taken_back(depot: Cli, tmp_path: Path) -> None:
    fault = depot(
        "log", "fault", "B05", "wheels", "--says", "tube shows", "--fix-by", "2099-12-30", "--by", "Ines", "--json"
    ).json["entry"]
    give = ("--to", "tomas", "--day", "2099-01-05", "--by", "Marta")
    assert depot("give", "B05", fault[-8:], *give).code == 0
    assert depot("give", "T01", "grease", "hose", *give).code == 0
    mine = items(depot, "--person", "Tomas")
    assert {(one["machine"], one["item"]) for one in mine} == {("B05", fault), ("T01", "grease"), ("T01", "hose")}
    assert {(one["given_to"], one["for_day"]) for one in mine} == {("Tomas", "2099-01-05")}
    assert set(in_weeks(depot, "--person", "Tomas")) == {(one["machine"], one["item"]) for one in mine}
    visit = depot("workload", "--json", "--person", "Tomas", "--machine", "B05").json["weeks"][-1]["visits"][0]
    assert visit["given_to"] == "Tomas"
    assert next(one for one in depot("yard", "--json").json if one["machine"] == "B05")["given_to"] == "Tomas"
    page = tmp_path / "tomas.html"
    assert depot("report", "list", "--for", "Tomas", "--day", "2099-01-05", str(page)).code == 0
    text = page.read_text("utf-8")
    assert text.count(day_list.BOX) == 3
    assert "Take along" in text
    assert "The drum weighs tonnes" in text, "the caution of a service goes along"
    assert "Make it safe first: supply shut" in text, "that of a repair, too"
    assert "manual" in text
    of_day = depot("report", "list", "--for", "Ines", "--day", "2099-01-05", str(tmp_path / "no.html"))
    assert (of_day.code, "nothing is given to Ines for that day;" in of_day.err) == (0, True)
    assert "nothing is given to Ines;" in depot("report", "list", "--for", "Ines", str(tmp_path / "any.html")).err
    assert day_list.BOX not in (tmp_path / "no.html").read_text("utf-8")
    assert depot("give", "T01", "grease", "--to", "nobody", "--by", "Marta").code == 0
    assert len(items(depot, "--person", "Tomas")) == 2
    of_nobody, every = items(depot, "--person", "Nobody"), items(depot)
    assert of_nobody == [one for one in every if one["given_to"] is None]
    assert len(of_nobody) == len(every) - 2
    listed = tmp_path / "nobody.csv"
    assert depot("report", "list", "--for", "nobody", str(listed)).code == 0
    assert len(list(csv.DictReader(io.StringIO(listed.read_text("utf-8-sig"))))) == len(of_nobody)
    assert depot("log", "service", "T01", "hose", "--by", "Tomas").code == 0
    assert [one["item"] for one in items(depot, "--person", "Tomas")] == [fault], "done, it is nobody's any more"


def test_the_moment_asked_about_is_written_alike_in_the_lists(depot: Cli) -> None:
    at = ("--as-of", "2026-05-01T06:30:00.5+02:00", "--json")
    assert {depot(command, *at).json["as_of"] for command in ("due", "workload")} == {"2026-05-01T04:30:00.500Z"}


def test_a_fault_is_given_by_the_usual_word_for_its_part(depot: Cli) -> None:
    fault = ("log", "fault", "B05", "belt", "--says", "slips", "--hold", "run", "--by", "Ines", "--json")
    id = depot(*fault).json["entry"]
    given = depot("give", "B05", "belt", "--to", "Tomas", "--day", "2099-01-05", "--by", "Marta", "--json")
    assert [one["item"] for one in given.json] == [id]


def test_metres_are_told_in_feet_to_those_who_have_us_units(depot: Cli, tmp_path: Path) -> None:
    """As the counters are that they are held against: 15000 m are 49213 ft."""
    assert depot("log", "service", "B05", "chain", "--at", "2026-11-02T12:00", "--by", "Tomas").code == 0
    hose = ("log", "fault", "B05", "hose", "--says", "scuffed", "--fix-by", "4000 m", "--by", "Tomas")
    assert depot(*hose).code == 0
    us, told = ("--units", "us"), {}
    for name, *more in (("due", "--all"), ("list",)):
        assert depot("report", name, str(tmp_path / "out.html"), "--replace", *more, *us).code == 0
        told[f"{name} on paper"] = (tmp_path / "out.html").read_text("utf-8")
    assert depot("report", "machine", "B05", str(tmp_path / "out.html"), "--replace", *us).code == 0
    record = (tmp_path / "out.html").read_text("utf-8")
    told |= {"due": depot("due", *us).out, "weeks": depot("workload", *us).out}
    for where, text in told.items():
        assert "13123 ft" in text, where
        assert not re.search(r"\d m\b", text), where
    assert not re.search(r"\d m\b", re.sub(r"<style>.*?</style>", "", record)), "the record"
    line = next(one for one in depot("due", "--json", *us).json["items"] if one["kind"] == "fault")
    assert line["due_at"] == {"metres": 4000}, "for programs all is in SI"


@pytest.mark.parametrize("report", [("list", "--for", "Ines"), ("due",)])
def test_paper_names_each_machine_whose_next_run_a_check_precedes(
    depot: Cli, tmp_path: Path, report: tuple[str, ...]
) -> None:
    """On the screen such a row is opened; a paper that says *2 machines* sends nobody anywhere."""
    card, path = tmp_path / "new.toml", tmp_path / "out.html"
    card.write_text(CARD.format(tag="E06", place="Hill", since='in_use_since = "2026-11-01"'), "utf-8")
    assert depot("machine", "add", str(card), "--by", "Marta").code == 0
    for tag in ("B05", "E06"):
        for item in ("end-stop", "walk-round"):
            assert depot("log", "service", tag, item, "--at", "2026-11-01T12:00", "--by", "Tomas").code == 0
        run = ("--started", "2026-11-02T06:00", "--ended", "2026-11-02T07:00", "--metres", "20 m", "--by", "Ines")
        assert depot("log", "run", tag, *run).code == 0
        given = ("end-stop", "walk-round", "--to", "Ines", "--day", "2099-01-05", "--by", "Marta")
        assert depot("give", tag, *given).code == 0
    assert "2 machines" in depot("due", "--person", "Ines").out
    name, *more = report
    assert depot("report", name, str(path), *more).code == 0
    rows = [row for row in re.findall("<tr>.*?</tr>", path.read_text("utf-8")) if "pre-start: " in row]
    assert [next(tag for tag in ("B05", "E06") if tag in row) for row in rows] == ["B05", "E06"]
    assert all("2099-01-05" in row and "2 items" in row for row in rows)


def test_giving_is_a_supervisor_s_and_names_what_cannot_be(depot: Cli) -> None:
    give = ("--to", "Tomas", "--day", "2099-01-05", "--by")
    assert depot("give", "T01", "grease", *give, "Tomas").code == 6
    assert "did you mean grease?" in depot("give", "T01", "greas", *give, "Marta").err
    assert depot("give", "T01", "grease", *give, "Marta", "--to", "Thomas").code == 2
    assert "already past" in depot("give", "T01", "grease", "--to", "Tomas", "--day", "2020-01-05", "--by", "Marta").err
    assert "--day" in depot("give", "T01", "grease", "--to", "Tomas", "--by", "Marta").err
    assert not items(depot, "--person", "Tomas")


def test_the_weeks_of_what_is_overdue_name_nothing_that_is_not_overdue_today(cli: Cli, estate: Path) -> None:
    """The service after the next one is not past its grace, though it may be by the day for which it is planned."""
    asked = ("--machine", "T03", "--overdue", *AT, "--register", str(estate))
    named = {(one["machine"], one["item"]) for one in items(cli, *asked)}
    assert in_weeks(cli, *asked)
    assert set(in_weeks(cli, *asked)) <= named
    assert len(in_weeks(cli, *asked)) == len(set(in_weeks(cli, *asked)))
