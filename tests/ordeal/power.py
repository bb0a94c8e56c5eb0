"""Cuts the power of a writer again and again, without a plug: what a disk may hold at each moment is worked out from
the system calls of a real writer, and a register is opened on it.

`python -m tests.ordeal.power [STATES]`

What may be there says `disk.py`. States are spread over all that the writer did, to its end. Of every one: it opens,
it proves whole, its entries are the first ones written without a gap, every entry that was acknowledged is among them,
and the witnessed heads are not ahead of them. The writer syncs as the register does by itself. The replay must be able
to fail: with syncs turned off it has to find damage, loss, and heads ahead.
"""

from __future__ import annotations

import hashlib
import os
import random
import shutil
import subprocess
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.errors import RegisterError
from reelcare.register.integrity import witness
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from tests.ordeal.disk import CALLS, Disk, calls
from tests.register.conftest import sql

WRITER = """
import os, sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.database import sqlite_file
from reelcare.register.opening import open_writer
path, many, sync, network = Path(sys.argv[1]), int(sys.argv[3]), sys.argv[4], sys.argv[5]
sqlite_file.network_kind = lambda path: network
told = os.open(sys.argv[2], os.O_WRONLY | os.O_CREAT)
now = datetime(2026, 5, 1, 6, tzinfo=UTC)
with open_writer(path) as register:
    if sync:
        register.db.execute_sql(f"PRAGMA synchronous = {sync}")
    register.db.execute_sql("PRAGMA wal_autocheckpoint = 24")
    if not register.roles():
        os.write(told, people.enrol(register, "Ann", "supervisor", by="Ann", now=now).id.encode() + b"\\n")
        os.write(told, register.add(e.Carded(card={"tag": "R1"}), by="Ann", now=now).id.encode() + b"\\n")
    machine = register.machine_id("R1")
    for number in range(many):
        # heads are kept after a fault, and their sync would hide that a reading had none of its own
        fault = e.Fault(part="hose", says=f"scuffed at {number} m" * 9)
        what = fault if number % 2 else e.Reading(counter="hours", value=3600 * number)
        entry = register.add(what, machine=machine, by="Ann", now=now + timedelta(hours=number))
        os.write(told, entry.id.encode() + b"\\n")
"""


class Result(NamedTuple):
    """What the replay found."""

    states: int
    damaged: int
    lost: int
    """Acknowledged entries that are not there, of all states together."""
    ahead: int
    """States in which the heads tell of entries that are not there."""
    acknowledged: int
    """Entries that were acknowledged when the last state was looked at."""
    witnessed: int
    """States that have heads to hold the entries against."""

    @property
    def bad(self) -> bool:
        """Whether anything was found that must not be."""
        return bool(self.damaged or self.lost or self.ahead)

    def __str__(self) -> str:
        return (
            f"{self.states} states ({self.witnessed} with heads), {self.acknowledged} entries acknowledged; "
            f"{self.damaged} damaged, {self.lost} acknowledged entries lost, {self.ahead} with heads ahead"
        )


def record(folder: Path, many: int, *, sync: int | None, network: bool) -> tuple[Path, Path]:
    """Let a writer write while its calls are logged; the log, and the file of its acknowledgements."""
    log, told = folder / "calls", folder / "told"
    subprocess.run(
        ["strace", "-f", "-y", "-xx", "-s", "400000", "-e", f"trace={CALLS}", "-o", log, sys.executable, "-c", WRITER,
         folder / "register" / "r.db", told, str(many), "" if sync is None else str(sync), "nfs4" if network else ""],
        check=True, env={**os.environ, "TZ": "UTC"},
    )  # fmt: skip
    return log, told


