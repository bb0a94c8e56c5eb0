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
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from typing import IO, Any, NamedTuple

from reelcare.core import entries as e
from reelcare.core.canonical_json import MOST_EXACT, exact_number, finite_number
from reelcare.core.clean import clean, unclean
from reelcare.core.text import _, mark
from reelcare.register.database.models import NEWEST
from reelcare.register.errors import Damaged, Refused, RegisterError, from_a_file
from reelcare.register.integrity import chain

FORM = 1
"""The form of carry files that this version writes and reads."""
LONGEST_LINE = 4 << 20
LONGEST_END = 200
"""Bytes of the last line at most."""
MOST_ENTRIES = 20_000_000
MOST_BYTES = 8 << 30
"""The most bytes that are read, unpacked: far more than any register, far less than a decompression bomb."""
MOST_PACKED = 200
"""The greatest compression ratio of a carry file: every entry has a digest, which does not compress."""
MOST_ENTRY = 1 << 18
"""Mean bytes of an entry in a file of an older version, which does not state its size."""
MOST_SUM = 2**63 - 1
"""What the counters of one machine can add up to at most."""
LONGEST_WHY = 200
"""Characters of a reason that quotes the file."""
LATEST = 60_000_000_000_000
"""No moment in a register is further from 1970 than this [ms]: some 1900 years."""
DAMAGED = mark("{path}, line {number}: damaged; write it again with `carry out`")
NOT_AS_MADE = mark("{path}, line {number}: changed since it was written; write it again with `carry out`")
MORE_THAN_ANNOUNCED = mark("{path}, line {number}: more than was announced; write it again with `carry out`")
TOO_LARGE = mark("{path}, line {number}: larger than any carry file can be")


class Carried(NamedTuple):
    """One entry as it travels, a line of the file; `terminal` without the mark of a branch, as it was sealed."""

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
        return self[:8]

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
    digest: str = ""
    """The SHA-256 of the file."""
    demo: bool = False
    """Whether it comes from a demo, whose machines and people are invented."""


def write(
    file: IO[bytes], terminal: str, made: int, count: int, rows: Callable[[], Iterable[Sequence[Any]]], *,
    demo: bool = False,
) -> None:  # fmt: skip
    """Write a carry file: `count` rows of `Carried`, made at a moment [ms] on a terminal, of a demo or not. They are
    read twice, as the first line says how large all of them are."""
    seal = hashlib.sha256()
    size = sum(len(_line_of(row)) for row in rows())
    # no name and no time in the packing: the same entries make the same bytes
    packed = gzip.GzipFile(filename="", mode="wb", fileobj=file, compresslevel=6, mtime=0)
    with packed as out:

        def line(data: bytes) -> None:
            seal.update(data)
            out.write(data)

        head = {"reelcare carry": FORM, "schema": NEWEST, "terminal": terminal, "made": made, "entries": count}
        line(_line({**head, "bytes": size, **({"demo": True} if demo else {})}))
        for row in rows():
            line(_line_of(row))
        out.write(json.dumps({"end": seal.hexdigest()}).encode("ascii") + b"\n")


def _line_of(row: Sequence[Any]) -> bytes:
    return _line([*row[:5], chain.base(row[5]), *row[6:]])


def _line(value: Any) -> bytes:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode("utf-8") + b"\n"


def read(path: Path) -> Bundle:
    """A carry file, proved whole. Raises Refused for what is none, Damaged for one that is damaged."""
    with from_a_file(path), path.open("rb") as file:
        if file.read(2) != b"\x1f\x8b":
            raise Refused(_("{path}: not a carry file", path=path))
        file.seek(0)
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        size = file.tell()
        file.seek(0)
        try:
            return _read(path, file, size, digest)
        except MemoryError:
            raise Refused(_("{path}: larger than the memory of this computer", path=path)) from None
        except (EOFError, zlib.error, gzip.BadGzipFile) as why:
            raise Damaged(
                _("{path}: damaged or cut short ({why}); write it again with `carry out`", path=path, why=why)
            ) from None


def _lines(path: Path, packed: gzip.GzipFile, first: int, most: int) -> Iterator[tuple[int, bytes]]:
    """The lines of a carry file from the `first` on, with their numbers, as they are unpacked: `most` bytes at most."""
    number = first
    while data := packed.readline(min(LONGEST_LINE, most) + 1):
        most -= len(data)
        if len(data) > LONGEST_LINE:
            raise Refused(_(TOO_LARGE, path=path, number=number))
        if most < 0:
            raise Damaged(_(MORE_THAN_ANNOUNCED, path=path, number=number))
        yield number, data
        number += 1


