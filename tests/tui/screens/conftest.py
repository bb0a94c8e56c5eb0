"""The app on a demo estate of a fixed day, driven by keys."""

import shutil
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.screen import Screen

from reelcare.core.checks.sheet import Question
from reelcare.core.checks.verdict import Walk
from reelcare.register.opening import open_writer
from reelcare.register.writing.writer import Writer
from reelcare.tui import base
from reelcare.tui.app import Reelcare
from reelcare.tui.preferences import Preferences
from reelcare.tui.screens.checks.debounce import Debounce
from reelcare.tui.widgets.rows import Rows
from tests import estates
from tests.estates import NOW as NOW


@pytest.fixture(autouse=True)
def quick_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keys come faster here than from a hand; the test of the debounce puts its times back."""
    monkeypatch.setattr(Debounce, "AFTER", 0.0)
    monkeypatch.setattr(Debounce, "REPEAT", 0.0)


@pytest.fixture(scope="session")
def estate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo register of a fixed day; ids are the same every time."""
    return estates.estate(tmp_path_factory)


@pytest.fixture
def register(estate: Path, tmp_path: Path) -> Iterator[Writer]:
    path = tmp_path / "demo.db"
    shutil.copy(estate, path)
    with open_writer(path) as one:
        yield one


@dataclass
class Clock:
    """A clock that moves only when it is told to: ten seconds for each key of a hand."""

    now: datetime = NOW

    def __call__(self) -> datetime:
        return self.now


READINGS = {"volts": "12.6 V", "coils": "3", "inlet": "6.5 bar", "drive-loss": "0.4 bar", "speed": "32 m/h"}
"""Right readings on the machines of the demo estate; who measures in metric units types no unit."""

Hand = Callable[..., Awaitable[None]]
ScreenClass = type[Screen[Any]]


@dataclass
class Driver:
    """The app under a hand on the keys."""

    app: Reelcare
    pilot: Pilot[Any]
    clock: Clock
    pressed: int = 0
    """How many keys the hand has pressed."""

    async def keys(self, *keys: str) -> None:
        for key in keys:
            self.clock.now += timedelta(seconds=10)
            self.pressed += 1
            await self.pilot.press(key)
            await self.pilot.pause()
            if getattr(self.app.screen, "opening", False):  # the page before a gate
                self.pressed += 1
                await self.pilot.press("enter")
                await self.pilot.pause()

    async def type(self, text: str) -> None:
        await self.keys(*("space" if sign == " " else _NAMES.get(sign, sign) for sign in text))

    async def to_machine(self, tag: str) -> None:
        """Put the cursor of the yard on a machine, by keys."""
        for _ in range(3):  # the list can be put in order anew on the way
            await self.keys("home")
            for _ in range(40):
                if self.app.screen.machine.tag == tag:  # type: ignore[attr-defined]
                    return
                await self.keys("down")
        raise AssertionError(f"{tag} is not in the yard")

    async def to_line(self, says: str) -> None:
        """Put the cursor of a list on the row that says something, by keys."""
        rows = self.app.screen.query_one(Rows)
        await self.keys("home")
        for _ in range(rows.count):
            if any(says in getattr(cell, "text", str(cell)) for cell in rows.row(rows.cursor)):
                return
            await self.keys("down")
        raise AssertionError(f"{says}: no such row")

    async def answer_right(self) -> int:
        """Answer the present question of a walk-round right; how many keys that took."""
        question: Question = self.app.screen.question  # type: ignore[attr-defined]
        if question.is_number:
            metric = self.app.preferences.system == "metric"
            typed = READINGS[question.id].split()[0] if metric else READINGS[question.id]
            await self.type(typed)
            await self.keys("enter")
            return len(typed) + 1
        await self.keys(str(next(number for number, one in enumerate(question.choices, 1) if one.right)))
        return 1

    async def walk_to(self, question: str) -> int:
        """Answer right, and sign each gate, up to a question; how many keys that took."""
        keys = 0
        while (asked := self.app.screen.question) is None or asked.id != question:  # type: ignore[attr-defined]
            keys += await (self.answer_right() if asked else self._sign())
        return keys

    async def walk_to_the_end(self) -> int:
        """Answer right, and sign each gate, until only the last signature is left; how many keys that took."""
        walk: Walk = self.app.screen.going.walk  # type: ignore[attr-defined]
        keys = 0
        for _ in walk.sheet.gates[len(walk.signed) + 1 :]:
            keys += await self.answer_gate() + await self._sign()
        return keys + await self.answer_gate()

    async def answer_gate(self) -> int:
        """Answer right until a signature comes next; how many keys that took."""
        keys = 0
        while self.app.screen.question is not None:  # type: ignore[attr-defined]
            keys += await self.answer_right()
        return keys

    async def _sign(self) -> int:
        await self.keys("s")
        return 1

    def expect(self, kind: ScreenClass) -> None:
        """Fail unless a screen of this kind is on top."""
        screen = self.app.screen
        assert isinstance(screen, kind), f"{type(screen).__name__} is on top, not {kind.__name__}"

    def standing(self, tag: str) -> str:
        from reelcare.register.reading import yard as yards

        register = self.app.register
        return yards.machine_now(register, register.machine_id(tag), self.clock.now).standing.run


_NAMES = {".": "full_stop", ",": "comma", "/": "slash", "-": "minus", ":": "colon", "[": "left_square_bracket",
          "]": "right_square_bracket"}  # fmt: skip


@pytest.fixture
def drive(register: Writer) -> Callable[..., Any]:
    """Opens the app: `async with drive(size=(80, 24)) as driver`."""

    clock = Clock()  # it goes on when the app is closed and opened again

    @asynccontextmanager
    async def open_it(size: tuple[int, int] = (80, 24), **manner: Any) -> AsyncIterator[Driver]:
        app = Reelcare(register, preferences=Preferences(**manner), clock=clock)
        async with app.run_test(size=size, notifications=True, tooltips=True) as pilot:
            await pilot.pause()
            yield Driver(app, pilot, clock)

    return open_it


def all_colours_are_told(app: Reelcare) -> None:
    """No sign is faint or in a colour that each terminal has another for; `theme.apply_theme` relies on it."""
    for strip in app.screen._compositor.render_strips():
        for text, style, _ in strip:
            if style is not None:
                assert not style.dim, text
                assert all(one is None or one.triplet for one in (style.color, style.bgcolor)), (text, style)


@pytest.fixture
def picture(register: Writer, snap_compare: Any, monkeypatch: pytest.MonkeyPatch) -> Callable[..., bool]:
    """Takes a picture of the app after keys were pressed: `picture((80, 24), keys)`.

    Nothing in it hangs on how fast the machine is: no screen follows the clock by itself meanwhile.
    """
    monkeypatch.setattr(base, "LOOK", 3600.0)

    def take(size: tuple[int, int], hand: Callable[[Driver], Awaitable[None]], **manner: Any) -> bool:
        clock = Clock()
        app = Reelcare(register, preferences=Preferences(**manner), clock=clock)

        async def before(pilot: Pilot[Any]) -> None:
            await pilot.pause()
            await hand(Driver(app, pilot, clock))
            await pilot.pause()
            all_colours_are_told(app)

        return bool(snap_compare(app, terminal_size=size, run_before=before))

    return take
