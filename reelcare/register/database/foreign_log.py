"""Whether the log beside a register in a file is its own: SQLite would play any log back into it, and destroy both.

A log is of another file where the register was closed into one file, or where the file is sound by itself and with the
log is not, or lacks entries that it has. Nothing is changed to find that out.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import quote

from reelcare.core.text import _
from reelcare.register.errors import NotWhole

HEADER = 32
"""Bytes of a log's own header (https://www.sqlite.org/fileformat.html, section 4.1)."""
MOST_UNASKED = 64 << 20
"""The largest register that is looked through where nobody can say whether another program has it open."""
LOCKS = Path("/proc/locks")
HEADS = "SELECT terminal, place, digest FROM entry GROUP BY terminal HAVING place = MAX(place)"
IS_THERE = "SELECT 1 FROM entry WHERE terminal = ? AND place = ? AND digest = ?"


def refuse(path: Path, head: bytes, *, can_look: bool) -> None:
    """Raise NotWhole where the log beside a register, whose first bytes are `head`, is of another file. Both are only
    looked through where their folder can be written to and has room."""
    log = path.with_name(f"{path.name}-wal")
    if not log.exists() or log.stat().st_size <= HEADER:
        return
    if head[18:20] == b"\x01\x01":  # closed into one file: section 1.3.3
        raise _foreign(path)
    if can_look and not _is_in_hand(path):
        refuse_worse(path, path)


def refuse_worse(path: Path, at: Path) -> None:
    """Raise NotWhole where a register is worse with its log than without; both lie `at` a place, where it is sought."""
    if _is_worse_with_its_log(at):
        raise _foreign(path)


def _foreign(path: Path) -> NotWhole:
    return NotWhole(
        _(
            "{path}: the log beside it ({name}) belongs to another file; nothing was changed. `reelcare "
            "restore COPY` sets both aside and uses a copy",
            path=path,
            name=f"{path.name}-wal",
        )
    )


def _is_in_hand(path: Path) -> bool:
    """Whether a program has the register open, and has taken its log for its own: SQLite locks the shared memory then.

    Where the system does not tell, a large register is taken for one that somebody has open.
    """
    try:
        locks = LOCKS.read_text("ascii", "replace")
    except OSError:
        return path.stat().st_size > MOST_UNASKED
    try:
        inode = path.with_name(f"{path.name}-shm").stat().st_ino
    except OSError:
        return False
    return any(word.endswith(f":{inode}") for line in locks.splitlines() for word in line.split())


def _is_worse_with_its_log(path: Path) -> bool:
    """Whether the file is sound by itself, and with the log it is not or lacks what it has: entries are only added."""
    alone = _heads(path, "mode=ro&immutable=1")
    if not alone:
        return False
    together = _heads(path, "mode=ro", has=alone)
    return together is not None and alone.items() - together.items() != set()


def _heads(path: Path, how: str, has: Mapping[str, tuple[int, str]] | None = None) -> dict[str, tuple[int, str]] | None:
    """The heads of the chains of a sound file, or those of `has` that are there; none where it is not sound. None where
    it cannot be read now."""
    uri = f"file:{quote(str(path.resolve()))}?{how}"
    try:
        with contextlib.closing(sqlite3.connect(uri, uri=True, timeout=0)) as probe:
            if probe.execute("PRAGMA integrity_check(1)").fetchone() != ("ok",):
                return {}
            if has is None:
                return {terminal: (place, digest) for terminal, place, digest in probe.execute(HEADS)}
            return {name: one for name, one in has.items() if probe.execute(IS_THERE, (name, *one)).fetchone()}
    except sqlite3.OperationalError:
        return None
    except sqlite3.DatabaseError:
        return {}
