"""Steps by keyboard: every forbidden step is stopped with its reason, and the safe way is told."""

from datetime import timedelta
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.checks.quality import people
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.demo import _right
from reelcare.register.views import marks
from reelcare.tui.screens.checks.walk import WalkRound
from reelcare.tui.screens.evidence.marks import Marks
from reelcare.tui.screens.machine.steps import Steps
from reelcare.tui.screens.work.due import DueList
from reelcare.tui.widgets.key_line import KeyLine
from reelcare.tui.widgets.rows import Rows

ROAD = sheets.machine_model().states["towed"]


async def begin(driver: Any) -> Any:
    await driver.keys("p", "c")
    await driver.to_machine("T01")
    await driver.keys("t")
    screen = driver.app.screen
    assert isinstance(screen, Steps)
    return screen


async def stand(driver: Any, **seen: str) -> None:
    """Say where each part stands, by keys alone."""
    screen = driver.app.screen
    await driver.keys("tab", "home")
    for part, where in {**ROAD, **{key.replace("_", " "): one for key, one in seen.items()}}.items():
        if part not in screen.table.parts:
            continue
        for _ in range(5):
            if screen.now_at.get(part) == where:
                break
            await driver.keys("enter")
        assert screen.now_at[part] == where
        await driver.keys("down")
    await driver.keys("tab")


async def to_step(driver: Any, id: str) -> None:
    """Put the cursor on one of all the steps, by keys alone."""
    screen = driver.app.screen
    if not screen.everything:
        await driver.keys("a")
    await driver.keys("home")
    for _ in range([one.id for one in screen.shown].index(id)):
        await driver.keys("down")
    assert screen.step.id == id


def answer(driver: Any) -> str:
    return str(driver.app.screen.query_one("#answer").render())


FORBIDDEN = [
    ("pull out", {"drive": "in", "pawl": "up", "legs": "set", "cart": "lowered", "drum_heading": "lane"}, "Drive: in"),
    ("pull out", {"legs": "set", "cart": "lowered", "drum_heading": "lane"}, "Anti-reverse pawl: down"),
    ("put the drive in", {"turbine": "driving", "stop_mechanism": "reset"}, "Turbine, engine: driving"),
    ("move the gear lever", {"turbine": "driving"}, "Turbine, engine: driving"),
    ("tow", {"drum_heading": "lane"}, "Drum heading: to the lane"),
    ("open the water", {"pawl": "up", "supply_hose": "coupled"}, "Anti-reverse pawl: up"),
    ("start", {"supply": "on", "drive": "in", "stop_mechanism": "reset"}, "this start: not yet tried"),
    ("work on it", {"supply": "on"}, "Water supply: on"),
]


@pytest.mark.long
@pytest.mark.parametrize(("doing", "seen", "reason"), FORBIDDEN, ids=[f"{one[0]}-{one[2][-8:]}" for one in FORBIDDEN])
async def test_each_forbidden_step_is_stopped_with_its_reason(
    drive: Any, doing: str, seen: dict[str, str], reason: str
) -> None:
    async with drive() as driver:
        screen = await begin(driver)
        await stand(driver, **seen)
        before = dict(screen.now_at)
        await to_step(driver, doing)
        await driver.keys("enter")
        assert "NOT NOW" in answer(driver)
        assert reason in answer(driver)
        assert screen.now_at == before


@pytest.mark.long
async def test_the_safe_way_is_walked_step_by_step_to_the_start(drive: Any, screen_text: Any) -> None:
    async with drive() as driver:
        screen = await begin(driver)
        await stand(driver)
        assert "way to: Irrigating" in screen_text(driver.app)
        steps = screen.table.way_to_goal("irrigating", screen.now_at)
        assert steps is not None
        for one in steps:
            await driver.keys("home")
            assert screen.step.id == one.id
            assert "may be done now" in answer(driver)
            await driver.keys("enter")
        assert screen.now_at["turbine"] == "driving"
        assert "It is already so" in screen_text(driver.app)


