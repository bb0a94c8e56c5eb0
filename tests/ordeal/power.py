"""Cuts the power of a writer again and again, without a plug: what a disk may hold at each moment is worked out from
the system calls of a real writer, and a register is opened on it.

`python -m tests.ordeal.power [STATES]`

The model is that of a disk that promises nothing but what it was asked for: of what was written since the last sync of
a file any part may be there, each write whole, cut at a sector of 512 bytes, or not at all; a name that was made,
changed or taken away is sure only once its folder was synced. Of every state: it opens, it proves whole, its entries
are the first ones written without a gap, and every entry that was acknowledged is among them. The replay must be able
to fail: with syncs turned off it has to find damage or loss.
"""

from __future__ import annotations

import hashlib
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from reelcare.core import entries as e
from reelcare.register import people, schema
from reelcare.register.errors import RegisterError
from reelcare.register.proving import prove
from reelcare.register.register import Register

SECTOR = 512
WRITER = """
import os, sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from reelcare.core import entries as e
from reelcare.register import people
from reelcare.register.register import Register
path, many, sync = Path(sys.argv[1]), int(sys.argv[3]), sys.argv[4]
told = os.open(sys.argv[2], os.O_WRONLY | os.O_CREAT)
now = datetime(2026, 5, 1, 6, tzinfo=UTC)
with Register(path) as register:
    register.db.execute_sql(f"PRAGMA synchronous = {sync}")
    register.db.execute_sql("PRAGMA wal_autocheckpoint = 24")
    if not register.roles():
        os.write(told, people.enrol(register, "Ann", "supervisor", by="Ann", now=now).id.encode() + b"\\n")
        os.write(told, register.add(e.Carded(card={"tag": "R1"}), by="Ann", now=now).id.encode() + b"\\n")
    machine = register.machine_id("R1")
    for number in range(many):
        what = e.Fault(part="hose", says=f"scuffed at {number} m" * 9)
        entry = register.add(what, machine=machine, by="Ann", now=now + timedelta(minutes=number))
        os.write(told, entry.id.encode() + b"\\n")
"""
CALLS = "pwrite64,write,fsync,fdatasync,ftruncate,unlink,unlinkat,rename,renameat,renameat2,link,linkat,openat"


class Result(NamedTuple):
    """What the replay found."""

    states: int
    damaged: int
    lost: int


