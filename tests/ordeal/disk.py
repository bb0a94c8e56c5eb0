"""A disk that promises nothing but what it was asked for, as the system calls of a writer leave it.

The rules of this file: of what was written since the last sync of a file any part may be there, each write whole, some
of its sectors of 512 bytes alone, or not at all; a name that was made, changed or taken away is sure only once its
folder was synced. A file keeps what it holds when its name goes to another. The shared memory of WAL is not on a disk.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

SECTOR = 512
CALLS = "pwrite64,write,fsync,fdatasync,ftruncate,unlink,unlinkat,rename,renameat,renameat2,link,linkat,openat"
"""The system calls that this model follows: a log must have all of them."""


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
                    for piece in _sectors(*one):
                        if chance.random() < 0.5:
                            _apply(data, piece)
                else:
                    _apply(data, one)
        return bytes(data)

    def sync(self) -> None:
        """All that was written is sure."""
        for one in self.since:
            _apply(self.sure, one)
        self.since.clear()


def _sectors(offset: int, data: bytes) -> Iterator[tuple[int, bytes]]:
    """One write as the sectors of the file that it reaches into."""
    first = SECTOR - offset % SECTOR
    yield offset, data[:first]
    for start in range(first, len(data), SECTOR):
        yield offset + start, data[start : start + SECTOR]


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
            assert "<unfinished" not in line, "two threads at once: which call came first cannot be told"
            found = _LINE.match(line)
            if found and int(found[3]) >= 0:
                # the comma stands in no argument: all text is in hexadecimal
                yield found[1], [one.strip() for one in found[2].split(",")], int(found[3])
