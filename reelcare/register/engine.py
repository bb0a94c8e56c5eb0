"""What the register asks of a database, whichever of the two it is.

The rules of this file: the SQL of this room is written once, in words that SQLite and PostgreSQL share, with `?` for a
value; where they differ, the engine has a method or a word of its own. What an engine says is told in one plain line.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator
from typing import Any, ClassVar

import peewee as pw

from reelcare.register.errors import (
    Busy,
    CannotWrite,
    NotAllowed,
    NotThere,
    NotWhole,
    Refused,
    RegisterError,
)

__all__ = ["LOOKS", "WRITES", "Engine", "in_parts", "plainly", "pw", "rows", "rows_named", "told"]

WRITES = "IMMEDIATE"
"""A transaction beside which nobody else writes; `Database.atomic` takes the word."""
LOOKS = "DEFERRED"
"""A transaction that sees the register as it stands at its first question."""

_PLAIN: tuple[tuple[str, type[RegisterError], str], ...] = (
    ("locked", Busy, "another program is writing to it; nothing was saved, try again"),
    ("busy", Busy, "another program is writing to it; nothing was saved, try again"),
    ("lock timeout", Busy, "another program is writing to it; nothing was saved, try again"),
    ("full", CannotWrite, "the disk is full; nothing was saved: make room and try again"),
    ("No space left", CannotWrite, "the server's disk is full; nothing was saved: make room there and try again"),
    ("readonly", CannotWrite, "it is read-only here; nothing was saved"),
    ("read-only transaction", CannotWrite, "it is read-only here; nothing was saved"),
    ("permission denied", CannotWrite, "this database user may not do that; nothing was saved"),
    ("unable to open", CannotWrite, "it cannot be opened here (folder missing, or not yours)"),
    ("disk I/O", CannotWrite, "the disk failed; nothing was saved"),
    ("malformed", NotWhole, "it is damaged; keep it as it is and go back to a copy"),
    ("decode to UTF-8", NotWhole, "it is damaged; keep it as it is and go back to a copy"),
    ("codec can't decode", NotWhole, "it is damaged; keep it as it is and go back to a copy"),
    ("invalid page", NotWhole, "it is damaged; keep it as it is and go back to a copy"),
    ("not a database", NotThere, "not a register of ours; it was left as it was"),
    ("password", NotThere, "the server does not let this user in; see to user and password (a .pgpass file)"),
    ("authentication failed", NotThere, "the server does not let this user in"),
    ("does not exist", NotThere, "the server has no such database or user"),
    ("connection failed", NotThere, "no server answers there"),
    ("connection timeout", NotThere, "no server answers there"),
    ("connection is bad", NotThere, "no server answers there"),
    ("resolve host", NotThere, "no such host"),
    ("terminating connection", Busy, "the server ended the connection; look what was saved, and try again"),
    ("connection is lost", Busy, "the connection was lost; look what was saved, and try again"),
    ("server closed the connection", Busy, "the connection was lost; look what was saved, and try again"),
    ("connection is closed", Busy, "the connection was lost; look what was saved, and try again"),
)


_NOT_SYNCED = ("SQLITE_IOERR_FSYNC", "SQLITE_IOERR_DIR_FSYNC")
"""What SQLite says where all was handed to the disk, and the disk did not say that it has it: after a power cut it can
be there or not."""


class Engine:
    """What both databases of the register offer beyond what peewee gives."""

    where: str
    """How this register is named to people; no password is in it."""
    heed: str = ""
    """What a person should know of where it stands, in one line; '' where nothing."""
    lasts: bool = True
    """Whether what is written into it stays: not where it is a copy in memory, to be looked at."""
    looks_only: bool = False
    """Whether it was opened to look at, so that nothing may be written."""
    greatest: ClassVar[str]
    """The function that gives the greatest of several values in a row."""
    by_scan: ClassVar[str]
    """What makes a SELECT read the table itself, not an index."""

    def fetch(self, query: Any) -> list[tuple[Any, ...]]:
        """All rows of a query that peewee has built."""
        return _fetched(self, lambda: self.execute(query))  # type: ignore[attr-defined]  # peewee's, in both engines

    def write(self, query: Any) -> None:
        """An INSERT, UPDATE or DELETE that peewee has built."""
        self.execute(query)  # type: ignore[attr-defined]  # peewee's, in both engines

    def hurried(self) -> contextlib.AbstractContextManager[None]:
        """While it lasts, a power cut may lose what was written last: for what can be made again."""
        raise NotImplementedError

    def only_look(self) -> None:
        """From now on refuse every change; each engine has the database refuse it as well."""
        self.looks_only = True

    def shape(self) -> int:
        """How many steps of the schema this register has taken."""
        raise NotImplementedError

    def has_table(self, name: str) -> bool:
        """Whether there is a table of this name."""
        raise NotImplementedError

    def many(self, sql: str, values: Iterable[tuple[Any, ...]]) -> None:
        """One statement for many rows of values."""
        raise NotImplementedError

    def numbers_go_on(self) -> None:
        """After rows that came in with their numbers: the next entry takes the number after theirs."""

    def change(self) -> object:
        """A mark that is another one once somebody else has written."""
        raise NotImplementedError

    def faults(self) -> list[str]:
        """What the engine itself finds wrong with its structure."""
        raise NotImplementedError

    @contextlib.contextmanager
    def faults_beside(self) -> Iterator[Callable[[], list[str]]]:
        """While it lasts, faults are looked for beside what else is done, where the engine can; the call gives them."""
        yield self.faults

    def damaged_text_is_read(self) -> contextlib.AbstractContextManager[None]:
        """While it lasts, text that is no UTF-8 is read all the same, so that its entry can be named."""
        return contextlib.nullcontext()

    @contextlib.contextmanager
    def writing(self) -> Iterator[None]:
        """One transaction, beside which nobody else writes; all of it is kept, or nothing.

        Raises Busy, CannotWrite or NotThere in plain words; also where a newer version has changed the register
        while it was open.
        """
        from reelcare.register import steps

        if self.looks_only:
            raise NotAllowed(f"{self.where}: opened to look only; nothing was saved")
        with plainly(self.where), self.atomic(WRITES):  # type: ignore[attr-defined]  # peewee's, in both engines
            if self.shape() != steps.NEWEST:
                raise NotThere(f"{self.where}: another version of reelcare has it in hand; start this one anew")
            yield

    @contextlib.contextmanager
    def looking(self) -> Iterator[None]:
        """One view of the register as it stands now, whatever others write meanwhile."""
        with plainly(self.where), self.atomic(LOOKS):  # type: ignore[attr-defined]  # peewee's, in both engines
            yield


@contextlib.contextmanager
def plainly(where: object) -> Iterator[None]:
    """Turns what an engine says into a RegisterError in plain words."""
    try:
        yield
    except RegisterError:
        raise
    except Exception as why:
        if not of_an_engine(why):
            raise
        raise told(where, why) from why


def of_an_engine(why: Exception) -> bool:
    """Whether an error comes from a database or its driver; also where its very message is damaged text."""
    if isinstance(why, UnicodeDecodeError):
        return True
    return isinstance(why, pw.PeeweeException) or type(why).__module__.partition(".")[0] in ("sqlite3", "psycopg")


def told(where: object, why: Exception) -> RegisterError:
    """An engine's error as one of ours."""
    text = (str(why).splitlines() or [""])[0]
    if any(getattr(one, "sqlite_errorname", "") in _NOT_SYNCED for one in (why, why.__cause__, why.__context__)):
        return CannotWrite(f"{where}: the disk failed as it was to be kept; look what was saved, and try again")
    for mark, kind, says in _PLAIN:
        if mark in text:
            return kind(f"{where}: {says}")
    return Refused(f"{where}: {text}")


def rows(db: Any, sql: str, *values: Any) -> list[tuple[Any, ...]]:
    """All rows of one SELECT. Raises a RegisterError in plain words."""
    return _fetched(db, lambda: db.execute_sql(sql, values))


def in_parts(
    ask: Callable[[tuple[Any, ...] | None], list[tuple[Any, ...]]], many: int
) -> Iterator[list[tuple[Any, ...]]]:
    """A long table, so `many` rows at a time: `ask` is given the last row that there was (None at the beginning) and
    gives the next ones, fewer where these are the last."""
    last = None
    while some := ask(last):
        yield some
        if len(some) < many:
            return
        last = some[-1]


def rows_named(db: Any, sql: str, values: dict[str, Any]) -> list[tuple[Any, ...]]:
    """All rows of one SELECT whose values have names (`:name`)."""
    return _fetched(db, lambda: db.execute_sql(sql, values))


def _fetched(db: Any, ask: Callable[[], Any]) -> list[tuple[Any, ...]]:
    try:
        return list(ask().fetchall())
    except Exception as why:
        if not of_an_engine(why):
            raise
        raise told(getattr(db, "where", db), why) from why
