"""The queue of writers to one register: the time limit is for one holder of the lock, not for the whole queue. On a
server its own lock is what they wait for; beside a file it is a lock on a small file.

SQLite lets whoever asks at the right moment go first, so that in a crowd some wait for ever. Here everybody gets a
turn. Where there are no such locks (another system, a folder that is read-only), SQLite's own waiting is what there is.
"""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import peewee as pw

from reelcare.core.text import _
from reelcare.register.errors import Busy

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]  # without it there is no queue

POLL = 0.005
"""Seconds between two looks at whether it is one's turn."""
HOLDER = 48
"""Bytes at the beginning of the file in which the holder writes who it is."""
LIMIT = "SELECT setting::float8 / 1000 FROM pg_settings WHERE name = 'lock_timeout'"
HAS_LOCK = (
    "SELECT pid, virtualtransaction FROM pg_locks WHERE locktype = 'advisory' AND granted AND pid <> pg_backend_pid()"
    " AND database = (SELECT oid FROM pg_database WHERE datname = current_database())"
    " AND objsubid = 1 AND classid = 0 AND objid = %s"
)
"""Which transaction of which program has a lock: its number is below 2^32, as that of a table is."""
WAITED = "55P03"
"""The SQLSTATE after `lock_timeout`."""


def path_of(register: Path) -> Path:
    """The file beside a register."""
    return register.with_name(f"{register.name}.queue")


@contextlib.contextmanager
def turn(register: Path, limit: Callable[[], float]) -> Iterator[None]:
    """Inside the block nobody else of this queue writes. Raises Busy where one writer holds it longer than `limit` [s],
    which is asked only where somebody has to wait."""
    handle = _opened(path_of(register))
    if handle is None:
        yield
        return
    try:
        if not _locked(handle):
            wait(lambda: _locked(handle, POLL), lambda: os.pread(handle, HOLDER, 0), limit(), register)
        _sign(handle)
        yield
    finally:
        os.close(handle)


def taken(register: Path) -> int | None:
    """A handle that keeps the turn until it is closed, where it is this one's at once; None where somebody else writes,
    -1 where there are no such locks."""
    handle = _opened(path_of(register))
    if handle is None:
        return -1
    if _locked(handle):
        _sign(handle)
        return handle
    os.close(handle)
    return None


def lock(execute: Callable[..., Any], number: int, where: str) -> None:
    """For the rest of a server's transaction, in which `execute` runs statements, its lock of a number. Raises Busy
    where one other has it for longer than `lock_timeout`."""
    if execute("SELECT pg_try_advisory_xact_lock(%s)", (number,)).fetchone()[0]:
        return
    ((limit,),) = execute(LIMIT).fetchall()
    execute("SAVEPOINT queue")  # whoever waited too long goes on in this transaction
    wait(partial(_locked_there, execute, number), lambda: execute(HAS_LOCK, (number,)).fetchall(), limit, where)


def _locked_there(execute: Callable[..., Any], number: int) -> bool:
    """Whether it is this one's turn before `lock_timeout`."""
    try:
        execute("SELECT pg_advisory_xact_lock(%s)", (number,))
    except pw.OperationalError as why:
        if getattr(why.orig, "sqlstate", "") != WAITED:  # type: ignore[attr-defined]  # peewee keeps the driver's own
            raise
        execute("ROLLBACK TO SAVEPOINT queue")
        return False
    return True


def _sign(handle: int) -> None:
    with contextlib.suppress(OSError):  # on a full disk it is still one's turn, and the write itself says what is wrong
        os.pwrite(handle, f"{os.getpid()} {time.monotonic_ns()}".ljust(HOLDER).encode("ascii"), 0)


def _opened(path: Path) -> int | None:
    """A handle to lock; None where there are no such locks."""
    try:
        return (
            os.open(path, os.O_CREAT | os.O_RDWR | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600) if fcntl is not None else None
        )
    except OSError:
        return None


def wait(locked: Callable[[], bool], holder: Callable[[], object], limit: float, where: object) -> None:
    """Wait until it is this one's turn, which `locked` says after waiting a while. Raises Busy, which names `where`,
    once the same `holder` was seen for longer than `limit` [s]."""
    who, since = holder(), time.monotonic()
    while not locked():
        now, seen = time.monotonic(), holder()
        if seen != who:
            who, since = seen, now
        elif now - since > limit:
            raise Busy(_("{register}: another program is writing to it; nothing was saved, try again", register=where))


def _locked(handle: int, waits: float = 0) -> bool:
    """Whether it is this one's turn now, else after a while [s]; where the file system knows no locks, it always is."""
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        time.sleep(waits)
        return False
    except OSError:
        return True
    return True
