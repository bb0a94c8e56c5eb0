"""A label to fix on a machine: a code that a reader reads, and under it what people read.

The rules of this file: the code is a QR code (ISO/IEC 18004) of error correction M or better; it is drawn with the
quiet zone that the standard asks for, black on white whatever the theme. Labels fade and get wet: the tag stands in
large letters beside it.
"""

from __future__ import annotations

import html
import io
import textwrap
from datetime import datetime
from typing import Any

from reelcare.core.clean import clean
from reelcare.core.machine.tag import text_of
from reelcare.core.wording import cells

BLOCKS = "\u2580\u2584\u2588"
"""The signs that a code is made of in a terminal: upper half, lower half, full."""
QUIET = 4
"""Modules of white around the code (ISO/IEC 18004, 6.3.8)."""
MODULE, LETTERS = 10, 90
"""Units of the drawing for a module, and for the lines of text under the code."""
SMALLEST, MOST_LINES = 18, 4
"""The smallest letters [units of the drawing] that are read at arm's length, and into how many lines at most a longer
text is broken (common practice, no source)."""

NARROW, BROAD, BOLD = " .,:;'|!()[]-/ijlrtf", "MWmw@%", 1.15
"""Letters that are narrower and broader than others, and how much broader bold ones are (measured in DejaVu Sans, which
is broader than the other fonts of the drawing)."""

SIGNS_ON_A6 = 48
"""How many characters of a line are read at arm's length on a sheet of A6."""


def code(machine: str, tag: str) -> Any:
    """The code of a machine."""
    import segno

    return segno.make(text_of(machine, tag), error="m", micro=False)


def modules(machine: str, tag: str) -> tuple[tuple[bool, ...], ...]:
    """The modules of a machine's code with the quiet zone around it, dark ones true."""
    return tuple(tuple(bool(module) for module in row) for row in code(machine, tag).matrix_iter(border=QUIET))


def svg(machine: str, tag: str, under: str) -> bytes:
    """The label as a drawing."""
    rows = modules(machine, tag)
    wide = len(rows) * MODULE
    dark = "".join(
        f"M{x * MODULE} {y * MODULE}h{MODULE}v{MODULE}h-{MODULE}z"
        for y, row in enumerate(rows)
        for x, module in enumerate(row)
        if module
    )
    shown, small = clean(tag), clean(under)
    room = 0.96 * wide
    size = min(70.0, room / max(BOLD * _ems(shown), 1))
    told = wrapped(small, int(room / SMALLEST * len(small) / max(_ems(small), 1)) or 1)
    most = min(26.0, room / max(1, *map(_ems, told)))
    high = wide + LETTERS + round(1.2 * most * (len(told) - 1))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" width="60mm">'
        f'<title>{html.escape(shown)}</title><rect width="{wide}" height="{high}" fill="#fff"/>'
        f'<path d="{dark}" fill="#000"/>'
        '<g font-family="DejaVu Sans, Arial, sans-serif" text-anchor="middle" fill="#000">'
        f'<text x="{wide / 2}" y="{wide + 35}" font-size="{size:.0f}" font-weight="700">{html.escape(shown)}</text>'
        + "".join(
            f'<text x="{wide / 2}" y="{wide + 70 + round(1.2 * most * place)}" font-size="{most:.0f}">'
            f"{html.escape(line)}</text>"
            for place, line in enumerate(told)
        )
        + "</g></svg>\n"
    ).encode()


def _ems(text: str) -> float:
    """About how wide a text is, in heights of its letters."""
    return sum(map(_ems_of_one, text))


def _ems_of_one(sign: str) -> float:
    if cells(sign) > 1:
        return 1.05
    if sign in NARROW:
        return 0.42
    if sign in BROAD:
        return 1.0
    return 0.8 if sign.isupper() else 0.65


def wrapped(text: str, many: int) -> list[str]:
    """A text in lines of limited width, as many of them as a label has room for.

    >>> wrapped("Long Reach, North", 40), wrapped("Long Reach, North", 12)
    (['Long Reach, North'], ['Long Reach,', 'North'])
    """
    return textwrap.wrap(text, many, max_lines=MOST_LINES, placeholder=" …") or [""]


def png(machine: str, tag: str) -> bytes:
    """The code alone as a picture of points."""
    out = io.BytesIO()
    code(machine, tag).save(out, kind="png", scale=12, border=QUIET)
    return out.getvalue()


def shown(machine: str, tag: str, under: str) -> str:
    """The code as a terminal shows it, and the text under it."""
    out = io.StringIO()
    code(machine, tag).terminal(out, border=QUIET, compact=True)
    return f"{out.getvalue()}{clean(tag)}  {clean(under)}\n"


def pdf(machine: str, tag: str, under: str, made: datetime) -> bytes:
    """The label on a sheet of A6. Raises Refused where the library for PDF is not there."""
    from reelcare.reports.pdf import label

    return label(modules(machine, tag), clean(tag), wrapped(clean(under), SIGNS_ON_A6), made)
