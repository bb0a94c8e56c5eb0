"""`l` changes the language of all of a screen, an open check too."""

from typing import Any

import pytest

from reelcare import languages
from reelcare.core.text import _
from tests.tui.screens import test_pictures


@pytest.mark.long
async def test_an_open_check_is_asked_on_in_the_other_language(drive: Any, screen_text: Any) -> None:
    async with drive(size=(120, 40)) as driver:
        await test_pictures.walk_question(driver)
        english = screen_text(driver.app)
        question = driver.app.screen.question
        await driver.keys("l")
        await driver.pilot.pause()
        spanish = screen_text(driver.app)
        assert driver.app.screen.question == question
        assert question.ask["es"][:12] in spanish
        assert question.ask["en"][:12] in english
        assert question.ask["en"][:12] not in spanish
        assert "Nota" in spanish
        assert "CUIDADO" in spanish
        await driver.keys("l")
        assert question.ask["en"][:12] in screen_text(driver.app)


async def test_a_list_changes_its_heads_its_states_and_its_keys(drive: Any, screen_text: Any) -> None:
    async with drive(size=(120, 40)) as driver:
        await driver.keys("l")
        await driver.pilot.pause()
        shown = screen_text(driver.app)
        languages.install("es")
        for text in ("machine", "place", "held", "Bench"):
            assert _(text) in shown
            assert _(text) != text
        assert "Yard" not in shown
        assert "machines" not in shown
