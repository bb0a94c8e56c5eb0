"""Cells read as what stands in their column: dates, figures and quantities in the writing that the file itself shows.

What could be meant in two ways, and what nothing in the file or the matching settles, raises `Doubt`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import Literal, NamedTuple

from reelcare.core import units
from reelcare.core.machine.card_readers import MASSES
from reelcare.core.spreadsheet.columns import Matching, Place
from reelcare.core.spreadsheet.table import Cell, SpreadsheetTable
from reelcare.core.text import _, mark
from reelcare.core.typed_time import TimeError, check_year, in_zone


class DoneAt(NamedTuple):
    """When something was last done, as far as it is told: the day, and the hour counter then [s]."""

    day: date | None
    counter: int | None


Value = str | float | bool | datetime | DoneAt
Half = Literal["day", "time", ""]


class Doubt(ValueError):
    """A cell that can be meant in two ways: its row, its heading, what stands there, what settles it in words, and the
    key of the matching that `settles` it."""

    def __init__(self, row: int, heading: str, text: str, cure: str, settles: str = "") -> None:
        super().__init__(_("row {row}, {heading}: {text!r}: {cure}", row=row, heading=heading, text=text, cure=cure))
        self.row, self.heading, self.text, self.cure, self.settles = row, heading, text, cure, settles


class CellError(ValueError):
    """A cell that cannot be read; the message says what would be right."""


_DATE = re.compile(r"(\d{1,4})([-/.])(\d{1,2})\2(\d{1,4})\.?(?:(?:[T,]| )\s*(.*))?")
_A_DAY = re.compile(r"(?<![\d.,])\d{1,4}([-/.])\d{1,2}\1\d{1,4}(?!\d)")
_TIME = re.compile(r"(\d{1,2})[:.h](\d{2})(?:[:.](\d{2})(?:[.,]\d+)?)?\s*([ap])?\.?(?:m\.?)?", re.IGNORECASE)
_HOURS = re.compile(r"(\d{1,3}) ?[:h] ?([0-5]\d)")
"""Hours and minutes, as a duration is often written."""
_FIGURE = re.compile(r"([-+]?\d(?:[\d.,'\u2019 \u00a0\u202f]*\d)?)\s*(.*)", re.DOTALL)
_GROUPED = re.compile(r"[-+]?\d{1,3}([.,])\d{3}")
_NUMERAL = {
    sign: re.compile(
        rf"[-+]?(?:\d+|\d{{1,3}}(?:['\u2019 \u00a0\u202f{'.,'.replace(sign, '')}]\d{{3}})+)(?:[{sign}]\d+)?"
    )
    for sign in ".,"
}
"""A figure by its decimal sign: what parts its whole number parts thousands."""
_BLANKS = str.maketrans("", "", "' \u2019\u00a0\u202f")
THIS_CENTURY = 69
"""Years of two figures below this are of this century, the others of the last one (POSIX.1, strptime)."""
YES, NO = ("yes", "y", "true", "1", "x", "sí", "si", "ja", "oui"), ("no", "n", "false", "0", "-", "nein", "non")


@dataclass(frozen=True, slots=True)
class Writing:
    """How dates and figures of a table are written: the order of dates, the decimal sign; '' if none is needed."""

    dates: str
    decimal: str
    zone: tzinfo


def writing_of(table: SpreadsheetTable, places: Mapping[str, Place], matching: Matching, zone: tzinfo) -> Writing:
    """How a table writes dates and figures, as the matching says, else as its own cells show. Raises Doubt."""
    dates = matching.dates or _order(_texts(table, places.values(), ("moment", "day")))
    decimal = matching.decimal or _sign(_texts(table, places.values(), ("number", "quantity")))
    return Writing(dates, decimal, zone)


PlacedText = tuple[int, str, str]
"""A row, a heading, and what stands there."""


def _texts(table: SpreadsheetTable, places: Iterable[Place], reads: tuple[str, ...]) -> list[PlacedText]:
    wanted = [one for one in places if one.column.reads in reads]
    found = [
        (number, one.heading, text)
        for number, row in table.rows
        for one in wanted
        if isinstance(text := _joined(row, one), str) and text
    ]
    of_done = [one for one in places if one.column.reads == "done"]
    part = 0 if "day" in reads else 1
    return found + [
        (number, one.heading, text)
        for number, row in table.rows
        for one in of_done
        if isinstance(cell := _joined(row, one), str) and (text := _parts_of_done(cell)[part])
    ]


def _parts_of_done(text: str) -> tuple[str, str]:
    """The day and the figure of a cell that says when something was last done, either of them ''."""
    found = _A_DAY.search(text)
    day = found[0] if found is not None else ""
    return day, (text.replace(day, " ", 1) if day else text).strip(" ,;@")


def _joined(row: tuple[Cell, ...], place: Place) -> Cell:
    if len(place.cells) == 1:
        cell = row[place.cells[0]]
        return cell.strip() if isinstance(cell, str) else cell
    return " ".join(as_text(row[one]) for one in place.cells).strip()


def as_text(cell: Cell) -> str:
    """A cell as a person would type it, and as it is read again."""
    if isinstance(cell, datetime):
        midnight = (cell.hour, cell.minute) == (0, 0)
        early = cell.year < 1901  # a time of day without a date, as workbooks keep it
        return f"{cell:%H:%M}" if early else f"{cell:%Y-%m-%d}" if midnight else f"{cell:%Y-%m-%d %H:%M}"
    return f"{cell:.15g}" if isinstance(cell, float) else cell.strip()


def half_of_moment(cell: Cell) -> Half:
    """Whether a cell has the day or the time of day alone; '' where it has neither, or both.

    >>> half_of_moment("3/5/26"), half_of_moment("6:30"), half_of_moment("3/5/26 6:30"), half_of_moment("K1")
    ('day', 'time', '', '')
    """
    text = as_text(cell)
    found = _DATE.fullmatch(text)
    if found is not None:
        return "" if found[5] else "day"
    return "time" if _TIME.fullmatch(text) else ""


def _order(texts: list[PlacedText]) -> str:
    """The order of dates with a slash, as those show that can be meant in one way only."""
    shown: dict[str, PlacedText] = {}
    doubtful: PlacedText | None = None
    for one in texts:
        found = _DATE.fullmatch(one[2])
        if found is None or len(found[1]) > 2 or found[2] == ".":
            continue
        first, second = int(found[1]), int(found[3])
        if first > 12 >= second:
            shown.setdefault("d/m/y", one)
        elif second > 12 >= first:
            shown.setdefault("m/d/y", one)
        elif first != second:
            doubtful = doubtful or one
    if len(shown) == 2:
        row, heading, text = shown["m/d/y"]
        cure = _("the month is first here, and {other!r} in row {row} has the day first; write all dates alike",
                 other=shown["d/m/y"][2], row=shown["d/m/y"][0])  # fmt: skip
        raise Doubt(row, heading, text, cure, "dates")
    if not shown and doubtful is not None:
        raise Doubt(*doubtful, _('day or month first? say dates = "d/m/y" or "m/d/y" in the matching'), "dates")
    return next(iter(shown), "")


def _sign(texts: list[PlacedText]) -> str:
    """The decimal sign, as figures show that can be meant in one way only."""
    shown: dict[str, PlacedText] = {}
    doubtful: PlacedText | None = None
    for one in texts:
        found = _FIGURE.fullmatch(one[2])
        digits = found[1].translate(_BLANKS) if found is not None else ""
        signs = [sign for sign in digits if sign in ".,"]
        if not signs:
            continue
        if _GROUPED.fullmatch(digits) and digits.lstrip("+-")[0] != "0":
            doubtful = doubtful or one
        else:
            last = signs[-1]
            thousands = len(signs) > 1 and len(set(signs)) == 1
            shown.setdefault((",", ".")[last == ","] if thousands else last, one)
    if len(shown) == 2:
        row, heading, text = shown[","]
        cure = _("a decimal comma, and {other!r} in row {row} has a point; write all figures alike",
                 other=shown["."][2], row=shown["."][0])  # fmt: skip
        raise Doubt(row, heading, text, cure, "decimal")
    if not shown and doubtful is not None:
        raise Doubt(*doubtful, _('thousands or decimals? say decimal = "," or "." in the matching'), "decimal")
    return next(iter(shown), "")


def read_cell(row: tuple[Cell, ...], place: Place, writing: Writing) -> Value | None:
    """What stands in a cell, None where it is empty: quantities in SI. Raises CellError, and Doubt without its place
    (row 0) where no unit is said."""
    cell = _joined(row, place)
    if cell == "":
        return None
    match place.column.reads:
        case "text":
            return as_text(cell)
        case "moment":
            if any(isinstance(row[one], float) for one in place.cells):  # 6.25 of a workbook: 06:15, or 06:25?
                raise _no_moment(as_text(cell), writing, timed=True)
            return _not_before(_moment(cell, writing, timed=True), row, place, writing)
        case "day":
            return _moment(cell, writing).strftime("%Y-%m-%d")
        case "flag":
            return _flag(as_text(cell))
        case "number":
            return _plain_number(cell, place, writing)
        case "done":
            return _done(cell, writing, place.unit)
    return _quantity(cell, place, writing)


def _not_before(ended: datetime, row: tuple[Cell, ...], place: Place, writing: Writing) -> datetime:
    """An end on the day of its beginning, or on the next where the clock shows less than it did then."""
    try:
        started = read_cell(row, place.begins, writing) if place.begins is not None else None
    except CellError:
        return ended  # that is said of its own column
    if not isinstance(started, datetime) or ended.replace(tzinfo=None) >= started.replace(tzinfo=None):
        return ended
    return _placed(ended.replace(tzinfo=None) + timedelta(days=1), writing, as_text(_joined(row, place)))


NOT_KNOWN = (".", "-", "?", "\u2013", "\u2014")
"""What stands in a cell of the last-done dates where nobody knows."""


def read_done(text: str, zone: tzinfo) -> DoneAt | None:
    """When something was last done, as typed by itself: a day, a figure of the hour counter [h], or both; None where it
    is not known. Raises CellError, also for what can be meant in two ways.

    >>> from datetime import UTC
    >>> read_done("29.06.26 1 420 h", UTC)
    DoneAt(day=datetime.date(2026, 6, 29), counter=5112000)
    """
    day, figure = _parts_of_done(text.strip())
    try:
        writing = Writing(_order([(0, "", day)] if day else []), _sign([(0, "", figure)] if figure else []), zone)
    except Doubt as why:
        first = why.settles == "dates"
        cure = (
            _("day or month first? write it as 2026-05-31") if first else _("thousands or decimals? write 1234 or 1.2")
        )
        raise CellError(f"{why.text}: {cure}") from None
    return _done(text.strip(), writing, "h")


def _done(cell: Cell, writing: Writing, unit: str) -> DoneAt | None:
    if isinstance(cell, datetime):
        return DoneAt(cell.date(), None)
    text = as_text(cell)
    if text in NOT_KNOWN:
        return None
    day, figure = _parts_of_done(text) if isinstance(cell, str) else ("", text)
    known = not isinstance(cell, str) or not figure or _FIGURE.fullmatch(figure) is not None
    value, written = _figure(figure if isinstance(cell, str) else cell, writing) if figure and known else (0.0, unit)
    if not known or (figure and (written or unit).casefold() not in ("h", "hours", "std", "horas", "heures")):
        raise CellError(
            _("{text!r}: must be a day, or hours such as 1420 h; leave it empty where it is not known", text=text)
        )
    return DoneAt(
        _moment(day, writing).date() if day else None,
        round(value * 3600) if figure else None,
    )


def _flag(text: str) -> bool:
    low = text.casefold()
    if low in YES or low in NO:
        return low in YES
    raise CellError(_("{text!r}: answer yes or no", text=text))


def _figure(cell: Cell, writing: Writing) -> tuple[float, str]:
    """A figure, and what is written behind it. Raises CellError, also for thousands that are none: another decimal sign
    than the file's, or two figures."""
    if isinstance(cell, float) and math.isfinite(cell):
        return cell, ""
    found = _FIGURE.fullmatch(cell) if isinstance(cell, str) else None
    if found is None:
        raise CellError(_("{text!r}: must be a figure", text=as_text(cell)))
    sign = writing.decimal or "."
    if _NUMERAL[sign].fullmatch(found[1]) is None:
        raise CellError(
            _("{text!r}: no figure where {sign} is the decimal sign; write all alike", text=cell, sign=sign)
        )
    whole, _sign_there, part = found[1].translate(_BLANKS).partition(sign)
    return float(f"{whole.replace(',', '').replace('.', '')}.{part}"), found[2].strip()


