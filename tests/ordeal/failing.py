"""Makes the calls of a writer to its disk fail, one after the other: each is told, nothing is lost or half there.

`python -m tests.ordeal.failing [COUNT]`

Each command is run again and again; the first time its first write fails, then its second, and so on until one run
meets no failure (or COUNT is reached): so for writing, syncing, cutting and naming, with a disk that fails and one that
is full. A command must say in one line that it did not succeed, and exit so; what it says it did must be there; the
register must prove whole; no file may be left half made.
"""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from dataclasses import dataclass, field
from datetime import UTC, datetime
from io import FileIO
from pathlib import Path

from reelcare.core import entries as e
from reelcare.register import people, schema
from reelcare.register.errors import RegisterError
from reelcare.register.proving import prove
from reelcare.register.register import Register

FAILURES = (
    ("pwrite64", "EIO"), ("pwrite64", "ENOSPC"), ("write", "EIO"), ("write", "ENOSPC"), ("fdatasync", "EIO"),
    ("fsync", "EIO"), ("ftruncate", "EIO"), ("rename", "EIO"), ("link", "EIO"), ("openat", "ENOSPC"),
)  # fmt: skip
COMMANDS: dict[str, tuple[str, ...]] = {
    "log fault": ("log", "fault", "R1", "hose", "--says", "scuffed", "--by", "Ann"),
    "copy": ("copy", "{folder}/copy.db"),
    "carry out": ("carry", "out", "{folder}/out.carry"),
    "report": ("report", "due", "{folder}/due.html"),
}
CLOSED_LATE = ("register.db", "register.db-wal", "register.db-shm", "register.db.heads", "register.db-journal")


@dataclass
class Result:
    """What was found: commands run with a failure, and the ways in which one must not end."""

    run: int = 0
    silent: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    damaged: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    rude: list[str] = field(default_factory=list)

    @property
    def bad(self) -> list[str]:
        """All that must not be."""
        return [*self.silent, *self.lost, *self.damaged, *self.left, *self.rude]


def main(most: int = 400, commands: tuple[str, ...] = tuple(COMMANDS), failures: object = FAILURES) -> Result:
    """Run each command with each failure at each of its calls, `most` of them at most for one pair."""
    result = Result()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place).resolve()
        first = folder / "first"
        first.mkdir()
        _begin(first / "register.db")
        for name in commands:
            for call, error in failures:  # type: ignore[attr-defined]  # pairs
                for number in range(1, most + 1):
                    if not _once(result, name, call, error, number, first, folder / "at"):
                        break
    return result


def _begin(path: Path) -> None:
    now = datetime(2026, 5, 1, 5, tzinfo=UTC)
    with Register(path) as register:
        people.enrol(register, "Ann", "supervisor", by="Ann", now=now)
        register.add(e.Carded(card={"tag": "R1"}), by="Ann", now=now)


def _once(result: Result, name: str, call: str, error: str, number: int, first: Path, at: Path) -> bool:
    """Run a command with one call failing; whether there was a call to fail."""
    shutil.rmtree(at, ignore_errors=True)
    shutil.copytree(first, at)
    path, log = at / "register.db", at.parent / "log"
    words = [one.format(folder=at) for one in COMMANDS[name]]
    # only what touches this folder fails: that the program's own modules cannot be read is another matter
    told = subprocess.run(
        ["strace", "-f", "-qq", "-o", log, *_paths(at, words), "-e", f"trace={call}",
         "-e", f"inject={call}:error={error}:when={number}",
         sys.executable, "-m", "reelcare", "--register", str(path), *words],
        capture_output=True, text=True, env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "TZ": "UTC"}, check=False,
    )  # fmt: skip
    if "(INJECTED)" not in log.read_text("utf-8", "replace"):
        return False
    result.run += 1
    _judge(result, f"{name}: {call} {number} {error}", told, path, name)
    return True


def _paths(at: Path, words: list[str]) -> list[str]:
    """Options that let strace look at the files of the register, and those that the command makes, alone."""
    names = {at / one for one in CLOSED_LATE} | {Path(one) for one in words if one.startswith(str(at))}
    found = []
    for one in sorted(names, key=str):
        found += ["-P", str(one)]
    return found


def _judge(result: Result, what: str, told: subprocess.CompletedProcess[str], path: Path, name: str) -> None:
    said = told.stderr.strip()
    if "Traceback" in said or (told.returncode and len(said.splitlines()) != 1):
        result.rude.append(f"{what}: {said[-300:]}")
    try:
        with Register(path, create=False) as register:
            whole = prove(register).whole
            faults = schema.rows(register.db, "SELECT COUNT(*) FROM entry WHERE kind = 'fault'")[0][0]
            entries = schema.rows(register.db, "SELECT COUNT(*) FROM entry")[0][0]
    except RegisterError as why:
        result.damaged.append(f"{what}: {why}")
        return
    if not whole:
        result.damaged.append(f"{what}: does not prove whole")
    if entries - faults < 2:
        result.lost.append(f"{what}: what was there before is gone")
    made = [one for one in path.parent.iterdir() if one.name not in CLOSED_LATE]
    halves = [one.name for one in made if one.name.endswith(".new") or ".new-" in one.name]
    if halves:
        result.left.append(f"{what}: {', '.join(halves)}")
    done = bool(faults) if name == "log fault" else any(not one.name.startswith(".") for one in made)
    if told.returncode == 0 and not done:
        result.silent.append(f"{what}: said to be done, and is not")


