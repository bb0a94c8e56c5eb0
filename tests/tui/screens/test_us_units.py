"""What screens say to somebody who reads feet: why a machine stands as it does, by metres too."""

import re
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from textual.widgets import Input

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.register.acts import people
from reelcare.register.opening import open_writer
from reelcare.register.writing.writer import Writer
from reelcare.tui import requests
from reelcare.tui.app import Reelcare
from reelcare.tui.preferences import Preferences
from reelcare.tui.screens.machine import counters
from tests.estates import NOW
from tests.tui.screens.conftest import Clock, Driver

PLAN = {"id": "mine", "items": [
    {"id": "guide", "what": "Look at the guide screw", "part": "level wind", "every": {"metres": 200}, "grace": 0,
     "stop": True},
]}  # fmt: skip


async def test_a_hold_by_metres_is_told_in_feet(tmp_path: Path, screen_text: Callable[[Any], str]) -> None:
    """The yard, the line under its list and the head of every screen said metres to everybody."""
    ago = NOW - timedelta(days=9)
    with open_writer(tmp_path / "one.db") as register:
        people.enrol(register, "Marta", "supervisor", by="Marta", now=ago)
        card = {"tag": "T01", "name": "Long Reach", "place": "North Field", "in_use_since": ago.date().isoformat()}
        machine = register.add(e.Carded(card=card), by="Marta", now=ago).machine
        register.add(e.Planned(plan=PLAN), machine=machine, by="Marta", now=ago)
        register.add(e.Service(item="guide"), machine=machine, by="Marta", now=NOW, happened=ago + timedelta(hours=1))
        run = e.Run(started=NOW - timedelta(days=2), ended=NOW - timedelta(days=1, hours=12), metres=300_000)
        register.add(run, machine=machine, by="Marta", now=NOW, happened=run.ended)
        app = Reelcare(register, preferences=Preferences(system="us"), clock=(clock := Clock()))
        async with app.run_test(size=(120, 40)) as pilot:
            for _ in range(3):
                await pilot.pause()
            driver = Driver(app, pilot, clock)
            for keys in ((), ("b",), ("escape", "w"), ("escape",)):
                await driver.keys(*keys)
                told = screen_text(driver.app)
                assert "328 ft" in told, keys
                assert "100 m" not in told, keys
            await driver.keys("b", "u")
            told = screen_text(driver.app)
            assert "100 m" in told
            assert "328 ft" not in told


def hints(driver: Driver) -> str:
    return "; ".join(one.placeholder for one in driver.app.screen.query(Input))


async def test_hints_of_forms_are_in_the_units_that_a_bare_figure_is_read_in(register: Writer) -> None:
    """A line that said *420 m3* took 420 for acre-inches where US units are shown."""
    app = Reelcare(register, preferences=Preferences(system="us"), clock=(clock := Clock()))
    metric = re.compile(r"\d (m|mm|m3|m³|bar|m/h|m3/h|m³/h)\b")
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        driver = Driver(app, pilot, clock)
        await driver.to_machine("T01")
        machine = driver.app.screen.machine  # type: ignore[attr-defined]
        found = ""
        for request in (
            requests.LogRun(machine),
            *(requests.Measure(machine, what) for what in ("drum", "gun", "cans")),
            requests.ChangeLane("North Field"), requests.ChangeAllowed("North Field"),
        ):  # fmt: skip
            app.push_screen(app.screen_for(request))
            await pilot.pause()
            found += (told := hints(driver))
            assert told
            assert not metric.search(told), request
            app.pop_screen()
            await pilot.pause()
    assert all(
        one in found for one in ("1050 ft", "72 ft/h", "94 psi", "4.09 acre-in", "24 = 453 ft", "189 gpm @ 65 psi")
    )


@pytest.mark.parametrize(("system", "shown", "past"), [
    ("metric", 99_000_000, 100_000_000), ("us", 99_000 * 304.8, 100_000 * 304.8),
    ("us", 100_000_000, 1_000_000 * 304.8),
])  # fmt: skip
def test_a_counter_of_feet_begins_again_after_a_figure_of_feet(system: units.System, shown: float, past: float) -> None:
    """It was taken to begin again at a power of ten of metres, which counted thousands of metres that nobody ran."""
    assert counters.rolls_at(e.Reading(counter="metres", value=5000), round(shown), system) == round(past)
