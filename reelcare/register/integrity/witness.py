"""Heads of the chains kept outside of the register: what was there once must still be there.

To the database itself a register whose log was cut or lost is whole, only older. So the number of entries and the last
digest of each chain are kept in a small file beside the register, synced, whenever somebody signs or it is closed. A
proof compares the register with it.
"""

from __future__ import annotations

import contextlib
import json
from pathlib import Path
from typing import IO

import peewee as pw

from reelcare import files
from reelcare.core.canonical_json import MOST_EXACT
from reelcare.register.database.base import Database
from reelcare.register.database.models import EntryRow
from reelcare.register.errors import RegisterError
from reelcare.register.integrity.chain import Head


def path_of(register: Path) -> Path:
    """The file beside a register."""
    return register.with_name(f"{register.name}.heads")


def heads(db: Database) -> tuple[Head, ...]:
    """The heads as they are now, by terminal."""
    found: list[Head] = []
    terminal = ""
    # from one terminal to the next through the index: there are few, and millions of entries
    while after := db.fetch(EntryRow.select(pw.fn.MIN(EntryRow.terminal)).where(EntryRow.terminal > terminal))[0][0]:
        terminal = str(after)
        last = EntryRow.select(EntryRow.place, EntryRow.digest).where(EntryRow.terminal == terminal)
        ((place, digest),) = db.fetch(last.order_by(EntryRow.place.desc()).limit(1))
        found.append(Head(terminal, int(place), str(digest)))
    return tuple(found)


def keep(db: Database, register: Path) -> None:
    """Keep the heads; where that fails, the register is none the worse, and what was written is written."""
    with contextlib.suppress(OSError, RegisterError):
        text = json.dumps({one.terminal: [one.count, one.digest] for one in heads(db)})
        files.write_whole(path_of(register), lambda file: _put(file, text), replace=True)


def _put(file: IO[bytes], text: str) -> None:
    file.write(text.encode())


def kept(register: Path) -> tuple[Head, ...] | None:
    """The heads that were kept; None where none can be read."""
    try:
        found = json.loads(path_of(register).read_text("utf-8"))
        heads = tuple(Head(str(terminal), int(count), str(digest)) for terminal, (count, digest) in found.items())
    except (OSError, ValueError, TypeError, AttributeError, OverflowError, RecursionError):
        return None
    return heads if all(map(_can_be, heads)) else None


def _can_be(head: Head) -> bool:
    """Whether a register can be asked for it: a count that is exact, and a name of whole letters."""
    return abs(head.count) <= MOST_EXACT and head.terminal.isascii()


def missing(db: Database, register: Path) -> list[tuple[str, str]]:
    """What was witnessed and is not there: the terminal, and what is wrong."""
    found = []
    for head in kept(register) or ():
        there = (EntryRow.terminal == head.terminal) & (EntryRow.place == head.count)
        rows = db.fetch(EntryRow.select(EntryRow.digest).where(there))
        if not rows:
            found.append((head.terminal, f"{head.count} entries were here once, and the last of them is gone"))
        elif rows[0][0] != head.digest:
            found.append((head.terminal, f"entry {head.count} is not the one that was here once"))
    return found
