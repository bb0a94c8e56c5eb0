"""The yard: one place at a time, a state said once, and notes for the next person."""

import re
from dataclasses import replace
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from reelcare.core import entries as e
from reelcare.core.state.standing import judge
from reelcare.core.text import _
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.demo import _right
from reelcare.register.opening import open_writer
from reelcare.register.reading import yard as yards
from reelcare.tui.screens.checks.walk import WalkRound
from reelcare.tui.screens.machine.yard_rows import BANDS, YardRows, arranged
from reelcare.tui.screens.yard import Yard
from reelcare.tui.widgets.detail_panel import DetailPanel
from reelcare.tui.widgets.inputs.dialogs import Confirm
from tests.estates import NOW
from tests.register.conftest import entries


async def test_one_key_shows_one_place_after_the_other_then_all(drive: Any, screen_text: Any) -> None:
    async with drive() as driver:
        yard = driver.app.screen
        every = {one.tag: one.place for one in yard.every}
        for place in sorted(set(every.values())):
            await driver.keys("v")
            assert [every[one.tag] for one in yard.machines] == [place] * len(yard.machines)
            assert f"Yard  {len(yard.machines)} of {len(every)}, {place}" in screen_text(driver.app)
        await driver.keys("v")
        assert len(yard.machines) == len(every)
        assert "all places" in screen_text(driver.app)


SIZES = [(80, 24), (120, 40)]


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
async def test_a_state_is_said_once_over_its_band_and_its_sign_in_each_row(
    drive: Any, screen_text: Any, size: tuple[int, int]
) -> None:
    async with drive(size=size) as driver:
        yard, shown = driver.app.screen, screen_text(driver.app).splitlines()
        stands = [one.judged.band for one in yard.machines]
        assert stands == sorted(stands, key=BANDS.index)
        for band in set(stands):
            [head] = [at for at, text in enumerate(shown) if re.match(rf"  \S {band} {stands.count(band)} ─", text)]
            sign = shown[head].split()[0]
            for one in (one for one in yard.machines if one.judged.band == band):
                [row] = [text for text in shown[3:] if re.match(rf"..{sign} {one.tag}\b", text)]
                assert band not in row
                assert one.place in row
        assert len(shown) <= size[1]


async def test_why_a_machine_is_held_stands_in_full_where_rows_have_two_lines_and_no_word_is_cut(
    drive: Any, register: Any, screen_text: Any
) -> None:
    [fault] = register.state(register.machine_id("T02")).faults
    why = f"{fault.part}: {fault.says}"
    async with drive(size=(120, 40)) as driver:
        shown = screen_text(driver.app).splitlines()
        [at] = [number for number, text in enumerate(shown) if re.match(r"..\S T02 ", text)]
        told = [text[28:80].strip() for text in shown[at : at + 2]]
        told[0] = told[0].split("   ")[0].removesuffix(" …")
        assert f"{told[0]} {told[1].removeprefix('… ')}" == why
    async with drive(size=(80, 24)) as driver:
        [row] = [text for text in screen_text(driver.app).splitlines() if re.match(r"..\S T02 ", text)]
        told[0] = row[28:].split(" …")[0].strip()
        assert f"{why} ".startswith(f"{told[0]} ")
        assert " d Work list " in screen_text(driver.app).splitlines()[-1]


@pytest.mark.parametrize("language", ["es", "fr"])
async def test_no_head_of_a_column_is_cut(drive: Any, screen_text: Any, language: str) -> None:
    async with drive(size=(80, 24), language=language) as driver:
        [head] = [text for text in screen_text(driver.app).splitlines() if f"  {_('machine')}  " in text]
        assert head.split() == [_(one) for one in ("machine", "place", "what", "left", "road")]


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
async def test_a_note_is_told_of_in_its_row_whatever_is_overdue(
    drive: Any, register: Any, screen_text: Any, size: tuple[int, int]
) -> None:
    register.add(e.Noted(says="frost tonight"), machine=register.machine_id("T03"), by="Ines", now=NOW)
    async with drive(size=size) as driver:
        shown = screen_text(driver.app).splitlines()
        [at] = [number for number, text in enumerate(shown) if re.match(r"..\S T03 ", text)]
        assert "; note " in shown[at]
        assert size[0] < 110 or "note  Ines: frost tonight" in shown[at + 1]


async def test_a_machine_left_running_stands_in_a_band_of_its_own_and_late_ones_first(
    drive: Any, register: Any, screen_text: Any
) -> None:
    battery = e.Service(item="engine-battery")  # nothing is unknown of it then
    register.add(battery, machine=register.machine_id("E06"), by="Tomas", now=NOW)
    async with drive() as driver:
        yard = driver.app.screen
        assert [one.tag for one in yard.machines if one.judged.band == "running"] == ["E06"]
        [e06] = [one for one in yard.machines if one.tag == "E06"]
        [row] = [text for text in screen_text(driver.app).splitlines() if " E06 " in text]
        now = driver.clock.now
        [(_same, limits)] = yards.with_limits(yard.register, [e06.id], now).values()
        at = limits.passed["run"].at.astimezone(yard.register.zone)
        assert f"signed {at:%H:%M} by Ines" in row
        passed = limits.passed["run"]._replace(finish="2026-07-01T08:08")
        limits = replace(limits, passed={**limits.passed, "run": passed})
        late = e06._replace(judged=judge(limits, now, yard.register.zone))
        told = [getattr(cell, "text", cell) for cell in YardRows(yard.register, "en", "metric", now).row(late, limits)]
        assert told[2:4] == ["▲ late home: due 08:08", "0 h 52 over"]
        assert arranged([*yard.machines, late])[1] is late


