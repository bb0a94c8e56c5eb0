"""A demo says that it is one, and what was written in it can be kept as a register of one's own."""

import io
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from reelcare.cli import leaving
from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.demo import mark_as_demo
from reelcare.register.opening import open_reader, open_writer
from reelcare.register.proof.proving import prove
from reelcare.register.writing.writer import Writer

NOW = datetime(2026, 5, 1, 6, tzinfo=UTC)


class Typed(io.StringIO):
    """Lines typed at a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[Writer]:
    with open_writer(tmp_path / "demo.db") as register:
        mark_as_demo(register)
        people.enrol(register, "Ann", "supervisor", by="Ann", now=NOW)
        register.add(e.Carded(card={"tag": "R1"}), by="Ann", now=NOW)
        yield register


def leave(demo: Writer, before: int, typed: str, monkeypatch: pytest.MonkeyPatch, capsys: Any, **how: Any) -> str:
    monkeypatch.setattr(sys, "stdin", Typed(typed))
    leaving.tell(demo, before, **how)
    return str(capsys.readouterr().err)


def test_what_was_written_can_be_kept_under_a_free_name(
    demo: Writer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    before, own = leaving.entries(demo), tmp_path / "own.db"
    fault = e.Fault(part="hose", says="mine", holds="run")
    demo.add(fault, machine=demo.machine_id("R1"), by="Ann", now=NOW)
    said = leave(demo, before, f"{tmp_path / 'demo.db'}\n{own}\n", monkeypatch, capsys, deleted=True)
    assert "DEMO: its machines and people are invented, and it is deleted now" in said
    assert "1 entry was written in it" in said
    assert "exists already" in said
    assert f"kept: `reelcare --register {own}` opens it" in said
    with open_reader(own) as kept:
        assert not kept.is_demo
        assert kept.terminal != demo.terminal
        assert kept.count_entries() == demo.count_entries()
        assert prove(kept).findings == ()
    assert demo.is_demo


@pytest.mark.parametrize("typed", ["", "\n"])
def test_nothing_is_kept_that_nobody_asked_for(
    demo: Writer, tmp_path: Path, typed: str, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    assert "stays at" in leave(demo, 0, typed, monkeypatch, capsys)
    assert "File to save it in" not in leave(demo, demo.count_entries(), typed, monkeypatch, capsys)
    assert sorted(one.suffix for one in tmp_path.glob("own*")) == []


def test_the_mark_stays_in_a_copy_and_invented_machines_never_travel(
    demo: Writer, farm: Any, tmp_path: Path, cli: Any
) -> None:
    place, copy, out = tmp_path / "demo.db", tmp_path / "copy.db", tmp_path / "out.carry"
    assert cli("--register", str(place), "copy", str(copy)).code == 0
    with open_reader(copy) as made:
        assert made.is_demo
    assert "this is a demo" in cli("--register", str(place), "health").out
    assert cli("--register", str(place), "carry", "out", str(out)).code == 0
    for words in (("--look",), ("--by", "Mara")):
        refused = farm("carry", "in", str(out), *words)
        assert (refused.code, "from a demo" in refused.err) == (2, True)
    assert cli("--register", str(place), "copy", str(tmp_path / "own.db"), "--own").code == 0
    assert cli("--register", str(tmp_path / "own.db"), "carry", "out", str(tmp_path / "own.carry")).code == 0
    assert farm("carry", "in", str(tmp_path / "own.carry"), "--by", "Mara").code == 0
    assert "this is a demo" not in farm("health").out


def test_a_demo_is_kept_as_ones_own_by_command(demo: Writer, farm: Any, tmp_path: Path, cli: Any) -> None:
    place, own = tmp_path / "demo.db", tmp_path / "own.db"
    plain = cli("--register", str(place), "copy", str(tmp_path / "copy.db"))
    assert "it is a demo, too; `copy PATH --own`" in plain.err
    done = cli("--register", str(place), "copy", str(own), "--own")
    assert (done.code, "it is a demo" in done.err) == (0, False)
    with open_reader(own) as kept:
        assert not kept.is_demo
        assert kept.terminal != demo.terminal
        assert prove(kept).findings == ()
    refused = farm("copy", str(tmp_path / "other.db"), "--own")
    assert (refused.code, "no demo" in refused.err) == (2, True)
    assert not (tmp_path / "other.db").exists()


def test_a_register_that_was_made_before_there_was_a_mark_is_as_it_was(farm: Any, capsys: Any) -> None:
    with open_writer(Path(farm("paths", "--json").json["register"]), create=False) as register:
        assert not register.is_demo
        leaving.tell(register, 0)
        assert capsys.readouterr().err == ""
