"""Opening: strangers stay as they were, reading changes nothing, a killed upgrade leaves the older register."""

import contextlib
import os
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from reelcare.register.database import models, opening, sqlite_file, steps
from reelcare.register.database.base import Database
from reelcare.register.database.models import NEWEST, EntryRow, MachineRow
from reelcare.register.database.opening import Opened, open_register
from reelcare.register.errors import CannotWrite, NotAllowed, NotThere, Refused
from tests.register.database.conftest import fill, nothing
from tests.servers import in_a_file

VERSIONS = sorted(Path("tests/register/versions").glob("*.db"), key=lambda path: int(path.stem))
on_a_server = pytest.mark.parametrize("place", ["server"], indirect=True)
MACHINE = {name: name for name in ("machine", "tag", "name", "place", "state", "limits")}


def one_machine(db: Database) -> None:
    """A rebuild that has something to do."""
    db.write(MachineRow.insert(**MACHINE))


def failing(db: Database) -> None:
    one_machine(db)
    raise Refused("it cannot be rebuilt")


def content(path: Path) -> list[str]:
    with contextlib.closing(sqlite3.connect(path)) as db:
        return [*db.iterdump(), *map(str, db.execute("PRAGMA user_version"))]


def strangers(folder: Path) -> dict[str, Path]:
    made = {name: folder / f"{name}.db" for name in ("empty", "text", "short", "other", "newer")}
    made["empty"].write_bytes(b"")
    made["text"].write_text("this is no register at all, but it is long enough to have a header\n" * 20)
    made["short"].write_bytes(sqlite_file.MAGIC)
    with contextlib.closing(sqlite3.connect(made["other"])) as db:
        db.execute("CREATE TABLE t (x)")
    open_register(made["newer"], nothing, create=True).db.close()
    with contextlib.closing(sqlite3.connect(made["newer"])) as db:
        db.execute(f"PRAGMA user_version = {NEWEST + 1}")
        db.execute("PRAGMA journal_mode = delete")
    return made


@pytest.mark.parametrize(
    ("which", "says"),
    [
        ("empty", "empty file"),
        ("text", "not a Reelcare register"),
        ("short", "not a Reelcare register"),
        ("other", "not a Reelcare register"),
        ("newer", "newer version"),
    ],
)
def test_a_stranger_is_refused_and_left_as_it_was(tmp_path: Path, which: str, says: str) -> None:
    path = strangers(tmp_path)[which]
    before = path.read_bytes()
    for create, read_only in ((True, False), (False, False), (False, True)):
        with pytest.raises(NotThere, match=says):
            open_register(path, nothing, create=create, read_only=read_only)
    assert path.read_bytes() == before


@on_a_server
@pytest.mark.parametrize("make", ["entry (id INTEGER)", "other (id INTEGER)", "about (name TEXT, value TEXT)"])
def test_a_strange_database_is_refused_and_left_as_it_was(place: str, make: str) -> None:
    import psycopg

    what = "SELECT relname, relkind::text FROM pg_class WHERE relnamespace = 'public'::regnamespace ORDER BY 1"
    with psycopg.connect(place, autocommit=True) as strange:
        strange.execute(f"CREATE TABLE {make}")
        before = strange.execute(what).fetchall()
        with pytest.raises(NotThere, match="left as it was"):
            open_register(place, nothing, create=True)
        assert strange.execute(what).fetchall() == before


def test_none_is_made_where_none_is_meant(place: Path | str, tmp_path: Path) -> None:
    for create, read_only in ((False, False), (True, True)):
        with pytest.raises(NotThere, match=r"no such register|no register is there yet"):
            open_register(place, nothing, create=create, read_only=read_only)
    assert [one for one in tmp_path.iterdir() if one.suffix == ".db"] == []


