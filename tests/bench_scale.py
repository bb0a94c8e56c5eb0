"""How fast and how large the program is at the size of a whole region, each figure beside a yardstick of the same run.

Run it with `python tests/bench_scale.py [--machines 10000] [--seasons 10] [--runs 20] [--register PATH]` on Linux. It
builds its registers (the biggest takes a few minutes; `--register` keeps it, or takes one that is there) and prints
what was measured, its ratio to the yardstick, and what is wanted. Nothing is asserted.
"""

from __future__ import annotations

import argparse
import gc
import os
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from reelcare.core import entries as e
from reelcare.register import proving, ranking, reading, schema, upcoming, walks, yard
from reelcare.register import sheets as loading
from reelcare.register.demo import _right
from reelcare.register.register import Draft, Register
from tests import scale
from tests.bench_register import best
from tests.bench_start import DOWN, HELLO, PAGE_UP, Terminal

PAGE_DOWN = b"\x1b[6~"
READY = b"Walk-round"


def tell(what: str, took: float, ratio: float | None = None, wanted: str = "", unit: str = "ms") -> None:
    """One line of the table."""
    shown = f"{took * 1000:10.2f} ms" if unit == "ms" else f"{took:10.1f} {unit}"
    print(f"{what:<52}{shown}{f'{ratio:10.3f} x' if ratio is not None else '':<14}{wanted}", flush=True)


def started(register: Path, *, short: bool = False) -> tuple[float, float, float, list[float], list[float]]:
    """First paint, ready for keys, peak memory [MiB], and the answers to row and page down, of the app.

    In a short list one page down is the end: there, a page up that is not counted goes before each.
    """
    app = Terminal([sys.executable, "-m", "reelcare", "--register", str(register)])
    seen = app.until(b"\xe2\x96\xb8")  # the cursor of the list
    ready = app.until(READY)
    rows = [app.press(DOWN) for _ in range(5)]
    pages = []
    for _ in range(5):
        if short:
            app.press(PAGE_UP)
        pages.append(app.press(PAGE_DOWN))
    peak = _peak(app.pid)
    app.end()
    return seen, ready, peak, rows[1:], pages[1:]


def _peak(pid: int) -> float:
    status = Path(f"/proc/{pid}/status").read_text()
    return next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM")) / 1024


def paint(demo: Path, big: Path, times: int = 5) -> None:
    """The app beside a bare program, with few machines and with many."""
    hello, bare, few, many = [], [], [], []
    for _ in range(times):
        one = Terminal([sys.executable, "-c", HELLO])
        hello.append(one.until(b"hello, world"))
        one.until_quiet()
        bare.append(_peak(one.pid))
        one.end()
        few.append(started(demo, short=True))
        many.append(started(big))
    yardstick = statistics.median(hello)
    tell("a bare Textual program, first paint", yardstick)
    for name, found, most in (("12 machines", few, 1.25), ("many machines", many, 1.35)):
        seen, ready = (statistics.median(one[place] for one in found) for place in (0, 1))
        tell(f"the yard with {name}, first paint", seen, seen / yardstick, f"at most {most} x")
        tell(f"the yard with {name}, ready for keys", ready, ready / yardstick)
        tell("  one row down", statistics.median(key for one in found for key in one[3]), None, "5 ms")
        tell("  one page down", statistics.median(key for one in found for key in one[4]), None, "15 ms")
        more = statistics.median(one[2] for one in found) - statistics.median(bare)
        tell("  peak memory beyond a bare program", more, None, "at most 20 MiB", unit="MiB")


def commands(demo: Path, big: Path) -> None:
    """`due --overdue` as a whole process, beside one that only loads sqlite3."""

    def run(*words: str) -> Callable[[], object]:
        return lambda: subprocess.run([sys.executable, *words], stdout=subprocess.DEVNULL, check=False)

    bare = best(run("-c", "import sqlite3"))
    tell("python -c 'import sqlite3'", bare)
    for name, path, most in (("12 machines", demo, 4), ("many machines", big, 8)):
        took = best(run("-m", "reelcare", "--register", str(path), "due", "--overdue"))
        tell(f"due --overdue, {name}", took, took / bare, f"at most {most} x")


def inside(path: Path, now: datetime) -> None:
    """Questions to a big register from inside the program."""
    with Register(path) as register, closing(sqlite3.connect(path)) as plain:
        today = {"today": now.astimezone(register.zone).toordinal()}
        scan = best(lambda: plain.execute(ranking.DUE, today).fetchall(), 3)
        found = len(plain.execute(ranking.DUE, today).fetchall())
        ours = best(lambda: ranking.ranked(register, now), 3)
        tell(f"due over all machines, {found} items", ours, ours / scan, "at most 1.1 x plain SQL")
        worst = best(lambda: ranking.worst(register, now, 200))
        tell("the worst 200 of them", worst, worst / scan, "at most 0.05 x the scan")
        tell("what is due or overdue, for the due list", best(lambda: upcoming.acute(register, now), 3))
        tell("the order of the yard", best(lambda: yard.order(register, now)))
        machine = yard.order(register, now).machines[-1]
        tell("a machine's last 50 entries", best(lambda: reading.book(register, machine, most=50)), None, "under 2 ms")


