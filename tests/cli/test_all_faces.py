"""Every command and file that draws from the work list counts the same lines for the same place, person, part, window.

`tests/tui/screens/test_all_faces.py` holds the screens of the app to the same lists.
"""

import csv
import io
import re
import shutil
from html import escape
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.due_list import DueFilter
from reelcare.register.opening import open_writer
from reelcare.register.reading import yard as yards
from reelcare.register.views import due_list as views
from tests.cli.conftest import ESTATE_AT as AT
from tests.cli.conftest import Cli
from tests.estates import NOW

FILTERS = (
    (), ("--overdue",), ("--within", "14"), ("--within", "0"), ("--part", "hose"), ("--place", "south field"),
    ("--machine", "T08"), ("--person", "Tomas"), ("--person", "Lena"), ("--part", "wheels", "--within", "0"),
    ("--place", "North Field", "--person", "Tomas"), ("--place", "North Field", "--overdue"),
    ("--machine", "T03", "--part", "gearbox", "--within", "30"),
)  # fmt: skip
FEW = FILTERS[-3:]
STATES = ("overdue", "unknown", "due", "soon")


@pytest.fixture(scope="module")
def given(estate: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo estate with lines that are given to two people, a fault that is to be fixed by a day, and one noted."""
    path: Path = tmp_path_factory.mktemp("given") / "given.db"
    shutil.copy(estate, path)
    with open_writer(path) as register:
        register.add(e.Enrolled(name="Lena", role="mechanic"), machine=None, by="Marta", now=NOW)
        for tag, to, items in (("T03", "Tomas", ("grease", "gearbox-oil-change")), ("T08", "Lena", ("grease",))):
            for item in items:
                what = e.Assigned(item=item, to=to, day="2026-07-02")
                register.add(what, machine=register.machine_id(tag), by="Marta", now=NOW)
        for tag, day in (("B05", "2026-12-30"), ("T03", None)):
            fault = e.Fault(part="wheels", says="tube shows", fix_by_day=day)
            register.add(fault, machine=register.machine_id(tag), by="Ines", now=NOW)
    return path


def rows_of(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"))))


def counted(text: str) -> dict[str, int]:
    return {word: int(number) for number, word in re.findall(r"(\d+) (overdue|unknown|due|soon)", text)}


@pytest.mark.parametrize(
    "asked", [pytest.param(one, id=" ".join(one), marks=() if one in FEW else pytest.mark.long) for one in FILTERS]
)
def test_every_face_counts_the_same_lines(cli: Cli, given: Path, tmp_path: Path, asked: tuple[str, ...]) -> None:
    """`due`, its table, report and calendar, the printed list, the weeks and their table, and what the app reads."""

    def yard(*words: str) -> Any:
        return cli(*words, "--register", str(given))

    found = yard("due", *asked, *AT, "--json").json["items"]
    assert found, "a filter that lets nothing through proves nothing"
    ids = [(one["machine"], one["item"]) for one in found]
    states = [one["state"] for one in found]
    told = {word: states.count(word) for word in STATES}
    assert counted(yard("due", *asked, *AT).err.splitlines()[0]) == told
    for report in ("due", "list"):
        for name in (f"{report}.csv", f"{report}.html"):
            assert yard("report", report, str(tmp_path / name), *asked, *AT).code == 0
        assert [(row["machine"], row["item"].lstrip("'")) for row in rows_of(tmp_path / f"{report}.csv")] == ids
        head = (tmp_path / f"{report}.html").read_text("utf-8").split("</h1>")[1].split("<table")[0]
        assert counted(head) == told
    assert yard("report", "due", str(tmp_path / "due.ics"), *asked, *AT).code == 0
    events = (tmp_path / "due.ics").read_text("utf-8").count("BEGIN:VEVENT")
    with open_writer(given, read_only=True) as register:
        screen = views.work_list(register, _filter(asked, register.machine_id), NOW, past=True).lines
    assert [(line.tag, line.item.id) for line in screen] == ids
    assert events == sum(_has_day(line) for line in screen if line.news)
    # the weeks: what is acute, a fault without a day, what is given, and nothing that the list has not
    weeks = yard("workload", *asked, *AT, "--json").json["weeks"]
    visits = [visit for week in weeks for visit in week["visits"]]
    done = {(visit["machine"], id) for visit in visits for id in (*visit["items"], *visit["covered"])}
    here = [line for line in screen if line.news and (line.is_acute or line.kind == "fault" or line.given)]
    assert {(line.tag, line.item.id) for line in here} <= done <= set(ids)
    assert all([line["item"] for line in visit["lines"]] == visit["items"] for visit in visits)
    assert yard("report", "workload", str(tmp_path / "weeks.csv"), *asked, *AT).code == 0
    assert yard("report", "workload", str(tmp_path / "weeks.html"), *asked, *AT).code == 0
    for line in yard("workload", *asked, *AT).out.splitlines():
        if line.startswith("take along, "):  # one of a thing is said without a figure on paper, too
            along = escape(line.partition(": ")[2])
            assert f"take along: {along}" in (tmp_path / "weeks.html").read_text("utf-8")
    assert [(row["machine"], row["minutes"]) for row in rows_of(tmp_path / "weeks.csv")] == [
        (visit["machine"], str(visit["minutes"])) for visit in visits
    ]


@pytest.mark.parametrize("place", ["", pytest.param("North Field", marks=pytest.mark.long)])
def test_the_yard_counts_the_machines_of_the_same_lines(cli: Cli, given: Path, place: str) -> None:
    asked = ("--place", place) if place else ()
    found = cli("due", *asked, *AT, "--json", "--register", str(given)).json["items"]
    told = counted(cli("yard", *asked, *AT, "--register", str(given)).err.splitlines()[0])
    with open_writer(given, read_only=True) as register:
        heads = {one.tag: one.judged.words for one in yards.listed(register, NOW, past=True)}
    for word in ("overdue", "unknown"):
        counts = {one["machine"] for one in found if one["state"] == word}
        assert told.get(word, 0) == len(counts)
        assert counts == {tag for tag in {one["machine"] for one in found} if word in heads[tag]}


def _filter(asked: tuple[str, ...], machine: Any) -> DueFilter:
    words = [word for word in asked if word != "--overdue"]
    told = dict(zip(words[::2], words[1::2], strict=True))
    return DueFilter(
        machine(told["--machine"]) if "--machine" in told else "", told.get("--place", ""), told.get("--part", ""),
        told.get("--person", ""), "--overdue" in asked, int(told["--within"]) if "--within" in told else None,
    )  # fmt: skip


def _has_day(line: DueLine) -> bool:
    likely = line.forecast.likely if line.forecast is not None else None
    return line.is_acute or line.kind == "fault" or likely is not None or line.given is not None