def test_a_new_register_is_complete_and_nothing_is_rebuilt(place: Path | str, tmp_path: Path) -> None:
    opened = open_register(place, failing, create=True)
    assert opened.db.schema_version() == NEWEST
    assert opened.db.about()["derived"] == models.DERIVED
    assert (opened.zone, len(opened.terminal)) == ("UTC", 12)
    opened.db.close()
    again = open_register(place, failing, create=True)
    assert (again.terminal, again.zone) == (opened.terminal, opened.zone)
    again.db.close()
    assert not list(tmp_path.glob("**/*.new"))


@in_a_file
def test_a_newer_version_that_came_meanwhile_is_told(opened: Opened) -> None:
    with contextlib.closing(sqlite3.connect(opened.path, isolation_level=None)) as other:
        other.execute(f"PRAGMA user_version = {NEWEST + 1}")
    with pytest.raises(NotThere, match="another version of reelcare is using it; start this one again"):
        fill(opened.db, 1)


@pytest.mark.parametrize("path", VERSIONS, ids=lambda path: path.stem)
def test_an_older_version_opened_to_read_stays_byte_for_byte(path: Path, tmp_path: Path) -> None:
    old = tmp_path / "old.db"
    shutil.copy(path, old)
    before = old.read_bytes()
    assert sqlite_file.is_older(old)
    opened = open_register(old, one_machine, create=False, read_only=True)
    assert not opened.db.persistent
    assert len(opened.db.fetch(MachineRow.select())) == 1
    with pytest.raises(NotAllowed, match="open view only"):
        fill(opened.db, 99)
    with pytest.raises(CannotWrite, match="read-only"):
        opened.db.write(MachineRow.delete())
    opened.db.close()
    assert old.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["old.db"]


