"""Colours of what has no picture of its own: dialogs, the framework's own list, what was told."""

from typing import Any

import pytest

from reelcare.register.writing.writer import Writer
from reelcare.tui.app import Reelcare
from tests.tui import tour
from tests.tui.screens.conftest import Clock, Driver, all_colours_are_told


@pytest.mark.parametrize(
    "hand", [tour.choose, tour.ask, tour.sign, tour.palette, tour.told], ids=lambda hand: hand.__name__
)
async def test_no_sign_has_a_colour_that_each_terminal_has_another_for(register: Writer, hand: Any) -> None:
    clock = Clock()
    app = Reelcare(register, clock=clock)
    async with app.run_test(size=(80, 24)) as pilot:
        await hand(Driver(app, pilot, clock))
        await pilot.pause()
        all_colours_are_told(app)
