"""People and machines in the app: moved in two keys, plans of their own, by keys alone."""

import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.service.plan_table import to_plain
from reelcare.register.integrity import pins
from reelcare.register.opening import open_writer
from reelcare.register.reading.yard import machine_now
from reelcare.tui.app import Reelcare
from reelcare.tui.preferences import Preferences
from reelcare.tui.screens.first_day import start
from reelcare.tui.screens.first_day.people import PeoplePage
from reelcare.tui.screens.machine.machine_detail import MachineDetail
from reelcare.tui.screens.work.plan import PlanPage
from tests import estates


async def be(driver: Any, letter: str) -> None:
    """Say who is there: a is the supervisor of the demo, b the mechanic, c the operator."""
    await driver.keys("p", letter)


async def test_a_machine_is_moved_in_two_keys(drive: Any, register: Any) -> None:
    async with drive(size=(80, 24)) as driver:
        await be(driver, "c")
        await driver.to_machine("T01")
        id = register.machine_id("T01")
        before = register.card(id).place
        await driver.keys("a", "a")
        assert register.card(id).place not in (before, "")
        assert register.card(id) == register.card_of(register.state(id))
        assert "T01" in driver.app.notice.says


@pytest.mark.long
async def test_a_plan_form_that_was_not_changed_changes_nothing_and_a_machine_is_given_back(
    drive: Any, register: Any
) -> None:
    async with drive(size=(80, 24)) as driver:
        await be(driver, "a")
        await driver.to_machine("T01")
        id, many = register.machine_id("T01"), register.count_entries()
        await driver.keys("c", "s", "enter", "ctrl+y")
        driver.expect(PlanPage)
        assert register.count_entries() == many
        assert register.plans().own(id) is None
        await driver.to_line("Grease")
        await driver.keys("enter", "tab", "backspace", "backspace")
        await driver.type("80")
        await driver.keys("ctrl+y")
        assert register.plans().own(id) is not None
        assert "plan of its own" in str(driver.app.screen.query_one("#whose").render())
        await driver.keys("g", "y")
        assert register.plans().own(id) is None
        assert to_plain(register.plans().newest(id)) == to_plain(register.plans().newest(""))
        assert register.rebuild() == []


