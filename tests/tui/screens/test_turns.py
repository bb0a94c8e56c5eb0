"""While another program writes, the app says that it waits, goes on showing, and keeps what was typed."""

import contextlib
import os
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register.database import write_queue
from reelcare.tui.screens import turn_to_write
from reelcare.tui.screens.checks.walk import WalkRound
from reelcare.tui.screens.turn_to_write import WaitForTurn
from reelcare.tui.screens.work.fault import FaultForm
from reelcare.tui.screens.yard import Yard
from tests.register.conftest import newest


@contextlib.contextmanager
def in_the_queue(path: Path) -> Iterator[None]:
    handle = write_queue.taken(path)
    assert handle is not None
    yield
    os.close(handle)


@contextlib.contextmanager
def without_a_queue(path: Path) -> Iterator[None]:
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")


async def type_a_fault(driver: Any) -> None:
    await driver.keys("p", "c", "f")
    await driver.type("hose")
    await driver.keys("down")
    await driver.type("scuffed")
    await driver.keys("ctrl+y", "n")


@pytest.mark.long
@pytest.mark.parametrize("holding", [in_the_queue, without_a_queue])
async def test_a_form_waits_and_is_kept_when_its_turn_comes(
    drive: Any, register: Any, holding: Callable[[Path], Any], screen_text: Any
) -> None:
    async with drive() as driver:
        await type_a_fault(driver)
        before = register.count_entries()
        with holding(register.path):
            await driver.keys("ctrl+y")
            driver.expect(WaitForTurn)
            assert "Waiting for another program" in screen_text(driver.app)
            await driver.pilot.resize_terminal(100, 30)  # it still draws, and keys go nowhere
            await driver.keys("x", "q")
            driver.expect(WaitForTurn)
            assert register.count_entries() == before
        while isinstance(driver.app.screen, WaitForTurn):
            await driver.pilot.pause(turn_to_write.LOOK)
        await driver.pilot.pause()
        driver.expect(Yard)
        assert register.count_entries() == before + 1
        assert newest(register, e.Fault).says == "scuffed"


@pytest.mark.long
async def test_who_does_not_wait_keeps_what_was_typed(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await type_a_fault(driver)
        before = register.count_entries()
        with in_the_queue(register.path):
            await driver.keys("ctrl+y", "escape")
            driver.expect(FaultForm)
            assert "Not saved" in driver.app.notice.says
        assert register.count_entries() == before
        await driver.keys("ctrl+y")
        driver.expect(Yard)
        assert register.count_entries() == before + 1


@pytest.mark.long
async def test_an_answer_waits_and_counts_once(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.keys("w")
        driver.expect(WalkRound)
        asked = driver.app.screen.question
        with in_the_queue(register.path):
            await driver.answer_right()
            driver.expect(WaitForTurn)
            await driver.keys("1", "1")
        while isinstance(driver.app.screen, WaitForTurn):
            await driver.pilot.pause(turn_to_write.LOOK)
        await driver.pilot.pause()
        driver.expect(WalkRound)
        (given,) = driver.app.screen.going.walk.given
        assert given.question == asked.id