def _plain_number(cell: Cell, place: Place, writing: Writing) -> float:
    """A figure in the unit of its column, which cell or heading may say, or another one of the same quantity."""
    value, written = _figure(cell, writing)
    unit, column = written or place.unit, place.column
    if not unit or unit == column.unit:
        return value
    if column.unit in MASSES and unit.casefold() in MASSES:
        return round(value * MASSES[unit.casefold()] / MASSES[column.unit], 3)
    if column.quantity == "count":
        says = mark("{text!r}: must be a figure in {unit}") if column.unit else mark("{text!r}: must be a figure")
        raise CellError(_(says, text=as_text(cell), unit=column.unit))
    return _in_si(value, unit, cell, column.quantity) / units.UNITS[column.unit].factor


def _quantity(cell: Cell, place: Place, writing: Writing) -> float:
    # how long a run took is hours and minutes; 1:30 of a dwell can be minutes and seconds
    clock = _HOURS.fullmatch(as_text(cell)) if place.name == "duration" else None
    if clock is not None:
        return int(clock[1]) * 3600.0 + int(clock[2]) * 60.0
    value, written = _figure(cell, writing)
    if not written and not place.unit:
        cure = _('in which unit? say it in the heading, or {name} = "..." under [units] in the matching',
                 name=place.name)  # fmt: skip
        raise Doubt(0, place.heading, as_text(cell), cure, f"units.{place.name}")
    return _in_si(value, written or place.unit, cell, place.column.quantity)


