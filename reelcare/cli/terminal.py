"""What the terminal can show: how wide it is, and whether anything can be drawn there at all."""

from __future__ import annotations

import os
import shutil
import sys

from reelcare.cli.problem import Problem
from reelcare.core.text import _
from reelcare.register.progress import Progress, no_progress

LONGEST = 1000
"""The characters of the longest line about a command, on standard error."""


def shortened(says: str) -> str:
    """The line, or its beginning and its end where it is longer than anybody reads: the cure often stands last."""
    return says if len(says) <= LONGEST else f"{says[: LONGEST // 2]} ... {says[-LONGEST // 2 :]}"


def columns() -> int:
    """The columns of the terminal: as the variable COLUMNS says, else as the terminal does, else 80."""
    return shutil.get_terminal_size().columns


def width_of_tables() -> int | None:
    """The width that a table is fitted to: that of the terminal, or None where a file or another program reads."""
    return columns() if sys.stdout.isatty() else None


def is_utf8() -> bool:
    """Whether standard output carries every letter."""
    return (sys.stdout.encoding or "utf-8").lower().replace("-", "") == "utf8"


def bears_signs() -> bool:
    """Whether the app can draw with more than ASCII: what a terminal's encoding does not carry would stand there as
    escapes, and push what decides out of sight. A browser takes UTF-8 whatever this computer uses."""
    return bool(os.environ.get("TEXTUAL_DRIVER")) or is_utf8()


def stop_if_not_a_terminal() -> None:
    """Raise Problem where no screen can be drawn."""
    if os.environ.get("TEXTUAL_DRIVER"):
        return  # drawn somewhere else, as in a browser
    if not (sys.stdin.isatty() and sys.stdout.isatty()) or os.environ.get("TERM") == "dumb":
        raise Problem(_("the app needs a terminal; every task has a command too: `reelcare --help`"))


def progress_bar() -> Progress:
    """Draws on a terminal how far it is, in a line that whatever is said next is written over."""

    def draw(done: int, of: int) -> None:
        told, room = f" {done} of {of}", columns() - 1
        width = max(min(30, room - len(told) - 2), 0)
        full = width * done // max(of, 1)
        line = f"[{'#' * full}{'.' * (width - full)}]{told}"[:room]
        sys.stderr.write(f"\r{line}\r{' ' * len(line)}\r" if done >= of else f"\r{line}\r")
        sys.stderr.flush()

    return draw if sys.stderr.isatty() else no_progress
