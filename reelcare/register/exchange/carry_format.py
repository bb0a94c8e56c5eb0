"""The form of carry files: every entry of a register in one file, and the careful reading of one.

The form: gzip of lines of JSON. The first line says what it is and how many entries follow, each of the others is an
entry with its place in the chain of its terminal, and the last one has the digest of all lines before.

A carry file is whole or it is refused. It is read as a stream, within limits, and never unpacked to a disk.
"""

from __future__ import annotations

import contextlib
import gzip
import hashlib
import json
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from reelcare.core import entries as e
from reelcare.core.canonical_json import MOST_EXACT
from reelcare.core.text import _
from reelcare.register.database.models import NEWEST
from reelcare.register.errors import NotWhole, Refused, RegisterError
from reelcare.register.integrity import chain

FORM = 1
"""The form of carry files that this version writes and reads."""
LONGEST_LINE = 4 << 20
MOST_ENTRIES = 20_000_000
MOST_BYTES = 8 << 30
"""What is read at most, unpacked: far more than any register, far less than a bomb."""
LATEST = 60_000_000_000_000
"""No moment in a register is further from 1970 than this [ms]: some 1900 years."""
FIELDS = ("id", "kind", "machine", "happened", "recorded", "terminal", "person", "body", "place", "digest")


@dataclass(frozen=True, slots=True)
class Carried:
    """One entry as it travels; `terminal` without the mark of a branch, as it was sealed."""

    id: str
    kind: str
    machine: str | None
    happened: int
    recorded: int
    terminal: str
    person: str
    body: str
    place: int
    digest: str

    @property
    def sealed(self) -> tuple[str, str, str | None, int, int, str, str, str]:
        """What its digest is over, but for the link and the place."""
        return (
            self.id, self.kind, self.machine, self.happened, self.recorded, self.terminal, self.person, self.body,
        )  # fmt: skip

    def what(self) -> e.Kind:
        """What happened, as the core knows it."""
        return e.from_body(self.kind, json.loads(self.body))


@dataclass(frozen=True, slots=True)
class Bundle:
    """A carry file that is whole: where it comes from, when it was made [ms], and its entries by terminal and place."""

    path: Path
    terminal: str
    made: int
    entries: tuple[Carried, ...]


def write(file: IO[bytes], terminal: str, made: int, count: int, rows: Iterable[Sequence[Any]]) -> None:
    """Write a carry file: `count` rows of FIELDS, made at a moment [ms] on a terminal."""
    seal = hashlib.sha256()
    # no name and no time in the packing: the same entries make the same bytes
    packed = gzip.GzipFile(filename="", mode="wb", fileobj=file, compresslevel=6, mtime=0)
    with packed as out:

        def line(value: Any) -> None:
            data = json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode("utf-8") + b"\n"
            seal.update(data)
            out.write(data)

        line({"reelcare carry": FORM, "schema": NEWEST, "terminal": terminal, "made": made, "entries": count})
        for row in rows:
            line([*row[:5], chain.base(row[5]), *row[6:]])
        out.write(json.dumps({"end": seal.hexdigest()}).encode("ascii") + b"\n")


def read(path: Path) -> Bundle:
    """A carry file, proved whole. Raises Refused for what is none, NotWhole for one that is damaged."""
    try:
        with path.open("rb") as file:
            if file.read(2) != b"\x1f\x8b":
                raise Refused(_("{path}: not a carry file", path=path))
            file.seek(0)
            return _read(path, file)
    except FileNotFoundError:
        raise Refused(_("{path}: no such file", path=path)) from None
    except IsADirectoryError:
        raise Refused(_("{path}: a folder, not a carry file", path=path)) from None
    except (EOFError, zlib.error, gzip.BadGzipFile) as why:
        raise NotWhole(_("{path}: damaged or cut short ({why}); carry it out again", path=path, why=why)) from None
    except OSError as why:
        raise Refused(_("{path}: cannot be read ({strerror})", path=path, strerror=why.strerror)) from None


def _lines(path: Path, file: Any) -> Iterator[bytes]:
    total = 0
    with gzip.GzipFile(fileobj=file, mode="rb") as packed:
        while True:
            data = packed.readline(LONGEST_LINE + 1)
            if not data:
                return
            total += len(data)
            if len(data) > LONGEST_LINE or total > MOST_BYTES:
                raise Refused(_("{path}: larger than any carry file can be", path=path))
            yield data


