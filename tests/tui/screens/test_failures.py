"""The list of failures says of each part whether it gets worse or better, as its sentences do."""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from reelcare.register.opening import open_writer
from reelcare.register.writing.writer import Writer
from reelcare.tui.screens.evidence.failures import Failures
from reelcare.tui.widgets.rows import Rows
from tests.commands import run
from tests.tui.screens.conftest import NOW

BEGAN = NOW - timedelta(days=101)
EARLY = (1, 2, 3, 5, 8, 11, 15, 20, 26, 33)
"""Days on which a part failed that was bad when new; 10 h of running each."""
LATE = tuple(100 - day for day in reversed(EARLY))


def write_a_season(register: Path, folder: Path) -> None:
    """A hundred runs of one machine, on which the hose failed less and less and the pawl more and more."""

    def at(moment: datetime, *words: str) -> None:
        done = run(register, moment, *words)
        assert done.code == 0, done.err

    (folder / "card.toml").write_text('tag = "R1"\n[hose]\nlength = "300 m"\n', "utf-8")
    days = [BEGAN + timedelta(days=day) for day in range(1, 101)]
    lines = [f"R1,{day.isoformat()},{(day + timedelta(hours=10)).isoformat()},280" for day in days]
    (folder / "runs.csv").write_text("\n".join(["machine,started,ended,metres", *lines, ""]), "utf-8")
    at(BEGAN, "people", "add", "Mara", "--role", "supervisor")
    at(BEGAN, "machine", "add", str(folder / "card.toml"), "--by", "Mara")
    at(NOW, "bring", str(folder / "runs.csv"), "--by", "Mara")
    failed = sorted([*((day, "hose") for day in EARLY), *((day, "pawl") for day in LATE)])
    for day, part in failed:
        broke = BEGAN + timedelta(days=day + 1)
        for minutes, what, words in (
            (0, "fault", ("--says", "broke", "--fix-by", "50 h")),
            (1, "repair", ("--says", "renewed")),
            (2, "release", ()),
        ):
            when = (broke + timedelta(minutes=minutes)).isoformat()
            at(NOW, "log", what, "R1", part, *words, "--at", when, "--by", "Mara")


@pytest.fixture
def register(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Writer]:
    monkeypatch.setenv("TZ", "UTC")
    write_a_season(tmp_path / "r.db", tmp_path)
    with open_writer(tmp_path / "r.db") as one:
        yield one


@pytest.mark.long
async def test_a_part_that_fails_more_often_is_worsening_in_list_and_sentences(drive: Callable[..., Any]) -> None:
    async with drive(size=(120, 40)) as driver:
        await driver.keys("i", "f")
        screen = driver.app.screen
        assert isinstance(screen, Failures)
        for part, is_so, is_not in (("pawl", "worsening", "improving"), ("hose", "improving", "worsening")):
            await driver.to_line(part)
            rows = screen.query_one(Rows)
            row = " ".join(getattr(cell, "text", str(cell)) for cell in rows.row(rows.cursor))
            sentences = str(screen.query_one("#sentences").render())
            for told in (row, sentences):
                assert is_so in told
                assert is_not not in told
