"""What the databases say is translated by their codes: each is provoked where it can be.

Codes: https://www.sqlite.org/rescode.html, https://www.postgresql.org/docs/current/errcodes-appendix.html.
"""

import contextlib
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import peewee as pw
import pytest

from reelcare.files import being_made
from reelcare.register.database import postgres
from reelcare.register.database.base import Database
from reelcare.register.database.errors import as_register_error, translate_errors
from reelcare.register.database.models import AboutRow, EntryRow
from reelcare.register.database.opening import Opened, open_register
from reelcare.register.database.sqlite import Sqlite
from reelcare.register.errors import Busy, CannotWrite, Damaged, NotAllowed, NotThere, Refused, RegisterError
from tests.register.database.conftest import fill, nothing, row
from tests.servers import Server, in_a_file

on_a_server = pytest.mark.parametrize("place", ["server"], indirect=True)


@in_a_file
def test_a_file_that_another_program_writes_to_is_busy(opened: Opened) -> None:
    opened.db.execute_sql("PRAGMA busy_timeout = 20")
    with contextlib.closing(sqlite3.connect(opened.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(Busy, match="another program is writing to it; nothing was saved, try again") as refused:
            fill(opened.db, 1)
    assert isinstance(refused.value.__cause__.orig, sqlite3.OperationalError)  # type: ignore[union-attr]
    fill(opened.db, 1)


def test_a_file_that_is_being_made_is_told_by_the_name_that_it_gets(tmp_path: Path) -> None:
    with being_made(tmp_path / "copy.db") as made, contextlib.closing(sqlite3.connect(made)) as db:
        db.execute("PRAGMA max_page_count = 1")
        with pytest.raises(CannotWrite, match=r"^\S+/copy\.db: the disk is full"), translate_errors(made):
            db.execute("CREATE TABLE one (text)")


@in_a_file
def test_a_full_disk_is_told_and_what_was_begun_is_rolled_back(db: Database) -> None:
    ((pages,),) = db.execute_sql("PRAGMA page_count").fetchall()
    db.execute_sql(f"PRAGMA max_page_count = {pages}")  # SQLITE_FULL, as a disk without room gives it
    with pytest.raises(CannotWrite, match="the disk is full; nothing was saved: make room"):
        fill(db, *range(1, 400))
    db.execute_sql("PRAGMA max_page_count = 100000")
    assert db.fetch(EntryRow.select()) == []
    fill(db, 1)


@in_a_file
def test_a_file_without_the_right_to_write_is_read_only(opened: Opened, db: Database) -> None:
    db.close()
    uri = f"file:{opened.path}?mode=ro"
    other = Sqlite(opened.path, uri=uri)
    other.connect()
    with pytest.raises(CannotWrite, match="it is read-only here; nothing was saved"):
        other.write(AboutRow.insert(name="x", value="y"))
    other.close()


def test_a_file_in_no_folder_and_one_that_is_no_database(tmp_path: Path) -> None:
    with pytest.raises(CannotWrite, match="cannot be opened here"), translate_errors("x"):
        Sqlite(tmp_path / "none" / "r.db").connect()
    text = tmp_path / "text.db"
    text.write_text("no database at all, though it is long enough to have a header\n" * 20)
    other = Sqlite(text)
    other.connect()
    with pytest.raises(NotThere, match="not a Reelcare register; it was left as it was"), translate_errors(text):
        other.pragma("user_version")
    other.close()


@in_a_file
def test_pages_that_were_overwritten_are_damage(opened: Opened, db: Database) -> None:
    fill(db, *range(1, 400))
    assert isinstance(db, Sqlite)
    assert db.keep_in_one_file()
    db.close()
    whole = opened.path.read_bytes()
    opened.path.write_bytes(whole[:8192] + b"\xff" * (len(whole) - 8192))
    damaged = open_register(opened.path, nothing, create=False).db
    with pytest.raises(Damaged, match="it is damaged; keep it as it is"), contextlib.closing(damaged):
        damaged.fetch(EntryRow.select())


@in_a_file
def test_text_that_is_no_utf_8_is_damage_unless_it_is_read_leniently(db: Database) -> None:
    fill(db, 1)
    db.execute_sql("DROP TRIGGER entry_is_never_changed")
    db.execute_sql("UPDATE entry SET person = CAST(? AS TEXT)", (memoryview(b"Zo\xff"),))
    persons = EntryRow.select(EntryRow.person)
    with pytest.raises(Damaged, match="it is damaged"):
        db.fetch(persons)
    with db.lenient_text():
        assert db.fetch(persons) == [("Zo\ufffd",)]
    assert db.integrity_problems() == []


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"id": "id1"}, "id|never replaced"),
        ({"place": None}, "place"),
        ({"happened": "yesterday"}, "happened|bigint|INTEGER"),
    ],
)
def test_a_row_that_breaks_a_rule_of_its_table_is_refused(db: Database, more: dict[str, Any], says: str) -> None:
    fill(db, 1)
    with pytest.raises(Refused, match=says):
        db.write(EntryRow.insert(**(row(2) | {k: pw.Value(v, converter=False) for k, v in more.items()})))
    with pytest.raises(Refused, match=says):
        fill(db, 2, **more)
    assert len(db.fetch(EntryRow.select())) == 1


