"""The night and the lanes of its field, by keys: described by form, planned, changed by hand, or why not."""

from collections.abc import Iterator, Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from textual.content import Content
from textual.widgets import Input, Static

from reelcare.core import entries as e
from reelcare.core.settings.set_parser import read_wishes
from reelcare.core.settings.setting import work_out
from reelcare.register.acts import people, sets
from reelcare.register.opening import open_writer
from reelcare.register.reading import queries
from reelcare.register.reading.yard import machine_now
from reelcare.register.views import fields
from reelcare.register.writing.writer import Writer
from reelcare.tui import yard_reading
from reelcare.tui.requests import LogRun, OpenLanes
from reelcare.tui.screens.settings.lane_forms import AllowedForm, LaneForm
from reelcare.tui.screens.settings.lanes import Lanes
from reelcare.tui.screens.work.night import NightScreen
from reelcare.tui.screens.work.run import RunForm
from reelcare.tui.screens.yard import Yard
from reelcare.tui.widgets.inputs.dialogs import Confirm
from reelcare.tui.widgets.rows import Rows
from tests.tui.screens.conftest import NOW

PLACE = "North Field"
CARD: dict[str, Any] = {
    "place": PLACE, "drum": {"core_diameter": "1.5 m", "coils_per_layer": 11, "layers": 6},
    "hose": {"outside": "110 mm", "inside": "93.8 mm", "length": "400 m", "material": "PE80"},
    "drive": {"kind": "turbine", "most_loss": "10 psi"}, "cart": {"kind": "gun", "nozzle": "23.3 mm", "arc": 320},
}  # fmt: skip
SET = {"out": "200 m", "depth": "25 mm", "spacing": "60 m", "inlet": "6.9 bar", "hydrant": "1"}
BEFORE = NOW - timedelta(hours=1)
MORE: dict[str, Any] = {"dark": {"from": "21:30", "until": "05:00"}}


@pytest.fixture
def register(tmp_path: Path) -> Iterator[Writer]:
    """Two machines at one place, each with a kept set, and two people."""
    with open_writer(tmp_path / "night.db") as one:
        people.enrol(one, "Marta", "supervisor", by="Marta", now=BEFORE)
        people.enrol(one, "Ines", "operator", by="Marta", now=BEFORE)
        for tag in ("T01", "T02"):
            machine = one.add(e.Carded(card={"tag": tag, **CARD}), by="Marta", now=BEFORE).machine
            assert machine is not None
            basis = sets.basis(one, machine)
            sets.plan(
                one,
                machine,
                work_out(basis.card, read_wishes(SET, one.zone), basis.limits),
                SET,
                basis.limits,
                by="Ines",
                now=BEFORE,
            )
        yield one


