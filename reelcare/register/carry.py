"""Carry files: everything that a register knows, in one file, to be brought into another.

The rules of this file: a carry file is whole or it is refused. It is read as a stream, within limits, and never
unpacked to a disk; nothing is in it but entries. What comes in is what was sealed elsewhere: no entry is changed, and
nothing that is here is. Coming in twice, in another order, or by way of a third terminal leads to the same entries.
What belongs to one register alone (its PINs, its name) never travels.

The form: gzip of lines of JSON. The first line says what it is and how many entries follow, each of the others is an
entry with its place in the chain of its terminal, and the last one has the digest of all lines before.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from reelcare import files
from reelcare.core import can_be
from reelcare.core import entries as e
from reelcare.core import people as roles
from reelcare.core.upkeep import tally as tallying
from reelcare.register import chain, rollup, schema, steps, witness
from reelcare.register.errors import NotWhole, Refused, into_a_file
from reelcare.register.moments import milliseconds, moment
from reelcare.register.work import all_machines, borne_on

if TYPE_CHECKING:
    from reelcare.register.register import Register

FORM = 1
"""The form of carry files that this version writes and reads."""
LONGEST_LINE = 4 << 20
MOST_ENTRIES = 20_000_000
MOST_BYTES = 8 << 30
"""What is read at most, unpacked: far more than any register, far less than a bomb."""
LATEST = 60_000_000_000_000
"""No moment in a register is further from 1970 than this [ms]: some 1900 years."""
FORK = "~"
"""Stands in the terminal's column between its name and the mark of a branch (see `_branch`)."""

_FIELDS = ("id", "kind", "machine", "happened", "recorded", "terminal", "person", "body", "place", "digest")
_ROWS = f"SELECT {', '.join(_FIELDS)} FROM entry"
_INSERT = (
    "INSERT INTO entry (id, kind, machine, happened, recorded, terminal, person, body, place, digest, refers)"
    " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
)


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


@dataclass(frozen=True, slots=True)
class Bundle:
    """A carry file that is whole: where it comes from, when it was made [ms], and its entries by terminal and place."""

    path: Path
    terminal: str
    made: int
    entries: tuple[Carried, ...]


@dataclass(slots=True)
class Look:
    """What a carry file brings: how many entries are new, of which kinds, and what a person should know of before."""

    new: int = 0
    known: int = 0
    kinds: dict[str, int] = field(default_factory=dict)
    machines: list[str] = field(default_factory=list)
    holds: list[str] = field(default_factory=list)
    people: list[str] = field(default_factory=list)
    heed: list[str] = field(default_factory=list)


def base(terminal: str) -> str:
    """The name of a terminal without the mark of a branch."""
    return terminal.partition(FORK)[0]


# out


def carry_out(register: Register, path: Path, *, now: datetime) -> int:
    """Write everything into a new file; how many entries that was. Raises Refused where the file exists."""
    if path.exists():
        raise Refused(f"{path}: exists already; name another file")
    count = 0

    def write(file: IO[bytes]) -> None:
        nonlocal count
        count = _write(register, file, milliseconds(now))

    with into_a_file(path, made="written here"):
        files.write_whole(path, write)
    return count


def _write(register: Register, file: Any, made: int) -> int:
    seal = hashlib.sha256()
    # no name and no time in the packing: the same entries make the same bytes
    packed = gzip.GzipFile(filename="", mode="wb", fileobj=file, compresslevel=6, mtime=0)
    with register.db.looking(), packed as out:

        def line(value: Any) -> None:
            data = json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode("utf-8") + b"\n"
            seal.update(data)
            out.write(data)

        head = {"reelcare carry": FORM, "schema": steps.NEWEST, "terminal": register.terminal, "made": made}
        count = int(schema.rows(register.db, "SELECT COUNT(*) FROM entry")[0][0])
        line(head | {"entries": count})
        for row in _by_chains(register):
            line([*row[:5], base(row[5]), *row[6:]])
        out.write(json.dumps({"end": seal.hexdigest()}).encode("ascii") + b"\n")
    return count


