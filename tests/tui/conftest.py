"""What the tests of the terminal app share: apps that hold still, and small apps around one widget."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

import pytest
import textual.app
import textual.pilot
from textual._context import active_app
from textual.app import App, ComposeResult
from textual.widget import Widget
from textual.widgets import Input, TextArea

from reelcare.tui.theme import DUSK, apply_theme

HOSTILE = (
    "Pin [/] z",
    "[/",
    "[b +",
    "[red",
    "[type=x, v={'a[0]'}]",
    "[link=http://x]y",
    "Boom [red]A[/red]",
    "[$error]",
    "[@click=app.bell]ring[/]",
    "$primary {x} %s \\[b]",
    "\x1b]52;c;cGF5\x07 clip",
    "\x1b]0;title\x1b\\ title",
    "\x1b[2J\x1b[H wiped",
    "\x9b31m red",
    "gate \u202eabc\u202c",
    "zero\u200bwidth\u200d\u2060\ufeff",
    "two\nlines\rand\x08 back",
    "tall e" + "\u0301" * 40,
    "lone \ud800 surrogate",
    "tag \U000e0041 and \u115f filler",
)
"""Texts that have taken terminals and programs apart: markup, escape sequences, direction, hidden signs."""

STEERS = (
    {chr(code) for code in [*range(0x20), *range(0x7F, 0xA0)]}
    | set("\u200b\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2060\u2066\u2067\u2068\u2069\ufeff")
)  # fmt: skip
"""What must never reach a line of the screen."""


@pytest.fixture(autouse=True)
def _hold_still(monkeypatch: pytest.MonkeyPatch) -> None:
    """No blinking cursor, no colour settings from outside: a picture is the same every time."""
    for name in ("NO_COLOR", "COLORTERM", "TEXTUAL_THEME", "REELCARE_THEME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(Input, "cursor_blink", False)
    monkeypatch.setattr(TextArea, "cursor_blink", False)


async def settled(*sleeps: float) -> None:
    """Wait until nothing is left to run: no callback is ready, and the screen has no repaint before it.

    The framework's own wait watches the processor's time in steps of a fiftieth of a second, which makes every key of
    a test cost three of them, and a busy machine another picture.
    """
    loop: Any = asyncio.get_running_loop()
    for _ in range(10_000):
        quiet = 0
        while quiet < 3:
            await asyncio.sleep(0)
            quiet = 0 if loop._ready else quiet + 1
        app = active_app.get(None)
        if app is not None and app._resize_timer is not None:
            app._check_resize()  # a new size waits for a moment, for the next one that may follow
            continue
        screen = app.screen if app is not None and app.screen_stack else None
        if screen is None or not (
            screen._layout_required
            or screen._scroll_required
            or screen._repaint_required
            or screen._recompose_required
            or screen._dirty_widgets
            or screen._callbacks
        ):
            return
        screen._on_timer_update()
    raise AssertionError("the app does not come to rest")


@pytest.fixture(autouse=True)
def _settle_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keys and pauses of the pilot wait for the app, and not for the clock."""
    monkeypatch.setattr(textual.app, "wait_for_idle", settled)
    monkeypatch.setattr(textual.pilot, "wait_for_idle", settled)


class Small(App[Any]):
    """An app around a few widgets, dressed as ours; it keeps every message that comes to it."""

    CSS_PATH = None

    def __init__(self, make: Callable[[], list[Widget]], **dressed: Any) -> None:
        super().__init__()
        apply_theme(self, **{"theme": DUSK, **dressed})
        self._make = make

    def compose(self) -> ComposeResult:
        yield from self._make()


@pytest.fixture
def small() -> Callable[..., Small]:
    """Makes a small app around widgets: `small(lambda: [Rows(...)])`."""
    return Small


@pytest.fixture
def hostile() -> tuple[str, ...]:
    """Texts that must be shown and not obeyed."""
    return HOSTILE


@pytest.fixture
def steers() -> set[str]:
    """What must never reach a line of the screen."""
    return STEERS


@pytest.fixture
def screen_text() -> Callable[[App[Any]], str]:
    """The whole screen of an app as text, line under line, as it goes to the terminal."""

    def text(app: App[Any]) -> str:
        return "\n".join(strip.text for strip in app.screen._compositor.render_strips())

    return text
