"""Kills a writer at random moments of its writing: every entry that it was told is written must be there, and whole.

`python -m tests.ordeal.killed [COUNT]`
"""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from tests.register.conftest import sql

WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from reelcare.core import entries as e
from reelcare.register.opening import open_writer
with open_writer(Path(sys.argv[1])) as register:
    machine = register.machine_id("R1")
    while True:
        what = e.Fault(part="hose", says="scuffed")
        entry = register.add(what, machine=machine, by="Ann", now=datetime.now(UTC))
        print(entry.id, flush=True)
"""


def main(count: int) -> tuple[int, int, int]:
    """Kill so many writers; how many entries were acknowledged, how many of them are lost, how often it was damaged."""
    chance = random.Random(count)
    acknowledged: list[str] = []
    damaged = 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "r.db"
        with open_writer(path) as register:
            now = datetime.now(UTC)
            people.enrol(register, "Ann", "supervisor", by="Ann", now=now)
            register.add(e.Carded(card={"tag": "R1"}), by="Ann", now=now)
        for _ in range(count):
            with subprocess.Popen(
                [sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
            ) as writer:
                assert writer.stdout is not None
                acknowledged.append(writer.stdout.readline().strip())  # it has begun
                time.sleep(chance.uniform(0, 0.06))
                writer.send_signal(signal.SIGKILL)
                rest = writer.stdout.read()
            # a line that was cut short was not acknowledged
            acknowledged += [line for line in rest.split("\n")[:-1] if line]
            with open_writer(path, create=False) as register:
                damaged += not prove(register).whole
        with open_writer(path, create=False) as register:
            here = {str(one) for (one,) in sql(register.db, "SELECT id FROM entry")}
    return len(acknowledged), len(set(acknowledged) - here), damaged


if __name__ == "__main__":
    told, lost, harm = main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
    print(f"{told} entries acknowledged, {lost} lost, damage found {harm} times")
    sys.exit(1 if lost or harm else 0)
