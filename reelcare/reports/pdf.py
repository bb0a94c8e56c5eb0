"""A report as a PDF, with a font of its own, so that it prints the same everywhere.

The rules of this file: text is text; nothing in it is markup, and a sign that the font has not is written in
another way. The library (fpdf2) is an extra, and loaded only here.
"""

from __future__ import annotations

import logging
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import zip_longest
from math import ceil
from pathlib import Path
from typing import Any, Literal

from reelcare.core.clean import Has, clean, printable
from reelcare.core.text import _
from reelcare.installation import adds
from reelcare.register.errors import Refused
from reelcare.reports.blocks import Bars, Block, Columns, Document, Heading, Paragraph, Signatures, Table

FONTS = Path(__file__).with_name("fonts")
INK, SOFT, FILL = (29, 35, 33), (85, 96, 91), (79, 143, 136)
TONES = {"": INK, "good": (34, 102, 63), "warning": (138, 90, 0), "bad": (156, 43, 32), "small": SOFT}
MARGIN, LINE, TEXT, SMALL = 14.0, 4.6, 9.0, 7.5
"""Millimetres at the edge and from line to line, and points of the letters."""
CLOSE_MARGIN = 8.0
"""Millimetres at the edge of a report that is set close; what most printers leave white anyway is less."""
CODE, CODE_TOP = 24.0, 6.0
"""Millimetres of a code beside the title (with its quiet zone), and from the edge to it."""
NARROW = 88.0
"""Percent of their width that letters have on a form, so that they can stay as high as they are."""
FORM, BETWEEN = 8.0, 4.0
"""Points of the letters of what is filled in by hand, and millimetres between its two columns."""
LONG, BREAK = 300, 20
"""Letters of a cell from which on it can be higher than a page, and as how many of them a line break counts."""
PART_OF_PAGE = 0.6
"""How much of a page one row takes at most: the heads of its table stand there, too."""
HEADING, COLUMNS = 11.0, 48.0
"""Millimetres of a heading with the room around it, and of columns beside each other."""
IN_A_LINE, MOST_KEPT = 24, 20
"""Letters that a line of a cell holds at least in a table of a few columns, and lines that are kept with a heading."""
LARGER = (1.25, 1.2, 1.15, 1.1, 1.05, 1.0)
"""The scales that are tried for a form, one after the other: no letter of it is smaller than `FORM`, since it is read
in rain and by a lamp, and none larger costs a side more."""
Sheet = Literal["a4", "letter"]


def lay_out(report: Document, made: datetime, sheet: Sheet = "a4") -> bytes:
    """A report as a PDF on A4 or Letter. One that is to stay on one page is set close where only that keeps it there;
    a form takes as many sides as it needs, and its letters are as large as they bear. Raises Refused where the library
    is not there, and says how to get it."""
    scale = 1.0
    if report.code:
        sides = _pages(report, made, sheet)
        scale = LARGER[bisect_left(LARGER, True, key=lambda one: _pages(report, made, sheet, one) <= sides)]
    elif report.close:
        roomy = replace(report, close=False)
        is_close = _pages(roomy, made, sheet) > 1 and _pages(report, made, sheet) == 1
        report = report if is_close else roomy
    return bytes(_laid_out(report, made, sheet, scale).output())


def _pages(report: Document, made: datetime, sheet: Sheet, scale: float = 1.0) -> int:
    """How many pages a report takes that is set so large."""
    paper = _laid_out(report, made, sheet, scale)
    for font in paper.fonts.values():
        font.ttfont.close()  # nothing is written of this paper
    return int(paper.page_no())