def _read(path: Path, file: Any, size: int, digest: str) -> Bundle:
    packed = gzip.GzipFile(fileobj=file, mode="rb")
    _number, first = next(_lines(path, packed, 1, LONGEST_LINE), (1, b""))
    head = _head(path, first)
    announced = head["entries"]
    seal = hashlib.sha256(first)
    entries: list[Carried] = []
    end, number = None, 1
    for number, data in _lines(path, packed, 2, _most_bytes(path, head, size) + LONGEST_END):
        if data.startswith(b'{"end"'):
            end = _json(path, number, data).get("end")
            continue
        if end is not None or len(entries) >= announced:
            raise Damaged(_(MORE_THAN_ANNOUNCED, path=path, number=number))
        seal.update(data)
        entries.append(_entry(path, number, _json(path, number, data)))
    if end != seal.hexdigest() or len(entries) != announced:
        raise Damaged(_(NOT_AS_MADE, path=path, number=number))
    _prove(path, entries)
    return Bundle(path, head["terminal"], head["made"], tuple(entries), digest, head.get("demo") is True)


def _head(path: Path, first: bytes) -> dict[str, Any]:
    """The first line of a carry file: what it is, from which terminal, and how much follows."""
    # a file of something else that is packed in the same way is not damaged: making it again helps nobody
    head = _json(path, 1, first) if b'"reelcare carry"' in first else None
    if not isinstance(head, dict) or "reelcare carry" not in head:
        raise Refused(_("{path}: not a carry file", path=path))
    head = dict[str, Any]({"schema": 0, "made": 0, "entries": -1, "terminal": "", "bytes": 0}) | head
    numbers = [head[name] for name in ("schema", "made", "entries", "bytes")]
    if any(type(one) is not int or abs(one) > LATEST for one in numbers):
        raise Damaged(_(DAMAGED, path=path, number=1))
    if head["reelcare carry"] != FORM or head["schema"] > NEWEST:
        raise Refused(_("{path}: made by a newer version; bring it in with a newer reelcare", path=path))
    if not chain.is_a_terminal(head["terminal"]):
        raise Damaged(_(DAMAGED, path=path, number=1))
    if not 0 <= head["entries"] <= MOST_ENTRIES:
        raise Damaged(_(NOT_AS_MADE, path=path, number=1))
    return head


def _most_bytes(path: Path, head: dict[str, Any], size: int) -> int:
    """How many bytes follow the first line at most: what it announces, where a file of this size can hold so much."""
    announced = head["bytes"] or LONGEST_LINE + head["entries"] * MOST_ENTRY
    if head["bytes"] and not 0 <= head["bytes"] <= min(MOST_BYTES, LONGEST_LINE + size * MOST_PACKED):
        raise Refused(_(TOO_LARGE, path=path, number=1))
    return int(min(announced, MOST_BYTES, LONGEST_LINE + size * MOST_PACKED))


def _json(path: Path, number: int, data: bytes) -> Any:
    try:
        return json.loads(data)
    except (ValueError, RecursionError, MemoryError):
        raise Damaged(_(DAMAGED, path=path, number=number)) from None


_TYPES: tuple[tuple[type, ...], ...] = (
    (str,), (str,), (str, type(None)), (int,), (int,), (str,), (str,), (str,), (int,), (str,),
)  # fmt: skip


def _entry(path: Path, number: int, row: Any) -> Carried:
    right = isinstance(row, list) and len(row) == len(_TYPES)
    if not right or any(type(one) not in types for one, types in zip(row, _TYPES, strict=True)):
        raise Damaged(
            _("{path}, line {number}: not an entry; write it again with `carry out`", path=path, number=number)
        )
    one = Carried(*row)
    if not _is_valid(one):
        says = mark("{path}, line {number}: no register has such an entry; write it again with `carry out`")
        raise Damaged(_(says, path=path, number=number))
    return one


def _is_valid(one: Carried) -> bool:
    """Whether a register can hold it: moments and a place that can be, whole letters, and a terminal as they are
    called: ASCII letters and digits, without the mark of a branch."""
    if not chain.is_a_terminal(one.terminal) or not 1 <= one.place <= MOST_EXACT:
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
    """Those of the rows of `Carried` that are whole entries of a chain that goes on from its beginning, whatever stands
    beside them: what can be saved from a damaged register."""
    readable = []
    for row in rows:
        with contextlib.suppress(Damaged, TypeError):
            readable.append(_entry(Path(), 0, [*row[:5], chain.base(row[5]), *row[6:]]))
    known: dict[tuple[str, int], set[str]] = {}
    found = []
    for one in sorted(readable, key=lambda entry: (entry.terminal, entry.place)):
        with contextlib.suppress(RegisterError):
            _prove_entry(Path(), one, known)
            found.append(one)
    return found


