"""The terminal app: its screens, its theme, who is at it, and the one way to write.

The rules of this room: a screen shows what decides the next action, and hands entries to the register; it never
judges. What people typed passes through `text.py`. Errors of the register are told and leave the screen as it
is, with all that was typed.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from functools import partial
from typing import Any

from textual import events, work
from textual.app import App, SystemCommand
from textual.command import CommandPalette
from textual.notifications import SeverityLevel
from textual.reactive import var
from textual.screen import Screen
from textual.theme import ThemeProvider

from reelcare import languages
from reelcare.core.entries.typed import clean
from reelcare.core.text import _
from reelcare.register.errors import RegisterError
from reelcare.register.writing.writer import Writer
from reelcare.tui import keys, requests, screen_table
from reelcare.tui.base import BaseScreen, Written
from reelcare.tui.host import sign_in
from reelcare.tui.preferences import UNITS, USUAL, Preferences
from reelcare.tui.requests import Answer, Opens, ShowHelp
from reelcare.tui.screens import turn_to_write
from reelcare.tui.theme import apply_theme, chosen_theme
from reelcare.tui.widgets.message_line import Notice

Clock = Callable[[], datetime]
DEMO_WANTED = "demo"
"""What the app is left with where the demo estate is to be opened."""


def utc_now() -> datetime:
    """The moment by this computer's clock."""
    return datetime.now(UTC)


class Reelcare(App[str]):
    """Checks, settings and upkeep of hose-reel machines."""

    TITLE = "Reelcare"
    CSS_PATH = "app.tcss"
    HORIZONTAL_BREAKPOINTS = [(0, "-tiny"), (70, "-narrow"), (100, "-wide")]  # noqa: RUF012 -- typed by the base class
    BINDINGS = keys.EVERYWHERE
    person: var[str] = var("", bindings=True)
    """Who is at the terminal: who signs what is written."""
    preferences: var[Preferences] = var(Preferences, init=False)
    """How the person at the terminal wants it."""
    notice: var[Notice | None] = var(None)
    """What the message line of every screen tells."""
    _told_on: Screen[Any] | None = None
    """Where somebody has worked on since it was told that something was not done."""

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
        self.call_after_refresh(self._look_around)
        if self._opens_on:
            self.push_screen(self.screen_for(requests.OpenBench(self._opens_on)))
        elif not (self.register.read_only or self.register.roles() or self.register.machine_ids()):
            self.push_screen(self.screen_for(requests.OpenStart()))

    def _look_around(self) -> None:
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

    # what is told, and when that goes away

    def tell(self, text: str, *, bad: bool = False, asks: bool = False) -> None:
        """Tell something in the message line: done, not done (`bad`), or asked; text is never parsed as markup."""
        self._told_on = None
        self.notice = Notice("wrong" if bad else "asks" if asks else "done", clean(text))

    def hush(self) -> None:
        """Take away what is told."""
        self.notice = None

    def notify(
        self,
        message: str,
        *,
        title: str = "",
        severity: SeverityLevel = "information",
        timeout: float | None = None,
        markup: bool = True,
    ) -> None:
        """Tell in the message line what the framework would show in a corner."""
        self.tell(message, bad=severity == "error", asks=severity == "warning")

    async def on_event(self, event: events.Event) -> None:
        """A key that does something takes away what was told; one that only moves the cursor leaves it."""
        if isinstance(event, events.Key) and not event.is_forwarded and event.key not in keys.MOVES:
            self._forget_notice()
        await super().on_event(event)

    def _forget_notice(self) -> None:
        """Take away what was done or asked; what was not done stays until another screen is worked on."""
        if self.notice is None or not isinstance(self.screen, BaseScreen):
            return
        if self.notice.kind != "wrong":
            self.notice = None
        elif self._told_on is None:
            self._told_on = self.screen
        elif self._told_on is not self.screen:
            self.notice = None

    # the keys that work on every screen; `quit` is the framework's

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """No single letter leaves a form, or changes who signs it: what was typed there would be lost."""
        if action in ("quit", "person", "units", "language") and self.screen_stack:
            return not (isinstance(self.screen, BaseScreen) and self.screen.holds_typing)
        return super().check_action(action, parameters)

    @work
    async def action_person(self) -> None:
        """Choose who is at the terminal."""
        if not sign_in.is_view_only(self):
            await sign_in.choose_person(self)

    def action_units(self) -> None:
        """Change between metric and US customary units."""
        self.preferences = self.preferences.with_other_units()
        self.tell(_("units: {system}", system=_(UNITS[self.preferences.system])))

    def action_language(self) -> None:
        """Change the language of all texts to the next one."""
        other = self.preferences.with_next_language()
        languages.install(other.language)  # before the screens are told of it: they show themselves anew at once
        self.preferences = other
        self.tell(_("language: {name}", name=languages.LANGUAGES[self.preferences.language]))

    def action_help(self) -> None:
        """Show the keys of the present screen."""
        self.push_screen(self.screen_for(ShowHelp(self.screen.HELP or "", tuple(keys.help_of(self.screen)))))

    def action_draw_again(self) -> None:
        """Draw the whole screen again."""
        self.refresh(layout=True)

    def action_command_palette(self) -> None:
        """Show the command palette, which asks in the person's language."""
        if self.use_command_palette and not isinstance(self.screen, CommandPalette):
            self.push_screen(CommandPalette(placeholder=_("Search for commands ..."), id="--command-palette"))

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        """The command palette: every named key of the present screen, and other colours."""
        for one in keys.commands_of(screen):
            if one.action != "command_palette":
                does = partial(self.call_later, screen.run_action, one.action)
                yield SystemCommand(one.description, one.tooltip, does)
        yield SystemCommand(_("Colours"), _("Other colours, until the app is left"), self.action_change_theme)

    def search_themes(self) -> None:
        """Show the themes, and ask in the person's language."""
        self.push_screen(CommandPalette(providers=[ThemeProvider], placeholder=_("Search for colours ...")))
