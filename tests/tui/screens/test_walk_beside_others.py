"""A walk-round that stands open while another terminal changes what it is judged by."""

from datetime import timedelta
from typing import Any

from reelcare.core import entries as e
from reelcare.register.opening import open_writer
from tests.commands import run
from tests.register.conftest import newest


def kept_elsewhere(driver: Any, register: Any, depth: str) -> None:
    """Another terminal keeps a set of B05."""
    words = ("--spacing", "60 m", "--out", "250 m", "--depth", depth, "--flow", "40 m3/h", "--keep", "--by", "Marta")
    done = run(register.path, driver.clock(), "set-up", "B05", *words)
    assert done.code == 0, done.err


async def to_speed(driver: Any, register: Any) -> Any:
    """The walk-round on B05 at the travel speed, held to a set of 25 mm: 26.67 m/h."""
    await driver.keys("p", "a")
    kept_elsewhere(driver, register, "25 mm")
    await driver.to_machine("B05")
    await driver.keys("w")
    await driver.walk_to("speed")
    return driver.app.screen


async def test_the_limits_follow_a_set_that_another_terminal_keeps_and_what_is_typed_stays(
    drive: Any, register: Any, screen_text: Any
) -> None:
    async with drive(size=(120, 40)) as driver:
        walk = await to_speed(driver, register)
        await driver.type("26.7")
        assert "right  26.7 m/h" in screen_text(driver.app)
        kept_elsewhere(driver, register, "40 mm")
        walk._look()
        await driver.pilot.pause()
        shown = screen_text(driver.app)
        assert walk.panel.typed == "26.7"
        assert "about 16.67 m/h" in shown
        assert "wrong  26.7 m/h" in shown
        assert "changed meanwhile" in shown


async def test_an_answer_is_not_taken_by_limits_that_are_no_more(drive: Any, register: Any) -> None:
    async with drive() as driver:
        walk = await to_speed(driver, register)
        await driver.type("26.7")
        kept_elsewhere(driver, register, "40 mm")
        await driver.keys("enter")
        assert walk.question.id == "speed"
        assert newest(register, e.Answered).question != "speed"
        await driver.keys("enter")
        given = newest(register, e.Answered)
        assert (given.question, given.judged) == ("speed", "wrong")


async def test_a_check_that_stood_open_over_night_is_begun_with_its_first_answer(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "a")
        await driver.to_machine("T01")
        await driver.keys("w")
        walk = driver.app.screen
        with open_writer(register.path) as other:
            machine = other.machine_id("T01")
            driver.clock.now += timedelta(hours=10)
            card = {**other.state(machine).card, "name": "Great Heron"}
            other.add(e.Carded(card=card), machine=machine, by="Marta", now=driver.clock())
            ended = driver.clock()
            run_of = e.Run(started=ended - timedelta(hours=9), ended=ended, metres=300_000, stopped_by="end stop")
            other.add(run_of, machine=machine, by="Ines", now=ended, happened=ended)
        driver.clock.now += timedelta(hours=2)
        walk._look()
        for _ in range(3):
            await driver.answer_right()
        assert walk.going.walk.card.name == "Great Heron"
        assert driver.clock() - walk.going.begun.happened < timedelta(minutes=2)
        assert len(walk.going.walk.counting()) == 3


async def test_an_answer_by_a_clock_that_was_set_back_is_refused_and_not_asked_for_ever(
    drive: Any, register: Any
) -> None:
    async with drive() as driver:
        await driver.keys("p", "a")
        await driver.to_machine("T01")
        await driver.keys("w")
        walk = driver.app.screen
        for _ in range(3):
            await driver.answer_right()
        asked, written = walk.question, register.count_entries()
        driver.clock.now -= timedelta(hours=2)
        await driver.answer_right()
        assert walk.question == asked
        assert register.count_entries() == written
        assert "set the clock right" in driver.app.notice.says
        driver.clock.now += timedelta(hours=2)
        await driver.answer_right()
        assert walk.question != asked


async def test_what_holds_is_taken_by_any_clock(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "a")
        await driver.to_machine("T01")
        await driver.keys("w")
        await driver.answer_right()
        question = driver.app.screen.question
        wrong = next(n for n, one in enumerate(question.choices, 1) if not one.right)
        driver.clock.now -= timedelta(hours=2)
        await driver.keys(str(wrong), "y")
        assert driver.standing("T01") == "held"