def test_a_spreadsheet_is_offered_once_though_two_names_lead_to_its_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "runs.csv").write_text("a;b\n", "utf-8")
    (tmp_path / "Downloads").symlink_to(tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert start.spreadsheets() == [Path("runs.csv")]


async def test_a_machine_is_given_another_tag_in_the_app_and_one_added_under_the_old_is_said(
    tmp_path: Path,
) -> None:
    with open_writer(tmp_path / "new.db") as register:
        now = datetime(2026, 5, 1, tzinfo=UTC)
        register.add(e.Enrolled(name="Mara", role="supervisor"), by="Mara", now=now)
        id = register.add(e.Carded(card={"tag": "K1"}), by="Mara", now=now).id
        app = Reelcare(register)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("p", "a", "c", "e", "end", "backspace", "9", "ctrl+y")
            await pilot.pause()
            assert app.notice is not None
            assert (register.tags()[id], app.notice.says) == ("K9", "K9 is revised")
            await pilot.press("escape", "h", "down", "down", "enter", "K", "1", "ctrl+y")
            await pilot.pause()
            assert app.notice.says == "K1 is added. K9 had the tag K1 before: this is another machine"


@pytest.mark.parametrize(
    ("card", "says"),
    [({"place": "South"}, "K1  South: use "), ({"name": "Long"}, "K1  Long: use "), ({}, "K1  use ")],
)
def test_a_machine_without_a_name_or_a_place_is_told_without_a_bare_comma(
    tmp_path: Path, card: dict[str, str], says: str
) -> None:
    now = datetime(2026, 5, 1, tzinfo=UTC)
    with open_writer(tmp_path / "new.db") as register:
        register.add(e.Enrolled(name="Mara", role="supervisor"), by="Mara", now=now)
        id = register.add(e.Carded(card={"tag": "K1", **card}), by="Mara", now=now).id
        detail = MachineDetail(machine_now(register, id, now), now, Preferences())
    assert str(detail.told(2)).startswith(says)


async def test_the_first_supervisor_of_a_new_register_is_enrolled_in_the_app(tmp_path: Path) -> None:
    with open_writer(tmp_path / "new.db") as register:
        app = Reelcare(register)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("p", *"Mara", "enter")
            await pilot.pause()
            assert dict(register.roles()) == {"Mara": "supervisor"}
            assert app.person == "Mara"


async def test_a_machine_is_brought_to_a_field_by_the_name_that_its_lanes_go_by(
    drive: Any, register: Any, screen_text: Any
) -> None:
    """Only places at which machines stand were offered; typed otherwise, the night knew no lanes of the place."""
    lanes = [{"number": 1, "hydrant": 7, "length": "300 m"}]
    what = e.Mapped(field={"id": "hill", "place": "Hill Farm", "lanes": lanes})
    register.add(what, by="Marta", now=estates.NOW)
    async with drive() as driver:
        await be(driver, "c")
        await driver.to_machine("T01")
        await driver.keys("a")
        row = next(one for one in screen_text(driver.app).splitlines() if "Hill Farm" in one)
        await driver.keys(row.split("│")[1].split()[0])
        assert register.card(register.machine_id("T01")).place == "Hill Farm"


async def test_months_that_are_none_are_told_in_our_words(drive: Any, register: Any) -> None:
    """It said *invalid literal for int()*."""
    async with drive() as driver:
        await be(driver, "a")
        await driver.keys("h", "enter")
        driver.expect(PeoplePage)
        await driver.keys("g", "enter")
        await driver.type("x")
        await driver.keys("enter")
        assert driver.app.notice.says == "'x': must be a whole number of months from 1 to 120"


async def test_who_was_not_locked_is_not_said_to_be_let_in_again(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await be(driver, "a")
        await driver.keys("h", "enter", "k")
        assert driver.app.notice.says.endswith("was not locked")
        name = driver.app.notice.says.removesuffix(" was not locked")
        for _ in range(pins.FREE):
            pins.count_try(register.db, name, driver.clock.now)
        await driver.keys("k")
        assert driver.app.notice.says == f"{name} can try again"


def test_text_files_are_offered_behind_tables(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    monkeypatch.setattr(start, "downloads_folder", lambda: tmp_path)
    for number, name in enumerate(("machines.csv", "runs.txt", "notes.TXT", "old.xlsx")):
        (tmp_path / name).write_text("x")
        os.utime(tmp_path / name, (number, number))
    assert [one.name for one in start.spreadsheets()] == ["old.xlsx", "machines.csv", "notes.TXT", "runs.txt"]


async def test_runs_that_a_card_tells_of_are_no_runs_of_the_season(drive: Any, register: Any, screen_text: Any) -> None:
    """*2150 runs* stood beside the runs of the season, and none was brought."""
    async with drive() as driver:
        await be(driver, "a")
        await driver.keys("h")
        before = driver.app.screen._runs()
        card = {"tag": "R9", "in_use_since": "2026-01-01", "in_use": {"runs": 560}}
        register.add(e.Carded(card=card), by="Marta", now=driver.clock.now)
        assert driver.app.screen._runs() == before


async def test_a_card_that_another_program_revises_is_shown_as_it_is_now(
    drive: Any, register: Any, screen_text: Any
) -> None:
    """It stood there as it was opened, *not on the card*, for as long as one looked at it."""
    machine = register.machine_id("T01")
    async with drive(size=(100, 40)) as driver:
        await be(driver, "a")
        await driver.to_machine("T01")
        await driver.keys("c")
        screen = driver.app.screen
        assert "Curlew Road" not in screen_text(driver.app)
        with open_writer(register.path) as other:
            card = {**other.state(machine).card, "place": "Curlew Road"}
            other.add(e.Carded(card=card), machine=machine, by="Marta", now=driver.clock())
        screen._look()
        await driver.pilot.pause()
        assert "Curlew Road" in screen_text(driver.app)


@pytest.mark.parametrize(("language", "yes", "no"), [("en", "yes", "no"), ("es", "sí", "no")])
async def test_what_a_machine_has_stands_as_yes_or_no_on_the_form_of_its_card(
    drive: Any, register: Any, language: str, yes: str, no: str
) -> None:
    machine = register.machine_id("T01")
    card = {**register.state(machine).card, "equipment": {"pump": False, "injection": True}}
    register.add(e.Carded(card=card), machine=machine, by="Marta", now=estates.NOW)
    async with drive(language=language) as driver:
        await be(driver, "a")
        await driver.to_machine("T01")
        await driver.keys("c", "e")
        form = driver.app.screen
        assert (form.value("equipment--injection"), form.value("equipment--pump")) == (yes, no)
