"""Work in a process of its own that is killed half-way, or ends without closing anything."""

from __future__ import annotations

import os
import random
import signal
import time
from collections.abc import Callable
from pathlib import Path


def alone(work: Callable[[], object], after: float | None = None) -> bool:
    """Do something in another process, which is killed after so many seconds; whether it was done by itself."""
    child = os.fork()
    if child == 0:
        silence = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silence, 2)
        try:
            work()
        except BaseException:
            os._exit(1)
        os._exit(0)  # nothing is closed: a log stays as it is
    if after is not None:
        time.sleep(after)
        os.kill(child, signal.SIGKILL)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


def how_long(work: Callable[[], object]) -> float:
    """The seconds that something takes in another process."""
    began = time.monotonic()
    if not alone(work):
        raise AssertionError("what is to be killed does not even work")
    return time.monotonic() - began


def some_time(chance: random.Random, whole: float) -> float:
    """A moment within work that takes so long."""
    return chance.uniform(0, whole)


def files_of(folder: Path) -> dict[str, bytes]:
    """What lies in a folder."""
    return {one.name: one.read_bytes() for one in folder.iterdir() if one.is_file()}
