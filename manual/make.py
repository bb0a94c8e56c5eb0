"""Makes the manual page from the table of commands. Run it as `python manual/make.py` when a command has changed.

It is made by argparse-manpage from the parser itself, so that it never tells of a command otherwise than `--help` does.
"""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

from argparse_manpage.manpage import Manpage  # type: ignore[import-untyped]

sys.path.insert(0, str(Path(__file__).parent.parent))
os.environ["COLUMNS"] = "100"  # the width of usages must not depend on the terminal

from reelcare.cli.parser import build_parser

PAGE = Path(__file__).with_name("reelcare.1")
MORE = r"""
.SH EXIT STATUS
.TP
.B 0
done
.TP
.B 1
done, and there is something to act on
.TP
.B 2
wrong use: the line says what would be right
.TP
.B 3
no such register, or not one of ours
.TP
.B 4
the register is busy
.TP
.B 5
the register is not whole
.TP
.B 6
not allowed
.TP
.B 7
the disk is full or read-only
.SH ENVIRONMENT
.TP
.B REELCARE_REGISTER
the register: a file, or postgresql://USER@HOST/DATABASE
.TP
.B REELCARE_BY, REELCARE_PIN
who says so, and the PIN that they sign with
.TP
.B REELCARE_UNITS, REELCARE_LANGUAGE, REELCARE_THEME
how things are shown: metric or us; en or es; dusk or noon
.TP
.B REELCARE_SLOW, REELCARE_ASCII
for thin lines, and for terminals with nothing but ASCII
"""


def text() -> str:
    """The page as it must be."""
    made = str(Manpage(build_parser()))
    # no date and no name of the tool that made it: the same commands give the same page
    made = re.sub(r"^\.TH .*$", '.TH REELCARE "1" "" "reelcare" "User Commands"', made, count=1, flags=re.MULTILINE)
    made = made.replace(
        ".SH NAME\nreelcare\n", ".SH NAME\nreelcare \\- checks, settings and upkeep of hose\\-reel machines\n", 1
    )
    return made.rstrip() + MORE


if __name__ == "__main__":
    PAGE.write_text(text(), "utf-8")
