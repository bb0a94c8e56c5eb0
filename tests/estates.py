"""The demo estate of one day, built once for all that look at it, whichever process they run in."""

import fcntl
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from reelcare.register.demo import build
from reelcare.register.opening import open_writer

NOW = datetime(2026, 7, 1, 9, tzinfo=UTC)


def estate(factory: pytest.TempPathFactory) -> Path:
    """A copy of the demo register of that day, to look at only; ids are the same every time."""
    shared = factory.getbasetemp()
    if shared.name.startswith("popen-"):
        shared = shared.parent  # of all workers of one run
    whole, made = shared / "estate.db", shared / "estate-being-made.db"
    with (shared / "estate.lock").open("w") as lock, pytest.MonkeyPatch.context() as patch:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not whole.exists():
            patch.setenv("TZ", "UTC")
            with open_writer(made, entropy=lambda size: b"\x07" * size) as register:
                build(register, NOW)
                register.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
            made.rename(whole)
    path = factory.mktemp("estate") / "demo.db"
    shutil.copy(whole, path)
    return path
