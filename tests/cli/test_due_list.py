"""What is due: command, report and screen list and count the same, whatever is asked for."""

import csv
import io
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelcare.core.service import due_list as lists
from reelcare.core.service.due import STATES
from reelcare.core.service.due_list import DueFilter
from reelcare.register.opening import open_writer
from reelcare.register.views import due_list as views
from tests.cli.conftest import ESTATE_AT as AT
from tests.cli.conftest import Cli
from tests.commands import cell_back
from tests.estates import NOW

FILTERS = (
    (), ("--overdue",), ("--within", "14"), ("--within", "0"), ("--part", "chain"), ("--place", "north field"),
    ("--machine", "T03"), ("--machine", "T03", "--part", "gearbox", "--within", "400"), ("--part", "lights"),
)  # fmt: skip


@pytest.fixture
def yard(cli: Cli, estate: Path) -> Cli:
    return lambda *words: cli(*words, "--register", str(estate))


def counted(text: str) -> dict[str, int]:
    found = re.findall(r"(\d+) (overdue|unknown|due|soon|more)", text)
    return {word: int(number) for number, word in found}


@pytest.mark.parametrize(
    "asked", [pytest.param(one, id=" ".join(one), marks=pytest.mark.long if len(one) < 6 else ()) for one in FILTERS]
)
def test_command_json_and_report_count_the_same_items(yard: Cli, tmp_path: Path, asked: tuple[str, ...]) -> None:
    items = yard("due", *asked, *AT, "--json").json["items"]
    states = [one["state"] for one in items]
    said = counted(yard("due", *asked, *AT).err)
    assert yard("report", "due", str(tmp_path / "due.html"), *asked, *AT).code == 0
    page = counted((tmp_path / "due.html").read_text("utf-8").split("<table")[0].split("</h1>")[1])
    for state in ("overdue", "unknown", "due", "soon"):
        assert page[state] == states.count(state)
        assert said.get(state, 0) == states.count(state)
    assert page.get("more", 0) == said.get("more", 0)
    _head, *tables = (tmp_path / "due.html").read_text("utf-8").split("<table")
    table = "".join(tables)
    assert not {one["item"] for one in items if "-" in one["item"]} & {*re.findall(r"[\w-]+", table)}, "ids on paper"
    assert said.get("more", 0) == (0 if "--within" in asked and "0" not in asked else states.count("ok"))
    assert yard("report", "due", str(tmp_path / "due.csv"), *asked, *AT).code == 0
    rows = list(csv.DictReader(io.StringIO((tmp_path / "due.csv").read_text("utf-8-sig"))))
    assert [(row["machine"], cell_back(row["item"])) for row in rows] == [
        (one["machine"], one["item"]) for one in items
    ]


@pytest.mark.long
@pytest.mark.parametrize("asked", FILTERS, ids=" ".join)
def test_every_item_of_the_list_is_in_a_row_or_counted_as_left_out(yard: Cli, asked: tuple[str, ...]) -> None:
    items = yard("due", *asked, *AT, "--json").json["items"]
    told = yard("due", *asked, *AT)
    several = [int(many) for many in re.findall(r"(\d+) items", told.out)]
    rows = len(told.out.splitlines()) - 1
    assert rows - len(several) + sum(several) + counted(told.err).get("more", 0) == len(items)
    everything = yard("due", *asked, *AT, "--all")
    assert len(everything.out.splitlines()) - 1 == len(items)
    assert "more" not in counted(everything.err)


@pytest.mark.parametrize("within", [None, 400])
def test_what_is_only_counted_has_no_forecast_and_all_else_is_the_same(estate: Path, within: int | None) -> None:
    with open_writer(estate) as register:
        whole = views.work_list(register, DueFilter(within=within), NOW)
        shown = views.work_list(register, DueFilter(within=within), NOW, everything=False)
    assert len(shown.lines) == len(whole.lines) > 100
    counted = 0
    for line, also in zip(whole.lines, shown.lines, strict=True):
        if within is None and line.due.state == "ok":
            line, counted = line._replace(forecast=None, forecast_reason=""), counted + 1
        assert also == line
    assert (counted > 100) == (within is None)


@pytest.mark.long
def test_the_filters_take_what_they_say_and_mean_the_same_in_the_workload(yard: Cli) -> None:
    whole = yard("due", *AT, "--json").json["items"]
    late = [one for one in whole if one["held"] or one["state"] in ("overdue", "unknown")]
    mine = [one for one in whole if one["machine"] == "T03"]
    for asked, wanted in ((("--machine", "T03"), mine), (("--overdue",), late)):
        assert yard("due", *asked, *AT, "--json").json["items"] == wanted
        weeks = yard("workload", *asked, "--within", "0", *AT, "--json").json["weeks"]
        assert len(weeks) == 1
        found = {(visit["machine"], item) for visit in weeks[0]["visits"] for item in visit["items"] + visit["covered"]}
        assert found
        assert found <= {(one["machine"], one["item"]) for one in wanted}
    assert len(yard("workload", "--within", "18", *AT, "--json").json["weeks"]) == 3  # to Sunday 19 July
    assert yard("workload", "--part", "chian", *AT).code == 2
    assert "did you mean North Field?" in yard("workload", "--place", "North Feild", *AT).err


@pytest.mark.long
def test_an_empty_list_says_the_next_step(yard: Cli) -> None:
    assert "`reelcare due --all`" in yard("due", "--part", "lights", *AT).err
    assert "--weeks" in yard("workload", "--part", "lights", *AT).err


@pytest.mark.long
def test_the_screen_draws_from_the_same_lines(estate: Path, yard: Cli) -> None:
    with open_writer(estate) as register:
        lines = views.work_list(register, DueFilter(), NOW, past=True).lines
        now = views.work_list(register, DueFilter(within=0), NOW, past=True).lines
    items = yard("due", *AT, "--json").json["items"]
    assert [(line.tag, line.item.id) for line in lines] == [(one["machine"], one["item"]) for one in items]
    assert {line.due.state for line in now} == {"overdue", "unknown", "due"}
    assert [line.kind for line in now].count("fault") == 1
    assert lists.counts(now)["due"] == lists.counts(lines)["due"]


@pytest.mark.long
@given(st.data())
def test_rows_stand_by_state_and_lose_no_line(estate: Path, data: Any) -> None:
    with open_writer(estate, read_only=True) as register:
        lines = views.work_list(register, DueFilter(part="chain"), NOW, past=True).lines
    some = data.draw(st.lists(st.sampled_from(lines), unique_by=id))
    coming = data.draw(st.booleans())
    rows, left_out = lists.rows(some, coming=coming)
    shown = [line for row in rows for line in row.lines]
    assert len(shown) + left_out == len(some)
    assert not coming or not left_out
    places = [(not row.first.due.held, STATES.index(row.first.due.state)) for row in rows]
    assert places == sorted(places)


def test_a_likely_day_is_told_only_of_what_is_not_due_yet(yard: Cli) -> None:
    head, *rows = yard("due", *AT).out.splitlines()
    column = slice(head.index("likely"), head.index("for "))
    likely = {row.split()[0]: row[column].strip() for row in rows}
    assert {word: bool(day) for word, day in likely.items()} == {
        "held": False, "overdue": False, "unknown": False, "due": False, "soon": True,
    }  # fmt: skip
