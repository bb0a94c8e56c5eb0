"""A program in a pseudo-terminal, and every byte that it writes there."""

import codecs
import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Sequence
from typing import Protocol

PATIENCE = 60
"""Seconds after a key, after which a text that has not come will not come any more."""

Key = bytes | tuple[int, int] | signal.Signals
"""What is done to a program: keys, another size in lines and columns, or a signal."""


class Shows(Protocol):
    """A screen that is fed with what a program writes."""

    def feed(self, text: str) -> None:
        """Take a text."""

    def shows(self, text: str) -> bool:
        """Whether a text stands on it."""

    def text(self) -> str:
        """What stands on it, line by line."""


class Session:
    """A program while it runs: what it has written, and the keys that are left to press."""

    def __init__(
        self,
        main: int,
        process: subprocess.Popen[bytes],
        keys: Sequence[tuple[bytes, Key]],
        screen: Shows | None,
        patience: float,
    ) -> None:
        self._main, self._process, self._screen, self._patience = main, process, screen, patience
        self.left, self.seen, self._since = list(keys), b"", 0
        self._decode = codecs.getincrementaldecoder("utf-8")("replace").decode
        self._until = time.monotonic() + patience

    def go_on(self) -> bool:
        """Take what is written, and press the next key once its text has come; whether the program still runs."""
        left = self._until - time.monotonic()
        if left <= 0 or not select.select([self._main], [], [], left)[0]:
            raise AssertionError(f"{self.left[:1] or 'the end'} did not come; there is:\n{self.shown()}")
        try:
            piece = os.read(self._main, 65536)
        except OSError:  # the other end is closed: the program has ended
            return False
        self.seen += piece
        if self._screen is not None:
            self._screen.feed(self._decode(piece))
        if self.left and self._has_come(self.left[0][0]):
            self._since, self._until = len(self.seen), time.monotonic() + self._patience
            self._press(self.left.pop(0)[1])
        return bool(piece)

    def shown(self) -> str:
        """What stands on the screen, or else the end of what was written."""
        return self._screen.text() if self._screen is not None else repr(self.seen[-2000:])

    def _has_come(self, text: bytes) -> bool:
        if self._screen is not None:
            return self._screen.shows(text.decode())
        return text in self.seen[self._since :]

    def _press(self, key: Key) -> None:
        if isinstance(key, bytes):
            os.write(self._main, key)
        elif isinstance(key, signal.Signals):
            if key == signal.SIGCONT:  # only what has stopped goes on
                os.waitid(os.P_PID, self._process.pid, os.WSTOPPED | os.WNOWAIT)
            self._process.send_signal(key)
        else:
            _size(self._main, key)
            self._process.send_signal(signal.SIGWINCH)


def run(
    words: Sequence[str],
    *,
    keys: Sequence[tuple[bytes, Key]] = (),
    size: tuple[int, int] = (24, 80),
    screen: Shows | None = None,
    patience: float = PATIENCE,
    **more: str,
) -> tuple[bytes, int]:
    """What `python WORDS` wrote, and its exit code; `keys` are pressed one after the other, each once a text has come.

    With `screen`, a text has come when it stands there; without, when it was written since the last key. `more` are
    variables of its environment. Standard error is the terminal as well. Where a text does not come, or the end,
    within `patience` seconds from the last key, the program is ended and the test fails with what was on the screen.
    """
    main, other = pty.openpty()
    _size(other, size)
    environment = {**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor", "PYTHONPATH": os.getcwd(), **more}
    try:
        with subprocess.Popen(
            [sys.executable, *words], stdin=other, stdout=other, stderr=other, env=environment, start_new_session=True
        ) as process:
            os.close(other)
            session = Session(main, process, keys, screen, patience)
            try:
                while session.go_on():
                    pass
            except BaseException:
                process.kill()
                raise
            code = process.wait()
    finally:
        os.close(main)
    assert not session.left, f"it ended before {session.left[0]}:\n{session.shown()}"
    return session.seen, code


def _size(terminal: int, size: tuple[int, int]) -> None:
    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", *size, 0, 0))
