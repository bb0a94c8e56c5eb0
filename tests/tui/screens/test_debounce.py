"""What a held key, a second click and a press too soon do to a walk-round: nothing, and it says so."""

from typing import Any

import pytest

from reelcare.tui.screens.checks.debounce import HELD_DOWN, TOO_SOON, Debounce
from reelcare.tui.widgets.inputs.dialogs import Choose
from reelcare.tui.widgets.inputs.people import ChoosePerson
from tests.register.conftest import entries


class Hand:
    """A clock in seconds that a test moves on."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def hand(quick_hand: None, monkeypatch: pytest.MonkeyPatch) -> Hand:
    monkeypatch.setattr(Debounce, "AFTER", 0.4)
    monkeypatch.setattr(Debounce, "REPEAT", 0.75)
    return Hand()


def test_a_held_key_answers_once_however_long_it_is_held(hand: Hand) -> None:
    keys = Debounce(hand)
    taken = 0
    hand.now = 1.0
    for press in range(200):  # a terminal repeats after half a second, then thirty times a second
        if not keys.refuses("1"):
            taken += 1
            keys.appeared()
        hand.now += 0.5 if press == 0 else 1 / 30
    assert taken == 1
    hand.now += 1.0
    assert keys.refuses("1") == ""


def test_another_key_answers_once_the_question_has_stood_a_moment(hand: Hand) -> None:
    keys = Debounce(hand)
    keys.appeared()
    for now, why in ((0.1, TOO_SOON), (0.39, TOO_SOON), (0.41, "")):
        hand.now = now
        assert keys.refuses(f"key {now}") == why


async def start(driver: Any, hand: Hand) -> Any:
    await driver.keys("p", "c")
    await driver.to_machine("T01")
    await driver.keys("w")
    screen = driver.app.screen
    screen.debounce = Debounce(hand)
    hand.now += 1
    return screen


async def test_a_press_that_is_not_taken_is_told_where_the_whole_question_has_no_room(
    drive: Any, hand: Hand, screen_text: Any
) -> None:
    async with drive(size=(80, 24)) as driver:
        screen = await start(driver, hand)
        await driver.keys("1")
        assert "Not recorded" not in screen_text(driver.app)
        first = screen.question
        for _ in range(2):
            await driver.keys("1")
            assert "Not recorded: the key was held down" in "".join(screen_text(driver.app).splitlines()[-3:])
        assert screen.question is first
        hand.now += 1
        await driver.keys("1")
        assert screen.question is not first
        assert "Not recorded" not in screen_text(driver.app)


@pytest.mark.long
async def test_sixteen_presses_at_once_answer_one_question(drive: Any, register: Any, hand: Hand) -> None:
    async with drive() as driver:
        await start(driver, hand)
        before = len(entries(register, "kind = 'answer'"))
        for _ in range(16):
            await driver.keys("1")
            hand.now += 0.05
        assert len(entries(register, "kind = 'answer'")) == before + 1
        assert "held down" in driver.app.notice.says


@pytest.mark.long
async def test_quick_clicks_on_a_choice_answer_one_question_and_never_raise(
    drive: Any, register: Any, hand: Hand
) -> None:
    async with drive() as driver:
        await start(driver, hand)
        before = len(entries(register, "kind = 'answer'"))
        await driver.pilot.click("#choice-0", times=3)
        await driver.pilot.pause()
        hand.now += 0.2
        await driver.pilot.click("#choice-0", times=2)
        await driver.pilot.pause()
        assert len(entries(register, "kind = 'answer'")) == before + 1


async def test_a_press_right_after_the_question_appeared_is_said_and_not_taken(drive: Any, hand: Hand) -> None:
    async with drive() as driver:
        screen = await start(driver, hand)
        screen.debounce.appeared()
        hand.now += 0.3
        await driver.keys("1")
        assert screen.question.id == "overhead"
        assert "only just appeared" in driver.app.notice.says
        hand.now += 1
        await driver.keys("1")
        assert screen.question.id != "overhead"


async def test_a_key_that_is_held_down_answers_no_dialog_that_it_opened(drive: Any, register: Any, hand: Hand) -> None:
    async with drive() as driver:
        driver.app._presses = Debounce(hand)
        await driver.keys("p")
        before = register.count_entries()
        for press in range(40):  # the letter of the supervisor is also that of *Move*, and of the first place
            hand.now += 0.5 if press == 1 else 1 / 30
            await driver.keys("a")
        driver.expect(Choose)
        assert driver.app.person == "Marta"
        assert register.count_entries() == before
        assert driver.app.notice.says == HELD_DOWN
        hand.now += 1
        await driver.keys("a")
        assert register.count_entries() == before + 1


async def test_a_key_that_is_no_answer_of_a_dialog_is_not_said_to_be_held_down(drive: Any, hand: Hand) -> None:
    """The key that no dialog took came by the app once more."""
    async with drive() as driver:
        driver.app._presses = Debounce(hand)
        await driver.keys("p")
        hand.now += 1
        await driver.keys("9")
        driver.expect(ChoosePerson)
        assert driver.app.notice is None
