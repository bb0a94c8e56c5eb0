"""What a machine has done, where nobody knows the use before: each command and paper says a least, or not known."""

from pathlib import Path
from typing import Any

import pytest

RUN = ("--started", "2026-05-01T06:00", "--ended", "2026-05-01T18:00", "--metres", "320 m", "--by", "Olav")


@pytest.fixture
def old(farm: Any, tmp_path: Path) -> Any:
    """The machine `K7`, of whose use before nothing is known."""
    card = tmp_path / "k7.toml"
    card.write_text('tag = "K7"\nplace = "North"\n[hose]\nlength = "400 m"\n', "utf-8")
    assert farm("machine", "add", str(card), "--by", "Mara", "--at", "2026-03-01").code == 0
    return farm


def in_the_list(cli: Any, tag: str) -> str:
    return next(str(line) for line in cli("yard").out.splitlines() if line.startswith(tag))


def test_the_list_of_machines(old: Any) -> None:
    new, used = " ".join(in_the_list(old, "R1").split()), " ".join(in_the_list(old, "K7").split())
    assert new.startswith("R1 check due check due 0.0 0 m ")
    assert used.startswith("K7 check due check due ? ? ")
    assert "? not known" in old("yard").err
    told = {one["machine"]: one for one in old("yard", "--json").json}
    assert told["R1"]["known"] == ["hours", "metres", "runs"]
    assert (told["K7"]["known"], told["K7"]["hours"], told["K7"]["runs"]) == ([], 0, 0)
    old("log", "run", "K7", *RUN)
    assert "12.0+  320+ m" in in_the_list(old, "K7")
    old("log", "reading", "K7", "hours", "1420", "--by", "Olav", "--at", "2026-05-02")
    assert "1420.0  320+ m" in in_the_list(old, "K7")
    assert {one["machine"]: one["known"] for one in old("yard", "--json").json}["K7"] == ["hours"]


def test_what_is_said_of_a_run_and_of_a_reading(old: Any) -> None:
    assert "R1: now 12.0 h, 320 m, 1 run (entry" in old("log", "run", "R1", *RUN).err
    assert "K7: now at least 12.0 h, 320 m, 1 run (entry" in old("log", "run", "K7", *RUN).err
    # the old counter was never read
    told = old("log", "reading", "K7", "hours", "0", "--new-counter", "--by", "Olav", "--at", "2026-05-02").err
    assert "K7: life total at least 12.0 h (entry" in told
    told = old("log", "reading", "K7", "metres", "9000", "--by", "Olav", "--at", "2026-05-02").err
    assert "K7: life total 9000 m (entry" in told


def test_the_record(old: Any, tmp_path: Path) -> None:
    def life(tag: str) -> str:
        assert old("report", "machine", tag, str(tmp_path / "record.html"), "--replace").code == 0
        page = (tmp_path / "record.html").read_text("utf-8")
        return page.split(">life<")[1].split("</td>")[0].rsplit(">", 1)[1]

    assert life("R1") == "0.0 h, 0 m of hose, 0 runs"
    assert life("K7") == "use not known"
    old("log", "run", "K7", *RUN)
    assert life("K7") == "at least 12.0 h, 320 m of hose, 1 run"


def test_a_service_that_was_told_by_hours_alone_shows_no_day_as_told(old: Any, tmp_path: Path) -> None:
    card = tmp_path / "k8.toml"
    card.write_text('tag = "K8"\nin_use_since = 2019-04-01\n[hose]\nlength = "400 m"\n', "utf-8")
    assert old("machine", "add", str(card), "--by", "Mara", "--at", "2026-03-01").code == 0
    done = tmp_path / "done.csv"
    done.write_text("machine;now;lay-up;chain\nK8;2000 h;1990 h;2026-02-01\n", "utf-8")
    assert old("bring", "--last-done", str(done), "--by", "Mara", "--json").json["without_day"] == 1
    told = {one["item"]: one for one in old("due", "--machine", "K8", "--json").json["items"]}
    assert (told["lay-up"]["last_done"], told["lay-up"]["last_done_hours"]) == ("2019-04-01", 1990)
    assert (told["chain"]["last_done"], told["chain"]["last_done_hours"]) == ("2026-02-01", None)
    assert "  at 1990 h, not before 2019-04-01  " in old("due", "--machine", "K8", "--all").out
    assert old("report", "machine", "K8", str(tmp_path / "record.html")).code == 0
    page = (tmp_path / "record.html").read_text("utf-8").split("Last services")[1]
    row = page.split(">at 1990 h, not before 2019-04-01<")[1].split("</tr>")[0]
    assert ">1990.0 h<" in row
    assert ">unknown<" in row, "nor what hose it had pulled on a day that nobody told"