def test_todays_version_opened_to_read_stays_byte_for_byte(tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    opened = open_register(path, nothing, create=True)
    fill(opened.db, 1)
    opened.db.close()
    before = path.read_bytes()
    assert not sqlite_file.is_older(path)
    opened = open_register(path, failing, create=False, read_only=True)
    assert len(opened.db.fetch(EntryRow.select())) == 1
    opened.db.close()
    assert path.read_bytes() == before
    assert sorted(one.name for one in tmp_path.iterdir()) == ["r.db", "r.db.queue"]


@pytest.mark.parametrize("path", VERSIONS, ids=lambda path: path.stem)
def test_in_a_read_only_folder_it_is_read(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    old = tmp_path / "old.db"
    shutil.copy(path, old)
    before = old.read_bytes()
    with contextlib.closing(sqlite3.connect(old)) as db:
        ids = db.execute("SELECT id FROM entry ORDER BY number").fetchall()
    monkeypatch.setattr(os, "access", lambda *_: False)
    opened = open_register(old, one_machine, create=False)
    assert opened.db.fetch(EntryRow.select(EntryRow.id).order_by(EntryRow.number)) == ids
    with pytest.raises(CannotWrite, match="read-only"):
        fill(opened.db, 99)
    opened.db.close()
    assert old.read_bytes() == before
    monkeypatch.setattr(sqlite_file, "MOST_IN_MEMORY", 10)
    with pytest.raises(CannotWrite, match="copy it elsewhere, and open it there without --view"):
        open_register(old, one_machine, create=False)
    (tmp_path / "old.db-wal").write_bytes(b"x" * 10)
    with pytest.raises(CannotWrite, match="was not closed"):
        open_register(old, one_machine, create=False)


@pytest.mark.parametrize("path", VERSIONS, ids=lambda path: path.stem)
def test_an_upgrade_that_fails_leaves_the_older_register(path: Path, tmp_path: Path) -> None:
    old = tmp_path / "old.db"
    shutil.copy(path, old)
    before = content(old)
    with pytest.raises(Refused, match="cannot be rebuilt"):
        open_register(old, failing, create=False)
    assert content(old) == before
    opened = open_register(old, one_machine, create=False)
    assert opened.db.fetch(MachineRow.select()) == [tuple(MACHINE.values())]
    opened.db.close()


KILLED = """
import os, sys
from pathlib import Path
from reelcare.register.database.opening import open_register
open_register(Path(sys.argv[1]), lambda db: os._exit(9), create=False)
"""


@pytest.mark.parametrize(
    "path", [pytest.param(one, marks=() if one is VERSIONS[-1] else pytest.mark.long) for one in VERSIONS],
    ids=lambda path: path.stem,
)  # fmt: skip
def test_an_upgrade_that_is_killed_leaves_the_older_register(path: Path, tmp_path: Path) -> None:
    old = tmp_path / "old.db"
    shutil.copy(path, old)
    before = content(old)
    ended = subprocess.run([sys.executable, "-c", KILLED, str(old)], check=False)
    assert ended.returncode == 9
    assert content(old) == before
    opened = open_register(old, one_machine, create=False)
    assert opened.db.schema_version() == NEWEST
    opened.db.close()


def test_what_is_derived_by_another_version_is_rebuilt_and_only_then(place: Path | str) -> None:
    opened = open_register(place, nothing, create=True)
    fill(opened.db, 1)
    opened.db.keep_about(steps.MARK, "another")
    opened.db.execute_sql("ALTER TABLE machine_state ADD COLUMN more TEXT")
    opened.db.close()
    with pytest.raises(Refused, match="cannot be rebuilt"):
        open_register(place, failing, create=False)
    opened = open_register(place, one_machine, create=False)
    assert opened.db.about()["derived"] == models.DERIVED
    assert opened.db.execute_sql("SELECT * FROM machine_state").fetchall() == [tuple(MACHINE.values())]
    assert len(opened.db.fetch(EntryRow.select())) == 1
    opened.db.close()


def test_what_a_newer_version_has_upgraded_meanwhile_is_not_rebuilt(opened: Opened) -> None:
    opened.db.keep_about(steps.MARK, "another")
    opened.db.set_schema_version(NEWEST + 1)
    with pytest.raises(NotThere, match="newer version"):
        steps.upgrade(opened.db, failing)
    assert opened.db.about()[steps.MARK] == "another"


@on_a_server
def test_an_older_version_on_a_server_is_not_upgraded_to_be_read(place: str) -> None:
    opened = open_register(place, nothing, create=True)
    opened.db.keep_about(steps.MARK, "another")
    with pytest.raises(CannotWrite, match="open it once for writing, which brings it up to date"):
        open_register(place, failing, create=False, read_only=True)
    assert opened.db.about()[steps.MARK] == "another"
    opened.db.close()


@on_a_server
def test_who_may_add_entries_may_write_what_is_derived_after_it_was_made_anew(place: str) -> None:
    owner = open_register(place, nothing, create=True).db
    fill(owner, 1)
    for user, rights in (("looker", "SELECT"), ("adder", "SELECT, INSERT")):
        owner.execute_sql(f"DROP ROLE IF EXISTS {user}")
        owner.execute_sql(f"CREATE ROLE {user} LOGIN")
        owner.execute_sql(f"GRANT {rights} ON ALL TABLES IN SCHEMA public TO {user}")
    with owner.writing():
        steps.rebuild_derived(owner, one_machine)
    try:
        adder = open_register(place.replace("reel@", "adder@"), nothing, create=False).db
        adder.write(MachineRow.update(tag="R2").where(MachineRow.machine == "machine"))
        adder.close()
        looker = open_register(place.replace("reel@", "looker@"), nothing, create=False).db
        assert looker.fetch(MachineRow.select(MachineRow.tag)) == [("R2",)]
        with pytest.raises(CannotWrite, match="this database user may not do that; nothing was saved"):
            looker.write(MachineRow.delete())
        looker.close()
    finally:
        for user in ("looker", "adder"):
            owner.execute_sql(f"DROP OWNED BY {user}")
            owner.execute_sql(f"DROP ROLE {user}")
        owner.close()


def test_a_full_disk_is_told_before_sqlite_meets_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=1000))
    with pytest.raises(CannotWrite, match=r"^\S+/r\.db: only 0 KiB are free.*make room"):
        open_register(tmp_path / "r.db", nothing, create=True)
    assert list(tmp_path.iterdir()) == []
    monkeypatch.undo()
    open_register(tmp_path / "r.db", nothing, create=True).db.close()
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=7 * 2**20 + 512))
    with pytest.raises(CannotWrite, match="only 7168 KiB are free on this disk; make room"):
        open_register(tmp_path / "r.db", nothing, create=False)
    open_register(tmp_path / "r.db", nothing, create=False, read_only=True).db.close()


