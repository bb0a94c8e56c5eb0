"""Steps by keyboard: every forbidden step is stopped with its reason, and the safe way is told."""

from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register import sheets
from reelcare.tui.screens.checks.walk import WalkRound
from reelcare.tui.screens.evidence.marks import Marks
from reelcare.tui.screens.machine.steps import Steps
from reelcare.tui.widgets.rows import Rows

ROAD = sheets.machine_model().states["towed"]


async def begin(driver: Any) -> Steps:
    await driver.keys("p", "c")
    await driver.to_machine("T01")
    await driver.keys("t")
    screen = driver.app.screen
    assert isinstance(screen, Steps)
    return screen


async def stand(driver: Any, **seen: str) -> None:
    """Say where each part stands, by keys alone."""
    screen = driver.app.screen
    await driver.keys("tab", "home")
    for part, where in {**ROAD, **{key.replace("_", " "): one for key, one in seen.items()}}.items():
        if part not in screen.table.parts:
            continue
        for _ in range(5):
            if screen.now_at.get(part) == where:
                break
            await driver.keys("enter")
        assert screen.now_at[part] == where
        await driver.keys("down")
    await driver.keys("tab")


async def to_step(driver: Any, id: str) -> None:
    await driver.keys("home")
    for _ in range(list(driver.app.screen.table.activities).index(id)):
        await driver.keys("down")
    assert driver.app.screen.step.id == id


def answer(driver: Any) -> str:
    return str(driver.app.screen.query_one("#answer").render())


FORBIDDEN = [
    ("pull out", {"drive": "in", "pawl": "up", "legs": "set", "cart": "lowered", "drum_heading": "lane"}, "Drive: in"),
    ("pull out", {"legs": "set", "cart": "lowered", "drum_heading": "lane"}, "Anti-reverse pawl: down"),
    ("put the drive in", {"turbine": "driving", "stop_mechanism": "reset"}, "Turbine, engine: driving"),
    ("move the gear lever", {"turbine": "driving"}, "Turbine, engine: driving"),
    ("tow", {"drum_heading": "lane"}, "Drum heading: to the lane"),
    ("open the water", {"pawl": "up", "supply_hose": "coupled"}, "Anti-reverse pawl: up"),
    ("start", {"supply": "on", "drive": "in", "stop_mechanism": "reset"}, "this start: not yet tried"),
    ("work on it", {"supply": "on"}, "Water supply: on"),
]


@pytest.mark.parametrize(("doing", "seen", "reason"), FORBIDDEN, ids=[f"{one[0]}-{one[2][-8:]}" for one in FORBIDDEN])
async def test_each_forbidden_step_is_stopped_with_its_reason(
    drive: Any, doing: str, seen: dict[str, str], reason: str
) -> None:
    async with drive() as driver:
        screen = await begin(driver)
        await stand(driver, **seen)
        before = dict(screen.now_at)
        await to_step(driver, doing)
        await driver.keys("enter")
        assert "NOT NOW" in answer(driver)
        assert reason in answer(driver)
        assert screen.now_at == before


async def test_the_safe_way_is_walked_step_by_step_to_the_start(drive: Any) -> None:
    async with drive() as driver:
        screen = await begin(driver)
        await stand(driver)
        await driver.keys("g")
        assert "to Irrigating" in answer(driver)
        steps = screen.table.way_to_goal("irrigating", screen.now_at)
        assert steps is not None
        for one in steps:
            await to_step(driver, one.id)
            assert "may be done now" in answer(driver)
            await driver.keys("enter")
        assert screen.now_at["turbine"] == "driving"
        await driver.keys("g")
        assert "It is so already" in answer(driver)


async def test_what_was_answered_in_the_walk_round_stands_there(drive: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.keys("w")
        driver.expect(WalkRound)
        while driver.app.screen.question.id != "cart":
            question = driver.app.screen.question
            if question.is_number:
                await driver.type("200")
                await driver.keys("enter")
            else:
                await driver.keys(str(next(place for place, one in enumerate(question.choices, 1) if one.right)))
        await driver.keys("t")
        screen = driver.app.screen
        assert isinstance(screen, Steps)
        assert screen.now_at["legs"] == "set"
        assert "pawl" not in screen.now_at
        await to_step(driver, "tow")
        assert "Legs: set in the ground, must be up" in answer(driver)
        assert "not looked at yet" in answer(driver)
        await driver.keys("escape")
        driver.expect(WalkRound)


async def test_marks_are_for_supervisors(drive: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c", "m")
        assert not isinstance(driver.app.screen, Marks)
        await driver.keys("p", "a", "m")
        screen = driver.app.screen
        assert isinstance(screen, Marks)
        first = screen.query_one(Rows).row(0)
        assert getattr(first[0], "text", "") == "all"
        await driver.keys("w")
        assert "52 weeks" in screen.where()
        await driver.keys("escape")


async def test_a_second_run_on_a_hydrant_is_offered_and_asks_less(drive: Any, register: Any) -> None:
    from datetime import timedelta

    from reelcare.core import entries as e

    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.keys("w")
        numbers = {"jack-out": "200", "coils": "3", "inlet": "6.5", "drive-loss": "0.4", "speed": "32"}
        while (question := driver.app.screen.question) is not None:
            if question.is_number:
                await driver.type(numbers[question.id])
                await driver.keys("enter")
            else:
                await driver.keys(str(next(place for place, one in enumerate(question.choices, 1) if one.right)))
        whole = len(driver.app.screen.going.walk.sheet.questions)
        await driver.keys("s")
        started = driver.clock.now
        driver.clock.now += timedelta(hours=4)
        machine = register.machine_id("T01")
        run = e.Run(started=started, ended=driver.clock.now, metres=200_000, stopped_by="end stop")
        register.add(run, machine=machine, by="Ines", now=driver.clock.now, happened=driver.clock.now)
        await driver.to_machine("T01")
        await driver.keys("w", "a")
        driver.expect(WalkRound)
        asked = driver.app.screen.going.walk.sheet.questions
        assert len(asked) < whole
        assert all(one.again for one in asked)


async def test_a_machine_that_is_held_says_so_however_its_parts_stand(drive: Any, register: Any) -> None:
    async with drive() as driver:
        screen = await begin(driver)
        assert "held" not in str(screen.query_one("#standing").render())
        await driver.keys("escape")
        what = e.Fault(part="end stop", says="hangs", holds="run", retest="try it")
        register.add(what, machine=register.machine_id("T01"), by="Ines", now=driver.clock())
        await driver.to_machine("T01")
        await driver.keys("t")
        standing = str(driver.app.screen.query_one("#standing").render())
        assert "■ held for a run: end stop: hangs" in standing
        assert standing.rstrip().endswith("Ends by repair, re-test, release")
