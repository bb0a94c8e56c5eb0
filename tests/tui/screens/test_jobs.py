"""The three jobs that Reelcare is for, and all around them, by keyboard alone."""

import asyncio
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from textual.events import Paste
from textual.widgets import Input, Static

from reelcare.core import entries as e
from reelcare.core.service.plan_table import to_plain
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.demo import _right
from reelcare.register.errors import Busy, NotAllowed
from reelcare.register.opening import open_writer
from reelcare.register.reading import yard as yards
from reelcare.tui import base, yard_reading
from reelcare.tui.lists import GatheringScreen
from reelcare.tui.screens.checks.walk import WalkRound
from reelcare.tui.screens.first_day import start
from reelcare.tui.screens.machine.book import Book
from reelcare.tui.screens.work.bench import Bench
from reelcare.tui.screens.work.due import DueList
from reelcare.tui.screens.work.plan import PlanPage
from reelcare.tui.screens.work.weeks import Weeks
from reelcare.tui.screens.yard import Yard
from reelcare.tui.widgets.drawings.machine_plan import MachinePlan
from reelcare.tui.widgets.inputs.dialogs import Confirm
from reelcare.tui.widgets.key_line import KeyLine
from reelcare.tui.widgets.rows import Rows
from tests.estates import NOW
from tests.register.conftest import Yard as Hand
from tests.register.conftest import entries, newest
from tests.register.test_gates import answer_gate, sign


async def be(driver: Any, letter: str) -> None:
    """Say who is there: two keys."""
    await driver.keys("p", letter)


