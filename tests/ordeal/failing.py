"""Makes the calls of a command to its disk fail, one after the other: each is told, nothing is lost or half there.

`python -m tests.ordeal.failing [COUNT]`

Each command runs once with its system calls logged; that says which of them touch the folder of the register, those to
files that have no name yet among them. Then it runs again for each of these (COUNT at most for one kind), and that one
call fails: writing, syncing, cutting, naming and opening, with a disk that fails and one that is full. A command must
end with an exit code that says so, in one line; what it says it did must be there, and what it says it did not do must
not; the register must prove whole; a file that is left under its name must be whole, and no other may be left.
"""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from datetime import UTC, datetime
from io import FileIO
from pathlib import Path

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.database.models import NEWEST
from reelcare.register.errors import Damaged, RegisterError
from reelcare.register.exchange import carry_format
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from tests.ordeal.traced import Result, numbers, spread, touches, traced
from tests.register.conftest import sql

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
Digests = tuple[tuple[str, str], ...]
OF_A_REGISTER = (
    "register.db",
    "register.db-wal",
    "register.db-shm",
    "register.db.heads",
    "register.db-journal",
    "register.db.queue",
)


def main(most: int = 400, commands: Iterable[str] = COMMANDS, failures: Iterable[tuple[str, str]] = FAILURES) -> Result:
    """Run each command with each failure at each of its calls; at `most` of them, spread evenly, for one pair."""
    result = Result()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place).resolve()
        first = folder / "first"
        first.mkdir()
        result.begun = _begin(first / "register.db")
        for name in commands:
            calls = sorted({call for call, _ in failures})
            touching = numbers(_run(name, first, folder / "at", f"trace={','.join(calls)}")[1], folder / "at")
            for call, error in failures:
                for number in spread(touching.get(call, []), most):
                    _once(result, name, (call, error, number), first, folder / "at")
    return result


def _begin(path: Path) -> int:
    """Make a register that a command can write into; how many entries it has."""
    now = datetime(2026, 5, 1, 5, tzinfo=UTC)
    with open_writer(path) as register:
        people.enrol(register, "Ann", "supervisor", by="Ann", now=now)
        register.add(e.Carded(card={"tag": "R1"}), by="Ann", now=now)
    return _whole(path)[0]


def _run(name: str, first: Path, at: Path, *ways: str) -> tuple[subprocess.CompletedProcess[str], list[str]]:
    """Run a command on a fresh copy of the folder while strace looks on; how it ended, and its calls."""
    shutil.rmtree(at, ignore_errors=True)
    shutil.copytree(first, at)
    return traced(at.parent / "log", at / "register.db", [one.format(folder=at) for one in COMMANDS[name]], *ways)


def _once(result: Result, name: str, failing: tuple[str, str, int], first: Path, at: Path) -> None:
    call, error, number = failing
    told, lines = _run(name, first, at, f"trace={call}", f"inject={call}:error={error}:when={number}")
    failed = [line for line in lines if "(INJECTED)" in line and touches(line, at)]
    assert failed, f"{name}: {call} {number} was another call this time: the command does not do the same each time"
    result.run += 1
    result.rows[name, call, error, told.returncode] += 1
    _judge(result, f"{name}: {failed[0][:140]}", told, at, name)


