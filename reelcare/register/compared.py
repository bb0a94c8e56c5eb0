"""The rollup held against the entries, also by processes of their own where that is worth their start.

The rules of this file: what is found is the same, whoever looks; where no other process can be had, this one looks.
Nothing is changed.
"""

from __future__ import annotations

import contextlib
import functools
import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from reelcare.register import rollup, schema
from reelcare.register.errors import RegisterError
from reelcare.register.progress import Progress
from reelcare.register.register import Register

if TYPE_CHECKING:
    from concurrent.futures import Future

AT_ONCE = 25
"""Machines of one part: as many are looked at before it is told how far the work is."""
WORTH_IT = 50_000
"""Entries from which on another process has done more than its start takes."""
MOST = 4
"""Other processes at most."""

Compared = Callable[[Progress], list[str]]
"""Gives every machine whose rows are not what its entries give; tells how many of how many parts were looked at."""


@contextlib.contextmanager
def comparing(register: Register, entries: int) -> Iterator[Compared]:
    """While it lasts, the rollup of a register of so many entries is compared beside what else is done.

    What is left before it is asked for ends it. Asking raises RegisterError or ValueError where entries cannot be read.
    """
    with contextlib.ExitStack() as left:
        several = min(_processors() - 1, MOST)
        worth_it = entries >= WORTH_IT and several > 0 and isinstance(register.db, schema.Sqlite) and register.db.lasts
        handed_out = _handed_out(register, several, left) if worth_it else []
        yield lambda progress: _compared(register, handed_out, progress)


def _processors() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _parts(register: Register) -> list[list[str]]:
    machines = rollup.machines(register)
    return [machines[first : first + AT_ONCE] for first in range(0, len(machines), AT_ONCE)]


Handed = tuple[list[str], "Future[list[str]] | None"]
"""Machines, and what another process will have found of them."""


def _handed_out(register: Register, several: int, left: contextlib.ExitStack) -> list[Handed]:
    """All machines in parts, handed to other processes; nothing where there can be none."""
    # to load these takes as long as to prove a small register
    from concurrent.futures import BrokenExecutor, ProcessPoolExecutor
    from multiprocessing import get_context

    try:
        # a fork would share the locks that the engine holds on the file
        pool = ProcessPoolExecutor(several, get_context("spawn"), _begin)
        left.callback(pool.shutdown, cancel_futures=True)
        return [(part, pool.submit(_elsewhere, register.path, part)) for part in _parts(register)]
    except (OSError, ImportError, NotImplementedError, BrokenExecutor, RegisterError):
        return []


def _compared(register: Register, handed_out: Sequence[Handed], progress: Progress) -> list[str]:
    parts = handed_out or [(part, None) for part in _parts(register)]
    found: list[str] = []
    # from the last on: a part that nobody has begun is looked at here
    for number, (part, theirs) in enumerate(reversed(parts), 1):
        if theirs is None or theirs.cancel():
            found[:0] = rollup.differences(register, part)
        else:
            found[:0] = _awaited(register, part, theirs)
        progress(number, len(parts))
    return found


def _awaited(register: Register, part: Sequence[str], theirs: Future[list[str]]) -> list[str]:
    from concurrent.futures import BrokenExecutor

    try:
        return theirs.result()
    except (OSError, BrokenExecutor, RegisterError, ValueError):
        return rollup.differences(register, part)  # which says what is wrong, if it is not the other process


# what the other processes do


def _begin() -> None:
    """Whoever stops the proof by a key stops the process that waits; this one ends with its part, or with that one."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_the_other, daemon=True).start()


def _end_with_the_other() -> None:
    """A process that was killed tells nobody: what it began would wait for more for ever."""
    from multiprocessing import connection, parent_process

    other = parent_process()
    if other is not None:
        connection.wait([other.sentinel])
        os._exit(1)


def _elsewhere(path: Path, part: Sequence[str]) -> list[str]:
    register = _opened(path)
    with register.db.looking():
        return rollup.differences(register, part)


@functools.cache
def _opened(path: Path) -> Register:
    return Register(path, create=False)
