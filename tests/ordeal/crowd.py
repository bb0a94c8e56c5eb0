"""Many processes write at once: everybody gets a turn, and every entry is there, in one whole chain.

`python -m tests.ordeal.crowd [PROCESSES] [ENTRIES] [server]`
"""

from __future__ import annotations

import contextlib
import subprocess
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from tests.register.conftest import sql
from tests.servers import Server, running

WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from reelcare.core import entries as e
from reelcare.register.opening import open_writer
with open_writer(sys.argv[1] if "://" in sys.argv[1] else Path(sys.argv[1])) as register:
    machine = register.machine_id("R1")
    for _ in range(int(sys.argv[2])):
        register.add(e.Fault(part="hose", says="scuffed"), machine=machine, by="Ann", now=datetime.now(UTC))
"""


def main(processes: int, entries: int, server: Server | None = None) -> tuple[int, int, bool]:
    """Let many processes write so many entries each; how many are there, in how many chains, whether all is whole."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "r.db" if server is None else server.fresh()
        with open_writer(path) as register:
            now = datetime.now(UTC)
            people.enrol(register, "Ann", "supervisor", by="Ann", now=now)
            register.add(e.Carded(card={"tag": "R1"}), by="Ann", now=now)
        writers = [subprocess.Popen([sys.executable, "-c", WRITER, str(path), str(entries)]) for _ in range(processes)]
        failed = sum(writer.wait() != 0 for writer in writers)
        with open_writer(path, create=False) as register:
            proof = prove(register)
            count = sql(register.db, "SELECT COUNT(*) FROM entry WHERE kind = 'fault'")[0][0]
    return int(count), len(proof.heads), proof.whole and not failed


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:] if word.isdecimal()]
    many, each = (numbers + [50, 20][len(numbers) :])[:2]
    with contextlib.ExitStack() as started:
        at = started.enter_context(running()) if "server" in sys.argv[1:] else None
        there, chains, whole = main(many, each, at)
    print(f"{many} processes of {each}: {there} entries there, {chains} chain, {'whole' if whole else 'NOT whole'}")
    sys.exit(0 if whole and there == many * each and chains == 1 else 1)
