"""View only: nothing is written by any key. Opening on one machine; slow lines and plain terminals; odd clocks."""

import asyncio
import threading
from typing import Any

import peewee
import pytest

from reelcare.core import entries as e
from reelcare.register.errors import NotAllowed
from reelcare.register.opening import open_beside
from reelcare.tui.app import Reelcare
from reelcare.tui.preferences import Preferences
from reelcare.tui.screens.work.bench import Bench
from reelcare.tui.screens.work.due import DueList
from reelcare.tui.widgets.detail_panel import DetailPanel
from reelcare.tui.widgets.message_line import MessageLine
from reelcare.tui.widgets.rows import Rows
from tests.register.conftest import sql


def count(register: Any) -> int:
    return int(sql(register.db, "SELECT COUNT(*) FROM entry")[0][0])


async def test_no_key_of_the_yard_writes_where_one_may_only_look(drive: Any, register: Any) -> None:
    register.make_read_only()
    before = count(register)
    async with drive() as driver:
        assert "view only" in str(driver.app.screen.query_one("#head").render())
        for key in ("w", "r", "f", "enter", "p"):
            await driver.keys(key)
            assert len(driver.app.screen_stack) == 1, key
        assert "View only" in driver.app.notice.says
        await driver.keys("b")
        driver.expect(Bench)
    assert count(register) == before


def test_the_door_itself_refuses(register: Any) -> None:
    machine = register.machine_id("T01")
    register.make_read_only()
    now = e.time_of("2026-07-02T09:00:00.000Z")
    before = count(register)
    for write in (
        lambda: register.add(e.Fault(part="hose", says="x"), machine=machine, by="Ines", now=now),
        lambda: register.give_pin("Ines", "739104", by="Marta"),
        register.rebuild,
    ):
        with pytest.raises(NotAllowed, match="open view only"):
            write()
    assert count(register) == before


def test_the_database_refuses_where_the_door_is_passed_by(register: Any) -> None:
    register.make_read_only()
    before = count(register)
    statement = "INSERT INTO about (name, value) VALUES ('x', 'y')"
    with open_beside(register) as beside:
        for one in (register, beside):
            with pytest.raises(peewee.PeeweeException, match="readonly"):
                one.db.execute_sql(statement)
    assert count(register) == before


@pytest.mark.long
async def test_in_ascii_what_was_typed_stays_what_it_is(drive: Any, register: Any) -> None:
    async with drive(ascii=True) as driver:
        await driver.keys("p", "c", "f")
        await driver.keys("tab")
        before = count(register)
        for sign in "Cañón":
            await driver.pilot.press(sign)
        fields = driver.app.focused
        assert getattr(fields, "value", getattr(fields, "text", "")) == "Cañón"
        assert "Canon" in drawn_text(driver.app)
        assert count(register) == before


async def test_it_opens_on_a_machine(register: Any) -> None:
    app = Reelcare(register, machine=register.machine_id("T03"))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, Bench)
        assert app.screen.machine is not None
        assert app.screen.machine.tag == "T03"
        await pilot.press("escape")
        assert app.screen.query_one(Rows).count == 12


async def test_a_scanned_code_is_found_as_it_is_read(drive: Any, register: Any) -> None:
    from reelcare.core.machine.tag import text_of

    async with drive() as driver:
        await driver.keys("slash", *text_of(register.machine_id("T07"), "T07"), "enter")
        assert driver.app.screen.machine.tag == "T07"
        assert len(driver.app.screen_stack) == 1
        await driver.keys("slash", *"curlew")
        assert driver.app.screen.machine.card.name == "Curlew"


async def test_over_a_slow_line_a_page_is_drawn_not_line_after_line(register: Any) -> None:
    app = Reelcare(register, preferences=Preferences(slow=True))
    async with app.run_test(size=(80, 16)) as pilot:
        rows = app.screen.query_one(Rows)
        page = rows.scrollable_content_region.height - 1
        assert page < rows.count
        seen = []
        for _ in range(page):
            await pilot.press("down")
            seen.append(int(rows.scroll_offset.y))
        assert len(set(seen)) == 2  # one jump
        assert seen[-1] >= page - 1
        assert page > 2
        seen.clear()
        while rows.cursor:
            await pilot.press("up")
            seen.append(int(rows.scroll_offset.y))
        assert set(seen) == {page - 1, 0}


