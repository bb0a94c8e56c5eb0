"""Proves a register again and again while others write in it: no proof may find anything.

`python -m tests.ordeal.proofs [PROOFS] [WRITERS]`
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.opening import open_reader, open_writer
from reelcare.register.proof.proving import prove

WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from reelcare.core import entries as e
from reelcare.register.opening import open_writer
where = sys.argv[1] if "://" in sys.argv[1] else Path(sys.argv[1])
while True:
    with open_writer(where) as register:
        machine = register.machine_id("R1")
        for _ in range(5):
            register.add(e.Fault(part="hose", says="scuffed"), machine=machine, by="Ann", now=datetime.now(UTC))
            register.witness_heads()
    print("5", flush=True)
"""


def main(proofs: int, writers: int, where: Path | str | None = None) -> tuple[int, list[str]]:
    """Prove so many times beside so many writers: how many entries were written meanwhile, and what was found."""
    with tempfile.TemporaryDirectory() as folder:
        place = where or Path(folder) / "r.db"
        with open_writer(place) as register:
            now = datetime.now(UTC)
            people.enrol(register, "Ann", "supervisor", by="Ann", now=now)
            register.add(e.Carded(card={"tag": "R1"}), by="Ann", now=now)
            before = register.count_entries()
        running = [
            subprocess.Popen([sys.executable, "-c", WRITER, str(place)], stdout=subprocess.PIPE) for _ in range(writers)
        ]
        found: list[str] = []
        try:
            for one in running:
                assert one.stdout is not None
                one.stdout.readline()  # it has begun
            for _ in range(proofs):
                with open_reader(place) as reader:
                    found += [f"{one.place}: {one.what}" for one in prove(reader).findings]
        finally:
            for one in running:
                one.kill()
                one.communicate()
        with open_reader(place) as reader:
            return reader.count_entries() - before, found


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:]]
    many, beside = (numbers + [1000, 1][len(numbers) :])[:2]
    written, false = main(many, beside)
    print(f"{many} proofs beside {beside} writers, {written} entries written meanwhile: {len(false)} false findings")
    print("\n".join(false[:5]))
    sys.exit(1 if false or not written else 0)
