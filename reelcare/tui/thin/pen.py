"""How a cell is drawn: colours, marks and link, and the shortest way to say that they change.

The codes are those of ECMA-48, 8.3.117 (SGR), with the bright colours of aixterm (90-97, 100-107), the colours of
ITU-T T.416 behind 38 and 48, and links as terminals have agreed on them (OSC 8). What other codes mean differs from
terminal to terminal; there is no pen for them.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

ENDS = {"1": "22", "2": "22", "3": "23", "4": "24", "5": "25", "6": "25", "7": "27", "8": "28", "9": "29", "53": "55"}
"""Each mark with the code that ends it: bold and faint end together, and so does all that blinks."""
ON_BLANKS = frozenset({"4", "7", "9", "53"})
"""Marks that are seen where there is no sign: lines under, through and over, and ink and ground exchanged."""
_INKS = frozenset(str(code) for code in (*range(30, 38), *range(90, 98)))
_GROUNDS = frozenset(str(code) for code in (*range(40, 48), *range(100, 108)))


class Pen(NamedTuple):
    """What a terminal draws with; codes as SGR writes them, and '' for what is usual."""

    ink: str = ""
    ground: str = ""
    marks: frozenset[str] = frozenset()
    link: str = ""

    @property
    def on_blank(self) -> Pen:
        """What of it is seen on a blank.

        >>> Pen("97", "40", frozenset({"1"})).on_blank == Pen("", "40")
        True
        """
        return self if self.marks & ON_BLANKS else Pen("", self.ground, frozenset(), self.link)

    @property
    def codes(self) -> list[str]:
        """Its codes, as they follow a reset."""
        return [*sorted(self.marks), *(code for code in (self.ink, self.ground) if code)]


USUAL = Pen()
"""The pen after a reset."""


@lru_cache(maxsize=4096)
def drawn_with(pen: Pen, codes: str) -> Pen | None:
    """The pen after an SGR with these codes; None where one of them is not understood.

    >>> drawn_with(Pen("31", "40"), "0;1;97") == Pen("97", "", frozenset({"1"}))
    True
    >>> drawn_with(Pen(), "58;5;1") is None
    True
    """
    left = iter(codes.split(";"))
    for code in left:
        code = code.lstrip("0")
        if not code:
            pen = USUAL._replace(link=pen.link)
        elif code in ENDS:
            pen = pen._replace(marks=pen.marks | {code})
        elif code in _ENDED:
            pen = pen._replace(marks=pen.marks - _ENDED[code])
        elif code in _INKS or code == "39":
            pen = pen._replace(ink="" if code == "39" else code)
        elif code in _GROUNDS or code == "49":
            pen = pen._replace(ground="" if code == "49" else code)
        elif code in ("38", "48"):
            colour = _colour(left)
            if colour is None:
                return None
            pen = pen._replace(ink=f"38;{colour}") if code == "38" else pen._replace(ground=f"48;{colour}")
        else:
            return None
    return pen


_ENDED = {end: frozenset(mark for mark, its in ENDS.items() if its == end) for end in ENDS.values()}


def _colour(left: Iterator[str]) -> str | None:
    """What follows 38 or 48: one of 256 colours, or red, green and blue."""
    kind = next(left, "")
    parts = [next(left, "") for _ in range({"5": 1, "2": 3}.get(kind, 0))]
    return ";".join([kind, *parts]) if parts and all(parts) else None


@lru_cache(maxsize=4096)
def change(before: Pen | None, after: Pen) -> str:
    """The shortest text that turns one pen into another; from one that is not known, by a reset.

    >>> change(Pen("97", "40"), Pen("97", "40", frozenset({"1"})))
    '\\x1b[1m'
    >>> change(Pen("97", "40", frozenset({"1"})), Pen())
    '\\x1b[m'
    """
    link = f"\x1b]8;{after.link or ';'}\x1b\\" if after.link != (before.link if before else "") else ""
    anew = ["", *after.codes]
    steps = anew if before is None else min(_steps(before, after), anew, key=lambda codes: len(";".join(codes)))
    if before is not None and before._replace(link="") == after._replace(link=""):
        return link
    return f"{link}\x1b[{';'.join(steps)}m"


def _steps(before: Pen, after: Pen) -> list[str]:
    """The codes without a reset."""
    ends = {ENDS[mark] for mark in before.marks - after.marks}
    kept = {mark for mark in before.marks if ENDS[mark] not in ends}
    codes = [*sorted(ends), *sorted(after.marks - kept)]
    if before.ink != after.ink:
        codes.append(after.ink or "39")
    if before.ground != after.ground:
        codes.append(after.ground or "49")
    return codes
