"""Run logs brought in from CSV: all or nothing, each bad line named, the same file twice without effect.

The rules of this file: a file is read and judged as a whole before anything is written, by the same rules as a
run typed by hand. A line with the machine and start of a run that is here already is counted and skipped where it says
nothing that is not said there; else it cannot be. What is good goes in by one transaction.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from functools import lru_cache
from pathlib import Path
from typing import Any

from reelcare import files
from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.clean import clean
from reelcare.core.spreadsheet.columns import NEEDED_OF_RUNS, SPELT
from reelcare.core.text import _, in_english, mark
from reelcare.core.typed_time import TimeError, check_year, in_zone, read_time
from reelcare.core.wording import nearest
from reelcare.register.acts.runs import whole
from reelcare.register.errors import CannotWrite, Refused, from_a_file
from reelcare.register.progress import Progress, no_progress, with_progress
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.batch import Batch, BatchContext
from reelcare.register.writing.writer import Writer

OPTIONAL = (
    "planned_speed_m_h", "inlet_kpa", "gun_kpa", "drive_loss_kpa", "operator", "place", "stopped_by", "notes",
    "dwell_minutes", "volume_m3", "meter_m3",
)  # fmt: skip
TEXTS = ("operator", "place", "stopped_by", "notes")
COLUMN_OF = {field: column for column, (field, _unit) in SPELT.items()}
"""The columns of the fields that are called otherwise."""
SCALES = {
    column: whole(units.from_unit(1, unit), units.UNITS[unit].quantity) for column, (_field, unit) in SPELT.items()
}
"""How many of the whole units in which a run is kept one of a column's is."""
LARGEST = 1 << 30
"""The largest file that is read [bytes]."""
PAGE = 20_000
"""Lines after which progress is reported, and rows that are inserted together."""
TOLD_EACH = 500
"""Runs after which it is told how far the writing is: what the telling raises stops it."""


@dataclass(frozen=True, slots=True)
class BadLine:
    """A line that cannot be true: its number in the file (the header is line 1), the column, and what is wrong."""

    line: int
    column: str
    what: str
    sheet: str | None = None
    """The sheet of a spreadsheet, '' for that of a text file; None in a strict run log."""

    def __str__(self) -> str:
        """One line for the person."""
        if self.sheet is not None:
            sheet = _("sheet {sheet}, ", sheet=self.sheet) if self.sheet else ""
            column = _("column {column}, ", column=self.column) if self.column else ""
            return _("{sheet}{column}row {row}: {what}", sheet=sheet, column=column, row=self.line, what=self.what)
        return (
            _("line {line}, {column}: {what}", line=self.line, column=self.column, what=self.what)
            if self.column
            else _("line {line}: {what}", line=self.line, what=self.what)
        )


@dataclass(frozen=True, slots=True)
class Brought:
    """What became of a file: how many of its runs (machines, services) were brought, how many were here already, what
    of it cannot be, and where the lines that cannot were left."""

    brought: int
    skipped: int
    bad: tuple[BadLine, ...]
    left: Path | None = None
    not_read: tuple[str, ...] = ()
    """The headings of columns of a spreadsheet that are none of ours."""


@dataclass(slots=True)
class RunLine:
    """A line that makes a run of a machine."""

    number: int
    machine: str
    run: e.Run


@dataclass(slots=True)
class RunFile:
    """A file as read: its header, its raw lines, those that make a run, and what cannot be."""

    contexts: Contexts
    column: Callable[[str], str]
    """How the column of a field is headed; '' is said of no field."""
    sheet: str | None = None
    header: list[str] = field(default_factory=list)
    raw: dict[int, list[str]] = field(default_factory=dict)
    lines: list[RunLine] = field(default_factory=list)
    bad: list[BadLine] = field(default_factory=list)

    def refuse(self, number: int, column: str, what: str) -> None:
        """A line cannot be."""
        self.bad.append(BadLine(number, column, what, self.sheet))

    def take(self, number: int, tag: str, told: Callable[[], Mapping[str, Any] | None]) -> None:
        """Take what a line tells of a run of a machine, or what is wrong with it."""
        known = self.contexts.of(tag)
        if isinstance(known, str):
            self.refuse(number, self.column("machine"), known)
            return
        machine, context = known
        fields = told()
        if fields is None:
            return
        run = e.Run(**fields)
        said = _problems_of(run, context)
        for about, text in said:
            column = self.column(about)
            what = text.partition(": ")[2] if self.sheet is None and about and column == about else ""
            self.refuse(number, column, what or text)
        if not said:
            self.lines.append(RunLine(number, machine, run))


