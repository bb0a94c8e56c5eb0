"""Heads of the chains kept outside of the register: what was there once must still be there.

To the database itself a register whose log was cut or lost is whole, only older. So the number of entries and the last
digest of each chain are kept in a small file beside the register, synced, whenever somebody signs or it is closed. A
proof compares the register with it. A head that the register contradicts is kept beside the new one, so that no later
write hides what is gone; only going back to a copy (`reelcare restore`), which an entry records, answers it.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import peewee as pw

from reelcare import files
from reelcare.core.canonical_json import MOST_EXACT
from reelcare.core.text import _, plural
from reelcare.register.database.base import Database
from reelcare.register.database.models import EntryRow
from reelcare.register.errors import RegisterError
from reelcare.register.integrity import chain
from reelcare.register.integrity.chain import Head, is_a_column

CONTRADICTED = "?"
"""Stands between terminal and count in the file where a head is kept that the register contradicts."""


def path_of(register: Path) -> Path:
    """The file beside a register."""
    return register.with_name(f"{register.name}.heads")


def columns(db: Database) -> Iterator[str]:
    """The terminals that entries are of, a branch of a chain apart; from one to the next through the index: there are
    few, and millions of entries."""
    last = ""
    while after := db.fetch(EntryRow.select(pw.fn.MIN(EntryRow.terminal)).where(EntryRow.terminal > last))[0][0]:
        last = str(after)
        yield last


def heads(db: Database) -> tuple[Head, ...]:
    """The heads as they are now, by terminal."""
    found: list[Head] = []
    for terminal in columns(db):
        # of a damaged register: where something else stands than a place, it comes after every number
        mine = (EntryRow.terminal == terminal) & (EntryRow.place <= MOST_EXACT)
        end = EntryRow.select(EntryRow.place, EntryRow.digest).where(mine).order_by(EntryRow.place.desc()).limit(1)
        found += [Head(terminal, int(place), str(digest)) for place, digest in db.fetch(end)]
    return tuple(found)


def keep(db: Database, register: Path) -> None:
    """Keep the heads, and beside them those that are contradicted; where that fails, the register is none the worse,
    and what was written is written."""
    with contextlib.suppress(OSError, RegisterError):
        _write(register, db, kept(register) or ())


def _write(register: Path, db: Database, witnessed: Sequence[Head]) -> None:
    """Write the heads as they are now, and beside them those witnessed ones that are contradicted."""
    found = {f"{one.terminal}{CONTRADICTED}{one.count}": one for one in contradicted(db, witnessed)}
    found |= {one.terminal: one for one in heads(db)}
    text = json.dumps({name: [one.count, one.digest] for name, one in found.items()})
    files.write_whole(path_of(register), lambda file: file.write(text.encode()), replace=True)


def follow(
    db: Database, register: Path, before: Sequence[Path], went_back_from: Callable[[], Iterable[Mapping[str, Any]]]
) -> None:
    """Where a register on a server went back to a copy, take over what this computer had witnessed of it; a head that
    is gone is answered where an entry of going back here knew of it, or of a later one of its terminal."""
    if path_of(register).exists():
        return
    known = next((found for one in before if (found := kept(one)) is not None), ())
    answered = list(went_back_from()) if known else []
    left = [one for one in known if not any(one.count <= told.get(one.terminal, (0,))[0] for told in answered)]
    with contextlib.suppress(OSError):
        _write(register, db, left)


def kept(register: Path) -> tuple[Head, ...] | None:
    """The heads that were kept, contradicted ones too; None where none can be read. A head that cannot be one is left
    out by itself."""
    try:
        found = json.loads(path_of(register).read_text("utf-8"))
        named = [(str(name).partition(CONTRADICTED)[0], value) for name, value in found.items()]
    except (OSError, ValueError, AttributeError, RecursionError):
        return None
    return tuple(head for name, value in named if (head := _head(name, value)) is not None) or None


def _head(terminal: str, value: object) -> Head | None:
    """A head as it was kept; None for what no chain ends in, and a register may not even be asked for."""
    match value:
        case [int(count), str(digest)] if type(count) is int and 0 < count <= MOST_EXACT and is_a_column(terminal):
            return Head(terminal, count, digest)
    return None


def contradicted(db: Database, witnessed: Sequence[Head]) -> tuple[Head, ...]:
    """Those of the witnessed heads that the register does not have."""
    return tuple(head for head in witnessed if not _is_there(db, head))


def _is_there(db: Database, head: Head) -> bool:
    """Whether the register has a head. Of a chain that forked any branch can have it: going back to a copy brings the
    branches together anew, and another one can have the name."""
    if _digest_at(db, head) == head.digest:
        return True
    same = (one for one in columns(db) if chain.base(one) == chain.base(head.terminal))
    return any(_digest_at(db, replace(head, terminal=one)) == head.digest for one in same)


def missing(db: Database, witnessed: Sequence[Head]) -> list[tuple[str, str]]:
    """What was witnessed and is not there: the terminal, and what is wrong."""
    return [
        (
            head.terminal,
            plural(
                "{n} entry was here before, and is missing now",
                "{n} entries were here before, and the last of them is missing now",
                head.count,
            )
            if _digest_at(db, head) is None
            else _("entry {count} is not the one that was here before", count=head.count),
        )
        for head in contradicted(db, witnessed)
    ]


def _digest_at(db: Database, head: Head) -> str | None:
    """The digest that stands at the place of a head; None where nothing does."""
    there = (EntryRow.terminal == head.terminal) & (EntryRow.place == head.count)
    rows = db.fetch(EntryRow.select(EntryRow.digest).where(there))
    return str(rows[0][0]) if rows else None