async def test_a_row_tells_what_is_kept_when_it_comes_into_sight(drive: Any) -> None:
    async with drive() as driver:
        yard, now = driver.app.screen, driver.clock.now
        [e06] = [one for one in yard.machines if one.tag == "E06"]
        told = YardRows(yard.register, "en", "metric", now)
        before = e06._replace(tag="E00", judged=yard.machines[0].judged)
        says = [[[getattr(cell, "text", cell) for cell in row] for row in told.rows([one])] for one in (before, e06)]
        assert says[0] == says[1]  # never half of what was listed and half of what is kept
        assert told.rows([e06._replace(id="left the yard"), e06])[0] == ()


async def test_the_head_of_one_place_says_what_is_out_of_the_ordinary_elsewhere(drive: Any, screen_text: Any) -> None:
    async with drive() as driver:
        assert "elsewhere" not in screen_text(driver.app)
        while driver.app.screen.place != "Home yard":
            await driver.keys("v")
        assert "elsewhere: ■ 1 held" in screen_text(driver.app)


@pytest.mark.long
async def test_a_note_is_shown_to_the_next_person_and_is_read_with_that(
    drive: Any, register: Any, screen_text: Any
) -> None:
    machine = register.machine_id("T01")
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.keys("e")
        await driver.type("gate code 4711")
        await driver.keys("enter")
        driver.expect(Yard)
        assert "gate code 4711" in screen_text(driver.app)  # a line in the yard
        await driver.keys("w")
        driver.expect(Confirm)
        assert "gate code 4711" in screen_text(driver.app)
        await driver.keys("n")  # not now: it stays
        driver.expect(Yard)
        assert len(register.state(machine).notes) == 1
        await driver.keys("w", "y")
        driver.expect(WalkRound)
        assert register.state(machine).notes == ()


async def test_a_note_that_another_program_leaves_meanwhile_stays_unread(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        machine = register.machine_id("T01")
        with open_writer(register.path) as other:
            other.add(e.Noted(says="the gate sticks"), machine=machine, by="Ines", now=driver.clock())
            await driver.keys("w")
            driver.expect(Confirm)
            other.add(e.Noted(says="the hose has a cut"), machine=machine, by="Ines", now=driver.clock())
        await driver.keys("y")
        driver.expect(WalkRound)
        assert [one.says for one in register.state(machine).notes] == ["the hose has a cut"]


async def test_a_note_left_while_it_is_asked_who_is_there_is_read_before_the_check(
    drive: Any, register: Any, screen_text: Any
) -> None:
    async with drive() as driver:
        await driver.to_machine("T01")
        await driver.keys("w")
        with open_writer(register.path) as other:
            note = e.Noted(says="the hose has a cut")
            other.add(note, machine=register.machine_id("T01"), by="Ines", now=driver.clock())
        await driver.keys("c")
        driver.expect(Confirm)
        assert "the hose has a cut" in screen_text(driver.app)


async def test_the_pane_goes_by_the_day_of_the_register_and_by_the_gates_that_are_signed(
    drive: Any, register: Any, screen_text: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the evening west of Greenwich it is another day in UTC; who may pull out has signed something."""
    monkeypatch.setattr(register, "zone", ZoneInfo("America/Denver"))
    async with drive() as driver:
        driver.clock.now = NOW.replace(hour=23, minute=30)
        machine, today = register.machine_id("T01"), NOW.date().isoformat()
        register.add(e.Noted(says="wind at night", until=today), machine=machine, by="Ines", now=driver.clock())
        going = walk_rounds.begin(register, machine, sheets.load().by_id["pre-start"], by="Ines", now=driver.clock())
        driver.clock.now += timedelta(hours=1)
        await driver.to_machine("T01")
        pane = driver.app.screen.query_one(DetailPanel)
        assert "not signed yet" in str(pane.render())
        assert "wind at night" in str(pane.render())
        while (question := walk_rounds.check(register, going.id).walk.next_in_gate(driver.clock(), "Ines")) is not None:
            right = _right(question, going.walk)
            walk_rounds.answer(register, going.id, question.id, right, by="Ines", now=driver.clock())
        walk_rounds.sign(register, going.id, by="Ines", now=driver.clock())
        driver.app.screen.fill()
        assert "last signed: may pull out" in str(pane.render())


async def test_a_near_miss_goes_to_the_supervisor_and_stops_nobody(drive: Any, register: Any) -> None:
    machine = register.machine_id("T01")
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.keys("x")
        await driver.type("hose whipped")
        await driver.keys("enter", "w")
        driver.expect(WalkRound)
        [note] = register.state(machine).notes
        assert (note.says, note.near_miss) == ("hose whipped", True)
        [kept] = entries(register, "kind = 'note' ORDER BY number DESC LIMIT 1")
        assert isinstance(kept.what, e.Noted)
