"""Goes back to a copy again and again: beside a log, killed half-way, and after a copy was put over it by hand.

`python -m tests.ordeal.restored [COUNT]`

Killed at any moment the register must be the old one or the new one with all its entries, or say itself that something
is gone; going back once more must give all that was acknowledged. A copy that was put over by hand must be refused
unchanged (beside a log) or be told by every proof, whatever is written since, until going back answers it.
"""

from __future__ import annotations

import random
import shutil
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.errors import Damaged
from reelcare.register.exchange import copies, restoration
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from tests.ordeal.forked import alone, files_of, how_long, some_time
from tests.register.conftest import sql

NOW = datetime(2026, 5, 1, 6, tzinfo=UTC)
SINCE = 12
"""Entries that the register has and the copy lacks."""


class Killed(NamedTuple):
    """How many were killed, in how many the old and the new register stood then, how many hid that something is gone,
    and how many lost entries or were damaged once it had gone back again."""

    killed: int
    old: int
    new: int
    silent: int
    lost: int


class PutOver(NamedTuple):
    """How many copies were put over by hand; how many were refused, told by proofs, hidden, or lost entries."""

    tried: int
    refused: int
    told: int
    hidden: int
    lost: int


def _begin(folder: Path) -> set[str]:
    """A register that was not closed, so that its log lies beside it, and a copy of before; its entries."""
    folder.mkdir()
    path = folder / "r.db"
    with open_writer(path) as register:
        people.enrol(register, "Ann", "supervisor", by="Ann", now=NOW)
        register.add(e.Carded(card={"tag": "R1"}), by="Ann", now=NOW)
        copies.copy(register, folder / "copy.db")
    assert alone(lambda: _write(path, SINCE))
    with open_writer(path, create=False) as register:
        found = _ids(register)
    assert alone(lambda: _write(path, 1, keep_heads=True))
    with open_writer(folder / "r.db", create=False) as register:
        found = _ids(register)
    return found


def _ids(register: object) -> set[str]:
    return {str(id) for (id,) in sql(register.db, "SELECT id FROM entry WHERE kind <> 'restore'")}  # type: ignore[attr-defined]


def _write(path: Path, count: int, keep_heads: bool = False) -> None:
    register = open_writer(path, create=False)
    machine = register.machine_id("R1")
    for _unused in range(count):
        register.add(e.Fault(part="hose", says="scuffed", holds="run"), machine=machine, by="Ann", now=NOW)
    if keep_heads:
        register.witness_heads()


def _go_back(folder: Path, at: datetime) -> None:
    restoration.restore(folder / "r.db", folder / "copy.db", by="Ann", why="the disk failed", now=at)


def killed(count: int) -> Killed:
    """Kill so many goings back at random moments."""
    chance = random.Random(count)
    old = new = silent = lost = 0
    with tempfile.TemporaryDirectory() as place:
        first, at = Path(place) / "first", Path(place) / "at"
        entries = _begin(first)
        assert alone(lambda: _write(first / "r.db", 1, keep_heads=True))  # and its log lies beside it
        with_log = files_of(first)
        assert "r.db-wal" in with_log
        entries |= _all_of(first, Path(place) / "looked")

        def again() -> None:
            shutil.rmtree(at, ignore_errors=True)
            shutil.copytree(first, at)

        again()
        whole = how_long(lambda: _go_back(at, NOW))
        for number in range(count):
            again()
            alone(lambda: _go_back(at, NOW), some_time(chance, whole))
            state = _stands(at, entries)
            old, new, silent = old + (state == "old"), new + (state == "new"), silent + (state == "silent")
            _go_back(at, NOW + timedelta(days=1, seconds=number))
            lost += not _is_whole_with(at, entries)
    return Killed(count, old, new, silent, lost)


def _all_of(folder: Path, at: Path) -> set[str]:
    shutil.copytree(folder, at)
    with open_writer(at / "r.db", create=False) as register:
        return _ids(register)


def _stands(folder: Path, entries: set[str]) -> str:
    """Which register stands there: the old or the new one, one that tells what is gone, or one that hides it."""
    try:
        with open_writer(folder / "r.db", create=False) as register:
            is_new = bool(sql(register.db, "SELECT id FROM entry WHERE kind = 'restore'"))
            if not prove(register).whole:
                return "tells"
            return "silent" if entries - _ids(register) else "new" if is_new else "old"
    except Damaged:
        return "tells"


def _is_whole_with(folder: Path, entries: set[str]) -> bool:
    with open_writer(folder / "r.db", create=False) as register:
        return prove(register).whole and not entries - _ids(register)


def put_over(count: int) -> PutOver:
    """Put the copy over the register by hand, as many times, with and without its log; write on; go back."""
    chance = random.Random(count)
    refused = told = hidden = lost = 0
    with tempfile.TemporaryDirectory() as place:
        first = Path(place) / "first"
        _begin(first)
        for number in range(count):
            at = Path(place) / f"at{number}"
            shutil.copytree(first, at)
            assert alone(lambda at=at: _write(at / "r.db", chance.randint(1, 4), keep_heads=True))  # type: ignore[misc]
            beside_log = chance.random() < 0.5
            shutil.copy(at / "copy.db", at / "r.db")
            if not beside_log:
                for end in ("-wal", "-shm"):
                    (at / f"r.db{end}").unlink(missing_ok=True)
            before = files_of(at)
            since: set[str] = set()
            if _refuses(at):
                refused += 1
                hidden += files_of(at) != before
            else:
                for _unused in range(chance.randint(1, 4)):
                    assert alone(lambda at=at: _write(at / "r.db", 2, keep_heads=True))  # type: ignore[misc]
                    hidden += _stands(at, set()) != "tells"
                since = _all_of(at, Path(place) / f"looked{number}")
                told += 1
            _go_back(at, NOW + timedelta(days=1))
            lost += not _is_whole_with(at, since)
    return PutOver(count, refused, told, hidden, lost)


def _refuses(folder: Path) -> bool:
    try:
        open_writer(folder / "r.db", create=False).db.close()
    except Damaged:
        return True
    return False


ORDEALS: tuple[Callable[[int], Killed | PutOver], ...] = (killed, put_over)

if __name__ == "__main__":
    asked = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    bad = 0
    for ordeal in ORDEALS:
        result = ordeal(asked)
        print(", ".join(f"{name.replace('_', ' ')} {value}" for name, value in result._asdict().items()))
        bad += result[-1] + result[-2]
    sys.exit(1 if bad else 0)
