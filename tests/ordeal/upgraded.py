"""Kills the upgrade of registers of every older version at random moments: whole before or after, and nothing lost.

`python -m tests.ordeal.upgraded [COUNT]`
"""

from __future__ import annotations

import random
import shutil
import sqlite3
import sys
import tempfile
from contextlib import closing
from pathlib import Path

from reelcare.register.database.models import NEWEST
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from tests.ordeal.forked import alone, how_long, some_time

VERSIONS = Path(__file__).parent.parent / "register" / "versions"


def _entries(path: Path) -> list[tuple[str, str]]:
    with closing(sqlite3.connect(path)) as db:
        return db.execute("SELECT id, digest FROM entry ORDER BY id").fetchall()


def _upgrade(path: Path) -> None:
    open_writer(path, create=False)


def main(count: int) -> tuple[int, int, int, int]:
    """Kill so many upgrades: how many stood at the old version then, how many at the new one, how many changed an entry
    or do not prove whole once opened again, and how many changed the schema with no whole copy beside it."""
    chance = random.Random(count)
    old = new = bad = uncovered = 0
    with tempfile.TemporaryDirectory() as place:
        for number in range(count):
            version = number % (NEWEST - 1) + 1
            first, at = VERSIONS / f"{version}.db", Path(place) / f"at{number}"
            before = _entries(first)
            at.mkdir()
            path = at / "r.db"
            if number < NEWEST - 1:
                shutil.copy(first, path)
                whole = how_long(lambda path=path: _upgrade(path))  # type: ignore[misc]
                shutil.rmtree(at)
                at.mkdir()
            shutil.copy(first, path)
            alone(lambda path=path: _upgrade(path), some_time(chance, whole * 1.2))  # type: ignore[misc]
            with closing(sqlite3.connect(path)) as db:
                is_new = db.execute("PRAGMA user_version").fetchone()[0] == NEWEST
            old, new = old + (not is_new), new + is_new
            if is_new:
                kept = list(at.glob("r-version-*.db"))
                uncovered += not kept or _entries(kept[0]) != before
            with open_writer(path, create=False) as register:
                bad += not prove(register).whole or _entries(path) != before
    return old, new, bad, uncovered


if __name__ == "__main__":
    stood, upgraded, wrong, alone_there = main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
    print(f"killed at the old version {stood}, at the new one {upgraded}: bad {wrong}, without a copy {alone_there}")
    sys.exit(1 if wrong or alone_there else 0)
