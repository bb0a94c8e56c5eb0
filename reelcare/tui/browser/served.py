"""The app as it runs behind the page in a browser: one process for each socket, which ends with it.

The rules of this file: it is loaded by name, in the process of the app (`server.py` says which), and knows nothing of
the server. Whoever serves it holds the other end of its input; when that end is gone, nobody looks any more.
"""

from __future__ import annotations

import asyncio
import contextlib
from functools import partial
from typing import Any

from textual import messages
from textual.drivers.web_driver import WebDriver


class Served(WebDriver):
    """The framework's driver for a browser, which leaves when its server has gone, even without a word."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self._of_app = asyncio.get_running_loop()
        # every packet goes through it; a reader that has gone is no error of the app
        self._write = partial(_write_if_anybody_reads, self._write)

    def run_input_thread(self) -> None:
        """Wait for input; its end is the end of the app."""
        super().run_input_thread()
        if not self._of_app.is_closed():  # else the app has left already
            self.send_message(messages.ExitApp())


def _write_if_anybody_reads(write: Any, data: bytes) -> int:
    with contextlib.suppress(BrokenPipeError):
        return int(write(data))
    return len(data)
