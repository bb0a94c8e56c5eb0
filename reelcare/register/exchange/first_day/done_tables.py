"""When items were last done, from a spreadsheet: machine by item, or one service in each row. Both are made into the
cells of the same grid.

The rules of this file: of several rows of one machine and item the latest counts, and it is said how many do not; where
it cannot be told which is the latest, the row is refused.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from reelcare.core import entries as e
from reelcare.core.spreadsheet.cells import DoneAt, Value
from reelcare.core.spreadsheet.columns import Matching, is_of_services
from reelcare.core.spreadsheet.usual_headings import items_named, with_usual
from reelcare.core.text import _
from reelcare.core.wording import closest, said
from reelcare.register.errors import Refused
from reelcare.register.exchange.first_day.last_done import (
    Cell,
    DoneGrid,
    ToldServices,
    grid,
    titles_of,
    told_services,
    write,
)
from reelcare.register.exchange.run_logs import BadLine
from reelcare.register.exchange.spreadsheets import TableReading, read_table, reading_of
from reelcare.register.progress import Progress
from reelcare.register.writing.writer import Writer

Titles = Mapping[str, list[str]]
"""All titles of each item, by its id."""


@dataclass(frozen=True, slots=True)
class DoneTable:
    """The cells of a spreadsheet with their rows, and what cannot be."""

    cells: Mapping[Cell, DoneAt]
    bad: tuple[BadLine, ...]
    told: ToldServices
    left_out: tuple[str, ...]
    """The headings of columns that are none of ours."""
    earlier: int
    """Rows that do not count, as a later row is of the same machine and item."""


@dataclass(slots=True)
class _Found:
    """What the rows of a table come to."""

    writer: Writer
    reading: TableReading
    titles: Titles
    cells: dict[Cell, DoneAt] = field(default_factory=dict)
    rows: dict[Cell, tuple[int, str]] = field(default_factory=dict)
    """The row of each cell, and its column."""
    bad: list[BadLine] = field(default_factory=list)
    earlier: int = 0

    def refuse(self, number: int, column: str, says: str) -> None:
        """A cell cannot be."""
        self.bad.append(BadLine(number, column, says, self.reading.table.sheet))

    def machine(self, number: int, found: dict[str, Value]) -> str | None:
        """The machine of a row; None where it names none."""
        tag = str(found.pop("machine", ""))
        try:
            return self.writer.machine_id(tag)
        except Refused as why:
            self.refuse(number, self.reading.heading("machine"), str(why) if tag else _("empty"))
            return None

    def take_row(self, number: int, machine: str, found: Mapping[str, Value]) -> None:
        """Take a row of one machine, an item in each column."""
        for name, value in found.items():
            self.rows[machine, name] = (number, self.reading.heading(name))
            if isinstance(value, DoneAt):
                self.cells[machine, name] = value
            elif isinstance(value, float):  # what the counter shows now, in s
                self.cells[machine, name] = DoneAt(None, round(value))

    def take_service(self, number: int, machine: str, found: Mapping[str, Value]) -> None:
        """Take a row of one service."""
        text, told = str(found.get("item", "")), [found[one] for one in ("on", "at") if one in found]
        try:
            item, done = self._item(text, machine), _together([one for one in told if isinstance(one, DoneAt)])
        except _RowError as why:
            self.refuse(number, self.reading.heading(why.column), str(why))
            return
        if done is None:
            return  # not known
        at = (machine, item)
        if at in self.cells:
            later = _is_later(done, self.cells[at])
            if later is None:
                says = _("it is not clear which is later, this row or row {row}; leave one out", row=self.rows[at][0])
                self.refuse(number, self.reading.heading("item"), f"{text}: {says}")
                return
            self.earlier += 1
            if not later:
                return
        given = [one for one in ("on", "at") if one in found]
        self.cells[at], self.rows[at] = done, (number, " + ".join(self.reading.heading(one) for one in given))

    def _item(self, text: str, machine: str) -> str:
        named = items_named(text, self.titles)
        if len(named) == 1:
            return named[0]
        if not text:
            raise _RowError(_("empty"))
        if items_named(text, titles_of(one for one in self.writer.plans().newest(machine).items if one.each_time)):
            raise _RowError(_("{text!r}: a check does it before each run; leave the row out", text=text))
        if named:
            raise _RowError(_("{text!r}: several items have this name: {items}", text=text, items=", ".join(named)))
        lowered = {title.casefold(): title for some in self.titles.values() for title in some}
        close = closest(text.casefold(), tuple(lowered))
        near = _("; did you mean {word}?", word=lowered[close]) if close else _("; `reelcare plan` lists them")
        raise _RowError(_("{text!r}: no item of the plan{near}", text=text, near=near))


class _RowError(ValueError):
    """What a row says in a column of ours cannot be."""

    def __init__(self, says: str, column: str = "item") -> None:
        super().__init__(says)
        self.column = column


def _together(told: list[DoneAt]) -> DoneAt | None:
    """What the cells of a row say together; None where nothing is known."""
    days = {one.day for one in told if one.day is not None}
    counters = {one.counter for one in told if one.counter is not None}
    if len(days) > 1 or len(counters) > 1:
        raise _RowError(_("says another day or other hours than the cell beside it"), "at")
    return DoneAt(next(iter(days), None), next(iter(counters), None)) if days or counters else None


def _is_later(one: DoneAt, other: DoneAt) -> bool | None:
    """Whether a service was done later than another; None where that cannot be told."""
    by_day = one.day > other.day if one.day and other.day and one.day != other.day else None
    counters = one.counter is not None and other.counter is not None and one.counter != other.counter
    by_counter = (one.counter or 0) > (other.counter or 0) if counters else None
    if by_day is not None and by_counter is not None:
        return by_day if by_day == by_counter else None
    if by_day is not None or by_counter is not None:
        return bool(by_day or by_counter)
    if one.day != other.day:
        return None  # one says the day, the other the hours
    return one.counter is not None and other.counter is None


def read_cells(
    writer: Writer, reading: TableReading, titles: Titles, *, now: datetime, progress: Progress
) -> DoneTable:
    """What a table says of when items were last done."""
    found = _Found(writer, reading, titles)
    of_services = "item" in reading.places
    here: dict[str, int] = {}
    for number, row, wrong in reading.rows(progress):
        found.bad += wrong
        machine = found.machine(number, row)
        if machine is None or (of_services and wrong):
            continue
        if of_services:
            found.take_service(number, machine, row)
        elif machine in here:
            says = _("is in row {row} already", row=here[machine])
            found.refuse(number, reading.heading("machine"), f"{writer.tags()[machine]}: {says}")
        else:
            here[machine] = number
            found.take_row(number, machine, row)
    told = told_services(writer, found.cells, now=now, progress=progress)
    for at, says in told.problems.items():
        found.refuse(*found.rows[at], says)
    bad = tuple(sorted(found.bad, key=lambda one: one.line))
    return DoneTable(found.cells, bad, told, reading.not_read(), found.earlier)


def bring_last_done(
    writer: Writer, path: Path, matching: Matching, *, by: str, now: datetime, progress: Progress
) -> DoneTable:
    """Write what a spreadsheet says of when items were last done, all or nothing; with bad cells nothing.

    Raises Refused where no column is an item of the plan, and none says of which item a row is.
    """
    writer.must_be_allowed(e.Service.kind, by)
    writer.must_have_signed(by)
    asked = grid(writer)
    titles = asked.titles()
    table = read_table(path, matching.sheet)
    matching = with_usual(table, matching, "last done", titles)
    reading = reading_of(path, table, matching, "last done", writer.zone, titles)
    if not is_of_services(matching) and not any(one in titles for one in reading.places):
        raise Refused(_no_item(path, asked))
    found = read_cells(writer, reading, titles, now=now, progress=progress)
    if not found.bad:
        write(writer, found.told, by=by, now=now, progress=progress)
    return found


def _no_item(path: Path, asked: DoneGrid) -> str:
    titled = ", ".join(said(one.what) for one in asked.items[:2])
    return _(
        "{path}: no column is an item of the plan; each has one of its own, as in {titled}, or one column, item, says "
        "which it is",
        path=path.name,
        titled=titled,
    )
