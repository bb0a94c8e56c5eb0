"""What was carried in and waits, by keys: listed, accepted and refused by a supervisor alone."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.exchange import carry_files, carry_format
from reelcare.register.opening import open_writer
from reelcare.register.reading import foreign
from reelcare.tui.app import Reelcare
from reelcare.tui.screens.work.waiting import Waiting
from reelcare.tui.screens.yard import Yard
from reelcare.tui.widgets.rows import Rows

START = datetime(2026, 5, 1, 6, tzinfo=UTC)


@pytest.fixture
def met(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.setenv("TZ", "UTC")
    with open_writer(tmp_path / "here.db") as here, open_writer(tmp_path / "there.db") as there:
        people.enrol(here, "Mara", "supervisor", by="Mara", now=START)
        people.enrol(here, "Olav", "operator", by="Mara", now=START)
        here.add(e.Carded(card={"tag": "R1"}), by="Mara", now=START)
        people.enrol(there, "Bo", "supervisor", by="Bo", now=START)
        people.enrol(there, "Mek", "mechanic", by="Bo", now=START)
        carry_files.carry_out(there, tmp_path / "x.carry", now=START)
        bundle = carry_format.read(tmp_path / "x.carry")
        carry_files.carry_in(here, bundle, by="Mara", now=START + timedelta(hours=1))
        yield here


async def test_a_supervisor_accepts_and_refuses_what_waits(met: Any) -> None:
    app = Reelcare(met, clock=lambda: START + timedelta(hours=2))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, Yard)
        assert "2 carried in, to be accepted (j)" in app.screen.counts().plain
        app.person = "Olav"
        await pilot.press("j")
        await pilot.pause()
        assert not isinstance(app.screen, Waiting)
        app.person = "Mara"
        await pilot.press("j")
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, Waiting)
        decides = {"waiting.tick", "waiting.accept", "waiting.refuse"}
        assert decides <= {one.binding.id for one in screen.active_bindings.values()}
        assert [one.says.partition(":")[0] for one in screen.lines] == ["Bo, supervisor", "Mek, mechanic"]
        for key, why in (("x", "not ours"), ("a", "ours")):
            await pilot.press(key)
            await pilot.pause()
            await pilot.press(*why.replace(" ", "_").split("_")[0], "enter")
            await pilot.pause()
            await pilot.pause()
        assert screen.query_one(Rows).count == 0
        assert not decides & {one.binding.id for one in screen.active_bindings.values()}
    assert met.roles() == {"Mara": "supervisor", "Olav": "operator", "Mek": "mechanic"}
    assert list(foreign.kept(met.db).values()) == ["refused"]


async def test_why_something_waits_stands_there_in_sixty_columns(met: Any, screen_text: Any) -> None:
    app = Reelcare(met, clock=lambda: START + timedelta(hours=2))
    async with app.run_test(size=(60, 18)) as pilot:
        await pilot.pause()
        app.person = "Mara"
        await pilot.press("j")
        await pilot.pause()
        assert "because" in screen_text(app).splitlines()[3]


async def test_what_is_ticked_is_decided_together_with_one_reason(met: Any) -> None:
    app = Reelcare(met, clock=lambda: START + timedelta(hours=2))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        app.person = "Mara"
        for key in ("j", "space", "space", "space", "up", "space"):  # the last row stays under the cursor
            await pilot.press(key)
            await pilot.pause()
        screen = app.screen
        assert isinstance(screen, Waiting)
        ticked = {one.entry.what.describe() for one in screen.lines if one.id in screen.ticked}
        assert ticked == set()
        for key in ("home", "space", "space", "a", *"ours", "enter"):
            await pilot.press(key)
            await pilot.pause()
        await pilot.pause()
        assert screen.query_one(Rows).count == 0
        assert screen.ticked == set()
    assert met.roles() == {"Mara": "supervisor", "Olav": "operator", "Bo": "supervisor", "Mek": "mechanic"}
    [decided] = foreign.recorded_here(met, e.CarryDecision.kind, START, START + timedelta(hours=3))
    assert isinstance(decided.what, e.CarryDecision)
    assert (len(decided.what.entries), decided.what.why) == (2, "ours")