def _laid_out(report: Document, made: datetime, sheet: Sheet, scale: float) -> Any:
    library = _library()

    class NumberedPages(library):  # type: ignore[misc, valid-type]  # known only once it is there
        """A sheet with the title and the number of the page at its foot."""

        def footer(self) -> None:
            """Which report, of when, and which page of how many."""
            self.set_y(-12 if not report.close else -8)
            self.set_font("DejaVu", size=SMALL)
            self.set_text_color(*SOFT)
            title, number = printable(report.title, has), f"{self.page_no()} / {{nb}}"
            told = "   ".join(one for one in (printable(report.stamp, has), number) if one)
            room = self.epw - self.get_string_width(told) - 4
            while title and self.get_string_width(title) > room:
                title = f"{title[:-2]}…".strip() if len(title) > 2 else ""
            self.cell(0, 5, f"{title}   {told}", align="R")

    paper = NumberedPages("landscape" if report.is_wide else "portrait", format=sheet)
    has = _furnish(paper, report.title, report.language, made)
    margin, foot = (CLOSE_MARGIN, 9) if report.close else (MARGIN, 16)
    paper.set_margins(margin, margin)
    paper.set_auto_page_break(True, margin=foot)
    paper.add_page()
    draw = _Pen(paper, has, close=report.close, scale=scale)
    if report.code:
        paper.set_stretching(NARROW)
        draw.code(report.code)
        paper.set_right_margin(margin + CODE)
    draw.line_of(report.title, size=15 * scale, style="B")
    draw.line_of(report.told_under, size=TEXT * scale, tone=SOFT)
    if report.code:
        paper.set_right_margin(margin)
        paper.set_y(max(paper.get_y(), CODE_TOP + CODE * scale))
    for one, after in zip_longest(report.blocks, report.blocks[1:]):
        draw.block(one, after)
    return paper


def label(rows: Sequence[Sequence[bool]], tag: str, under: Sequence[str], made: datetime) -> bytes:
    """A code, its quiet zone around it, with its text on a sheet of A6. Raises Refused as `lay_out`."""
    paper = _library()(format=(105, 148))
    has = _furnish(paper, tag, "en", made)
    paper.set_margins(6, 6)
    paper.set_auto_page_break(False)
    paper.add_page()
    _draw_code(paper, rows, 6, 6, 93, hair=0.02)
    high = 4.5  # [mm] of a line under the tag; they stand around where one alone stands
    first = 124 - high * (len(under) - 1) / 2
    told = [(tag, 40.0, "B", 104.0)]
    told += [(line, 13.0 if len(under) == 1 else 10.0, "", first + high * place) for place, line in enumerate(under)]
    for text, size, style, top in told:
        shown = printable(text, has)
        paper.set_font("DejaVu", style=style, size=size)
        wide = paper.get_string_width(shown)
        paper.set_font("DejaVu", style=style, size=min(size, size * 91 / max(wide, 1)))
        paper.set_xy(6, top)
        paper.cell(93, 14, shown, align="C")
    return bytes(paper.output())


def _draw_code(paper: Any, rows: Sequence[Sequence[bool]], left: float, top: float, wide: float, hair: float) -> None:
    """Draw the dark modules of a code, each a hair wider, so that no white line stands between two of them [mm]."""
    module = wide / len(rows)
    paper.set_fill_color(0)
    for y, row in enumerate(rows):
        for x, dark in enumerate(row):
            if dark:
                paper.rect(left + x * module, top + y * module, module + hair, module + hair, style="F")


def _library() -> Any:
    try:
        from fpdf import FPDF
    except ImportError:
        raise Refused(
            _("a PDF needs the extra `pdf`: {adds}; an .html page prints as well", adds=adds("pdf"))
        ) from None
    return FPDF


def _furnish(paper: Any, title: str, language: str, made: datetime) -> Has:
    """Fonts and what the file says of itself; the answer tells which signs can be shown."""
    logging.getLogger("fontTools").setLevel(logging.ERROR)
    paper.add_font("DejaVu", fname=FONTS / "DejaVuSans.ttf")
    paper.add_font("DejaVu", style="B", fname=FONTS / "DejaVuSans-Bold.ttf")
    paper.set_title(clean(title))
    paper.set_lang(language)
    paper.set_creation_date(made)
    paper.set_producer("reelcare")
    known = set(paper.fonts["dejavu"].cmap)
    return lambda sign: sign == "\n" or ord(sign) in known


