"""How fast a register is written, read, folded and proved, each figure beside a yardstick of the same run.

Run it with `python tests/bench_register.py [--machines 1000] [--seasons 5] [--runs 12] [--register PATH]` on Linux. It
builds its registers (`--register` keeps the large one, or takes one that is there) and prints what was measured, its
ratio to the yardstick, and the budget of DEVELOPERS.md. Nothing is asserted. The estate is invented.
"""

from __future__ import annotations

import argparse
import csv
import gc
import os
import random
import shutil
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from reelcare.core import entries as e
from reelcare.register import sheets
from reelcare.register.acts import people, walk_rounds
from reelcare.register.demo import _right
from reelcare.register.exchange import run_logs
from reelcare.register.opening import open_writer
from reelcare.register.proof import proving
from reelcare.register.reading import yard
from reelcare.register.writing.writer import Writer
from tests import programs, scale
from tests.register.conftest import sql

NOW = datetime(2035, 1, 1, tzinfo=UTC)
COLUMNS = (
    "machine", "started", "ended", "metres", "planned_speed_m_h", "inlet_kpa", "gun_kpa", "drive_loss_kpa", "operator",
    "place", "stopped_by", "notes",
)  # fmt: skip
ENTRIES = 2_200_000
"""The size to which the time of folding is scaled."""


def show(what: str, took: float, ratio: float | None = None, budget: str = "", unit: str = "ms") -> None:
    """One line of the table."""
    shown = f"{took * 1000:10.2f} ms" if unit == "ms" else f"{took:10.1f} {unit}"
    print(f"{what:<52}{shown}{f'{ratio:10.3f} x' if ratio is not None else '':<14}{budget}", flush=True)


def best(what: Callable[[], object], times: int = 7) -> float:
    """The median seconds of something done several times."""
    took = []
    for _ in range(times):
        began = time.perf_counter()
        what()
        took.append(time.perf_counter() - began)
    return statistics.median(took)


def commands(demo: Path, large: Path) -> None:
    """`due` as a whole process, beside one that only loads sqlite3. Measure it where psycopg is not installed."""

    def run(*words: str) -> Callable[[], object]:
        return lambda: subprocess.run([sys.executable, *words], stdout=subprocess.DEVNULL, check=False)

    run("-m", "reelcare", "--register", str(demo), "due")()  # so that what it loads is compiled
    bare = best(run("-c", "import sqlite3"))
    show("python -c 'import sqlite3'", bare)
    took = best(run("-m", "reelcare", "--register", str(demo), "due"))
    show("due, 12 machines", took, took / bare, "at most 15 x")
    took = best(run("-m", "reelcare", "--register", str(large), "due"), 3)
    show("due, large register", took, took / bare, "1,000 machines: at most 1.2 s")


def lists(large: Path, now: datetime) -> None:
    """What a screen asks for, from inside the program."""
    with open_writer(large) as register:
        listed = yard.listed(register, now)
        took = best(lambda: yard.listed(register, now))
        show(f"the yard judged and in order, {len(listed)} machines", took)
        show("one machine as the yard shows it", best(lambda: yard.machine_now(register, listed[-1].id, now)))


def writing(folder: Path, large: Path) -> None:
    """One entry, one answer and thirty answers together, durable, beyond one sync of the disk."""
    with (folder / "sync").open("wb") as file:
        file.write(bytes(4096))

        def sync() -> None:
            os.pwrite(file.fileno(), bytes(4096), 0)
            os.fdatasync(file.fileno())

        disk = best(sync, 31)
    show("one fdatasync", disk)
    with open_writer(large) as register:
        machine = yard.listed(register, datetime.now(UTC))[-1].id
        show("one more entry, beyond a sync", best(lambda: _entry(register, machine), 31) - disk)
        show("an answer of a check, beyond a sync", _answers(register, machine) - disk, None, "at most 1.5 ms")
        show("thirty answers together, beyond a sync", best(_together(register, machine), 15) - disk)


def signing(folder: Path) -> None:
    """What somebody waits for who signs a gate: the machine is folded from all its entries."""
    many = 200
    with estate(folder / "checked.db", 1) as register:
        [machine] = register.machine_ids()
        scale.check_often(register, machine, many, NOW + timedelta(days=many))
        took = best(lambda: next(register.folds([machine])))
    show(f"a machine folded, {many} checks behind it", took, None, "at most 500 ms")


def _entry(register: Writer, machine: str) -> None:
    what = e.Measured(about="gun", figures={"bore": "23.3 mm"})
    register.add(what, machine=machine, by="Ann", now=datetime.now(UTC))


def _answers(register: Writer, machine: str) -> float:
    """The median seconds of an answer while a walk-round is answered."""
    now, took = datetime.now(UTC), []
    going = walk_rounds.begin(register, machine, sheets.load().by_id["pre-start"], by="Ann", now=now)
    for question in going.walk.sheet.questions[:30]:
        seen = _right(question, going.walk)
        began = time.perf_counter()
        walk_rounds.answer(register, going.id, question.id, seen, by="Ann", now=now)
        took.append(time.perf_counter() - began)
    return statistics.median(took)


