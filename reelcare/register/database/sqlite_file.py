"""The careful opening of a register in a file.

A file that is not a register is refused before SQLite touches it, and stays byte for byte as it was. What is opened to
read only is never changed: an older version is upgraded in memory alone.
"""

from __future__ import annotations

import contextlib
import math
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import quote

from reelcare import files
from reelcare.core.text import _, mark
from reelcare.register.database import steps
from reelcare.register.database.errors import translate_errors
from reelcare.register.database.models import APPLICATION_ID, NEWEST
from reelcare.register.database.sqlite import EXTRA, PRAGMAS, Sqlite
from reelcare.register.errors import CannotWrite, Damaged, NotThere
from reelcare.register.mounts import network_kind

MAGIC = b"SQLite format 3\x00"
ROOM_NEEDED = 8 * 1024 * 1024
"""Free bytes below which a register is not opened: on a full disk the shared memory of WAL can kill the process."""
ROOM_TO_READ = 1024 * 1024
"""Free bytes below which a register that is only looked at is read as in a read-only folder."""
MOST_IN_MEMORY = 512 << 20
"""The largest register of an older version that is upgraded in memory."""
LOG_HEADER = 32
"""Bytes of a log's own header (https://www.sqlite.org/fileformat.html, section 4.1)."""
MOST_UNASKED = 64 << 20
"""The largest register that is looked through where nobody can say whether another program has it open."""
LOCKS = Path("/proc/locks")
HEADS = "SELECT terminal, MAX(place), digest FROM entry GROUP BY terminal"
IS_THERE = "SELECT 1 FROM entry WHERE terminal = ? AND place = ? AND digest = ?"


def open_file(path: Path, rebuild: steps.Rebuild, *, new: dict[str, str] | None, read_only: bool) -> Sqlite:
    """The register at `path`, upgraded; where none is there it is made with the facts of `new`, unless that is None."""
    if new is not None and files.is_being_made(path) and not path.stat().st_size:
        _fill(path, new)
    elif path.exists():
        _refuse_strangers(path)
    elif new is None:
        raise NotThere(_("{path}: no such register", path=path))
    else:
        _make(path, new)
    if not os.access(path.parent, os.W_OK) or (read_only and _free_bytes(path) < ROOM_TO_READ):
        return _open_where_nothing_can_be_written(path, rebuild)
    if read_only:
        uri = _uri_to_read(path)
        return _in_memory(path, uri, rebuild) if _is_older(uri) else _connect(Sqlite(path), path)
    _refuse_full_disk(path)
    db = _connect(Sqlite(path), path)
    with steps.closed_on_error(db), translate_errors(path):
        kept = _keep_as_it_was(db, path) if db.schema_version() < NEWEST else ""
        if steps.is_older(db):
            steps.upgrade(db, rebuild)
        wanted = "delete" if db.warning else "wal"
        if db.pragma("journal_mode") != wanted:
            db.pragma("journal_mode", wanted)
        db.warning = "; ".join(filter(None, (db.warning, kept)))
    return db


def _keep_as_it_was(db: Sqlite, path: Path) -> str:
    """Lay a copy of an older register beside it, before its schema changes; says where. Raises CannotWrite."""
    version = db.schema_version()
    names = (path.with_name(f"{path.stem}-version-{version}{end}{path.suffix}") for end in ("", "-2", "-3", "-4"))
    name = next((one for one in names if not one.exists()), None)
    if name is None:
        raise CannotWrite(
            _("{path}: copies of version {version} lie beside it already; move them away", path=path, version=version)
        )
    try:
        with files.being_made(name) as made:
            db.backup_to(made)
            with contextlib.suppress(FileExistsError):  # another program keeps the same in the same moment
                files.settle(made, name)
    except OSError as why:
        says = mark("{path}: an older version wrote it, and no copy of it fits beside it ({why}); nothing was changed")
        raise CannotWrite(_(says, path=path, why=why.strerror)) from None
    return _("an older version wrote it; it lies beside it as it was, as {name}", name=name.name)


def is_older(path: Path) -> bool:
    """Whether this register would be upgraded when it is opened to write. Nothing is changed."""
    _refuse_strangers(path)
    return _is_older(_uri_to_read(path))


