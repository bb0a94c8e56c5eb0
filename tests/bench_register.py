"""How fast run logs come in and what is due is ranked, each beside plain SQLite in the same run.

Run it with `python tests/bench_register.py [--runs N]`. Nothing is asserted: what may be reached stands in
DEVELOPERS.md, under Budgets. The estate is invented.
"""

from __future__ import annotations

import argparse
import csv
import gc
import random
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from reelcare.core import entries as e
from reelcare.register import bring, people, ranking, schema, sheets
from reelcare.register.register import Draft, Register

NOW = datetime(2035, 1, 1, tzinfo=UTC)
COLUMNS = (
    "machine", "started", "ended", "metres", "planned_speed_m_h", "inlet_kpa", "gun_kpa", "drive_loss_kpa", "operator",
    "place", "stopped_by", "notes",
)  # fmt: skip


def estate(path: Path, machines: int) -> Register:
    """A register with so many machines, and the shipped plan."""
    register = Register(path)
    people.enrol(register, "Ann", "supervisor", by="Ann", now=NOW)
    register.add(e.Planned(plan=sheets.default_plan()[1]), by="Ann", now=NOW)
    cards = [
        Draft(
            what=e.Carded(
                card={
                    "tag": f"M{number:05}", "name": "Reel", "in_use_since": "2020-01-01", "hose": {"length": "400 m"},
                }
            ),
            happened=NOW,
        )
        for number in range(machines)
    ]  # fmt: skip
    register.add_all(cards, by="Ann", now=NOW)
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


def plain_insert(register: Register, path: Path) -> float:
    """Seconds that plain SQLite takes for the same rows in the same table, with the same sync."""
    kept = schema.rows(register.db, "SELECT * FROM entry WHERE kind = 'run'")
    tables = schema.rows(register.db, "SELECT sql FROM sqlite_master WHERE tbl_name = 'entry' AND sql IS NOT NULL")
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


def best(what: Callable[[], object], times: int = 7) -> float:
    """The median seconds of something done several times."""
    took = []
    for _ in range(times):
        began = time.perf_counter()
        what()
        took.append(time.perf_counter() - began)
    return statistics.median(took)


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--runs", type=int, default=60_000)
    runs = asked.parse_args().runs
    gc.disable()  # as the command line has it
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        run_log(here / "runs.csv", 30, runs)
        with estate(here / "a.db", 30) as register:
            began = time.perf_counter()
            brought = bring.bring(register, here / "runs.csv", by="Ann", now=NOW).brought
            took = time.perf_counter() - began
            plain = plain_insert(register, here / "plain.db")
        print(f"bring            {brought / took:8.0f} lines/s   {plain / took:.2f} of plain executemany's rate")
        with estate(here / "b.db", 1000) as register:
            today = {"today": NOW.astimezone(register.zone).toordinal()}
            ours = best(lambda: ranking.ranked(register, NOW))
            db = sqlite3.connect(here / "b.db")
            text = ranking.DUE
            bare = best(lambda: db.execute(text, today).fetchall())
            count = len(ranking.ranked(register, NOW))
            db.close()
        print(f"due, {count} items {1000 * ours:8.1f} ms        {ours / bare:.2f} x the plain SQL over the rollup")


if __name__ == "__main__":
    main()
