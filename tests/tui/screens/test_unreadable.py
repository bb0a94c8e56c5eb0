"""A register that cannot be read for a while, or lies there no more: that is told, nothing typed is lost, and the app
goes on."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from datetime import timedelta
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register.opening import open_writer
from reelcare.tui.base import LEFT_OUT
from reelcare.tui.screens.checks.walk import WalkRound
from reelcare.tui.screens.work.fault import FaultForm
from reelcare.tui.screens.yard import Yard
from reelcare.tui.widgets.rows import Rows
from tests.register.conftest import newest

Away = Callable[[], AbstractContextManager[None]]


@pytest.fixture
def away(register: Any) -> Away:
    """Inside its block the disk gives nothing back."""

    def failed(*_words: object, **_named: object) -> None:
        why = sqlite3.OperationalError("disk I/O error")
        why.sqlite_errorname = "SQLITE_IOERR"
        raise why

    @contextmanager
    def block() -> Iterator[None]:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(register.db, "execute_sql", failed)
            yield

    return block


def told(driver: Any) -> str:
    notice = driver.app.notice
    return notice.says if notice is not None else ""


def looked(screen: Any) -> None:
    """The looks that are left out after one that failed, and one more."""
    for _ in range(LEFT_OUT + 1):
        screen._look()


@pytest.mark.parametrize(
    "key", ["w", "s", "b", "d", "v", "o", "m", "e", "h", "p", "l", "down", "pagedown", "question_mark",
            "exclamation_mark"],
)  # fmt: skip
async def test_no_key_of_the_yard_ends_the_app(drive: Any, away: Away, key: str) -> None:
    async with drive() as driver:
        await driver.keys("p", "a")
        with away():
            await driver.pilot.press(key)
            await driver.pilot.pause()
            await driver.pilot.press("escape")
            await driver.pilot.pause()
        driver.expect(Yard)
        await driver.keys("d", "escape")
        driver.expect(Yard)


async def test_what_is_typed_in_a_form_stays_until_it_can_be_saved(drive: Any, register: Any, away: Away) -> None:
    async with drive() as driver:
        await driver.keys("p", "b")
        await driver.to_machine("T01")
        await driver.keys("f")
        await driver.type("pawl")
        await driver.keys("down")
        await driver.type("spring gone")
        form = driver.app.screen
        with away():
            await driver.keys("ctrl+y", "n", "enter", "ctrl+y")
            driver.expect(FaultForm)
            assert "disk" in told(driver)
        assert form.value("says") == "spring gone"
        await driver.keys("ctrl+y")
        assert newest(register, e.Fault).says == "spring gone"


async def test_a_screen_that_shows_what_was_says_of_when_that_is(drive: Any, away: Away) -> None:
    async with drive() as driver:
        yard = driver.app.screen
        with away():
            driver.clock.now += timedelta(hours=2)
            yard._look()
            assert "Wed 1 Jul 09:00" in told(driver)
            assert "cannot be read anew" in told(driver)
            yard._look()  # one that is waited for each time is not asked each time
        looked(yard)
        assert told(driver) == ""
        assert yard._shown_minute == driver.clock.now.replace(second=0, microsecond=0)


async def test_what_was_not_saved_stays_told_while_nothing_can_be_read(drive: Any, away: Away) -> None:
    async with drive() as driver:
        driver.app.tell("Not saved: the disk is full", bad=True)
        with away():
            driver.app.screen._look()
        assert told(driver) == "Not saved: the disk is full"


async def test_a_screen_that_is_left_while_nothing_can_be_read_leaves_the_one_below_in_order(
    drive: Any, away: Away
) -> None:
    async with drive() as driver:
        await driver.keys("p", "a", "b")
        with away():
            await driver.keys("escape")
            driver.expect(Yard)
            assert "disk" in told(driver)
            assert driver.app.focused is driver.app.screen.query_one(Rows)
        await driver.keys("down")
        assert driver.app.screen.query_one(Rows).cursor == 1


async def test_rows_that_come_into_sight_meanwhile_are_not_called_anything(
    drive: Any, away: Away, screen_text: Any
) -> None:
    async with drive(size=(120, 40)) as driver:
        yard = driver.app.screen
        with away():
            yard.query_one(Rows).show(yard)
            await driver.pilot.pause()
            shown = screen_text(driver.app)
        assert "? T02" in shown
        assert "cannot be read now" in shown


async def test_a_walk_round_goes_on_where_it_was(drive: Any, away: Away) -> None:
    async with drive() as driver:
        await driver.keys("p", "a")
        await driver.to_machine("T01")
        await driver.keys("w")
        await driver.answer_right()
        walk = driver.app.screen
        asked = walk.question
        with away():
            await driver.answer_right()
            await driver.keys("s", "t", "f")
            walk._look()
            driver.expect(WalkRound)
            assert walk.question == asked
        await driver.answer_right()
        assert walk.question != asked


async def test_a_file_that_was_replaced_is_told_where_only_looked_at(drive: Any, register: Any) -> None:
    async with drive() as driver:
        yard = driver.app.screen
        register.path.rename(register.path.with_suffix(".away"))
        yard._look()
        assert "taken away or replaced" in told(driver)
        register.path.with_suffix(".away").rename(register.path)
        looked(yard)
        assert told(driver) == ""


@pytest.mark.parametrize(("keys", "what"), [("d", "hose: cut"), ("b", "cut"), ("k", "cut")])
async def test_a_list_that_could_not_be_read_anew_is_read_again_once_it_can_be(
    drive: Any, register: Any, keys: str, what: str, screen_text: Any
) -> None:
    """It took what had been written as shown already, and said no more that it was of before."""
    asked = register.db.execute_sql

    def fails(sql: str, *words: Any, **named: Any) -> Any:
        if "SELECT" not in sql:
            return asked(sql, *words, **named)
        why = sqlite3.OperationalError("disk I/O error")
        why.sqlite_errorname = "SQLITE_IOERR"
        raise why

    async with drive(size=(120, 40)) as driver:
        await driver.keys("p", "a")
        await driver.to_machine("T01")
        await driver.keys(keys)
        fault = e.Fault(part="hose", says="cut", holds="run", retest="dry")
        with open_writer(register.path) as other:
            other.add(fault, machine=other.machine_id("T01"), by="Marta", now=driver.clock.now)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(register.db, "execute_sql", fails)
            driver.app.screen._look()
            assert "disk" in told(driver)
        looked(driver.app.screen)
        await driver.pilot.pause()
        assert told(driver) == ""
        assert what in screen_text(driver.app)
