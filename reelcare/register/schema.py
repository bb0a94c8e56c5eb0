"""The tables of a register, and the careful opening of one.

A file that is not a register of ours is refused before the engine touches it, and stays byte for byte as it
was. WAL with synchronous FULL: a commit survives a power cut where the disk keeps its word.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

# peewee tries to import psycopg when it is itself imported, which costs more than all of the rest; a register
# in a file has no use for it
_no_postgres = "psycopg" not in sys.modules
if _no_postgres:
    sys.modules["psycopg"] = None  # type: ignore[assignment]
import peewee as pw  # noqa: E402 -- after the guard above

if _no_postgres:
    del sys.modules["psycopg"]

from reelcare.register import steps  # noqa: E402
from reelcare.register.errors import (  # noqa: E402
    Busy,
    CannotWrite,
    NotThere,
    NotWhole,
    Refused,
    RegisterError,
)
from reelcare.register.mounts import network_kind  # noqa: E402

MAGIC = b"SQLite format 3\x00"
ROOM_NEEDED = 8 * 1024 * 1024
"""Free bytes below which a register is not opened: on a full disk the shared memory of WAL can kill the process."""

PRAGMAS = {
    "journal_mode": "wal",
    "synchronous": 2,  # FULL
    "foreign_keys": 1,
    "recursive_triggers": 1,  # REPLACE fires the triggers that forbid it
    "trusted_schema": 0,
    "mmap_size": 0,
}


EXTRA = 3
"""The sync that a rollback journal needs so that a commit survives a power cut; used where there can be no WAL."""


class Table(pw.Model):
    """What all tables share. No database is bound: each query is run on the register's own."""

    class Meta:
        """STRICT tables with names in words."""

        legacy_table_names = False
        strict_tables = True


class AboutRow(Table):
    """A fact about this file: its terminal's id, when it was made."""

    name = pw.TextField(primary_key=True)
    value = pw.TextField()

    class Meta:
        """See `steps.FIRST`."""

        table_name = "about"


class EntryRow(Table):
    """One entry; `body` is canonical JSON, times are milliseconds since 1970 in UTC."""

    number = pw.AutoField()
    id = pw.TextField(unique=True)
    kind = pw.TextField()
    machine = pw.TextField(null=True)
    happened = pw.IntegerField()
    recorded = pw.IntegerField()
    terminal = pw.TextField()
    person = pw.TextField()
    refers = pw.TextField(null=True)
    body = pw.TextField()
    place = pw.IntegerField()
    digest = pw.TextField()

    class Meta:
        """See `steps.FIRST`."""

        table_name = "entry"


class MachineNowRow(Table):
    """A machine's totals and tally as they stand: derived, and made again by `rebuild`."""

    machine = pw.TextField(primary_key=True)
    tag = pw.TextField()
    name = pw.TextField()
    place = pw.TextField()
    seconds = pw.IntegerField()
    millimetres = pw.IntegerField()
    runs = pw.IntegerField()
    card = pw.TextField()
    tally = pw.TextField()

    class Meta:
        """See `steps.FIRST`."""

        table_name = "machine_now"


def open_database(path: Path, *, create: bool) -> pw.SqliteDatabase:
    """The register at `path`, with every step taken. Raises a RegisterError in one clear line."""
    if path.exists():
        _refuse_strangers(path)
    elif not create:
        raise NotThere(f"{path}: no such register")
    else:
        _make_empty(path)
    if not os.access(path.parent, os.W_OK):
        return _open_to_read(path)
    _refuse_full_disk(path)
    db = pw.SqliteDatabase(str(path), autoconnect=False, lock_type="IMMEDIATE", timeout=5)
    return _connected(db, path)


def _open_to_read(path: Path) -> pw.SqliteDatabase:
    """A register in a folder that nothing can be written to, such as an auditor's copy: it can be read.

    The engine cannot make its shared memory there, so the file is opened as one that does not change.
    """
    wal = path.with_name(f"{path.name}-wal")
    if wal.exists() and wal.stat().st_size:
        raise CannotWrite(f"{path}: its folder is read-only and it was not closed; copy both files elsewhere")
    uri = f"file:{quote(str(path.resolve()))}?mode=ro&immutable=1"
    db = pw.SqliteDatabase(uri, uri=True, autoconnect=False, lock_type="IMMEDIATE")
    return _connected(db, path, reads_only=True)


def _connected(db: pw.SqliteDatabase, path: Path, *, reads_only: bool = False) -> pw.SqliteDatabase:
    with plainly(path):
        db.connect()
        try:
            _settle(db, path, reads_only=reads_only)
        except BaseException:
            db.close()
            raise
    return db