def _judge(result: Result, what: str, told: subprocess.CompletedProcess[str], at: Path, name: str) -> None:
    said = told.stderr.strip()
    if "Traceback" in said or (told.returncode and (told.returncode != 7 or len(said.splitlines()) != 1)):
        result.rude.append(f"{what}: ended with {told.returncode}: {said[-300:]}")
    here = {one.name for one in at.iterdir()}
    target = COMMANDS[name][-1].rpartition("/")[2] if "{folder}" in COMMANDS[name][-1] else ""
    if here - {*OF_A_REGISTER, target}:
        result.left.append(f"{what}: {', '.join(sorted(here - {*OF_A_REGISTER, target}))}")
    try:
        entries, faults = _whole(at / "register.db")
    except RegisterError as why:
        result.damaged.append(f"{what}: {why}")
        return
    if entries - faults != result.begun:
        result.lost.append(f"{what}: what was there before is gone")
    if target in here:
        wrong = _half(at / target, entries)
        if wrong:
            result.left.append(f"{what}: {target} is not whole: {wrong}")
    done = target in here if target else bool(faults)
    if told.returncode == 0 and not done:
        result.silent.append(f"{what}: said to be done, and is not")
    if told.returncode and done:
        result.denied.append(f"{what}: said not to be done, and is there: {said[-200:]}")


def _whole(path: Path) -> tuple[int, int]:
    """How many entries a register has, and how many of them are faults. Raises Damaged where it is not whole."""
    with open_writer(path, create=False) as register:
        findings = prove(register).findings
        if findings:
            raise Damaged(f"{findings[0].place}: {findings[0].what}")
        [(entries,)] = sql(register.db, "SELECT COUNT(*) FROM entry")
        [(faults,)] = sql(register.db, "SELECT COUNT(*) FROM entry WHERE kind = 'fault'")
    return int(entries), int(faults)


def _half(path: Path, entries: int) -> str:
    """What is wrong with a file that a command has made; '' where nothing."""
    try:
        if path.suffix == ".html":
            return "" if path.read_text("utf-8").rstrip().endswith("</html>") else "cut short"
        if path.suffix == ".db" and path.read_bytes()[18:20] != b"\1\1":
            return "wants a log beside it"  # by https://www.sqlite.org/fileformat.html, section 1.3.3
        there = len(carry_format.read(path).entries) if path.suffix == ".carry" else _whole(path)[0]
    except (RegisterError, ValueError) as why:
        return str(why)
    return "" if there == entries else f"{there} entries of {entries}"


def full_disk() -> Result | None:
    """Commands on a disk with no room left, and from a register with room onto such a disk; None where none can be
    made (that takes root, and a mount)."""
    result = Result()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place).resolve()
        full, roomy = folder / "full", folder / "roomy"
        full.mkdir()
        roomy.mkdir()
        mount = ["mount", "-t", "tmpfs", "-o", "size=10m", "tmpfs", str(full)]
        if shutil.which("mount") is None or subprocess.run(mount, capture_output=True, check=False).returncode:
            return None
        try:
            for at in (full, roomy):
                result.begun = _begin(at / "register.db")
                for name, words in COMMANDS.items():
                    if at == full or "{folder}" in words[-1]:
                        _on_full(result, name, at, full)
        finally:
            subprocess.run(["umount", full], check=True)
    return result