AT_ONCE = 5000


def _by_chains(register: Register) -> Iterator[tuple[Any, ...]]:
    """Every entry, chain after chain; a few thousand are held at a time."""
    asked = f"{_ROWS} WHERE (terminal, place) > (?, ?) ORDER BY terminal, place LIMIT {AT_ONCE}"

    def after(last: tuple[Any, ...] | None) -> list[tuple[Any, ...]]:
        return schema.rows(register.db, asked, *((last[5], last[8]) if last is not None else ("", 0)))

    for rows in schema.in_parts(after, AT_ONCE):
        yield from rows


# the reading of a file


def read(path: Path) -> Bundle:
    """A carry file, proved whole. Raises Refused for what is none, NotWhole for one that is damaged."""
    try:
        with path.open("rb") as file:
            if file.read(2) != b"\x1f\x8b":
                raise Refused(f"{path}: not a carry file")
            file.seek(0)
            return _read(path, file)
    except FileNotFoundError:
        raise Refused(f"{path}: no such file") from None
    except IsADirectoryError:
        raise Refused(f"{path}: a folder, not a carry file") from None
    except (EOFError, zlib.error, gzip.BadGzipFile) as why:
        raise NotWhole(f"{path}: damaged or cut short ({why}); carry it out again") from None
    except OSError as why:
        raise Refused(f"{path}: cannot be read ({why.strerror})") from None


def _lines(path: Path, file: Any) -> Iterator[bytes]:
    total = 0
    with gzip.GzipFile(fileobj=file, mode="rb") as packed:
        while True:
            data = packed.readline(LONGEST_LINE + 1)
            if not data:
                return
            total += len(data)
            if len(data) > LONGEST_LINE or total > MOST_BYTES:
                raise Refused(f"{path}: larger than any carry file can be")
            yield data


def _read(path: Path, file: Any) -> Bundle:
    lines = _lines(path, file)
    first = next(lines, b"")
    head = _json(path, 1, first)
    if not isinstance(head, dict) or "reelcare carry" not in head:
        raise Refused(f"{path}: not a carry file")
    schema_of, made = head.get("schema", 0), head.get("made", 0)
    if type(schema_of) is not int or type(made) is not int or abs(made) > LATEST:
        raise NotWhole(f"{path}, line 1: damaged; carry it out again")
    if head["reelcare carry"] != FORM or schema_of > steps.NEWEST:
        raise Refused(f"{path}: made by a newer version; bring it in with a newer reelcare")
    seal = hashlib.sha256(first)
    entries: list[Carried] = []
    end = None
    for number, data in enumerate(lines, 2):
        if data.startswith(b'{"end"'):
            end = _json(path, number, data).get("end")
            continue
        if end is not None or len(entries) >= MOST_ENTRIES:
            raise NotWhole(f"{path}, line {number}: more than was announced; carry it out again")
        seal.update(data)
        entries.append(_entry(path, number, _json(path, number, data)))
    if end != seal.hexdigest() or len(entries) != head.get("entries"):
        raise NotWhole(f"{path}: not as it was made; carry it out again")
    _prove(path, entries)
    return Bundle(path, str(head.get("terminal", "")), made, tuple(entries))


def _json(path: Path, number: int, data: bytes) -> Any:
    try:
        return json.loads(data)
    except (ValueError, RecursionError):
        raise NotWhole(f"{path}, line {number}: damaged; carry it out again") from None


_TYPES: tuple[tuple[type, ...], ...] = (
    (str,), (str,), (str, type(None)), (int,), (int,), (str,), (str,), (str,), (int,), (str,),
)  # fmt: skip