def test_a_file_that_may_not_be_read_is_told_as_such(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    open_register(tmp_path / "r.db", nothing, create=True).db.close()

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(CannotWrite, match="you may not read it"):
        open_register(tmp_path / "r.db", nothing, create=False)


def test_a_network_file_system_is_told_and_runs_without_a_log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sqlite_file, "network_kind", lambda path: "nfs4")
    db: Any = open_register(tmp_path / "r.db", nothing, create=True).db
    assert "network file system (nfs4)" in db.warning
    assert (db.pragma("journal_mode"), db.pragma("synchronous")) == ("delete", 3)
    fill(db, 1)
    db.close()


def test_a_file_on_a_local_disk_keeps_its_commits_through_a_power_cut(tmp_path: Path) -> None:
    db: Any = open_register(tmp_path / "r.db", nothing, create=True).db
    wanted = {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "recursive_triggers": 1, "trusted_schema": 0}
    assert {name: db.pragma(name) for name in wanted} == wanted
    assert (tmp_path / "r.db").stat().st_mode & 0o777 == 0o600
    db.close()


@on_a_server
def test_a_server_keeps_its_commits_and_a_password_is_never_shown(place: str) -> None:
    opened = open_register(place.replace("reel@", "reel:secret@"), nothing, create=True)
    assert ".pgpass" in opened.db.warning
    assert "secret" not in opened.db.warning + opened.db.where + repr(opened)
    assert opened.db.execute_sql("SHOW synchronous_commit").fetchone() == ("on",)
    assert opened.db.execute_sql("SHOW application_name").fetchone() == ("reelcare",)
    opened.db.close()


@on_a_server
def test_each_computer_is_a_terminal_of_its_own(opened: Opened, place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    again = open_register(place, nothing, create=False)
    assert (again.terminal, again.path) == (opened.terminal, opened.path)
    again.db.close()
    renamed = opening.rename_terminal(opened)
    assert renamed != opened.terminal
    monkeypatch.setenv("XDG_DATA_HOME", f"{os.environ['XDG_DATA_HOME']} of another computer")
    other = open_register(place, nothing, create=False)
    assert other.terminal not in (opened.terminal, renamed)
    assert other.path.name == opened.path.name
    other.path.with_name("terminal").write_bytes(b"ab~cd")
    with pytest.raises(NotThere, match="delete it to get a new one"):
        open_register(place, nothing, create=False)
    other.db.close()


@in_a_file
def test_a_terminal_in_a_file_can_be_renamed(opened: Opened) -> None:
    name = opening.rename_terminal(opened)
    assert name != opened.terminal
    assert opened.db.about()["terminal"] == name


def test_without_the_driver_the_cure_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "psycopg", None)
    with pytest.raises(NotThere, match=r"postgres`: .*start.py --with postgres|psycopg"):
        open_register("postgresql://mara@depot/reels", nothing, create=True)


def test_a_url_that_is_none_is_told_without_the_password() -> None:
    with pytest.raises(NotThere, match="cannot be read; write it as postgresql://USER@HOST/DATABASE") as refused:
        open_register("postgres://mara:se%zzcret@/reels", nothing, create=True)
    assert "cret" not in str(refused.value)


def test_the_short_form_of_a_servers_url_opens_the_same(place: Path | str) -> None:
    if isinstance(place, Path):
        assert not opening.on_a_server("postgres.db")
        return
    open_register(place.replace("postgresql://", "postgres://"), nothing, create=True).db.close()
    open_register(place, nothing, create=False).db.close()