def _in_si(value: float, unit: str, cell: Cell, quantity: units.Quantity) -> float:
    text = f"{value!r} {unit}"
    try:
        return units.read(text, quantity)
    except units.UnitsError as why:
        # told with what stands in the cell, not with what was read of it
        raise CellError(str(why).replace(repr(text), repr(as_text(cell)), 1)) from None


def _moment(cell: Cell, writing: Writing, *, timed: bool = False) -> datetime:
    text = as_text(cell)
    if isinstance(cell, datetime):
        return _placed(cell, writing, text)
    found, wrong = _DATE.fullmatch(text), _no_moment(text, writing, timed=timed)
    if found is None or (timed and not found[5]):
        raise wrong
    hour, minute, second = _time_of_day(found[5] or "", wrong)
    year, month, day = _parts(found, writing, wrong)
    try:
        moment = datetime(year, month, day, hour, minute, second, tzinfo=writing.zone)
        check_year(moment, text)
    except (ValueError, TimeError):
        raise wrong from None
    return _placed(moment, writing, text)


def _no_moment(text: str, writing: Writing, *, timed: bool) -> CellError:
    example = writing.dates or "y-m-d"
    return CellError(
        _("{text!r}: must be a day and a time, as in {example}", text=text, example=f"{example} 06:30")
        if timed
        else _("{text!r}: must be a day, as in {example}", text=text, example=example)
    )


def _placed(moment: datetime, writing: Writing, text: str) -> datetime:
    try:
        return in_zone(moment, writing.zone, text)
    except TimeError as why:
        raise CellError(str(why)) from None


def _parts(found: re.Match[str], writing: Writing, wrong: CellError) -> tuple[int, int, int]:
    first, second, third = found[1], int(found[3]), found[4]
    if len(first) == 4:
        return int(first), second, int(third)
    if len(third) not in (2, 4):
        raise wrong
    year = int(third)
    if len(third) == 2:
        year += 2000 if year < THIS_CENTURY else 1900
    if found[2] != "." and writing.dates == "m/d/y":
        return year, int(first), second
    if writing.dates == "y-m-d":
        raise wrong
    return year, second, int(first)


def _time_of_day(text: str, wrong: CellError) -> tuple[int, int, int]:
    if not text.strip():
        return 0, 0, 0
    found = _TIME.fullmatch(text.strip())
    if found is None:
        raise wrong
    hour = int(found[1])
    if found[4]:
        if not 1 <= hour <= 12:
            raise wrong
        hour = hour % 12 + (12 if found[4].casefold() == "p" else 0)
    return hour, int(found[2]), int(found[3] or 0)