def _entry(path: Path, number: int, row: Any) -> Carried:
    right = isinstance(row, list) and len(row) == len(_FIELDS)
    if not right or any(type(one) not in types for one, types in zip(row, _TYPES, strict=True)):
        raise NotWhole(f"{path}, line {number}: not an entry; carry it out again")
    one = Carried(*row)
    if not _can_be(one):
        raise NotWhole(f"{path}, line {number}: no register holds such an entry; carry it out again")
    return one


def _can_be(one: Carried) -> bool:
    """Whether a register can hold it: moments and a place that can be, whole letters, and no mark of a branch."""
    if FORK in one.terminal or not 1 <= one.place <= e.MOST_EXACT:
        return False
    if max(abs(one.happened), abs(one.recorded)) > LATEST:
        return False
    try:
        # half a surrogate pair can be written in JSON, but is no letter: there is nothing to seal
        "".join((one.id, one.kind, one.machine or "", one.terminal, one.person, one.body, one.digest)).encode()
    except UnicodeEncodeError:
        return False
    return True


def _prove(path: Path, entries: Sequence[Carried]) -> None:
    """Every digest is right, and every chain goes on from its beginning or from where it forked."""
    known: dict[tuple[str, int], set[str]] = {}
    for one in sorted(entries, key=lambda entry: (entry.terminal, entry.place)):
        before = {chain.GENESIS} if one.place == 1 else known.get((one.terminal, one.place - 1), set())
        if not any(chain.digest(link, one.place, *_sealed(one)) == one.digest for link in before):
            raise NotWhole(f"{path}: entry {one.id[-8:]} is not as it was sealed, or what comes before it is missing")
        known.setdefault((one.terminal, one.place), set()).add(one.digest)
        try:
            can_be.must_be(e.from_body(one.kind, _body(path, one)))
        except (TypeError, ValueError) as why:
            raise Refused(f"{path}: entry {one.id[-8:]}: {why}; bring it in with a newer reelcare") from None


def _body(path: Path, one: Carried) -> dict[str, Any]:
    try:
        body = json.loads(one.body)
    except (ValueError, RecursionError):
        body = None
    if not isinstance(body, dict):
        raise NotWhole(f"{path}: entry {one.id[-8:]} says nothing that can be read; carry it out again")
    return body


# in


def look(register: Register, bundle: Bundle) -> Look:
    """What a carry file would bring; nothing is written."""
    here = dict(schema.rows(register.db, "SELECT digest, id FROM entry"))
    fresh = [one for one in bundle.entries if one.digest not in here]
    found = Look(new=len(fresh), known=len(bundle.entries) - len(fresh))
    carded = schema.rows(register.db, "SELECT tag, machine FROM machine_now")
    tags = {str(tag).casefold(): str(machine) for tag, machine in carded}
    enrolled = register.roles()
    allowed = dict(enrolled)
    for one in sorted(bundle.entries, key=lambda entry: (entry.happened, entry.recorded, entry.id)):
        what = e.from_body(one.kind, json.loads(one.body))
        if isinstance(what, e.Enrolled):
            allowed[what.name] = what.role
    for one in fresh:
        found.kinds[one.kind] = found.kinds.get(one.kind, 0) + 1
        what = e.from_body(one.kind, json.loads(one.body))
        if isinstance(what, e.Carded) and one.machine == one.id:
            tag = str(what.card.get("tag", ""))
            found.machines.append(tag)
            if tags.get(tag.casefold(), one.id) != one.id:
                found.heed.append(f"two machines are called {tag}: revise the card of one of them")
        elif isinstance(what, e.Fault) and what.holds:
            found.holds.append(f"{what.part}: {what.says}")
        elif isinstance(what, e.Enrolled) and enrolled.get(what.name) != what.role:
            found.people.append(f"{what.name}, {what.role}")
        if one.person not in allowed:
            found.heed.append(f"an entry by {one.person}, who is enrolled on neither side")
        elif not roles.may(allowed[one.person], one.kind):
            took = f"{one.person} ({allowed[one.person]}) wrote a {one.kind}"
            found.heed.append(f"{took}, which takes {roles.LEAST[one.kind]}")
    if any(base(one.terminal) == base(register.terminal) for one in fresh):
        found.heed.append("it comes from a copy of this very register: this one takes another name from now on")
    found.heed = list(dict.fromkeys(found.heed))
    return found


