"""The framework's driver for a terminal behind a thin line: what the terminal shows already is not sent again.

The rules of this file: it is loaded by name, where `--slow` was asked for, and by nothing else. What it sends has the
effect of what the framework wanted to send; where the two could come apart, nothing counts as known any more.
"""

from __future__ import annotations

from threading import Lock
from typing import Any

from textual import events
from textual.drivers.linux_driver import LinuxDriver
from textual.message import Message

from reelcare.tui.thin.screen import Screen


class ThinDriver(LinuxDriver):
    """A terminal that is sent as little as possible."""

    def __init__(self, app: Any, **more: Any) -> None:
        super().__init__(app, **more)
        self._at_work = Lock()
        self._resized = self._doubted = False
        self._told_size = (0, 0)
        self._screen = Screen(0, 0)

    def start_application_mode(self) -> None:
        """Begin, or go on after having been away: whatever the terminal showed, it may show something else by now."""
        self._screen = Screen(*self._get_terminal_size(), erases_in_colour=erases_in_colour())
        super().start_application_mode()  # type: ignore[no-untyped-call]

    def write(self, data: str) -> None:
        """Send what is needed of a text.

        A text that comes while another is at work, from the thread of the keys or from the handler of a signal, does
        not wait: the two could wait for each other. It goes out whole, and nothing counts as known after it.
        """
        if not self._at_work.acquire(blocking=False):
            self._resized = True
            self._screen.note_modes(data)
            super().write(data)
            return
        try:
            text = self._thinned(data)
            if text:
                super().write(text)
        except Exception:
            self._screen = Screen(0, 0)  # it passes on all that follows, so that the terminal is left as it was
            raise
        finally:
            self._at_work.release()

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
        """Send all modes and every cell, whether the terminal should have them or not: the line may have lost some."""
        self._doubted = True
        self.write("")

    def process_message(self, message: Message) -> None:
        """Take what came in; where it tells of another size, nothing is known of the terminal."""
        if isinstance(message, events.Resize) and message.size != self._told_size:
            self._told_size, self._resized = message.size, True
        super().process_message(message)

    def _get_terminal_size(self) -> tuple[int, int]:
        # asked for at the start, and when the system tells that the size has changed
        self._told_size, self._resized = super()._get_terminal_size(), True
        return self._told_size


def erases_in_colour() -> bool:
    """Whether the terminal fills what it erases with the ground, as the system's table of terminals says of it."""
    try:
        import curses
    except ImportError:
        return False
    try:
        curses.setupterm(fd=1)  # without a number it asks sys.stdout, and the framework has put its own there
    except curses.error:
        return False
    return curses.tigetflag("bce") > 0