def _on_full(result: Result, name: str, at: Path, full: Path) -> None:
    with (full / "filling").open("wb", buffering=0) as file:
        _fill(file)
    words = [one.format(folder=full) for one in COMMANDS[name]]
    told = subprocess.run(
        [sys.executable, "-m", "reelcare", "--register", str(at / "register.db"), *words],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    (full / "filling").unlink()
    result.run += 1
    what = f"{name} from the {at.name} disk onto the full one"
    result.rows[name, f"from the {at.name} disk", "full", told.returncode] += 1
    if told.returncode == 0:
        result.silent.append(f"{what}: ended with 0: {told.stderr[-200:]}")
    left = sorted({one.name for one in full.iterdir()} - set(OF_A_REGISTER))
    if left:
        result.left.append(f"{what}: {', '.join(left)}")
    _judge(result, what, told, at, name)


def _fill(file: FileIO) -> None:
    try:
        while True:
            file.write(bytes(4096))
    except OSError:
        return


def upgrade(most: int = 10_000) -> Result:
    """Bring a register of the first version up to date, killed at each of its calls to the disk in turn (at `most` of a
    kind, spread evenly). The rows say of which version the file was then."""
    with tempfile.TemporaryDirectory() as place:
        first = Path(place).resolve() / "first"
        first.mkdir()
        shutil.copy(Path(__file__).parent.parent / "register" / "versions" / "1.db", first / "register.db")
        return _killed("upgrade", ("rebuild",), first, {_digests(first / "register.db"): ""}, most)


def merging(most: int = 10_000) -> Result:
    """Bring a carry file in, killed in the same way: all of it is there then, or nothing, as the rows say."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place).resolve()
        first, other, whole = folder / "first", folder / "other", folder / "whole"
        for one in (first, other):
            one.mkdir()
            _begin(one / "register.db")
        _reelcare(other / "register.db", *COMMANDS["log fault"])
        _reelcare(other / "register.db", "carry", "out", str(folder / "x.carry"))
        words = ("carry", "in", str(folder / "x.carry"), "--by", "Ann")
        shutil.copytree(first, whole)
        _reelcare(whole / "register.db", *words)
        ends = {_digests(first / "register.db"): "as before", _digests(whole / "register.db"): "as after"}
        return _killed("merge", words, first, ends, most)


def _reelcare(path: Path, *words: str) -> None:
    subprocess.run([sys.executable, "-m", "reelcare", "--register", str(path), *words], check=True, capture_output=True)


def _killed(what: str, words: tuple[str, ...], first: Path, ends: dict[Digests, str], most: int) -> Result:
    """Run a command on a copy of a folder, killed at each of its calls in turn; it must end as one of `ends`."""
    result = Result()
    at, log = first.parent / "at", first.parent / "log"
    path = at / "register.db"
    calls = ("pwrite64", "fdatasync", "ftruncate", "unlink", "rename")
    shutil.copytree(first, at)
    touching = numbers(traced(log, path, words, f"trace={','.join(calls)}")[1], at)
    for call in calls:
        for number in spread(touching.get(call, []), most):
            shutil.rmtree(at)
            shutil.copytree(first, at)
            _, lines = traced(log, path, words, f"inject={call}:signal=KILL:when={number}")
            assert any("killed by SIGKILL" in line for line in lines), f"{what}: not killed at {call} {number}"
            version = int.from_bytes(path.read_bytes()[60:64], "big")
            end = _ended(result, f"{what} killed at {call} {number}", path, ends)
            result.run += 1
            result.rows[what, call, end or f"version {version}", -9] += 1
    return result


def _ended(result: Result, what: str, path: Path, ends: dict[Digests, str]) -> str:
    """Open a register after a kill and judge it; which of the ends it is."""
    try:
        _whole(path)
        with open_writer(path, create=False) as register:
            if register.db.schema_version() != NEWEST:
                result.damaged.append(f"{what}: not brought up to date")
    except RegisterError as why:
        result.damaged.append(f"{what}: {why}")
        return "damaged"
    found = _digests(path)
    if found not in ends:
        result.lost.append(f"{what}: neither as before nor as after")
    return ends.get(found, "neither")


def _digests(path: Path) -> Digests:
    """What a register has; of the entry that says that a file came in, written anew each time, only what it says."""
    with contextlib.closing(sqlite3.connect(path)) as db:
        rows = db.execute("SELECT kind, id, digest, body FROM entry ORDER BY number").fetchall()
    return tuple((kind, body) if kind == "carried in" else (id, digest) for kind, id, digest, body in rows)


if __name__ == "__main__":
    if shutil.which("strace") is None:
        raise SystemExit("strace is not here: no call can be made to fail")
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    ways = {"calls that fail": main(count), "an upgrade killed": upgrade(count), "a merge killed": merging(count)}
    full = full_disk()
    if full is None:
        print("a disk that is full: not tried, it takes the right to mount one")
    else:
        ways["a disk that is full"] = full
    for way, one in ways.items():
        one.tell(way)
    sys.exit(any(one.bad for one in ways.values()))