def bring(
    writer: Writer, path: Path, *, by: str, now: datetime, keep_good: bool = False, progress: Progress = no_progress
) -> Brought:
    """Bring the runs of a file in.

    With bad lines in it nothing is written, unless `keep_good`: then the good ones are, and the others are left
    beside the file. Raises Refused for what is no run log at all, NotAllowed for whom it is not.
    """
    writer.must_be_allowed(e.Run.kind, by)
    writer.must_have_signed(by)
    text = _text(path)
    file = _read(text, path, RunFile(Contexts(writer, now), lambda about: COLUMN_OF.get(about, about)), progress)
    return write_lines(writer, path, file, by=by, now=now, keep_good=keep_good, progress=progress)


def write_lines(
    writer: Writer, path: Path, file: RunFile, *, by: str, now: datetime, keep_good: bool, progress: Progress
) -> Brought:
    """Write the runs of a file that was read, or, with bad lines in it, nothing, unless `keep_good`; see `bring`."""
    with writer.writing():  # what another program brings while this one waits for its turn is there already
        fresh, skipped = fit_in(writer, file)
        bad = tuple(sorted(file.bad, key=lambda one: one.line))
        if bad and not keep_good:
            return Brought(0, skipped, bad)
        lines = [file.raw[number] for number in sorted({one.line for one in bad})]
        left = _leave_refused(path, [file.header, *lines]) if bad else None
        write_runs(writer, [(one.machine, one.run) for one in fresh], by=by, now=now, progress=progress)
        return Brought(len(fresh), skipped, bad, left)


def _leave_refused(path: Path, rows: Iterable[Sequence[str]]) -> Path:
    """Leave rows beside a run log, private, under a name that is not taken, so that they can be put right and brought
    again; which name. Raises CannotWrite."""
    lines = io.StringIO(newline="")
    csv.writer(lines).writerows(rows)
    more = files.free_ending(lambda more: path.with_name(f"{path.stem}.refused{more}.csv").exists(), "-")
    name = path.with_name(f"{path.stem}.refused{more}.csv")
    try:
        files.write_whole(name, lambda out: out.write(lines.getvalue().encode("utf-8")))
    except OSError as why:
        says = mark("{name}: the bad lines cannot be left here ({strerror}); nothing was brought in")
        raise CannotWrite(_(says, name=name, strerror=why.strerror)) from None
    return name


def write_runs(
    writer: Writer, runs: Sequence[tuple[str, e.Run]], *, by: str, now: datetime, progress: Progress = no_progress
) -> None:
    """Write runs that were checked before, each with its machine, by machine and end, in one transaction."""
    if not runs:
        return
    with writer.writing():
        batch = Batch(writer, writer.ids, by=by, now=now)
        for number, (machine, run) in enumerate(with_progress(runs, len(runs), progress, TOLD_EACH)):
            batch.add(run, machine, run.ended)
            if number % PAGE == 0:
                batch.flush()
        batch.finish()


def read_bytes(path: Path) -> bytes:
    """What is in a file. Raises Refused for one that cannot be read or is too large."""
    with from_a_file(path):
        if path.stat().st_size > LARGEST:
            raise Refused(_("{path}: larger than 1 GiB; split it", path=path))
        return path.read_bytes()


def _text(path: Path) -> str:
    data = read_bytes(path)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as why:
        line = data[: why.start].count(b"\n") + 1
        raise Refused(_("{path}, line {line}: not UTF-8 text; save the file as UTF-8", path=path, line=line)) from None


class _Context(BatchContext):
    """What a run is checked against; whether it overlaps another is judged for the whole file (`_overlaps`)."""

    def run_after(self, moment: datetime) -> None:
        """None: see above."""


