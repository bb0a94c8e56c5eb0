"""`l` changes the language of all of a screen, an open check too."""

from typing import Any

import pytest
from textual.widgets import Input

from reelcare import languages
from reelcare.core.text import _
from tests.tui.screens import test_pictures


@pytest.mark.long
async def test_an_open_check_is_asked_on_in_each_other_language(drive: Any, screen_text: Any) -> None:
    said = {"es": ("Nota", "CUIDADO"), "fr": ("Note", "ATTENTION")}
    assert {"en", *said} == set(languages.LANGUAGES)
    async with drive(size=(120, 40)) as driver:
        await test_pictures.walk_question(driver)
        question = driver.app.screen.question
        assert question.ask["en"][:12] in screen_text(driver.app)
        for language, words in said.items():
            await driver.keys("l")
            await driver.pilot.pause()
            shown = screen_text(driver.app)
            assert driver.app.screen.question == question
            assert question.ask[language][:12] in shown
            assert question.ask["en"][:12] not in shown
            assert all(word in shown for word in words)
        await driver.keys("l")
        assert question.ask["en"][:12] in screen_text(driver.app)


@pytest.mark.parametrize(("language", "presses"), [("es", 1), pytest.param("fr", 2, marks=pytest.mark.long)])
async def test_a_list_changes_its_heads_its_states_and_its_keys(
    drive: Any, screen_text: Any, language: str, presses: int
) -> None:
    async with drive(size=(120, 40)) as driver:
        await driver.keys(*["l"] * presses)
        await driver.pilot.pause()
        shown = screen_text(driver.app)
        languages.install(language)
        for text in ("machine", "place", "held", "Bench"):
            assert _(text) in shown
        for text in ("place", "held", "Bench"):
            assert _(text) != text
        assert "Yard" not in shown
        assert "all places" not in shown


async def test_all_that_the_palette_offers_is_said_in_the_language(drive: Any) -> None:
    languages.install("es")
    async with drive(language="es") as driver:
        offered = [one.title for one in driver.app.get_system_commands(driver.app.screen)]
        assert "Colores" in offered
        assert not {"palette", "Theme", "Quit", "Keys", "Maximize", "Screenshot"} & set(offered)
        driver.app.action_command_palette()
        await driver.pilot.pause()
        assert driver.app.screen.query_one(Input).placeholder == "Buscar una orden ..."
        driver.app.pop_screen()
        driver.app.search_themes()
        await driver.pilot.pause()
        assert driver.app.screen.query_one(Input).placeholder == "Buscar colores ..."


async def test_a_long_label_of_a_card_does_not_run_into_its_value(drive: Any, screen_text: Any) -> None:
    languages.install("es")
    async with drive(size=(100, 40), language="es") as driver:
        await test_pictures.to(driver, "T01", "c", "c")
        assert "radio mínimo de manguera  no está" in screen_text(driver.app)
