"""In windows narrower and lower than the app is made for, each screen opens, shows something, and is left."""

from typing import Any

import pytest

from tests.tui.screens.test_pictures import to

PAGES = {
    "who is there": ("p",), "keys": ("question_mark",), "work list": ("d",), "weeks": ("d", "v"), "signals": ("i",),
    "failures": ("i", "f"), "book": ("k",), "entry": ("k", "enter"), "bench": ("b",), "counters": ("b", "m"),
    "card": ("c",), "plan": ("c", "s"), "set-up": ("s",), "run": ("r",), "fault": ("f",), "walk-round": ("w",),
}  # fmt: skip
"""The keys from the yard to each page."""
SIZES = [(40, 12), pytest.param((20, 10), marks=pytest.mark.long)]


@pytest.mark.long
@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
async def test_every_page_opens_shows_something_and_is_left(drive: Any, screen_text: Any, size: Any) -> None:
    async with drive(size=size) as driver:
        await to(driver, "T01", "c")
        yard = driver.app.screen
        for name, keys in PAGES.items():
            await driver.keys(*keys)
            assert driver.app.screen is not yard, f"{name} did not open"
            lines = screen_text(driver.app).splitlines()
            assert sum(bool(line.strip()) for line in lines) >= 3, f"{name}: nothing but its frame"
            for _ in range(6):
                if driver.app.screen is yard:
                    break
                await driver.keys("escape")
            assert driver.app.screen is yard, f"{name} cannot be left"
