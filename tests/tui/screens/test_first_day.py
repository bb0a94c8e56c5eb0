"""People and machines in the app: moved in two keys, plans of their own, by keys alone."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.service.plan_table import to_plain
from reelcare.register.opening import open_writer
from reelcare.register.reading.yard import machine_now
from reelcare.tui.app import Reelcare
from reelcare.tui.preferences import Preferences
from reelcare.tui.screens.first_day import start
from reelcare.tui.screens.machine.machine_detail import MachineDetail
from reelcare.tui.screens.work.plan import PlanPage


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
    [({"place": "South"}, "K1  South: 0 h"), ({"name": "Long"}, "K1  Long: 0 h"), ({}, "K1  0 h")],
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
