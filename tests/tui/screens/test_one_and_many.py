"""What lists and heads say of one machine, and of many, at 80 columns."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.opening import open_writer
from reelcare.register.writing.writer import Writer
from reelcare.tui import requests
from reelcare.tui.app import Reelcare
from reelcare.tui.screens.first_day.last_done import LastDonePage
from reelcare.tui.screens.work.bench import Bench
from reelcare.tui.screens.work.due import DueList
from reelcare.tui.screens.yard import Yard
from reelcare.tui.widgets.rows import Rows
from tests.estates import NOW
from tests.tui.screens.conftest import Clock


@pytest.fixture
def lone(tmp_path: Path) -> Iterator[Writer]:
    """A register of one machine, of which little is known."""
    with open_writer(tmp_path / "one.db") as register:
        people.enrol(register, "Marta", "supervisor", by="Marta", now=NOW)
        register.add(e.Carded(card={"tag": "T01"}), by="Marta", now=NOW)
        yield register


async def test_last_done_counts_one_machine_as_one(lone: Writer, screen_text: Callable[[Any], str]) -> None:
    app = Reelcare(lone, clock=Clock())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "T01  use not known, never checked" in screen_text(app)
        app.screen.open(requests.OpenLastDone())  # type: ignore[attr-defined]
        await pilot.pause()
        assert isinstance(app.screen, LastDonePage)
        assert str(app.screen.query_one("#standing", Static).render()).startswith("1 machine, ")


@pytest.mark.parametrize("language", ["en", "es", "fr"])
async def test_the_minutes_of_what_a_large_yard_is_asked_before_each_start_stand_whole(
    drive: Any, screen_text: Callable[[Any], str], language: str
) -> None:
    async with drive(size=(80, 24), language=language) as driver:
        await driver.keys("d")
        screen = driver.app.screen
        assert isinstance(screen, DueList)
        asked = [line for line in screen.all if not line.news and line.due.state == "due"]
        assert len(asked) > 1
        screen.found.lines[:] = [
            one._replace(item=replace(one.item, minutes=12_345 if one is asked[0] else 0)) for one in asked
        ]
        screen.apply_filter()
        await driver.pilot.pause()
        assert "12345" in screen_text(driver.app)


async def test_what_the_card_is_silent_of_is_called_as_on_its_page(
    lone: Writer, screen_text: Callable[[Any], str]
) -> None:
    app = Reelcare(lone, clock=Clock())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("s")
        await pilot.pause()
        assert "not known: metres left (needs hose length, pull-out)" in screen_text(app)
        await pilot.press("escape", "c", "m", "b")
        await pilot.pause()
        await pilot.press("1", "ctrl+y")
        await pilot.pause()
        assert "the card needs hose outside and coils in a layer" in " ".join(screen_text(app).split())


OF_A_ROW = {
    "d": ("due.do_it", "due.tick", "due.give", "due.bench"),
    "dv": ("weeks.bench",),
    "i": ("signals.bench", "signals.put"),
}
"""The keys from the yard to a list, and what it offers where it has a row."""


async def test_an_empty_list_offers_no_key_that_needs_a_row_and_none_is_silent(
    drive: Any, tmp_path: Path, screen_text: Callable[[Any], str]
) -> None:
    def offered(app: Any) -> set[str | None]:
        return {one.binding.id for one in app.screen.active_bindings.values()}

    async with drive() as driver:
        for way, ids in OF_A_ROW.items():
            await driver.keys(*way)
            assert set(ids) <= offered(driver.app)
            await driver.keys(*["escape"] * len(way))
    with open_writer(tmp_path / "none.db") as register:
        people.enrol(register, "Marta", "supervisor", by="Marta", now=NOW)
        app = Reelcare(register, clock=Clock())
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            while not isinstance(app.screen, Yard):
                await pilot.press("escape")
            for way, ids in OF_A_ROW.items():
                await pilot.press(*way)
                await pilot.pause()
                assert not set(ids) & offered(app)
                for key in ("a", "t") if "d" in way else ():
                    app.clear_notice()
                    await pilot.press(key)
                    await pilot.pause()
                    assert "✗ Nothing to do in this time." in screen_text(app)
                await pilot.press(*["escape"] * len(way))


async def test_enter_on_a_week_leads_to_its_first_visit(drive: Any) -> None:
    async with drive() as driver:
        await driver.keys("d", "v")
        screen = driver.app.screen
        assert screen.shown[0][1] is None
        await driver.keys("enter")
        assert driver.app.screen is screen
        assert screen.query_one(Rows).cursor == 1
        await driver.keys("enter")
        driver.expect(Bench)


async def test_of_a_row_with_what_the_pre_start_asks_the_rest_can_be_given_out(drive: Any, register: Any) -> None:
    """All that a new machine was never done went without a box, as the walk-round is among it."""
    card = {"tag": "A1", "in_use_since": "2020-01-01"}
    new = register.add(e.Carded(card=card), by="Marta", now=NOW).machine
    async with drive(size=(100, 40)) as driver:
        await driver.keys("p", "a", "d")
        screen = driver.app.screen
        rows = screen.query_one(Rows)
        await driver.keys("home")
        while not (row := screen._row_here()) or row.first.machine != new:
            await driver.keys("down")
        asked = {line.item.id for line in row.lines if line.item.each_time}
        assert asked
        assert rows.row(rows.cursor)[0].text == "[ ]"
        await driver.keys("space", "g", "b", "a")
        given = {line.item.id for line in screen.all if line.machine == new and line.given is not None}
        assert given == {line.item.id for line in row.lines} - asked


async def test_the_work_list_and_the_repair_say_since_when_a_machine_is_held_and_by_whom(
    drive: Any, screen_text: Any
) -> None:
    """That was told by the book of the machine alone."""
    async with drive(size=(100, 40)) as driver:
        await driver.keys("p", "a", "d")
        await driver.to_line("end stop")
        assert "noted 2026-" in str(driver.app.screen.query_one("#along").render())
        await driver.keys("p", "b", "enter")
        fault = driver.app.screen.fault
        assert f"by {fault.by}" in screen_text(driver.app)
