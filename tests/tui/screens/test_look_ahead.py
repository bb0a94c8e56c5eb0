"""What the next key may show is made ready while nobody waits: then nothing is read or drawn for that key."""

from collections.abc import Callable
from typing import Any

import pytest

from reelcare.core.drawing import machine as drawing
from reelcare.register import yard as yards
from reelcare.register.errors import Busy
from reelcare.tui.widgets.beside import Beside
from reelcare.tui.widgets.machine_plan import MachinePlan


def noted(monkeypatch: pytest.MonkeyPatch, owner: Any, name: str) -> list[Any]:
    """Notes what a function is asked, and lets it answer."""
    asked: list[Any] = []
    kept = getattr(owner, name)

    def ask(*given: Any, **more: Any) -> Any:
        asked.append(given)
        return kept(*given, **more)

    monkeypatch.setattr(owner, name, ask)
    return asked


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
async def test_the_machine_in_the_next_row_is_read_and_drawn_before_its_key(
    drive: Callable[..., Any], monkeypatch: pytest.MonkeyPatch, size: tuple[int, int]
) -> None:
    async with drive(size=size) as driver:
        await driver.keys("home", "down")
        yard = driver.app.screen
        yard._look_ahead()
        shown = yard.machine.tag
        read = noted(monkeypatch, yards, "machines")
        drawn = noted(monkeypatch, drawing, "draw")
        laid_out = noted(monkeypatch, Beside, "_drawn")
        for key in ("up", "down", "down"):
            await driver.keys(key)
            assert yard.machine.tag in _told(yard), key
            assert [ids for _, ids, *_ in read if ids] == []
            assert drawn == []
        assert yard.machine.tag != shown
        assert laid_out == []


async def test_what_is_made_ready_is_not_shown(drive: Callable[..., Any]) -> None:
    async with drive(size=(120, 40)) as driver:
        await driver.keys("home", "down")
        yard = driver.app.screen
        plan = yard.query_one(MachinePlan)
        before = _told(yard), plan.said, [plan.render_line(y) for y in range(plan.size.height)]
        yard._look_ahead()
        await driver.pilot.pause()
        assert before == (_told(yard), plan.said, [plan.render_line(y) for y in range(plan.size.height)])


async def test_only_machines_whose_rows_are_seen_are_read_ahead(
    drive: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    async with drive(size=(80, 24)) as driver:
        await driver.keys("home")
        yard = driver.app.screen
        yard._read.clear()
        read = noted(monkeypatch, yards, "machines")
        yard._look_ahead()
        assert [list(ids) for _, ids, *_ in read] == [[yard.order.machines[1]]]


async def test_a_register_that_cannot_be_read_ahead_is_no_matter(
    drive: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    def busy(*asked: Any, **more: Any) -> Any:
        raise Busy("another program is writing to it")

    async with drive() as driver:
        yard = driver.app.screen
        yard._read.clear()
        monkeypatch.setattr(yards, "machines", busy)
        yard._look_ahead()
        monkeypatch.undo()
        await driver.keys("down")
        assert yard.machine.tag in _told(yard)


def _told(yard: Any) -> str:
    return "\n".join(one.render().plain for one in yard.query(Beside))
