"""Makes the pictures of the README: drives the app on the demo estate as it stands on one fixed day.

Run it in the project's environment: `.venv/bin/python demo/pictures.py`. Look at each picture before it is kept.
"""

from __future__ import annotations

import asyncio
import os
import re
import shutil
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from reelcare.register.demo import build
from reelcare.register.opening import open_writer
from reelcare.register.writing.writer import Writer
from reelcare.tui.app import Reelcare
from reelcare.tui.screens.checks.debounce import Debounce

DAY = datetime(2026, 7, 15, 7, 30, tzinfo=UTC)
SIZE = (112, 32)
HERE = Path(__file__).resolve().parent / "pictures"
SOMEBODY = ("p", "a")
TAKEN: dict[str, tuple[str, ...]] = {
    "yard": SOMEBODY,
    "walk-round": (*SOMEBODY, "end", "w"),
    "set-up": (
        *SOMEBODY,
        "end",
        "up",
        "s",
        *"68",
        "down",
        *"260",
        "down",
        *"25",
        "down",
        "down",
        *"43",
        "down",
        "down",
        *"45",
        "left",
        "full_stop",
        "down",
    ),
    "bench": (*SOMEBODY, "b"),
    "due": (*SOMEBODY, "d"),
}
"""The name of each picture, and the keys that lead to it."""


def main() -> None:
    """Make every picture anew."""
    os.environ.pop("NO_COLOR", None)
    HERE.mkdir(exist_ok=True)
    Debounce.AFTER = Debounce.REPEAT = 0.0  # keys come faster here than from a hand
    with tempfile.TemporaryDirectory() as folder:
        demo = Path(folder) / "demo.db"
        with open_writer(demo) as register:
            build(register, DAY)
            register.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        for name, keys in TAKEN.items():
            copy = demo.with_name(f"{name}.db")
            shutil.copy(demo, copy)
            with open_writer(copy) as register:
                drawn = asyncio.run(_draw(register, keys))
            (HERE / f"{name}.svg").write_text(drawn, "utf-8")
            print(HERE / f"{name}.svg")


async def _draw(register: Writer, keys: tuple[str, ...]) -> str:
    app = Reelcare(register, clock=lambda: DAY)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        for key in keys:
            await pilot.press(key)
            await pilot.pause()
        drawn = app.export_screenshot(title="Reelcare")
    # the font is asked of the system, never fetched
    return re.sub(r"\s*@font-face \{.*?\}", "", drawn, flags=re.DOTALL)


if __name__ == "__main__":
    main()
