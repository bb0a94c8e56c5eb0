"""The app within the process of a test, and two terminals: one is sent all of it, one what is left for a thin line."""

from typing import Any

from textual.drivers.headless_driver import HeadlessDriver

from reelcare.tui.thin.screen import Screen
from tests.tui.thin.emulator import Emulator

BEGIN = "\x1b[?1049h\x1b[?25l\x1b[?7l"


class Shown(HeadlessDriver):
    """A driver that shows every text on both, and keeps the first after which they are not the same."""

    def __init__(self, app: Any, **more: Any) -> None:
        super().__init__(app, **more)
        self.differs: tuple[str, str] | None = None
        self.texts = 0

    @property
    def is_headless(self) -> bool:
        """It is written to."""
        return False

    def start_application_mode(self) -> None:
        """Begin as on a terminal."""
        size = self._get_terminal_size()
        self.screen, self.whole, self.thin = Screen(*size, erases_in_colour=True), Emulator(*size), Emulator(*size)
        self.write(BEGIN)
        super().start_application_mode()

    def write(self, data: str) -> None:
        """Show a text on both."""
        if self._app.size != self.screen.size and self._app._size is not None:
            width, height = self._app.size
            self.screen.resize(width, height)
            for one in (self.whole, self.thin):
                one.screen.resize(height, width)
        thinned = self.screen.thin(data)
        self.whole.feed(data)
        self.thin.feed(thinned)
        self.texts += 1
        if self.differs is None and self.whole.seen() != self.thin.seen():
            self.differs = data, thinned

    def send_all_again(self) -> None:
        """As the driver for thin lines does."""
        self.screen.doubt()
        self.write("")

    def lose(self) -> None:
        """Both terminals show something else from now on; that of the thin line draws in another way, too."""
        for one, pen in ((self.whole, "\x1b[m"), (self.thin, "")):
            one.feed("\x1b[2;2H\x1b[7;41m" + "lost " * 200 + pen)
