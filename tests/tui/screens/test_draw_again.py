"""What a terminal has lost is drawn again, by its key and after the program was stopped."""

from collections.abc import Callable
from typing import Any

import pytest
from textual.driver import Driver
from textual.drivers.headless_driver import HeadlessDriver

from reelcare.tui.app import Reelcare
from tests.tui.emulator import Emulator
from tests.tui.screens.conftest import Clock

pytestmark = pytest.mark.long


class Shown(HeadlessDriver):
    """A driver whose text is shown on a terminal of the tests."""

    @property
    def is_headless(self) -> bool:
        """It is written to."""
        return False

    def start_application_mode(self) -> None:
        """Begin with an empty terminal."""
        self.terminal = Emulator(80, 24)
        super().start_application_mode()

    def write(self, data: str) -> None:
        """Show a text."""
        self.terminal.feed(data)

    def lose(self) -> None:
        """Something else stands on the terminal from now on."""
        self.terminal.feed("\x1b[2;2H\x1b[7;41m" + "lost " * 200 + "\x1b[m")


@pytest.fixture
def opened(register: Any, monkeypatch: pytest.MonkeyPatch) -> Callable[[], Reelcare]:
    """Makes an app that is shown on such a terminal."""
    monkeypatch.setattr("textual.drivers.headless_driver.HeadlessDriver", Shown)
    return lambda: Reelcare(register, clock=Clock())


@pytest.mark.parametrize("keys", [[], ["p"], ["slash", "T"], ["p", "b", "f"]], ids=["yard", "dialog", "find", "form"])
@pytest.mark.parametrize("how", ["key", "resumed"])
async def test_what_a_terminal_has_lost_is_drawn_again(
    opened: Callable[[], Reelcare], keys: list[str], how: str
) -> None:
    app = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press(*keys)
        await pilot.pause()
        driver = app._driver
        assert isinstance(driver, Shown)
        before = driver.terminal.seen()[0]
        driver.lose()
        assert driver.terminal.seen()[0] != before
        if how == "key":
            await pilot.press("ctrl+l")
        else:  # what the driver tells once the program goes on after it was stopped
            app.post_message(Driver.SignalResume())
        await pilot.pause()
        assert driver.terminal.seen()[0] == before