@pytest.mark.long
@pytest.mark.parametrize("key", ["", "b", "d", "c", "k", "t", "i", "question_mark", "s", "o"])
async def test_in_ascii_nothing_else_is_drawn(register: Any, key: str) -> None:
    app = Reelcare(register, preferences=Preferences(ascii=True))
    async with app.run_test(size=(120, 40)) as pilot:
        if key:
            await pilot.press(key)
        await pilot.pause()
        drawn = drawn_text(app)
        odd = {sign for sign in drawn if ord(sign) > 126}
        assert not odd, (key, odd)
        assert len(drawn.split()) > 8


def drawn_text(app: Any) -> str:
    """What reaches the terminal: every line after the filters that stand before it."""
    from textual.strip import Strip

    screen = app.screen
    told = []
    for strip in screen._compositor.render_strips():
        line: Any = Strip(strip)
        for one in app._filters:
            line = line.apply_filter(one, screen.background_colors[1])
        told.append(line.text)
    return "\n".join(told)


async def test_a_clock_that_went_back_is_told_when_the_app_opens(register: Any) -> None:
    from datetime import UTC, datetime

    app = Reelcare(register, clock=lambda: datetime(2026, 6, 1, tzinfo=UTC))
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await pilot.pause()
        assert app.notice is not None
        assert "The last entry here is of" in app.notice.says
        assert "set this computer's clock right" in app.notice.says
        # it stays in sight for as long as the app is open
        await pilot.press("d", "escape", "d", "w", "escape")
        assert "The last entry here is of" in str(app.screen.query_one("#standing").render())


@pytest.mark.long
@pytest.mark.parametrize(("keys", "least"), [(("i",), 12), (("i", "f"), 1), (("d", "v"), 3), (("d",), 5)])
async def test_a_large_yard_is_gathered_beside_the_screen_and_shows_the_same(
    register: Any, monkeypatch: pytest.MonkeyPatch, keys: tuple[str, ...], least: int
) -> None:
    from reelcare.tui import yard_reading

    async def shown(app: Reelcare) -> list[str]:
        async with app.run_test(size=(120, 40)) as pilot:
            await pilot.press(*keys)
            await app.workers.wait_for_complete()
            await pilot.pause()
            if keys == ("d",):
                # a large list opens on what is due; what comes up is asked for
                due = app.screen
                assert isinstance(due, DueList)
                while due.window != 2:
                    await pilot.press("w")
                    await app.workers.wait_for_complete()
                    await pilot.pause()
            rows = app.screen.query_one(Rows)
            return [rows.render_line(y).text for y in range(1, rows.count + 1)]

    moment = e.time_of("2026-07-01T09:00:00.000Z")
    at_once = await shown(Reelcare(register, clock=lambda: moment))
    monkeypatch.setattr(yard_reading, "LARGE", 5)
    assert await shown(Reelcare(register, clock=lambda: moment)) == at_once
    assert len(at_once) >= least


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
async def test_what_follows_the_cursor_changes_with_it_and_not_by_a_message(drive: Any, size: tuple[int, int]) -> None:
    async with drive(size=size) as driver:
        yard = driver.app.screen
        rows, before = yard.query_one(Rows), yard.machine.tag
        rows.cursor += 1  # nothing else runs before what is shown is asked for
        told = [one.render().plain for one in yard.query(DetailPanel)]
        assert yard.machine.tag != before
        assert all(text.startswith(yard.machine.tag) for text in told)


async def test_leaving_stops_what_is_gathered_and_until_then_nothing_is_said_of_it(
    register: Any, monkeypatch: pytest.MonkeyPatch, screen_text: Any
) -> None:
    from reelcare.register.views import evidence
    from reelcare.tui import yard_reading

    stopped = threading.Event()

    def endless(own: Any, only: Any = None, *, progress: Any) -> Any:
        try:
            while True:
                progress(20, 10_000)
        finally:
            stopped.set()

    monkeypatch.setattr(yard_reading, "LARGE", 5)
    monkeypatch.setattr(evidence, "signals_of", endless)
    async with Reelcare(register).run_test(size=(80, 24)) as pilot:
        await pilot.press("i")
        while "of 10000 machines" not in str(pilot.app.screen.query_one(MessageLine).render()):
            await pilot.pause()  # it never ends by itself, so this comes
        shown = screen_text(pilot.app)
        assert "Still reading: nothing can be said yet." in shown
        assert "No run" not in shown
        assert "0 runs" not in shown
        await pilot.press("escape")
        assert await asyncio.to_thread(stopped.wait, 20)
        assert pilot.app.screen.query_one(Rows).count == 12