def main(states: int, many: int = 60, *, sync: int | None = None, fresh: bool = False, network: bool = False) -> Result:
    """Replay a writer of so many entries and look at so many states, spread over all of its calls.

    `fresh` begins with the making of the register, `network` writes as on a network file system (without a log), and
    `sync` has the writer sync otherwise than the register does by itself.
    """
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place).resolve()
        (folder / "register").mkdir()
        if not fresh:
            _begin(folder / "register" / "r.db")
        disk, rehearsal = Disk(folder / "register"), Disk(folder / "register")
        log, told = record(folder, many, sync=sync, network=network)
        events = list(calls(log))
        moments = sum(rehearsal.take(*event, str(told)) for event in events)
        look = _Look(folder / "found", _order(folder / "register" / "r.db"), random.Random(states))
        passed = 0
        for event in events:
            if not disk.take(*event, str(told)):
                continue
            passed += 1
            look.at(disk, states * passed // moments, states // moments)
        assert disk.acknowledged == rehearsal.acknowledged
        return Result(look.count, look.damaged, look.lost, look.ahead, len(disk.acknowledged), look.witnessed)


class _Look:
    """Looks at what may be found, each state once, and counts."""

    def __init__(self, folder: Path, order: list[str], chance: random.Random) -> None:
        self._folder, self._order, self._chance = folder, order, chance
        self._seen: set[bytes] = set()
        self.count = self.damaged = self.lost = self.ahead = self.witnessed = 0

    def at(self, disk: Disk, wanted: int, each: int) -> None:
        """Look at states of this moment until so many are looked at in all; there may be fewer different ones."""
        kinds: list[tuple[random.Random | None, bool]] = [(None, False), (None, True), (self._chance, False)]
        turn = self.count % 3
        for by, all_of_it in [*kinds[turn:], *kinds[:turn], *(kinds[2:] * (2 * each))]:
            if self.count >= wanted:
                return
            found = disk.found(by, all_of_it=all_of_it)
            mark = hashlib.sha256(repr((sorted(found.items()), len(disk.acknowledged))).encode()).digest()
            if mark not in self._seen:
                self._seen.add(mark)
                self.count += 1
                self._one(found, disk.acknowledged)

    def _one(self, found: dict[str, bytes], acknowledged: list[str]) -> None:
        shutil.rmtree(self._folder, ignore_errors=True)
        self._folder.mkdir()
        for name, data in found.items():
            (self._folder / name).write_bytes(data)
        path = self._folder / "r.db"
        if "r.db" not in found:
            self.lost += len(acknowledged)
            return
        self.witnessed += bool(witness.kept(path))
        try:
            with open_writer(path, create=False) as register:
                self.ahead += bool(witness.missing(register.db, witness.kept(register.path) or ()))
                whole = prove(register).whole
                there = [str(one) for (one,) in sql(register.db, "SELECT id FROM entry ORDER BY number")]
        except RegisterError:
            self.damaged += 1
            return
        self.damaged += not whole or there != self._order[: len(there)]
        self.lost += len(set(acknowledged) - set(there))


def _begin(path: Path) -> None:
    now = datetime(2026, 5, 1, 5, tzinfo=UTC)
    with open_writer(path) as register:
        people.enrol(register, "Ann", "supervisor", by="Ann", now=now)
        register.add(e.Carded(card={"tag": "R1"}), by="Ann", now=now)


def _order(path: Path) -> list[str]:
    with open_writer(path, create=False) as register:
        return [str(one) for (one,) in sql(register.db, "SELECT id FROM entry ORDER BY number")]


if __name__ == "__main__":
    if shutil.which("strace") is None:
        raise SystemExit("strace is not here: the calls of the writer cannot be logged")
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 3000
    good = {
        "writing": main(wanted),
        "from the making on": main(wanted // 3, 8, fresh=True),
        "on a network file system": main(wanted // 3, network=True),
    }
    for name, one in good.items():
        print(f"{name}: {one}")
    off = main(wanted // 3, sync=0)
    print(f"with syncs turned off, which must be found: {off}")
    sys.exit(any(one.bad for one in good.values()) or not (off.damaged and off.lost and off.ahead))
