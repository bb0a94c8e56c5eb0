"""A check that somebody comes back to says what is asked again; what cannot be answered says why it is asked."""

from typing import Any

from reelcare.core import entries as e
from reelcare.register.acts import walk_rounds
from reelcare.register.opening import open_writer
from reelcare.tui.screens.checks.walk import WalkRound
from tests.estates import NOW
from tests.register.conftest import newest


async def open_the_check(driver: Any, person: str) -> WalkRound:
    await driver.keys("p", person)
    await driver.to_machine("T01")
    await driver.keys("w")
    driver.expect(WalkRound)
    return driver.app.screen  # type: ignore[no-any-return]


def message(driver: Any) -> str:
    return driver.app.notice.says if driver.app.notice else ""


async def test_the_last_answer_is_said_to_be_asked_again_only_where_it_is(drive: Any) -> None:
    """After a gate was signed it never is, and the sentence stood there all the same."""
    async with drive() as driver:
        screen = await open_the_check(driver, "c")
        await driver.answer_right()
        last = screen.going.walk.sheet.questions[0].id
        await driver.keys("escape", "w")
        assert driver.app.screen.question.id == last
        assert message(driver) == "Going on: the last answer is asked once more."
        await driver.answer_gate()
        await driver.keys("s")
        await driver.answer_right()
        await driver.keys("escape", "w")
        assert message(driver) == "Going on where it was left."


async def test_who_goes_on_for_another_is_told_how_much_is_asked_again(drive: Any) -> None:
    async with drive() as driver:
        screen = await open_the_check(driver, "c")
        await driver.answer_gate()
        answered = len(screen.going.walk.counting())
        await driver.keys("escape")
        screen = await open_the_check(driver, "b")
        walk, now = screen.going.walk, driver.clock.now
        again = answered - len(walk._at(now, driver.app.person).kept)
        assert again > 1
        assert message(driver) == f"Going on: {again} answers are asked again, as another person goes on."


async def test_a_check_that_has_ended_held_offers_no_signature(drive: Any, screen_text: Any) -> None:
    async with drive() as driver:
        screen = await open_the_check(driver, "c")
        assert "s Sign" not in screen_text(driver.app), "nothing is answered yet"
        await driver.walk_to("stop-test")
        assert screen.question is not None
        wrong = next(str(n) for n, one in enumerate(screen.question.choices, 1) if not one.right)
        assert "s Sign" in screen_text(driver.app)
        await driver.keys(wrong, "y")
        assert screen.going.walk.ends_held()
        shown = screen_text(driver.app)
        assert "s Sign" not in shown
        assert "Back" not in shown.splitlines()[-1]
        assert "Esc" in shown.splitlines()[-1]


async def test_where_the_card_is_silent_a_question_says_what_ends_its_being_asked(drive: Any, register: Any) -> None:
    """A machine without a speed control was asked for the volts of its battery, and no answer was true of it."""
    machine = register.machine_id("T01")
    card = {key: value for key, value in register.state(machine).card.items() if key != "compensation"}
    register.add(e.Carded(card=card), machine=machine, by="Marta", now=NOW)
    async with drive() as driver:
        screen = await open_the_check(driver, "c")
        assert "The card does not say" not in str(screen.query_one("#about").render())
        await driver.walk_to("volts")
        told = " ".join(str(screen.query_one("#about").render()).split())
        assert "The card does not say whether it has this. Where it has none, a supervisor says so there" in told


async def test_a_check_that_another_program_ends_says_so_at_once_and_takes_no_answer(drive: Any, register: Any) -> None:
    """It stood there as if nothing were; an answer that holds was asked to be confirmed, and then not kept."""
    async with drive() as driver:
        screen = await open_the_check(driver, "c")
        await driver.answer_right()
        with open_writer(register.path) as other:
            walk_rounds.leave(other, screen.going.id, "taken over", by="Aldo", now=driver.clock.now)
        screen._look()
        told = message(driver)
        assert told.startswith("This check was ended by Aldo at ")
        assert told.endswith("given up: taken over. Nothing more of it is saved: Esc, then begin a new one (w).")
        assert screen.question is not None
        wrong = next(str(n) for n, one in enumerate(screen.question.choices, 1) if not one.right)
        await driver.keys(wrong)
        assert driver.app.screen is screen
        assert message(driver) == told


async def test_the_part_of_a_fault_stands_in_the_language_of_who_notes_it(drive: Any, register: Any) -> None:
    """*turntable* stood in a Spanish form, under a list that has *corona*."""
    async with drive(language="es") as driver:
        screen = await open_the_check(driver, "c")
        await driver.walk_to("heading")
        await driver.keys("f")
        form = driver.app.screen
        assert form.value("part") == "corona"
        await driver.keys("down")
        await driver.type("floja")
        await driver.keys("up")
        assert form.value("part") == "corona"
        await driver.keys("ctrl+y", "n", "enter")
        assert driver.app.screen is screen
        assert newest(register, e.Fault).part == "turntable"


async def test_why_a_figure_is_not_taken_is_told_in_sight(drive: Any) -> None:
    async with drive(size=(60, 16)) as driver:
        screen = await open_the_check(driver, "c")
        await driver.walk_to("coils")
        await driver.type("1.5")
        await driver.keys("enter")
        await driver.pilot.pause()
        panel, why = screen.panel, screen.panel.query_one("#judged")
        assert "whole number" in str(why.render())
        assert why.virtual_region.bottom - panel.scroll_offset.y <= panel.size.height