def clock_ahead(bundle: Bundle, now: datetime) -> timedelta:
    """How far the clock of the other terminal seems to be ahead; nothing where it is not."""
    newest = max([bundle.made, *(one.recorded for one in bundle.entries)], default=0)
    return max(timedelta(0), moment(newest) - now)


def carry_in(register: Register, bundle: Bundle) -> Look:
    """Bring a carry file in, all or nothing; what it brought."""
    with register.writing():
        found = look(register, bundle)
        here = {str(one) for (one,) in schema.rows(register.db, "SELECT digest FROM entry")}
        fresh = [one for one in bundle.entries if one.digest not in here]
        if not fresh:
            return found
        names = _branches(register, fresh)
        rows = [
            (
                one.id, one.kind, one.machine, one.happened, one.recorded, names[one.digest], one.person, one.body,
                one.place, one.digest, rollup.refers(e.from_body(one.kind, json.loads(one.body))),
            )
            for one in fresh
        ]  # fmt: skip
        register.db.many(_INSERT, rows)
        for one in fresh:
            register.came_in(one.kind)
        if any(base(one.terminal) == base(register.terminal) for one in fresh):
            register.take_another_name()
        _refold(register, fresh)
    # whoever brings chains together is a witness of all of them
    witness.keep(register.db, register.path)
    return found


def _branches(register: Register, fresh: Sequence[Carried]) -> dict[str, str]:
    """The terminal's column of each entry: its name, or its name and the mark of a branch.

    Where the same terminal wrote on in two copies of its register, one place of its chain has two entries. The first
    one to be here keeps the name; the other branch is marked by the digest of its first entry, and its chain goes on
    from the place of the fork.
    """
    at: dict[tuple[str, int], list[tuple[str, str]]] = {}
    used: set[tuple[str, int]] = set()
    for terminal, place, digest in schema.rows(register.db, "SELECT terminal, place, digest FROM entry"):
        at.setdefault((base(str(terminal)), int(place)), []).append((str(digest), str(terminal)))
        used.add((str(terminal), int(place)))
    names: dict[str, str] = {}
    for one in sorted(fresh, key=lambda entry: (entry.terminal, entry.place, entry.digest)):
        name = one.terminal
        for digest, column in at.get((one.terminal, one.place - 1), ()):
            if chain.digest(digest, one.place, *_sealed(one)) == one.digest:
                name = column
        if (name, one.place) in used:
            name = f"{one.terminal}{FORK}{one.digest[:8]}"
        names[one.digest] = name
        used.add((name, one.place))
        at.setdefault((one.terminal, one.place), []).append((one.digest, name))
    return names


def _sealed(one: Carried) -> tuple[str, str, str | None, int, int, str, str, str]:
    """What an entry's digest is over, but for the link and the place."""
    return (one.id, one.kind, one.machine, one.happened, one.recorded, one.terminal, one.person, one.body)


def _refold(register: Register, fresh: Sequence[Carried]) -> None:
    """Work out again every machine that something came in about."""
    machines = {one.machine for one in fresh if one.machine is not None}
    if any(one.kind == "plan" and one.machine is None for one in fresh):
        machines.update(all_machines(register))
    for one in fresh:
        if one.kind == "correction":
            machines.update(borne_on(register, json.loads(one.body)["entry"]))
    for machine in machines:
        known = register.of_machine(machine)
        if any(isinstance(one.what, e.Carded) for one in tallying.effective(known)):
            tally = rollup.worked_out(register, machine, known=known)
            if tally is not None:
                rollup.keep(register, machine, tally)
