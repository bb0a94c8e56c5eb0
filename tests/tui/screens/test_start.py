"""The first day in the app, by keys alone: people, machines and runs from spreadsheets, last-done dates."""

import contextlib
import os
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import openpyxl
import pytest
from textual.widgets import Input
from textual.worker import WorkerCancelled

from reelcare.core import entries as e
from reelcare.core.spreadsheet.columns import read_matching
from reelcare.register.acts import people
from reelcare.register.exchange.first_day import last_done, previews
from reelcare.register.exchange.run_logs import Brought
from reelcare.register.opening import open_writer
from reelcare.register.progress import no_progress
from reelcare.register.sheets import toml_table
from reelcare.register.views import instructions
from reelcare.register.writing.writer import Writer
from reelcare.tui.app import Reelcare
from reelcare.tui.screens.first_day import preview
from reelcare.tui.screens.first_day.last_done import LastDonePage
from reelcare.tui.screens.first_day.machine import MachineForm
from reelcare.tui.screens.first_day.people import PeoplePage
from reelcare.tui.screens.first_day.preview import PreviewPage
from reelcare.tui.screens.first_day.start import StartPage
from reelcare.tui.screens.yard import Yard
from tests.tui.screens.conftest import NOW, Clock, Driver

pytestmark = pytest.mark.long

MACHINES = "Maschine;Standort;In Betrieb seit;Schlauchlänge (m);Farbe\n" + "".join(
    f"R{number:02d};{'Nordfeld' if number % 2 else 'Südfeld'};{number + 12}/4/2019;35{number % 10},5;grün\n"
    for number in range(1, 13)
)
STARTED = datetime(2026, 4, 13, 6, tzinfo=UTC)


