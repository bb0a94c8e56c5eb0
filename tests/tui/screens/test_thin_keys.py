"""Whatever is pressed, a thin line shows what any other would show; and what it lost comes back."""

import random
from collections.abc import Callable
from typing import Any

import pytest
from textual.driver import Driver

from reelcare.tui.app import Manner, Reelcare
from tests.tui.screens.conftest import Clock
from tests.tui.thin.shown import Shown

KEYS = (
    *("down", "down", "up", "pagedown", "pageup", "home", "end", "left", "right", "tab", "shift+tab", "enter"),
    *("escape", "escape", "escape", "backspace", "slash", "question_mark", "ctrl+l", "space", "0", "4"),
    *"abcdefghiklmnoprstuwxTé水",
)
"""None that leaves the app: so not q, and not the command palette, which can choose that too."""
SIZES = ((80, 24), (120, 40), (61, 20), (100, 30))


@pytest.fixture
def opened(register: Any, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Reelcare]:
    """Makes an app that is shown on two terminals."""
    monkeypatch.setattr("textual.drivers.headless_driver.HeadlessDriver", Shown)
    return lambda **manner: Reelcare(register, manner=Manner(**manner), clock=Clock())


@pytest.mark.parametrize(
    ("seed", "keys"), [(0, 40), (1, 40), *(pytest.param(seed, 120, marks=pytest.mark.long) for seed in range(12))]
)
async def test_whatever_is_pressed_both_show_the_same(opened: Callable[..., Reelcare], seed: int, keys: int) -> None:
    chance = random.Random(seed)
    app = opened(slow=True)
    async with app.run_test(size=SIZES[seed % 2], notifications=True, tooltips=True) as pilot:
        await pilot.pause()
        pressed: list[Any] = []
        for _ in range(keys):
            pressed.append(chance.choice(KEYS) if chance.random() > 0.03 else chance.choice(SIZES))
            if isinstance(pressed[-1], str):
                await pilot.press(pressed[-1])
            else:
                await pilot.resize_terminal(*pressed[-1])
            await pilot.pause()
            driver = app._driver
            assert isinstance(driver, Shown)
            assert driver.differs is None, pressed
        assert driver.texts > len(pressed) // 2  # it was written to


@pytest.mark.parametrize("keys", [[], ["p"], ["slash", "T"], ["p", "b", "f"]], ids=["yard", "dialog", "find", "form"])
@pytest.mark.parametrize("how", ["key", "resumed"])
async def test_what_a_terminal_has_lost_is_drawn_again(
    opened: Callable[..., Reelcare], keys: list[str], how: str
) -> None:
    app = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press(*keys)
        await pilot.pause()
        driver = app._driver
        assert isinstance(driver, Shown)
        before = driver.whole.seen()[0]
        driver.lose()
        assert driver.thin.seen()[0] != before
        if how == "key":
            await pilot.press("ctrl+l")
        else:  # what the driver tells once the program goes on after it was stopped
            app.post_message(Driver.SignalResume())
        await pilot.pause()
        assert driver.whole.seen()[0] == before
        assert driver.thin.seen()[0] == before
