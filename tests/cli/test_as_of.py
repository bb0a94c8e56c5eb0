"""Every command that reads tells of a moment past, where it is asked about one."""

from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

BEFORE, AFTER = "2026-05-10", "2026-05-30"


class Texts(HTMLParser):
    """Keeps what stands between the tags."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_data(self, data: str) -> None:
        self.found.append(data)


def text_of(path: Path) -> str:
    reader = Texts()
    reader.feed(path.read_text("utf-8"))
    return " ".join(reader.found)


@pytest.fixture
def told(farm: Any) -> Any:
    """The farm after a fault that holds its machine."""
    farm("log", "service", "R1", "grease", "--by", "Tove", "--at", "2026-03-02T12:00")
    farm("log", "reading", "R1", "hours", "70", "--by", "Olav", "--at", "2026-05-19T12:00")
    farm("log", "fault", "R1", "end stop", "--says", "hangs", "--hold", "--by", "Olav", "--at", "2026-05-20T12:00")
    return farm


def test_a_machines_record_tells_how_it_stood(told: Any, tmp_path: Path) -> None:
    for when in (BEFORE, AFTER):
        assert told("report", "machine", "R1", str(tmp_path / f"{when}.html"), "--as-of", when).code == 0
    before, after = text_of(tmp_path / f"{BEFORE}.html"), text_of(tmp_path / f"{AFTER}.html")
    assert f"as it stood at {BEFORE} 23:59" in before
    assert "hangs" not in before
    assert "70.0 h" not in before
    assert "hangs" in after
    assert "70.0 h" in after
    told("report", "machine", "R1", str(tmp_path / "now.html"))
    assert "as it stood" not in text_of(tmp_path / "now.html")


@pytest.mark.parametrize("kind", ["due", "workload"])
def test_a_list_tells_what_was_due_then(told: Any, tmp_path: Path, kind: str) -> None:
    for when in (BEFORE, AFTER):
        assert told("report", kind, str(tmp_path / f"{when}.html"), "--as-of", when).code == 0
    before, after = text_of(tmp_path / f"{BEFORE}.html"), text_of(tmp_path / f"{AFTER}.html")
    assert before != after
    assert f"{BEFORE} 23:59" in before
    if kind == "due":
        assert "20 h over" in after
        assert "20 h over" not in before
        assert told("report", "due", str(tmp_path), "--watch", "--once", "--as-of", BEFORE).code == 2


@pytest.mark.parametrize("kind", ["due", "workload", "list", "season", "water"])
def test_a_paper_of_a_day_that_is_past_is_not_made_then(told: Any, tmp_path: Path, kind: str) -> None:
    path = tmp_path / "then.html"
    assert told("report", kind, str(path), "--as-of", BEFORE).code == 0
    assert f"as it stood at {BEFORE} 23:59; made {datetime.now(UTC):%Y-%m-%d}" in text_of(path)


def test_people_are_told_as_they_were(told: Any) -> None:
    told("people", "add", "Tove", "--role", "supervisor", "--by", "Mara")
    now = {one["name"]: one["role"] for one in told("people", "--json").json}
    assert now == {"Mara": "supervisor", "Tove": "supervisor", "Olav": "operator"}
    then = told("people", "--json", "--as-of", "2026-03-02").json
    assert [(one["name"], one["role"]) for one in then] == [("Mara", "supervisor")]
    assert told("people", "--json", "--as-of", "2026-02-01").json == []


def test_what_may_be_done_says_that_a_machine_is_held(told: Any) -> None:
    for words in (["R1"], ["R1", "start"], ["R1", "--to", "irrigating"]):
        now, then = told("may", *words), told("may", *words, "--as-of", BEFORE)
        assert "R1 is HELD for a run and the road, however its parts stand: end stop: hangs" in now.err
        assert "HELD" not in then.err
    assert told("may", "R1", "--json").json["standing"]["run"] == "held"
    assert told("may", "R1", "--json", "--as-of", BEFORE).json["standing"]["run"] == "check due"