def mapped(
    register: Writer,
    lengths: Sequence[float],
    more: dict[str, Any] | None = None,
    *,
    before: timedelta = timedelta(minutes=1),
) -> None:
    lanes = [
        {"number": number, "hydrant": (number + 1) // 2, "length": f"{length} m", "spacing": "60 m"}
        for number, length in enumerate(lengths, 1)
    ]
    what = e.Mapped(field={"id": "north", "place": PLACE, "lanes": lanes, **(more or {})})
    register.add(what, by="Marta", now=NOW - before)


def test_the_next_lane_of_the_yard_goes_by_what_this_program_has_just_written(register: Writer) -> None:
    def ahead() -> list[str]:
        now = (machine_now(register, one, NOW, forecasts=False) for one in register.machine_ids())
        return [yard_reading.next_lane(register, one, NOW).partition(",")[0] for one in now]

    assert ahead() == ["", ""]
    first, second = register.machine_ids()
    mapped(register, [300, 300, 250, 250])
    assert ahead() == ["next: lane 1", "next: lane 3"]
    at = NOW - timedelta(minutes=1)
    run = e.Run(started=at - timedelta(minutes=50), ended=at, metres=300_000, lane="1", home="yes")
    register.add(run, machine=first, by="Marta", now=NOW, happened=at)
    assert ahead() == ["next: lane 2", "next: lane 3"]
    register.add(e.Fault(part="pawl", says="gone", holds="run"), machine=second, by="Marta", now=NOW)
    assert ahead() == ["next: lane 2", ""]


async def test_a_lane_is_taken_out_of_the_field_as_it_is_by_then(drive: Any, register: Writer) -> None:
    """What another program has changed while it was asked stays changed."""
    mapped(register, [300, 280, 250, 200])
    async with drive() as driver:
        await to_night(driver)
        driver.app.screen.open(OpenLanes(PLACE))
        await driver.keys("x")
        driver.expect(Confirm)
        with open_writer(register.path) as other:
            mapped(other, [300, 280, 260, 200], before=timedelta(seconds=30))
        await driver.keys("y")
        known = fields.find(register, PLACE)
        assert known is not None
        assert [(one.number, one.length) for one in known.field.lanes] == [(2, 280.0), (3, 260.0), (4, 200.0)]


def line_of(driver: Any, id: str) -> None:
    driver.app.screen.query_one(f"#{id}").focus()


async def put(driver: Any, id: str, text: str) -> None:
    line_of(driver, id)
    await driver.keys("end", "ctrl+u")
    await driver.type(text)


async def to_night(driver: Any, person: str = "Marta") -> NightScreen:
    driver.app.person = person
    await driver.to_machine("T01")
    await driver.keys("n")
    driver.expect(NightScreen)
    screen = driver.app.screen
    assert isinstance(screen, NightScreen)
    return screen


def lane_numbers(screen: NightScreen, tag: str) -> list[int | str]:
    assert screen.found is not None
    return [one.lane.number for one in screen.found.found.of(tag)]


@pytest.mark.long
async def test_a_field_is_described_by_form_and_then_planned(drive: Any, register: Writer, screen_text: Any) -> None:
    async with drive() as driver:
        await to_night(driver)
        assert "no field is known" in screen_text(driver.app)
        await driver.keys("a")
        driver.expect(Lanes)
        await driver.keys("a")
        driver.expect(LaneForm)
        await put(driver, "length", "300")
        await driver.keys("ctrl+y")
        assert "without a hydrant the lane has no flow" in screen_text(driver.app)
        await put(driver, "hydrant", "7")
        await put(driver, "spacing", "60")
        await driver.keys("ctrl+y")
        driver.expect(Lanes)
        await driver.keys("a")
        await put(driver, "hydrant", "8")
        await put(driver, "length", "900 m")
        await put(driver, "shared_with", "1, mill")
        await driver.keys("ctrl+y")
        assert "lane 2 is 900 m long, and no machine there has more than" in " ".join(screen_text(driver.app).split())
        await driver.keys("home", "enter")
        await put(driver, "number", "2")
        await driver.keys("ctrl+y")
        assert "lane 2 is there twice" in screen_text(driver.app)
        await put(driver, "number", "1a")
        await driver.keys("ctrl+y")
        await driver.keys("h")
        driver.expect(AllowedForm)
        await put(driver, "licence-m3_season", "20000")
        await put(driver, "dark", "21:30")
        await driver.keys("ctrl+y")
        assert "from and until go together" in screen_text(driver.app)
        await put(driver, "dark", "21:30-05:00")
        await put(driver, "moves-same_hydrant", "30")
        await driver.keys("ctrl+y")
        driver.expect(Lanes)
        known = fields.find(register, PLACE)
        assert known is not None
        field = known.field
        assert [(one.number, one.hydrant, one.length, one.shared_with) for one in field.lanes] == [
            ("1a", 7, 300, ()), (2, 8, 900, (1, "mill"))
        ]  # fmt: skip
        assert (field.licence.season, field.same_hydrant, field.dark is not None) == (20000, 1800, True)
        await driver.keys("end", "x", "y")
        assert len(driver.app.screen.known.field.lanes) == 1
        await driver.keys("escape")
        driver.expect(NightScreen)
        assert driver.app.screen.found.field.lane("1a") is not None


async def test_what_a_form_of_a_lane_leaves_alone_stays_as_the_file_says_it(drive: Any, register: Writer) -> None:
    """Three places after the point are no thousand where nobody typed them, whatever the language."""
    mapped(register, [300.125])
    async with drive(language="es") as driver:
        await to_night(driver)
        driver.app.screen.open(OpenLanes(PLACE))
        await driver.keys("enter")
        await put(driver, "spacing", "1.070")
        await driver.keys("ctrl+y")
        assert driver.app.screen.query_one("#spacing").has_focus, "what is typed can be two figures"
        await put(driver, "spacing", "70")
        await driver.keys("ctrl+y")
        driver.expect(Lanes)
        known = fields.find(register, PLACE)
        assert known is not None
        assert [(one.length, one.spacing) for one in known.field.lanes] == [(300.125, 70.0)]


async def test_only_a_supervisor_changes_lanes(drive: Any, register: Writer) -> None:
    mapped(register, [300])
    async with drive() as driver:
        await to_night(driver, "Ines")
        await driver.keys("a")
        for key in ("a", "enter", "x", "h"):
            await driver.keys(key)
            driver.expect(Lanes)
        assert driver.app.screen.query_one(Rows).count == 1


@pytest.mark.long
async def test_every_key_of_the_night(drive: Any, register: Writer, screen_text: Any) -> None:
    mapped(register, [200] * 6, MORE)
    async with drive(size=(120, 40)) as driver:
        screen = await to_night(driver, "Ines")
        tag = "T01"
        by_rule = lane_numbers(screen, tag)
        assert len(by_rule) > 1, screen_text(driver.app)
        await driver.keys("f")
        assert lane_numbers(screen, tag) == by_rule, "the first one has nothing before it"
        second = [one.tag for one in screen.sets].index(tag, 1)
        await driver.keys(*["down"] * second, "f")
        assert lane_numbers(screen, tag)[:2] == [by_rule[1], by_rule[0]]
        await driver.keys("home")
        row = [one.tag for one in screen.sets].index(tag)
        await driver.keys(*["down"] * row, "u")
        assert lane_numbers(screen, tag) == by_rule
        assert screen.found is not None
        assert screen.found.asked.dark
        await driver.keys("c")
        assert not screen.found.asked.dark
        await driver.keys("c")
        assert screen.found.asked.dark
        await driver.keys("escape")
        driver.expect(Yard)


async def test_the_set_under_the_cursor_is_lit_on_the_time_line(drive: Any, register: Writer) -> None:
    mapped(register, [200] * 6, MORE | {"tariff": {"hours": "18:00-08:00"}})
    async with drive() as driver:
        screen = await to_night(driver)
        assert len({one.tag for one in screen.sets}) == 2

        def lit() -> tuple[str, str]:
            """The line of the machine that is marked, and what of it is lit."""
            shown = screen.query_one("#time-line", Static).visual
            assert isinstance(shown, Content)
            line = next(one for one in shown.split("\n") if one.plain.startswith("▸"))
            span = next(one for one in line.spans if "$chosen" in str(one.style))
            return line.plain[1:4], line.plain[span.start : span.end]

        for place, one in enumerate(screen.sets):
            assert screen.query_one(Rows).cursor == place
            tag, run = lit()
            assert tag == one.tag
            assert f" {one.lane.number} " in run
            assert set(run) - set(f" {one.lane.number}") <= {"━", "▒", "·"}
            await driver.keys("down")
        await driver.keys("home")
        assert lit()[0] == screen.sets[0].tag


async def test_the_screen_says_why_nothing_can_be_planned(drive: Any, register: Writer, screen_text: Any) -> None:
    mapped(register, [900, 950])
    async with drive() as driver:
        await to_night(driver)
        told = " ".join(screen_text(driver.app).split())
        assert "nothing can be planned in this time" in told
        assert "lane 1 is left out: 900 m long, and the hose of T01 is" in told
        assert "lane 2 is left out: 950 m long" in told


async def test_a_lane_that_was_run_in_this_round_is_said_to_be(drive: Any, register: Writer, screen_text: Any) -> None:
    """Where the other lanes were too long nothing could be planned, and this one was named nowhere."""
    mapped(register, [900, 200])
    run = e.Run(started=NOW - timedelta(hours=20), ended=NOW - timedelta(hours=10), metres=200_000, place=PLACE,
                lane="2", stopped_by="end stop")  # fmt: skip
    register.add(run, machine=register.machine_id("T01"), by="Ines", now=NOW, happened=run.ended)
    async with drive() as driver:
        await to_night(driver)
        told = " ".join(screen_text(driver.app).split())
        assert "lane 1 is left out: 900 m long" in told
        assert "lane 2 was run in this round: it comes again once every lane was run, or one is run again" in told


async def test_without_a_night_why_stands_there_once_and_no_key_is_offered_that_does_nothing(
    drive: Any, register: Writer, screen_text: Any
) -> None:
    async with drive() as driver:
        screen = await to_night(driver)
        told = " ".join(screen_text(driver.app).split())
        assert told.count("no field is known") == 1
        offered = {one.binding.id for one in screen.active_bindings.values()}
        assert not offered & {"night.forward", "night.rule", "night.dark"}
        mapped(register, [200] * 6, MORE)
        screen.fill()
        assert {"night.forward", "night.rule", "night.dark"} <= {
            one.binding.id for one in screen.active_bindings.values()
        }


@pytest.mark.long
async def test_a_run_asks_its_lane_where_the_lanes_are_known(drive: Any, register: Writer, screen_text: Any) -> None:
    mapped(register, [200, 210])
    async with drive() as driver:
        driver.app.person = "Ines"
        await driver.to_machine("T01")
        form = RunForm(LogRun(driver.app.screen.machine))
        driver.app.push_screen(form)
        await driver.pilot.pause()
        for line, text in (("started", "2026-07-01 00:00"), ("ended", "7 h"), ("metres", "200"), ("lane", "9")):
            form.query_one(f"#{line}", Input).value = text
        await driver.keys("ctrl+y", "o", "enter")
        assert "no lane 9 in North Field; its lanes are 1, 2" in screen_text(driver.app)
        form.query_one("#lane", Input).value = "2"
        await driver.keys("ctrl+y")
        runs = [one.what for one in register.select(queries.of_kind(form.machine.id, e.Run.kind))]
        assert [one.lane for one in runs if isinstance(one, e.Run)] == ["2"]
