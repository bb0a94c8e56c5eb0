"""Holds that end by an answer, in the app: of a later gate, and of the place."""

from typing import Any

from reelcare.core import entries as e
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.tui.screens.checks.walk import WalkRound
from tests.register.conftest import Yard as Hand
from tests.register.conftest import newest
from tests.register.test_gates import answer_gate, sign


async def test_a_hold_of_a_later_gate_is_asked_where_it_keeps_a_gate_from_being_signed(
    drive: Any, register: Any
) -> None:
    """Thunder was heard before the water, and the check given up: else nobody could ever sign the next one."""
    async with drive() as driver:
        await driver.keys("p", "c")
        hand = Hand(register, register.machine_id("T01"), now=driver.clock.now)
        sheet = sheets.load().by_id["pre-start"]
        going = walk_rounds.begin(register, hand.machine, sheet, by="Ines", now=hand.now)
        sign(hand, answer_gate(hand, going, by="Ines"), by="Ines")
        going = answer_gate(hand, going, by="Ines", most=8)
        walk_rounds.answer(register, going.id, "people", "thunder", by="Ines", now=hand.now)
        walk_rounds.leave(register, going.id, "thunder", by="Ines", now=hand.now)
        driver.clock.now = hand.now
        await driver.to_machine("T01")
        assert driver.standing("T01") == "held"
        await driver.keys("w")
        driver.expect(WalkRound)
        await driver.walk_to("people")
        screen = driver.app.screen
        told = " ".join(str(screen.query_one("#about").render()).split())
        assert "It holds the machine, so it is asked now; at its own gate it is asked once more." in told
        await driver.keys("pageup")
        assert screen.going.walk.sheet.gate_of(screen.question.id) == "pull-out"
        await driver.keys("pagedown")
        assert screen.question.id == "people"
        await driver.answer_right()
        assert driver.standing("T01") == "check due"
        assert screen.question is None
        await driver.keys("s")
        assert driver.standing("T01") == "check due"
        assert [one.gate for one in screen.going.walk.signed] == ["pull-out"]


async def test_what_changed_at_the_place_is_asked_where_neither_place_nor_set_did(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.keys("w")
        await driver.walk_to("stream")
        await driver.keys("2", "y")
        assert driver.standing("T01") == "held"
        await driver.keys("1", "escape")
        assert driver.app.screen.question.id == "stream"
        assert newest(register, e.Answered).seen == "road", "nothing is written without an answer to that"
        await driver.keys("1")
        await driver.type("arc stops set to 180")
        await driver.keys("enter")
        assert driver.standing("T01") == "check due"
        assert newest(register, e.PutRight).says == "arc stops set to 180"


async def test_a_raised_figure_is_no_answer(drive: Any) -> None:
    """The key left of the 1 on French keyboards gives one."""
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.keys("w")
        await driver.walk_to("stream")
        await driver.keys("²")
        driver.expect(WalkRound)
        assert driver.app.screen.question.id == "stream"
