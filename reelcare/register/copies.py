"""Copies of a register: made while it is in use, proved whole before they get their name, kept by age.

The rules of this file: a copy stands under a name of its own until it is proved; nothing is ever written over. Copies
are private files. Those that are made by themselves stand in a folder beside the register: one of each day, week, year.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reelcare import files
from reelcare.register import opening, schema, witness
from reelcare.register.chain import Head
from reelcare.register.errors import CannotWrite, NotWhole, Refused, into_a_file
from reelcare.register.progress import Progress, quietly
from reelcare.register.proving import prove

if TYPE_CHECKING:
    from reelcare.register.register import Register

DAYS, WEEKS = 7, 8
"""How many daily and weekly copies are kept; yearly ones stay."""


def copy(register: Register, to: Path | str, progress: Progress = quietly) -> tuple[Head, ...]:
    """A verified copy in a new file, or in an empty database on a server; the heads of its chains, to be written down
    and compared later.

    Raises Refused where something is there already, CannotWrite where it cannot be made, NotWhole where it does not
    prove whole. `progress` is told how many entries of how many are proved.
    """
    if opening.on_a_server(to):
        return _to_a_server(register, str(to), progress)
    path = Path(to)
    if path.exists():
        raise Refused(f"{path}: exists already; name another file")
    if not path.parent.is_dir():
        raise CannotWrite(f"{path}: cannot be made here (no such folder)")
    building = files.building(path)
    try:
        if isinstance(register.db, schema.Sqlite):
            _backup(register, path, building)
        else:
            _carry_over(register, building)
        heads = _proved(building, path, progress)
        with into_a_file(path):
            files.settle(building, path)
    finally:
        for left in (building, *(building.with_name(building.name + end) for end in ("-wal", "-shm", "-journal"))):
            left.unlink(missing_ok=True)
        witness.path_of(building).unlink(missing_ok=True)
    return heads


def _backup(register: Register, path: Path, building: Path) -> None:
    """A copy of a file by the engine, page by page, while it is in use."""
    try:
        os.close(os.open(building, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    except OSError as why:
        raise CannotWrite(f"{path}: cannot be made here ({why.strerror})") from None
    with schema.plainly(path):
        target = sqlite3.connect(building)
        try:
            register.db.connection().backup(target, pages=4096, sleep=0.01)
        finally:
            target.close()


def _proved(building: Path, path: Path, progress: Progress) -> tuple[Head, ...]:
    from reelcare.register.register import Register

    with Register(building, create=False) as made:
        heads = _heads_of_a_whole(made, progress)
        with schema.plainly(path):
            # a copy stands alone: no log beside it, which a restored file could take for its own
            # where the disk fails, the engine says nothing, and goes on in the mode that it was in
            if made.db.execute_sql("PRAGMA journal_mode = DELETE").fetchone()[0] != "delete":
                raise CannotWrite(f"{path}: cannot be made here (the disk failed)")
    return heads


def _heads_of_a_whole(made: Register, progress: Progress) -> tuple[Head, ...]:
    proof = prove(made, progress)
    if not proof.whole:
        first = proof.findings[0]
        raise NotWhole(f"the copy did not prove whole ({first.place}: {first.what}); none was kept")
    return proof.heads


TABLES = ("entry", "machine_now", "item_now", "pin", "pin_try")
"""What goes from one kind of database to the other; what is about the place itself stays (`about`)."""
AT_ONCE = 5000


def _carry_over(register: Register, building: Path) -> None:
    """Every row as it is, into a new file."""
    from reelcare.register.register import Register

    with Register(building) as made:
        _fill(register, made)


def _to_a_server(register: Register, url: str, progress: Progress) -> tuple[Head, ...]:
    """Every row as it is, into an empty database; all of it, or nothing."""
    from reelcare.register.register import Register

    with Register(url) as made:
        if schema.rows(made.db, "SELECT 1 FROM entry LIMIT 1"):
            raise Refused(f"{made.where}: has entries already; name an empty database")
        with made.db.writing():
            _fill(register, made)
            heads = _heads_of_a_whole(made, progress)
        witness.keep(made.db, made.path)
    return heads


def _fill(register: Register, made: Register) -> None:
    with register.db.looking(), made.db.writing():
        for table in TABLES:
            if not register.db.has_table(table):
                continue  # a register of an older version that can only be read
            for names, rows in _pages(register, table):
                marks = ", ".join("?" * len(names))
                made.db.many(f"INSERT INTO {table} ({', '.join(names)}) VALUES ({marks})", rows)
        zone = schema.rows(register.db, "SELECT value FROM about WHERE name = 'zone'")[0][0]
        made.db.execute_sql("UPDATE about SET value = ? WHERE name = 'zone'", (zone,))
        made.db.numbers_go_on()


def _pages(register: Register, table: str) -> Iterator[tuple[list[str], list[tuple[Any, ...]]]]:
    """A table's columns and rows; entries, of which there can be millions, page by page."""
    names = [str(column[0]) for column in register.db.execute_sql(f"SELECT * FROM {table} LIMIT 0").description]
    columns = ", ".join(names)
    if table != "entry":
        rows = schema.rows(register.db, f"SELECT {columns} FROM {table}")
        if rows:
            yield names, rows
        return
    number = names.index("number")

    def after(last: tuple[Any, ...] | None) -> list[tuple[Any, ...]]:
        asked = f"SELECT {columns} FROM entry WHERE number > ? ORDER BY number LIMIT {AT_ONCE}"
        return schema.rows(register.db, asked, last[number] if last is not None else 0)

    for rows in schema.in_parts(after, AT_ONCE):
        yield names, rows


def folder_of(register: Path) -> Path:
    """Where the copies of a register stand that are made by themselves."""
    return register.with_name(f"{register.stem}-copies")


def keep(register: Register, now: datetime, progress: Progress = quietly) -> Path | None:
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
    _clear_away(folder)
    copy(register, path, progress)
    for one in superfluous([_day(found) for found in folder.glob("*.db")], today):
        (folder / f"{one.isoformat()}.db").unlink(missing_ok=True)
    return path


def _clear_away(folder: Path) -> None:
    """Take away what programs left that were killed while they made a copy."""
    for left in folder.glob(".*.db.*.new*"):
        number = left.name.partition(".new")[0].rpartition(".")[2]
        if number.isdigit() and not Path("/proc", number).exists() and Path("/proc/self").exists():
            left.unlink(missing_ok=True)


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
