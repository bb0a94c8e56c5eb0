"""Dialogs whose text is longer than the window: all of it can be read, and what answers it is in sight."""

import re
from typing import Any

import pytest
from textual.events import Paste

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.tui.requests import AskChoice, AskText, AskYesNo
from reelcare.tui.screens.yard import Yard
from reelcare.tui.widgets.inputs.dialogs import Confirm
from reelcare.tui.widgets.inputs.fields import PastingInput
from tests.register.conftest import sql
from tests.tui.screens.test_pictures import to

LONG = " ".join(f"word{number}" for number in range(200)) + " valve sticks"
SIZES = pytest.mark.parametrize("size", [(80, 24), (40, 12)], ids=lambda size: f"{size[0]}x{size[1]}")


def words(app: Any, screen_text: Any) -> list[str]:
    """What stands on the screen, without frames and bars."""
    return re.sub("[│▁-█]", " ", screen_text(app)).split()


@SIZES
async def test_a_note_longer_than_the_window_is_read_to_its_end_before_it_counts_as_read(
    drive: Any, register: Any, screen_text: Any, size: tuple[int, int]
) -> None:
    async with drive(size=size) as driver:
        register.add(e.Noted(says=LONG), machine=register.machine_id("T01"), by="Marta", now=driver.clock())
        await to(driver, "T01", "c", "w")
        driver.expect(Confirm)
        seen: list[str] = []
        for _ in range(200):
            shown = words(driver.app, screen_text)
            assert "begin" in shown, "what answers is in sight with every part of it"
            seen += [one for one in shown if one not in seen]
            if "sticks" in shown:
                break
            await driver.keys("y")
            driver.expect(Confirm)
        assert set(LONG.split()) <= set(seen)
        assert not sql(register.db, "SELECT count(*) FROM entry WHERE kind = 'note read'")[0][0]
        await driver.keys("y")
        assert not isinstance(driver.app.screen, Confirm)


@SIZES
@pytest.mark.parametrize(
    ("request_", "answers"),
    [
        (AskYesNo("Sure?", (LONG,)), "no,"), (AskText("Why?", LONG, "typed"), "typed"),
        (AskChoice("Which?", tuple(f"word{number}" for number in range(30))), "letter"),
    ],
    ids=["yes", "words", "choice"],
)  # fmt: skip
async def test_arrows_and_pages_bring_the_rest_into_sight_and_the_answer_stays(
    drive: Any, screen_text: Any, size: tuple[int, int], request_: Any, answers: str
) -> None:
    async with drive(size=size) as driver:
        await driver.app.push_screen(driver.app.screen_for(request_))
        await driver.pilot.pause()
        first = words(driver.app, screen_text)
        assert answers in first
        await driver.keys("down")
        assert words(driver.app, screen_text) != first
        for _ in range(40):
            await driver.keys("pagedown")
        assert {answers, "sticks" if "choice" not in str(type(request_)).lower() else "word29"} <= set(
            words(driver.app, screen_text)
        )


async def test_lines_are_given_to_anybody_however_many_people_there_are(drive: Any, register: Any) -> None:
    async with drive() as driver:
        for number in range(40):
            people.enrol(register, f"Hand {number}", "operator", by="Marta", now=driver.clock())
        await driver.keys("p", "a", "d", "g", "pagedown", "a", "a")
        assert "given to Hand 10 " in driver.app.notice.says
        await driver.keys("escape")
        driver.expect(Yard)


@pytest.mark.parametrize(("keys", "most"), [(("e",), 2000), (("f",), 2000), (("s",), 40)], ids=["note", "fault", "set"])
async def test_of_what_is_pasted_and_too_long_nothing_is_put_in_and_that_is_said(
    drive: Any, keys: tuple[str, ...], most: int
) -> None:
    async with drive() as driver:
        await to(driver, "T01", "c", *keys)
        line = driver.app.screen.query(PastingInput).first()
        line.focus()
        await driver.type("ab")
        line.post_message(Paste("c" * (most - 1)))
        await driver.pilot.pause()
        assert line.value == "ab"
        assert driver.app.notice.says == (
            f"Nothing was pasted: it has {most - 1} characters, and there is room for {most - 2}."
        )
        line.select_all()
        line.post_message(Paste("d" * most))
        await driver.pilot.pause()
        assert line.value == "d" * most, "in the place of what is selected there is room"
