"""Spreadsheets read in: run logs and lists of machines in a person's own columns.

What belongs here: the bytes of a file made into a table, and the rows of a table made into what the register takes. A
file is read as a whole before anything is written. Raises Refused for what is no table or leaves a doubt.
"""

from __future__ import annotations

import codecs
import zlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta, tzinfo
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.clean import clean
from reelcare.core.spreadsheet.cells import CellError, Doubt, Value, Writing, as_text, read_cell, writing_of
from reelcare.core.spreadsheet.columns import (
    NEEDED_OF_RUNS,
    Matching,
    MatchingError,
    Place,
    SheetKind,
    places,
    read_matching,
)
from reelcare.core.spreadsheet.table import Cell, SpreadsheetTable, TableError, table_of_rows, table_of_text
from reelcare.core.spreadsheet.usual_headings import is_totals
from reelcare.core.text import _, mark
from reelcare.installation import adds
from reelcare.register.acts.runs import whole
from reelcare.register.errors import Refused
from reelcare.register.exchange.merged_cells import merged_cells
from reelcare.register.exchange.run_logs import BadLine, Brought, Contexts, RunFile, read_bytes, text_of, write_lines
from reelcare.register.progress import Progress, no_progress, with_progress
from reelcare.register.sheets import toml_table
from reelcare.register.writing.batch import Batch
from reelcare.register.writing.writer import Writer

WORKBOOKS = (".xlsx", ".xlsm")
UNREADABLE = (
    BadZipFile, zlib.error, EOFError, LookupError, ValueError, RuntimeError, SyntaxError, AttributeError, TypeError,
)  # fmt: skip
"""What is raised for a workbook that is none, is damaged, is locked by a password, or is not packed or written as any
is: the library that reads them looks at little of that."""
MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
"""Byte order marks, and the encoding that each names."""
TOLD_EACH = 500
"""Rows after which it is told how far the reading is."""


class SeveralSheets(Refused):
    """A workbook with several sheets, none of which is named; `names` has them."""

    def __init__(self, path: Path, names: list[str]) -> None:
        super().__init__(
            _('{path}: {n} sheets ({names}); say which: sheet = "..." in a matching (--as)', path=path, n=len(names),
              names=", ".join(names))
        )  # fmt: skip
        self.names = names


def is_workbook(path: Path) -> bool:
    """Whether a file is a workbook, by its name."""
    return path.suffix.casefold() in WORKBOOKS


def matching_in(path: str) -> Matching:
    """The matching of columns in a TOML file; '' for none, where headings are spelt as ours are. Raises Refused with
    every problem in one line."""
    try:
        return read_matching(toml_table(Path(path))) if path else Matching()
    except MatchingError as why:
        raise Refused("; ".join(f"{path}: {one}" for one in why.problems)) from None


def read_table(path: Path, sheet: str = "") -> SpreadsheetTable:
    """The table in a file: a text in any of the usual encodings and dialects, or a sheet of a workbook."""
    data = read_bytes(path)
    try:
        return _of_workbook(path, data, sheet) if is_workbook(path) else table_of_text(decoded(data))
    except TableError as why:
        raise Refused(f"{path}: {why}") from None


def decoded(data: bytes) -> str:
    """The text of a file: as its byte order mark says, else UTF-16 where every other byte is nothing, UTF-8 where it
    fits, and else Windows code page 1252.

    >>> decoded("é;1".encode("cp1252")), decoded("é;1".encode("utf-16-le")), decoded("é;1".encode("utf-8-sig"))
    ('é;1', 'é;1', 'é;1')
    """
    for order, coding in MARKS:
        if data.startswith(order):
            return data.decode(coding, "replace")
    head = data[:2000]
    if head and (head[1::2].count(0) * 3 > len(head) or head[::2].count(0) * 3 > len(head)):
        return data.decode("utf-16-le" if head[1::2].count(0) >= head[::2].count(0) else "utf-16-be", "replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace")


def _of_workbook(path: Path, data: bytes, sheet: str) -> SpreadsheetTable:
    try:
        from openpyxl import load_workbook
    except ImportError:
        raise Refused(
            _("{path}: workbooks need the extra `xlsx`: {adds}; or save it as .csv", path=path, adds=adds("xlsx"))
        ) from None
    try:
        book = load_workbook(BytesIO(data), read_only=True, data_only=True)
        here = _sheet_meant(path, [one.title for one in book.worksheets], sheet)
        rows = [
            (number, tuple(map(_cell, row)))
            for number, row in enumerate(book[here].iter_rows(), 1)
            if any(cell.value not in (None, "") for cell in row)
        ]
        book.close()
        width = max((len(row) for _number, row in rows), default=0)
        merged = merged_cells(data, here, rows[-1][0] if rows else 0, width)
    except UNREADABLE as why:
        told = str(why) or type(why).__name__
        raise Refused(_("{path}: cannot be read as a workbook ({why})", path=path, why=told)) from None
    return replace(table_of_rows(here, rows), merged=merged)


