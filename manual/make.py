"""Makes the manual from the code. Run it as `python manual/make.py` when a command, a key or a form has changed.

The manual page is made by argparse-manpage from the parser itself, so that it never tells of a command otherwise than
`--help` does; `pages.py` makes what stands in `commands.md`, `keys.md` and `formats.md`.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
from pathlib import Path

from argparse_manpage.manpage import Manpage  # type: ignore[import-untyped]

sys.path.insert(0, str(Path(__file__).parent.parent))
os.environ["COLUMNS"] = "10000"  # no version of Python breaks a line then, and the reader of the page fills them

from reelcare.cli.parser import build_parser

PAGE = Path(__file__).with_name("reelcare.1")
SAID_ONCE = ("--register", "--units", "--language", "--view", "--slow", "--ascii")
"""Options that stand at the head of the page, and not again with each command."""
MORE = r"""
.SH EXAMPLES
A yard of one's own, from the first day on:
.PP
.nf
reelcare people add Marta --role supervisor
reelcare machine add heron.toml --by Marta
reelcare check T01 --by Ines
reelcare log service T01 gearbox-oil-change --hours 512 --by Tomas
reelcare due --overdue --exit-code
.fi
.SH EXIT STATUS
.TP
.B 0
done
.TP
.B 1
done, and there is something to act on
.TP
.B 2
wrong use, or no such folder: the line says what would be right
.TP
.B 3
no such register, or not a Reelcare register
.TP
.B 4
the register is busy
.TP
.B 5
the register is damaged
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
.B REELCARE_BY, REELCARE_PIN, REELCARE_NEW_PIN
who does it, the PIN that they sign with, and the PIN that somebody is given
.TP
.B REELCARE_UNITS, REELCARE_LANGUAGE, REELCARE_THEME
how things are shown: metric or us; en or es; dusk or noon
.TP
.B REELCARE_SLOW, REELCARE_ASCII
for slow lines, and for terminals with nothing but ASCII
.TP
.B NO_COLOR
no colours
.TP
.B COLUMNS
the width of help and tables, where it is not that of the terminal
.SH FILES
`reelcare paths` says where each is. The folders are those of the system; on Linux the data folder is
~/.local/share/reelcare and the configuration folder ~/.config/reelcare.
.TP
.B register.db
in the data folder, where no register is named: the register. While it is open, register.db-wal and register.db-shm are
beside it.
.TP
.B register.db.heads
beside it: the heads of its chains, by which `reelcare prove` finds what was taken away
.TP
.B register.db.queue
beside it: whose turn it is to write
.TP
.B register-copies/
beside it: the copies of each day; `reelcare restore` goes back to one
.TP
.B on-servers/
in the data folder: what this computer keeps of registers on a server
.TP
.B sheets/
in the configuration folder: sheets, a service plan and a model of the machine of one's own, read before the shipped
ones
.PP
Files that are given: machine cards, sheets, plans, fields and matchings (TOML), run logs (CSV), spreadsheets
(.csv, .xlsx). `reelcare formats` tells all their keys, and those of JSON with their units.
"""


def _prepare(parser: argparse.ArgumentParser, *, top: bool = True) -> None:
    """Put the examples of each command behind what it does, and leave out what the head of the page says."""
    if not top:
        parser.description = f"{parser.description}\n\n{parser.epilog}"
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for below in action.choices.values():
                _prepare(below, top=False)
        elif not top and set(action.option_strings) & set(SAID_ONCE):
            action.help = argparse.SUPPRESS


def text() -> str:
    """The page as it must be."""
    parser = build_parser()
    _prepare(parser)
    made = str(Manpage(parser))
    # no date and no name of the tool that made it: the same commands give the same page
    made = re.sub(r"^\.TH .*$", '.TH REELCARE "1" "" "reelcare" "User Commands"', made, count=1, flags=re.MULTILINE)
    made = made.replace(
        ".SH NAME\nreelcare\n", ".SH NAME\nreelcare \\- checks, settings and upkeep of hose\\-reel machines\n", 1
    )
    return made.rstrip() + MORE


if __name__ == "__main__":
    from manual import pages

    PAGE.write_text(text(), "utf-8")
    for page, said in pages.texts().items():
        page.write_text(said, "utf-8")
