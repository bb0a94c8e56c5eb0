"""Kills programs while they carry in and accept: all of it is there then, or nothing, and no hold has ended by itself.

`python -m tests.ordeal.carried [COUNT] [server]`: on a server, only the program is killed, not the server.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.exchange import carry_files, carry_format
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from reelcare.register.reading import foreign
from reelcare.register.writing.batch import Batch
from reelcare.register.writing.writer import Writer
from tests.register.conftest import sql
from tests.servers import Server, running

CARRY_IN = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from reelcare.register.exchange import carry_files, carry_format
from reelcare.register.opening import open_writer
bundle = carry_format.read(Path(sys.argv[2]))
where = sys.argv[1] if "://" in sys.argv[1] else Path(sys.argv[1])
with open_writer(where) as register:
    print("begun", flush=True)
    carry_files.carry_in(register, bundle, by="Ann", now=datetime.now(UTC))
    print("done", flush=True)
"""
ACCEPT = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from reelcare.register.exchange import waiting
from reelcare.register.opening import open_writer
where = sys.argv[1] if "://" in sys.argv[1] else Path(sys.argv[1])
with open_writer(where) as register:
    print("begun", flush=True)
    waiting.decide(register, sys.argv[2:], accepted=True, why="seen", by="Ann", now=datetime.now(UTC))
    print("done", flush=True)
"""
FAULTS = 40
Place = Path | str
Copier = Callable[[str, str], Place]
"""Makes a register, by its name, a copy of another, in place of what was there; of '' an empty one."""


def in_files(folder: Path) -> Copier:
    """Registers in files of a folder."""

    def copied(source: str, name: str) -> Path:
        shutil.rmtree(folder / name, ignore_errors=True)
        if source:
            shutil.copytree(folder / source, folder / name)
        return folder / name / "r.db"

    return copied


def on(server: Server, folder: Path) -> Copier:
    """Registers in databases of a server, each copy seen from a computer that has not seen any before."""
    import psycopg

    def copied(source: str, name: str) -> str:
        os.environ["XDG_DATA_HOME"] = tempfile.mkdtemp(dir=folder)
        with psycopg.connect(server.url("postgres"), autocommit=True) as connection:
            connection.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
            connection.execute(f"CREATE DATABASE {name} TEMPLATE {source or 'template1'}")
        return server.url(name)

    return copied


def main(count: int, server: Server | None = None) -> tuple[int, int, list[str]]:
    """Kill so many programs, every second one as it accepts; how many ended before they were killed, how many left
    everything as it was, and what was wrong."""
    chance = random.Random(count)
    done = undone = 0
    wrong: list[str] = []
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        copied = in_files(folder) if server is None else on(server, folder)
        ends = _made(folder, copied)
        for number in range(count):
            accepts = number % 2 == 1
            path = copied("second" if accepts else "first", "at")
            words = (ACCEPT, str(path), *ends) if accepts else (CARRY_IN, str(path), str(folder / "x.carry"))
            told = _killed(words, chance.uniform(0, 0.6))
            what = f"{number} ({'accept' if accepts else 'carry in'}, told {told})"
            end, problem = _ended(path, ends[-1], accepts=accepts)
            done, undone = done + (end == "done"), undone + (end == "as before")
            if problem or (told == "done" and end != "done"):
                wrong.append(f"{what}: {problem or 'acknowledged, and not there'}")
    return done, undone, wrong


def _made(folder: Path, copied: Copier) -> list[str]:
    """A register before a carry file and one after it, and the file; the ids of what ends its hold, in order."""
    now = datetime.now(UTC) - timedelta(hours=1)
    with open_writer(copied("", "first")) as here, open_writer(folder / "other.db") as other:
        people.enrol(here, "Ann", "supervisor", by="Ann", now=now)
        machine = here.add(e.Carded(card={"tag": "R1"}), by="Ann", now=now).machine
        hold = here.add(
            e.Fault(part="pawl", says="slips", holds="both", retest="pawl holds"), machine=machine, by="Ann", now=now
        )
        people.enrol(other, "Bo", "supervisor", by="Bo", now=now)
        carry_files.carry_out(here, folder / "a.carry", now=now)
        now += timedelta(minutes=1)
        carry_files.carry_in(other, carry_format.read(folder / "a.carry"), by="Bo", now=now)
        for at in range(FAULTS):
            other.add(e.Fault(part="hose", says=f"no. {at}"), machine=machine, by="Bo", now=now)
        steps = (
            e.Repair(fault=hold.id, says="new"),
            e.Retest(fault=hold.id, passed=True),
            e.Release(fault=hold.id),
        )
        ends = [_past_the_door(other, step, machine, now) for step in steps]
        carry_files.carry_out(other, folder / "x.carry", now=now)
    with open_writer(copied("first", "second")) as second:
        carry_files.carry_in(second, carry_format.read(folder / "x.carry"), by="Ann", now=now)
    return ends


def _past_the_door(other: Writer, what: e.Kind, machine: str | None, now: datetime) -> str:
    with other.writing():
        batch = Batch(other, other.ids, by="Bo", now=now)
        one = batch.add(what, machine, now)
        batch.flush()
    return one.id


def _killed(words: tuple[str, ...], after: float) -> str:
    """Run a program and kill it a while after it has begun; the last word that it said."""
    with subprocess.Popen(
        [sys.executable, "-c", *words], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as program:
        assert program.stdout is not None
        first = program.stdout.readline().strip()
        time.sleep(after)
        program.send_signal(signal.SIGKILL)
        rest = program.stdout.read().split("\n")[:-1]
    return (rest or [first])[-1]


def _ended(path: Place, release: str, *, accepts: bool) -> tuple[str, str]:
    """Whether all of it was done or nothing, and what is wrong."""
    with open_writer(path, create=False) as register:
        if not prove(register).whole:
            return "", "not whole"
        if register.rebuild():
            return "", "what was kept was not what the entries give"
        machine = register.machine_id("R1")
        held = any(one.holds for one in register.state(machine).faults)
        kinds = {
            str(kind): int(many) for kind, many in sql(register.db, "SELECT kind, COUNT(*) FROM entry GROUP BY kind")
        }
        if accepts:
            decided = "carry decision" in kinds
            return ("done", "held still" if held else "") if decided else ("as before", "" if held else "let go")
        if not held:
            return "", "the hold has ended without a name"
        if kinds.get("fault", 0) == 1:
            return "as before", "signed, and not there" if "carried in" in kinds or foreign.brought(register.db) else ""
        waits = foreign.kept(register.db).get(release)
        signed = kinds.get("carried in", 0) == 2  # the other register's own, and this one's
        right = kinds["fault"] == FAULTS + 1 and signed and waits == "waiting"
        return "done", "" if right else f"half of it: {kinds}, release {waits}"


if __name__ == "__main__":
    times = next((int(word) for word in sys.argv[1:] if word.isdecimal()), 200)
    if "server" in sys.argv[1:]:
        with running() as found:
            assert found is not None, "no PostgreSQL server is here"
            finished, before, harm = main(times, found)
    else:
        finished, before, harm = main(times)
    print(f"{finished} done, {before} as before; wrong: {len(harm)}", *harm, sep="\n")
    sys.exit(1 if harm or not finished or not before else 0)
