"""Forms keep what is typed, and nothing is ticked or chosen by mistake."""

from datetime import timedelta
from typing import Any

import pytest
from textual.widgets import Input

from reelcare.core import entries as e
from reelcare.tui.screens.work.bench import Bench
from reelcare.tui.screens.work.fault import FaultForm
from reelcare.tui.screens.work.service import ServiceForm
from reelcare.tui.screens.yard import Yard
from reelcare.tui.widgets.inputs.checkbox import Checkbox
from reelcare.tui.widgets.inputs.dialogs import Confirm
from reelcare.tui.widgets.inputs.outcomes import Outcomes
from tests.register.conftest import entries
from tests.tui.screens.conftest import NOW


async def to_form(driver: Any, tag: str, *keys: str) -> Any:
    """A mechanic goes to a machine of the yard and presses keys; the form that opens."""
    await driver.keys("p", "b")
    await driver.to_machine(tag)
    await driver.keys(*keys)
    return driver.app.screen


async def oil_change(driver: Any) -> Any:
    """The form of the oil change that is overdue on T03, opened by a mechanic from the work list."""
    await driver.keys("p", "b", "d")
    await driver.to_line("Gearbox oil change")
    await driver.keys("enter")
    driver.expect(ServiceForm)
    return driver.app.screen


def ticks(form: Any) -> list[bool]:
    return [one.value for one in form.query(Checkbox)]


async def test_words_typed_on_a_box_tick_nothing_and_it_is_said(drive: Any) -> None:
    async with drive() as driver:
        form = await oil_change(driver)
        await driver.type("left out for now")
        assert not any(ticks(form))
        assert "This is a box" in driver.app.notice.says
        # once the cursor has moved, Space ticks again, and Enter only goes on
        await driver.keys("down", "space", "enter", "enter")
        assert [place for place, one in enumerate(ticks(form)) if one] == [1]


@pytest.mark.long
async def test_arrows_go_through_a_form_taller_than_the_window_and_back(drive: Any) -> None:
    async with drive(size=(80, 20)) as driver:
        form = await oil_change(driver)
        stops = [one for one in form.focus_chain if isinstance(one, (Checkbox, Input))]
        for one in stops[1:]:
            await driver.keys("down")
            assert form.focused is one
        for one in reversed(stops[:-1]):
            await driver.keys("up")
            assert form.focused is one


@pytest.mark.long
async def test_arriving_on_a_line_selects_nothing_so_a_space_wipes_nothing(drive: Any) -> None:
    async with drive() as driver:
        form = await oil_change(driver)
        form.query_one("#note").focus()
        await driver.type("magnet clean")
        await driver.keys("up", "down", "space")
        assert form.query_one("#note", Input).value == "magnet clean "


@pytest.mark.long
async def test_the_cursor_goes_to_the_box_that_is_missing(drive: Any, screen_text: Any) -> None:
    async with drive() as driver:
        form = await oil_change(driver)
        await driver.keys("space", "down", "down", "space", "ctrl+y")
        assert form.focused.id == "box-safe-1"
        assert "Needed before this work" in screen_text(driver.app)
        assert "Not saved yet" in driver.app.notice.says


@pytest.mark.long
async def test_leaving_asks_where_only_a_box_was_ticked(drive: Any) -> None:
    async with drive() as driver:
        form = await oil_change(driver)
        await driver.keys("space", "escape")
        driver.expect(Confirm)
        await driver.keys("n")
        assert driver.app.screen is form
        await driver.keys("space", "escape")  # as it was again
        assert driver.app.screen is not form


@pytest.mark.long
async def test_a_service_of_yesterday_is_kept_for_yesterday(drive: Any, register: Any) -> None:
    async with drive(size=(80, 40)) as driver:
        form = await oil_change(driver)
        for _ in range(8):
            await driver.keys("space", "down")
        form.query_one("#day").focus()
        await driver.type("yesteday")
        await driver.keys("ctrl+y")
        assert form.focused.id == "day"
        assert "yesterday" in str(form.query_one("#error").render())
        await driver.keys(*["backspace"] * 8)
        await driver.type("yesterday")
        await driver.keys("ctrl+y")
        [kept] = entries(register, "kind = 'service' ORDER BY number DESC LIMIT 1")
        here, now = kept.happened.astimezone(register.zone), driver.clock.now.astimezone(register.zone)
        assert here.date() == now.date() - timedelta(days=1)


@pytest.mark.long
async def test_a_fault_is_chosen_from_usual_words_and_its_outcome_is_asked_last(drive: Any, register: Any) -> None:
    async with drive() as driver:
        form = await to_form(driver, "T10", "f")
        driver.expect(FaultForm)
        await driver.type("tyre")
        assert str(form.query(".form--says").last().render()) == "→ wheels"
        await driver.keys("enter")
        assert form.value("part") == "wheels"
        await driver.type("left one cut")
        await driver.keys("ctrl+y")
        assert isinstance(form.focused, Outcomes)  # nothing is written before one is chosen
        assert driver.app.screen is form
        await driver.type("hold it")  # a word is no choice
        assert form.outcome() == ""
        await driver.keys("ctrl+y", "enter")
        assert driver.app.screen is form
        await driver.keys("up", "down", "h", "enter")
        fault = register.state(register.machine_id("T10")).faults[-1]
        assert (fault.part, fault.says, fault.holds) == ("wheels", "left one cut", "both")
        assert fault.retest in driver.app.notice.says


