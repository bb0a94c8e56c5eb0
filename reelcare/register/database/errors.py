"""The errors of both databases, translated into those of the register.

Each engine says what is wrong by a code: `sqlite_errorname` or the server's `sqlstate`. Only where it gives none, as
when no connection comes about, do its words decide.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import peewee as pw

from reelcare.core.text import _, mark
from reelcare.files import meant
from reelcare.register.errors import Busy, CannotWrite, Damaged, NotThere, Refused, RegisterError

Meaning = tuple[type[RegisterError], str]

BUSY: Meaning = (Busy, mark("another program is writing to it; nothing was saved, try again"))
ENDED: Meaning = (Busy, mark("the server ended the connection; check what was saved, and try again"))
LOST: Meaning = (Busy, mark("the connection was lost; check what was saved, and try again"))
DAMAGED: Meaning = (Damaged, mark("it is damaged; keep it as it is, and go back to a copy: `reelcare restore COPY`"))
READ_ONLY: Meaning = (CannotWrite, mark("it is read-only here; nothing was saved"))
NOT_SYNCED: Meaning = (CannotWrite, mark("the disk failed while saving; check what was saved, and try again"))
"""Everything was handed to the disk, and the disk did not confirm it: after a power cut it can be there or not."""
NO_SERVER: Meaning = (NotThere, mark("no server answers there"))

_BY_ERRORNAME: tuple[tuple[str, Meaning], ...] = (
    ("SQLITE_IOERR_FSYNC", NOT_SYNCED),
    ("SQLITE_IOERR_DIR_FSYNC", NOT_SYNCED),
    ("SQLITE_IOERR", (CannotWrite, mark("the disk failed; nothing was saved"))),
    ("SQLITE_BUSY", BUSY),
    ("SQLITE_LOCKED", BUSY),
    ("SQLITE_PROTOCOL", BUSY),
    ("SQLITE_FULL", (CannotWrite, mark("the disk is full; nothing was saved: make room and try again"))),
    ("SQLITE_READONLY", READ_ONLY),
    ("SQLITE_CANTOPEN", (CannotWrite, mark("it cannot be opened here (folder missing, or not yours)"))),
    ("SQLITE_PERM", (CannotWrite, mark("it cannot be opened here (folder missing, or not yours)"))),
    ("SQLITE_CORRUPT", DAMAGED),
    ("SQLITE_NOTADB", (NotThere, mark("not a Reelcare register; it was left as it was"))),
)
"""By the beginning of SQLite's name for a result code (https://www.sqlite.org/rescode.html); the first that fits."""

_BY_SQLSTATE: tuple[tuple[str, Meaning], ...] = (
    ("55P03", BUSY),
    ("40001", BUSY),
    ("40P01", BUSY),
    ("53100", (CannotWrite, mark("the server's disk is full; nothing was saved: make room there and try again"))),
    ("25006", READ_ONLY),
    ("42501", (CannotWrite, mark("this database user may not do that; nothing was saved"))),
    ("XX001", DAMAGED),
    ("XX002", DAMAGED),
    ("22021", DAMAGED),
    ("57P", ENDED),
    ("08", LOST),
    ("28P01", (NotThere, mark("the server does not let this user in; check user and password (a .pgpass file)"))),
    ("28", (NotThere, mark("the server does not let this user in"))),
    ("3D000", (NotThere, mark("the server has no such database or user"))),
)
"""By the beginning of a server's SQLSTATE (https://www.postgresql.org/docs/current/errcodes-appendix.html)."""

_BY_WORDS: tuple[tuple[str, Meaning], ...] = (
    ("decode to UTF-8", DAMAGED),
    ("codec can't decode", DAMAGED),
    ("password", (NotThere, mark("the server does not let this user in; check user and password (a .pgpass file)"))),
    ("authentication failed", (NotThere, mark("the server does not let this user in"))),
    ("pg_hba.conf", (NotThere, mark("the server does not let this user in"))),
    ("too many", (Busy, mark("too many programs use the server; nothing was saved, try again"))),
    ("does not exist", (NotThere, mark("the server has no such database or user"))),
    ("resolve host", (NotThere, mark("no such host"))),
    ("connection failed", NO_SERVER),
    ("connection timeout", NO_SERVER),
    ("connection is bad", NO_SERVER),
    ("connection is lost", LOST),
    ("connection is closed", LOST),
    ("server closed the connection", LOST),
)
"""By words, for what comes without a code: text that is no UTF-8, and all that goes wrong while connecting."""


@contextlib.contextmanager
def translate_errors(where: object) -> Iterator[None]:
    """Raise a RegisterError, which names `where`, for what a database or its driver raises inside."""
    try:
        yield
    except RegisterError:
        raise
    except Exception as why:
        if not _is_of_a_database(why):
            raise
        raise as_register_error(where, why) from why


def as_register_error(where: object, why: Exception) -> RegisterError:
    """The error of a database as one of the register's."""
    text = (str(why).splitlines() or [""])[0]
    kind, says = _meaning(getattr(why, "orig", why), text) or (Refused, text)
    return kind(f"{meant(where) if isinstance(where, Path) else where}: {_(says)}")


def _is_of_a_database(why: Exception) -> bool:
    """Whether an error comes from a database or its driver; a damaged text can be in the very message of one."""
    if isinstance(why, (pw.PeeweeException, sqlite3.Error, UnicodeDecodeError)):
        return True
    return type(why).__module__.partition(".")[0] == "psycopg"  # the driver need not be installed


def _meaning(orig: BaseException, text: str) -> Meaning | None:
    name = getattr(orig, "sqlite_errorname", None)
    state = getattr(orig, "sqlstate", None)
    if name:
        return next((meaning for begin, meaning in _BY_ERRORNAME if name.startswith(begin)), None)
    if state:
        return next((meaning for begin, meaning in _BY_SQLSTATE if state.startswith(begin)), None)
    return next((meaning for words, meaning in _BY_WORDS if words in text), None)
