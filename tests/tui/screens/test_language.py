"""`l` changes the language of all of a screen, an open check too."""

from typing import Any

import pytest
from textual.widgets import Input

from reelcare import languages
from reelcare.core.text import _, plural
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
        assert "regulador de velocidad  mec" in screen_text(driver.app)


async def test_heads_follow_a_language_that_was_changed_on_another_screen(drive: Any, screen_text: Any) -> None:
    languages.install("es")
    async with drive(size=(80, 24), language="es") as driver:
        await driver.keys("p", "a", "t", "l", "escape")
        shown = screen_text(driver.app)
        for text in ("machine", "place"):
            assert _(text) in shown
        assert "lugar" not in shown
        # the pages of the first day are opened in French and Spanish, and read in English
        await driver.keys("h", "l")
        assert "there already" in screen_text(driver.app)
        await driver.keys("l", "enter", "l", "l")
        assert "signs with" in screen_text(driver.app)


async def test_an_item_is_named_in_the_language_where_it_stands_as_a_reason(drive: Any, screen_text: Any) -> None:
    async with drive(size=(80, 24), language="es") as driver:
        await test_pictures.to(driver, "T12", "a")
        shown = screen_text(driver.app)
        assert "que se sepa: Tornillos" in shown
        assert "Turntable" not in shown
        await driver.keys("w")
        assert "Turntable" not in screen_text(driver.app)


@pytest.mark.parametrize("language", ["es", "fr"])
async def test_no_word_of_a_list_is_cut_that_is_longer_in_another_language(
    drive: Any, screen_text: Any, language: str
) -> None:
    languages.install(language)
    async with drive(size=(80, 24), language=language) as driver:
        await test_pictures.to(driver, "T01", "a")
        await driver.keys("b")
        assert _("run {number}", number=154) in screen_text(driver.app)
        await driver.keys("escape", "k")
        shown = screen_text(driver.app)
        for kind in ("check begun", "check ended", "gate signed"):
            assert _(kind) in shown
        await driver.keys("escape", "i")
        assert _("gun pressure") in screen_text(driver.app)
        await driver.keys("escape", "c", "s")
        every = plural("{n} run", "{n} runs", 100) + _(" or ") + plural("{n} month", "{n} months", 12)
        shown = screen_text(driver.app)
        assert every in shown
        items = driver.app.screen.plan.items
        assert any(one.title(language).short in shown for one in items if len(one.title(language)) > 35)