def full_disk() -> Result | None:
    """Commands on a disk with no room left; None where none can be made (that takes root, and a mount)."""
    result = Result()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place).resolve()
        made = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=10m", "tmpfs", folder], capture_output=True, check=False
        )
        if made.returncode:
            return None
        try:
            path = folder / "register.db"
            _begin(path)
            for name, words in COMMANDS.items():
                with (folder / "filling").open("wb", buffering=0) as file:
                    _fill(file)
                result.run += 1
                told = subprocess.run(
                    [sys.executable, "-m", "reelcare", "--register", str(path),
                     *(one.format(folder=folder) for one in words)],
                    capture_output=True, text=True, check=False,
                )  # fmt: skip
                (folder / "filling").unlink()
                if told.returncode != 7:
                    result.silent.append(f"{name} on a full disk: ended with {told.returncode}: {told.stderr[-200:]}")
                _judge(result, f"{name} on a full disk", told, path, name)
        finally:
            subprocess.run(["umount", folder], check=False)
    return result


def _fill(file: FileIO) -> None:
    try:
        while True:
            file.write(bytes(4096))
    except OSError:
        return


def upgrade(most: int = 10_000) -> Result:
    """Bring a register of the first version up to date, killed at its first write, its second, and so on."""
    old = Path(__file__).parent.parent / "register" / "versions" / "1.db"
    with tempfile.TemporaryDirectory() as place:
        first = Path(place).resolve() / "first"
        first.mkdir()
        shutil.copy(old, first / "register.db")
        before = _digests(old)
        return _killed("an upgrade", ("yard",), first, {tuple(before)}, most)


def merging(most: int = 10_000) -> Result:
    """Bring a carry file in, killed at each of its writes: all of it is there then, or nothing."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place).resolve()
        first, other = folder / "first", folder / "other"
        for one in (first, other):
            one.mkdir()
            _begin(one / "register.db")
        _reelcare(other / "register.db", "log", "fault", "R1", "hose", "--says", "scuffed", "--by", "Ann")
        _reelcare(other / "register.db", "carry", "out", str(folder / "x.carry"))
        words = ("carry", "in", str(folder / "x.carry"))
        shutil.copytree(first, folder / "whole")
        _reelcare(folder / "whole" / "register.db", *words)
        ends = {tuple(_digests(one / "register.db")) for one in (first, folder / "whole")}
        return _killed("a merge", words, first, ends, most)


def _reelcare(path: Path, *words: str) -> None:
    subprocess.run([sys.executable, "-m", "reelcare", "--register", str(path), *words], check=True, capture_output=True)


def _killed(
    what: str, words: tuple[str, ...], first: Path, ends: set[tuple[tuple[str, str], ...]], most: int
) -> Result:
    """Run a command on a copy of a folder, killed at each of its calls in turn; it must end as one of `ends`."""
    result = Result()
    at, log = first.parent / "at", first.parent / "log"
    for call in ("pwrite64", "fdatasync", "ftruncate", "unlink", "rename"):
        for number in range(1, most + 1):
            shutil.rmtree(at, ignore_errors=True)
            shutil.copytree(first, at)
            path = at / "register.db"
            subprocess.run(
                ["strace", "-f", "-qq", "-o", log, "-e", f"trace={call}", "-e",
                 f"inject={call}:signal=KILL:when={number}",
                 sys.executable, "-m", "reelcare", "--register", str(path), *words],
                capture_output=True, check=False,
            )  # fmt: skip
            if not re.search(r"killed by SIGKILL", log.read_text("utf-8", "replace")):
                break
            result.run += 1
            told = f"{what} killed at {call} {number}"
            try:
                with Register(path, create=False) as register:
                    if not prove(register).whole:
                        result.damaged.append(f"{told}: does not prove whole")
                    rows = schema.rows(register.db, "SELECT id, digest FROM entry ORDER BY number")
            except RegisterError as why:
                result.damaged.append(f"{told}: {why}")
                continue
            if tuple(rows) not in ends:
                result.lost.append(f"{told}: neither as before nor as after")
    return result


def _digests(path: Path) -> list[tuple[str, str]]:
    db = sqlite3.connect(path)
    try:
        return db.execute("SELECT id, digest FROM entry ORDER BY number").fetchall()
    finally:
        db.close()


if __name__ == "__main__":
    if shutil.which("strace") is None:
        raise SystemExit("strace is not here: no call can be made to fail")
    ways = {
        "calls that fail": main(int(sys.argv[1]) if len(sys.argv) > 1 else 400),
        "an upgrade killed": upgrade(),
        "a merge killed": merging(),
    }
    full = full_disk()
    if full is None:
        print("a disk that is full: not tried, it takes the right to mount one")
    else:
        ways["a disk that is full"] = full
    for name, one in ways.items():
        print(
            f"{name}: {one.run} runs; {len(one.silent)} silent, {len(one.lost)} lost, {len(one.damaged)} damaged, "
            f"{len(one.left)} half files, {len(one.rude)} not in one line"
        )
        for line in one.bad:
            print(f"  {line}")
    sys.exit(any(one.bad for one in ways.values()))
