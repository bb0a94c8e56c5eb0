"""Poor terminals and slow lines: what really reaches a terminal, byte by byte, when the program itself is run."""

import importlib
import io
import os
import pkgutil
import re
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from textual.screen import Screen

import reelcare.tui
from reelcare.cli.terminal import bears_signs
from tests.tui.emulator import Emulator
from tests.tui.terminal import run

COLOUR = re.compile(rb"\x1b\[([0-9;]*)m")
"""ECMA-48, 8.3.117 (SGR): 30-37 and 40-47 are the eight colours; 90-97 and 100-107, as aixterm has them, the bright
ones; 38 and 48 begin a colour of 256 or of all (ITU-T T.416)."""


def opened(path: Path, *words: str, **more: Any) -> bytes:
    """What the app writes from its start until it is left, with a row down and the due list between."""
    keys = ((b"Walk-round", b"\x1b[B"), (b"T02", b"d"), (b" within 90 days", b"q"))
    # a text has come once it stands on the screen
    screen = Emulator(80, 24)
    seen, code = run(["-m", "reelcare", "--register", str(path), *words], keys=keys, screen=screen, **more)
    assert code == 0, seen[-2000:]
    return seen


def odd(seen: bytes) -> bytes:
    return bytes(sorted({one for one in seen if one > 0x7F}))


def many_colours(seen: bytes) -> bool:
    return any({"38", "48"}.intersection(one.decode().split(";")) for one in COLOUR.findall(seen))


@pytest.mark.long
def test_as_usual_there_are_signs_and_colours_which_is_what_the_others_are_held_against(register: Any) -> None:
    seen = opened(register.path)
    assert odd(seen)
    assert many_colours(seen)


@pytest.mark.long
@pytest.mark.parametrize(
    ("words", "more"),
    [(["--ascii"], {}), ([], {"REELCARE_ASCII": "1"}), ([], {"PYTHONIOENCODING": "latin-1", "PYTHONUTF8": "0"})],
    ids=["word", "variable", "encoding"],
)
def test_in_ascii_no_other_byte_reaches_the_terminal(register: Any, words: list[str], more: dict[str, str]) -> None:
    seen = opened(register.path, *words, **more)
    assert not odd(seen)
    assert rb"\u" not in seen


@pytest.mark.parametrize(
    ("encoding", "driver", "bears"),
    [("utf-8", "", True), ("ascii", "", False), ("iso8859-15", "", False), ("ascii", "a.browser", True)],
)
def test_signs_are_drawn_where_what_is_written_carries_them(
    monkeypatch: pytest.MonkeyPatch, encoding: str, driver: str, bears: bool
) -> None:
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(io.BytesIO(), encoding=encoding))
    monkeypatch.setenv("TEXTUAL_DRIVER", driver)
    assert bears_signs() is bears


@pytest.mark.long
@pytest.mark.parametrize(("words", "more"), [(["--slow"], {}), ([], {"REELCARE_SLOW": "1"})], ids=["word", "variable"])
def test_over_a_slow_line_there_are_sixteen_colours(register: Any, words: list[str], more: dict[str, str]) -> None:
    seen = opened(register.path, *words, **more)
    assert COLOUR.search(seen)
    assert not many_colours(seen)


def test_a_program_that_is_told_to_end_gives_the_terminal_back(register: Any) -> None:
    keys = ((b"Walk-round", signal.SIGTERM),)
    seen, code = run(["-m", "reelcare", "--register", str(register.path)], keys=keys, screen=Emulator(80, 24))
    assert code == 0
    # DEC private modes: the screen that was there before, its cursor, and no mouse
    assert all(mode in seen.split(b"Walk-round")[-1] for mode in (b"\x1b[?1049l", b"\x1b[?25h", b"\x1b[?1000l"))


@pytest.mark.parametrize(("more", "seconds"), [({}, 0.4), ({"ESCDELAY": "50"}, 0.05)], ids=["usual", "one's own"])
def test_over_a_slow_line_the_signs_of_an_arrow_may_come_one_by_one(more: dict[str, str], seconds: float) -> None:
    code = (
        "from argparse import Namespace; from reelcare.cli import open_app;"
        "open_app._suit_the_terminal(Namespace(slow=True, ascii=False));"
        "from textual import constants; print(constants.ESCAPE_DELAY)"
    )
    environment = {**{key: text for key, text in os.environ.items() if key != "ESCDELAY"}, **more}
    told = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, check=True)
    assert float(told.stdout) == seconds


def screens() -> set[str]:
    """Every screen of the terminal room that is not there for others to be made of."""
    found: set[type[Screen[Any]]] = set()
    for module in pkgutil.walk_packages(reelcare.tui.__path__, "reelcare.tui."):
        for one in vars(importlib.import_module(module.name)).values():
            if isinstance(one, type) and issubclass(one, Screen) and one.__module__.startswith("reelcare."):
                found.add(one)
    return {one.__name__ for one in found if not any(other is not one and issubclass(other, one) for other in found)}


@pytest.mark.long
def test_in_ascii_no_other_byte_reaches_the_terminal_on_any_screen(register: Any, tmp_path: Path) -> None:
    register.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    visited = tmp_path / "seen"
    # the whole tour takes a minute by itself, and more beside other tests
    seen, code = run(["-m", "tests.tui.tour", str(register.path), str(visited), "ascii"], size=(40, 120), patience=600)
    assert code == 0, seen[-2000:]
    assert screens() - set(visited.read_text().split()) == set()
    assert not odd(seen)
    assert b"Canon ! ??" in seen  # what was typed is shown as well as ASCII can


@pytest.mark.long
@pytest.mark.parametrize("words", [[], ["--view"], ["demo"], ["--ascii", "--slow"]], ids=" ".join)
def test_a_terminal_that_obeys_nothing_is_told_of_the_commands_and_sent_no_escapes(
    register: Any, words: list[str]
) -> None:
    seen, code = run(["-m", "reelcare", "--register", str(register.path), *words], TERM="dumb")
    assert code == 2
    assert seen.isascii()
    assert re.fullmatch(rb"reelcare: the app needs a terminal; every task has a command too: [^\x1b]*\r\n", seen)


def test_without_a_terminal_it_is_told_too(register: Any) -> None:
    told = subprocess.run(
        [sys.executable, "-m", "reelcare", "--register", str(register.path)],
        stdin=subprocess.DEVNULL, capture_output=True, check=False,
    )  # fmt: skip
    assert (told.returncode, told.stdout) == (2, b"")
    assert told.stderr.count(b"\n") == 1
    assert b"\x1b" not in told.stderr


@pytest.mark.long
def test_to_look_only_makes_no_register(tmp_path: Path) -> None:
    path = tmp_path / "none.db"
    seen, code = run(["-m", "reelcare", "--view", "--register", str(path)])
    assert code == 3
    assert b"no such register" in b" ".join(seen.split())  # an error is broken at the width of the terminal
    assert b"\x1b" not in seen
    assert not list(tmp_path.iterdir())