def test_a_register_opened_to_read_refuses_to_write_and_so_does_the_database(place: Path | str) -> None:
    open_register(place, nothing, create=True).db.close()
    opened = open_register(place, nothing, create=False, read_only=True)
    with pytest.raises(NotAllowed, match="open view only; nothing was saved"):
        fill(opened.db, 1)
    with pytest.raises(CannotWrite, match="read-only here"):
        opened.db.write(AboutRow.insert(name="x", value="y"))
    opened.db.close()


@pytest.mark.long
@on_a_server
def test_a_server_on_which_somebody_else_writes_is_busy(opened: Opened, place: str) -> None:
    other = open_register(place, nothing, create=False)
    other.db.execute_sql("SET lock_timeout = '20ms'")
    with opened.db.writing():
        with pytest.raises(Busy, match="another program is writing to it; nothing was saved"):
            fill(other.db, 1)
        # who reads does not wait
        assert other.db.fetch(EntryRow.select()) == []
    fill(other.db, 1)
    other.db.close()


@on_a_server
def test_a_connection_that_was_lost_is_told_and_the_next_try_connects_again(opened: Opened, place: str) -> None:
    db = opened.db
    other = open_register(place, nothing, create=False).db

    def cut() -> None:
        ((pid,),) = db.execute_sql("SELECT pg_backend_pid()").fetchall()
        assert other.execute_sql("SELECT pg_terminate_backend(%s, 5000)", (pid,)).fetchone() == (True,)

    def write_and_cut() -> None:
        with db.writing():
            db.write(AboutRow.insert(name="x", value="y"))
            cut()

    cut()
    with pytest.raises(Busy, match="check what was saved, and try again"):
        db.fetch(AboutRow.select())
    fill(db, 1)
    with pytest.raises(Busy, match="check what was saved, and try again"):
        write_and_cut()
    assert len(db.fetch(EntryRow.select())) == 1
    # to read only means so on the new connection as well
    db.make_read_only()
    cut()
    with pytest.raises(Busy):
        db.fetch(AboutRow.select())
    with pytest.raises(CannotWrite, match="read-only here"):
        db.write(AboutRow.insert(name="x", value="y"))
    assert not other.fetch(AboutRow.select().where(AboutRow.name == "x"))
    other.close()


@on_a_server
@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("reel@", "nobody@"), "the server has no such database or user"),
        (("/reels_", "/none_"), "the server has no such database or user"),
        (("?host=", "?host=/no/such/folder"), "no server answers there"),
    ],
)
def test_who_and_what_a_server_does_not_know(place: str, change: tuple[str, str], says: str) -> None:
    with pytest.raises(NotThere, match=says):
        open_register(place.replace(*change), nothing, create=True)


def test_a_server_that_does_not_answer_is_told_without_the_password() -> None:
    for url, says in (("127.0.0.1:1", "no server answers there"), ("no-such-host.invalid", "no such host")):
        with pytest.raises(NotThere, match=says) as refused:
            open_register(f"postgresql://mara:secret@{url}/reels", nothing, create=True)
        assert "secret" not in str(refused.value)


def open_until_refused(url: str) -> None:
    """Open a register again and again: the server reads its rules in its own time."""
    for _ in range(1000):
        open_register(url, nothing, create=False).db.close()


@pytest.fixture
def locked(place: str, postgres_server: Server, opened: Opened) -> Iterator[Path]:
    """A database user with the password `right`, and the file of the server's rules about who is let in."""
    rules = postgres_server.folder / "data" / "pg_hba.conf"
    before = rules.read_text()
    opened.db.execute_sql("DROP ROLE IF EXISTS locked")
    opened.db.execute_sql("CREATE ROLE locked LOGIN PASSWORD 'right'")
    yield rules
    rules.write_text(before)
    opened.db.execute_sql("SELECT pg_reload_conf()")
    opened.db.execute_sql("DROP ROLE locked")


