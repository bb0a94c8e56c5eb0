"""The screens that draw from the work list count the same as it does, for the same place, person, part and window.

`tests/cli/test_all_faces.py` holds the commands and the files to the same lists.
"""

import re
from collections import Counter
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.service import due_list as lists
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.due_list import DueFilter
from reelcare.core.service.workload import WEEK, monday, workload
from reelcare.core.text import _
from reelcare.register.reading import yard as yards
from reelcare.register.views.due_list import lines_until, work_list
from reelcare.tui.screens.work.bench import Bench
from reelcare.tui.screens.work.due import WINDOWS, DueList
from reelcare.tui.screens.work.weeks import SPANS, Weeks
from reelcare.tui.theme import state
from tests.estates import NOW

ASKED = (
    ("", "", ""), ("South Field", "", ""), ("", "hose", ""), ("", "", "Tomas"), ("North Field", "", "Tomas"),
    ("North Field", "gearbox", ""),
)  # fmt: skip
KEYS = {"place": "a", "part": "t", "person": "f"}


@pytest.fixture
def given(register: Any) -> Any:
    """A register in which lines are given to somebody, and a fault is to be fixed by a day."""
    machine = register.machine_id("T03")
    register.add(
        e.Fault(part="wheels", says="tube shows", fix_by_day="2026-12-30"), machine=machine, by="Ines", now=NOW
    )
    for item in ("grease", "gearbox-oil-change"):
        what = e.Assigned(item=item, to="Tomas", day="2026-07-02")
        register.add(what, machine=machine, by="Marta", now=NOW)
    return register


async def ask(driver: Any, place: str, part: str, person: str) -> None:
    """Ask a screen for something by its keys; a place takes the part away, so it goes first."""
    for name, wanted in (("place", place), ("part", part), ("person", person)):
        for _press in range(40):
            if getattr(driver.app.screen, name) == wanted:
                break
            await driver.keys(KEYS[name])
        assert getattr(driver.app.screen, name) == wanted


def counted(screen: Any) -> dict[str, int]:
    found = re.findall(r"(\d+) (held|overdue|unknown|due|soon)", screen.counts().plain.split("elsewhere")[0])
    return {word: int(number) for number, word in found}


def ids(lines: list[DueLine]) -> list[tuple[str, str]]:
    return [(line.machine, line.item.id) for line in lines]


def expected(lines: list[DueLine]) -> dict[str, int]:
    words = {word: number for word, number in lists.counts(lines).items() if number and word != "ok"}
    held = sum(line.due.held for line in lines)
    return {**words, **({"held": held} if held else {})}


FEW = ("North Field", "", "Tomas")


@pytest.mark.parametrize(
    "asked",
    [pytest.param(one, id=" ".join(one).strip(), marks=() if one == FEW else pytest.mark.long) for one in ASKED],
)
async def test_the_work_list_and_the_weeks_show_and_count_what_is_asked_for(
    drive: Any, given: Any, asked: tuple[str, str, str]
) -> None:
    place, part, person = asked
    async with drive() as driver:
        await driver.keys("p", "a", "d")
        screen = driver.app.screen
        assert isinstance(screen, DueList)
        await ask(driver, *asked)
        for _window in WINDOWS:
            days = WINDOWS[screen.window or 0][1]
            wanted = DueFilter(place=place, part=part, person=person, within=days)
            lines = work_list(given, wanted, driver.clock.now).lines
            assert ids(screen.lines) == ids(lines)
            assert lines or days == 0 or part
            assert counted(screen) == expected(lines)
            assert sum(len(row.lines) for row in screen.listed) == sum(
                bool(days) or days is None or line.due.state != "ok" for line in lines
            )
            await driver.keys("w")
        for said in filter(None, asked):
            assert said in screen.where()
        # the weeks begin with what is asked for here
        await driver.keys("v")
        weeks = driver.app.screen
        assert isinstance(weeks, Weeks)
        today = NOW.date()
        until = monday(today) + WEEK * SPANS[0]
        wanted = DueFilter(place=place, part=part, person=person)
        shown = [week for week in workload(lines_until(given, wanted, driver.clock.now, until), today, SPANS[0])]
        assert Counter(ids([job for week in weeks.weeks for visit in week.visits for job in visit.jobs])) == Counter(
            ids([job for week in shown for visit in week.visits for job in visit.jobs])
        )
        assert all(said in weeks.where() for said in asked)
        await ask(driver, "", "", "")
        assert "all places" in weeks.where()


@pytest.mark.parametrize("language", ["en", "es", "fr"])
async def test_no_state_of_a_line_and_nothing_that_is_held_is_cut_at_80_columns(
    drive: Any, screen_text: Any, language: str
) -> None:
    async with drive(size=(80, 24), language=language) as driver:
        await driver.keys("d")
        shown = screen_text(driver.app)
        for band in ("held", "overdue", "unknown"):
            assert f"] {state(band)} " in " ".join(shown.split())
        await driver.keys("home", "b")
        told = " ".join(screen_text(driver.app).split())
        assert f"▸ {state('held')} " in told
        assert f" {_('repair')} ({_('run')}) " in told


async def test_the_bench_has_each_line_of_its_machine_and_the_yard_counts_its_words(
    drive: Any, given: Any, screen_text: Any
) -> None:
    async with drive() as driver:
        await driver.to_machine("T03")
        machine = driver.app.screen.machine.id
        await driver.keys("b")
        bench = driver.app.screen
        assert isinstance(bench, Bench)
        lines = work_list(given, DueFilter(machine=machine), driver.clock.now).lines
        # one line is the same in both, with one word for how it stands, in one order
        assert [(one.item.id, one.band) for one in bench.lines] == [(one.item.id, one.band) for one in lines]
        # as in the work list: at which figure each is due, a fault with its part, no word cut at 80 columns
        told = " ".join(screen_text(driver.app).split())
        assert "soon wheels: tube shows 2026-12-30 in 182 days" in told
        assert "overdue Gearbox oil: change 1583 h 323 h past due" in told
        assert "due Turbine: bearing, seal, bypass 1887 h 19 h past due" in told
        await driver.keys("escape")
        yard = driver.app.screen
        for place in ("", "South Field", "North Field"):
            for _press in range(10):
                if yard.place == place:
                    break
                await driver.keys("v")
            lines = work_list(given, DueFilter(place=place), driver.clock.now).lines
            counts = counted(yard)
            for word in ("overdue", "unknown"):
                machines = {line.machine for line in lines if line.due.state == word and line.news}
                assert counts.get(word, 0) == len(machines)
            held = [one for one in yards.listed(given, driver.clock.now) if one.judged.band == "held"]
            assert counts.get("held", 0) == sum(one.place == place or not place for one in held)