def _prove(path: Path, entries: Sequence[Carried]) -> None:
    """Every digest is right, every chain goes on from its beginning or from where it forked, and what the entries say
    together can be: no id stands twice, no counters add up beyond all bounds, no corrections cancel each other in a
    circle."""
    known: dict[tuple[str, int], set[str]] = {}
    ids, sums, cancels = set[str](), dict[str | None, int](), dict[str, str]()
    for one in sorted(entries, key=lambda entry: (entry.terminal, entry.place)):
        what = _prove_entry(path, one, known)
        _refuse_unclean(path, one)
        if one.id in ids:
            raise Damaged(
                _("{place}: two entries with one id; write it again with `carry out`", place=_place(path, one))
            )
        ids.add(one.id)
        if isinstance(what, e.Correction):
            cancels[one.id] = what.entry
        sums[one.machine] = sums.get(one.machine, 0) + _counted(what)
        if sums[one.machine] > MOST_SUM:
            raise Damaged(_("{place}: the counters add up to more than is possible", place=_place(path, one)))
    refuse_circle(path, cancels)


def refuse_circle(path: Path, cancels: Mapping[str, str]) -> None:
    """Raise Damaged where a correction cancels itself by way of others; `cancels` says which entry each cancels."""
    try:
        TopologicalSorter({id: (other,) for id, other in cancels.items()}).prepare()
    except CycleError as why:
        id = clean(why.args[1][0][-8:])
        raise Damaged(_("{path}: entry {id}: corrections in a circle", path=path, id=id)) from None


def _counted(what: e.Kind) -> int:
    """How far an entry can move a counter, in its whole numbers."""
    if isinstance(what, e.Run):
        return abs(what.metres) + int(abs((what.ended - what.started).total_seconds()))
    if isinstance(what, e.Reading):
        return abs(what.value) + abs(what.rolls_at or 0)
    return 0


def _place(path: Path, one: Carried) -> str:
    """Where an entry stands, for people."""
    terminal = one.terminal if chain.is_a_terminal(one.terminal) else "?"
    return _("{path}: entry {id}, {place} of {terminal}", path=path, id=clean(one.id[-8:]), place=one.place,
             terminal=terminal)  # fmt: skip


def _prove_entry(path: Path, one: Carried, known: dict[tuple[str, int], set[str]]) -> e.Kind:
    """What an entry says that goes on from one of the digests `known` by terminal and place, where this version reads
    it."""
    before = {chain.GENESIS} if one.place == 1 else known.get((one.terminal, one.place - 1), set())
    if not any(chain.digest(link, one.place, *one.sealed) == one.digest for link in before):
        says = mark(
            "{place}: not as it was sealed, or what comes before it is missing; where the file was made `reelcare "
            "prove` says more, and `reelcare restore COPY` goes back"
        )
        raise Damaged(_(says, place=_place(path, one)))
    try:
        what = e.from_body(one.kind, _body(path, one))
        e.validate(what)
    except (TypeError, ValueError) as why:
        says = clean(str(why))[:LONGEST_WHY]
        raise Refused(
            _("{place}: {why}; bring it in with a newer reelcare", place=_place(path, one), why=says)
        ) from None
    known.setdefault((one.terminal, one.place), set()).add(one.digest)
    return what


def _refuse_unclean(path: Path, one: Carried) -> None:
    """Raise Damaged for a text that steers a terminal or hides something: no register ever let one in."""
    names = (one.id, one.kind, one.machine or "", one.person)
    found = next(filter(None, map(unclean, names)), "") or unclean(one.body)
    if not found and "\\" in one.body:
        found = next(filter(None, _unclean_in(_body(path, one))), "")
    if found:
        raise Damaged(
            _("{place}: a character that steers a terminal or hides ({found})", place=_place(path, one), found=found)
        )


def _unclean_in(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield unclean(value, lines=True)
    elif isinstance(value, dict):
        for key, part in value.items():
            yield unclean(key)
            yield from _unclean_in(part)
    elif isinstance(value, list):
        for part in value:
            yield from _unclean_in(part)


def _body(path: Path, one: Carried) -> dict[str, Any]:
    try:
        body = json.loads(one.body, parse_int=exact_number, parse_float=finite_number, parse_constant=finite_number)
    except (OverflowError, RecursionError, ValueError) as why:
        if isinstance(why, OverflowError):
            raise Damaged(_("{place}: a number beyond what can be kept", place=_place(path, one))) from None
        body = None
    if not isinstance(body, dict):
        raise Damaged(
            _("{place}: it says nothing that can be read; write it again with `carry out`", place=_place(path, one))
        )
    return body