async def test_nothing_is_cut_of_what_was_not_seen_and_it_stands_there_once(drive: Any, screen_text: Any) -> None:
    async with drive(size=(80, 24)) as driver:
        screen = await begin(driver)
        unseen = [screen._said(one.short) for one in screen.table.unknown(screen.now_at)]
        assert len(unseen) > 5
        assert "not seen" not in screen_text(driver.app), "each is in the list, with where to look"
        await driver.keys("a")
        assert f"? not seen: {', '.join(unseen)}" in " ".join(screen_text(driver.app).split())
        await driver.keys("tab")
        lines = screen_text(driver.app).splitlines()
        assert not any("? not seen:" in line for line in lines), "the list of parts says it"


async def test_the_stops_stand_first_and_are_never_greyed(drive: Any, screen_text: Any) -> None:
    async with drive() as driver:
        screen = await begin(driver)
        await driver.keys("tab", "exclamation_mark")
        stops = [one.id for one in screen.table.stops]
        assert stops[:2] == ["trip the stop bar", "close the water"]
        lines = screen_text(driver.app).splitlines()
        assert "STOP NOW: any of these" in lines[2]
        assert [line[2:].split("  ")[0].strip() for line in lines[3 : 3 + len(stops)]] == [
            one.short["en"] for one in screen.table.stops
        ]
        for id in stops:
            assert screen.step.id == id
            assert "may be done at any time" in answer(driver)
            await driver.keys("down")
        # below the last stop the cursor goes on into the way, and back
        assert screen.query_one("#doing").has_focus
        await driver.keys("up")
        assert screen.step.id == stops[-1]


@pytest.mark.long
async def test_stopping_is_done_from_a_state_in_which_it_runs(drive: Any) -> None:
    async with drive() as driver:
        screen = await begin(driver)
        await stand(driver, drive="in", turbine="driving", supply="on", stop_mechanism="reset")
        await driver.keys("exclamation_mark", "enter")
        assert (screen.now_at["drive"], screen.now_at["stop mechanism"]) == ("out", "tripped")
        await driver.keys("down", "enter")
        assert screen.now_at["supply"] == "off"


MACHINE_SCREENS = {
    "the yard": "", "walk-round": "w", "set-up": "s", "bench": "b", "book": "k", "card": "c", "run": "r", "fault": "f",
}  # fmt: skip


@pytest.mark.long
@pytest.mark.parametrize("keys", MACHINE_SCREENS.values(), ids=MACHINE_SCREENS)
@pytest.mark.parametrize("held", [False, True], ids=["free", "held"])
async def test_the_key_of_the_stops_opens_them_from_any_screen_of_a_machine(
    drive: Any, register: Any, keys: str, held: bool
) -> None:
    async with drive() as driver:
        await driver.keys("p", "c")
        if held:
            what = e.Fault(part="end stop", says="hangs", holds="both", retest="try it")
            register.add(what, machine=register.machine_id("T01"), by="Ines", now=driver.clock())
        await driver.to_machine("T01")
        await driver.keys(*keys)
        before = driver.app.screen
        assert ("!", "Stop now") in [(one.keys, one.name) for one in before.query_one(KeyLine).keys]
        await driver.keys("exclamation_mark")
        screen = driver.app.screen
        assert isinstance(screen, Steps)
        assert screen.query_one("#stops").has_focus
        assert screen.step is screen.table.activities["trip the stop bar"]
        await driver.keys("escape")
        assert driver.app.screen is before