class Contexts:
    """What the runs of each machine are checked against, asked once."""

    def __init__(self, writer: Writer, now: datetime) -> None:
        self._writer = writer
        self._batch = Batch(writer, writer.ids, by="", now=now)
        self._now = now
        self._known: dict[str, tuple[str, _Context] | str] = {}
        self.zone: tzinfo = writer.zone

    def of(self, tag: str) -> tuple[str, _Context] | str:
        """The machine's id and its context, or what is wrong with the tag."""
        if tag not in self._known:
            try:
                machine = self._writer.machine_id(tag)
                self._known[tag] = (machine, _Context(self._batch, machine, self._now))
            except Refused as why:
                self._known[tag] = str(why)
        return self._known[tag]


def _read(text: str, path: Path, file: RunFile, progress: Progress) -> RunFile:
    total = text.count("\n") + 1
    # newline="" lets the reader see the line ends as they are
    rows = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        file.header = [name.strip() for name in next(rows, [])]
        places = _places(file.header, path)
        before = 1
        for row in rows:
            number, before = before + 1, rows.line_num
            if any(row):  # a row of nothing but commas is as empty as an empty line
                file.raw[number] = row
                _take(file, number, row, places)
            if number % PAGE == 0:
                progress(number, total)
        progress(total, total)
    except csv.Error as why:
        raise Refused(
            _("{path}, line {line_num}: cannot be read as CSV ({why})", path=path, line_num=rows.line_num, why=why)
        ) from None
    return file


def _places(header: Sequence[str], path: Path) -> dict[str, int]:
    """Where each column stands. Raises Refused for a header that is none of a run log."""
    needed = ", ".join(NEEDED_OF_RUNS)
    if not any(header):
        raise Refused(_("{path}: empty; the first line names the columns: {needed}", path=path, needed=needed))
    if len(header) == 1 and ";" in header[0]:
        raise Refused(
            _("{path}, line 1: separated by semicolons; save it with commas, or bring it with --as", path=path)
        )
    unknown = [name for name in header if name not in (*NEEDED_OF_RUNS, *OPTIONAL)]
    if unknown:
        near = nearest(unknown[0], (*NEEDED_OF_RUNS, *OPTIONAL))
        raise Refused(_("{path}, line 1: column {unknown!r}{nearest}", path=path, unknown=unknown[0], nearest=near))
    missing = [name for name in NEEDED_OF_RUNS if name not in header]
    if missing:
        says = mark("{path}, line 1: column {missing} is missing; needed are {needed}")
        raise Refused(_(says, path=path, missing=missing[0], needed=needed))
    twice = [name for name in header if header.count(name) > 1]
    if twice:
        raise Refused(_("{path}, line 1: column {twice} is there twice", path=path, twice=twice[0]))
    return {name: place for place, name in enumerate(header)}


def _take(file: RunFile, number: int, row: list[str], places: Mapping[str, int]) -> None:
    if len(row) != len(places):
        file.refuse(number, "", _("{row} columns where the header has {count}", row=len(row), count=len(places)))
    else:
        cells = {name: row[place] for name, place in places.items()}
        file.take(number, cells["machine"].strip(), lambda: _told(cells, number, file))


def _problems_of(run: e.Run, context: BatchContext) -> list[tuple[str, str]]:
    """What is wrong with a run, in words, each with the field that it is about; '' for none."""
    said = e.problems(run, context)
    if not said:
        return []
    with in_english():  # whatever the language, a text begins with the field that it is about
        in_fields = [one.partition(": ")[0].replace(" ", "_") for one in e.problems(run, context)]
    fields = e.Run.__dataclass_fields__
    return [(about if about in fields else "", text) for about, text in zip(in_fields, said, strict=True)]


