"""The framework's driver for a terminal behind a thin line: what the terminal shows already is not sent again.

The rules of this file: it is loaded by name, where `--slow` was asked for, and by nothing else. What it sends has the
effect of what the framework wanted to send; where the two could come apart, nothing counts as known any more.
"""

from __future__ import annotations

import sys
from threading import RLock
from typing import Any

from textual import events
from textual.drivers.linux_driver import LinuxDriver
from textual.message import Message

from reelcare.tui.thin.screen import Screen


class ThinDriver(LinuxDriver):
    """A terminal that is sent as little as possible."""

    def __init__(self, app: Any, **more: Any) -> None:
        super().__init__(app, **more)
        self._lock = RLock()  # the thread of the keys writes too
        self._at_work = self._resized = self._doubted = False
        self._screen = Screen(0, 0)

    def start_application_mode(self) -> None:
        """Begin, or go on after having been away: whatever the terminal showed, it may show something else by now."""
        with self._lock:
            self._screen = Screen(*self._get_terminal_size(), erases_in_colour=erases_in_colour())
        super().start_application_mode()  # type: ignore[no-untyped-call]

    def write(self, data: str) -> None:
        """Send what is needed of a text."""
        with self._lock:
            if self._at_work:  # a signal came while a text was being made, and its handler writes
                self._resized = True
                super().write(data)
                return
            self._at_work = True
            try:
                text = self._thinned(data)
            finally:
                self._at_work = False
            if text:
                super().write(text)

    def _thinned(self, data: str) -> str:
        size = self._app.size
        if self._resized or size != self._screen.size:
            self._resized = False
            self._screen.resize(*size)
        if self._doubted:
            self._doubted = False
            self._screen.doubt()
        return self._screen.thin(data)

    def send_all_again(self) -> None:
        """Send every cell, whether the terminal should show it or not: the line may have lost something."""
        self._doubted = True
        self.write("")

    def process_message(self, message: Message) -> None:
        """Take what came in; where it tells of another size, nothing is known of the terminal."""
        if isinstance(message, events.Resize) and message.size != self._screen.size:
            self._resized = True
        super().process_message(message)

    def _get_terminal_size(self) -> tuple[int, int]:
        # asked for at the start, and when the system tells that the size has changed
        self._resized = True
        return super()._get_terminal_size()


def erases_in_colour() -> bool:
    """Whether the terminal fills what it erases with the ground, as the system's table of terminals says of it."""
    try:
        import curses

        curses.setupterm(fd=sys.__stdout__.fileno() if sys.__stdout__ else -1)
        return curses.tigetflag("bce") > 0
    except (ImportError, curses.error):
        return False
