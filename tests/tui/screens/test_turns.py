"""While another program writes, the app says that it waits, goes on showing, and keeps what was typed."""

import contextlib
import os
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from textual.widgets import Input

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


@pytest.mark.parametrize("key", ["e", "x"], ids=["note", "near miss"])
async def test_a_note_that_could_not_be_written_stands_there_again(drive: Any, register: Any, key: str) -> None:
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        with in_the_queue(register.path):
            await driver.keys(key)
            await driver.type("valve stiff")
            await driver.keys("enter")
            driver.expect(WaitForTurn)
            await driver.keys("escape")
            driver.expect(Yard)
            assert "Not saved" in driver.app.notice.says
        await driver.to_machine("T03")
        await driver.keys(key)
        assert driver.app.screen.query_one(Input).value == "", "they are of the other machine"
        await driver.keys("escape")
        await driver.to_machine("T01")
        before = register.count_entries()
        await driver.keys(key, "enter")
        assert register.count_entries() == before + 1
        assert newest(register, e.Noted).says == "valve stiff"
        await driver.keys(key)
        assert driver.app.screen.query_one(Input).value == "", "what is saved is offered no more"


async def test_why_an_entry_is_taken_back_stands_there_again_after_a_refusal(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "a")
        await driver.to_machine("T08")
        await driver.keys("k", "x")
        await driver.type("wrong day")
        with in_the_queue(register.path):
            await driver.keys("enter", "escape")
            assert "Not saved" in driver.app.notice.says
        await driver.keys("x")
        assert driver.app.screen.query_one(Input).value == "wrong day"
        before = register.count_entries()
        await driver.keys("enter")
        assert register.count_entries() == before + 1
