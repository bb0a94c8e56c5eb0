"""The words that are sent to a terminal: how a text falls into them, and what each may touch.

Texts, moves, pens and links are understood. Of the others some are known to touch nothing that is seen (modes of mouse,
keys, pasting and of drawing at once, questions, titles, the bell), and some to touch cells and the cursor, but nothing
that later texts depend on. Whatever is in none of these lists may change the meaning of all that follows.
"""

from __future__ import annotations

import re

WORD = re.compile(
    r"(?P<text>[^\x00-\x1f\x7f-\x9f]+)"
    r"|\x1b\[(?P<place>[0-9]*(?:;[0-9]*)?)H"
    r"|\x1b\[(?P<codes>[0-9;]*)m"
    r"|\x1b\]8;(?P<link>[^\x07\x1b]*)(?:\x07|\x1b\\)"
    r"|(?P<dropped>\r?\n(?=\x1b\[[0-9]*(?:;[0-9]*)?H))"
    r"|(?P<control>\x1b\[[0-?]*[ -/]*[@-~]|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)|\x1b[ -/]*[0-OQ-WYZ\\`-~]|[^\x1b])"
)
"""One word: a text, a move, a pen, a link, an end of line that a move follows, or another control."""
BEGUN = re.compile(r"\x1b(?:\[[0-?]*[ -/]*|\][^\x07\x1b]*\x1b?|[ -/]*)\Z")
"""A control whose end has not come yet."""

ENTERS, LEAVES, WRAPS, CUTS = "\x1b[?1049h", "\x1b[?1049l", "\x1b[?7h", "\x1b[?7l"
"""The alternate screen begins, and ends; what goes beyond the right edge is wrapped, or cut."""

TOUCHES_NOTHING = re.compile(
    r"\x07"
    r"|\x1b\[\?(?:25|1000|1002|1003|1004|1006|1015|1016|2004|2026|2031|2048)[hl]"
    r"|\x1b\[\?[0-9]+\$p|\x1b\[[<>=?][0-9;]*u|\x1b\[>?[0-9]*c|\x1b\[\??[56]n"
    r"|\x1b\](?:0|1|2|4|10|11|12|22|52);[^\x07\x1b]*(?:\x07|\x1b\\)"
)
MODE = re.compile(r"\x1b\[\?(?P<mode>7|25|1000|1002|1003|1004|1006|1015|1016|2004|2031|2048)[hl]")
"""A mode that stays: where a line has lost it, it can be told again."""
TOUCHES_CELLS = re.compile(r"\x1b\[[0-9;]*[A-GJ-MPSTX@d]|\x1b[DEM]|[\x08\t\x0b\x0c]")


def place_of(numbers: str) -> tuple[int, int]:
    """Row and column of a move, from 0.

    >>> place_of("3;7"), place_of(""), place_of(";2")
    ((2, 6), (0, 0), (0, 1))
    """
    row, _, column = numbers.partition(";")
    return max(int(row or 1), 1) - 1, max(int(column or 1), 1) - 1


def move(before: tuple[int, int] | None, after: tuple[int, int], width: int) -> str:
    """The shortest text that moves the cursor; `before` is None where it is not known. Beyond the last column, where a
    text has just filled the line, terminals count differently: from there no way leads relative to it.

    >>> move(None, (0, 0), 80), move((4, 2), (4, 9), 80), move((4, 79), (5, 0), 80), move((0, 80), (6, 10), 80)
    ('\\x1b[H', '\\x1b[7C', '\\r\\n', '\\x1b[7;11H')
    """
    if before == after:
        return ""
    (row, column), ways = after, [_straight(*after)]
    if before is not None:
        down, right = row - before[0], column - before[1]
        if column == 0:
            ways += ["\r"] if down == 0 else ["\r\n"] if down == 1 else []
        if before[1] < width:
            if down == 0:
                ways.append(f"\x1b[{_count(right)}C" if right > 0 else f"\x1b[{_count(-right)}D")
                ways += ["\b" * -right] if right < 0 else []
            elif right == 0:
                ways.append(f"\x1b[{_count(down)}B" if down > 0 else f"\x1b[{_count(-down)}A")
    return min(ways, key=len)


def _straight(row: int, column: int) -> str:
    if column == 0:
        return f"\x1b[{_count(row + 1)}H"
    return f"\x1b[{_count(row + 1)};{column + 1}H"


def _count(number: int) -> str:
    """A number, where one need not be said."""
    return str(number) if number != 1 else ""