def runs_of(count: int) -> str:
    """A run log with a German hand: day first, decimal commas, and no unit for the hose."""
    lines = ["Masch. Nr.;Beginn;Ende;gelegt;Wind"]
    for number in range(count):
        began = STARTED + timedelta(hours=4 * (number // 12), minutes=number % 12)
        over = began + timedelta(hours=3, minutes=30)
        lines.append(f"R{number % 12 + 1:02d};{began:%d/%m/%Y %H:%M};{over:%d/%m/%Y %H:%M};{150 + number % 9},5;2,5")
    return "\n".join(lines) + "\n"


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the spreadsheets, and no other home."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    (folder / "maschinen.csv").write_bytes(MACHINES.encode("cp1252"))
    os.utime(folder / "maschinen.csv", (1, 1))  # the older file of the two: the newest is offered first
    (folder / "runs.csv").write_bytes(runs_of(24).encode("utf-16"))
    return folder


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Writer]:
    with open_writer(tmp_path / "own.db") as register:
        yield register


@pytest.fixture
def begin(empty: Writer) -> Callable[..., Any]:
    """Opens the app on an empty register: `async with begin() as driver`."""

    @asynccontextmanager
    async def opened(size: tuple[int, int] = (80, 24)) -> AsyncIterator[Driver]:
        clock = Clock()
        app = Reelcare(empty, clock=clock)
        async with app.run_test(size=size) as pilot:
            await pilot.pause()
            yield Driver(app, pilot, clock)

    return opened


async def test_an_empty_yard_offers_no_key_that_needs_a_machine(begin: Any, empty: Writer) -> None:
    people.enrol(empty, "Marta", "supervisor", by="Marta", now=NOW)
    async with begin() as driver:
        while not isinstance(driver.app.screen, Yard):
            await driver.keys("escape")

        def offered() -> set[str | None]:
            return {one.binding.id for one in driver.app.screen.active_bindings.values()}

        of_machines = {"yard.walk", "yard.run", "yard.bench", "yard.card", "yard.book", "yard.note", "yard.night"}
        assert not offered() & of_machines
        assert {"yard.due", "yard.first_day"} <= offered()
        empty.add(e.Carded(card={"tag": "T01"}), by="Marta", now=NOW)
        driver.app.screen.fill()
        assert of_machines <= offered()


async def read_beside(driver: Driver) -> None:
    """Wait for what is read or brought beside the screen."""
    with contextlib.suppress(WorkerCancelled):
        await driver.app.workers.wait_for_complete([one for one in driver.app.workers if one.group == "gathering"])
    await driver.pilot.pause()


async def supervised(driver: Driver) -> None:
    await driver.keys("enter")
    await driver.type("Marta")
    await driver.keys("enter")


async def test_twelve_machines_their_runs_and_last_done_dates_by_keyboard(begin: Any, empty: Writer) -> None:
    count = 0
    async with begin() as driver:
        pressed = driver.pilot.press

        async def counting(*keys: str) -> None:
            nonlocal count
            count += len(keys)
            await pressed(*keys)

        driver.pilot.press = counting
        driver.expect(StartPage)
        await supervised(driver)
        await driver.keys("enter", "b")  # the list of machines
        driver.expect(PreviewPage)
        assert driver.app.screen.preview.question is None
        assert empty.machine_ids() == [], "nothing is brought before b"
        await driver.keys("b")
        assert len(empty.machine_ids()) == 12
        await driver.keys("down", "down", "enter", "a")  # the runs
        await driver.keys("a", "b")  # the one question: gelegt is in m
        assert sum(one.totals.runs for one in empty.states().values()) == 24
        await driver.keys("down", "enter")
        driver.expect(LastDonePage)
        await driver.keys("right")
        await driver.type("29/6/26")
        await driver.keys("enter", "up", "f", "ctrl+y")  # one stop item of all machines
        driver.expect(StartPage)
        await driver.keys("home", "enter", "n")
        await driver.type("Ines")
        await driver.keys("down", "o", "enter")
        driver.expect(PeoplePage)
        assert dict(empty.roles()) == {"Marta": "supervisor", "Ines": "operator"}
    grid = last_done.grid(empty)
    assert set(grid.known.values()) == {"2026-06-29"}
    assert len(grid.known) == 12
    assert empty.rebuild() == []
    assert count < 60, count  # an hour for twelve machines; these keys take some minutes
    kept = read_matching(toml_table(previews.place_of("runs")))
    assert (kept.columns["metres"], kept.units["metres"]) == (("gelegt",), "m")


async def test_what_can_be_meant_in_two_ways_is_asked_and_the_answer_is_kept(
    begin: Any, empty: Writer, here: Path
) -> None:
    (here / "maschinen.csv").write_text("Tag;in use since\nA1;3/4/2019\n", encoding="utf-8")
    async with begin() as driver:
        await supervised(driver)
        await driver.keys("enter", "a")
        assert driver.app.screen_stack[-2].preview.question.settles == "dates"
        await driver.keys("escape", "b", "b", "b")  # b asks again; then month first, then it is brought
        assert empty.state(empty.machine_id("A1")).card["in_use_since"] == "2019-03-04"
    found = previews.look(
        empty, here / "maschinen.csv", "machines", previews.first_matching(here / "maschinen.csv", "machines"),
        now=datetime(2026, 7, 1, tzinfo=UTC),
    )  # fmt: skip
    assert (found.question, found.skipped) == (None, 1), "the next time it is not asked"


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_a_bad_cell_is_named_with_its_row_and_column_and_nothing_is_brought(
    begin: Any, empty: Writer, here: Path, screen_text: Any, size: tuple[int, int]
) -> None:
    (here / "runs.csv").write_text("tag;hose.length\nA1;400 m\nA2;40 km\n", encoding="utf-8")
    async with begin(size) as driver:
        await supervised(driver)
        await driver.keys("enter", "a", "b")
        driver.expect(PreviewPage)
        bad = driver.app.screen.preview.bad
        assert [(one.line, one.column) for one in bad] == [(3, "hose.length")]
        assert f"✗ {bad[0]}"[:50] in screen_text(driver.app)
        assert empty.machine_ids() == []
        await driver.keys("down", "u", "b")  # without the column it can be brought
        assert list(empty.tags().values()) == ["A1", "A2"]


async def test_a_column_that_is_none_of_ours_is_asked_again_as_it_was_typed(
    begin: Any, empty: Writer, here: Path, screen_text: Any
) -> None:
    """The question closed, and the letters that were typed on were keys: u left the column out."""
    (here / "list.csv").write_text("tag;Core\nA1;1.6 m\n", encoding="utf-8")
    async with begin() as driver:
        await supervised(driver)
        await driver.keys("enter", "a", "down", "enter")
        await driver.type("core")
        await driver.keys("enter")
        told = " ".join(screen_text(driver.app).split())
        assert "core: no such column: drum.core_diameter" in told
        assert driver.app.screen.query_one(Input).value == "core"
        driver.app.screen.query_one(Input).value = "drum.core_diameter"
        await driver.keys("enter")
        driver.expect(PreviewPage)
        await driver.keys("b")
        assert empty.card(empty.machine_id("A1")).drum.core_diameter == 1.6


async def test_a_workbook_is_brought_to_its_end_with_the_sheet_asked_for(begin: Any, empty: Writer, here: Path) -> None:
    book = openpyxl.Workbook()
    book.active.title = "Notes"
    sheet = book.create_sheet("Yard")
    sheet.append(["Maschine", "Standort", "In Betrieb seit", "Schlauchlänge (m)"])
    sheet.append(["X1", "Nordfeld", date(2019, 4, 13), 350.5])
    sheet.append([])
    sheet.append(["X2", "Südfeld", date(2020, 3, 4), "380 m"])
    book.save(here / "yard.xlsx")
    async with begin() as driver:
        await supervised(driver)
        await driver.keys("enter", "a")
        await driver.keys("b")  # the second sheet
        driver.expect(PreviewPage)
        assert driver.app.screen.preview.question is None
        await driver.keys("b")
        assert sorted(empty.tags().values()) == ["X1", "X2"]
        card = empty.card(empty.machine_id("X1"))
        assert (card.place, card.hose.length, card.in_use_since) == ("Nordfeld", 350.5, date(2019, 4, 13))


async def test_the_demo_opens_from_the_start_page_by_its_key_and_leaves_the_register_empty(
    begin: Any, empty: Writer
) -> None:
    async with begin() as driver:
        driver.expect(StartPage)
        await driver.keys("o")
        assert not driver.app.is_running
        assert driver.app.return_value == "demo"
    assert (empty.roles(), empty.machine_ids()) == ({}, [])


async def test_a_large_file_says_how_far_it_is_and_esc_leaves_nothing_of_it(
    begin: Any, empty: Writer, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (here / "runs.csv").write_text(runs_of(10_000), encoding="utf-8")
    now = datetime(2026, 12, 1, 9, tzinfo=UTC)
    told: list[str] = []
    async with begin() as driver:
        driver.clock.now = now
        await supervised(driver)
        await driver.keys("enter", "b", "b", "down", "down", "enter", "a")
        await read_beside(driver)
        await driver.keys("a")
        await read_beside(driver)
        assert driver.app.screen.preview.bad == ()
        before = empty.count_entries()
        page = driver.app.screen
        tell = driver.app.tell

        def stops(text: str, **how: Any) -> None:
            tell(text, **how)
            if page.works:
                told.append(text)
                page.action_leave()  # what Esc does, at the first word of progress

        monkeypatch.setattr(driver.app, "tell", stops)
        await driver.keys("b")
        await read_beside(driver)
        assert "of 10000 rows" in told[0].replace(" ", " ")
        driver.expect(PreviewPage)
        for _ in range(1000):
            if not page.works:
                break
            await driver.pilot.pause()
        assert driver.app.notice.says == "Stopped: nothing was brought in."
    assert empty.count_entries() == before
    assert empty.rebuild() == []


async def test_what_was_brought_before_it_could_be_stopped_is_told_as_brought(
    begin: Any, empty: Writer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(preview, "LARGE", 0)
    bring = previews.bring
    async with begin() as driver:
        await supervised(driver)
        await driver.keys("enter", "b")
        await read_beside(driver)
        page = driver.app.screen

        def brings(*given: Any, **how: Any) -> Brought:
            found = bring(*given, **{**how, "progress": no_progress})
            driver.app.call_from_thread(page.action_leave)  # Esc, a moment too late
            return found

        monkeypatch.setattr(previews, "bring", brings)
        await driver.keys("b")
        for _ in range(1000):
            if not page.works:
                break
            await driver.pilot.pause()
        assert "12 rows brought in" in driver.app.notice.says
    assert len(empty.machine_ids()) == 12


async def test_no_progress_is_told_after_the_word_that_it_is_stopped(
    begin: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with begin() as driver:
        await supervised(driver)
        await driver.keys("enter", "b")
        page, worker = driver.app.screen, SimpleNamespace(is_cancelled=False)

        def late(act: Any, *given: Any) -> None:
            worker.is_cancelled = True  # Esc came while this waited for its turn
            page.host.tell("stopped")
            act(*given)

        monkeypatch.setattr(driver.app, "call_from_thread", late)
        page._progress_of(worker)(0, 100)
        assert driver.app.notice.says == "stopped"


async def test_people_get_roles_pins_and_instruction_by_keys_and_leave(begin: Any, empty: Writer) -> None:
    now = datetime(2026, 7, 1, 8, tzinfo=UTC)
    people.enrol(empty, "Ada", "supervisor", by="Ada", now=now)
    people.enrol(empty, "Ben", "operator", by="Ada", now=now)
    async with begin() as driver:
        driver.expect(Yard)
        await driver.keys("p", "a", "h", "enter", "down")
        driver.expect(PeoplePage)
        await driver.keys("r", "b")
        assert empty.roles()["Ben"] == "mechanic"
        await driver.keys("g", "enter", "enter")
        given = list(instructions.all_of(empty, driver.clock.now))
        assert [(one.person, one.machine, one.until) for one in given] == [("Ben", "", date(2027, 7, 1))]
        await driver.keys("x", "y")
        assert list(empty.roles()) == ["Ada"]


async def test_a_machine_is_added_and_revised_by_form_and_what_it_does_not_show_stays(
    begin: Any, empty: Writer
) -> None:
    now = datetime(2026, 7, 1, 8, tzinfo=UTC)
    people.enrol(empty, "Ada", "supervisor", by="Ada", now=now)
    async with begin() as driver:
        await driver.keys("h", "down", "down", "enter")
        driver.expect(MachineForm)
        await driver.type("R1")
        await driver.keys("down", "down")
        await driver.type("North")
        await driver.keys("ctrl+y")
        machine = empty.machine_id("R1")
        card = {**empty.state(machine).card, "parts": {"oil": "AB-12"}}
        empty.add(e.Carded(card=card), machine=machine, by="Ada", now=driver.clock.now)
        many = empty.count_entries()
        await driver.keys("escape", "c", "e", "ctrl+y")
        assert empty.count_entries() == many, "what was not changed is not written"
        await driver.keys("e", "down")
        await driver.type("Reed")
        await driver.keys("ctrl+y")
        assert empty.state(machine).card == {**card, "name": "Reed"}
        await driver.keys("x")
        await driver.type("sold")
        await driver.keys("enter")
        driver.expect(Yard)
        assert empty.state(machine).retired is not None


async def test_a_card_is_revised_by_its_changed_lines_alone(begin: Any, empty: Writer) -> None:
    """What another program has changed since the form was opened stays changed."""
    now = datetime(2026, 7, 1, 8, tzinfo=UTC)
    people.enrol(empty, "Ada", "supervisor", by="Ada", now=now)
    table = {"tag": "R1", "place": "North", "hose": {"length": "400 m"}}
    machine = empty.add(e.Carded(card=table), by="Ada", now=now).machine
    assert machine is not None
    async with begin() as driver:
        await driver.keys("c", "e", "down")
        driver.expect(MachineForm)
        await driver.type("Reed")
        with open_writer(empty.path) as other:
            other.add(e.Moved(place="South"), machine=machine, by="Ada", now=driver.clock())
            table = {"tag": "R1", "place": "South", "hose": {"length": "300 m"}}
            other.add(e.Carded(card=table), machine=machine, by="Ada", now=driver.clock())
        await driver.keys("ctrl+y")
        assert empty.state(machine).card == {**table, "name": "Reed"}
