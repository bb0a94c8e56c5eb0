"""The one renderer of tables: fitted to a terminal, or plain aligned text where a file or another program reads.

On a terminal no line is longer than its width and no word is broken, unless it is longer than the line. A title that
does not fit gives way to its short one; then columns of the lowest priority are left out and named below the table.
What fits in no row stands in blocks, a line to a column. Thousands are set apart by a blank on a terminal alone. Widths
are counted in cells (Unicode Standard Annex 11).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import NamedTuple

from reelcare.core.clean import clean
from reelcare.core.text import _
from reelcare.core.wording import Title, cells

GAP = "  "
THOUSANDS = re.compile(r"(?<![\w.,-])(-?[0-9]{1,3})((?:[0-9]{3})+)(?![\w-])")
"""A whole number, or the whole part of one, that is no part of a word or a date."""
NARROWEST = 8
"""The columns that a table is fitted to where the terminal has still fewer."""
READABLE = 18
"""Words that are broken into lines narrower than this are hard to read: rather is a column of low priority left out."""
STAYS = "\N{NO-BREAK SPACE}"
Row = list[str]


class TextColumn(NamedTuple):
    """A column of a table."""

    head: str
    priority: int = 1
    """1 is never left out; of the others the highest number goes first."""
    figures: bool = False
    """Amounts, aligned right and kept on one line."""
    whole: bool = False
    """Kept on one line, as a time is."""
    band: bool = False
    """On a terminal its values are headings above the rows that share them; they stand together already."""
    amounts: bool = False
    """A text with amounts in it, whose thousands are set apart as those of figures are."""


def plain(columns: Sequence[TextColumn], rows: Iterable[Sequence[str]]) -> str:
    """Aligned columns, all of them, however wide; the heads first."""
    told = [[clean(text) for text in column] for column in zip([one.head for one in columns], *rows, strict=True)]
    padded = []
    for one, texts in zip(columns, told, strict=True):
        width = _widest(texts)
        padded.append([_padded(text, width, one) for text in texts])
    return "\n".join([GAP.join(row).rstrip() for row in zip(*padded, strict=True)] + [""])


def fitted(columns: Sequence[TextColumn], rows: Iterable[Sequence[str]], width: int) -> str:
    """The table on a terminal that is `width` columns wide; '' where there are no rows."""
    width = max(width, NARROWEST)
    given = list(zip(*rows, strict=True))
    told = [[clean(text) for text in texts] for texts in given]
    if not told:
        return ""
    shorts = [[clean(text.short if isinstance(text, Title) else text) for text in texts] for texts in given]
    told = _short_where_needed(columns, told, shorts, width)
    for at, one in enumerate(columns):
        if one.figures or one.amounts:
            told[at] = [THOUSANDS.sub(_set_apart, text) for text in told[at]]
        if one.figures or one.whole:
            told[at] = [text.replace(" ", STAYS) for text in told[at]]
    places = [at for at, one in enumerate(columns) if not one.band]
    least = {at: _longest_word([columns[at].head, *told[at]]) for at in places}
    wished = {at: _widest([columns[at].head, *told[at]]) for at in places}
    readable = {at: max(least[at], min(wished[at], READABLE)) for at in places}
    shown = _most_that_fit(columns, places, readable, width)
    if _sum(least, shown) <= width:
        body = _rows(columns, told, _shares(shown, least, wished, width), width)
    else:
        body = _blocks(columns, told, shown, width)
    left_out = [columns[at].head for at in places if at not in shown]
    if left_out:
        told_of = _("Not shown in {width} columns: {heads}", width=width, heads=", ".join(left_out))
        body += ["", *_wrapped(told_of, width)]
    return "\n".join([line.replace(STAYS, " ").rstrip() for line in body] + [""])


def _short_where_needed(columns: Sequence[TextColumn], told: list[Row], shorts: list[Row], width: int) -> list[Row]:
    """The texts with short titles for whole ones, from the widest column on, until all would stand in one line."""
    places = [at for at, one in enumerate(columns) if not one.band]
    wished = {at: _widest([columns[at].head, *told[at]]) for at in places}
    for at in sorted(places, key=lambda at: -wished[at]):
        if _sum(wished, places) > width and shorts[at] != told[at]:
            told = [*told[:at], shorts[at], *told[at + 1 :]]
    return told


def in_lines(text: str, width: int) -> list[str]:
    """A sentence in lines of at most `width` cells, further lines as far in as the first, and two cells more."""
    room = max(width, NARROWEST)
    indent = " " * min(len(text) - len(text.lstrip(" ")), room // 2)
    first, *others = _wrapped(text.strip(" "), room - len(indent)) if text.strip(" ") else [""]
    rest = _wrapped(" ".join(others), room - len(indent) - 2) if others else []
    return [indent + first, *(f"{indent}  {line}" for line in rest)]


def _set_apart(found: re.Match[str]) -> str:
    return found[1] + re.sub("(...)", STAYS + r"\1", found[2])


def _padded(text: str, width: int, column: TextColumn) -> str:
    blank = " " * (width - cells(text))
    return blank + text if column.figures else text + blank


def _widest(texts: Sequence[str]) -> int:
    return max(map(len if "".join(texts).isascii() else cells, texts))


def _longest_word(texts: Sequence[str]) -> int:
    return _widest(list({word for text in texts for word in text.split(" ")}))


def _sum(widths: dict[int, int], shown: Sequence[int]) -> int:
    return sum(widths[at] for at in shown) + len(GAP) * (len(shown) - 1)


def _most_that_fit(columns: Sequence[TextColumn], places: list[int], wanted: dict[int, int], width: int) -> list[int]:
    """The columns that fit side by side, or those of priority 1 where not even these do."""
    shown = list(places)
    while _sum(wanted, shown) > width:
        goes = max(shown, key=lambda at: (columns[at].priority, at))
        if columns[goes].priority == 1:
            break
        shown.remove(goes)
    return shown


def _shares(shown: list[int], least: dict[int, int], wished: dict[int, int], width: int) -> dict[int, int]:
    """The width of each column: at least its longest word; who wants little gets it all, the others share the rest."""
    spare, widths = width - _sum(least, shown), {}
    for left, at in zip(range(len(shown), 0, -1), sorted(shown, key=lambda at: wished[at] - least[at]), strict=True):
        more = min(wished[at] - least[at], spare // left)
        widths[at] = least[at] + more
        spare -= more
    return {at: widths[at] for at in shown}


def _banded(columns: Sequence[TextColumn], told: list[Row], width: int) -> Iterator[tuple[list[str], list[int]]]:
    """The lines of each heading, and the rows below it; one without heading where no column is a band."""
    bands = [at for at, one in enumerate(columns) if one.band]
    for key, group in groupby(range(len(told[0])), key=lambda row: [told[at][row] for at in bands]):
        heading = ", ".join(text for text in key if text) or "-"
        yield (_wrapped(heading, width) if bands else []), list(group)


def _rows(columns: Sequence[TextColumn], told: list[Row], widths: dict[int, int], width: int) -> list[str]:
    lines = _side_by_side([columns[at].head for at in widths], columns, widths)
    for heading, rows in _banded(columns, told, width):
        lines += ["", *heading] if heading else []
        for row in rows:
            lines += _side_by_side([told[at][row] for at in widths], columns, widths)
    return lines


def _side_by_side(texts: Row, columns: Sequence[TextColumn], widths: dict[int, int]) -> list[str]:
    parts = [_wrapped(text, share) for text, share in zip(texts, widths.values(), strict=True)]
    return [
        GAP.join(
            _padded(part[line] if line < len(part) else "", widths[at], columns[at])
            for part, at in zip(parts, widths, strict=True)
        )
        for line in range(max(map(len, parts)))
    ]


def _blocks(columns: Sequence[TextColumn], told: list[Row], shown: list[int], width: int) -> list[str]:
    """A block for each row: the first column on a line, the others below it, each with its head."""
    lines: list[str] = []
    for heading, rows in _banded(columns, told, width):
        lines += [*([""] if lines else []), *heading]
        for row in rows:
            first, *others = shown
            lines += [*([""] if lines else []), *_wrapped(told[first][row], width)]
            for at in (one for one in others if told[one][row]):
                text = f"{columns[at].head}: {told[at][row]}"
                lines += [GAP + line for line in _wrapped(text, width - len(GAP))]
    return lines


def _wrapped(text: str, width: int) -> list[str]:
    """The text in lines of at most `width` cells, broken between words; a word longer than a line is broken, too."""
    if cells(text) <= width:
        return [text]
    lines = [""]
    for word in text.split(" "):
        joined = f"{lines[-1]} {word}" if lines[-1] else word
        if cells(joined) <= width:
            lines[-1] = joined
            continue
        *full, rest = _pieces(word, width)
        lines += [*full, rest]
    return lines[1:] if len(lines) > 1 and not lines[0] else lines


def _pieces(word: str, width: int) -> list[str]:
    pieces, wide = [""], 0
    for sign in word:
        more = cells(sign)
        if wide + more > width:
            pieces.append("")
            wide = 0
        pieces[-1] += sign
        wide += more
    return pieces
