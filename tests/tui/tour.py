"""A way through all screens in a real terminal: `python -m tests.tui.tour REGISTER SEEN [ascii] [slow]`.

For each hand of the pictures, and a few more, a fresh app is opened on a copy of the register, and left. The names of
the screens that were shown are written into the file SEEN.
"""

import asyncio
import shutil
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import textual.app
import textual.pilot

from reelcare.register.opening import open_writer
from reelcare.tui import requests
from reelcare.tui.app import Reelcare
from reelcare.tui.preferences import Preferences
from reelcare.tui.screens import going_back
from reelcare.tui.screens.checks.debounce import Debounce
from reelcare.tui.screens.turn_to_write import WaitForTurn
from tests.tui.conftest import settled
from tests.tui.screens import test_pictures
from tests.tui.screens.conftest import Clock, Driver


@dataclass
class Tourist(Driver):
    """A driver that keeps which screens it was on."""

    seen: set[str] = field(default_factory=set)

    async def keys(self, *keys: str) -> None:
        """Press keys, and look around after each."""
        for key in keys:
            await super().keys(key)
            self.seen.add(type(self.app.screen).__name__)


async def choose(driver: Any) -> None:
    """Another sheet."""
    await test_pictures.to(driver, "T01", "c", "o")


async def ask(driver: Any) -> None:
    """Why an entry is taken back."""
    await test_pictures.book(driver)
    await driver.keys("x")


async def sign(driver: Any) -> None:
    """Who has a PIN."""
    driver.app.register.give_pin("Marta", "739104", by="Marta")
    await driver.keys("p", "a")


async def palette(driver: Any) -> None:
    """The framework's own list of all that can be done."""
    await driver.keys("ctrl+p", "r")


async def told(driver: Any) -> None:
    """What somebody typed, with signs of its own."""
    await driver.keys("slash")
    driver.app.tell("Cañón ▲ 水")
    await driver.pilot.pause()
    driver.app.refresh(repaint=True)  # whole, whatever of it stood there before
    await driver.pilot.pause(0.3)  # a terminal is drawn at its own pace
    await driver.type("t")


async def show(driver: Any, screen: Any) -> None:
    """A screen without the way to it, and back, where it does not go by itself."""
    driver.app.push_screen(screen)
    driver.seen.add(type(driver.app.screen).__name__)
    await driver.pilot.pause()
    if driver.app.screen is screen:
        driver.app.pop_screen()
        await driver.pilot.pause()


async def first_day(driver: Any) -> None:
    """All of the first day: people, machines, a spreadsheet, what was last done."""
    listed = Path(driver.app.register.path).with_name("machines.csv")
    listed.write_text("tag;hose length (m)\nX1;350\n", "utf-8")
    for request in (
        requests.OpenStart(), requests.OpenPeople(), requests.EnrolPerson(), requests.ChangeMachine(),
        requests.OpenPreview("machines", listed), requests.OpenLastDone(),
    ):  # fmt: skip
        await show(driver, driver.app.screen_for(request))


async def night(driver: Any) -> None:
    """The night of a place, its lanes, and their forms."""
    place = "North Field"
    for request in (
        requests.OpenNight("T01"), requests.OpenLanes(place), requests.ChangeLane(place), requests.ChangeAllowed(place),
    ):  # fmt: skip
        await show(driver, driver.app.screen_for(request))


async def waits(driver: Any) -> None:
    """What is waited for: a name here, another program, a register that goes back."""
    for screen in (
        driver.app.screen_for(requests.OpenWaiting()), WaitForTurn(driver.app.register), going_back.GoesBack(),
    ):  # fmt: skip
        await show(driver, screen)


async def paper(driver: Any) -> None:
    """A check that was filled in on paper."""
    await test_pictures.to(driver, "T01", "c")
    for key in ("w", "e"):  # the driver itself begins a gate
        await driver.pilot.press(key)
        await driver.pilot.pause()
        driver.seen.add(type(driver.app.screen).__name__)


async def measure(driver: Any) -> None:
    """Readings on a machine."""
    await test_pictures.to(driver, "T01", "b", "c", "m", "a")


OTHERS = [choose, ask, sign, palette, told, first_day, night, waits, paper, measure]
HANDS = [*test_pictures.LONG_WAY, *test_pictures.SHORT_WAY, *OTHERS]


def visit(path: Path, hand: Any, seen: set[str], preferences: Preferences) -> None:
    """One hand, on a copy of its own."""
    copy = path.with_name(f"{hand.__name__}.db")
    shutil.copy(path, copy)
    with open_writer(copy) as register:
        clock = Clock()
        app = Reelcare(register, preferences=preferences, clock=clock)

        async def walk(pilot: Any) -> None:
            await pilot.pause()
            driver = Tourist(app, pilot, clock)
            await hand(driver)
            seen.update(driver.seen)
            app.refresh(repaint=True, layout=True)
            await pilot.pause()
            app.exit()

        app.run(auto_pilot=walk)


def main() -> None:
    """Visit all."""
    textual.app.wait_for_idle = textual.pilot.wait_for_idle = settled  # type: ignore[attr-defined,assignment]
    Debounce.AFTER = Debounce.REPEAT = 0.0  # keys come faster here than from a hand
    path, seen = Path(sys.argv[1]), set[str]()
    preferences = Preferences(ascii="ascii" in sys.argv, slow="slow" in sys.argv)
    asyncio.set_event_loop(asyncio.new_event_loop())
    for hand in HANDS:
        visit(path, hand, seen, preferences)
    Path(sys.argv[2]).write_text("\n".join(sorted(seen)))


if __name__ == "__main__":
    main()
