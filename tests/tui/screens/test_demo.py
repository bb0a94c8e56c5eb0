"""The head of every screen says where the register is a demo."""

from typing import Any

import pytest

from reelcare.register.demo import mark_as_demo


@pytest.mark.parametrize("screens", ["d", pytest.param("btcksf", marks=pytest.mark.long)])
async def test_every_screen_says_demo(drive: Any, register: Any, screen_text: Any, screens: str) -> None:
    async with drive() as driver:
        assert "DEMO" not in screen_text(driver.app)
    mark_as_demo(register)
    async with drive() as driver:
        await driver.keys("p", "a")
        heads = [screen_text(driver.app).splitlines()[0]]
        for keys in screens:
            await driver.keys(keys)
            heads.append(screen_text(driver.app).splitlines()[0])
            await driver.keys("escape", "y") if keys == "f" else await driver.keys("escape")
        assert all(one.strip().startswith("DEMO ") for one in heads), heads
        assert all(len(one.rstrip()) <= 80 for one in heads)
        # and the first line that is seen says how to begin a register of one's own
        assert "reelcare begin" in heads[0] or "start.py begin" in heads[0]