def _read(path: Path, file: Any) -> Bundle:
    lines = _lines(path, file)
    first = next(lines, b"")
    head = _json(path, 1, first)
    if not isinstance(head, dict) or "reelcare carry" not in head:
        raise Refused(_("{path}: not a carry file", path=path))
    schema_of, made = head.get("schema", 0), head.get("made", 0)
    if type(schema_of) is not int or type(made) is not int or abs(made) > LATEST:
        raise NotWhole(_("{path}, line 1: damaged; carry it out again", path=path))
    if head["reelcare carry"] != FORM or schema_of > NEWEST:
        raise Refused(_("{path}: made by a newer version; bring it in with a newer reelcare", path=path))
    seal = hashlib.sha256(first)
    entries: list[Carried] = []
    end = None
    for number, data in enumerate(lines, 2):
        if data.startswith(b'{"end"'):
            end = _json(path, number, data).get("end")
            continue
        if end is not None or len(entries) >= MOST_ENTRIES:
            raise NotWhole(
                _("{path}, line {number}: more than was announced; carry it out again", path=path, number=number)
            )
        seal.update(data)
        entries.append(_entry(path, number, _json(path, number, data)))
    if end != seal.hexdigest() or len(entries) != head.get("entries"):
        raise NotWhole(_("{path}: not as it was made; carry it out again", path=path))
    _prove(path, entries)
    return Bundle(path, str(head.get("terminal", "")), made, tuple(entries))


def _json(path: Path, number: int, data: bytes) -> Any:
    try:
        return json.loads(data)
    except (ValueError, RecursionError):
        raise NotWhole(_("{path}, line {number}: damaged; carry it out again", path=path, number=number)) from None


_TYPES: tuple[tuple[type, ...], ...] = (
    (str,), (str,), (str, type(None)), (int,), (int,), (str,), (str,), (str,), (int,), (str,),
)  # fmt: skip


def _entry(path: Path, number: int, row: Any) -> Carried:
    right = isinstance(row, list) and len(row) == len(FIELDS)
    if not right or any(type(one) not in types for one, types in zip(row, _TYPES, strict=True)):
        raise NotWhole(_("{path}, line {number}: not an entry; carry it out again", path=path, number=number))
    one = Carried(*row)
    if not _is_valid(one):
        raise NotWhole(
            _("{path}, line {number}: no register holds such an entry; carry it out again", path=path, number=number)
        )
    return one


def _is_valid(one: Carried) -> bool:
    """Whether a register can hold it: moments and a place that can be, whole letters, and a terminal as they are
    called: ASCII letters and digits, without the mark of a branch."""
    if not (one.terminal.isascii() and one.terminal.isalnum()) or not 1 <= one.place <= MOST_EXACT:
        return False
    if max(abs(one.happened), abs(one.recorded)) > LATEST:
        return False
    try:
        # half a surrogate pair can be written in JSON, but is no letter: there is nothing to seal
        "".join((one.id, one.kind, one.machine or "", one.terminal, one.person, one.body, one.digest)).encode()
    except UnicodeEncodeError:
        return False
    return True


def sound(rows: Iterable[Sequence[Any]]) -> list[Carried]:
    """Those of the rows of FIELDS that are whole entries of a chain that goes on from its beginning, whatever stands
    beside them: what can be saved from a damaged register."""
    readable = []
    for row in rows:
        with contextlib.suppress(NotWhole, TypeError):
            readable.append(_entry(Path(), 0, [*row[:5], chain.base(row[5]), *row[6:]]))
    known: dict[tuple[str, int], set[str]] = {}
    found = []
    for one in sorted(readable, key=lambda entry: (entry.terminal, entry.place)):
        with contextlib.suppress(RegisterError):
            _prove_entry(Path(), one, known)
            found.append(one)
    return found


def _prove(path: Path, entries: Sequence[Carried]) -> None:
    """Every digest is right, and every chain goes on from its beginning or from where it forked."""
    known: dict[tuple[str, int], set[str]] = {}
    for one in sorted(entries, key=lambda entry: (entry.terminal, entry.place)):
        _prove_entry(path, one, known)


def _prove_entry(path: Path, one: Carried, known: dict[tuple[str, int], set[str]]) -> None:
    """An entry goes on from one of the digests `known` by terminal and place, and is one that this version reads."""
    before = {chain.GENESIS} if one.place == 1 else known.get((one.terminal, one.place - 1), set())
    if not any(chain.digest(link, one.place, *one.sealed) == one.digest for link in before):
        raise NotWhole(
            _(
                "{path}: entry {id} is not as it was sealed, or what comes before it is missing",
                path=path,
                id=one.id[-8:],
            )
        )
    try:
        e.validate(e.from_body(one.kind, _body(path, one)))
    except (TypeError, ValueError) as why:
        raise Refused(
            _("{path}: entry {id}: {why}; bring it in with a newer reelcare", path=path, id=one.id[-8:], why=why)
        ) from None
    known.setdefault((one.terminal, one.place), set()).add(one.digest)


def _body(path: Path, one: Carried) -> dict[str, Any]:
    try:
        body = json.loads(one.body)
    except (ValueError, RecursionError):
        body = None
    if not isinstance(body, dict):
        raise NotWhole(
            _("{path}: entry {id} says nothing that can be read; carry it out again", path=path, id=one.id[-8:])
        )
    return body
