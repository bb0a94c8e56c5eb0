"""The first frame shows what the app will show, steers no terminal, and gives the terminal back as it was."""

import fcntl
import os
import pty
import re
import struct
import subprocess
import sys
import termios
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from reelcare.register import yard
from reelcare.register.glimpse import Machine, glimpse
from reelcare.tui.first_frame import COLUMNS, ENTER, LEAVE, frame, painted
from reelcare.tui.widgets.rows import Rows

NOW = datetime(2026, 7, 1, 9, tzinfo=UTC)


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (120, 40)], ids=str)
async def test_it_shows_what_the_app_will_show(drive: Any, register: Any, size: tuple[int, int]) -> None:
    async with drive(size=size) as driver:
        screen = driver.app.screen
        rows = screen.query_one(Rows)
        shown = [rows.render_line(y).text.rstrip() for y in range(rows.count + 1)]
        now = driver.clock.now
        yard.renew(register, now)
        with glimpse(register.path, now) as seen:
            assert seen is not None
            told = frame(seen.machines(size[1], "en"), seen.counts(), *size, "metric", now)
        assert "".join(text for text, _ in told[0]).strip() == f"Reelcare  {screen.where()}"
        height = min(len(told) - 1, rows.size.height)
        lines = ["".join(text for text, _ in line).rstrip() for line in told[1 : height + 1]]
        assert [re.sub(r"\d+ (h|min) ago|just now", "", one) for one in lines] == [
            re.sub(r"\d+ (h|min) ago|just now", "", one) for one in shown[:height]
        ]


def machine(tag: str) -> Machine:
    return Machine(tag, tag, 3600, 1000, "held", "clear", None, "overdue", tag)


@pytest.mark.parametrize(
    "text", ["\x1b]0;x\x1b\\", "\x1b[2J", "\u202eturned", "水水水水水水水水", "[red]x[/]", "a" * 99]
)
def test_what_people_typed_steers_nothing_and_moves_nothing(text: str) -> None:
    from rich.cells import cell_len

    said = frame([machine(text)], {"held": 1}, 80, 24, "metric", NOW)
    drawn = "".join(part for part, _ in said[2])
    assert cell_len(drawn) == cell_len("".join(part for part, _ in said[1]))
    out = painted(said, 80, 24)
    assert re.sub(r"\x1b\[[0-9;]*[mHK]", "", out).isprintable()


@pytest.mark.parametrize("asked", [{}, {"NO_COLOR": "1", "COLORTERM": "truecolor"}])
def test_colour_is_only_where_the_terminal_has_it(asked: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("COLORTERM", raising=False)
    for name, value in asked.items():
        monkeypatch.setenv(name, value)
    assert ";2;" not in painted(frame([machine("R1")], {"held": 1}, 80, 24, "metric", NOW), 80, 24)


PROGRAM = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from reelcare.tui.first_frame import FirstFrame
with FirstFrame(Path(sys.argv[1]), system="metric", language="en", now=datetime(2026, 7, 1, 9, tzinfo=UTC)) as frame:
    sys.stdin.read(1)
    if sys.argv[2] == "app":
        frame.handed_over()
    if sys.argv[2] == "fails":
        raise SystemExit(3)
    assert "textual" not in sys.modules and "peewee" not in sys.modules
"""


def run(path: Path, what: str, **more: str) -> tuple[str, bool, int]:
    """What the program wrote, whether the terminal is as it was, and its exit code."""
    main, other = pty.openpty()
    fcntl.ioctl(other, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    before = termios.tcgetattr(other)
    environment = {**os.environ, "PYTHONPATH": os.getcwd(), **more}
    with subprocess.Popen(
        [sys.executable, "-c", PROGRAM, str(path), what], stdin=other, stdout=other, stderr=other, env=environment
    ) as process:
        seen = b""
        if more or what == "nothing":
            os.write(main, b"x\n")
        else:
            while b"next due" not in seen:
                seen += os.read(main, 65536)
            os.write(main, b"x")
        process.wait(20)
        as_it_was = termios.tcgetattr(other) == before
        os.set_blocking(main, False)
        try:
            while piece := os.read(main, 65536):
                seen += piece
        except (BlockingIOError, OSError):
            pass
    os.close(main)
    os.close(other)
    return seen.decode(), as_it_was, process.returncode


@pytest.mark.parametrize(("what", "code", "left"), [("app", 0, False), ("fails", 3, True)])
def test_the_terminal_is_given_back(register: Any, what: str, code: int, left: bool) -> None:
    seen, as_it_was, ended = run(register.path, what)
    assert (as_it_was, ended) == (True, code)
    assert ENTER in seen
    assert seen.endswith(LEAVE) is left
    assert not seen.endswith("x")  # what was typed is not echoed


@pytest.mark.parametrize("name", ["REELCARE_SLOW", "REELCARE_ASCII", "TEXTUAL_DRIVER"])
def test_where_it_would_disturb_there_is_none(register: Any, name: str) -> None:
    assert ENTER not in run(register.path, "app", **{name: "1"})[0]


def test_without_a_register_there_is_none(tmp_path: Path) -> None:
    assert ENTER not in run(tmp_path / "none.db", "nothing")[0]
    assert not (tmp_path / "none.db").exists()


def test_the_columns_are_those_of_the_yard() -> None:
    from reelcare.tui.screens import yard as screen

    assert screen.COLUMNS is COLUMNS
