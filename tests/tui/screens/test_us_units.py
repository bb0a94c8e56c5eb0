"""What screens say to somebody who reads feet: why a machine stands as it does, by metres too."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.opening import open_writer
from reelcare.tui.app import Reelcare
from reelcare.tui.preferences import Preferences
from tests.estates import NOW
from tests.tui.screens.conftest import Clock, Driver

PLAN = {"id": "mine", "items": [
    {"id": "guide", "what": "Look at the guide screw", "part": "level wind", "every": {"metres": 200}, "grace": 0,
     "stop": True},
]}  # fmt: skip


async def test_a_hold_by_metres_is_told_in_feet(tmp_path: Path, screen_text: Callable[[Any], str]) -> None:
    """The yard, the line under its list and the head of every screen said metres to everybody."""
    ago = NOW - timedelta(days=9)
    with open_writer(tmp_path / "one.db") as register:
        people.enrol(register, "Marta", "supervisor", by="Marta", now=ago)
        card = {"tag": "T01", "name": "Long Reach", "place": "North Field", "in_use_since": ago.date().isoformat()}
        machine = register.add(e.Carded(card=card), by="Marta", now=ago).machine
        register.add(e.Planned(plan=PLAN), machine=machine, by="Marta", now=ago)
        register.add(e.Service(item="guide"), machine=machine, by="Marta", now=NOW, happened=ago + timedelta(hours=1))
        run = e.Run(started=NOW - timedelta(days=2), ended=NOW - timedelta(days=1, hours=12), metres=300_000)
        register.add(run, machine=machine, by="Marta", now=NOW, happened=run.ended)
        app = Reelcare(register, preferences=Preferences(system="us"), clock=(clock := Clock()))
        async with app.run_test(size=(120, 40)) as pilot:
            for _ in range(3):
                await pilot.pause()
            driver = Driver(app, pilot, clock)
            for keys in ((), ("b",), ("escape", "w"), ("escape",)):
                await driver.keys(*keys)
                told = screen_text(driver.app)
                assert "328 ft" in told, keys
                assert "100 m" not in told, keys
            await driver.keys("b", "u")
            told = screen_text(driver.app)
            assert "100 m" in told
            assert "328 ft" not in told
