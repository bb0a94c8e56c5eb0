"""What screens say of a machine of whose use before nothing is known, and of services that were told by hours alone."""

from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from textual.widgets import Input

from reelcare.core import entries as e
from reelcare.core.spreadsheet.cells import DoneAt
from reelcare.register.acts import people
from reelcare.register.exchange.first_day import last_done
from reelcare.register.opening import open_writer
from reelcare.register.writing.writer import Writer
from reelcare.tui import requests
from reelcare.tui.app import Reelcare
from reelcare.tui.preferences import Preferences
from reelcare.tui.screens.work.run import RunForm
from tests.estates import NOW
from tests.tui.screens.conftest import Clock, Driver

HOUR = 3600
NAMED = {"name": "Long Reach", "place": "North Field"}


@pytest.fixture
def lone(tmp_path: Path) -> Iterator[Writer]:
    """A register of one machine, of which little is known."""
    with open_writer(tmp_path / "one.db") as register:
        people.enrol(register, "Marta", "supervisor", by="Marta", now=NOW)
        register.add(e.Carded(card={"tag": "T01", **NAMED}), by="Marta", now=NOW)
        yield register


@asynccontextmanager
async def app_on(register: Writer, size: tuple[int, int], **manner: Any) -> AsyncIterator[Any]:
    clock = Clock()
    app = Reelcare(register, preferences=Preferences(**manner), clock=clock)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        yield Driver(app, pilot, clock)


NOTHING = {"en": "use not known", "es": "uso: sin saber", "fr": "usage : inconnu"}
COUNTED = {
    "en": "at least 10 h, 300 m, 1 run", "es": "al menos 10 h, 300 m, 1 pasada", "fr": "au moins 10 h, 300 m, 1 passage"
}  # fmt: skip


@pytest.mark.parametrize("size", [(80, 24), (60, 20)])
@pytest.mark.parametrize("language", ["en", "es", "fr"])
async def test_no_total_that_nobody_knows_is_shown_as_if_somebody_did(
    lone: Writer, screen_text: Callable[[Any], str], language: str, size: tuple[int, int]
) -> None:
    def shown(driver: Any) -> str:
        return " ".join(screen_text(driver.app).split())

    async with app_on(lone, size, language=language) as driver:
        assert f"Long Reach, North Field: {NOTHING[language]}, " in shown(driver)
        await driver.keys("b")
        assert f"  {NOTHING[language][:13]}" in screen_text(driver.app).splitlines()[0]
        await driver.keys("escape")
        driver.app.person = "Marta"
        form = RunForm(requests.LogRun(driver.app.screen.machine))
        driver.app.push_screen(form)
        await driver.pilot.pause()
        for line, text in (("started", "2026-07-01 00:00"), ("ended", "10 h"), ("metres", "300")):
            form.query_one(f"#{line}", Input).value = text
        driver.clock.now = NOW + timedelta(hours=20)
        await driver.keys("ctrl+y", "o", "enter")
        assert COUNTED[language] in driver.app.notice.says
        assert f"Long Reach, North Field: {COUNTED[language]}, " in shown(driver)
        await driver.keys("b")
        assert f"  {COUNTED[language][:13]}" in screen_text(driver.app).splitlines()[0]


async def test_the_hours_of_the_yard_are_a_least_too(lone: Writer, screen_text: Callable[[Any], str]) -> None:
    async with app_on(lone, (120, 40)) as driver:
        row = next(line for line in screen_text(driver.app).splitlines() if "◊ T01" in line)
        assert " 0 " not in row
        assert " ? " in row
        lone.add(
            e.Run(started=NOW - timedelta(hours=12), ended=NOW, metres=300_000),
            machine=lone.machine_id("T01"), by="Marta", now=NOW, happened=NOW,
        )  # fmt: skip
        driver.app.screen.fill()
        await driver.pilot.pause()
        assert " 12+ " in screen_text(driver.app)


async def test_a_service_that_was_told_by_hours_alone_is_said_by_hours(
    lone: Writer, screen_text: Callable[[Any], str]
) -> None:
    lone.add(e.Carded(card={"tag": "T02", "in_use_since": "2019-04-01"}), by="Marta", now=NOW)
    machine, item = lone.machine_id("T02"), "gearbox-oil-change"
    cells = {(machine, last_done.NOW): DoneAt(None, 2000 * HOUR), (machine, item): DoneAt(None, 1420 * HOUR)}
    last_done.write(lone, last_done.told_services(lone, cells, now=NOW), by="Marta", now=NOW)
    async with app_on(lone, (140, 40)) as driver:
        await driver.to_machine("T02")
        await driver.keys("b")
        line = next(one for one in screen_text(driver.app).splitlines() if "Gearbox oil: change" in one)
        assert line.rstrip().endswith("at 1420 h")
        await driver.keys("home", "enter")
        assert "last done  at 1420 h, not before 1 Apr 2019" in screen_text(driver.app)
        await driver.keys("escape", "escape")
        driver.app.screen.open(requests.OpenLastDone())
        await driver.pilot.pause()
        assert "1420 h" in screen_text(driver.app)
        assert "2019" not in screen_text(driver.app)
