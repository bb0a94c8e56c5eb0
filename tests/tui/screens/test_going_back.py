"""A supervisor goes back to a copy from the app; anybody else is told in words."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.database.models import EntryRow
from reelcare.register.exchange import copies
from reelcare.register.integrity import pins, witness
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from reelcare.register.reading import queries
from reelcare.register.writing.writer import Writer
from reelcare.tui.screens.yard import Yard
from reelcare.tui.widgets.inputs.dialogs import Ask, Choose, Confirm
from reelcare.tui.widgets.inputs.people import PinDialog
from tests.tui.screens.conftest import NOW


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pins, "WAY", "scrypt:16:8:1")


@pytest.fixture
def register(tmp_path: Path) -> Iterator[Writer]:
    """A register with a supervisor, an operator and a machine."""
    with open_writer(tmp_path / "r.db") as one:
        people.enrol(one, "Mara", "supervisor", by="Mara", now=NOW)
        people.enrol(one, "Olav", "operator", by="Mara", now=NOW)
        one.add(e.Carded(card={"tag": "R1"}), by="Mara", now=NOW)
        yield one


async def be(driver: Any, name: str) -> None:
    await driver.keys("p", {"Mara": "a", "Olav": "b"}[name])


@pytest.mark.long
async def test_what_will_happen_is_said_and_the_pin_asked(
    drive: Any, register: Any, tmp_path: Path, screen_text: Any
) -> None:
    by = "Mara"
    copy = tmp_path / "copy.db"
    copies.copy(register, copy)
    async with drive() as driver:
        await be(driver, by)
        machine, name = register.machine_id("R1"), register.terminal
        hold = e.Fault(part="pawl", says="spring gone", holds="run")
        register.add(hold, machine=machine, by=by, now=driver.clock.now)
        register.give_pin(by, "739104", by=by)
        await driver.keys("z")
        driver.expect(Choose)
        await driver.keys("a")  # there are no daily copies: another file
        driver.expect(Ask)
        await driver.type(str(copy))
        await driver.keys("enter")
        await driver.type("the disk failed")
        await driver.keys("enter")
        driver.expect(Confirm)
        shown = " ".join(screen_text(driver.app).split())
        assert "1 entry that it lacks is brought back" in shown
        assert "set aside whole" in shown
        await driver.keys("y")
        driver.expect(PinDialog)
        await driver.type("739104")
        await driver.keys("enter")
        await driver.app.workers.wait_for_complete()
        await driver.pilot.pause()
        driver.expect(Yard)
        assert "Went back; 1 entry was brought back." in driver.app.notice.says
        (entry,) = register.select(queries.entries(EntryRow.kind == e.Restored.kind))
        assert (entry.by, entry.what.why) == (by, "the disk failed")
        assert register.terminal != name
        assert driver.standing("R1") == "held"
        register.add(hold, machine=machine, by=by, now=driver.clock.now)  # it goes on with the PIN that was shown
        assert prove(register).findings == ()


@pytest.mark.long
async def test_a_wrong_pin_or_a_busy_register_leaves_all_as_it_is(drive: Any, register: Any, tmp_path: Path) -> None:
    by = "Mara"
    copy = tmp_path / "copy.db"
    copies.copy(register, copy)
    async with drive() as driver:
        await be(driver, by)
        register.give_pin(by, "739104", by=by)
        before = register.count_entries()
        await driver.keys("z", "a")
        await driver.type(str(copy))
        await driver.keys("enter")
        await driver.type("the disk failed")
        await driver.keys("enter", "y")
        await driver.type("000001")
        await driver.keys("enter")
        await driver.app.workers.wait_for_complete()
        await driver.pilot.pause()
        driver.expect(Yard)
        assert "Not gone back" in driver.app.notice.says
        assert register.count_entries() == before
        assert not list(tmp_path.glob("*-before-*"))


async def test_who_is_no_supervisor_is_refused_in_words(drive: Any, register: Any) -> None:
    by = "Olav"
    async with drive() as driver:
        await be(driver, by)
        await driver.keys("z")
        driver.expect(Yard)
        assert f"{by} is an operator; only a supervisor can do this" in driver.app.notice.says


@pytest.mark.long
async def test_what_is_no_copy_is_told(drive: Any, register: Any, tmp_path: Path) -> None:
    by = "Mara"
    (tmp_path / "text.db").write_text("no copy")
    async with drive() as driver:
        await be(driver, by)
        await driver.keys("z", "a")
        await driver.type(str(tmp_path / "text.db"))
        await driver.keys("enter")
        driver.expect(Yard)
        assert "not a Reelcare register" in driver.app.notice.says


async def test_what_going_back_has_mended_is_warned_of_no_more(drive: Any, register: Any, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    copies.copy(register, copy)
    heads = witness.path_of(register.path)
    heads.write_text(json.dumps({register.terminal: [register.count_entries() + 1, "0" * 64]}), "utf-8")
    async with drive() as driver:
        await driver.pilot.pause()
        assert "were here before" in " ".join(driver.app.warnings)
        await be(driver, "Mara")
        await driver.keys("z", "a")
        await driver.type(str(copy))
        await driver.keys("enter")
        await driver.type("the disk failed")
        await driver.keys("enter", "y")
        await driver.app.workers.wait_for_complete()
        await driver.pilot.pause()
        assert "Went back" in driver.app.notice.says
        assert driver.app.warnings == ()