def writing(folder: Path, big: Path, now: datetime) -> None:
    """One entry and one check of thirty answers, durable, beside one sync of the disk; and as the register grows."""
    with (folder / "sync").open("wb") as file:
        file.write(bytes(4096))

        def sync() -> None:
            os.pwrite(file.fileno(), bytes(4096), 0)
            os.fdatasync(file.fileno())

        disk = best(sync, 31)
    tell("one fdatasync", disk)
    small = folder / "small.db"
    scale.build(small, 100, 10, 20, now=now)
    figures = {}
    for name, path in (("100 machines", small), ("many machines", big)):
        with Register(path) as register:
            machine = yard.order(register, now).machines[0]
            figures[name] = best(lambda r=register, m=machine: _entry(r, m), 31)
            if name == "100 machines":
                answers = _answers(register, machine)
                together = best(_together(register, machine), 15)
    tell("one more entry, 100 machines", figures["100 machines"], figures["100 machines"] / disk)
    grown = figures["many machines"]
    tell("one more entry, many machines", grown, grown / figures["100 machines"], "at most 1.2 x the smaller register")
    tell("an answer of a check, durable, beyond a sync", answers - disk, None, "at most 1 ms")
    tell("thirty answers written together, beyond a sync", together - disk, None, "at most 1 ms")


def _entry(register: Register, machine: str) -> None:
    what = e.Measured(about="gun", figures={"bore": "23.3 mm"})
    register.add(what, machine=machine, by="Ann", now=datetime.now(UTC))


def _answers(register: Register, machine: str) -> float:
    """The median seconds of an answer while a walk-round is answered."""
    now, took = datetime.now(UTC), []
    sheet = loading.load().by_id["pre-start"]
    going = walks.begin(register, machine, sheet, by="Ann", now=now)
    for question in going.walk.sheet.questions[:30]:
        seen = _right(question, going.walk)
        began = time.perf_counter()
        walks.answer(register, going.id, question.id, seen, by="Ann", now=now)
        took.append(time.perf_counter() - began)
    return statistics.median(took)


def _together(register: Register, machine: str) -> Callable[[], object]:
    """What writes thirty answers of the check that is open, in one transaction."""
    now = datetime.now(UTC)
    (check,) = [one.id for one in register.tally(machine).checks]
    drafts = [
        Draft(what=e.Answered(check=check, question=one.id, seen="yes", judged="right"), happened=now, machine=machine)
        for one in walks.check(register, check).walk.sheet.questions[:30]
    ]
    return lambda: register.add_all(drafts, by="Ann", now=now)


def proof(path: Path) -> None:
    """A full proof beside reading the file."""
    size = path.stat().st_size / 1e6
    began = time.perf_counter()
    with path.open("rb") as file:
        while file.read(1 << 20):
            pass
    read = time.perf_counter() - began
    with Register(path) as register:
        began = time.perf_counter()
        found = proving.prove(register)
        took = time.perf_counter() - began
    tell(f"a full proof of {size:.0f} MB, {found.entries} entries", took, took / read)
    tell("  that is", size / took, None, "at least 100 MB/s", unit="MB/s")


def proofs(folder: Path, now: datetime) -> None:
    """Full proofs of a register that one process looks at, and of one that is large enough for several."""
    proof(folder / "small.db")
    larger = folder / "larger.db"
    scale.build(larger, 1000, 10, 20, now=now)
    proof(larger)


def main() -> None:
    """Build, measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    for name, many in (("machines", 10_000), ("seasons", 10), ("runs", 20)):
        asked.add_argument(f"--{name}", type=int, default=many)
    asked.add_argument("--register", type=Path, help="keep the big register here, or take the one that is here")
    told = asked.parse_args()
    gc.disable()  # as the command line has it
    now = datetime.now(UTC)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        demo, big = folder / "demo.db", told.register or folder / "big.db"
        subprocess.run(
            [sys.executable, "-m", "reelcare", "demo", "--no-app", "--at", str(demo)], check=True,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        if not big.exists():
            began = time.perf_counter()
            scale.build(big, told.machines, told.seasons, told.runs, now=now)
            tell("building the big register", time.perf_counter() - began, None, "minutes", unit="s")
        with Register(big) as register:
            yard.renew(register, now)
            (entries,) = schema.rows(register.db, "SELECT COUNT(*) FROM entry")[0]
            print(f"{big.stat().st_size / 1e6:.0f} MB, {entries} entries, {len(yard.order(register, now))} machines")
        for step in _steps(folder, demo, big, now):
            step()
            gc.collect()


def _steps(folder: Path, demo: Path, big: Path, now: datetime) -> Iterator[Callable[[], None]]:
    yield lambda: paint(demo, big)
    yield lambda: commands(demo, big)
    yield lambda: inside(big, now)
    yield lambda: writing(folder, big, now)
    yield lambda: proofs(folder, now)


if __name__ == "__main__":
    main()