@pytest.mark.long
async def test_a_limit_is_needed_for_one_outcome_and_wrong_for_another(drive: Any, register: Any) -> None:
    async with drive() as driver:
        form = await to_form(driver, "T10", "f")
        await driver.type("belt")
        await driver.keys("enter")
        await driver.type("frayed")
        await driver.keys("ctrl+y", "x", "enter")
        assert form.focused.id == "fix_by"
        await driver.type("20 h")
        await driver.keys("ctrl+y")
        fault = register.state(register.machine_id("T10")).faults[-1]
        assert (fault.part, fault.holds, bool(fault.fix_by_seconds)) == ("drive", "", True)


@pytest.mark.long
async def test_a_counter_that_began_again_is_a_tick(drive: Any, register: Any) -> None:
    machine = register.machine_id("T03")
    async with drive() as driver:
        now = driver.clock.now
        shown = register.state(machine).counters.hours
        near = e.Reading(counter="hours", value=9_999 * 3600, change="new counter")
        register.add(near, machine=machine, by="Tomas", now=now)
        driver.clock.now += timedelta(hours=5)
        form = await to_form(driver, "T03", "b", "m")
        await driver.type("2")
        await driver.keys("ctrl+y")
        assert form.focused.id == "hours"  # lower than before: the error stands there
        form.query_one("#box-rolled-hours").focus()
        await driver.keys("space", "ctrl+y")
        driver.expect(Bench)
        after = register.state(machine).counters.hours
        assert (after.shown, after.life - shown.life) == (2 * 3600, 3 * 3600)


@pytest.mark.long
async def test_a_fault_that_ended_a_run_offers_its_form_at_once(drive: Any, register: Any) -> None:
    async with drive(size=(100, 30)) as driver:
        form = await to_form(driver, "E06", "r", "tab")
        now = driver.clock.now.astimezone(register.zone)
        await driver.type(f"{now:%Y-%m-%d %H:%M}")
        await driver.keys("tab")
        await driver.type("210")
        await driver.keys("ctrl+y", "f", "enter")
        assert form is not driver.app.screen
        driver.expect(FaultForm)
        await driver.keys("escape")
        driver.expect(Yard)


@pytest.mark.long
async def test_words_after_a_release_are_true_of_that_machine(drive: Any, register: Any, screen_text: Any) -> None:
    machine = register.machine_id("E06")
    rattles = e.Fault(part="gun", says="rattles", fix_by_day="2026-08-01")
    register.add(rattles, machine=machine, by="Tomas", now=NOW)
    async with drive() as driver:
        await to_form(driver, "E06", "b")
        await driver.to_line("rattles")
        await driver.keys("enter")
        assert "does not hold" in screen_text(driver.app)
        await driver.type("tightened")
        await driver.keys("ctrl+y")
        await driver.to_line("rattles")
        await driver.keys("enter", "ctrl+y")
        assert driver.app.notice.says == "E06: gun released; now clear"


async def test_a_service_form_opens_with_all_its_cautions_in_sight_at_80x24(drive: Any, screen_text: Any) -> None:
    async with drive(size=(80, 24)) as driver:
        await driver.keys("p", "b", "d")
        await driver.to_line("Gearbox oil change")
        await driver.keys("enter")
        item = driver.app.screen.line.item
        shown = " ".join(screen_text(driver.app).split())
        assert len(item.cautions) > 1
        for caution in item.cautions:
            assert f"CAUTION {caution['en']}" in shown
        assert "▸ [ ] water" in shown


@pytest.mark.parametrize("ups", [0, 2])
async def test_an_error_is_seen_with_its_line_wherever_the_cursor_was(drive: Any, screen_text: Any, ups: int) -> None:
    async with drive(size=(80, 24)) as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T09")
        await driver.keys("r", "x", "x", "ctrl+y", "h", "ctrl+y")
        for _ in range(ups):  # round the first line to the foot of the form
            await driver.keys("up")
        await driver.keys("ctrl+y")
        shown = screen_text(driver.app).splitlines()
        [at] = [number for number, text in enumerate(shown) if text.startswith("▸ started")]
        assert "✗ 'xx' is not a time" in shown[at + 1]


async def test_what_cannot_be_of_a_run_is_told_at_its_own_line(drive: Any) -> None:
    async with drive(language="es") as driver:
        form = await to_form(driver, "E06", "r")
        await driver.pilot.pause()
        typed = {"started": "2026-06-30 20:00", "ended": "2 h", "metres": "20 m", "dwell": "3 h"}
        for line, text in typed.items():
            form.query_one(f"#{line}", Input).value = text
        await driver.keys("ctrl+y", "e", "ctrl+y")
        assert form.focused is form.query_one("#dwell", Input)
        form.query_one("#dwell", Input).value = ""
        form.query_one("#loss", Input).value = "900 bar"
        await driver.keys("ctrl+y")
        assert form.focused is form.query_one("#loss", Input)