class _Pen:
    """Lays blocks out one under the other."""

    def __init__(self, paper: Any, has: Has, *, close: bool, scale: float = 1.0) -> None:
        self._paper, self._has, self._scale = paper, has, scale
        self._small = SMALL - 0.5 if close else SMALL + 0.5
        self._line, self._room = (3.0, 0.3) if close else (LINE - 0.4, 0.6)

    def code(self, rows: Sequence[Sequence[bool]]) -> None:
        """A code at the top right, with its quiet zone."""
        wide = CODE * self._scale
        _draw_code(self._paper, rows, self._paper.w - CLOSE_MARGIN - wide, CODE_TOP, wide, hair=0.01)

    def line_of(self, text: str, *, size: float, style: str = "", tone: tuple[int, int, int] = INK) -> None:
        """Text over the whole width, as many lines as it takes."""
        paper = self._paper
        paper.set_font("DejaVu", style=style, size=size)
        paper.set_text_color(*tone)
        paper.multi_cell(0, size * 0.51, printable(text, self._has), new_x="LMARGIN", new_y="NEXT", align="L")
        paper.ln(1.5)

    def block(self, one: Block, after: Block | None = None) -> None:
        """One block of a report, and the one after it, from which a heading is not parted."""
        match one:
            case Heading():
                if self._paper.will_page_break(self._under_heading(after)):
                    self._paper.add_page()
                self._paper.ln(2.5)
                self.line_of(one.words, size=11, style="B")
            case Paragraph():
                small = one.tone == "small"
                bold = "B" if one.tone in ("good", "bad", "warning") else ""
                if one.words:
                    size = (SMALL if small else TEXT) * self._scale
                    self.line_of(one.words, size=size, style=bold, tone=TONES[one.tone])
            case Table(to_fill_in=True):
                self._form(one.rows)
            case Table():
                self._table(one)
            case Signatures():
                self._signatures(one.names)
            case Bars():
                self._bars(one.rows)
            case Columns():
                self._columns(one.values, one.unit)

    def _under_heading(self, after: Block | None) -> float:
        """How much room a heading needs with what begins under it: the heads of a table and its first row [mm]."""
        if isinstance(after, Columns):
            return HEADING + COLUMNS
        longest = max(map(len, after.rows[0]), default=0) if isinstance(after, Table) and after.rows else 0
        lines = min(max(1, ceil(longest / IN_A_LINE)), MOST_KEPT)
        return HEADING + 2 * (self._line + 2 * self._room) + (lines - 1) * self._line

    def _table(self, one: Table) -> None:
        if not one.rows:
            self.line_of(_("none"), size=SMALL, tone=SOFT)
            return
        from fpdf.fonts import FontFace

        paper = self._paper
        paper.set_font("DejaVu", size=self._small)
        paper.set_text_color(*INK)
        paper.set_fill_color(255)
        paper.set_draw_color(223, 228, 225)
        heads = [one.heads] if one.heads else []
        rows = [[printable(cell, self._has) for cell in row] for row in [*heads, *one.rows]]
        count = max(len(row) for row in rows)
        aligned = ["RIGHT" if place in one.numbers else "LEFT" for place in range(count)]
        widths = self._widths([row for row in rows if len(row) == count], pairs=not heads)
        padding = (self._room, 1.2, self._room, 0)
        with paper.table(
            col_widths=widths, text_align=tuple(aligned), v_align="TOP",
            line_height=self._line, padding=padding, borders_layout="HORIZONTAL_LINES",
            first_row_as_headings=bool(heads), markdown=False, headings_style=FontFace(emphasis="BOLD", color=SOFT),
        ) as drawn:  # fmt: skip
            for row in rows:
                cells = drawn.row()
                if len(row) < count:
                    cells.cell(row[0], colspan=count, style=FontFace(emphasis="BOLD"))
                    continue
                first, *others = self._in_rows(row, widths, padding)
                for cell in first:
                    cells.cell(cell)
                for more in others:
                    goes_on = drawn.row()
                    for cell in more:
                        goes_on.cell(cell)
        paper.ln(2)

    def _in_rows(
        self, row: Sequence[str], widths: Sequence[float], padding: tuple[float, float, float, float]
    ) -> list[list[str]]:
        """A row as the rows that it takes: the library sets none that is higher than a page, so a long text goes on in
        the next, which begins with a sign of that where else it would stand empty."""
        if max(len(text) + BREAK * text.count("\n") for text in row) < LONG:
            return [list(row)]
        paper = self._paper
        most = int((paper.h - paper.t_margin - paper.b_margin) * PART_OF_PAGE / self._line)
        columns = []
        for text, width in zip(row, widths, strict=True):
            wide = width / sum(widths) * paper.epw
            lines = paper.multi_cell(wide, self._line, text, padding=padding, dry_run=True, output="LINES", align="L")
            columns.append(["\n".join(lines[at : at + most]) for at in range(0, len(lines), most)])
        first, *others = (list(part) for part in zip_longest(*columns, fillvalue=""))
        return [first, *([more[0] or "…", *more[1:]] for more in others)]

    def _form(self, rows: Sequence[Sequence[str]]) -> None:
        """Rows in two columns, the cells of each under each other: what is asked, then what can be ticked. A row stays
        together; only one that is taller than a column goes on in the next."""
        paper = self._paper
        wide, high = (paper.epw - BETWEEN) / 2, paper.h - paper.b_margin
        left, top, y, column = paper.l_margin, paper.get_y(), paper.get_y(), 0
        paper.set_auto_page_break(False)
        paper.set_text_color(*INK)
        paper.set_draw_color(223, 228, 225)
        parts = ((part, len(row) == 1) for row in rows for part in self._parts(self._told(row), wide, high - top))
        for told, is_title in parts:
            tall = sum(self._cell(text, style, wide, is_tried=True) for text, style in told)
            while y + tall + (4 * FORM * 0.4 if is_title else 0) > high:
                column += 1
                if column % 2 == 0:
                    paper.add_page()
                    top = paper.get_y()
                y = top
            x = left + (wide + BETWEEN) * (column % 2)
            for text, style in told:
                paper.set_xy(x, y)
                y += self._cell(text, style, wide)
            paper.line(x, y + 0.3 * self._scale, x + wide, y + 0.3 * self._scale)
            y += 0.7 * self._scale
        paper.set_xy(left, y)
        paper.set_auto_page_break(True, margin=paper.b_margin)

    @staticmethod
    def _told(row: Sequence[str]) -> list[tuple[str, str]]:
        """The texts of a row of a form, each with its style."""
        number, asked, seen = row if len(row) > 1 else ("", row[0], "")
        ask, _end, caution = asked.partition("\n")
        told = ((f"{number}  {ask}".strip(), "B"), (caution, ""), (seen, ""))
        return [one for one in told if one[0]]

    def _parts(self, told: list[tuple[str, str]], wide: float, most: float) -> Iterator[list[tuple[str, str]]]:
        """The texts of a row as one part; line by line in as many as they take where they are taller than a column."""
        if sum(self._cell(text, style, wide, is_tried=True) for text, style in told) > most:
            told = [
                (line, style) for text, style in told for line in self._cell(text, style, wide, "LINES", is_tried=True)
            ]
        at_once = max(1, int(most / (FORM * self._scale * 0.385)))
        yield from (told[at : at + at_once] for at in range(0, len(told), at_once))

    def _cell(self, text: str, style: str, wide: float, output: str = "HEIGHT", *, is_tried: bool = False) -> Any:
        """Text over a width where the pen stands, or only tried; its height [mm], or its lines."""
        paper = self._paper
        paper.set_font("DejaVu", style=style, size=FORM * self._scale)
        shown, line = printable(text, self._has), FORM * self._scale * 0.385
        return paper.multi_cell(wide, line, shown, align="L", padding=0, dry_run=is_tried, output=output)

    def _widths(self, rows: Sequence[Sequence[str]], *, pairs: bool) -> tuple[float, ...]:
        """Widths of the columns [mm]: none narrower than its longest word; what is left goes to the longest texts."""
        paper, least, wanted = self._paper, list[float](), list[float]()
        paper.set_font("DejaVu", style="B", size=self._small)  # the widest that any cell is set in
        for place in range(len(rows[0])):
            texts = {row[place] for row in rows}
            words = {word for text in texts for line in text.split("\n") for word in line.split(" ")}
            least.append(min(max([paper.get_string_width(word) for word in words], default=2), 50) + 3)
            wanted.append(max(max([paper.get_string_width(text) for text in texts], default=2) + 3, least[-1]))
        paper.set_font("DejaVu", size=self._small)
        spare = paper.epw - sum(least)
        more = [one - two for one, two in zip(wanted, least, strict=True)]
        if spare <= 0:  # the short ones keep what they need, else not even a letter has room
            return tuple(_share(least, paper.epw))
        # short columns get all that they want, the long ones share the rest; where all have enough, it goes to the last
        # one of names with their values, and evenly to the columns of a table
        share = _share(more, spare)
        left = spare - sum(share)
        given = [0.0] * (len(share) - 1) + [left] if pairs else [left / len(share)] * len(share)
        return tuple(sum(three) for three in zip(least, share, given, strict=True))

    def _signatures(self, names: Sequence[str]) -> None:
        paper = self._paper
        if paper.will_page_break(24):
            paper.add_page()
        paper.ln(16)
        wide = (paper.epw - 8 * (len(names) - 1)) / len(names)
        paper.set_draw_color(*INK)
        paper.set_font("DejaVu", size=SMALL)
        paper.set_text_color(*INK)
        y = paper.get_y()
        for place, name in enumerate(names):
            x = paper.l_margin + place * (wide + 8)
            paper.line(x, y, x + wide, y)
            paper.set_xy(x, y + 1)
            paper.cell(wide, 4, printable(name, self._has))
        paper.ln(8)

    def _bars(self, rows: Sequence[tuple[str, float, str]]) -> None:
        paper, most = self._paper, max([value for _name, value, _words in rows], default=0.0) or 1.0
        paper.set_font("DejaVu", size=SMALL)
        paper.set_fill_color(*FILL)
        paper.set_text_color(*SOFT)
        names = [paper.get_string_width(printable(name, self._has)) + 3 for name, _value, _words in rows]
        wide = min(max(26, *names), paper.epw / 2) if names else 26
        for name, value, says in rows:
            if paper.will_page_break(6):
                paper.add_page()
            y = paper.get_y()
            paper.cell(wide, 5, printable(name, self._has), align="R")
            long = (paper.epw - wide - 34) * value / most
            paper.rect(paper.l_margin + wide + 2, y + 1, max(long, 0.2), 3.2, style="F")
            paper.set_xy(paper.l_margin + wide + 4 + long, y)
            paper.cell(30, 5, printable(says, self._has), new_x="LMARGIN", new_y="NEXT")
        paper.ln(2)

    def _columns(self, values: Sequence[tuple[str, float]], unit: str) -> None:
        paper, most = self._paper, max([value for _name, value in values], default=0.0) or 1.0
        if not values:
            self.line_of(_("none"), size=SMALL, tone=SOFT)
            return
        if paper.will_page_break(COLUMNS):
            paper.add_page()
        paper.set_font("DejaVu", size=6)
        paper.set_fill_color(*FILL)
        paper.set_draw_color(*SOFT)
        paper.set_text_color(*SOFT)
        foot, step, every = paper.get_y() + 38, paper.epw / len(values), max(1, round(len(values) / 12))
        paper.line(paper.l_margin, foot, paper.l_margin + paper.epw, foot)
        for place, (name, value) in enumerate(values):
            x, tall = paper.l_margin + place * step, 34 * value / most
            paper.rect(x + 0.3, foot - tall, max(step - 0.6, 0.3), tall, style="F")
            if place % every == 0 and x + 9 <= paper.l_margin + paper.epw:
                paper.set_xy(x, foot + 0.8)
                paper.cell(12, 3, printable(name, self._has))
        paper.set_xy(paper.l_margin, foot - 38)
        paper.cell(0, 3, printable(f"{most:.0f} {unit}", self._has), align="R")
        paper.set_xy(paper.l_margin, foot + 6)


def _share(wanted: Sequence[float], spare: float) -> list[float]:
    """What each gets of what is there: all that it wants where that is less than an even share, else an even share.

    >>> _share([1.0, 50.0, 50.0], 21.0)
    [1.0, 10.0, 10.0]
    """
    got = [0.0] * len(wanted)
    open_ = sorted(range(len(wanted)), key=lambda place: wanted[place])
    while open_:
        place, left = open_[0], spare - sum(got)
        even = left / len(open_)
        got[place] = min(wanted[place], even)
        open_.pop(0)
    return got