def _sheet_meant(path: Path, names: list[str], sheet: str) -> str:
    """The sheet that is meant, of those with cells; a chart has none."""
    if sheet and sheet not in names:
        raise Refused(
            _("{path}: no sheet {sheet!r}; there are {names}", path=path, sheet=sheet, names=", ".join(names))
        )
    if not sheet and len(names) > 1:
        raise SeveralSheets(path, names)
    return sheet or names[0]


def _cell(cell: Any) -> Cell:
    value = cell.value
    if isinstance(value, datetime):
        # workbooks keep a day as its midnight: only how it is shown tells whether a time was meant
        return value if "h" in cell.number_format.lower() else f"{value:%Y-%m-%d}"
    if isinstance(value, time):
        return datetime.combine(date(1900, 1, 1), value)
    if isinstance(value, timedelta):
        return f"{value // timedelta(hours=1)}:{value // timedelta(minutes=1) % 60:02}"
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    return float(value) if isinstance(value, (int, float)) else str(value)


@dataclass(frozen=True, slots=True)
class TableReading:
    """A table of a file with where our columns stand in it, and how it is written."""

    path: Path
    table: SpreadsheetTable
    places: Mapping[str, Place]
    writing: Writing

    def rows(self, progress: Progress) -> Iterator[tuple[int, dict[str, Value], list[BadLine]]]:
        """Each row: its number, what stands in it by our columns, and what of it cannot be read. Raises Refused for a
        doubt, with its place."""
        for number, row in with_progress(self.table.rows, len(self.table.rows), progress, TOLD_EACH):
            found: dict[str, Value] = {}
            bad: list[BadLine] = []
            for name, place in self.places.items():
                try:
                    self._stop_where_merged(number, place)
                    value = read_cell(row, place, self.writing)
                except CellError as why:
                    bad.append(BadLine(number, place.heading, str(why), self.table.sheet))
                except Doubt as why:
                    doubt = Doubt(number, why.heading, why.text, why.cure, why.settles)
                    raise DoubtfulCell(self.path, self.table, doubt) from None
                else:
                    if value is not None:
                        found[name] = value
            yield number, found, bad

    def _stop_where_merged(self, number: int, place: Place) -> None:
        """Raise CellError where a cell of a row has nothing of its own, as it is merged with one before."""
        for cell in place.cells if self.table.merged else ():
            if cells := self.table.merged.get((number, cell)):
                says = mark("merged with others ({cells}); take them apart, and write in each what is meant")
                raise CellError(_(says, cells=cells))

    def not_read(self) -> tuple[str, ...]:
        """The headings of the columns that are none of ours; the place of one that has none, but something below."""
        read = {cell for place in self.places.values() for cell in place.cells}
        filled = {cell for _row, row in self.table.rows for cell, text in enumerate(row) if text != ""}
        return tuple(
            heading or _("{n} (without a heading)", n=cell + 1)
            for cell, heading in enumerate(self.table.header)
            if cell not in read and (heading or cell in filled)
        )

    def heading(self, name: str) -> str:
        """The heading of one of our columns; '' where it is not there."""
        return self.places[name].heading if name in self.places else ""


class DoubtfulCell(Refused):
    """A cell can be meant in two ways, which ends the reading of its table; `doubt` says what settles it."""

    def __init__(self, path: Path, table: SpreadsheetTable, doubt: Doubt) -> None:
        sheet = _("sheet {sheet}, ", sheet=table.sheet) if table.sheet else ""
        super().__init__(
            _("{path}, {sheet}column {column}, row {row}: {text!r}: {cure}", path=path, sheet=sheet,
              column=doubt.heading, row=doubt.row, text=doubt.text, cure=doubt.cure)
        )  # fmt: skip
        self.doubt = doubt


def reading_of(
    path: Path, table: SpreadsheetTable, matching: Matching, kind: SheetKind, zone: tzinfo, items: Iterable[str] = ()
) -> TableReading:
    """The table of a file, ready to be read. Raises Refused for columns that are missing, DoubtfulCell for a doubt."""
    try:
        found = places(table, matching, kind, items)
        return TableReading(path, table, found, writing_of(table, found, matching, zone))
    except MatchingError as why:
        raise Refused("; ".join(f"{path}: {one}" for one in why.problems)) from None
    except Doubt as why:
        raise DoubtfulCell(path, table, why) from None


# run logs


def bring_runs(
    writer: Writer,
    path: Path,
    matching: Matching,
    *,
    by: str,
    now: datetime,
    keep_good: bool = False,
    progress: Progress = no_progress,
) -> Brought:
    """Bring the runs of a spreadsheet in, as `run_logs.bring` does those of a run log."""
    writer.must_be_allowed(e.Run.kind, by)
    writer.must_have_signed(by)
    reading = reading_of(path, read_table(path, matching.sheet), matching, "runs", writer.zone)
    file = read_runs(writer, reading, now, progress)
    done = write_lines(writer, path, file, by=by, now=now, keep_good=keep_good, progress=progress)
    return replace(done, not_read=reading.not_read())