@dataclass(eq=False)
class File:
    """What a disk has of one file: what is sure, and what was written since, in order (offset and bytes; a length)."""

    sure: bytearray = field(default_factory=bytearray)
    since: list[tuple[int, bytes] | int] = field(default_factory=list)

    def there(self, chance: random.Random | None, *, all_of_it: bool) -> bytes:
        """What may be there: only what is sure, all that was written, or a part of it by chance."""
        data = bytearray(self.sure)
        for one in self.since:
            if all_of_it:
                _apply(data, one)
            elif chance is not None and chance.random() < 0.5:
                if isinstance(one, tuple) and chance.random() < 0.4:
                    _apply(data, (one[0], one[1][: SECTOR * chance.randrange(len(one[1]) // SECTOR + 1)]))
                else:
                    _apply(data, one)
        return bytes(data)

    def sync(self) -> None:
        """All that was written is sure."""
        for one in self.since:
            _apply(self.sure, one)
        self.since.clear()


def _apply(data: bytearray, one: tuple[int, bytes] | int) -> None:
    if isinstance(one, int):
        data[:] = data[:one] + bytes(max(one - len(data), 0))
        return
    offset, piece = one
    if len(data) < offset:
        data.extend(bytes(offset - len(data)))
    data[offset : offset + len(piece)] = piece


class Disk:
    """One folder as its writer sees it, and as it may be found after the power went."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.now = {one.name: File(bytearray(one.read_bytes())) for one in folder.iterdir() if one.is_file()}
        self.sure = dict(self.now)
        self.names: list[tuple[str, File | None]] = []
        self._open: dict[int, tuple[File, int]] = {}
        self.acknowledged: list[str] = []
        self._told = ""

    def take(self, call: str, told: list[str], answer: int, acknowledgements: str) -> bool:
        """One system call; whether it may have changed what is found."""
        if call == "openat":
            return self._opened(told, answer)
        if call in ("write", "pwrite64"):
            return self._written(call, told, answer, acknowledgements)
        if call in ("fsync", "fdatasync"):
            return self._synced(told[0])
        if call == "ftruncate":
            file = self._file(told[0])
            if file is not None:
                file.since.append(int(told[1]))
            return file is not None
        return self._renamed(call, [_path(one) for one in told if one.startswith('"')])

    def _name(self, path: str) -> str | None:
        at = Path(path)
        return at.name if at.parent == self.folder else None

    def _opened(self, told: list[str], number: int) -> bool:
        path = next(_path(one) for one in told if one.startswith('"'))
        name, flags = self._name(path), " ".join(told)
        self._open.pop(number, None)
        if name is None:
            return False
        if name not in self.now and "O_CREAT" in flags:
            self._change(name, File())
        if name in self.now:
            self._open[number] = (self.now[name], 0)
            if "O_TRUNC" in flags:
                self.now[name].since.append(0)
        return True

    def _file(self, described: str) -> File | None:
        return self._open.get(int(described.partition("<")[0]), (None, 0))[0]

    def _written(self, call: str, told: list[str], answer: int, acknowledgements: str) -> bool:
        number, where = int(told[0].partition("<")[0]), _path(told[0])
        data = _bytes(told[1])[:answer]
        if where == acknowledgements:
            *whole, self._told = (self._told + data.decode()).split("\n")
            self.acknowledged += whole
            return False
        if number not in self._open:
            return False
        file, place = self._open[number]
        file.since.append((int(told[3]) if call == "pwrite64" else place, data))
        if call == "write":
            self._open[number] = (file, place + len(data))
        return True

    def _synced(self, described: str) -> bool:
        if _path(described) == str(self.folder):
            self.sure, self.names = dict(self.now), []
            return True
        file = self._file(described)
        if file is not None:
            file.sync()
        return file is not None

    def _renamed(self, call: str, paths: list[str]) -> bool:
        names = [self._name(one) for one in paths]
        if names[0] is None or names[0] not in self.now:
            return False
        if call.startswith("unlink"):
            self._change(names[0], None)
            return True
        file, to = self.now[names[0]], names[1]
        assert to is not None
        self._change(to, file)
        if call.startswith("rename"):
            self._change(names[0], None)
        return True

    def _change(self, name: str, file: File | None) -> None:
        self.names.append((name, file))
        if file is None:
            self.now.pop(name, None)
        else:
            self.now[name] = file

    def found(self, chance: random.Random | None, *, all_of_it: bool) -> dict[str, bytes]:
        """What may be found after the power went, by name."""
        there = dict(self.sure)
        for name, file in self.names:
            if all_of_it or (chance is not None and chance.random() < 0.5):
                if file is None:
                    there.pop(name, None)
                else:
                    there[name] = file
        return {
            name: file.there(chance, all_of_it=all_of_it) for name, file in there.items() if not name.endswith("-shm")
        }


def _path(described: str) -> str:
    """The path in `3<\\x2f...>` or in `"\\x2f..."`."""
    return _bytes(described).decode("utf-8", "replace")


def _bytes(described: str) -> bytes:
    return bytes.fromhex("".join(re.findall(r"\\x([0-9a-f]{2})", described)))


_LINE = re.compile(r"^\d+\s+(\w+)\((.*)\)\s+= (-?\d+)")


def calls(log: Path) -> Iterator[tuple[str, list[str], int]]:
    """The system calls of a log that succeeded: name, arguments, answer."""
    with log.open() as lines:
        for line in lines:
            found = _LINE.match(line)
            if found and int(found[3]) >= 0:
                # the comma stands in no argument: all text is in hexadecimal
                yield found[1], [one.strip() for one in found[2].split(",")], int(found[3])


def record(folder: Path, many: int, *, sync: int) -> tuple[Path, Path]:
    """Let a writer write while its calls are logged; the log, and the file of its acknowledgements."""
    log, told = folder / "calls", folder / "told"
    subprocess.run(
        ["strace", "-f", "-y", "-xx", "-s", "400000", "-e", f"trace={CALLS}", "-o", log,
         sys.executable, "-c", WRITER, folder / "register" / "r.db", told, str(many), str(sync)],
        check=True, env={**os.environ, "TZ": "UTC"},
    )  # fmt: skip
    return log, told


def main(states: int, many: int = 60, *, sync: int = 2, fresh: bool = False) -> Result:
    """Replay a writer until so many states were looked at; `fresh` begins with the making of the register."""
    chance = random.Random(states)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place).resolve()
        (folder / "register").mkdir()
        if not fresh:
            _begin(folder / "register" / "r.db")
        before = Disk(folder / "register")
        log, told = record(folder, many, sync=sync)
        events = list(calls(log))
        order = _order(folder / "register" / "r.db")
        each = max(1, round(states / max(sum(name != "openat" for name, _, _ in events), 1)))
        seen: set[bytes] = set()
        count = damaged = lost = 0
        for call, words, answer in events:
            if not before.take(call, words, answer, str(told)):
                continue
            kinds = [(None, False), (None, True), *((chance, False) for _ in range(each))]
            for by, all_of_it in kinds:
                found = before.found(by, all_of_it=all_of_it)
                mark = hashlib.sha256(
                    repr(sorted(found.items())).encode() + str(len(before.acknowledged)).encode()
                ).digest()
                if mark in seen:
                    continue
                seen.add(mark)
                count += 1
                wrong, gone = _look(found, folder / "found", order, before.acknowledged)
                damaged += wrong
                lost += gone
                if count >= states:
                    return Result(count, damaged, lost)
        return Result(count, damaged, lost)


def _begin(path: Path) -> None:
    now = datetime(2026, 5, 1, 5, tzinfo=UTC)
    with Register(path) as register:
        people.enrol(register, "Ann", "supervisor", by="Ann", now=now)
        register.add(e.Carded(card={"tag": "R1"}), by="Ann", now=now)


def _order(path: Path) -> list[str]:
    with Register(path, create=False) as register:
        return [str(one) for (one,) in schema.rows(register.db, "SELECT id FROM entry ORDER BY number")]


def _look(found: dict[str, bytes], folder: Path, order: list[str], acknowledged: list[str]) -> tuple[bool, int]:
    """Whether a register is damaged as it is found, and how many acknowledged entries are not in it."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for name, data in found.items():
        (folder / name).write_bytes(data)
    if "r.db" not in found:
        return False, len(acknowledged)
    try:
        with Register(folder / "r.db", create=False) as register:
            whole = prove(register).whole
            there = [str(one) for (one,) in schema.rows(register.db, "SELECT id FROM entry ORDER BY number")]
    except RegisterError:
        return True, 0
    return not whole or there != order[: len(there)], len(set(acknowledged) - set(there))


if __name__ == "__main__":
    if shutil.which("strace") is None:
        raise SystemExit("strace is not here: the calls of the writer cannot be logged")
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 3000
    good = main(wanted)
    print(f"writing: {good.states} states, {good.damaged} damaged, {good.lost} acknowledged entries lost")
    first = main(wanted // 3, 8, fresh=True)
    print(f"from the making on: {first.states} states, {first.damaged} damaged, {first.lost} acknowledged entries lost")
    off = main(wanted // 3, sync=0)
    print(f"with syncs turned off, which must not do: {off.states} states, {off.damaged} damaged, {off.lost} lost")
    sys.exit(bool(good.damaged or good.lost or first.damaged or first.lost) or not (off.damaged or off.lost))
