"""Which cells of a sheet are merged with another one: a workbook keeps what they say in the first of them alone.

The library that reads workbooks row by row does not tell. Raises what it raises for a file that is no workbook.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from io import BytesIO
from posixpath import join, normpath
from xml.etree import ElementTree
from zipfile import ZipFile

_MERGED = re.compile(rb"<(?:\w+:)?mergeCell\s[^>]*?\bref=\"([A-Z]{1,3}\d+:[A-Z]{1,3}\d+)\"")
"""A range of merged cells in a sheet (ECMA-376, part 1, 18.3.1.54)."""
Place = tuple[int, int]
"""The number of a row in the sheet, and the place of a cell in it, from 0."""


def merged_cells(data: bytes, sheet: str, rows: int, columns: int) -> Mapping[Place, str]:
    """The cells of a sheet, up to so many rows and columns, that have nothing of their own, as they are merged with one
    before; each with its range."""
    with ZipFile(BytesIO(data)) as parts:
        part = _part_of(parts, sheet)
        return dict(_without_their_own(parts.read(part), rows, columns)) if part else {}


def _part_of(parts: ZipFile, sheet: str) -> str:
    """The part of a workbook in which a sheet is kept; '' where it does not say."""
    book = ElementTree.fromstring(parts.read("xl/workbook.xml"))
    links = ElementTree.fromstring(parts.read("xl/_rels/workbook.xml.rels"))
    targets = {one.get("Id"): one.get("Target", "") for one in links}
    for one in book.iterfind(".//{*}sheet"):
        if one.get("name") == sheet:
            link = next((value for name, value in one.attrib.items() if name.endswith("}id")), None)
            target = normpath(join("/xl", targets.get(link, ""))).lstrip("/")
            return target if target in parts.namelist() else ""
    return ""


def _without_their_own(sheet: bytes, rows: int, columns: int) -> Iterator[tuple[Place, str]]:
    from openpyxl.utils import range_boundaries  # an extra, which takes its time

    for says in (found[1].decode() for found in _MERGED.finditer(sheet)):
        first, top, last, bottom = range_boundaries(says)
        for row in range(top, min(bottom, rows) + 1):
            for cell in range(first, min(last, columns) + 1):
                if (row, cell) != (top, first):
                    yield (row, cell - 1), says
