"""The queue of those who write to one register in a file, by a lock on a small file beside it.

SQLite lets whoever asks at the right moment go first, so that in a crowd some wait for ever. Here everybody gets a
turn: the limit of waiting is for one who holds the register, not for how many stand before. Where there are no such
locks (another system, a folder that is read-only), SQLite's own waiting is what there is.
"""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path

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


def path_of(register: Path) -> Path:
    """The file beside a register."""
    return register.with_name(f"{register.name}.queue")


@contextlib.contextmanager
def turn(register: Path, limit: Callable[[], float]) -> Iterator[None]:
    """Inside the block nobody else of this queue writes. Raises Busy where one writer holds it longer than `limit` [s],
    which is asked only where somebody has to wait."""
    handle = _opened(path_of(register)) if fcntl is not None else None
    if handle is None:
        yield
        return
    try:
        if not _locked(handle):
            _wait(handle, register, limit())
        _sign(handle)
        yield
    finally:
        os.close(handle)


def taken(register: Path) -> int | None:
    """A handle that keeps the turn until it is closed, where it is this one's at once; None where somebody else writes,
    -1 where there are no such locks."""
    handle = _opened(path_of(register)) if fcntl is not None else None
    if handle is None:
        return -1
    if _locked(handle):
        _sign(handle)
        return handle
    os.close(handle)
    return None


def _sign(handle: int) -> None:
    with contextlib.suppress(OSError):  # on a full disk it is still one's turn, and the write itself says what is wrong
        os.pwrite(handle, f"{os.getpid()} {time.monotonic_ns()}".ljust(HOLDER).encode("ascii"), 0)


def _opened(path: Path) -> int | None:
    try:
        return os.open(path, os.O_CREAT | os.O_RDWR | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600)
    except OSError:
        return None


def _locked(handle: int) -> bool:
    """Whether it is this one's turn now; where the file system knows no locks, it always is."""
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True


def _wait(handle: int, register: Path, limit: float) -> None:
    holder, since = b"", time.monotonic()
    while not _locked(handle):
        now, who = time.monotonic(), os.pread(handle, HOLDER, 0)
        if who != holder:
            holder, since = who, now
        elif now - since > limit:
            raise Busy(
                _("{register}: another program is writing to it; nothing was saved, try again", register=register)
            )
        time.sleep(POLL)
