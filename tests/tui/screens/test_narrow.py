"""In windows narrower and lower than the app is made for, each screen opens, shows something, and is left."""

import re
from typing import Any

import pytest

from reelcare.tui.widgets.drawings.machine_plan import MachinePlan
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


async def test_in_sixty_columns_the_card_has_its_values_beside_their_names_and_no_drawing(
    drive: Any, screen_text: Any
) -> None:
    async with drive(size=(60, 18)) as driver:
        await to(driver, "T01", "a", "c")
        assert re.search(r"hose length +380 m", screen_text(driver.app))
        assert not driver.app.screen.query_one(MachinePlan).display


async def test_what_is_told_beside_a_stop_ends_at_a_comma_where_not_all_has_room(drive: Any, screen_text: Any) -> None:
    async with drive(size=(60, 18)) as driver:
        await to(driver, "T01", "a", "exclamation_mark")
        assert "Pump off first, then the valve …" in screen_text(driver.app)


async def open_the_check(driver: Any) -> Any:
    await driver.keys("p", "c")
    await driver.to_machine("T01")
    await driver.keys("w")
    return driver.app.screen


async def test_the_drawing_gives_way_where_not_all_answers_have_room_and_comes_back(
    drive: Any, screen_text: Any
) -> None:
    """At 80x24 the third answer of the first question, in Spanish, stood below the edge."""
    async with drive(size=(80, 24), language="es") as driver:
        screen = await open_the_check(driver)
        first, second = screen.going.walk.sheet.questions[:2]
        assert screen.question.id == first.id
        shown = " ".join(screen_text(driver.app).split())
        for choice in first.choices:
            assert choice.says["es"] in shown
        assert not screen.query_one("#plan").display
        await driver.answer_right()
        assert screen.question.id == second.id
        await driver.pilot.pause()
        assert screen.query_one("#plan").display


@pytest.mark.parametrize(
    ("size", "language"),
    [
        ((60, 20), "en"),
        pytest.param((60, 20), "fr", marks=pytest.mark.long),
        pytest.param((80, 24), "en", marks=pytest.mark.long),
    ],
)
async def test_the_drawing_gives_way_to_the_answers_from_question_to_question(
    drive: Any, size: tuple[int, int], language: str
) -> None:
    """What is told of the answer before took room, too: the last answers of the next question stood below the edge."""
    async with drive(size=size, language=language) as driver:
        screen = await open_the_check(driver)
        await driver.keys("enter")
        for _ in range(7 if language == "en" else 14):
            await driver.answer_right()
            await driver.pilot.pause()
            assert screen.panel.all_in_sight, screen.question.id


async def test_in_a_narrow_window_the_standing_line_takes_two_rows_before_its_reason_is_cut(
    drive: Any, screen_text: Any
) -> None:
    """In French at 60 columns it said *peut …*: *may …*."""
    async with drive(size=(60, 20), language="fr") as driver:
        await open_the_check(driver)
        await driver.keys("enter")
        await driver.answer_gate()
        await driver.keys("s")
        shown = " ".join(screen_text(driver.app).split())
        assert "peut dérouler, pas encore ouvrir l'eau" in shown
        assert "Prend fin par avant démarrage" in shown


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ("w", "pre-start of 2026-06-27 no longer counts after the run"),
        ("of", "no valid road check   Ends by road"),
    ],
    ids=["pre-start", "road check"],
)
async def test_both_rows_are_there_as_the_check_opens(drive: Any, screen_text: Any, keys: str, says: str) -> None:
    """On the page before a gate, and of a road check, the reason was cut in the first row, with the second one free."""
    async with drive(size=(60, 20)) as driver:
        await to(driver, "T01", "c")
        for key in keys:
            await driver.pilot.press(key)
        await driver.pilot.pause()
        rows = screen_text(driver.app).splitlines()[1:3]
        assert says in re.sub(r"(?<=\S) *\n *", " ", "\n".join(rows)).strip()


async def test_as_a_check_is_come_back_to_its_words_have_the_narrow_window_to_themselves(drive: Any) -> None:
    """The drawing stood beside them in sixty columns: a screen that opens is laid out before it has its class."""
    async with drive(size=(60, 20)) as driver:
        screen = await open_the_check(driver)
        await driver.answer_right()
        screen.remove_class("-tiny")
        screen._share_room()
        assert not screen.query_one("#plan").display


async def test_arrows_bring_what_has_no_room_of_a_question_into_sight(drive: Any, screen_text: Any) -> None:
    async with drive(size=(60, 20)) as driver:
        await open_the_check(driver)
        await driver.keys("enter")
        assert "STOP QUESTION" not in screen_text(driver.app)
        await driver.keys("down", "down", "down")
        assert "STOP QUESTION" in screen_text(driver.app)
        await driver.keys("up", "up", "up")
        assert "CAUTION" in screen_text(driver.app)


@pytest.mark.long
@pytest.mark.parametrize("language", ["en", "es", "fr"])
async def test_every_question_of_the_pre_start_has_caution_and_answers_in_sight(drive: Any, language: str) -> None:
    async with drive(size=(80, 24), language=language) as driver:
        screen = await open_the_check(driver)
        for question in screen.going.walk.sheet.questions:
            screen.show(question)
            await driver.pilot.pause()
            if screen.opening:  # the page before a gate
                await driver.keys("enter")
                screen.show(question)
                await driver.pilot.pause()
            assert screen.panel.all_in_sight, question.id


@pytest.mark.parametrize(
    ("keys", "line"), [(("f",), "retest"), (("r",), "notes"), (("s",), "hydrant")], ids=["fault", "run", "set-up"]
)
async def test_the_line_that_is_written_on_stays_in_sight_as_the_window_shrinks(
    drive: Any, screen_text: Any, keys: tuple[str, ...], line: str
) -> None:
    async with drive(size=(200, 50)) as driver:
        await to(driver, "T01", "c", *keys)
        written = driver.app.screen.query_one(f"#{line}")
        written.focus()
        await driver.type("zxq")
        for size in ((40, 12), (80, 24), (40, 12), (200, 50), (80, 24)):
            await driver.pilot.resize_terminal(*size)
            await driver.pilot.pause()
            assert "zxq" in screen_text(driver.app), f"not in sight at {size}"
            assert driver.app.focused is written


@pytest.mark.parametrize(("typed", "sees"), [("", "CAUTION"), ("7", " 7 ")], ids=["nothing", "a figure"])
async def test_as_the_window_shrinks_the_figure_stays_in_sight_that_is_typed_else_the_caution(
    drive: Any, screen_text: Any, typed: str, sees: str
) -> None:
    async with drive(size=(80, 24)) as driver:
        await open_the_check(driver)
        await driver.walk_to("inlet")
        await driver.type(typed)
        for size in ((40, 12), (200, 50), (40, 12)):
            await driver.pilot.resize_terminal(*size)
            await driver.pilot.pause()
            assert any(sees in one for one in screen_text(driver.app).splitlines()[3:-2])
            assert driver.app.screen.panel.typed == typed
