"""What the keys do that work on every screen: who is there, units, language, help, the palette, drawing again."""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Iterable
from contextlib import suppress
from functools import partial
from typing import Any, cast

from textual import events, on, work
from textual.app import SystemCommand
from textual.command import CommandPalette
from textual.reactive import var
from textual.screen import Screen
from textual.theme import ThemeProvider

from reelcare import languages
from reelcare.core.text import _
from reelcare.tui import keys
from reelcare.tui.base import BaseScreen, Host
from reelcare.tui.host import sign_in
from reelcare.tui.host.notices import NoticeApp
from reelcare.tui.leaving import Dialog
from reelcare.tui.preferences import UNITS, Preferences
from reelcare.tui.requests import ShowHelp
from reelcare.tui.screens.checks.debounce import HELD_DOWN, Debounce
from reelcare.tui.widgets.inputs.fields import PastingInput


class KeyedApp(NoticeApp):
    """An app with the keys of `keys.EVERYWHERE`; `quit` is the framework's."""

    preferences: var[Preferences] = var(Preferences, init=False)
    """How the person at the terminal wants it."""

    def __init__(self) -> None:
        super().__init__()
        self._presses = Debounce()

    def on_mount(self) -> None:
        """Leave as by `q` where the program is told to end, as the computer shuts down: the terminal is given back."""
        with suppress(NotImplementedError, RuntimeError):  # not on Windows, and only in the main thread
            asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, self.exit)

    async def on_event(self, event: events.Event) -> None:
        """Hand a key on, but for one that is held down while a dialog opens that a letter answers: it would answer
        unseen what it has opened."""
        # a key that nobody took comes by once more, forwarded
        if isinstance(event, events.Key) and not event.is_forwarded:
            is_held, top = self._presses.refuses(event.key) == HELD_DOWN, self.screen if self.screen_stack else None
            if is_held and event.is_printable and isinstance(top, Dialog) and top.BY_LETTER:
                self.tell(_(HELD_DOWN), bad=True)
                return
        await super().on_event(event)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """No single letter leaves a form, or changes who signs it: what was typed there would be lost."""
        if action in ("quit", "person", "units", "language") and self.screen_stack:
            return not (isinstance(self.screen, BaseScreen) and self.screen.holds_typing)
        return super().check_action(action, parameters)

    @work
    async def action_person(self) -> None:
        """Choose who is at the terminal."""
        host = cast(Host, self)
        if not sign_in.is_view_only(host):
            await sign_in.choose_person(host)

    def action_units(self) -> None:
        """Change between metric and US customary units."""
        self.preferences = self.preferences.with_other_units()
        self.tell(_("units: {system}", system=_(UNITS[self.preferences.system])))

    def action_language(self) -> None:
        """Change the language of all texts to the next one."""
        other = self.preferences.with_next_language()
        languages.install(other.language)  # before the screens are told of it: they show themselves again at once
        self.preferences = other
        self.tell(_("language: {name}", name=languages.LANGUAGES[self.preferences.language]))

    @on(PastingInput.TooLong)
    def _say_too_long(self, event: PastingInput.TooLong) -> None:
        n, room = event.characters, event.room
        self.tell(
            _("Nothing was pasted: it has {n} characters, and there is room for {room}.", n=n, room=room), bad=True
        )

    def action_help(self) -> None:
        """Show the keys of the present screen."""
        request = ShowHelp(self.screen.HELP or "", tuple(keys.help_of(self.screen)))
        self.push_screen(cast(Host, self).screen_for(request))

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
        yield SystemCommand(_("Colours"), _("Other colours, until you leave the app"), self.action_change_theme)

    def search_themes(self) -> None:
        """Show the themes, and ask in the person's language."""
        self.push_screen(CommandPalette(providers=[ThemeProvider], placeholder=_("Search for colours ...")))