def _settle(db: pw.SqliteDatabase, path: Path, *, reads_only: bool) -> None:
    done = steps.taken(db)
    if done > steps.NEWEST:
        raise NotThere(
            f"{path}: a register of a newer version (its schema is {done}, this program knows {steps.NEWEST}): "
            "open it with a newer reelcare"
        )
    network = network_kind(path)
    for name, value in PRAGMAS.items():
        if name != "journal_mode":
            db.execute_sql(f"PRAGMA {name} = {value}")
    if network:
        db.execute_sql(f"PRAGMA synchronous = {EXTRA}")
    if done < steps.NEWEST and not reads_only:
        if done == 0:
            db.execute_sql(f"PRAGMA application_id = {steps.APPLICATION_ID}")
        steps.take(db)
    wanted = "delete" if network else "wal"
    if db.execute_sql("PRAGMA journal_mode").fetchone()[0] != wanted and os.access(path.parent, os.W_OK):
        db.execute_sql(f"PRAGMA journal_mode = {wanted}")


def heed(path: Path) -> str:
    """What a person should know of where a register stands; '' where nothing."""
    network = network_kind(path)
    if not network:
        return ""
    return (
        f"{path}: on a network file system ({network}), where several terminals must not write at once; "
        "keep it on this computer's own disk and use carry files"
    )


def _refuse_strangers(path: Path) -> None:
    if path.is_dir():
        raise NotThere(f"{path}: a folder, not a register")
    try:
        with path.open("rb") as file:
            head = file.read(100)
    except PermissionError:
        raise CannotWrite(f"{path}: may not be read by you") from None
    if not head:
        raise NotThere(f"{path}: an empty file, not a register; it was left as it was")
    if len(head) < 100 or not head.startswith(MAGIC):
        raise NotThere(f"{path}: not a register of ours; it was left as it was")
    if int.from_bytes(head[68:72], "big") != steps.APPLICATION_ID:
        raise NotThere(f"{path}: a database, but not a register of ours; it was left as it was")
    newest = int.from_bytes(head[60:64], "big")
    if newest > steps.NEWEST:
        raise NotThere(
            f"{path}: a register of a newer version (its schema is {newest}, this program knows {steps.NEWEST}): "
            "open it with a newer reelcare"
        )


def _make_empty(path: Path) -> None:
    """A new register under a name of its own until its schema stands, then under `path`: never half a register."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        building = path.with_name(f".{path.name}.{os.getpid()}.new")
        os.close(os.open(building, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    except FileNotFoundError:
        raise NotThere(f"{path.parent}: no such folder") from None
    except OSError as why:
        raise CannotWrite(f"{path}: cannot be made here ({why.strerror})") from None
    try:
        _refuse_full_disk(building)
        with plainly(path):
            db = pw.SqliteDatabase(str(building), autoconnect=False, lock_type="IMMEDIATE")
            db.connect()
            db.execute_sql(f"PRAGMA application_id = {steps.APPLICATION_ID}")
            steps.take(db)
            db.close()
        try:
            os.link(building, path)
        except FileExistsError:
            pass  # another process made it in the same moment; ours is thrown away
        except OSError:
            building.replace(path)  # a file system without links
    finally:
        building.unlink(missing_ok=True)


def _refuse_full_disk(path: Path) -> None:
    try:
        free = shutil.disk_usage(path.parent).free
    except OSError:
        return
    if free < ROOM_NEEDED:
        raise CannotWrite(
            f"{path}: only {free // 1024} KiB are free on this disk; make room (at least 8 MiB) and try again"
        )


_PLAIN: tuple[tuple[str, type[RegisterError], str], ...] = (
    ("locked", Busy, "another program is writing to it; nothing was saved, try again"),
    ("busy", Busy, "another program is writing to it; nothing was saved, try again"),
    ("full", CannotWrite, "the disk is full; nothing was saved: make room and try again"),
    ("readonly", CannotWrite, "it is read-only here; nothing was saved"),
    ("unable to open", CannotWrite, "it cannot be opened here (folder missing, or not yours)"),
    ("disk I/O", CannotWrite, "the disk failed; nothing was saved"),
    ("malformed", NotWhole, "it is damaged; keep it as it is and go back to a copy"),
    ("decode to UTF-8", NotWhole, "it is damaged; keep it as it is and go back to a copy"),
    ("not a database", NotThere, "not a register of ours; it was left as it was"),
)


@contextlib.contextmanager
def plainly(path: object) -> Iterator[None]:
    """Turns what the engine says into a RegisterError in plain words."""
    try:
        yield
    except (pw.PeeweeException, sqlite3.Error) as why:
        raise _told(path, why) from why


def _told(path: object, why: Exception) -> RegisterError:
    text = str(why)
    for mark, kind, says in _PLAIN:
        if mark in text:
            return kind(f"{path}: {says}")
    return Refused(f"{path}: {text}")


def rows(db: pw.SqliteDatabase, sql: str, *values: Any) -> list[tuple[Any, ...]]:
    """All rows of one SELECT. Raises a RegisterError in plain words."""
    try:
        return list(db.execute_sql(sql, values).fetchall())
    except (pw.PeeweeException, sqlite3.Error) as why:
        raise _told(db.database, why) from why


def rows_named(db: pw.SqliteDatabase, sql: str, values: dict[str, Any]) -> list[tuple[Any, ...]]:
    """All rows of one SELECT whose values have names."""
    cursor = db.connection().execute(sql, values)
    try:
        return list(cursor.fetchall())
    finally:
        cursor.close()
