"""A register in a SQLite file: the engine.

WAL with synchronous FULL: a commit survives a power cut where the disk keeps its word. Raw SQL: PRAGMA, which no
builder has; the triggers and released steps (`in_sqlite`).
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import chain
from pathlib import Path
from typing import Any, ClassVar

import peewee as pw

from reelcare import files
from reelcare.core.text import _, mark
from reelcare.register.database import write_queue
from reelcare.register.database.base import Database, Row
from reelcare.register.database.errors import translate_errors
from reelcare.register.database.models import APPLICATION_ID, RegisterTable
from reelcare.register.database.released import in_sqlite
from reelcare.register.errors import NotThere

PRAGMAS = {
    "synchronous": 2,  # FULL
    "foreign_keys": 1,
    "recursive_triggers": 1,  # REPLACE fires the triggers that forbid it
    "trusted_schema": 0,
    "mmap_size": 0,
    "cache_size": -1000,  # KiB: what is read once through is not read again soon, and an app would keep it for days
}
EXTRA = 3
"""The `synchronous` that a rollback journal needs so that a commit survives a power cut, where there can be no WAL."""
MOST_PROBLEMS = 20


class Sqlite(Database, pw.SqliteDatabase):
    """A register in a file."""

    released: ClassVar[tuple[tuple[str, ...], ...]] = in_sqlite.STEPS
    triggers: ClassVar[tuple[str, ...]] = in_sqlite.TRIGGERS
    column_types: ClassVar[Mapping[str, str]] = {"TEXT": "TEXT", "BIGINT": "INTEGER", "BIGAUTO": "INTEGER"}

    def __init__(self, path: Path, *, uri: str = "") -> None:
        self._is_unchanging = bool(uri)
        """A copy in memory, or a file that nothing can be written to: nobody else is to be waited for."""
        more = {"uri": True} if uri else {}
        super().__init__(uri or str(path), autoconnect=False, lock_type="IMMEDIATE", timeout=5, **more)
        self.where = str(path)
        self._has_turn = False
        self._path = path.absolute()
        self._file: tuple[int, int] | None = None
        """Which file it is that was opened: its disk and its number there."""
        self._inserts: dict[tuple[str, ...], str] = {}
        """The statements of `insert_many`, by table and columns."""

    def connect(self, reuse_if_open: bool = False) -> bool:
        """Open the file, and keep in mind which one it is."""
        is_opened = bool(super().connect(reuse_if_open))
        self._file = _number_of(self._path)
        return is_opened

    def rollback(self) -> None:
        """Roll back what is not committed.

        On a full or failing disk SQLite rolls back by itself; asking again would be an error that hides the first.
        """
        if not self.is_closed() and not self.connection().in_transaction:
            return
        super().rollback()

    @contextlib.contextmanager
    def writing(self) -> Iterator[None]:
        """One transaction beside which nobody else writes, when it is this one's turn. Raises as `Database.writing`."""
        if self._is_alone() or self.in_transaction():
            with super().writing():
                yield
            return
        turn = write_queue.turn(Path(self.where), lambda: int(self.pragma("busy_timeout")) / 1000)
        with contextlib.nullcontext() if self._has_turn else turn:
            self.refuse_another_file()
            with super().writing():
                yield

    def refuse_another_file(self) -> None:
        """Raise NotThere where another file lies in place of the one that was opened: what is written goes into the log
        beside it, which would be taken for that file's, and what is read there nobody else goes by."""
        if _number_of(self._path) != self._file:
            says = mark(
                "{where}: the file was taken away or replaced while it was open here; nothing was saved, start "
                "this program again"
            )
            raise NotThere(_(says, where=self.where))

    def _is_alone(self) -> bool:
        """Whether there is nobody to wait for."""
        return self.read_only or self._is_unchanging or files.is_being_made(Path(self.where))

    def try_turn(self) -> contextlib.AbstractContextManager[None] | None:
        """The turn to write, as `Database.try_turn`; a program that knows no queue is seen by SQLite's own lock."""
        if self._is_alone() or self._has_turn or self.in_transaction():
            return contextlib.nullcontext()
        handle = write_queue.taken(Path(self.where))
        if handle is None:
            return None
        try:
            with translate_errors(self.where):
                is_locked = self._is_locked()
        except BaseException:
            _let_go(handle)
            raise
        if is_locked:
            _let_go(handle)
            return None
        return self._turn(handle)

    @contextlib.contextmanager
    def _turn(self, handle: int) -> Iterator[None]:
        self._has_turn = True
        try:
            yield
        finally:
            self._has_turn = False
            _let_go(handle)

    def _is_locked(self) -> bool:
        """Whether somebody writes in this very moment."""
        patience = self.pragma("busy_timeout")
        self.pragma("busy_timeout", 0)
        try:
            self.connection().execute("BEGIN IMMEDIATE")
            self.connection().execute("ROLLBACK")
        except sqlite3.OperationalError as why:
            return why.sqlite_errorname.startswith("SQLITE_BUSY")
        finally:
            self.pragma("busy_timeout", patience)
        return False

    def _insert_many(self, table: type[RegisterTable], columns: Sequence[pw.Field[Any]], rows: Iterable[Row]) -> None:
        waiting = iter(rows)
        first = next(waiting, None)
        if first is None:
            return
        # one statement for all rows, and built once: building it takes several times as long as it runs for one row
        named = (table.__name__, *(one.name for one in columns))
        text = self._inserts.get(named)
        if text is None:
            text, _ = self.get_sql_context().sql(table.insert_many([first], fields=list(columns))).query()
            self._inserts[named] = text
        self.connection().executemany(text, chain((first,), waiting))

    def make_read_only(self) -> None:
        """From now on refuse every change, here and in SQLite itself."""
        super().make_read_only()
        self.refuse_changes()

    def refuse_changes(self) -> None:
        """Have SQLite refuse every change, as it does for a file that is read-only."""
        self.pragma("query_only", 1)

    def schema_version(self) -> int:
        """How many schema steps this register has taken (`user_version`)."""
        return int(self.pragma("user_version"))

    def set_schema_version(self, version: int) -> None:
        """Record how many schema steps the register has taken."""
        self.pragma("user_version", version)

    def mark_as_register(self) -> None:
        """Write the application id into the header of the file."""
        self.pragma("application_id", APPLICATION_ID)

    def change_token(self) -> object:
        """A token that changes whenever any program writes, this one included."""
        with translate_errors(self.where):
            # the first does not count what this connection writes, the second counts nothing else
            return self.pragma("data_version"), self.connection().total_changes

    def token_of_commit(self) -> Callable[[], object]:
        """The token of now: a commit changes neither part of it for the connection that makes it."""
        token = self.change_token()
        return lambda: token

    def integrity_problems(self) -> list[str]:
        """What SQLite finds wrong with tables, indexes and references."""
        with self.lenient_text():
            said, astray = self.ask(f"PRAGMA integrity_check({MOST_PROBLEMS})"), self.ask("PRAGMA foreign_key_check")
        return [str(text) for (text,) in said if text != "ok"] + [
            _("{row}: a row refers to nothing", row=row[0]) for row in astray
        ]

    def schema_of_tables(self) -> str:
        """SQLite's name of the file itself."""
        return "main"

    def trigger_forms(self) -> tuple[Mapping[str, object], Mapping[str, object]]:
        """The words of the statement that makes each trigger, by name: of ours, and of those in the file."""
        there = self.ask("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        ours = {text.split()[2]: text.split() for text in self.triggers}
        return ours, {str(name): str(sql).split() for name, sql in there}

    def drop_triggers(self) -> None:
        """Take every trigger away."""
        for name in self.trigger_forms()[1]:
            self.execute_sql(f"DROP TRIGGER {self.quoted(name)}")

    def not_looked_at(self) -> list[str]:
        """What a proof cannot see: the file itself, where an older version wrote it and this is a copy in memory."""
        return [] if self.persistent else [_("the file: it may not be changed, and a copy in memory was looked at")]

    @contextlib.contextmanager
    def lenient_text(self) -> Iterator[None]:
        """Inside the block text that is no UTF-8 is read all the same, so that its entry can be named."""
        connection: sqlite3.Connection = self.connection()
        before = connection.text_factory
        connection.text_factory = lambda data: data.decode("utf-8", "replace")
        try:
            yield
        finally:
            connection.text_factory = before

    def backup_to(self, target: Path) -> None:
        """Copy the register page by page into an empty file, while it is in use."""
        with translate_errors(target), contextlib.closing(sqlite3.connect(target)) as copied:
            self.connection().backup(copied, pages=4096, sleep=0.01)

    def keep_in_one_file(self) -> bool:
        """Leave WAL, so that the file stands alone; False where the disk failed and it stayed as it was."""
        with translate_errors(self.where):
            return bool(self.pragma("journal_mode", "delete") == "delete")


def _let_go(handle: int) -> None:
    """Let the next one have its turn."""
    if handle >= 0:
        os.close(handle)


def _number_of(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
