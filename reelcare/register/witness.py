"""Heads of the chains kept outside of the register: what was there once must still be there.

The rules of this file: the engine itself takes a register whose log was cut or lost for whole, only older. So the
number of entries and the last digest of each chain are kept in a small file beside it, synced, whenever somebody signs
or the register is closed. `prove` holds the register against it.
"""

from __future__ import annotations

import contextlib
import json
from pathlib import Path
from typing import IO, TYPE_CHECKING

from reelcare import files
from reelcare.core.canonical_json import MOST_EXACT
from reelcare.register import schema
from reelcare.register.chain import Head
from reelcare.register.errors import RegisterError

if TYPE_CHECKING:
    from reelcare.register.register import Register


def path_of(register: Path) -> Path:
    """The file beside a register."""
    return register.with_name(f"{register.name}.heads")


def heads(register: Register) -> tuple[Head, ...]:
    """The heads as they are now, by terminal."""
    found: list[Head] = []
    terminal = ""
    # from one terminal to the next through the index: there are few, and millions of entries
    while after := schema.rows(
        register.db, "SELECT terminal FROM entry WHERE terminal > ? ORDER BY terminal LIMIT 1", terminal
    ):
        terminal = str(after[0][0])
        [(place, digest)] = schema.rows(
            register.db, "SELECT place, digest FROM entry WHERE terminal = ? ORDER BY place DESC LIMIT 1", terminal
        )
        found.append(Head(terminal, int(place), str(digest)))
    return tuple(found)


def keep(register: Register) -> None:
    """Keep the heads; where that cannot be, the register is none the worse for it, and what was written is written."""
    with contextlib.suppress(OSError, RegisterError):
        text = json.dumps({one.terminal: [one.count, one.digest] for one in heads(register)})
        files.write_whole(path_of(register.path), lambda file: _put(file, text), replace=True)


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


def missing(register: Register) -> list[tuple[str, str]]:
    """What was witnessed and is not there: the terminal, and what is wrong."""
    found = []
    for head in kept(register.path) or ():
        terminal, count, digest = head.terminal, head.count, head.digest
        rows = schema.rows(register.db, "SELECT digest FROM entry WHERE terminal = ? AND place = ?", terminal, count)
        if not rows:
            found.append((terminal, f"{count} entries were here once, and the last of them is gone"))
        elif rows[0][0] != digest:
            found.append((terminal, f"entry {count} is not the one that was here once"))
    return found
