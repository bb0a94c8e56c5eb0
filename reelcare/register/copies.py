"""Copies of a register: made while it is in use, proved whole before they get their name, kept by age.

The rules of this file: a copy stands under a name of its own until it is proved; nothing is ever written over. Copies
are private files. Those that are made by themselves stand in a folder beside the register: one of each day, week, year.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from reelcare.register import schema
from reelcare.register.errors import CannotWrite, NotWhole, Refused
from reelcare.register.proving import Head, prove

if TYPE_CHECKING:
    from reelcare.register.register import Register

DAYS, WEEKS = 7, 8
"""How many daily and weekly copies are kept; yearly ones stay."""


def copy(register: Register, path: Path) -> tuple[Head, ...]:
    """A verified copy in a new file; the heads of its chains, to be written down and compared later.

    Raises Refused where the file exists, CannotWrite where it cannot be made, NotWhole where it does not prove whole.
    """
    from reelcare.register.register import Register

    if path.exists():
        raise Refused(f"{path}: exists already; name another file")
    building = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        os.close(os.open(building, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    except OSError as why:
        raise CannotWrite(f"{path}: cannot be made here ({why.strerror})") from None
    try:
        with schema.plainly(path):
            target = sqlite3.connect(building)
            try:
                register.db.connection().backup(target, pages=4096, sleep=0.01)
                # a copy stands alone: no log beside it, which a restored file could take for its own
                target.execute("PRAGMA journal_mode = DELETE")
            finally:
                target.close()
        with Register(building, create=False) as made:
            proof = prove(made)
            with schema.plainly(path):
                made.db.execute_sql("PRAGMA journal_mode = DELETE")
        if not proof.whole:
            first = proof.findings[0]
            raise NotWhole(f"the copy did not prove whole ({first.place}: {first.what}); none was kept")
        _settle(building, path)
    finally:
        for left in (building, *(building.with_name(building.name + end) for end in ("-wal", "-shm", "-journal"))):
            left.unlink(missing_ok=True)
    return proof.heads


def _settle(building: Path, path: Path) -> None:
    """Give a finished file its name, so that it is there after a power cut."""
    handle = os.open(building, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
    try:
        os.link(building, path)
    except FileExistsError:
        raise Refused(f"{path}: exists already; name another file") from None
    except OSError:
        os.replace(building, path)  # a file system without links
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    except OSError:
        pass
    finally:
        os.close(folder)


def folder_of(register: Path) -> Path:
    """Where the copies of a register stand that are made by themselves."""
    return register.with_name(f"{register.stem}-copies")


def keep(register: Register, now: datetime) -> Path | None:
    """The copy of this day, where there is none yet, and the old ones that are no longer needed taken away."""
    today = now.astimezone(register.zone).date()
    folder = folder_of(register.path)
    path = folder / f"{today.isoformat()}.db"
    if path.exists():
        return None
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
    except OSError as why:
        raise CannotWrite(f"{folder}: cannot be made ({why.strerror})") from None
    copy(register, path)
    for one in superfluous([_day(found) for found in folder.glob("*.db")], today):
        (folder / f"{one.isoformat()}.db").unlink(missing_ok=True)
    return path


def _day(path: Path) -> date | None:
    try:
        return date.fromisoformat(path.stem)
    except ValueError:
        return None


def superfluous(days: Sequence[date | None], today: date) -> list[date]:
    """The copies that are not needed: beyond the last days, all but the first of a week; beyond the last weeks, all but
    the first of a year. What has no day for a name is let be.

    >>> superfluous([date(2026, 5, 1), date(2026, 5, 20)], date(2026, 5, 20))
    []
    """
    kept: set[tuple[int, int]] = set()
    found = []
    for day in sorted(one for one in days if one is not None):
        if today - day < timedelta(days=DAYS):
            continue
        year, week, _ = day.isocalendar()
        mark = (year, week) if today - day < timedelta(weeks=WEEKS) else (day.year, 0)
        if mark in kept:
            found.append(day)
        kept.add(mark)
    return found