@pytest.mark.long
async def test_in_words_that_are_typed_the_key_of_the_stops_is_a_letter(drive: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.keys("f", "down")
        await driver.type("hangs")
        await driver.keys("exclamation_mark")
        assert driver.app.screen.value("says") == "hangs!"
        assert "!" not in [one.keys for one in driver.app.screen.query_one(KeyLine).keys]


async def test_a_list_of_all_machines_has_no_stops(drive: Any) -> None:
    async with drive() as driver:
        await driver.keys("d", "exclamation_mark")
        driver.expect(DueList)
        assert "!" not in [one.keys for one in driver.app.screen.query_one(KeyLine).keys]


@pytest.mark.long
async def test_what_was_answered_in_the_walk_round_stands_there(drive: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.keys("w")
        driver.expect(WalkRound)
        while driver.app.screen.question.id != "cart":
            question = driver.app.screen.question
            if question.is_number:
                await driver.type("200")
                await driver.keys("enter")
            else:
                await driver.keys(str(next(place for place, one in enumerate(question.choices, 1) if one.right)))
        await driver.keys("t")
        screen = driver.app.screen
        assert isinstance(screen, Steps)
        assert screen.now_at["legs"] == "set"
        assert "pawl" not in screen.now_at
        await to_step(driver, "tow")
        assert "Legs: set in the ground, must be up" in answer(driver)
        assert "not seen yet" in answer(driver)
        await driver.keys("escape")
        driver.expect(WalkRound)


@pytest.mark.long
async def test_marks_are_for_supervisors(drive: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c", "m")
        assert not isinstance(driver.app.screen, Marks)
        await driver.keys("p", "a", "m")
        screen = driver.app.screen
        assert isinstance(screen, Marks)
        first = screen.query_one(Rows).row(0)
        assert getattr(first[0], "text", "") == "all"
        checks = marks.checks_between(screen.register, screen.now() - timedelta(weeks=13), screen.now())
        early = people(checks)[0].early
        assert early.of > 0
        assert f"{early.count} of {early.of}" == getattr(first[5], "text", "")
        await driver.keys("w")
        assert "52 weeks" in screen.where()
        await driver.keys("escape")


@pytest.mark.long
async def test_a_second_run_on_a_hydrant_is_offered_and_asks_less(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.keys("w")
        await driver.walk_to_the_end()
        whole = len(driver.app.screen.going.walk.sheet.questions)
        await driver.keys("s")
        started = driver.clock.now
        driver.clock.now += timedelta(hours=4)
        machine = register.machine_id("T01")
        run = e.Run(started=started, ended=driver.clock.now, metres=200_000, stopped_by="end stop")
        register.add(run, machine=machine, by="Ines", now=driver.clock.now, happened=driver.clock.now)
        await driver.to_machine("T01")
        await driver.keys("w", "a")
        driver.expect(WalkRound)
        asked = driver.app.screen.going.walk.sheet.questions
        assert len(asked) < whole
        assert all(one.again for one in asked)


@pytest.mark.long
async def test_a_machine_that_is_held_says_so_however_its_parts_stand(drive: Any, register: Any) -> None:
    async with drive() as driver:
        screen = await begin(driver)
        assert "held" not in str(screen.query_one("#standing").render())
        await driver.keys("escape")
        what = e.Fault(part="end stop", says="hangs", holds="run", retest="try it")
        register.add(what, machine=register.machine_id("T01"), by="Ines", now=driver.clock())
        await driver.to_machine("T01")
        await driver.keys("t")
        standing = str(driver.app.screen.query_one("#standing").render())
        assert "■ held for a run: end stop: hangs" in standing
        assert standing.rstrip().endswith("Ends by repair, re-test, release")


@pytest.mark.long
async def test_one_list_alone_has_the_mark(drive: Any, screen_text: Any) -> None:
    async with drive(size=(120, 40)) as driver:
        await driver.to_machine("T01")
        await driver.keys("t")
        for _ in range(3):
            await driver.pilot.pause()
            assert screen_text(driver.app).count("▸") == 1
            await driver.keys("tab")


async def test_where_parts_stand_goes_by_time_and_what_was_said_here_stays(drive: Any, register: Any) -> None:
    """After a pause nobody knows where a hand has left a part."""
    async with drive() as driver:
        now, sheet = driver.clock(), sheets.load().by_id["pre-start"]
        going = walk_rounds.begin(register, register.machine_id("T01"), sheet, by="Ines", now=now)
        while (question := going.walk.next_in_gate(now, "Ines")) is not None:
            right = _right(question, going.walk)
            going = walk_rounds.answer(register, going.id, question.id, right, by="Ines", now=now).check
        screen = await begin(driver)
        assert (screen.now_at["pawl"], screen.now_at["legs"]) == ("up", "set")
        screen.now_at["legs"] = "up"
        driver.clock.now += timedelta(hours=2)
        screen._look()
        assert "pawl" not in screen.now_at
        assert screen.now_at["legs"] == "up"


async def test_the_key_of_the_other_list_names_the_one_that_it_leads_to(drive: Any) -> None:
    async with drive() as driver:
        screen = await begin(driver)
        for leads_to in ("Parts", "Steps", "Parts"):
            assert ("Tab", leads_to) in [(one.keys, one.name) for one in screen.query_one(KeyLine).keys]
            await driver.keys("tab")
