"""The yard: one place at a time, a state said once, and notes for the next person."""

from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.tui.screens.checks.walk import WalkRound
from reelcare.tui.screens.yard import Yard
from reelcare.tui.widgets.inputs.dialogs import Confirm
from reelcare.tui.widgets.rows import Rows
from tests.register.conftest import entries


async def test_one_key_shows_one_place_after_the_other_then_all(drive: Any, screen_text: Any) -> None:
    async with drive() as driver:
        yard = driver.app.screen
        every = {one.tag: one.place for one in yard.every}
        for place in sorted(set(every.values())):
            await driver.keys("v")
            assert [every[one.tag] for one in yard.machines] == [place] * len(yard.machines)
            assert f"Yard  {len(yard.machines)} of {len(every)}, {place}" in screen_text(driver.app)
        await driver.keys("v")
        assert len(yard.machines) == len(every)
        assert "all places" in screen_text(driver.app)


async def test_a_state_is_said_once_and_its_sign_in_each_row(drive: Any) -> None:
    async with drive() as driver:
        rows = driver.app.screen.query_one(Rows)
        told = [rows.row(place)[1].text for place in range(rows.count)]
        states = [one.judged.standing.run for one in driver.app.screen.machines]
        for place, (text, word) in enumerate(zip(told, states, strict=True)):
            is_first = place == 0 or states[place - 1] != word
            assert (word in text) is is_first
            assert text.split(" ")[0] in "■◊○"


@pytest.mark.long
async def test_a_note_is_shown_to_the_next_person_and_is_read_with_that(
    drive: Any, register: Any, screen_text: Any
) -> None:
    machine = register.machine_id("T01")
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.keys("e")
        await driver.type("gate code 4711")
        await driver.keys("enter")
        driver.expect(Yard)
        assert "gate code 4711" in screen_text(driver.app)  # a line in the yard
        await driver.keys("w")
        driver.expect(Confirm)
        assert "gate code 4711" in screen_text(driver.app)
        await driver.keys("n")  # not now: it stays
        driver.expect(Yard)
        assert len(register.state(machine).notes) == 1
        await driver.keys("w", "y")
        driver.expect(WalkRound)
        assert register.state(machine).notes == ()


async def test_a_near_miss_goes_to_the_supervisor_and_stops_nobody(drive: Any, register: Any) -> None:
    machine = register.machine_id("T01")
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.keys("x")
        await driver.type("hose whipped")
        await driver.keys("enter", "w")
        driver.expect(WalkRound)
        [note] = register.state(machine).notes
        assert (note.says, note.near_miss) == ("hose whipped", True)
        [kept] = entries(register, "kind = 'note' ORDER BY number DESC LIMIT 1")
        assert isinstance(kept.what, e.Noted)