def _open_where_nothing_can_be_written(path: Path, rebuild: steps.Rebuild) -> Sqlite:
    """A register in a folder that nothing can be written to, such as an auditor's copy, or on a full disk.

    SQLite cannot make its shared memory there, so the file is opened as one that does not change; where a log lies
    beside it, which may have the newest hold, both are read elsewhere.
    """
    wal = path.with_name(f"{path.name}-wal")
    if wal.exists() and wal.stat().st_size:
        return _with_its_log(path, wal, rebuild)
    uri = _uri(path, "mode=ro&immutable=1")
    return _in_memory(path, uri, rebuild) if _is_older(uri) else _connect(Sqlite(path, uri=uri), path)


def _with_its_log(path: Path, wal: Path, rebuild: steps.Rebuild) -> Sqlite:
    """A register and the log beside it, read into memory by way of a private folder, as theirs is read-only."""
    try:
        before = [(one.stat().st_size, one.stat().st_mtime_ns) for one in (path, wal)]
        if sum(size for size, _changed in before) > MOST_IN_MEMORY:
            raise OSError
        with tempfile.TemporaryDirectory() as folder:
            for one in (path, wal):
                shutil.copyfile(one, Path(folder, one.name))
            if before != [(one.stat().st_size, one.stat().st_mtime_ns) for one in (path, wal)]:
                raise OSError  # another computer writes there: file and log may not belong together
            _refuse_worse(path, Path(folder, path.name))
            return _in_memory(path, _uri(Path(folder, path.name), "mode=rw"), rebuild)
    except OSError:
        says = mark(
            "{path}: nothing can be written beside it, and it was not closed; copy it and {name} elsewhere, and "
            "open it there"
        )
        raise CannotWrite(_(says, path=path, name=wal.name)) from None


def _uri_to_read(path: Path) -> str:
    """How SQLite is told to read a file and change nothing: without a log beside it, nobody has it in hand."""
    logs = any(path.with_name(path.name + end).exists() for end in ("-wal", "-journal"))
    immutable = "" if logs and os.access(path.parent, os.W_OK) else "&immutable=1"
    return _uri(path, f"mode=ro{immutable}")


def _uri(path: Path, how: str) -> str:
    """A file as SQLite takes it with a word on how to open it (https://www.sqlite.org/uri.html)."""
    return f"file:{quote(str(path.resolve()))}?{how}"


def _is_older(uri: str) -> bool:
    """Whether an older version wrote this register."""
    with translate_errors(uri), contextlib.closing(Sqlite(Path(uri), uri=uri)) as db:
        db.connect()
        return steps.is_older(db)


def _in_memory(path: Path, uri: str, rebuild: steps.Rebuild) -> Sqlite:
    """A copy in memory of a register that may not be changed, upgraded there where an older version wrote it."""
    if path.stat().st_size > MOST_IN_MEMORY:
        says = mark(
            "{path}: an older version wrote it, and it is read-only here; copy it elsewhere, and "
            "open it there without --view"
        )
        raise CannotWrite(_(says, path=path))
    db = Sqlite(path, uri="file:reelcare?mode=memory")
    with translate_errors(path), steps.closed_on_error(db):
        db.connect()
        with contextlib.closing(sqlite3.connect(uri, uri=True)) as kept:
            kept.backup(db.connection())
        if steps.is_older(db):
            steps.upgrade(db, rebuild)
        db.refuse_changes()
    db.persistent = False
    return db


def _connect(db: Sqlite, path: Path) -> Sqlite:
    with translate_errors(path), steps.closed_on_error(db):
        db.connect()
        steps.refuse_newer(path, db.schema_version())
        network = network_kind(path)
        for name, value in PRAGMAS.items():
            db.pragma(name, value)
        if network:
            db.warning = _(
                "{path}: on a network file system ({network}), where several terminals must not write at "
                "once; keep it on this computer's own disk and use carry files",
                path=path,
                network=network,
            )
            db.pragma("synchronous", EXTRA)
    return db


