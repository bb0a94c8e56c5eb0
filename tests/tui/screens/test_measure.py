"""Readings on a machine, by keys: what they tell is shown, and kept only where that is said."""

from typing import Any

import pytest
from textual.widgets import Input

from reelcare.core import entries as e
from reelcare.core.hydraulics.drum import Wind
from reelcare.register.acts import sets
from reelcare.register.reading import yard
from reelcare.tui.screens.machine.card import CardPage
from reelcare.tui.screens.machine.measure import MeasureForm
from reelcare.tui.widgets.inputs.dialogs import Confirm
from reelcare.tui.widgets.key_line import KeyLine
from tests.register.conftest import entries, newest
from tests.tui.screens.test_pictures import to


async def begin(driver: Any, letter: str) -> None:
    """The form of one thing that is measured, as the mechanic opens it."""
    await to(driver, "T01", "b", "c", "m", letter)
    driver.expect(MeasureForm)
    keys = {one.keys: one.name for one in driver.app.screen.query_one(KeyLine).keys}
    assert keys["Ctrl Y"] == "Work it out", "nothing is signed by it yet"


async def test_a_mechanic_measures_the_gun_and_sets_go_by_it(drive: Any, register: Any, screen_text: Any) -> None:
    machine = register.machine_id("T01")
    async with drive() as driver:
        await begin(driver, "a")
        assert "CAUTION" in screen_text(driver.app)
        await driver.type("47 @ 4.6; 43 m3/h")
        await driver.keys("ctrl+y")
        assert "'43 m3/h': give flow and pressure" in " ".join(screen_text(driver.app).split())
        await driver.type(" @ 3.9 bar")
        await driver.keys("ctrl+y")
        driver.expect(Confirm)
        assert "discharge coefficient: 0.9" in screen_text(driver.app)
        await driver.keys("n")
        assert sets.figures_of(register, machine) == {}, "nothing is kept before that is said"
        await driver.keys("ctrl+y", "y")
        driver.expect(CardPage)
        assert driver.app.notice.says.startswith("T01, kept: discharge coefficient: 0.9")
        assert "discharge coefficient of the gun" in str(driver.app.screen.query_one("#particulars").render())
        [kept] = entries(register, "kind = 'measured' ORDER BY number DESC LIMIT 1")
        assert isinstance(kept.what, e.Measured)
        assert (kept.by, kept.what.about) == ("Tomas", "gun")
        assert sets.basis(register, machine).limits.discharge == pytest.approx(kept.what.figures["discharge"])


async def test_the_drum_is_fitted_to_its_own_readings(drive: Any, register: Any) -> None:
    card = register.card(register.machine_id("T01"))
    wind = Wind(1.58, card.hose.outside, card.drum.coils_per_layer, 0.91)
    async with drive() as driver:
        await begin(driver, "b")
        await driver.type("; ".join(f"{turns} = {wind.metres(turns):.2f}" for turns in (6, 18, 30, 42)))
        await driver.keys("ctrl+y", "y")
        driver.expect(CardPage)
    assert newest(register, e.Measured).figures["core_diameter"] == pytest.approx(1.58, abs=0.01)


async def test_cans_across_a_lane_settle_the_item_of_the_plan(drive: Any, register: Any, screen_text: Any) -> None:
    machine = register.machine_id("T01")

    def last_done(driver: Any) -> Any:
        dues = yard.machine_now(register, machine, driver.clock.now).dues
        return next(one.last_done for one in dues if one.item.id == "catch-can")

    async with drive() as driver:
        before = last_done(driver)
        await begin(driver, "c")
        await driver.type("9.4 8 5.9 2")
        await driver.keys("down")
        await driver.type("9 8.2 5.5 1")
        await driver.keys("ctrl+y")
        assert "needed to work it out" in screen_text(driver.app)
        await driver.type("5")
        await driver.keys("down", "down")
        await driver.type("40")
        await driver.keys("ctrl+y")
        assert "uniformity (Christiansen)" in screen_text(driver.app)
        await driver.keys("y")
        assert last_done(driver) == driver.clock.now.date() != before


@pytest.mark.parametrize("letter", ["a", "b", "c"])
async def test_the_examples_in_the_lines_are_readings_that_can_be(drive: Any, letter: str) -> None:
    async with drive() as driver:
        await begin(driver, letter)
        names = {"a": ["readings"], "b": ["readings"], "c": ["left", "right", "step", "spacing"]}[letter]
        for name in names:
            line = driver.app.screen.query_one(f"#{name}", Input)
            line.value = line.placeholder
        found = driver.app.screen._work_out()
        assert found.figures.get("coefficient", 80) >= 80, "lanes so far apart leave half of the field dry"