def _together(register: Writer, machine: str) -> Callable[[], object]:
    """What writes thirty answers of the check that is open, in one transaction."""
    now = datetime.now(UTC)
    check = register.state(machine).checks[-1].id
    drafts = [
        e.Draft(
            what=e.Answered(check=check, question=one.id, seen="yes", judged="right"), happened=now, machine=machine
        )
        for one in walk_rounds.check(register, check).walk.sheet.questions[:30]
    ]
    return lambda: register.append(drafts, by="Ann", now=now)


def reading(large: Path) -> None:
    """Folding every machine from its entries, and the full proof beside reading the file."""
    size = large.stat().st_size / 1e6
    began = time.perf_counter()
    with large.open("rb") as file:
        while file.read(1 << 20):
            pass
    read = time.perf_counter() - began
    with open_writer(large) as register:
        [(entries,)] = sql(register.db, "SELECT COUNT(*) FROM entry")
        began = time.perf_counter()
        for _ in register.folds(register.machine_ids()):
            pass
        took = time.perf_counter() - began
        show(f"folding {entries}, scaled to 2.2 million", took * ENTRIES / entries, None, "at most 40 s", unit="s")
        began = time.perf_counter()
        proving.prove(register)
        took = time.perf_counter() - began
    show(f"a full proof of {size:.0f} MB", took, took / read)
    show("  that is", size / took, None, "at least 40 MB/s in one process", unit="MB/s")


def estate(path: Path, machines: int) -> Writer:
    """A register with so many machines, and the shipped plan."""
    register = open_writer(path)
    people.enrol(register, "Ann", "supervisor", by="Ann", now=NOW)
    cards = [
        {"tag": f"M{number:05}", "name": "Reel", "in_use_since": "2020-01-01", "hose": {"length": "400 m"}}
        for number in range(machines)
    ]
    register.append([e.Draft(what=e.Carded(card=card), happened=NOW) for card in cards], by="Ann", now=NOW)
    return register


def run_log(path: Path, machines: int, runs: int) -> None:
    """A run log with every column, by machine."""
    chance = random.Random(1)
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(COLUMNS)
        for machine in range(machines):
            at = datetime(2021, 4, 1, 6)  # noqa: DTZ001 -- run logs tell the time of the place
            for _ in range(runs // machines):
                ended = at + timedelta(minutes=chance.randrange(360, 840))
                writer.writerow((
                    f"M{machine:05}", at.isoformat(timespec="minutes"), ended.isoformat(timespec="minutes"),
                    chance.randrange(200, 390), chance.choice((22, 25, 30.5)), chance.randrange(600, 700),
                    chance.randrange(400, 500), chance.randrange(30, 60), "Ann", "North", "end stop", "",
                ))  # fmt: skip
                at = ended + timedelta(minutes=chance.randrange(300, 720))


def bringing(folder: Path, runs: int = 60_000) -> None:
    """A run log brought in, beside plain executemany of the same rows."""
    run_log(folder / "runs.csv", 30, runs)
    with estate(folder / "a.db", 30) as register:
        began = time.perf_counter()
        run_logs.bring(register, folder / "runs.csv", by="Ann", now=NOW)
        took = time.perf_counter() - began
        plain = _plain_insert(register, folder / "plain.db")
    show(f"bring, {runs} lines", took, plain / took, "rate: at least 0.2 of executemany")


def _plain_insert(register: Writer, path: Path) -> float:
    """Seconds that plain SQLite takes for the same rows in the same table, with the same sync."""
    kept = sql(register.db, "SELECT * FROM entry WHERE kind = 'run'")
    tables = sql(register.db, "SELECT sql FROM sqlite_master WHERE tbl_name = 'entry' AND sql IS NOT NULL")
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("PRAGMA journal_mode = wal")
    db.execute("PRAGMA synchronous = 2")
    for (text,) in tables:
        db.execute(text)
    began = time.perf_counter()
    db.execute("BEGIN IMMEDIATE")
    db.executemany(f"INSERT INTO entry VALUES ({', '.join('?' * len(kept[0]))})", kept)
    db.execute("COMMIT")
    took = time.perf_counter() - began
    db.close()
    return took


def main() -> None:
    """Build, measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    for name, many in (("machines", 1000), ("seasons", 5), ("runs", 12)):
        asked.add_argument(f"--{name}", type=int, default=many)
    asked.add_argument("--register", type=Path, help="keep the large register here, or take the one that is here")
    given = asked.parse_args()
    programs.tell_of_extras()
    gc.disable()  # as the command line has it
    now = datetime.now(UTC)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        programs.compiled(folder)
        demo, large = folder / "demo.db", folder / "large.db"
        subprocess.run(
            [sys.executable, "-m", "reelcare", "demo", "--no-app", "--at", str(demo)], check=True,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        if given.register is None or not given.register.exists():
            scale.build(given.register or large, given.machines, given.seasons, given.runs, now=now)
        if given.register is not None:
            shutil.copy(given.register, large)  # so that what is written here is not there the next time
        steps: tuple[Callable[[], None], ...] = (
            lambda: commands(demo, large),
            lambda: lists(large, now),
            lambda: reading(large),
            lambda: bringing(folder),
            lambda: writing(folder, large),
            lambda: signing(folder),
        )
        for step in steps:
            step()
            gc.collect()


if __name__ == "__main__":
    main()
