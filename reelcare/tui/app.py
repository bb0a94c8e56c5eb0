"""The terminal app: its screens, its theme, who is at it, and the one way to write.

The rules of this room: a screen shows what decides the next action, and hands entries to the register; it never
judges. What people typed passes through `text.py`. Errors of the register are told and leave the screen as it
is, with all that was typed.
"""

from __future__ import annotations

import gc
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from textual.reactive import var
from textual.screen import Screen

from reelcare import languages
from reelcare.core.text import _
from reelcare.register.errors import RegisterError
from reelcare.register.writing.writer import Writer
from reelcare.tui import keys, requests, screen_table
from reelcare.tui.base import NARROW, Written
from reelcare.tui.host import sign_in
from reelcare.tui.host.app_keys import KeyedApp
from reelcare.tui.preferences import USUAL, Preferences
from reelcare.tui.requests import Answer, Opens
from reelcare.tui.screens import turn_to_write
from reelcare.tui.theme import apply_theme, chosen_theme

Clock = Callable[[], datetime]
DEMO_WANTED = "demo"
"""What the app is left with where the demo estate is to be opened."""


def utc_now() -> datetime:
    """The moment by this computer's clock."""
    return datetime.now(UTC)


class Reelcare(KeyedApp):
    """Checks, settings and upkeep of hose-reel machines."""

    TITLE = "Reelcare"
    CSS_PATH = "app.tcss"
    HORIZONTAL_BREAKPOINTS = [(0, "-tiny"), (NARROW, "-narrow"), (100, "-wide")]  # noqa: RUF012 -- typed by the base class
    BINDINGS = keys.EVERYWHERE
    person: var[str] = var("", bindings=True)
    """Who is at the terminal: who signs what is written."""

    def __init__(
        self, register: Writer, *, preferences: Preferences = USUAL, clock: Clock = utc_now, machine: str = ""
    ) -> None:
        super().__init__()
        self.register = register
        self.preferences = preferences
        languages.install(preferences.language)
        self._opens_on = machine
        self.warnings: tuple[str, ...] = ()
        self.now = clock  # the app asks no other one
        if self.preferences.slow:
            self.animation_level = "none"
        apply_theme(self, theme=chosen_theme(), ascii_only=self.preferences.ascii)

    def get_default_screen(self) -> Screen[Any]:
        """The yard, under everything else."""
        return self.screen_for(requests.OpenYard())

    def on_mount(self) -> None:
        """Begin with the one person enrolled, and on the machine that was asked for."""
        self.app_resume_signal.subscribe(self, lambda _: self.action_draw_again(), immediate=True)
        self.person = sign_in.only_person(self)
        self.call_after_refresh(gc.enable)
        self.call_after_refresh(self.check_health)
        if self._opens_on:
            self.push_screen(self.screen_for(requests.OpenBench(self._opens_on)))
        elif not (self.register.read_only or self.register.roles() or self.register.machine_ids()):
            self.push_screen(self.screen_for(requests.OpenStart()))

    def check_health(self) -> None:
        """Look for what is wrong with clock and register, and tell it."""
        from reelcare.tui.host.startup_checks import warnings  # once the yard stands on the screen

        self.warnings = tuple(warnings(self.register, self.now()))
        if self.warnings:
            self.tell("  ".join(self.warnings), bad=True)

    @property
    def role(self) -> str:
        """The role of who is at the terminal."""
        return self.register.roles().get(self.person, "")

    def write(self, what: Callable[[], Written]) -> Written | None:
        """Do something that writes; where it cannot be, tell why and leave everything as it is."""
        try:
            return what()
        except (RegisterError, ValueError) as why:
            self.tell(_("Not saved: {why}", why=why), bad=True)
            self.run_worker(sign_in.after_refusal(self, why))
            return None

    def in_turn(self, act: Callable[[], object]) -> None:
        """Do something that writes, at once or, where another program writes, when it is this one's turn."""
        turn_to_write.in_turn(self, self.push_screen, act)

    def screen_for(self, request: Opens[Answer]) -> Screen[Answer]:
        """Make the screen that a request asks for."""
        return screen_table.screen_for(request, self.register)

    async def ask(self, request: Opens[Answer]) -> Answer | None:
        """Open a dialog and wait for its answer; only in a worker."""
        return await self.push_screen_wait(self.screen_for(request))

    def leave_for_demo(self) -> None:
        """Leave this register, and say that the demo estate is wanted."""
        self.exit(DEMO_WANTED)

    async def may_write(self, kind: str = "") -> bool:
        """Whether somebody is there who may write this kind of entry; asks who it is. Only in a worker."""
        return await sign_in.may_write(self, kind)
