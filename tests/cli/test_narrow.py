"""Every command that prints for people keeps within a narrow terminal; `test_lists.py` looks closer at the lists."""

import ast
import re
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import pytest

from reelcare.cli.command import Command
from reelcare.cli.parser import COMMANDS
from reelcare.core.wording import cells
from tests.cli.conftest import CARD, ESTATE_AT
from tests.cli.terminals import in_a_terminal

CLI = Path(__file__).parents[2] / "reelcare" / "cli"
PRINTERS = {
    "common.py",
    "__init__.py",
    "keep/shell.py",
    "work/questions.py",
    "keep/formats.py",
    "plan/report.py",
    "leaving.py",
}
"""What may print a text as it is: the printer itself, what another program reads, a code for a camera, a prompt."""
NO_LINES = {"serve", "demo", "begin", "completion", "carry accept", "carry refuse", "restore", "log correct",
            "night", "report night", "report check", "measure drum"}  # fmt: skip
"""Commands that open the app or write a script; and those of a whole story of their own, whose answers are tables and
lines by the same two functions (`test_nothing_prints_past_the_one_printer`)."""
LOOKS = (
    ("yard",), ("due",), ("due", "--all"), ("may", "T02"), ("book", "T01"), ("signals",), ("failures",), ("marks",),
    ("corrections",), ("machine",), ("machine", "T01"), ("machine", "T01", "--toml"), ("people",), ("plan",),
    ("workload",), ("lanes",), ("sheets",), ("prove",), ("health",), ("paths",), ("formats",), ("carry", "waiting"),
    ("set-up", "T01", "--spacing", "68 m", "--out", "300 m"), ("measure", "figures", "T01"), ("rebuild",),
    ("measure", "gun", "T01", "43 m3/h @ 4.5 bar"),
    ("measure", "cans", "T01", "--spacing", "68 m", "--step", "12 m", "--left", "9.4 8 5.9", "--right", "9 8.2 5.5"),
)  # fmt: skip
AT = ("--at", "2026-05-02T20:00Z")
FIELD = 'id = "north"\nplace = "North"\n[[lanes]]\nnumber = 1\nhydrant = 1\nlength = "300 m"\nspacing = "68 m"\n'
SET = ("--out", "290 m", "--depth", "25 mm", "--spacing", "68 m", "--inlet", "6.9 bar", "--hydrant", "1")
WORK = (
    ("people", "add", "Mara", "--role", "supervisor", "--at", "2026-03-01"),
    ("people", "add", "Tove", "--role", "mechanic", "--by", "Mara"),
    ("machine", "add", "card.toml", "--by", "Mara", "--at", "2026-03-01"),
    ("log", "run", "R1", "--started", "2026-05-01T06:30Z", "--ended", "2026-05-01T19:10Z", "--metres", "320 m",
     "--by", "Tove"),
    ("log", "reading", "R1", "hours", "512", "--by", "Tove"),
    ("log", "service", "R1", "grease", "--by", "Tove"),
    ("log", "fault", "R1", "hose", "--says", "scuffed at 60 m", "--fix-by", "2026-12-30", "--by", "Tove"),
    ("log", "fault", "R1", "pawl", "--says", "does not drop in", "--hold", "--by", "Tove"),
    ("give", "R1", "pawl", "--to", "Tove", "--day", "2026-12-01", "--by", "Mara"),
    ("log", "repair", "R1", "pawl", "--says", "new spring", "--by", "Tove"),
    ("log", "retest", "R1", "pawl", "--says", "drops in 5 times of 5", "--by", "Tove"),
    ("log", "release", "R1", "pawl", "--by", "Mara"),
    ("log", "note", "R1", "--says", "left running, stops 03:40", "--by", "Tove"),
    ("log", "instruction", "Tove", "R1", "--valid", "12", "--by", "Mara"),
    ("check", "R1", "--by", "Tove"),
    ("lanes", "add", "field.toml", "--by", "Mara"),
    ("set-up", "R1", *SET, "--keep", "--by", "Tove"),
    ("bring", "runs.csv", "--by", "Tove"),
    ("report", "machine", "R1", "r.html"), ("report", "due", "d.csv"),
    ("report", "workload", "w.csv"), ("report", "list", "l.csv"), ("report", "season", "s.html"),
    ("report", "water", "w.html"), ("report", "blank", "R1", "b.html"),
    ("report", "tag", "R1", "t.svg"), ("carry", "out", "o.zip"), ("carry", "in", "o.zip", "--look"),
    ("copy", "copy.db"), ("yard",),
)  # fmt: skip
"""Work on a register of its own, a command after the other."""
pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="pseudo-terminals of Linux")


def named(commands: Iterable[Command], before: str = "") -> Iterator[str]:
    """The names of all commands; those of kinds behind the name of their command."""
    for one in commands:
        if one.kinds:
            yield from named(one.kinds, f"{before}{one.name} ")
        else:
            yield before + one.name


ALL = [*named(COMMANDS.values())]


def too_long(told: str, columns: int) -> list[str]:
    """The lines that are longer than the terminal, each line over a progress line by itself."""
    return [line for line in re.split("[\r\n]", told) if cells(line) > columns]


def test_every_command_is_tried() -> None:
    tried = {name for name in ALL for words in (*LOOKS, *WORK) if " ".join(words).startswith(name)}
    assert tried | NO_LINES == set(ALL)


def test_nothing_prints_past_the_one_printer() -> None:
    found = []
    for path in CLI.rglob("*.py"):
        calls = [one.func for one in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(one, ast.Call)]
        if any(isinstance(one, ast.Name) and one.id == "print" for one in calls):
            found.append(str(path.relative_to(CLI)))
    assert {*found} <= PRINTERS


@pytest.mark.long
@pytest.mark.parametrize("columns", [40, 80, 120])
def test_no_line_of_what_looks_is_longer_than_the_terminal(columns: int, estate: Path) -> None:
    asked = [(*words, *(ESTATE_AT if words[0] in ("yard", "due", "workload") else ())) for words in LOOKS]
    environment = {"REELCARE_REGISTER": str(estate), "TZ": "UTC", "TERM": "xterm"}
    for words, told in zip(LOOKS, in_a_terminal(asked, columns, environment), strict=True):
        assert too_long(told, columns) == [], words


@pytest.mark.long
@pytest.mark.parametrize("columns", [40, 80])
def test_no_line_of_what_writes_is_longer_than_the_terminal(columns: int, tmp_path: Path, monkeypatch: Any) -> None:
    (tmp_path / "card.toml").write_text(CARD, "utf-8")
    (tmp_path / "field.toml").write_text(FIELD, "utf-8")
    (tmp_path / "runs.csv").write_text("machine,started,ended,metres\nR1,2026-05-03T06:30,2026-05-03T19:00,310\n")
    monkeypatch.chdir(tmp_path)
    environment = {"REELCARE_REGISTER": str(tmp_path / "x.db"), "TZ": "UTC", "TERM": "xterm"}
    for words, told in zip(WORK, in_a_terminal(WORK, columns, environment), strict=True):
        assert too_long(told, columns) == [], words
