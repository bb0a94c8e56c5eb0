"""Keys that come in one burst (a key that bounces, a slow line): a screen is left once, and an entry written once."""

from typing import Any

import pytest
from textual import events

from reelcare.tui.requests import AskChoice, AskText, AskYesNo, OpenDue
from reelcare.tui.screens.yard import Yard
from tests.register.conftest import sql


async def burst(driver: Any, *keys: str) -> None:
    """Keys that all are there before the first of them is seen."""
    for key in keys:
        driver.app.post_message(events.Key(key, key if len(key) == 1 else None))
    await driver.pilot.pause()
    await driver.pilot.pause()


async def test_who_is_there_is_asked_once(drive: Any) -> None:
    async with drive() as driver:
        await driver.keys("p")
        await burst(driver, "a", "a")
        driver.expect(Yard)
        assert driver.app.person


@pytest.mark.parametrize(
    ("request_", "key"),
    [
        (AskChoice("Which?", ("one", "two")), "a"), (AskYesNo("Sure?", (), "yes", "no"), "y"),
        (AskText("Why?", value="because"), "enter"),
    ],
)  # fmt: skip
async def test_a_screen_takes_none_below_with_it(drive: Any, request_: Any, key: str) -> None:
    async with drive() as driver:
        below = driver.app.screen_for(OpenDue())
        await driver.app.push_screen(below)
        await driver.app.push_screen(driver.app.screen_for(request_))
        await driver.pilot.pause()
        await burst(driver, key, key)
        assert driver.app.screen is below


async def test_a_form_that_is_kept_twice_in_a_burst_writes_once(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c", "f")
        await driver.type("hose")
        await driver.keys("down")
        await driver.type("scuffed")
        await driver.keys("ctrl+y", "n")
        before = sql(register.db, "SELECT count(*) FROM entry WHERE kind = 'fault'")[0][0]
        await burst(driver, "ctrl+y", "ctrl+y", "ctrl+y")
        driver.expect(Yard)
        assert sql(register.db, "SELECT count(*) FROM entry WHERE kind = 'fault'")[0][0] == before + 1
