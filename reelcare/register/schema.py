"""The tables of a register, and the careful opening of one.

A file that is not a register of ours is refused before the engine touches it, and stays byte for byte as it
was. WAL with synchronous FULL: a commit survives a power cut where the disk keeps its word.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, ClassVar
from urllib.parse import quote

from reelcare import files
from reelcare.register import steps
from reelcare.register.engine import Engine, in_parts, plainly, pw, rows, rows_named
from reelcare.register.errors import CannotWrite, NotThere
from reelcare.register.mounts import network_kind

__all__ = ["Engine", "Sqlite", "in_parts", "open_database", "plainly", "rows", "rows_named"]

MAGIC = b"SQLite format 3\x00"

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


class Sqlite(Engine, pw.SqliteDatabase):
    """A register in a file."""

    greatest: ClassVar[str] = "MAX"
    by_scan: ClassVar[str] = "NOT INDEXED"

    def __init__(self, path: Path, *, uri: str = "") -> None:
        more = {"uri": True} if uri else {}
        super().__init__(uri or str(path), autoconnect=False, lock_type="IMMEDIATE", timeout=5, **more)
        self.where = str(path)
        self._is_uri = bool(uri)

    def rollback(self) -> None:
        """Take back what is not committed.

        A disk that is full or fails makes the engine take it back by itself; to ask it again then is an error, which
        would be told in the place of what went wrong.
        """
        if not self.is_closed() and not self.connection().in_transaction:
            return
        super().rollback()

    @contextlib.contextmanager
    def hurried(self) -> Iterator[None]:
        """While it lasts, commits are not waited for (NORMAL)."""
        before = rows(self, "PRAGMA synchronous")[0][0]
        self.execute_sql("PRAGMA synchronous = 1")
        try:
            yield
        finally:
            self.execute_sql(f"PRAGMA synchronous = {before}")

    def only_look(self) -> None:
        """From now on refuse every change, here and in SQLite itself."""
        super().only_look()
        self.execute_sql("PRAGMA query_only = 1")

    def shape(self) -> int:
        """How many steps of the schema this register has taken."""
        return steps.taken(self)

    def has_table(self, name: str) -> bool:
        """Whether there is a table of this name."""
        return bool(rows(self, "SELECT 1 FROM sqlite_master WHERE name = ?", name))

    def many(self, sql: str, values: Iterable[tuple[Any, ...]]) -> None:
        """One statement for many rows of values."""
        self.connection().executemany(sql, values)

    def change(self) -> object:
        """A mark that is another one once another connection has written."""
        return rows(self, "PRAGMA data_version")[0][0]

    def faults(self) -> list[str]:
        """What SQLite finds wrong with tables, indexes and references."""
        with plainly(self.where):
            return _faults(self.connection())

    @contextlib.contextmanager
    def faults_beside(self) -> Iterator[Callable[[], list[str]]]:
        """While it lasts, faults are looked for on a connection and a processor of their own; the call gives them.

        What is left before it is asked for ends the search. A register in memory has no second connection.
        """
        if not self.lasts:
            yield self.faults
            return
        found: list[str] = []
        failed: list[Exception] = []
        connection = sqlite3.connect(self.database, uri=self._is_uri, check_same_thread=False)
        connection.text_factory = _whatever_it_is

        def look() -> None:
            try:
                found.extend(_faults(connection))
            except Exception as why:
                failed.append(why)

        def told() -> list[str]:
            beside.join()
            if failed:
                with plainly(self.where):
                    raise failed[0]
            return found

        beside = threading.Thread(target=look)
        beside.start()
        try:
            yield told
        finally:
            connection.interrupt()
            beside.join()
            connection.close()

    @contextlib.contextmanager
    def damaged_text_is_read(self) -> Iterator[None]:
        """While it lasts, text that is no UTF-8 is read all the same, so that its entry can be named."""
        connection = self.connection()
        before = connection.text_factory
        connection.text_factory = _whatever_it_is
        try:
            yield
        finally:
            connection.text_factory = before


def _whatever_it_is(data: bytes) -> str:
    """Text that is no UTF-8 is read all the same."""
    return data.decode("utf-8", "replace")


def _faults(connection: sqlite3.Connection) -> list[str]:
    found = [str(text) for (text,) in connection.execute("PRAGMA integrity_check(20)") if text != "ok"]
    return found + [f"{row[0]}: a row refers to nothing" for row in connection.execute("PRAGMA foreign_key_check")]


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
    checked = pw.IntegerField(null=True)
    held = pw.IntegerField(null=True)
    run_held_day = pw.IntegerField(null=True)
    road_held_day = pw.IntegerField(null=True)
    run_from = pw.IntegerField(null=True)
    run_until = pw.IntegerField(null=True)
    road_from = pw.IntegerField(null=True)
    road_until = pw.IntegerField(null=True)
    life = pw.FloatField(null=True)
    next_item = pw.TextField(null=True)
    life_day = pw.IntegerField(null=True)

    class Meta:
        """See `steps.FIRST`."""

        table_name = "machine_now"


def open_database(path: Path, *, create: bool, look: bool = False) -> Sqlite:
    """The register at `path`, with every step taken. Raises a RegisterError in one clear line.

    To `look` only, the file stays as it was: one of an older version is brought up to date in memory alone.
    """
    if path.exists():
        _refuse_strangers(path)
    elif not create:
        raise NotThere(f"{path}: no such register")
    else:
        _make_empty(path)
    if not os.access(path.parent, os.W_OK):
        return _open_to_read(path)
    if look:
        uri = _to_read(path)
        return _in_memory(path, uri) if _is_older(uri) else _connected(Sqlite(path), path, reads_only=True)
    _refuse_full_disk(path)
    return _connected(Sqlite(path), path)


def _open_to_read(path: Path) -> Sqlite:
    """A register in a folder that nothing can be written to, such as an auditor's copy: it can be read.

    The engine cannot make its shared memory there, so the file is opened as one that does not change.
    """
    wal = path.with_name(f"{path.name}-wal")
    if wal.exists() and wal.stat().st_size:
        raise CannotWrite(f"{path}: its folder is read-only and it was not closed; copy both files elsewhere")
    uri = f"file:{quote(str(path.resolve()))}?mode=ro&immutable=1"
    if _is_older(uri):
        return _in_memory(path, uri)
    return _connected(Sqlite(path, uri=uri), path, reads_only=True)


def is_older(path: Path) -> bool:
    """Whether this register would be brought up to date as it is opened. Raises a RegisterError as `open_database`;
    nothing is changed."""
    _refuse_strangers(path)
    return _is_older(_to_read(path))


def _to_read(path: Path) -> str:
    """How the engine is told to read a file and change nothing.

    Where no log stands beside it, nobody has it in hand, and none is to be made.
    """
    logs = any(path.with_name(path.name + end).exists() for end in ("-wal", "-journal"))
    lasting = "" if logs and os.access(path.parent, os.W_OK) else "&immutable=1"
    return f"file:{quote(str(path.resolve()))}?mode=ro{lasting}"


def _is_older(uri: str) -> bool:
    """Whether an older version wrote this register, so that it must be brought up to date before it is read."""
    with plainly(uri), contextlib.closing(sqlite3.connect(uri, uri=True)) as db:
        shape = int(db.execute("PRAGMA user_version").fetchone()[0])
        derived = db.execute("SELECT value FROM about WHERE name = 'derived'").fetchone()
        return shape < steps.NEWEST or derived != (steps.DERIVED,)


MOST_IN_MEMORY = 512 << 20
"""The largest register of an older version that is read where nothing can be written."""


def _in_memory(path: Path, uri: str) -> Sqlite:
    """A register of an older version that may not be changed, brought up to date in memory alone."""
    if path.stat().st_size > MOST_IN_MEMORY:
        raise CannotWrite(
            f"{path}: an older version wrote it, and it is read-only here; copy it elsewhere to open it, and not to"
            " look only"
        )
    db = Sqlite(path, uri="file:reelcare?mode=memory")
    with plainly(path):
        db.connect()
        with contextlib.closing(sqlite3.connect(uri, uri=True)) as kept:
            kept.backup(db.connection())
        steps.take(db)
    db.lasts = False
    return db


def _connected(db: Sqlite, path: Path, *, reads_only: bool = False) -> Sqlite:
    with plainly(path):
        db.connect()
        try:
            _settle(db, path, reads_only=reads_only)
        except BaseException:
            db.close()
            raise
    return db


def _settle(db: Sqlite, path: Path, *, reads_only: bool) -> None:
    done = steps.taken(db)
    if done > steps.NEWEST:
        raise NotThere(
            f"{path}: a register of a newer version (its schema is {done}, this program knows {steps.NEWEST}): "
            "open it with a newer reelcare"
        )
    network = network_kind(path)
    db.heed = _heed(path, network)
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
    if reads_only:
        return
    if db.execute_sql("PRAGMA journal_mode").fetchone()[0] != wanted and os.access(path.parent, os.W_OK):
        db.execute_sql(f"PRAGMA journal_mode = {wanted}")


def _heed(path: Path, network: str) -> str:
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
    except OSError as why:
        raise CannotWrite(f"{path}: cannot be opened ({why.strerror})") from None
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
        building = files.building(path)
        os.close(os.open(building, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    except FileNotFoundError:
        raise NotThere(f"{path.parent}: no such folder") from None
    except OSError as why:
        raise CannotWrite(f"{path}: cannot be made here ({why.strerror})") from None
    try:
        _refuse_full_disk(building)
        with plainly(path):
            db = Sqlite(building)
            db.connect()
            db.execute_sql(f"PRAGMA application_id = {steps.APPLICATION_ID}")
            steps.take(db)
            db.close()
        with contextlib.suppress(FileExistsError):
            # where another process made it in the same moment, ours is thrown away
            files.settle(building, path)
    except OSError as why:
        raise CannotWrite(f"{path}: cannot be made here ({why.strerror})") from None
    finally:
        building.unlink(missing_ok=True)


def _refuse_full_disk(path: Path) -> None:
    try:
        free = shutil.disk_usage(path.parent).free
    except OSError:
        return
    if free < steps.ROOM_NEEDED:
        raise CannotWrite(
            f"{path}: only {free // 1024} KiB are free on this disk; make room (at least 8 MiB) and try again"
        )
