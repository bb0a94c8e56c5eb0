"""Writes in a demo and keeps it as a register of one's own, killed at random moments: there whole, or not at all.

`python -m tests.ordeal.kept_demo [COUNT]`
"""

from __future__ import annotations

import random
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from reelcare.core import entries as e
from reelcare.register.demo import build, mark_as_demo
from reelcare.register.exchange import copies
from reelcare.register.opening import open_reader, open_writer
from reelcare.register.proof.proving import prove
from tests.ordeal.forked import alone, how_long, some_time


def _keep(demo: Path, own: Path) -> None:
    with open_reader(demo) as register:
        copies.copy(register, own, own=True)


def main(count: int) -> tuple[int, int, int]:
    """Kill so many: how many were kept by then, how many of these are not whole, lack an entry or are still a demo, and
    how often the demo was harmed."""
    chance = random.Random(count)
    kept = bad = harmed = 0
    now = datetime.now(UTC)
    with tempfile.TemporaryDirectory() as place:
        demo = Path(place) / "demo.db"
        with open_writer(demo) as register:
            mark_as_demo(register)
            build(register, now)
            by = next(name for name, role in register.roles().items() if role == "supervisor")
            fault = e.Fault(part="hose", says="mine", holds="run")
            mine = register.add(fault, machine=register.machine_id("T01"), by=by, now=now)
        whole = how_long(lambda: _keep(demo, Path(place) / "measured.db"))
        for number in range(count):
            own = Path(place) / f"own{number}.db"
            alone(lambda own=own: _keep(demo, own), some_time(chance, whole * 1.3))  # type: ignore[misc]
            if own.exists():
                kept += 1
                with open_reader(own) as register:
                    bad += not prove(register).whole or register.is_demo or register.entry(mine.id) is None
            own.unlink(missing_ok=True)
        with open_reader(demo) as register:
            harmed = not prove(register).whole or not register.is_demo
    return kept, bad, harmed


if __name__ == "__main__":
    asked = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    there, wrong, harm = main(asked)
    print(f"{asked} keepings killed: {there} kept by then, {wrong} of them bad, demo harmed {int(harm)} times")
    sys.exit(1 if wrong or harm else 0)