def read_runs(writer: Writer, reading: TableReading, now: datetime, progress: Progress = no_progress) -> RunFile:
    """The runs of a table, and what of it cannot be one."""
    # what is said of no field is said of the moment at which the run is entered: its end
    end = reading.heading("ended") or reading.heading("duration")
    headed = {"": end, "ended": end}
    file = RunFile(
        Contexts(writer, now), lambda about: headed.get(about) or reading.heading(about), reading.table.sheet
    )
    file.header = list(reading.table.header)
    file.raw = {number: [as_text(cell) for cell in row] for number, row in reading.table.rows}
    needed = [name for name in (*NEEDED_OF_RUNS, "duration") if name in reading.places]
    for number, found, bad in reading.rows(progress):
        empty = [name for name in needed if name not in found]
        bad = bad or [BadLine(number, reading.heading(name), _("empty"), file.sheet) for name in empty]
        file.bad += bad
        if not bad:
            file.take(number, str(found.pop("machine")), partial(_told, reading, found))
    return file


def _told(reading: TableReading, found: Mapping[str, Value]) -> dict[str, Any]:
    """What a row tells of a run, by its fields."""
    told: dict[str, Any] = {}
    for name, value in found.items():
        if isinstance(value, datetime):
            told[name] = e.kept(value)
        elif isinstance(value, str):
            told[name] = text_of(name, value)
        elif isinstance(value, float):
            told[name] = whole(value, reading.places[name].column.quantity)
    if "duration" in told:
        told["ended"] = told["started"] + timedelta(seconds=told.pop("duration"))
    return told


# machines


def read_machines(
    writer: Writer, reading: TableReading, now: datetime, progress: Progress = no_progress
) -> tuple[list[dict[str, Any]], int, tuple[BadLine, ...]]:
    """The cards in a list of machines that are not in the register yet, how many are, and what cannot be."""
    cards: dict[str, tuple[int, dict[str, Any]]] = {}
    bad: list[BadLine] = []
    here = {tag.casefold() for tag in writer.tags().values()}
    skipped, sheet = 0, reading.table.sheet
    batch = Batch(writer, writer.ids, by="", now=now)
    for number, found, wrong in reading.rows(progress):
        card = _card_of(found, reading)
        tag = str(card.get("tag", "")).casefold()
        if tag and tag in here:
            skipped += 1
        elif tag and (called := writer.renamed(tag)):
            says = _("{now} had this tag before: write {now}, or add another machine of this tag by itself",
                     now=", ".join(called))  # fmt: skip
            bad.append(BadLine(number, reading.heading("tag"), f"{card['tag']}: {says}", sheet))
        elif is_totals(tag):
            says = _("looks like a row of totals; take it out, or give the machine another tag")
            bad.append(BadLine(number, reading.heading("tag"), f"{card['tag']}: {says}", sheet))
        elif wrong:
            bad += wrong
        elif tag in cards:
            says = _("is in row {row} already", row=cards[tag][0])
            bad.append(BadLine(number, reading.heading("tag"), f"{card['tag']}: {says}", sheet))
        else:
            what = e.Carded(card=card)
            for text in e.problems(what, batch.context(what, None, now)):
                name = text.partition(":")[0].rstrip()
                bad.append(BadLine(number, reading.heading(name) or name, text, sheet))
            cards[tag] = (number, card)
    return [card for _number, card in cards.values()], skipped, tuple(bad)


def _card_of(found: Mapping[str, Value], reading: TableReading) -> dict[str, Any]:
    """The card of a row, as its file would say it: quantities with their unit."""
    card: dict[str, Any] = {}
    for name, value in found.items():
        room, _dot, key = name.partition(".")
        into = card.setdefault(room, {}) if key else card
        column = reading.places[name].column
        if column.reads == "quantity" and isinstance(value, float):
            into[key or room] = _written(value, column.quantity)
        elif isinstance(value, float):
            into[key or room] = int(value) if value == int(value) else value
        else:
            into[key or room] = clean(value) if isinstance(value, str) else value
    return card


def _written(value: float, quantity: units.Quantity) -> str:
    """A quantity in SI, as a person writes it on a card: a bore in mm, a pressure in kPa."""
    small = quantity == "length" and abs(value) < 1
    unit, scale = ("mm", 1000) if small else {"pressure": ("kPa", 0.001)}.get(quantity, (_SI.get(quantity, ""), 1))
    return f"{value * scale:.10g} {unit}"


_SI = {"length": "m", "voltage": "V"}


def bring_machines(
    writer: Writer, path: Path, matching: Matching, *, by: str, now: datetime, progress: Progress = no_progress
) -> Brought:
    """Add the machines of a list, all or none; those that are here are counted and skipped."""
    writer.must_be_allowed(e.Carded.kind, by)
    writer.must_have_signed(by)
    reading = reading_of(path, read_table(path, matching.sheet), matching, "machines", writer.zone)
    cards, skipped, bad = read_machines(writer, reading, now, progress)
    if not bad and cards:
        drafts = [e.Draft(what=e.Carded(card=card), happened=now) for card in cards]
        writer.append(drafts, by=by, now=now, progress=progress)
    return Brought(0 if bad else len(cards), skipped, bad, not_read=reading.not_read())