@pytest.mark.long
async def test_an_operator_completes_a_pre_start_and_the_machine_is_clear(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await be(driver, "c")
        await driver.to_machine("T01")
        assert driver.standing("T01") == "check due"
        await driver.keys("w")
        driver.expect(WalkRound)
        await driver.walk_to_the_end()
        await driver.keys("s")
        driver.expect(Yard)
        assert driver.standing("T01") == "clear"
        keys = driver.pressed
        print(f"an operator's pre-start of T01, from the yard to clear: {keys} keys")
        assert keys <= 75
    # it is so after closing and opening
    async with drive() as driver:
        assert driver.standing("T01") == "clear"


async def test_the_last_answers_before_the_water_and_their_signature_clear_the_machine(
    drive: Any, register: Any
) -> None:
    async with drive() as driver:
        await be(driver, "c")
        hand = Hand(register, register.machine_id("T01"), now=driver.clock.now)
        sheet = sheets.load().by_id["pre-start"]
        going = walk_rounds.begin(register, hand.machine, sheet, by="Ines", now=hand.now)
        going = answer_gate(hand, going, by="Ines")
        sign(hand, going, by="Ines")
        gates = [going.walk.sheet.gate_of(one.id) for one in going.walk.sheet.questions]
        answer_gate(hand, going, by="Ines", most=gates.count("water") - 2)
        driver.clock.now = hand.now
        await driver.to_machine("T01")
        assert driver.standing("T01") == "check due"
        await driver.keys("w")
        driver.expect(WalkRound)
        assert 0 < await driver.answer_gate() < 12
        assert driver.standing("T01") == "check due"
        await driver.keys("s")
        assert driver.standing("T01") == "clear"


@pytest.mark.long
async def test_a_failed_stop_holds_until_repair_retest_and_release(drive: Any, register: Any, screen_text: Any) -> None:
    async with drive() as driver:
        await be(driver, "c")
        await driver.to_machine("T09")
        await driver.keys("w")
        await driver.walk_to("stop-test")
        await driver.keys("1")
        # it asks before it holds; no looks again
        await driver.keys("n")
        assert driver.app.screen.question.id == "stop-test"
        await driver.keys("1", "y")
        assert driver.app.screen.question is None
        assert driver.standing("T09") == "held"
        await driver.keys("s")  # nothing to sign
        await driver.keys("escape")
        # an operator cannot end it, and is told so before anything is written
        await driver.to_machine("T09")
        await driver.keys("b", "enter")
        driver.expect(Bench)
        assert "only a mechanic can do this" in driver.app.notice.says
        # nor does the door let it in
        machine = register.machine_id("T09")
        repair = e.Repair(fault=register.state(machine).faults[0].id, says="hit with a hammer")
        with pytest.raises(NotAllowed):
            register.add(repair, machine=machine, by="Ines", now=driver.clock.now)
        assert driver.standing("T09") == "held"
        # the mechanic repairs, tries again, releases
        await be(driver, "b")
        await driver.keys("home", "enter")
        assert "CAUTION Make it safe first" in screen_text(driver.app)
        await driver.type("pivot freed")
        await driver.keys("ctrl+y")
        assert register.state(register.machine_id("T09")).faults[0].status == "repaired"
        assert driver.standing("T09") == "held"
        await driver.keys("home", "enter")
        await driver.type("out three times")
        await driver.keys("ctrl+y", "p", "enter")
        assert register.state(register.machine_id("T09")).faults[0].status == "re-tested"
        assert driver.standing("T09") == "held"
        # nobody has a PIN, and the form says what a name is worth then
        await driver.keys("home", "enter")
        not_proved = "nobody has a PIN: anybody can sign"
        assert not_proved in " ".join(screen_text(driver.app).split())
        await driver.keys("escape")
        register.give_pin("Ines", "82649", by="Ines")
        await driver.keys("home", "enter")
        assert not_proved not in " ".join(screen_text(driver.app).split())
        await driver.keys("ctrl+y")
        assert driver.standing("T09") == "check due"
    async with drive() as driver:
        assert driver.standing("T09") == "check due"


async def test_a_mechanic_logs_a_gearbox_oil_change_and_its_next_due_moves(drive: Any, register: Any) -> None:
    machine = register.machine_id("T03")

    def oil(driver: Any) -> Any:
        lines = yards.machine_now(register, machine, driver.clock.now).dues
        return next(line for line in lines if line.item.id == "gearbox-oil-change")

    async with drive() as driver:
        assert oil(driver).due.state == "overdue"
        await be(driver, "b")
        await driver.keys("d")
        driver.expect(DueList)
        await driver.to_line("Gearbox oil change")
        assert driver.app.screen.listed[driver.app.screen.query_one(Rows).cursor].first.tag == "T03"
        await driver.keys("enter")
        # not before every energy is confirmed as made safe
        await driver.keys("ctrl+y")
        assert oil(driver).due.state == "overdue"
        for _ in range(8):
            await driver.keys("space", "down")
        await driver.keys("ctrl+y")
        driver.expect(DueList)
        assert oil(driver).due.state == "ok"
        assert oil(driver).last_done == driver.clock.now.date()
        service = entries(register, "machine = ? AND kind = 'service' ORDER BY number DESC LIMIT 1", machine)[0]
        assert service.by == "Tomas"
        assert isinstance(service.what, e.Service)
        assert service.what.isolated == ("water", "hose tension", "drum", "pto")
        assert len(service.what.steps) == 4
        print(f"a mechanic's gearbox oil change of T03, from the yard to kept: {driver.pressed} keys")
        assert driver.pressed <= 45


async def test_a_supervisor_lists_what_is_overdue_in_two_keys(drive: Any) -> None:
    async with drive() as driver:
        await driver.keys("d")
        screen = driver.app.screen
        assert isinstance(screen, DueList)
        bands = [line.band for line in screen.lines]
        assert bands == sorted(bands, key=["held", "overdue", "unknown", "due", "soon", "ok"].index)
        assert bands[:2] == ["held", "overdue"]
        await driver.keys("w", "w")
        print(f"a supervisor's list of what is overdue and due: {driver.pressed} keys")
        assert driver.pressed <= 3
        assert {line.band for line in screen.lines} == {"held", "overdue", "unknown", "due"}
        await driver.keys("a")
        places = {line.place for line in screen.lines}
        assert len(places) == 1
        await driver.keys("t")
        assert len({line.item.part for line in screen.lines}) == 1


async def test_a_mechanic_prints_what_is_given_for_today_and_the_supervisor_all(
    drive: Any, register: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    machine = register.machine_id("T03")
    async with drive() as driver:
        for item, day in (("grease", "2026-07-01"), ("gearbox-oil-change", "2026-07-02")):
            what = e.Assigned(item=item, to="Tomas", day=day)
            register.add(what, machine=machine, by="Marta", now=driver.clock.now)
        await driver.keys("d")
        while driver.app.screen.person != "Tomas":
            await driver.keys("f")
        await driver.keys("o", "b")
        page = (tmp_path / "work-list-2026-07-01.html").read_text("utf-8")
        assert str(tmp_path) in driver.app.notice.says
        assert "Work list of Tomas, 2026-07-01" in page
        assert "Grease" in page
        assert "Gearbox oil: change" not in page
        # nothing is written over, and a page of all has a part for each person
        await driver.keys("o", "c", "o", "escape")
        assert "Gearbox oil: change" in (tmp_path / "work-list-2026-07-02.html").read_text("utf-8")
        while driver.app.screen.person:
            await driver.keys("f")
        await driver.keys("o", "a")
        page = (tmp_path / "work-list-2026-07-01-2.html").read_text("utf-8")
        assert page.count("<h2>") >= 2
        assert all(one.tag in page for one in driver.app.screen.lines if one.band in ("held", "overdue"))
        assert oct((tmp_path / "work-list-2026-07-01.html").stat().st_mode)[-3:] == "600"


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the user directories of its desktops")
async def test_a_page_and_spreadsheets_lie_among_downloads_whatever_they_are_called(
    drive: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    (tmp_path / "user-dirs.dirs").write_text('XDG_DOWNLOAD_DIR="$HOME/Descargas"\n', "utf-8")
    folder = tmp_path / "Descargas"
    folder.mkdir()
    (folder / "runs.csv").touch()
    assert folder / "runs.csv" in start.spreadsheets()
    async with drive() as driver:
        await driver.keys("d", "o", "a")
        assert [one.name for one in folder.glob("*.html")] == ["work-list-2026-07-01.html"]
        assert f"{folder}/work-list-2026-07-01.html" in driver.app.notice.says


async def test_where_nothing_is_given_nothing_is_printed(
    drive: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    async with drive() as driver:
        await driver.keys("d", "o", "c")
        assert "nothing to print" in driver.app.notice.says
        assert not list(tmp_path.glob("work-list*"))


async def test_a_near_miss_stands_before_the_supervisor_s_work_list_until_it_is_dealt_with(
    drive: Any, register: Any, screen_text: Any
) -> None:
    machine = register.machine_id("T03")
    async with drive() as driver:
        what = e.Noted(says="tractor touched the hose", near_miss="yes")
        register.add(what, machine=machine, by="", now=driver.clock.now)
        await be(driver, "b")
        await driver.keys("d")
        rows = driver.app.screen.query_one(Rows)
        assert "1 for the supervisor" in " ".join(screen_text(driver.app).split())
        assert "touched the hose" not in screen_text(driver.app), "a mechanic is told that there is one, no more"
        assert rows.count == len(driver.app.screen.listed)
        await be(driver, "a")
        assert "tractor touched the hose (2026-07-01, no name)" in screen_text(driver.app)
        assert rows.count == len(driver.app.screen.listed) + 1
        # it is no work: nothing to tick, and what is below it is done as before
        await driver.keys("home", "space")
        assert driver.app.screen.ticked == set()
        await driver.keys("enter", "n")
        assert register.state(machine).notes
        await driver.keys("enter", "y")
        assert not register.state(machine).notes
        assert "for the supervisor" not in screen_text(driver.app)
        assert rows.count == len(driver.app.screen.listed)


@pytest.mark.long
async def test_a_walk_round_on_a_held_machine_says_so_first_and_no_gate_is_signed(
    drive: Any, register: Any, screen_text: Any
) -> None:
    gates = "kind = 'gate signed' AND machine = ?"
    before = entries(register, gates, register.machine_id("T02"))
    async with drive() as driver:
        await be(driver, "c")
        await driver.to_machine("T02")
        assert driver.standing("T02") == "held"
        await driver.keys("w")
        shown = " ".join(str(driver.app.screen.query_one("#before").render()).split())
        assert "■ held by what is broken" in shown
        assert "to end it: repair, re-test and release" in shown
        await driver.answer_gate()
        assert "no gate can be signed while this holds" in " ".join(
            str(driver.app.screen.query_one("#about").render()).split()
        )
        await driver.keys("s")
        driver.expect(WalkRound)
    assert entries(register, gates, register.machine_id("T02")) == before


@pytest.mark.long
async def test_looking_into_a_walk_round_writes_nothing(drive: Any, register: Any) -> None:
    before = len(entries(register, "1 = 1"))
    async with drive() as driver:
        await be(driver, "c")
        await driver.to_machine("T01")
        await driver.keys("w", "s", "x", "w", "escape")
        driver.expect(Yard)
    assert len(entries(register, "1 = 1")) == before


@pytest.mark.long
async def test_an_interrupted_walk_goes_on_with_the_last_answer_asked_again(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await be(driver, "c")
        await driver.to_machine("B05")
        await driver.keys("w")
        answered = driver.app.screen.going.walk.counting()
        given = entries(register, "kind = 'answer' AND refers = ?", driver.app.screen.going.id)
        assert list(answered) == [one.what.question for one in given if isinstance(one.what, e.Answered)]
        assert driver.app.screen.question.id == list(answered)[-1]


@pytest.mark.long
async def test_another_person_looks_again_at_what_moves_by_hand_and_goes_on(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await be(driver, "d")
        await driver.to_machine("B05")
        await driver.keys("w")
        walk = driver.app.screen.going.walk
        by_hand = {id for id in walk.counting() if walk.sheet.question(id).by_hand}
        assert by_hand
        await driver.walk_to_the_end()
        await driver.keys("s")
        assert driver.standing("B05") == "clear"
        given = entries(register, "kind = 'answer' AND machine = ?", register.machine_id("B05"))
        assert by_hand <= {one.what.question for one in given if isinstance(one.what, e.Answered) and one.by == "Aldo"}
        assert {"Ines", "Aldo"} <= {one.by for one in given}


async def test_every_answer_is_kept_the_moment_it_is_given(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await be(driver, "c")
        await driver.to_machine("T01")
        await driver.keys("w")
        for number in range(1, 6):
            await driver.answer_right()
            check = driver.app.screen.going.id
            assert len(entries(register, "kind = 'answer' AND refers = ?", check)) == number


@pytest.mark.long
async def test_a_reading_is_judged_when_it_is_given_and_says_what_to_do(drive: Any) -> None:
    async with drive() as driver:
        await be(driver, "c")
        await driver.to_machine("T01")
        await driver.keys("w")
        await driver.walk_to("coils")
        await driver.type("7,5")
        await driver.keys("enter")
        assert driver.app.screen.question.id == "coils"
        for _ in range(4):
            await driver.keys("backspace")
        await driver.type("1")
        await driver.keys("enter")  # fewer than two coils: it asks before it holds
        await driver.keys("n")
        assert driver.app.screen.question.id == "coils"
        assert driver.standing("T01") == "check due"


@pytest.mark.long
async def test_back_and_forward_and_a_note(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await be(driver, "c")
        await driver.to_machine("T01")
        await driver.keys("w", "1", "1")
        assert driver.app.screen.question.id == "ground"
        await driver.keys("pageup")
        assert driver.app.screen.question.id == "stream"
        await driver.keys("pagedown")
        assert driver.app.screen.question.id == "ground"
        await driver.keys("n")
        await driver.type("firm [/] but wet")
        await driver.keys("enter")
        await driver.answer_right()
        assert newest(register, e.Answered).note == "firm [/] but wet"


@pytest.mark.long
async def test_a_note_stays_with_its_question_and_is_not_left_behind(drive: Any, register: Any) -> None:
    def last() -> tuple[str, str]:
        what = newest(register, e.Answered)
        return what.question, what.note

    async with drive() as driver:
        await be(driver, "c")
        await driver.to_machine("T01")
        await driver.keys("w", "1", "n")
        await driver.type("a ditch")
        await driver.keys("enter", "pageup", "1")
        assert last() == ("overhead", "")
        await driver.keys("pageup", "escape")
        driver.expect(Confirm)
        await driver.keys("escape")
        assert driver.app.screen.question.id == "stream"
        await driver.keys("q")  # what is written would be lost
        await driver.keys("1")
        assert last() == ("stream", "a ditch")
        # whoever answers again sees the answer and the note, and keeps the note
        await driver.keys("pageup")
        assert "the field only" in str(driver.app.screen.query_one("#judged").render())
        assert "a ditch" in str(driver.app.screen.query_one("#about").render())
        await driver.keys("1")
        assert last() == ("stream", "a ditch")
        await driver.keys("escape")
        driver.expect(Yard)


@pytest.mark.long
async def test_a_reading_takes_a_note_and_where_it_holds_its_place_is_lit(drive: Any, register: Any) -> None:
    async with drive(language="es") as driver:
        await be(driver, "c")
        await driver.to_machine("T01")
        await driver.keys("w")
        await driver.walk_to("inlet")
        assert "Nota" in [one.name for one in driver.app.screen.query_one(KeyLine).keys]
        await driver.keys("n")
        await driver.type("bent")
        await driver.keys("enter")
        await driver.type("25 bar")
        await driver.keys("enter")
        assert "25 bar; lo correcto es nunca m\u00e1s de 10 bar" in driver.app.screen._request.says[0]
        await driver.keys("y")
        assert "man\u00f3metros" in driver.app.screen.query_one(MachinePlan).words(2)[0][0]
        fault = newest(register, e.Fault)
        assert fault.says.endswith("right is never above 10 bar (bent)")  # one language for all who read the yard


@pytest.mark.long
async def test_a_walk_is_given_up_with_a_reason_and_clears_nothing(drive: Any) -> None:
    async with drive() as driver:
        await be(driver, "c")
        await driver.to_machine("T01")
        await driver.keys("w", "1", "x")
        await driver.type("rain")
        await driver.keys("enter")
        driver.expect(Yard)
        assert driver.standing("T01") == "check due"
        await driver.keys("w")
        assert driver.app.screen.question.id == "overhead"


@pytest.mark.long
async def test_a_run_is_logged_totals_move_and_the_clearance_is_spent(drive: Any, register: Any) -> None:
    machine = register.machine_id("E06")
    async with drive(size=(100, 30)) as driver:
        await be(driver, "c")
        await driver.to_machine("E06")
        assert driver.standing("E06") == "clear"
        before = register.state(machine).totals
        await driver.keys("r", "tab")
        now = driver.clock.now.astimezone(register.zone)
        await driver.type(f"{now:%Y-%m-%d %H:%M}")
        await driver.keys("tab")
        await driver.type("310")
        await driver.keys("ctrl+y", "e", "enter")
        after = register.state(machine).totals
        assert after.runs == before.runs + 1
        assert after.millimetres == before.millimetres + 310_000
        assert driver.standing("E06") == "check due"


async def test_a_run_in_the_night_in_which_the_clocks_go_back_counts_the_time_that_passed(
    drive: Any, register: Any, screen_text: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Clocks of Madrid (IANA time-zone data): 25 October 2026 has 02:00 to 03:00 twice."""
    monkeypatch.setattr(register, "zone", ZoneInfo("Europe/Madrid"))
    async with drive(size=(100, 30)) as driver:
        driver.clock.now = datetime(2026, 10, 25, 9, tzinfo=UTC)
        await be(driver, "c")
        await driver.to_machine("E06")
        await driver.keys("r", "ctrl+u")
        await driver.type("2026-10-25 02:30")
        await driver.keys("tab")
        await driver.type("9 h")
        await driver.keys("tab")
        await driver.type("310")
        await driver.keys("ctrl+y", "e", "enter")
        form = driver.app.screen
        assert "comes twice" in screen_text(driver.app)
        form.query_one("#started", Input).value = "2026-10-24 22:00"
        await driver.keys("ctrl+y", "e", "enter")
        assert newest(register, e.Run).ended == datetime(2026, 10, 25, 5, tzinfo=UTC)


async def test_a_run_begins_where_the_water_might_be_opened(drive: Any) -> None:
    """It began with the gate signed 10 to 30 minutes later, and so much was missing of the hours of each run."""
    async with drive() as driver:
        await be(driver, "c")
        await driver.to_machine("T01")
        await driver.keys("w")
        walk = driver.app.screen
        await driver.walk_to_the_end()
        driver.clock.now += timedelta(minutes=20)
        await driver.keys("s")
        opened = next(one.at for one in walk.going.walk.signed if one.gate == "water")
        await driver.keys("r")
        opened = opened.astimezone(driver.app.register.zone)
        assert driver.app.screen.value("started") == f"{opened:%Y-%m-%d %H:%M}"


@pytest.mark.long
async def test_a_run_that_cannot_be_keeps_what_was_typed(drive: Any, register: Any) -> None:
    async with drive(size=(100, 30)) as driver:
        await be(driver, "c")
        await driver.to_machine("E06")
        await driver.keys("r", "tab")
        await driver.type("9 h")
        await driver.keys("tab")
        await driver.type("9999")
        await driver.keys("ctrl+y", "e", "enter")
        form = driver.app.screen
        assert form.value("metres") == "9999"
        assert not isinstance(form, Yard)


async def test_no_single_letter_leaves_a_form(drive: Any) -> None:
    async with drive(size=(100, 30)) as driver:
        await be(driver, "b")
        await driver.to_machine("T03")
        await driver.keys("b", "m")
        form = driver.app.screen
        await driver.keys("q", "p", "u", "l")
        assert driver.app.screen is form
        assert driver.app.is_running


@pytest.mark.long
async def test_a_counter_is_read_at_the_bench(drive: Any, register: Any) -> None:
    machine = register.machine_id("B04")
    async with drive() as driver:
        await be(driver, "b")
        await driver.to_machine("B04")
        await driver.keys("b", "m")
        await driver.type("12")
        await driver.keys("ctrl+y")
        assert register.state(machine).counters.hours.shown == 12 * 3600
        # what is likely a slip is told, and kept all the same
        since = {tag: register.state(id).counters.hours for id, tag in register.tags().items()}
        tag, count = max(since.items(), key=lambda one: one[1].since if one[1].shown is not None else -1)
        await driver.keys("escape")
        await driver.to_machine(tag)
        await driver.keys("b", "m")
        await driver.type(f"{count.shown // 3600 + 1}")
        await driver.keys("ctrl+y")
        assert "does the counter stand still?" in driver.app.notice.says


async def test_what_a_new_counter_shows_stands_beside_what_the_machine_has_done(
    drive: Any, register: Any, screen_text: Any
) -> None:
    machine = register.machine_id("B04")
    at = NOW - timedelta(hours=20)
    read = {0: e.Reading(counter="hours", value=0, change="new counter"), 7: e.Reading(counter="hours", value=7 * 3600)}
    for hours, what in read.items():
        register.add(
            what, machine=machine, by="Marta", now=at + timedelta(hours=9), happened=at + timedelta(hours=hours)
        )
    async with drive() as driver:
        await driver.to_machine("B04")
        assert "(hour counter shows 7 h)" in " ".join(screen_text(driver.app).split())
        await driver.keys("b")
        assert "Bench  hour counter shows 7 h" in screen_text(driver.app).splitlines()[0]  # it was cut at 80 columns


@pytest.mark.long
async def test_a_fault_is_noted_from_the_yard(drive: Any, register: Any) -> None:
    async with drive(size=(80, 30)) as driver:
        await be(driver, "c")
        await driver.to_machine("T10")
        await driver.keys("f")
        await driver.type("nozzle")
        await driver.keys("tab")
        await driver.type("rattles [red")
        await driver.keys("tab", "tab")
        await driver.type("20 h")
        await driver.keys("ctrl+y", "x", "enter")
        fault = register.state(register.machine_id("T10")).faults[-1]
        assert (fault.part, fault.says) == ("gun", "rattles [red")
        assert fault.fix_by_seconds is not None


async def test_what_another_program_writes_is_seen_in_the_yard(
    drive: Any, register: Any, screen_text: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(base, "LOOK", 0.01)
    long_name = "Maximiliana Wilhelmina von und zu Hohenstein-Unterpfaffenhofen"
    async with drive() as driver:
        await driver.to_machine("T12")
        with open_writer(register.path) as other:
            now, machine = driver.clock(), other.machine_id("T12")
            other.add(e.Fault(part="legs", says="bent", holds="both"), machine=machine, by="Ines", now=now)
            walk_rounds.begin(other, machine, sheets.load().by_id["road"], by="Ines", now=now)
            other.add(e.Enrolled(name=long_name, role="operator"), by="Marta", now=now)
        for _ in range(500):
            if "\u25e6 open  road: begun" in screen_text(driver.app):
                break
            await asyncio.sleep(0.01)
        assert "\u25b8 \u25a0 T12" in screen_text(driver.app)
        await be(driver, "e")
        head = screen_text(driver.app).splitlines()[0]
        assert "2 held" in screen_text(driver.app).splitlines()[1]
        assert head.rstrip().endswith("\u2026, operator")


@pytest.mark.long
async def test_what_was_looked_at_before_changes_no_form(drive: Any, screen_text: Any) -> None:
    async with drive() as driver:
        await be(driver, "b")
        await driver.keys("i", "escape", "t", "escape", "f", "down")
        await driver.type("scuffed")
        assert "what is wrong            scuffed" in screen_text(driver.app)
        await driver.keys("escape", "y", "s")
        assert "\u2500\u2500" not in screen_text(driver.app)


async def test_where_a_run_is_taken_back_the_right_one_is_asked_for(drive: Any, register: Any) -> None:
    """Nothing was told, and the machine stood as clear again, though it did run."""
    async with drive() as driver:
        await be(driver, "a")
        await driver.to_machine("E06")
        now = driver.clock.now - timedelta(hours=1)
        what = e.Run(started=now - timedelta(hours=9), ended=now, metres=29_000)
        register.add(what, machine=register.machine_id("E06"), by="Ines", now=now, happened=now)
        await driver.keys("k", "home", "x")
        await driver.type("290 m")
        await driver.keys("enter")
        told = f"taken back: run, {now:%Y-%m-%d}. E06 is as it was before that run: log the right run (r in the yard)"
        assert driver.app.notice.says == told


@pytest.mark.long
async def test_an_entry_is_taken_back_in_the_book_by_a_supervisor_only(drive: Any, register: Any) -> None:
    machine = register.machine_id("T01")
    async with drive() as driver:
        await be(driver, "c")
        await driver.to_machine("T01")
        await driver.keys("k", "f")
        before = register.state(machine).totals.runs
        await driver.keys("x")
        driver.expect(Book)  # told before a reason is written, not after
        assert register.state(machine).totals.runs == before
        await be(driver, "a")
        await driver.keys("x")
        driver.app.screen.query_one(Input).post_message(Paste("double\nlogged "))
        await driver.pilot.pause()
        await driver.keys("enter")
        assert register.state(machine).totals.runs == before - 1
        rows = driver.app.screen.query_one(Rows)
        assert any("TAKEN BACK by Marta: double logged |" in cell.text for cell in rows.row(rows.cursor))


async def test_a_service_on_the_wrong_machine_is_moved_with_its_day_by_whom_it_slipped(
    drive: Any, register: Any, screen_text: Any
) -> None:
    wrong, right = register.machine_id("T01"), register.machine_id("T03")
    async with drive() as driver:
        await be(driver, "b")
        now = driver.clock.now
        what, day = e.Service(item="grease", title="Grease"), now - timedelta(days=1)
        register.add(what, machine=wrong, by="Tomas", now=now, happened=day)
        await driver.to_machine("T01")
        await driver.keys("k", "f", "f", "f", "m")
        await driver.type("T33")
        await driver.keys("enter", "enter")
        assert "no such machine" in driver.app.notice.says, "nothing is taken back where it cannot be moved"
        assert not entries(register, "machine = ? AND kind = 'correction'", wrong)
        await driver.keys("m")
        await driver.type("T03")
        await driver.keys("enter", "enter")
        assert "is moved to T03" in driver.app.notice.says
        assert "TAKEN BACK by Tomas" in screen_text(driver.app)
    moved = entries(register, "machine = ? AND kind = 'service' ORDER BY number DESC LIMIT 1", right)[0]
    assert (moved.what, moved.happened, moved.by) == (what, day, "Tomas")


async def test_a_mistyped_day_for_given_work_is_asked_again_as_it_was_typed(
    drive: Any, register: Any, screen_text: Any
) -> None:
    async with drive() as driver:
        await be(driver, "a")
        await driver.keys("d", "g", "b", "d")
        for typed, told in (("32.13.26", "'32.13.26' is not a day"), ("2020-01-01", "2020-01-01 is already past")):
            await driver.keys("ctrl+u")
            await driver.type(typed)
            await driver.keys("enter")
            assert told in screen_text(driver.app)
            assert driver.app.screen.query_one(Input).value == typed
        day = (driver.clock().astimezone(register.zone) + timedelta(days=9)).date()
        await driver.keys("end", "ctrl+u")
        await driver.type(f"{day}")
        await driver.keys("enter")
        driver.expect(DueList)
        assert f"given to Tomas for {day}" in driver.app.notice.says
        assert [one.given.day for one in driver.app.screen.lines if one.given] == [day]


async def test_what_one_person_may_not_do_is_told_no_longer_once_another_is_there(drive: Any) -> None:
    async with drive() as driver:
        await be(driver, "b")
        await driver.keys("d", "g")
        assert "only a supervisor can do this" in driver.app.notice.says
        await driver.keys("p")
        await driver.keys("escape")
        assert driver.app.notice is not None, "nothing has changed yet"
        await be(driver, "a")
        assert driver.app.notice is None


async def test_what_cannot_be_moved_or_taken_back_is_told_before_a_reason_is_asked(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await be(driver, "a")
        what = e.Fault(part="hose", says="scuffed")
        fault = register.add(what, machine=register.machine_id("T01"), by="Marta", now=driver.clock())
        await driver.to_machine("T01")
        await driver.keys("k", "m")
        driver.expect(Book)
        assert driver.app.notice.says == "fault: only services, runs, readings and notes are moved"
        await driver.keys("x")
        await driver.type("twice")
        await driver.keys("enter", "home")
        shown = driver.app.screen
        while shown.line.entry.id != fault.id:
            await driver.keys("down")
        for key in ("x", "m"):
            await driver.keys(key)
            driver.expect(Book)
            assert driver.app.notice.says == "fault: taken back already"


@pytest.mark.long
async def test_who_one_is_takes_two_keys_and_is_asked_where_it_matters(drive: Any) -> None:
    async with drive() as driver:
        assert driver.app.person == ""
        await driver.keys("w")
        await driver.keys("c")
        assert driver.app.person == "Ines"
        driver.expect(WalkRound)


@pytest.mark.long
async def test_units_and_language_follow_the_person(drive: Any, screen_text: Any) -> None:
    async with drive(size=(120, 40)) as driver:
        await driver.keys("c")
        assert " m" in screen_text(driver.app)
        await driver.keys("u")
        assert "1247 ft" in screen_text(driver.app) or " ft" in screen_text(driver.app)
        await driver.keys("escape", "l")
        await driver.keys("w", "c")
        assert "Línea eléctrica" in screen_text(driver.app)


@pytest.mark.long
@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_the_mouse_alone_begins_and_answers_a_walk(drive: Any, size: tuple[int, int]) -> None:
    async with drive(size=size) as driver:
        await be(driver, "c")
        rows = driver.app.screen.query_one(Rows)
        below_the_bands = (5, 8)
        await driver.pilot.click(rows, offset=below_the_bands)
        await driver.pilot.click(rows, offset=below_the_bands)
        await driver.pilot.pause()
        driver.expect(WalkRound)
        await driver.pilot.click(KeyLine, offset=(3, 0))  # Enter begins the gate
        await driver.pilot.pause()
        first = driver.app.screen.question.id
        await driver.pilot.click(".choice")
        await driver.pilot.pause()
        assert driver.app.screen.question.id != first


@pytest.mark.long
async def test_hostile_text_in_every_screen_is_shown_and_obeyed_nowhere(
    drive: Any, register: Any, hostile: tuple[str, ...], steers: set[str], screen_text: Any
) -> None:
    machine = register.machine_id("T02")
    for text in hostile:
        register.add(
            e.Fault(part="gun", says=f"x{text}"), machine=machine, by="Marta", now=register.state(machine).last[0]
        )
    async with drive(size=(120, 40)) as driver:
        await be(driver, "a")
        await driver.to_machine("T02")
        for keys in (
            ("b",),
            ("k",),
            ("f",) * 4,
            ("enter",),
            ("escape",),
            ("escape",),
            ("escape",),
            ("d",),
            ("escape",),
            ("c",),
        ):
            await driver.keys(*keys)
            assert not steers & set(screen_text(driver.app).replace("\n", ""))
        assert driver.app.is_running


async def test_a_fault_to_be_fixed_tells_what_is_left_of_its_limit(drive: Any, screen_text: Any) -> None:
    async with drive(size=(120, 40)) as driver:
        await driver.to_machine("T08")
        await driver.keys("b")
        assert "50681 m in 4000 m" in " ".join(screen_text(driver.app).split())


async def test_an_empty_register_opens_and_says_how_to_begin(tmp_path: Any, screen_text: Any) -> None:
    from reelcare.tui.app import Reelcare

    with open_writer(tmp_path / "empty.db") as empty:
        app = Reelcare(empty)
        async with app.run_test(size=(80, 24), notifications=True, tooltips=True) as pilot:
            await pilot.pause()
            assert "the first supervisor" in screen_text(app)
            await pilot.press("escape")
            await pilot.pause()
            for key in (
                "w",
                "r",
                "b",
                "c",
                "k",
                "f",
                "o",
                "enter",
                "down",
                "p",
                "escape",
                "d",
                "enter",
                "w",
                "a",
                "t",
                "escape",
            ):
                await pilot.press(key)
                await pilot.pause()
            assert app.is_running


@pytest.mark.long
async def test_a_figure_of_the_plan_is_changed_for_one_machine_and_for_all(drive: Any, register: Any) -> None:
    def every(tag: str) -> int | None:
        item = register.plans().newest(register.machine_id(tag)).item("grease")
        return item.every.seconds if item else None

    async with drive(size=(100, 40)) as driver:
        await be(driver, "b")
        await driver.to_machine("T01")
        await driver.keys("c", "s")
        await driver.to_line("Grease")
        await driver.keys("enter")
        driver.expect(PlanPage)  # a plan is a supervisor's, which is told at once
        await be(driver, "a")
        await driver.to_line("Grease")
        await driver.keys("enter", "tab", "backspace", "backspace", "ctrl+y")
        assert every("T01") == 50 * 3600  # an item without an interval is refused, and stays on the screen
        await driver.type("80")
        await driver.keys("ctrl+y")
        assert (every("T01"), every("T02")) == (80 * 3600, 50 * 3600)
        await driver.keys("escape", "escape", "d", "s")
        await driver.to_line("Grease")
        await driver.keys("enter", "tab", "backspace", "backspace")
        await driver.type("60")
        await driver.keys("ctrl+y")
        assert (every("T01"), every("T02")) == (80 * 3600, 60 * 3600)
        assert register.rebuild() == []


@pytest.mark.long
async def test_an_item_that_somebody_took_out_of_the_plan_is_not_told_as_changed(drive: Any, register: Any) -> None:
    async with drive(size=(100, 40)) as driver:
        await be(driver, "a")
        await driver.keys("d", "s")
        await driver.to_line("Lay-up")
        await driver.keys("enter")
        form = driver.app.screen
        plain = to_plain(register.plans().newest(""))
        plain["items"] = [one for one in plain["items"] if one["id"] != "lay-up"]
        register.add(e.Planned(plan=plain), machine=None, by="Marta", now=driver.clock())
        await driver.keys("ctrl+y")
        assert driver.app.screen is form
        assert "no longer in the plan" in str(form.query_one("#error").render())


@pytest.mark.long
async def test_a_supervisor_sees_the_coming_weeks_and_goes_to_the_bench(drive: Any) -> None:
    async with drive() as driver:
        await driver.keys("d", "v")
        screen = driver.app.screen
        assert isinstance(screen, Weeks)
        six = sum(week.minutes for week in screen.weeks)
        assert six > 0
        assert "6 weeks" in screen.where()
        # the row of a week tells what to take along, that of a visit what is done
        assert "take along" in str(screen.query_one("#visit").render())
        await driver.keys("down")
        visit = screen.shown[1][1]
        assert visit is not None
        assert visit.machine in str(screen.query_one("#visit").render())
        # a quarter holds more than six weeks, one place less than all
        await driver.keys("w")
        assert sum(week.minutes for week in screen.weeks) > six
        await driver.keys("w", "w", "a")
        assert 0 < sum(week.minutes for week in screen.weeks) < six
        assert {one.place for week in screen.weeks for one in week.visits} == {screen.place}
        await driver.keys("home", "down", "enter")
        driver.expect(Bench)
        await driver.keys("escape", "escape")
        driver.expect(DueList)


async def test_the_way_back_from_the_due_list_stands_in_its_line_of_keys_at_80_columns(drive: Any) -> None:
    async with drive(size=(80, 24)) as driver:
        await driver.keys("d")
        assert ("Esc", "Back") in [(one.keys, one.name) for one in driver.app.screen.query_one(KeyLine).keys]


async def test_what_others_wrote_is_seen_once_the_register_is_free_again(
    drive: Any, register: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def busy(*_: Any) -> Any:
        raise Busy("another program writes")

    async with drive() as driver:

        def held() -> int:
            return [one.judged.standing.worst for one in shown.machines].count("held")

        shown = driver.app.screen
        before = held()
        with open_writer(register.path) as other:
            what = e.Fault(part="hose", says="scuffed", holds="both", retest="look")
            other.add(what, machine=other.machine_id("T01"), by="Ines", now=driver.clock())
        with monkeypatch.context() as patch:
            patch.setattr(yards, "listed", busy)
            shown._look()
        assert held() == before
        shown._look()
        assert held() == before + 1


async def test_a_hold_by_another_program_stands_in_the_head_of_a_machine_at_once(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.to_machine("T01")
        await driver.keys("t")
        shown = driver.app.screen
        before = len(shown.seen.state.faults)
        with open_writer(register.path) as other:
            what = e.Fault(part="hose", says="scuffed", holds="both", retest="look")
            other.add(what, machine=shown.machine_id, by="Ines", now=driver.clock())
        shown._look()
        assert len(shown.seen.state.faults) == before + 1


async def test_what_another_program_writes_stands_on_steps_and_bench_at_once(drive: Any, register: Any) -> None:
    """Below a head that says *held* no step stands as possible that it bars, and no bench without the fault."""
    async with drive() as driver:
        await driver.to_machine("T01")
        await driver.keys("t", "a")
        screen = driver.app.screen
        pull_out = screen.table.activities["pull out"]
        screen.now_at = {part: ways[0] for part, ways in pull_out.needs.items()}
        screen.fill()

        def sign() -> str:
            return str(screen.query_one("#doing", Rows).row(screen.shown.index(pull_out))[0].text)

        assert sign() == "✓"
        with open_writer(register.path) as other:
            what = e.Fault(part="pawl", says="spring gone", holds="both", retest="look")
            other.add(what, machine=screen.machine_id, by="Ines", now=driver.clock())
            screen._look()
            assert sign() == "✗"
            await driver.keys("escape", "b", "down", "down")
            bench = driver.app.screen
            here, many = bench.lines[bench.query_one(Rows).cursor], len(bench.lines)
            cut = e.Fault(part="hose", says="cut", holds="run")
            other.add(cut, machine=bench.machine_id, by="Ines", now=driver.clock())
            bench._look()
            assert len(bench.lines) == many + 1
            assert bench.lines[bench.query_one(Rows).cursor] == here
            before = bench.lines
            driver.clock.now += timedelta(minutes=1)
            bench._look()
            assert bench.lines is before
            driver.clock.now += timedelta(days=1)
            bench._look()
            assert bench.lines is not before


async def test_a_screen_follows_the_clock_once_a_minute_in_the_hour_that_comes_twice(
    drive: Any, register: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Clocks of Madrid (IANA time-zone data): 25 October 2026 has 02:00 to 03:00 twice."""
    monkeypatch.setattr(register, "zone", ZoneInfo("Europe/Madrid"))
    async with drive() as driver:
        shown, filled = driver.app.screen, list[datetime]()

        def fill() -> None:
            filled.append(driver.clock.now)
            type(shown).fill(shown)

        monkeypatch.setattr(shown, "fill", fill)
        for hour in (0, 1):
            driver.clock.now = datetime(2026, 10, 25, hour, 30, tzinfo=UTC)
            for seconds in (0, 3, 3):
                driver.clock.now += timedelta(seconds=seconds)
                shown._look()
        assert len(filled) == 2


async def test_the_work_list_goes_by_the_day_and_by_what_another_program_writes(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("d", "down", "down")
        shown = driver.app.screen
        rows = shown.query_one(Rows)
        here, many = shown.listed[rows.cursor].first, len(shown.lines)
        with open_writer(register.path) as other:
            what = e.Fault(part="pawl", says="spring gone", holds="both", retest="look")
            other.add(what, machine=other.machine_id("T01"), by="Ines", now=driver.clock())
        shown._look()
        assert len(shown.lines) == many + 1
        assert shown.listed[rows.cursor].first == here
        before = [line.left_in_words("metric") for line in shown.lines]
        driver.clock.now += timedelta(days=1)
        shown._look()
        assert [line.left_in_words("metric") for line in shown.lines] != before


@pytest.mark.parametrize("key", ["d", "v"])
async def test_a_list_over_a_large_yard_is_read_anew_for_another_day_and_not_for_every_entry(
    drive: Any, register: Any, monkeypatch: pytest.MonkeyPatch, key: str
) -> None:
    read: list[date] = []
    monkeypatch.setattr(yard_reading, "is_large", lambda _register: True)

    def gather(self: GatheringScreen, _work: object, _show: object) -> None:
        read.append(self.today)
        self.refresh_head()

    monkeypatch.setattr(GatheringScreen, "gather", gather)
    async with drive() as driver:
        await driver.keys("d", *("w" if key == "d" else "v"))
        shown = driver.app.screen
        del read[:]
        with open_writer(register.path) as other:
            other.add(e.Noted(says="read"), machine=other.machine_id("T01"), by="Ines", now=driver.clock())
        shown._look()
        assert read == []
        driver.clock.now += timedelta(days=1)
        shown._look()
        assert read == [shown.today]
        shown._look()
        assert read == [shown.today]


async def test_no_signature_is_offered_under_a_hold_by_another_program(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        machine, now = register.machine_id("T01"), driver.clock()
        sheet = sheets.load().by_id["pre-start"]
        going = walk_rounds.begin(register, machine, sheet, by="Ines", now=now)
        while (question := going.walk.next_in_gate(now, "Ines")) is not None:
            right = _right(question, going.walk)
            going = walk_rounds.answer(register, going.id, question.id, right, by="Ines", now=now).check
        await driver.keys(
            "w", "pagedown"
        )  # it comes back to the last answer; after that one signs, and no more is asked
        screen = driver.app.screen
        assert screen.question is None

        def offered() -> bool:
            return "signs: may pull out" in str(screen.query_one("#about").render())

        assert offered()
        with open_writer(register.path) as other:
            fault = e.Fault(part="pawl", says="spring gone", holds="run", retest="look")
            other.add(fault, machine=machine, by="Ines", now=driver.clock())
        screen._look()
        assert not offered()
        await driver.keys("s")
        assert walk_rounds.check(register, going.id).walk.signed == ()


async def test_a_hold_by_another_program_stands_on_the_form_of_a_run(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.keys("r")
        form = driver.app.screen
        told = form.query_one(".form--says", Static)
        assert "held" not in str(told.render())
        with open_writer(register.path) as other:
            what = e.Fault(part="pawl", says="spring gone", holds="run", retest="look")
            other.add(what, machine=form.machine_id, by="Ines", now=driver.clock())
        form._look()
        assert "held" in str(told.render())


@pytest.mark.long
async def test_before_a_gate_stands_what_it_is_judged_by_and_its_signature_has_a_key(drive: Any) -> None:
    async with drive() as driver:
        await be(driver, "c")
        await driver.to_machine("T01")
        await driver.pilot.press("w")
        await driver.pilot.pause()
        screen = driver.app.screen
        assert screen.opening
        told = str(screen.query_one("#about").render())
        for piece in (
            "pull-out",
            "coils left",
            "nozzle, arc",
            "hydrant",
            "inlet pressure",
            "drive loss",
            "speed",
            "finish",
        ):
            assert piece in told
        assert "never above 10 bar" in told
        # an answer begins nothing: the page is read first
        await driver.pilot.press("1")
        assert screen.going.walk.given == ()
        await driver.keys("enter")
        assert screen.question.id == "overhead"
        # nothing is answered, so that nothing is there to be signed
        assert not {"Sign", "Begin"} & {one.name for one in screen.query_one(KeyLine).keys}
        await driver.answer_gate()
        assert screen.query_one(KeyLine).keys[0].name == "Sign"
