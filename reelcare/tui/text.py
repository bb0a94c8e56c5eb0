"""The only door through which text that people typed reaches the screen.

The rules of this file: such text is never markup, in no widget. `said` makes it fit for widgets, titles and
tooltips; nothing else builds text from it. What would
steer a terminal, turn its direction or hide in it is shown as a sign and not obeyed. The two filters at the
end of the file stand between everything that is drawn and the terminal, for what came in by another way.
"""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING

from rich.cells import cell_len
from rich.segment import Segment
from textual.content import Content
from textual.filter import LineFilter

from reelcare.core.drawing.signs import ascii_form

if TYPE_CHECKING:
    from textual.color import Color

HIDDEN = "\N{REPLACEMENT CHARACTER}"
"""What stands for a character that is not obeyed."""
LINE_END = "↵"
"""What stands for the end of a line where there is only one."""
MOST_MARKS = 3
"""Combining marks on one letter; more are used to write over the lines around."""

_BLANK = {"\u115f", "\u1160", "\u3164", "\uffa0", "\u2800"}
"""Letters that draw nothing: hangul fillers and the empty braille cell."""
_NOT_OBEYED = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
_MARK = "[\u0300-\u036f\u1ab0-\u1aff\u1dc0-\u1dff\u20d0-\u20ff]"
_PILE = re.compile(f"({_MARK}{{{MOST_MARKS}}}){_MARK}+")


def plain(text: str, *, lines: bool = False) -> str:
    """`text` as it is shown: on one line (or on its own lines), with nothing in it that a terminal obeys.

    >>> plain("Weide\\u202e 3\\x1b[2J\\nunten")
    'Weide� 3�[2J↵unten'
    """
    if text.isascii() and text.isprintable():
        return text
    text = text.replace("\r\n", "\n").replace("\t", " ")
    text = "\n".join(_line(one) for one in text.split("\n"))
    return text if lines else text.replace("\n", LINE_END)


def _line(text: str) -> str:
    if not text.isprintable() or _BLANK.intersection(text):
        text = "".join(_sign(one) for one in text)
    return _PILE.sub(lambda match: match.group(1) + HIDDEN, text)


def _sign(one: str) -> str:
    kind = unicodedata.category(one)
    if kind in _NOT_OBEYED or one in _BLANK:
        return HIDDEN
    return " " if kind == "Zs" else one


def said(text: str, style: str = "") -> Content:
    """Text for a widget, a title or a tooltip; `style` is ours, and holds for all of it.

    >>> said("Pin [/] z").plain
    'Pin [/] z'
    """
    shown = plain(text, lines=True)
    return Content.styled(shown, style) if style else Content(shown)


def join(*parts: str | Content | tuple[str, str]) -> Content:
    """Parts one after the other: text, text with a style of ours, or content.

    >>> join("R1 [b]", (" held", "bold")).plain
    'R1 [b] held'
    """
    return Content.assemble(*(one if isinstance(one, Content) else _part(one) for one in parts))


def _part(one: str | tuple[str, str]) -> Content:
    return said(one) if isinstance(one, str) else said(*one)


def keyed(key: str, says: str | Content) -> Content:
    """A choice with the key that gives it.

    >>> keyed("y", "yes").plain
    ' y   yes'
    """
    return join((f" {key} ", "bold reverse"), "  ", says)


def lines(*parts: str | Content) -> Content:
    """Parts under each other.

    >>> lines("a", said("b")).plain
    'a\\nb'
    """
    return Content("\n").join([one if isinstance(one, Content) else said(one) for one in parts])


def fit(text: str, width: int) -> str:
    """`text` in exactly `width` cells of a line, cut with an ellipsis or filled with blanks.

    >>> fit("gearbox", 5), fit("drum", 6)
    ('gear…', 'drum  ')
    """
    if width <= 0:
        return ""
    there = cell_len(text)
    if there <= width:
        return text + " " * (width - there)
    return cut(text, width - 1) + "…" if width > 1 else "…"


def whole_words(text: str, width: int) -> str:
    """As many whole words of `text` as go into `width` cells, with an ellipsis; of one that is longer, its beginning.

    >>> whole_words("counts since 2026", 15), whole_words("counts since 2026", 13), whole_words("gearbox", 5)
    ('counts since …', 'counts since…', 'gear…')
    """
    shown = fit(text, width).rstrip()
    if cell_len(text) <= width or text[len(shown) - 1 :].startswith(" ") or " " not in shown:
        return shown
    return shown[: shown.rindex(" ") + 1] + "…"


def cut(text: str, width: int) -> str:
    """As much of `text` as goes into `width` cells, filled up where half a wide sign would not.

    >>> cut("drum", 2), cut("水水", 3)
    ('dr', '水 ')
    """
    if text.isascii():
        return text[:width]
    used = 0
    for place, sign in enumerate(text):
        wide = cell_len(sign)
        if used + wide > width:
            return text[:place] + " " * (width - used)
        used += wide
    return text


# What may never reach the terminal: C0 and C1 controls, bidirectional controls, and what has no width of its
# own but is no combining mark. Line ends never come here: a strip is one line.
_STEERS = re.compile(
    "[\x00-\x1f\x7f-\x9f\xad\u061c\u115f\u180e\u200b\u200c\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb"
    "\ud800-\udfff\U000e0000-\U000e007f]"
)


class NothingSteers(LineFilter):
    """Takes out of every line drawn what a terminal would obey, wherever it came from."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments without it, as wide as before."""
        if not any(_STEERS.search(text) for text, _, control in segments if not control):
            return segments
        return [
            one if one.control else Segment(_without(one.text), one.style)
            for one in segments
        ]  # fmt: skip


def _without(text: str) -> str:
    # what the rest of the program takes for a cell wide stays a cell wide, so that nothing beside it moves
    return _STEERS.sub(lambda match: " " * max(0, cell_len(match.group())), text)


class PlainSigns(LineFilter):
    """Puts every line drawn into ASCII, for terminals and lines that have nothing else."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments in ASCII, as wide as before."""
        return [
            one if one.control else Segment(ascii_form(one.text, cell_len), one.style)
            for one in segments
        ]  # fmt: skip
