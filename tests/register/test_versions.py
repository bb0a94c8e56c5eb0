"""A register of every version so far opens in today's, proves whole, and keeps every hash."""

import contextlib
import os
import re
import shutil
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from reelcare.cli import main
from reelcare.core import entries as e
from reelcare.register.database import sqlite_file
from reelcare.register.database.models import NEWEST
from reelcare.register.errors import CannotWrite, NotAllowed, RegisterError
from reelcare.register.opening import open_reader, open_writer
from reelcare.register.proof.proving import prove
from reelcare.register.reading import yard as yards
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer
from tests.commands import plain_environment
from tests.register.conftest import sql
from tests.register.versions import story

KEPT = sorted(Path(__file__).with_name("versions").glob("*.db"))
VERSIONS = [path for path in KEPT if int(path.stem) < NEWEST]


def test_every_version_before_this_one_is_kept() -> None:
    assert [int(path.stem) for path in VERSIONS] == list(range(1, NEWEST))


def test_the_first_day_of_the_next_one_to_be_kept_can_be_told(tmp_path: Path) -> None:
    with plain_environment(story.ZONE):
        story.first_day(story.Terminal(tmp_path / "new.db", tmp_path))


@pytest.mark.long
def test_the_next_one_to_be_kept_holds_every_kind_of_entry(tmp_path: Path) -> None:
    story.tell(tmp_path / "new.db")
    with open_reader(tmp_path / "new.db") as register:
        assert {kind for (kind,) in sql(register.db, "SELECT DISTINCT kind FROM entry")} == set(e.KINDS)
        assert prove(register).whole


def says_what_it_said(register: Reader) -> str:
    """The one machine that every kept register has, found as it stood; its id."""
    machines = yards.yard(register, datetime(2026, 5, 5, tzinfo=UTC))
    (machine,) = (one for one in machines if one.tag == "R1")
    assert (machine.standing.run, machine.state.totals.runs) == ("held", 3)
    return machine.id


@pytest.mark.parametrize("path", VERSIONS, ids=lambda path: path.stem)
def test_it_opens_and_nothing_in_it_has_changed(path: Path, tmp_path: Path) -> None:
    import sqlite3

    shutil.copy(path, tmp_path / "old.db")
    with contextlib.closing(sqlite3.connect(path)) as db, db:
        before = db.execute("SELECT id, digest FROM entry ORDER BY number").fetchall()
    with open_writer(tmp_path / "old.db", create=False) as register:
        assert register.db.schema_version() == NEWEST
        assert sql(register.db, "SELECT id, digest FROM entry ORDER BY number") == before
        assert prove(register).whole
        assert register.rebuild() == []
        says_what_it_said(register)


def is_read_and_not_written(register: Writer, refused: type[RegisterError], says: str) -> None:
    """What stands in a register of an older version is told and proved, and a fault is refused."""
    now = datetime(2026, 5, 5, tzinfo=UTC)
    machine = says_what_it_said(register)
    assert prove(register).whole
    register.signed.update(register.roles())
    with pytest.raises(refused, match=says):
        register.add(e.Fault(part="hose", says="x"), machine=machine, by=next(iter(register.roles())), now=now)


@pytest.mark.parametrize("path", VERSIONS, ids=lambda path: path.stem)
def test_where_nothing_can_be_written_it_is_read_and_left_as_it_was(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = tmp_path / "old.db"
    shutil.copy(path, old)
    before = old.read_bytes()
    monkeypatch.setattr(os, "access", lambda *_: False)
    with open_writer(old, create=False) as register:
        is_read_and_not_written(register, CannotWrite, "read-only")
    assert old.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["old.db"]
    monkeypatch.setattr(sqlite_file, "MOST_IN_MEMORY", 10)
    with pytest.raises(CannotWrite, match="copy it elsewhere"):
        open_writer(old, create=False)


@pytest.mark.parametrize("path", VERSIONS, ids=lambda path: path.stem)
def test_to_look_only_it_is_read_and_left_as_it_was(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old = tmp_path / "old.db"
    shutil.copy(path, old)
    before = old.read_bytes()
    with open_writer(old, read_only=True) as register:
        is_read_and_not_written(register, NotAllowed, "open view only; nothing was saved")
    with open_reader(old) as reader:
        says_what_it_said(reader)
        assert prove(reader).whole
    for words in (["yard"], ["due"], ["due", "--overdue"], ["machine"], ["book", "R1"], ["prove"]):
        assert main(["--register", str(old), "--view", *words]) == 0
        told = capsys.readouterr()
        worked_out, rest = told.err.split("\n", 1)
        assert worked_out.endswith("worked out for this time only; `reelcare rebuild` keeps them")
        assert re.fullmatch(
            r"|\d+ (entries: intact|(held|overdue|unknown)\b.*|older entries: .*)", rest.strip(), re.DOTALL
        )
        assert told.out
    assert main(["--register", str(old), "--view", "rebuild"]) == 6
    assert "view only; nothing was saved" in capsys.readouterr().err
    assert old.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["old.db"]


def test_to_look_only_no_register_is_made(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--register", str(tmp_path / "none.db"), "--view", "yard"]) == 3
    assert "no such register" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_one_that_is_too_large_to_look_at_in_memory_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copy(VERSIONS[0], tmp_path / "old.db")
    monkeypatch.setattr(sqlite_file, "MOST_IN_MEMORY", 10)
    with pytest.raises(CannotWrite, match="copy it elsewhere, and open it there without --view"):
        open_writer(tmp_path / "old.db", read_only=True)


@pytest.mark.parametrize("place", ["server"], indirect=True)
def test_to_look_only_one_of_an_older_version_on_a_server_says_what_to_do(yard: Any) -> None:
    db = yard.register.db
    db.execute_sql("UPDATE about SET value = 'another' WHERE name = 'derived'")
    with pytest.raises(CannotWrite, match="open it once for writing, which brings it up to date"):
        open_writer(yard.place, read_only=True)
    assert sql(db, "SELECT value FROM about WHERE name = 'derived'") == [("another",)]
    yard.again().close()
    with open_writer(yard.place, read_only=True) as register:
        assert [one.tag for one in yards.yard(register, yard.now)] == ["R1"]
        with pytest.raises(NotAllowed, match="open view only"):
            register.add(e.Fault(part="hose", says="x"), machine=yard.machine, by="Olav", now=yard.now)
