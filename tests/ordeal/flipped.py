"""Flips bits in a register and cuts its log: every change of content is found, and none of it is taken for whole.

`python -m tests.ordeal.flipped [COUNT]`
"""

from __future__ import annotations

import random
import sys
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.database.errors import translate_errors
from reelcare.register.errors import RegisterError
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from tests.register.conftest import sql

NOW = datetime(2026, 5, 1, 6, tzinfo=UTC)
COLUMNS = "id, kind, machine, happened, recorded, terminal, person, body, place, digest"


def main(count: int) -> tuple[int, int, int]:
    """Spoil so many copies; how many had other content, how many of those passed for whole, how many crashed."""
    chance = random.Random(count)
    changed = missed = crashed = 0
    with tempfile.TemporaryDirectory() as folder:
        states = _register(Path(folder))
        before = _content(Path(folder) / "r.db")
        for number in range(count):
            path = Path(folder) / f"{number}.db"
            _spoil(chance, states, path)
            try:
                with open_writer(path, create=False) as register:
                    found = not prove(register).whole
                    after = _content(path)
            except (RegisterError, OSError):
                continue  # refused in a line: nobody takes it for whole
            except Exception as why:
                print(f"{number}: {type(why).__name__}: {why}", file=sys.stderr)
                crashed += 1
                continue
            # a log that was cut at a commit is an older register, and whole; its head is what tells
            if after != before and not _older(after, before):
                changed += 1
                missed += not found
            path.unlink()
    return changed, missed, crashed


@dataclass(frozen=True)
class States:
    """The bytes of one register: before its log was written back, the log, and after."""

    before: bytes
    log: bytes
    after: bytes


def _register(folder: Path) -> States:
    path = folder / "r.db"
    with open_writer(path) as register:
        people.enrol(register, "Ann", "supervisor", by="Ann", now=NOW)
        machine = register.add(e.Carded(card={"tag": "R1"}), by="Ann", now=NOW).machine
        register.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        for number in range(40):
            what = e.Fault(part="hose", says=f"scuffed at {number} m")
            register.add(what, machine=machine, by="Ann", now=NOW + timedelta(minutes=number))
        data, log = path.read_bytes(), Path(f"{path}-wal").read_bytes()
    return States(data, log, path.read_bytes())


def _content(path: Path) -> list[tuple[object, ...]]:
    # text that is no UTF-8 is other content, too, which a proof must find
    with open_writer(path, create=False) as register, translate_errors(path), register.db.lenient_text():
        return sql(register.db, f"SELECT {COLUMNS} FROM entry ORDER BY place")


def _older(after: list[tuple[object, ...]], before: list[tuple[object, ...]]) -> bool:
    return after == before[: len(after)]


def _spoil(chance: random.Random, states: States, path: Path) -> None:
    """Flip bits in a register, in its log or in one that has none, or cut the log."""
    data, log, alone = bytearray(states.before), bytearray(states.log), bytearray(states.after)
    way = chance.choice(("cut", "data", "log", "alone", "alone"))
    if way == "cut":
        del log[chance.randrange(len(log)) :]
    else:
        target = {"data": data, "log": log, "alone": alone}[way]
        for _ in range(chance.choice((1, 1, 3, 20))):
            target[chance.randrange(100, len(target))] ^= 1 << chance.randrange(8)
    path.write_bytes(alone if way == "alone" else data)
    if way != "alone":
        Path(f"{path}-wal").write_bytes(log)


if __name__ == "__main__":
    other, passed, broke = main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
    print(f"{other} with other content, {passed} of them passed for whole, {broke} crashes")
    sys.exit(1 if passed or broke else 0)
