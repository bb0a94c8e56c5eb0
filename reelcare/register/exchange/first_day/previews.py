"""A spreadsheet looked at before anything of it is brought: the first rows as understood, which column is ours, what is
still to be asked, and every cell that cannot be.

The rules of this file: nothing is written here but by `bring`, which goes the one way of each kind of spreadsheet. What
could be meant in two ways is a question; its answer stays with the matching, which is kept for the next time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from reelcare import files
from reelcare.core import units
from reelcare.core.spreadsheet.cells import CellError, DoneAt, Doubt, Half, Value, Writing, half_of_moment, read_cell
from reelcare.core.spreadsheet.columns import (
    Matching,
    Place,
    SheetKind,
    is_of_services,
    known_columns,
    lacking,
    places_so_far,
    plain_heading,
    read_matching,
)
from reelcare.core.spreadsheet.table import Cell, SpreadsheetTable
from reelcare.core.spreadsheet.usual_headings import with_usual
from reelcare.core.text import _, localized, mark
from reelcare.register.errors import RegisterError
from reelcare.register.exchange import spreadsheets
from reelcare.register.exchange.first_day import done_tables, last_done
from reelcare.register.exchange.first_day.done_tables import Titles
from reelcare.register.exchange.run_logs import BadLine, Brought, fit_in
from reelcare.register.exchange.spreadsheets import DoubtfulCell, SeveralSheets, TableReading
from reelcare.register.progress import Progress, no_progress
from reelcare.register.sheets import toml_table
from reelcare.register.writing.writer import Writer

SHOWN = 4
"""Rows that are shown as understood."""


@dataclass(frozen=True, slots=True)
class FileQuestion:
    """What must be settled before the file can be read: the key of the matching, the question, what stands in the file,
    and the answers: value and words."""

    settles: str
    asks: str
    stands: str
    answers: tuple[tuple[str, str], ...]
    beside: str = ""
    """The heading of the column that has the other half of a moment."""


@dataclass(frozen=True, slots=True)
class PreviewColumn:
    """A column of the file: its heading, ours ('' for none), and the first cells as understood."""

    heading: str
    ours: str
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Preview:
    """A file as it is understood with a matching."""

    path: Path
    kind: SheetKind
    matching: Matching
    columns: tuple[PreviewColumn, ...] = ()
    rows: int = 0
    numbers: tuple[int, ...] = ()
    """The numbers of the rows that are shown."""
    writing: str = ""
    """How dates and figures are written, in words."""
    question: FileQuestion | None = None
    bad: tuple[BadLine, ...] = ()
    skipped: int = 0
    """Rows that are here already."""
    earlier: int = 0
    """Rows that do not count, as a later one is of the same machine and item."""


def look(
    writer: Writer, path: Path, kind: SheetKind, matching: Matching, *, now: datetime, system: units.System = "metric",
    progress: Progress = no_progress,
) -> Preview:  # fmt: skip
    """The file as it is understood with a matching, in the person's units, and what is to be asked next. Raises Refused
    for what is no table, and whatever `progress` raises."""
    try:
        table = spreadsheets.read_table(path, matching.sheet)
    except SeveralSheets as why:
        answers = tuple((name, name) for name in why.names)
        return Preview(path, kind, matching, question=FileQuestion("sheet", _("Which sheet is it?"), "", answers))
    titles = last_done.grid(writer).titles() if kind == "last done" else {}
    matching = with_usual(table, matching, kind, titles)
    here = places_so_far(table, matching, kind, titles)
    missing = lacking(matching, kind, here)
    question = _which_column(missing[0], table, here) if missing else _other_half(table, here)
    shown = _shown(path, kind, table, matching, here, None, system)
    if question is not None:
        return replace(shown, question=question)
    try:
        reading = spreadsheets.reading_of(path, table, matching, kind, writer.zone, titles)
        bad, skipped, earlier = _judged(writer, reading, kind, titles, now, progress)
    except DoubtfulCell as why:
        return replace(shown, question=_question(why.doubt, here))
    shown = _shown(path, kind, table, matching, here, reading.writing, system)
    return replace(shown, bad=bad, skipped=skipped, earlier=earlier)


def _judged(
    writer: Writer, reading: TableReading, kind: SheetKind, titles: Titles, now: datetime, progress: Progress
) -> tuple[tuple[BadLine, ...], int, int]:
    """What of a table cannot be, how many of its rows are here already, and how many do not count."""
    if kind == "machines":
        _cards, skipped, bad = spreadsheets.read_machines(writer, reading, now, progress)
        return bad, skipped, 0
    if kind == "runs":
        file = spreadsheets.read_runs(writer, reading, now, progress)
        _fresh, skipped = fit_in(writer, file)
        return tuple(sorted(file.bad, key=lambda one: one.line)), skipped, 0
    found = done_tables.read_cells(writer, reading, titles, now=now, progress=progress)
    return found.bad, 0, found.earlier


def _which_column(name: str, table: SpreadsheetTable, here: Mapping[str, Place]) -> FileQuestion:
    taken = {cell for one in here.values() for cell in one.cells}
    no_days = name == "duration"
    free = [
        heading
        for cell, heading in enumerate(table.header)
        if heading and cell not in taken and not (no_days and _half(table, cell) == "day")
    ]
    free = [heading for heading in free if free.count(heading) == 1]  # of two that are headed alike none can be meant
    asks = _("Which column has this: {name}?", name=_(NAMES.get(name, name)))
    answers = [(one, one) for one in free]
    if name == "ended":
        answers.append(("", _("none: another column says how long each run took")))
    return FileQuestion(f"column {name}", asks, "", tuple(answers))


def _other_half(table: SpreadsheetTable, here: Mapping[str, Place]) -> FileQuestion | None:
    """What is asked where a column has only the day, or only the time, of when a run began or ended."""
    halves = [_half(table, cell) for cell in range(len(table.header))]
    for name, place in here.items():
        half = halves[place.cells[0]] if place.column.reads == "moment" and len(place.cells) == 1 else ""
        other = {"day": "time", "time": "day"}.get(half, "")
        answers = tuple((one, one) for one, has in zip(table.header, halves, strict=True) if has == other and one)
        if other and answers:
            asks = _(HALVES[other], column=place.heading, name=_(NAMES.get(name, name)))
            return FileQuestion(f"{other} of {name}", asks, "", answers, place.heading)
    return None


HALVES = {
    "time": mark("{column} has only the day ({name}). Which column has the time?"),
    "day": mark("{column} has only the time ({name}). Which column has the day?"),
}


def _half(table: SpreadsheetTable, cell: int) -> Half:
    """What half of a moment the cells of a column have, where all that are filled have the same."""
    found = {half_of_moment(row[cell]) for _number, row in table.rows if row[cell] != ""}
    return found.pop() if len(found) == 1 else ""


def _question(doubt: Doubt, here: Mapping[str, Place]) -> FileQuestion:
    stands = _("row {row}, column {column}: {text}", row=doubt.row, column=doubt.heading, text=doubt.text)
    if doubt.settles == "dates":
        answers = (("d/m/y", _("day first: 3/4 is 3 April")), ("m/d/y", _("month first: 3/4 is 4 March")))
        return FileQuestion("dates", _("Dates like this: day or month first?"), stands, answers)
    if doubt.settles == "decimal":
        comma, point = _("decimal comma: 1,234 is a little over one"), _("decimal point: 1,234 is over a thousand")
        told = ((",", comma), (".", point))
        return FileQuestion("decimal", _("Figures like this: what is the decimal sign?"), stands, told)
    quantity = here[doubt.settles.removeprefix("units.")].column.quantity
    known = tuple(name for name, one in units.UNITS.items() if one.quantity == quantity)
    return FileQuestion(doubt.settles, _("In which unit is this column?"), stands, tuple((one, one) for one in known))


def settled(preview: Preview, value: str) -> Matching:
    """The matching with the question of a preview answered."""
    assert preview.question is not None
    key = preview.question.settles
    if key.startswith("column "):
        return preview.matching.with_column(preview.kind, key.removeprefix("column "), (value,) if value else ())
    half, _of, name = key.partition(" of ")
    if half in HALVES:
        here = preview.question.beside
        headings = (here, value) if half == "time" else (value, here)
        return preview.matching.with_column(preview.kind, name, headings)
    return preview.matching.settled(key, value)


def _shown(
    path: Path, kind: SheetKind, table: SpreadsheetTable, matching: Matching, here: Mapping[str, Place],
    writing: Writing | None, system: units.System,
) -> Preview:  # fmt: skip
    """The first rows of a table, as understood as far as it is known how it is written."""
    some = table.rows[:SHOWN]
    by_cell = {cell: one for one in here.values() for cell in one.cells}
    columns = tuple(
        PreviewColumn(
            heading, by_cell[cell].name if cell in by_cell else "",
            tuple(_understood(row, cell, by_cell.get(cell), writing, system) for _number, row in some),
        )
        for cell, heading in enumerate(table.header)
    )  # fmt: skip
    numbers = tuple(number for number, _row in some)
    told = _written(writing) if writing is not None else ""
    return Preview(path, kind, matching, columns, len(table.rows), numbers, told)


def _written(writing: Writing) -> str:
    dates = {"d/m/y": _("day first"), "m/d/y": _("month first")}.get(writing.dates, "")
    signs = {",": _("decimal comma"), ".": _("decimal point")}.get(writing.decimal, "")
    return ", ".join(one for one in (dates, signs) if one)


def _understood(
    row: tuple[Cell, ...], cell: int, place: Place | None, writing: Writing | None, system: units.System
) -> str:
    raw = row[cell]
    plain = f"{raw:%Y-%m-%d %H:%M}" if isinstance(raw, datetime) else f"{raw:g}" if isinstance(raw, float) else raw
    if place is None or writing is None or not plain:
        return plain
    try:
        value = read_cell(row, place, writing)
    except Doubt:
        return f"? {plain}"
    except CellError:
        return f"✗ {plain}"
    return _in_words(value, place, system)


def _in_words(value: Value | None, place: Place, system: units.System) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, DoneAt):
        at = localized(f"{value.counter / 3600:g} h") if value.counter is not None else ""
        return " ".join(one for one in (str(value.day or ""), at) if one)
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, float):
        if place.column.quantity == "length" and abs(value) < 1:
            # a bore, or what was taken for one: in metres or feet it would be hard to read
            return units.write(value, units.unit_for("length", system, "bore"))
        if place.column.reads == "quantity":  # not rounded: it is compared with what stands in the table
            return units.write(value, units.unit_for(place.column.quantity, system))
        return localized(f"{value:g}")
    return value


NAMES: Mapping[str, str] = {
    "machine": mark("machine"), "started": mark("beginning of the run"), "ended": mark("end of the run"),
    "duration": mark("how long the run took"),
    "metres": mark("metres of hose pulled out"), "tag": mark("tag of the machine"),
    "on": mark("the day on which it was done"),
}  # fmt: skip
"""The columns that are needed, in words."""


def our_columns(writer: Writer, preview: Preview) -> list[str]:
    """The columns of ours that a spreadsheet can have, as far as it is understood."""
    kind, matching = preview.kind, preview.matching
    known = known_columns(matching, kind, last_done.grid(writer).titles() if kind == "last done" else ())
    return [*known, *(["item"] if kind == "last done" and not is_of_services(matching) else [])]


# bringing it


def bring(
    writer: Writer,
    preview: Preview,
    *,
    by: str,
    now: datetime,
    keep_good: bool = False,
    progress: Progress = no_progress,
) -> Brought:
    """Bring a file in as it was understood, all or nothing; of runs perhaps the good lines. What `progress` raises
    stops it, and then nothing is brought."""
    path, matching = preview.path, preview.matching
    if preview.kind == "machines":
        return spreadsheets.bring_machines(writer, path, matching, by=by, now=now, progress=progress)
    if preview.kind == "runs":
        return spreadsheets.bring_runs(writer, path, matching, by=by, now=now, keep_good=keep_good, progress=progress)
    told = done_tables.bring_last_done(writer, path, matching, by=by, now=now, progress=progress)
    return Brought(0 if told.bad else told.told.services, 0, told.bad)


# the matching of the last time


def place_of(kind: SheetKind) -> Path:
    """Where the matching of the last spreadsheet of a kind is kept: a file as `--as` takes it."""
    return files.data_folder() / "matchings" / f"{kind.replace(' ', '-')}.toml"


def keep(preview: Preview) -> Path | None:
    """Keep the matching for the next time; where, or None where it cannot be kept."""
    path = place_of(preview.kind)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(preview.matching.to_toml(), encoding="utf-8")
    except OSError:
        return None
    return path


def first_matching(path: Path, kind: SheetKind) -> Matching:
    """The matching to begin with: that of the last time, where all of its headings stand in this file; else none."""
    if not place_of(kind).is_file():
        return Matching()
    try:
        found = read_matching(toml_table(place_of(kind)))
        here = {plain_heading(one) for one in spreadsheets.read_table(path).header}
    except (OSError, RegisterError, ValueError):
        return Matching()
    said = {plain_heading(one) for some in found.of(kind).values() for one in some}
    return found if said <= here else Matching()