def _told(cells: Mapping[str, str], number: int, file: RunFile) -> dict[str, Any] | None:
    """What the cells of a line tell of a run, by its fields; None where something in them is wrong."""
    before, zone = len(file.bad), file.contexts.zone
    told: dict[str, Any] = {}
    for name in ("started", "ended"):
        try:
            told[name] = _time(cells[name], zone)
        except TimeError as why:
            file.refuse(number, name, str(why))
    told |= {name: text_of(name, cells[name]) for name in TEXTS if cells.get(name)}
    for name, (field_, _unit) in SPELT.items():
        try:
            told[field_] = _whole(cells.get(name, ""), SCALES[name])
        except units.UnitsError as why:
            file.refuse(number, name, str(why))
    if not cells["metres"].strip():
        file.refuse(number, "metres", _("empty"))
    return told if len(file.bad) == before else None


def _time(text: str, zone: tzinfo) -> datetime:
    """A time of a cell, as it is kept. Raises TimeError."""
    try:
        found = datetime.fromisoformat(text)  # the common case, which long run logs are full of
        check_year(found, text)
        return e.kept(in_zone(found, zone, text))
    except ValueError:
        return e.kept(read_time(text, zone))


@lru_cache(maxsize=4096)
def _whole(text: str, scale: int) -> int | None:
    """A figure of a cell in the whole units in which a run is kept; None for an empty one. Raises UnitsError."""
    return round(units.number(text) * scale) if text.strip() else None


@lru_cache(maxsize=4096)
def text_of(name: str, text: str) -> str:
    """A text of a run, made fit to keep: cut to what has room, and on one line but for notes."""
    return clean(text)[:80] if name != "notes" else clean(text, lines=True)


def fit_in(reader: Reader, file: RunFile) -> tuple[list[RunLine], int]:
    """The lines that are new and overlap nothing, in order; how many are here already. Overlaps, and lines that begin
    with another run and say otherwise, join the bad lines."""
    by_machine: dict[str, list[RunLine]] = {}
    for line in file.lines:
        by_machine.setdefault(line.machine, []).append(line)
    fresh: list[RunLine] = []
    skipped = 0
    for machine, lines in by_machine.items():
        entries = reader.select(queries.of_kind(machine, e.Run.kind))
        known = [one.what for one in entries if isinstance(one.what, e.Run)]
        begun = {run.started: RunLine(0, machine, run) for run in known}
        new: list[RunLine] = []
        for line in lines:
            other = begun.setdefault(line.run.started, line)
            if other is line:
                new.append(line)
            elif differing := _says_besides(line.run, other.run):
                columns = [file.column(name) for name in differing]
                file.refuse(line.number, columns[0], _contradicts(other.number, columns))
            else:
                skipped += 1
        bad = _overlaps(known, new)
        for number, says in bad.items():
            file.refuse(number, file.column("started"), says)
        fresh += [line for line in new if line.number not in bad]
    return sorted(fresh, key=lambda one: (one.machine, one.run.ended)), skipped


def _says_besides(run: e.Run, other: e.Run) -> list[str]:
    """The fields in which a run says what another does not."""
    told = {name: getattr(run, name) for name in e.Run.__dataclass_fields__}
    return [name for name, value in told.items() if value not in (None, "", ()) and value != getattr(other, name)]


def _contradicts(other: int, columns: Sequence[str]) -> str:
    """What is said of a line that begins with that of another (0: with a run in the register), but says otherwise."""
    says = (
        mark("begins with the run of line {other} but says otherwise ({columns}); leave one of them out")
        if other
        else mark("begins with a run in the register but says otherwise ({columns}); take that back, or leave this out")
    )
    return _(says, other=other, columns=", ".join(columns))


def _overlaps(known: list[e.Run], new: list[RunLine]) -> dict[int, str]:
    """What is said of the new lines that fall into another run, by line number."""
    spans = sorted(
        [(one.started, one.ended, 0) for one in known] + [(one.run.started, one.run.ended, one.number) for one in new]
    )
    bad: dict[int, str] = {}
    latest: tuple[datetime, datetime, int] | None = None
    for span in spans:
        if latest is not None and span[0] < latest[1]:
            number, other = (span[2], latest[2]) if span[2] else (latest[2], span[2])
            if number:
                says = (
                    mark("overlaps the run of line {other}")
                    if other
                    else mark("overlaps a run that is in the register")
                )
                bad[number] = _(says, other=other)
            if number == latest[2]:
                latest = span
        if latest is None or span[1] > latest[1]:
            latest = span
    return bad
