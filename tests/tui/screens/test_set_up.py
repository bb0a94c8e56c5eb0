"""The set-up by keyboard: one value moves the others, the plan is kept, and the walk-round is held to it."""

from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.settings.fields import FIELDS
from reelcare.register.acts import sets
from reelcare.register.opening import open_writer
from reelcare.tui.screens.settings.set_up import SetUp
from reelcare.tui.screens.yard import Yard
from reelcare.tui.widgets.drawings.drum_section import DrumSection
from reelcare.tui.widgets.drawings.limit_bars import LimitBars
from reelcare.tui.widgets.drawings.pressure_line import PressureLine
from reelcare.tui.widgets.inputs.fields import LineInput


async def wish(driver: Any, *texts: str) -> None:
    for text in texts:
        await driver.type(text)
        await driver.keys("down")


async def begin(driver: Any, tag: str = "T01") -> None:
    await driver.keys("p", "c")
    await driver.to_machine(tag)
    await driver.keys("s")
    driver.expect(SetUp)


def line(driver: Any, key: str) -> Any:
    return driver.app.screen.query_one(f"#{key}", LineInput)


def shown(driver: Any, id: str) -> str:
    return str(driver.app.screen.query_one(f"#{id}").render())


@pytest.mark.long
async def test_one_value_moves_the_others_at_once(drive: Any) -> None:
    async with drive() as driver:
        await begin(driver)
        await wish(driver, "68", "300", "25", "", "43", "", "4.5")
        assert line(driver, "speed").placeholder == "25.5 m/h"
        assert "6." in line(driver, "inlet").placeholder
        coils = driver.app.screen.query_one(DrumSection).wound.coils_on
        pressure = driver.app.screen.query_one(PressureLine).places
        assert [one.name for one in pressure] == ["inlet", "behind drive", "gun"]
        # a longer pull-out leaves fewer coils, and takes longer
        await driver.keys("up", "up", "up", "up", "up", "up")
        assert driver.app.focused.id == "out"
        for _ in range(5):
            await driver.keys("pageup")
        assert line(driver, "out").value == "305 m"
        assert driver.app.screen.query_one(DrumSection).wound.coils_on < coils
        # a deeper water is a slower cart
        await driver.keys("down", "pageup", "pageup")
        assert line(driver, "depth").value == "26.0 mm"
        assert line(driver, "speed").placeholder == "24.5 m/h"
        # typing the speed takes the depth's place
        await driver.keys("down")
        await driver.type("30")
        assert line(driver, "depth").value == ""
        assert line(driver, "depth").placeholder == "21.0 mm"


@pytest.mark.long
async def test_a_warning_stands_there_before_anything_is_kept(drive: Any) -> None:
    async with drive() as driver:
        await begin(driver)
        await wish(driver, "68", "375")
        assert "must: pull out" in shown(driver, "warned")
        await driver.keys("up", "up", "down", "end", "backspace", "backspace", "backspace")
        await driver.type("300")
        assert "must: pull out" not in shown(driver, "warned")


