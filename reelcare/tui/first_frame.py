"""The yard on the screen before the app is there: what a glimpse of the register tells, where the app will show it.

The rules of this file: nothing of the framework is loaded; that takes longer than all of this. The frame is only
looked at; keys that are pressed meanwhile wait for the app and are not echoed. Where there is no glimpse there is no
frame, and whatever happens then, the terminal is given back as it was.
"""

from __future__ import annotations

import os
import sys
import unicodedata
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any

from reelcare.core import units
from reelcare.core.clean import clean
from reelcare.core.drawing.signs import STATES
from reelcare.core.wording import ago
from reelcare.register.glimpse import UNUSUAL, Machine, glimpse
from reelcare.tui import colours
from reelcare.tui.widgets.columns import GAP, Column, fit

COLUMNS = (
    Column("machine", 7, 1),
    Column("run", 11, 1),
    Column("road", 11, 2),
    Column("hours", 5, 4, right=True),
    Column("hose", 8, 5, right=True),
    Column("checked", 11, 6),
    Column("place", 10, 7, grows=True),
    Column("next due", 18, 3, grows=True),
)
"""The columns of the yard."""
WIDE = 100
"""From this width on the machine under the cursor stands beside the list, and below it otherwise."""
SIDE, BELOW, MARGIN = 40, 7, 2
LEAST = 10
"""In fewer cells than this, across or down, nothing can be read."""
ENTER, LEAVE = "\x1b[?1049h\x1b[?25l", "\x1b[?1049l\x1b[?25h"
_TONES = {"good": "text-success", "heed": "text-warning", "bad": "text-error", "soft": "text-secondary"}

Piece = tuple[str, str]
"""A text and the name of its colour ('' for the usual one)."""


class FirstFrame:
    """Shows the frame when it is entered, and gives the terminal back when it is left."""

    def __init__(self, path: Path | str, *, system: units.System, language: str, now: datetime) -> None:
        self._path, self._system, self._language, self._now = path, system, language, now
        self._before: Any = None
        self._shown = False

    def __enter__(self) -> FirstFrame:
        if not isinstance(self._path, Path) or not _can_be_shown():
            return self
        try:
            size = os.get_terminal_size(sys.stdout.fileno())
            if size.columns < LEAST or size.lines < LEAST:
                return self
            with glimpse(self._path, self._now) as seen:
                if seen is None:
                    return self
                machines = seen.machines(max(size.lines - 2, 1), self._language)
                counts = seen.counts()
        except UNUSUAL:
            return self
        self._hush()
        lines = frame(machines, counts, size.columns, size.lines, self._system, self._now)
        sys.stdout.write(ENTER + painted(lines, size.columns, size.lines))
        sys.stdout.flush()
        self._shown = True
        return self

    def handed_over(self) -> None:
        """The app takes the screen, and will leave it as it leaves its own."""
        self._shown = False

    def __exit__(
        self, kind: type[BaseException] | None, why: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._shown:
            sys.stdout.write(LEAVE)
            sys.stdout.flush()
        if self._before is not None:
            import termios

            termios.tcsetattr(sys.stdin.fileno(), termios.TCSADRAIN, self._before)

    def _hush(self) -> None:
        """What is typed from now on is for the app: not echoed, and not kept back until a line is whole."""
        try:
            import termios
            import tty
        except ImportError:
            return
        self._before = termios.tcgetattr(sys.stdin.fileno())
        tty.setcbreak(sys.stdin.fileno())


def _can_be_shown() -> bool:
    """Whether this is a terminal of our own, and not one that is slow, or that the app reaches by another way."""
    asked = os.environ
    otherwise = any(asked.get(name) for name in ("TEXTUAL_DRIVER", "REELCARE_SLOW", "REELCARE_ASCII"))
    return sys.stdout.isatty() and sys.stdin.isatty() and not otherwise and os.name == "posix"


def frame(
    machines: Sequence[Machine], counts: dict[str, int], width: int, height: int, system: units.System, now: datetime
) -> list[list[Piece]]:
    """The lines of the frame: the line on top, the head of the list, and the machines."""
    told = ", ".join(f"{counts[word]} {word}" for word in ("held", "check due", "clear") if word in counts)
    lines: list[list[Piece]] = [[(" Reelcare  ", "primary"), (f"Yard   {told}"[: max(width - 12, 0)], "")]]
    across = width - SIDE if width >= WIDE else width
    rows = height - 2 if width >= WIDE else height - 2 - BELOW
    if sum(counts.values()) > rows - 1:
        across -= 1  # the bar at its side
    placed = fit(COLUMNS, max(across - MARGIN, 1))
    heads: list[Piece] = [(" " * MARGIN, "")]
    for place, _, size in placed:
        heads.append((_fitted(COLUMNS[place].head, size, COLUMNS[place].right) + " " * GAP, "text-muted"))
    lines.append(heads)
    for number, one in enumerate(machines[: max(rows - 1, 0)]):
        cells = _cells(one, system, now)
        line: list[Piece] = [("▸ " if number == 0 else " " * MARGIN, "")]
        for place, _, size in placed:
            text, tone = cells[place]
            line.append((_fitted(text, size, COLUMNS[place].right) + " " * GAP, tone))
        lines.append(line)
    return lines


def _cells(one: Machine, system: units.System, now: datetime) -> list[Piece]:
    checked = datetime.fromtimestamp(one.checked / 1000, UTC) if one.checked is not None else None
    return [
        (one.tag, "text-accent"),
        _state(one.run),
        _state(one.road),
        (f"{one.seconds / 3600:.0f}", ""),
        (units.show(one.millimetres / 1000, "length", system), ""),
        (ago(checked, now) if checked is not None else "never", ""),
        (one.place, ""),
        (f"{_state(one.next_state)[0]}: {one.next_title}", _state(one.next_state)[1])
        if one.next_state
        else ("no plan", "text-muted"),
    ]


def _state(word: str) -> Piece:
    sign, tone = STATES[word]
    return f"{sign} {word}", _TONES.get(tone, "text-muted")


def _fitted(text: str, size: int, right: bool) -> str:
    """A text in so many cells, cut with a sign for the rest."""
    text = clean(text)
    if _cells_of(text) > size:
        while text and _cells_of(text) > size - 1:
            text = text[:-1]
        text += "…"
    blank = " " * (size - _cells_of(text))
    return blank + text if right else text + blank


def _cells_of(text: str) -> int:
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(sign) else 2 if unicodedata.east_asian_width(sign) in "WF" else 1 for sign in text
    )


def painted(lines: Sequence[Sequence[Piece]], width: int, height: int) -> str:
    """The lines as a terminal takes them: in the colours of the theme where it has them, else in its own."""
    theme = {**colours.DARK, **colours.DARK_MORE}
    if os.environ.get("REELCARE_THEME") == "noon":
        theme = {**colours.LIGHT, **colours.LIGHT_MORE}
    coloured = os.environ.get("COLORTERM") in ("truecolor", "24bit") and not os.environ.get("NO_COLOR")

    def ink(name: str, layer: int) -> str:
        if not coloured:
            return ""
        red, green, blue = (int(theme[name][place : place + 2], 16) for place in (1, 3, 5))
        return f"\x1b[{layer};2;{red};{green};{blue}m"

    said = []
    for row in range(height):
        ground = "panel" if row == 0 else "background"
        said.append(f"\x1b[{row + 1};1H\x1b[0m{ink(ground, 48)}\x1b[2K")
        for text, name in lines[row] if row < len(lines) else ():
            said.append(f"{ink(name or 'foreground', 38)}{text}")
    return "".join(said) + "\x1b[0m"
