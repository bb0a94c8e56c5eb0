"""Colours of what has no picture of its own: dialogs, the framework's own list, what was told."""

from typing import Any

import pytest

from reelcare.register.writing.writer import Writer
from reelcare.tui.app import Reelcare
from reelcare.tui.theme import DUSK, NOON
from tests.tui import tour
from tests.tui.screens.conftest import Clock, Driver, all_colours_are_told
from tests.tui.test_theme import contrast


@pytest.mark.long
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


@pytest.mark.parametrize("theme", [DUSK, pytest.param(NOON, marks=pytest.mark.long)])
async def test_every_sign_of_a_form_its_hints_too_stands_off_its_ground(
    register: Writer, monkeypatch: pytest.MonkeyPatch, theme: str
) -> None:
    monkeypatch.setenv("REELCARE_THEME", "noon" if theme == NOON else "")
    clock = Clock()
    app = Reelcare(register, clock=clock)
    async with app.run_test(size=(80, 24)) as pilot:
        assert app.theme == theme
        driver = Driver(app, pilot, clock)
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.keys("f", "down")
        faint = [
            (segment.text, segment.style)
            for strip in app.screen._compositor.render_strips()
            for segment in strip
            if segment.text.strip(" ▁▂▃▄▅▆▇█▏▎▍▌▋▊▉")
            and segment.style
            and segment.style.color
            and segment.style.bgcolor
            and contrast(segment.style.color.get_truecolor().hex, segment.style.bgcolor.get_truecolor().hex) < 4.5
        ]
        assert not faint
