"""Copies of a register: made while it is in use, proved whole before they get their name, kept by age.

A copy stands under a name of its own until it is proved; nothing is ever written over. Copies are private files. Those
of each day are made in a folder beside the register: one of each day, week, year is kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import peewee as pw

from reelcare import files
from reelcare.core.text import _
from reelcare.core.timestamps import day_of
from reelcare.register import opening
from reelcare.register.database.models import DERIVED_TABLES, PERSISTENT, AboutRow, EntryRow, RegisterTable
from reelcare.register.database.opening import DEMO, ZONE, on_a_server
from reelcare.register.database.sqlite import Sqlite
from reelcare.register.errors import CannotWrite, Damaged, Refused, into_a_file
from reelcare.register.integrity.chain import Head
from reelcare.register.integrity.recovery import RECOVERY
from reelcare.register.progress import Progress, no_progress
from reelcare.register.proof.proving import prove
from reelcare.register.reading.doubts import AHEAD
from reelcare.register.reading.foreign import BROUGHT
from reelcare.register.reading.reader import DEFAULT_PLAN, Reader, in_pages
from reelcare.register.writing.writer import Writer

E = EntryRow
DAYS, WEEKS = 7, 8
"""How many daily and weekly copies are kept; yearly ones stay."""
TABLES = tuple(one for one in (*PERSISTENT, *DERIVED_TABLES) if one is not AboutRow)
"""What goes from one kind of database to the other; what is about the place itself stays (`about`)."""
OF_THE_CONTENT = (ZONE, DEMO, DEFAULT_PLAN, BROUGHT, AHEAD)
"""The facts that go with the entries."""
PAGE = 5000


def copy(reader: Reader, to: Path | str, progress: Progress = no_progress, *, own: bool = False) -> tuple[Head, ...]:
    """A verified copy in a new file, or in an empty database on a server; the heads of its chains, to be written down
    and compared later. A copy of a demo is a demo, but for one that is to be one's `own` register.

    Raises Refused where something is there already, or for an `own` copy of what is no demo; CannotWrite where it
    cannot be made, Damaged where it does not prove whole. `progress` is told how many entries of how many are proved.
    """
    if own and not reader.is_demo:
        raise Refused(_("{where}: no demo; leave out --own for a plain copy", where=reader.where))
    if on_a_server(to):
        return _to_a_server(reader, str(to), progress, own=own)
    path = Path(to)
    if path.exists():
        raise Refused(_("{path}: exists already; name another file", path=path))
    if not path.parent.is_dir():
        raise CannotWrite(_("{path}: cannot be made here (no such folder)", path=path))
    with into_a_file(path), files.being_made(path) as building:
        lay_down(reader, building)
        heads = _proved(building, path, progress, own=own)
        files.settle(building, path)
    return heads


def lay_down(reader: Reader, building: Path) -> None:
    """What a register has, in an empty file; it is not proved yet."""
    if isinstance(reader.db, Sqlite):
        reader.db.backup_to(building)
    else:
        with opening.open_writer(building) as made:
            fill(reader, made)


def _proved(building: Path, path: Path, progress: Progress, *, own: bool) -> tuple[Head, ...]:
    with opening.open_writer(building, create=False) as made:
        if own:
            made.db.write(AboutRow.delete().where(AboutRow.name == DEMO))
            made.take_another_name()  # both may be written in from now on
        heads = proven_heads(made, progress)
        # a copy stands alone: no log beside it, which a restored file could take for its own
        if isinstance(made.db, Sqlite) and not made.db.keep_in_one_file():
            raise CannotWrite(_("{path}: cannot be made here (the disk failed)", path=path))
    return heads


def proven_heads(made: Reader, progress: Progress) -> tuple[Head, ...]:
    """The heads of a copy that proves whole. Raises Damaged for any other."""
    proof = prove(made, progress)
    if not proof.whole:
        first = proof.findings[0]
        raise Damaged(_("the copy is damaged ({place}: {what}); it was not kept", place=first.place, what=first.what))
    return proof.heads


def _to_a_server(reader: Reader, url: str, progress: Progress, *, own: bool) -> tuple[Head, ...]:
    """Every row as it is, into an empty database; all of it, or nothing."""
    with opening.open_writer(url) as made:
        if made.db.fetch(E.select(E.number).limit(1)):
            raise Refused(_("{where}: has entries already; name an empty database", where=made.where))
        with made.writing():
            fill(reader, made)
            if own:
                made.db.write(AboutRow.delete().where(AboutRow.name == DEMO))
            heads = proven_heads(made, progress)
        made.witness_heads()
    return heads


def fill(reader: Reader, made: Writer) -> None:
    """Every row as it is, from one kind of database into another, which is empty."""
    with reader.db.reading(), made.writing():
        for table in TABLES:
            if reader.db.has_table(table._meta.table_name):  # not in an older register that can only be read
                columns = table._meta.sorted_fields
                for rows in _pages(reader, table, columns):
                    made.db.insert_many(table, columns, rows)
        for name, value in reader.db.about().items():
            if name in OF_THE_CONTENT or name.startswith(RECOVERY):
                made.db.keep_about(name, value)
        made.db.resume_numbers()
        made.cache.clear()


def _pages(
    reader: Reader, table: type[RegisterTable], columns: Sequence[pw.Field[Any]]
) -> Iterator[list[tuple[Any, ...]]]:
    """The rows of a table; entries, of which there can be millions, page by page."""
    query = table.select(*columns)
    if table is not EntryRow:
        yield reader.db.fetch(query)
        return
    number = columns.index(E.number)

    def after(last: tuple[Any, ...] | None) -> list[tuple[Any, ...]]:
        return reader.db.fetch(query.where(E.number > (last[number] if last else 0)).order_by(E.number).limit(PAGE))

    yield from in_pages(after, PAGE)


def folder_of(register: Path) -> Path:
    """Where the copies of a register stand that are made by themselves."""
    return register.with_name(f"{register.stem}-copies")


def keep(reader: Reader, now: datetime, progress: Progress = no_progress) -> Path | None:
    """The copy of this day, where there is none yet, and the old ones that are no longer needed taken away."""
    today = day_of(now, reader.zone)
    folder = folder_of(reader.path)
    path = folder / f"{today.isoformat()}.db"
    if path.exists():
        return None
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
    except OSError as why:
        raise CannotWrite(_("{folder}: cannot be made ({strerror})", folder=folder, strerror=why.strerror)) from None
    files.sweep(folder)
    copy(reader, path, progress)
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
    the first of a year. A file that is not named after a day (None) is left alone.

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
