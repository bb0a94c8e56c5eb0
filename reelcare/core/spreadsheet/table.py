"""A table out of a spreadsheet: which sign separates its columns, its headings, and its rows with their numbers."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import dropwhile
from statistics import mode

from reelcare.core.text import _

Cell = str | float | datetime
"""A cell as it came: a text, or what a workbook keeps as a number or a time."""
SEPARATORS = ";\t,"
"""What separates columns, the rarest in plain text first."""
LOOKED_AT = 30
"""Lines by which it is found what separates columns."""


class TableError(ValueError):
    """A text that is no table; the message says why."""


@dataclass(frozen=True, slots=True)
class SpreadsheetTable:
    """The headings and the rows below them, each with its number in the sheet; '' names the sheet of a text file."""

    sheet: str
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[Cell, ...]], ...]
    merged: Mapping[tuple[int, int], str] = field(default_factory=dict)
    """The cells by row and place that are merged with one before, so that nothing stands in them, and their range."""


def separator_of(text: str) -> str:
    """What separates the columns of a text: what gives most lines the same number of columns, and of such the most.

    >>> separator_of("a;b\\n1,5;2,5\\n"), separator_of("a,b\\n1,2\\n"), separator_of("a\\tb,c\\n1\\t2\\n")
    (';', ',', '\\t')
    """
    sample = "\n".join(text.splitlines()[:LOOKED_AT])
    found = []
    for place, sign in enumerate(SEPARATORS):
        widths = [len(row) for row in csv.reader(_lines(sample), delimiter=sign) if any(row)]
        if widths:
            usual = mode(widths)  # a title above the headings is narrower than the rest
            found.append((usual > 1 and widths.count(usual) / len(widths), usual, -place, sign))
    return max(found)[-1] if found else ","


def _lines(text: str) -> list[str]:
    """The lines of a text with their ends, whatever system it comes from."""
    return [f"{line}\n" for line in text.replace("\r\n", "\n").replace("\r", "\n").split("\n")]


def table_of_text(text: str) -> SpreadsheetTable:
    """The table of a text in any of the usual dialects. Raises TableError."""
    sign, skipped = "", 0
    first, newline, rest = text.partition("\n")
    if first.strip().casefold().startswith("sep=") and len(first.strip()) == len("sep=") + 1:
        sign, text, skipped = first.strip()[-1], rest if newline else "", 1
    rows = csv.reader(_lines(text), delimiter=sign or separator_of(text), strict=True)
    found: list[tuple[int, tuple[Cell, ...]]] = []
    before = skipped
    try:
        for row in rows:
            number, before = before + 1, rows.line_num + skipped
            if any(cell.strip() for cell in row):
                found.append((number, tuple(cell.strip() for cell in row)))
    except csv.Error as why:
        raise TableError(
            _("row {row}: cannot be read as a table ({why})", row=rows.line_num + skipped, why=why)
        ) from None
    return table_of_rows("", found)


def table_of_rows(sheet: str, rows: Sequence[tuple[int, tuple[Cell, ...]]]) -> SpreadsheetTable:
    """The table of rows, the first of which has the headings, below titles of one cell; shorter rows are filled up.
    Raises TableError."""
    if not rows:
        raise TableError(_("empty; the first row names the columns"))
    if any(_filled(row) > 1 for _number, row in rows):
        rows = [*dropwhile(lambda one: _filled(one[1]) == 1, rows)]
    header = [str(cell).strip() for cell in rows[0][1]]
    while header and not header[-1]:
        header.pop()
    below = []
    for number, row in rows[1:]:
        if len(row) > len(header) and any(str(cell).strip() for cell in row[len(header) :]):
            raise TableError(
                _("row {row}: {n} columns where the headings are {count}", row=number, n=len(row), count=len(header))
            )
        below.append((number, (*row[: len(header)], *[""] * (len(header) - len(row)))))
    return SpreadsheetTable(sheet, tuple(header), tuple(below))


def _filled(row: tuple[Cell, ...]) -> int:
    return sum(bool(str(cell).strip()) for cell in row)
