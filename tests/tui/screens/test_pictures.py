"""A picture of every screen at both sizes: what changes in it is looked at before it is taken."""

from datetime import UTC, datetime
from typing import Any

import pytest

from reelcare.register import sheets

SIZES = [pytest.param((80, 24), id="80x24"), pytest.param((120, 40), id="120x40", marks=pytest.mark.long)]


async def to(driver: Any, tag: str, person: str, *keys: str) -> None:
    await driver.keys("p", person)
    await driver.to_machine(tag)
    await driver.keys(*keys)


async def yard(driver: Any) -> None:
    await to(driver, "T02", "a")


async def people(driver: Any) -> None:
    await driver.keys("p")


async def keys_of_the_yard(driver: Any) -> None:
    await driver.keys("question_mark")


async def walk_question(driver: Any) -> None:
    await to(driver, "T01", "c", "w")
    await driver.walk_to("pawl-up")


async def walk_reading(driver: Any) -> None:
    await to(driver, "T01", "c", "w")
    await driver.walk_to("coils")
    await driver.type("7,5")
    await driver.keys("enter")


async def walk_asks_before_it_holds(driver: Any) -> None:
    await to(driver, "T01", "c", "w")
    await driver.walk_to("stop-test")
    await driver.keys("1")


async def walk_held(driver: Any) -> None:
    await to(driver, "T01", "c", "w")
    await driver.walk_to("stop-test")
    await driver.keys("1", "y")


async def walk_complete(driver: Any) -> None:
    await to(driver, "T01", "c", "w")
    await driver.walk_to_the_end()


async def walk_resumed(driver: Any) -> None:
    await to(driver, "B05", "d", "w")


async def set_up(driver: Any) -> None:
    await to(driver, "T01", "c", "s")
    await wish(driver, "68", "300", "25", "", "43", "", "4.5")


async def set_up_warned(driver: Any) -> None:
    await to(driver, "T01", "c", "s")
    await wish(driver, "90", "375", "25", "", "43", "", "3.5", "", "0.9", "8")


async def wish(driver: Any, *texts: str) -> None:
    for text in texts:
        await driver.type(text)
        await driver.keys("down")


async def run_form(driver: Any) -> None:
    await to(driver, "E06", "c")
    # how often the clock was asked before is the machine's matter: the minute that stands in the form is not
    driver.clock.now = datetime(2026, 7, 1, 9, 9, tzinfo=UTC)
    await driver.keys("r")


async def bench(driver: Any) -> None:
    await to(driver, "T03", "b", "b")


async def bench_with_a_hold(driver: Any) -> None:
    await to(driver, "T02", "b", "b")


async def service(driver: Any) -> None:
    await to(driver, "T03", "b", "b")
    await driver.to_line("Gearbox oil: change")
    await driver.keys("enter", "space", "down", "space")


async def repair(driver: Any) -> None:
    await to(driver, "T02", "b", "b", "enter")


async def counters(driver: Any) -> None:
    await to(driver, "B04", "b", "b", "m")


async def fault(driver: Any) -> None:
    await to(driver, "T01", "c", "f")


async def due(driver: Any) -> None:
    await driver.keys("d")


async def weeks(driver: Any) -> None:
    await driver.keys("d", "v", "down", "down")


async def steps(driver: Any) -> None:
    await to(driver, "T01", "c", "w")
    await driver.walk_to("stop-test")
    await driver.keys("t", "home", *["down"] * 11)


async def marks(driver: Any) -> None:
    await driver.keys("p", "a", "m", "w")


async def signals(driver: Any) -> None:
    await driver.keys("i")


async def failures(driver: Any) -> None:
    await driver.keys("i", "f")


async def card(driver: Any) -> None:
    await to(driver, "T01", "c", "c")


async def plan(driver: Any) -> None:
    await to(driver, "T01", "a", "c", "s")


async def plan_item(driver: Any) -> None:
    await to(driver, "T01", "a", "c", "s", "down", "down", "down", "enter")


async def book(driver: Any) -> None:
    await to(driver, "T10", "a", "k")


async def entry(driver: Any) -> None:
    await to(driver, "T10", "a", "k", "enter")


LONG_WAY = [
    walk_question, walk_reading, walk_asks_before_it_holds, walk_held, walk_complete, walk_resumed, set_up,
    set_up_warned, steps, service, repair, marks, signals, failures, plan_item, entry, keys_of_the_yard, run_form,
    bench_with_a_hold, counters, weeks, card, plan, book,
]  # fmt: skip
SHORT_WAY = [yard, people, bench, fault, due]
SCREENS = [*(pytest.param(hand, marks=pytest.mark.long) for hand in LONG_WAY), *SHORT_WAY]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("hand", SCREENS, ids=lambda hand: hand.__name__)
def test_screen(picture: Any, hand: Any, size: tuple[int, int]) -> None:
    assert picture(size, hand)


@pytest.mark.long
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("hand", [walk_question, set_up, bench, due], ids=lambda hand: hand.__name__)
def test_screen_in_spanish_and_us_units(picture: Any, hand: Any, size: tuple[int, int]) -> None:
    assert picture(size, hand, system="us", language="es")


@pytest.mark.long
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("hand", [yard, walk_question, set_up, bench, due, steps], ids=lambda hand: hand.__name__)
def test_screen_in_french(picture: Any, hand: Any, size: tuple[int, int]) -> None:
    assert picture(size, hand, language="fr")


STAGES = [stage.id for stage in sheets.load().by_id["pre-start"].stages]


@pytest.mark.parametrize(
    ("size", "language"),
    [
        pytest.param((80, 24), "en", id="80x24-en"),
        pytest.param((80, 24), "es", id="80x24-es"),
        pytest.param((80, 24), "fr", id="80x24-fr"),
        pytest.param((120, 40), "en", id="120x40-en"),
        pytest.param((120, 40), "es", id="120x40-es"),
    ],
)
@pytest.mark.long
@pytest.mark.parametrize("stage", STAGES)
def test_every_stage_of_the_pre_start(picture: Any, stage: str, size: tuple[int, int], language: str) -> None:
    async def hand(driver: Any) -> None:
        await to(driver, "T01", "c", "w")
        walk = driver.app.screen.going.walk
        await driver.walk_to(next(one for one in walk.sheet.stages if one.id == stage).questions[0].id)

    assert picture(size, hand, language=language)
