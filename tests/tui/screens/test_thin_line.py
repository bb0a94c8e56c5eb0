"""A whole session over a thin line shows, text after text, what it would show over any other."""

import json
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.tui.terminal import run
from tests.tui.thin.emulator import Emulator

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are of Unix")

DOWN, ESCAPE, AGAIN = b"\x1b[B", b"\x1b", b"\x0c"
KEYS: list[tuple[bytes, Any]] = [
    (b"Walk-round", b"/"),
    (b"/ _", b"T02"),
    ("▸ T02".encode(), b"\t"),
    ("▸ T02".encode(), b"d"),
    (b"overdue, ", ESCAPE),
    (b"Reelcare  Yard", b"p"),
    (b"Who is at this terminal?", b"a"),
    (b"Walk-round", b"/"),
    (b"/ _", b"T08"),
    ("▸ T08".encode(), b"\t"),
    ("▸ T08".encode(), AGAIN),
    ("▸ T08".encode(), DOWN),
    (b"Walk-round", b"q"),
]


def recorded(path: Path, record: Path, keys: list[tuple[bytes, Any]], size: tuple[int, int], **more: str) -> list[Any]:
    """What the driver was given and what it sent, text by text; and that this is what the terminal got."""
    seen, code = run(
        ["-m", "reelcare", "--register", str(path), "--slow"], keys=keys, size=size, screen=Emulator(size[1], size[0]),
        TEXTUAL_DRIVER="tests.tui.thin.recorded:Recorded", RECORD=str(record), **more,
    )  # fmt: skip
    assert code == 0, seen[-2000:]
    steps = [json.loads(line) for line in record.read_text().splitlines()]
    sent = "".join(text for _, _, text in steps)
    assert sent.replace("\n", "\r\n") in seen.decode()
    return steps


def replayed(steps: list[Any]) -> None:
    """Both terminals show the same after each step; one that is full of something else does once all is sent again."""
    whole, thin, lossy = (Emulator(*steps[0][0]) for _ in range(3))
    again = False
    for size, given, sent in steps:
        for one in (whole, thin, lossy):
            one.screen.resize(size[1], size[0])
        if not given:
            lossy.feed("\x1b[H\x1b[31mlost" + "?" * 4000)
            again = True
        whole.feed(given)
        for one in (thin, lossy) if again or given.startswith("\x1b[?") else (thin,):
            one.feed(sent)
        assert thin.seen() == whole.seen(), (given, sent)
    assert again
    assert lossy.seen() == whole.seen()


@pytest.mark.parametrize(
    ("size", "term"),
    [((24, 80), "xterm-256color"), pytest.param((40, 120), "screen-256color", marks=pytest.mark.long)],
    ids=str,
)
def test_a_session_shows_the_same(register: Any, tmp_path: Path, size: tuple[int, int], term: str) -> None:
    steps = recorded(register.path, tmp_path / "record", KEYS, size, TERM=term)
    replayed(steps)
    given, sent = (sum(len(step[place].encode()) for step in steps) for place in (1, 2))
    assert sent < given


def test_a_session_shows_the_same_when_the_terminal_changes_its_size(register: Any, tmp_path: Path) -> None:
    keys = [
        (b"Walk-round", b"/"),
        (b"/ _", b"T02"),
        ("▸ T02".encode(), b"\t"),
        ("▸ T02".encode(), (30, 110)),
        ("▸ T02".encode(), (24, 80)),
        ("▸ T02".encode(), b"/"),
        (b"/ _", b"T08"),
        ("▸ T08".encode(), b"\t"),
        ("▸ T08".encode(), AGAIN),
        ("▸ T08".encode(), b"q"),
    ]
    steps = recorded(register.path, tmp_path / "record", keys, (24, 80))
    replayed(steps)


def test_the_word_alone_brings_the_driver(register: Any) -> None:
    keys = [(b"Walk-round", b"q")]
    size = {}
    for words in ([], ["--slow"]):
        seen, code = run(
            ["-m", "reelcare", "--register", str(register.path), *words], keys=keys, screen=Emulator(80, 24)
        )
        assert code == 0
        size[bool(words)] = len(seen)
    assert size[True] * 5 < size[False]
