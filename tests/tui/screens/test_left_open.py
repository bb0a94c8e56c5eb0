"""A list that is left open goes by what another program writes, and by the day."""

from datetime import timedelta
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register.opening import open_writer
from reelcare.tui.screens.evidence.failures import Failures
from reelcare.tui.screens.evidence.marks import Marks
from reelcare.tui.screens.evidence.signals import Signals
from reelcare.tui.screens.machine.book import Book
from reelcare.tui.screens.work.night import NightScreen
from reelcare.tui.screens.work.weeks import Weeks
from reelcare.tui.widgets.rows import Rows

BROKEN = e.Fault(part="pawl", says="spring gone", holds="both", retest="look")


def write_elsewhere(driver: Any, register: Any, what: e.Kind) -> None:
    with open_writer(register.path) as other:
        other.add(what, machine=other.machine_id("T01"), by="Ines", now=driver.clock())


async def test_the_book_shows_what_another_program_writes_with_the_cursor_on_its_entry(
    drive: Any, register: Any
) -> None:
    async with drive() as driver:
        await driver.to_machine("T01")
        await driver.keys("k", "down", "down")
        driver.expect(Book)
        shown = driver.app.screen
        here, many = shown.line.entry.id, len(shown.lines)
        write_elsewhere(driver, register, BROKEN)
        shown._look()
        assert len(shown.lines) == many + 1
        assert shown.lines[0].entry.what == BROKEN
        assert shown.line.entry.id == here


@pytest.mark.parametrize(
    ("keys", "screen", "is_in_it"),
    [(("d", "v"), Weeks, True), (("i", "f"), Failures, True), (("i",), Signals, False), (("m",), Marks, False),
     (("n",), NightScreen, False)],
)  # fmt: skip
async def test_a_list_over_machines_is_read_anew_for_another_program_and_another_day(
    drive: Any, register: Any, monkeypatch: pytest.MonkeyPatch, keys: tuple[str, ...], screen: type, is_in_it: bool
) -> None:
    async with drive() as driver:
        await driver.keys("p", "a", *keys)
        driver.expect(screen)
        shown, filled = driver.app.screen, list[object]()
        rows = shown.query_one(Rows)

        def told() -> list[list[str]]:
            return [[str(cell.text) for cell in rows.row(place)] for place in range(rows.count)]

        before = told()

        def fill() -> None:
            filled.append(driver.clock.now)
            screen.fill(shown)  # type: ignore[attr-defined]

        monkeypatch.setattr(shown, "fill", fill)
        write_elsewhere(driver, register, BROKEN)
        shown._look()
        assert len(filled) == 1
        assert (told() != before) is is_in_it
        driver.clock.now += timedelta(minutes=1)
        shown._look()
        assert len(filled) == 1, "a minute alone changes nothing in it"
        driver.clock.now += timedelta(days=1)
        shown._look()
        assert len(filled) == 2


async def test_the_cursor_stays_on_its_line_whatever_others_write_while_another_screen_is_open(
    drive: Any, register: Any
) -> None:
    async with drive() as driver:
        await driver.keys("p", "b")
        await driver.to_machine("T01")
        await driver.keys("b")
        await driver.to_line("Chain")
        bench = driver.app.screen
        here = bench.row_id(bench.query_one(Rows).cursor)
        await driver.keys("question_mark")
        write_elsewhere(driver, register, BROKEN)
        await driver.keys("escape")
        assert bench.row_id(bench.query_one(Rows).cursor) == here
        write_elsewhere(driver, register, e.Fault(part="hose", says="cut", holds="both", retest="look"))
        await driver.keys("l")
        assert bench.row_id(bench.query_one(Rows).cursor) == here


@pytest.mark.parametrize("keys", [(), ("k",)], ids=["in the yard", "on another screen"])
async def test_a_machine_that_left_the_yard_under_the_cursor_is_told(
    drive: Any, register: Any, keys: tuple[str, ...]
) -> None:
    async with drive() as driver:
        await driver.to_machine("B05")
        yard = driver.app.screen
        await driver.keys(*keys)
        with open_writer(register.path) as other:
            other.add(e.Retired(why="sold"), machine=other.machine_id("B05"), by="Marta", now=driver.clock())
        await driver.keys(*("escape" for _ in keys))
        yard._look()
        assert "B05 is no longer in this list" in driver.app.notice.says