@on_a_server
@pytest.mark.parametrize(
    ("rule", "password", "says"),
    [
        ("scram-sha-256", "", "does not let this user in; check user and password"),
        ("scram-sha-256", ":wrong", "does not let this user in; check user and password"),
        ("reject", "", "the server does not let this user in"),
    ],
)
def test_who_a_server_does_not_let_in_is_told_the_cure(
    opened: Opened, place: str, locked: Path, rule: str, password: str, says: str
) -> None:
    opened.db.execute_sql("GRANT SELECT ON ALL TABLES IN SCHEMA public TO locked")
    locked.write_text(f"local all locked {rule}\n{locked.read_text()}")
    opened.db.execute_sql("SELECT pg_reload_conf()")
    with pytest.raises(NotThere, match=says) as refused:
        open_until_refused(place.replace("reel@", f"locked{password}@"))
    assert "wrong" not in str(refused.value)
    opened.db.execute_sql("DROP OWNED BY locked")


@on_a_server
def test_a_server_that_takes_no_more_connections_is_busy(opened: Opened, place: str, locked: Path) -> None:
    opened.db.execute_sql("ALTER ROLE locked CONNECTION LIMIT 0")
    with pytest.raises(Busy, match="too many programs use the server; nothing was saved, try again"):
        open_register(place.replace("reel@", "locked@"), nothing, create=False)


@on_a_server
@pytest.mark.parametrize(
    ("code", "kind", "says"),
    [
        ("53100", CannotWrite, "the server's disk is full; nothing was saved"),
        ("XX001", Damaged, "it is damaged"),
        ("40P01", Busy, "nothing was saved, try again"),
        ("57P01", Busy, "check what was saved"),
        ("08006", Busy, "the connection was lost"),
        ("22003", Refused, "it says so"),
    ],
)
def test_what_cannot_be_provoked_is_raised_on_the_server_by_its_code(
    db: Database, code: str, kind: type[RegisterError], says: str
) -> None:
    with pytest.raises(kind, match=says), translate_errors("x"):
        db.execute_sql(f"DO $$ BEGIN RAISE EXCEPTION 'it says so' USING ERRCODE = '{code}'; END $$")


@pytest.mark.long
@on_a_server
@pytest.mark.skipif(shutil.which("mount") is None, reason="a small disk needs a mount")
def test_a_servers_full_disk_is_told_and_nothing_is_saved(db: Database, postgres_server: Server) -> None:
    import subprocess

    from tests.servers import nobody

    small = postgres_server.folder / "small"
    small.mkdir(exist_ok=True)
    if subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", small], capture_output=True, check=False
    ).returncode:
        pytest.skip("this user may not mount a small disk")
    try:
        if user := nobody():
            shutil.chown(small, user)
        db.execute_sql(f"CREATE TABLESPACE small LOCATION '{small}'")
        db.execute_sql("ALTER TABLE entry SET TABLESPACE small")
        with pytest.raises(CannotWrite, match="the server's disk is full; nothing was saved") as refused:
            fill(db, *range(1, 40_000))
        assert refused.value.__cause__.sqlstate == "53100"  # type: ignore[union-attr]
        assert db.fetch(EntryRow.select()) == []
        db.execute_sql("ALTER TABLE entry SET TABLESPACE pg_default")
        db.execute_sql("DROP TABLESPACE small")
    finally:
        subprocess.run(["umount", small], check=True)


def test_an_error_of_the_program_itself_is_not_translated() -> None:
    with pytest.raises(KeyError), translate_errors("x"):
        raise KeyError("a slip")
    with pytest.raises(Busy), translate_errors("x"):
        raise Busy("y: said already")
    assert str(as_register_error("r.db", pw.OperationalError("one\nanother"))) == "r.db: one"


@pytest.mark.parametrize(
    ("parts", "is_encrypted", "warns"),
    [
        ({"host": "depot.example"}, False, "not encrypted"), ({"host": "depot.example"}, True, ""),
        ({"host": "localhost"}, False, ""), ({"host": "/run/postgresql"}, False, ""), ({}, False, ""),
        ({"host": "depot.example", "password": "x"}, True, "can be read by others"),
    ],
)  # fmt: skip
def test_a_server_far_away_without_encryption_is_warned_of(
    parts: dict[str, str], is_encrypted: bool, warns: str
) -> None:
    connection = SimpleNamespace(pgconn=SimpleNamespace(ssl_in_use=is_encrypted))
    told = postgres._warning(SimpleNamespace(where="depot", connection=lambda: connection), parts)  # type: ignore[arg-type]
    assert warns in told
    assert bool(told) == bool(warns)