async def test_a_set_of_which_nothing_is_said_is_not_kept(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await begin(driver)
        for typed in ("", "68"):
            await driver.type(typed)
            await driver.keys("ctrl+y")
            driver.expect(SetUp)
            assert "to keep a set, give its lane spacing and its pull-out" in driver.app.notice.says
        assert sets.current(register, register.machine_id("T01"), driver.clock.now) is None


@pytest.mark.long
async def test_a_slip_is_named_and_what_was_typed_stays(drive: Any) -> None:
    async with drive() as driver:
        await begin(driver)
        await wish(driver, "68", "7,5 bar")
        assert "pull-out" in shown(driver, "warned")
        await driver.keys("ctrl+y")
        driver.expect(SetUp)
        assert line(driver, "out").value == "7,5 bar"
        await driver.keys("escape")
        driver.expect(Yard)


@pytest.mark.long
async def test_the_plan_is_kept_and_the_walk_round_is_held_to_it(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await begin(driver)
        await wish(driver, "68", "300", "25", "", "43", "", "4.5")
        await driver.keys("ctrl+y")
        driver.expect(Yard)
        entry = sets.current(register, register.machine_id("T01"), driver.clock.now)
        assert entry is not None
        assert isinstance(entry.what, e.SetPlanned)
        assert entry.what.wishes == {
            "spacing": "68 m", "out": "300 m", "depth": "25 mm", "flow": "43 m3/h", "gun_pressure": "4.5 bar",
        }  # fmt: skip
        await driver.keys("w")
        assert driver.app.screen.going.walk.planned["planned_speed"] == "25.29 m/h"
        await driver.keys("escape")
        # the next set on the same field begins with the same wishes
        await driver.to_machine("T01")
        await driver.keys("s")
        assert line(driver, "spacing").value == "68 m"
        # and a run written down has its speed
        await driver.keys("escape", "r")
        assert driver.app.screen.value("speed") == "25.5 m/h"


@pytest.mark.long
async def test_in_us_units_bare_numbers_are_feet_and_gallons(drive: Any) -> None:
    async with drive(system="us") as driver:
        await begin(driver)
        await wish(driver, "220", "980", "1", "", "190", "", "65")
        assert line(driver, "speed").placeholder == "83 ft/h"
        assert "psi" in line(driver, "inlet").placeholder


@pytest.mark.long
async def test_times_move_by_half_hours_and_say_when_it_is_done(drive: Any) -> None:
    async with drive() as driver:
        await begin(driver)
        await wish(driver, "68", "300", "25", "", "43")
        while driver.app.focused.id != "start":
            await driver.keys("down")
        await driver.keys("pageup")
        assert line(driver, "start").value == "2026-07-01T09:30"
        assert "done 1 Jul" in shown(driver, "sheet")
        while driver.app.focused.id != "arc":
            await driver.keys("down")
        await driver.type("300")
        await driver.keys("pagedown")
        assert line(driver, "arc").value == "290"


@pytest.mark.parametrize(("size", "language"), [((80, 24), "en"), pytest.param((80, 24), "fr", marks=pytest.mark.long)])
async def test_the_verdict_ends_with_its_sentence(drive: Any, screen_text: Any, size: Any, language: str) -> None:
    """Of what makes the worst the end was cut: *the hose holds up to a friction of 0.57 on*."""
    async with drive(size=size, language=language) as driver:
        await begin(driver, "T03")
        await wish(driver, "66", "240", "25", "", "43", "24", "4.5")
        told = " ".join(str(driver.app.screen.query_one("#verdict").render()).split())
        assert len(told) > 2 * size[0]
        assert told in " ".join(screen_text(driver.app).split())


@pytest.mark.long
async def test_the_verdict_stands_above_and_every_limit_in_its_bar(drive: Any) -> None:
    async with drive() as driver:
        await begin(driver)
        await wish(driver, "68", "300", "25", "", "43", "", "4.5")
        assert shown(driver, "verdict").startswith("○ within its limits, ")
        assert "on dry ground" in shown(driver, "verdict")
        bars = driver.app.screen.query_one(LimitBars)
        assert [one.over for one in bars.bars] == [False] * len(bars.bars)
        assert "wall of the hose" in [one.name for one in bars.bars]
        # a gun pressure that the machine's limits forbid: at once in the verdict and in the first bar
        await driver.keys("up", "end", "backspace", "backspace", "backspace")
        await driver.type("3")
        assert shown(driver, "verdict").startswith("✗ outside its limits: gun pressure, least")
        assert bars.bars[0].over


@pytest.mark.long
async def test_a_set_that_cannot_be_is_not_kept(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await begin(driver)
        await wish(driver, "68", "375", "25", "", "43", "", "4.5")
        await driver.keys("ctrl+y")
        driver.expect(SetUp)
        assert "not kept" in shown(driver, "warned")
        assert sets.current(register, register.machine_id("T01"), driver.clock.now) is None


async def test_a_set_is_kept_by_the_card_of_now(drive: Any, register: Any) -> None:
    """Another program revises the card while the set stands there."""
    async with drive() as driver:
        await begin(driver)
        for key, text in (("spacing", "68 m"), ("out", "300 m"), ("depth", "25 mm"), ("flow", "43 m3/h")):
            line(driver, key).value = text
        machine = driver.app.screen.machine_id
        card = dict(register.state(machine).card)
        with open_writer(register.path) as other:
            table = card | {"hose": dict(card["hose"]) | {"length": "250 m"}}
            other.add(e.Carded(card=table), machine=machine, by="Marta", now=driver.clock())
            await driver.keys("ctrl+y")
            driver.expect(SetUp)
            assert driver.app.screen.setting.cannot_be is not None
            await driver.keys("ctrl+y")
            driver.expect(SetUp)
            assert sets.current(register, machine, driver.clock.now) is None
            other.add(e.Carded(card=card), machine=machine, by="Marta", now=driver.clock())
            driver.app.screen._look()
        await driver.keys("ctrl+y")
        driver.expect(Yard)


@pytest.mark.long
async def test_the_mark_goes_with_the_focus(drive: Any) -> None:
    async with drive() as driver:
        await driver.to_machine("T01")
        await driver.keys("s")
        keys = [one.key for one in FIELDS]
        for key in ("spacing", "out", "depth"):
            names = str(driver.app.screen.query_one("#wish-names").visual).splitlines()
            assert [place for place, name in enumerate(names) if name.startswith("▸")] == [keys.index(key)]
            await driver.keys("down")


@pytest.mark.long
async def test_a_figure_is_typed_with_the_sign_of_the_language_and_kept_with_a_point(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("l", "l")
        await begin(driver)
        await wish(driver, "68,5", "300", "25", "", "43", "", "4,5")
        assert line(driver, "speed").placeholder == "25,0 m/h"
        assert "," in line(driver, "inlet").placeholder
        await driver.keys("up", "pageup")
        assert line(driver, "gun_pressure").value == "4,6 bar"
        await driver.keys("ctrl+y")
        kept = sets.current(register, register.machine_id("T01"), driver.clock.now)
        assert kept is not None
        assert isinstance(kept.what, e.SetPlanned)
        assert (kept.what.wishes["spacing"], kept.what.wishes["gun_pressure"]) == ("68.5 m", "4.6 bar")
        assert "," not in "".join(kept.what.planned.values())