def _refuse_strangers(path: Path) -> None:
    if path.is_dir():
        raise NotThere(_("{path}: a folder, not a register", path=path))
    try:
        with path.open("rb") as file:
            head = file.read(100)
    except PermissionError:
        raise CannotWrite(_("{path}: you may not read it", path=path)) from None
    except OSError as why:
        raise CannotWrite(_("{path}: cannot be opened ({strerror})", path=path, strerror=why.strerror)) from None
    if not head:
        raise NotThere(_("{path}: an empty file, not a register; it was left as it was", path=path))
    if len(head) < 100 or not head.startswith(MAGIC):
        raise NotThere(_("{path}: not a Reelcare register; it was left as it was", path=path))
    # application_id and user_version: https://www.sqlite.org/fileformat.html, section 1.3
    if int.from_bytes(head[68:72], "big") != APPLICATION_ID:
        raise NotThere(_("{path}: a database, but not a Reelcare register; it was left as it was", path=path))
    steps.refuse_newer(path, int.from_bytes(head[60:64], "big"))
    can_look = os.access(path.parent, os.W_OK) and _free_bytes(path) >= ROOM_TO_READ
    _refuse_foreign_log(path, head, can_look=can_look)


def _refuse_foreign_log(path: Path, head: bytes, *, can_look: bool) -> None:
    """Raise Damaged where the log beside a register, whose first bytes are `head`, is of another file: SQLite would
    play any log back into it, and destroy both.

    It is of another file where the register was closed into one file, or where the file is sound by itself and with the
    log is not, or lacks entries that it has. Nothing is changed to find that out; both are only looked through where
    their folder can be written to and has room.
    """
    log = path.with_name(f"{path.name}-wal")
    if not log.exists() or log.stat().st_size <= LOG_HEADER:
        return
    if head[18:20] == b"\x01\x01":  # closed into one file: section 1.3.3
        raise _of_another_file(path)
    if can_look and not _is_in_hand(path):
        _refuse_worse(path, path)


def _refuse_worse(path: Path, at: Path) -> None:
    """Raise Damaged where a register is sound by itself, and with its log it is not or lacks what it has: entries are
    only added. File and log lie `at` a place."""
    alone = _heads(at, "mode=ro&immutable=1")
    together = _heads(at, "mode=ro", has=alone) if alone else alone
    if alone and together is not None and alone.items() - together.items():
        raise _of_another_file(path)


def _of_another_file(path: Path) -> Damaged:
    says = mark(
        "{path}: the log beside it ({name}) belongs to another file; nothing was changed. `reelcare "
        "restore COPY` sets both aside and uses a copy"
    )
    return Damaged(_(says, path=path, name=f"{path.name}-wal"))


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


def _heads(path: Path, how: str, has: Mapping[str, tuple[int, str]] | None = None) -> dict[str, tuple[int, str]] | None:
    """The heads of the chains of a sound file, or those of `has` that are there; none where it is not sound. None where
    it cannot be read now."""
    try:
        with contextlib.closing(sqlite3.connect(_uri(path, how), uri=True, timeout=0)) as probe:
            if probe.execute("PRAGMA integrity_check(1)").fetchone() != ("ok",):
                return {}
            if has is None:
                return {terminal: (place, digest) for terminal, place, digest in probe.execute(HEADS)}
            return {name: one for name, one in has.items() if probe.execute(IS_THERE, (name, *one)).fetchone()}
    except sqlite3.OperationalError:
        return None
    except sqlite3.DatabaseError:
        return {}


def _make(path: Path, about: dict[str, str]) -> None:
    """A new register under a name of its own until it is complete, then under `path`: never half a register."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with files.being_made(path) as building:
            _refuse_full_disk(path)
            _fill(building, about)
            with contextlib.suppress(FileExistsError):
                # another process made it in the same moment: theirs is taken
                files.settle(building, path)
    except FileNotFoundError:
        raise NotThere(_("{parent}: no such folder", parent=path.parent)) from None
    except OSError as why:
        raise CannotWrite(_("{path}: cannot be made here ({strerror})", path=path, strerror=why.strerror)) from None


def _fill(path: Path, about: dict[str, str]) -> None:
    """Make an empty file into a register."""
    with translate_errors(path), contextlib.closing(Sqlite(path)) as db:
        db.connect()
        steps.make(db, about)


def _refuse_full_disk(path: Path) -> None:
    free = _free_bytes(path)
    if free < ROOM_NEEDED:
        says = mark("{path}: only {free} KiB are free on this disk; make room (at least 8 MiB) and try again")
        raise CannotWrite(_(says, path=path, free=int(free) // 1024))


def _free_bytes(path: Path) -> float:
    """The free bytes of a file's disk; without end where nobody can say."""
    try:
        return shutil.disk_usage(path.parent).free
    except OSError:
        return math.inf
