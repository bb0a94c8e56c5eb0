"""A person with a PIN is asked for it when they say who they are, and for nothing more."""

from datetime import timedelta
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register.integrity import pins
from reelcare.tui.screens.yard import Yard
from reelcare.tui.widgets.inputs.people import PinDialog
from tests.register.conftest import newest


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pins, "WAY", "scrypt:16:8:1")


async def test_the_pin_is_asked_until_it_is_right(drive: Any, register: Any) -> None:
    register.give_pin("Ines", "739104", by="Ines")
    async with drive() as driver:
        await driver.keys("p", "c")
        driver.expect(PinDialog)
        await driver.type("000001")
        await driver.keys("enter")
        driver.expect(PinDialog)
        assert driver.app.person == ""
        await driver.type("739104")
        await driver.keys("enter")
        driver.expect(Yard)
        assert driver.app.person == "Ines"
        # who is at the terminal now signs; another one has to be asked again
        machine = register.machine_id("T01")
        register.add(e.Fault(part="hose", says="scuffed"), machine=machine, by="Ines", now=driver.clock.now)
        await driver.keys("p", "d")
        assert driver.app.person == "Aldo"
        await driver.keys("p", "c")
        driver.expect(PinDialog)
        await driver.keys("escape")
        assert driver.app.person == "Aldo"


@pytest.mark.long
async def test_a_pin_that_was_given_meanwhile_is_asked_and_what_was_typed_stays(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c")
        register.give_pin("Ines", "739104", by="Ines")
        register.signed.clear()
        await driver.keys("f")
        await driver.type("hose")
        await driver.keys("down")
        await driver.type("scuffed")
        await driver.keys("ctrl+y", "n", "ctrl+y", "ctrl+y")
        driver.expect(PinDialog)
        await driver.type("739104")
        await driver.keys("enter", "ctrl+y")
        driver.expect(Yard)
        assert newest(register, e.Fault).says == "scuffed"


async def test_a_pin_that_came_too_soon_is_not_called_wrong(drive: Any, register: Any, screen_text: Any) -> None:
    register.give_pin("Ines", "739104", by="Ines")
    async with drive() as driver:
        for hour in range(pins.FREE + 5):
            pins.count_try(register.db, "Ines", driver.clock.now + timedelta(hours=hour))
        await driver.keys("p", "c")
        await driver.type("739104")
        await driver.keys("enter")
        driver.expect(PinDialog)
        assert "✗ wait " in screen_text(driver.app)
        assert "wrong" not in screen_text(driver.app)


async def test_the_pin_is_not_on_the_screen(drive: Any, register: Any) -> None:
    register.give_pin("Ines", "739104", by="Ines")
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.type("739104")
        assert "739104" not in driver.app.export_screenshot()
