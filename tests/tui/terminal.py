"""A program in a pseudo-terminal, and every byte that it writes there."""

import codecs
import fcntl
import os
import pty
import signal
import struct
import subprocess
import sys
import termios
from collections.abc import Sequence
from typing import Protocol


class Shows(Protocol):
    """A screen that is fed with what a program writes."""

    def feed(self, text: str) -> None:
        """Take a text."""

    def shows(self, text: str) -> bool:
        """Whether a text stands on it."""


def run(
    words: Sequence[str],
    *,
    keys: Sequence[tuple[bytes, bytes | tuple[int, int]]] = (),
    size: tuple[int, int] = (24, 80),
    screen: Shows | None = None,
    **more: str,
) -> tuple[bytes, int]:
    """What `python WORDS` wrote, and its exit code; `keys` are pressed one after the other, each once a text has come.

    With `screen`, a text has come when it stands there; without, when it was written since the last key. In the place
    of keys, lines and columns give the terminal another size. `more` are variables of its environment. Standard error
    is the terminal as well.
    """
    main, other = pty.openpty()
    _size(other, size)
    environment = {**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor", "PYTHONPATH": os.getcwd(), **more}
    left, seen, since = list(keys), b"", 0
    decode = codecs.getincrementaldecoder("utf-8")("replace").decode
    with subprocess.Popen(
        [sys.executable, *words], stdin=other, stdout=other, stderr=other, env=environment, start_new_session=True
    ) as process:
        os.close(other)
        while True:
            try:
                piece = os.read(main, 65536)
            except OSError:  # the other end is closed: the program has ended
                break
            if not piece:
                break
            seen += piece
            if screen is not None:
                screen.feed(decode(piece))
            if left and (screen.shows(left[0][0].decode()) if screen is not None else left[0][0] in seen[since:]):
                since = len(seen)
                pressed = left.pop(0)[1]
                if isinstance(pressed, bytes):
                    os.write(main, pressed)
                else:
                    _size(main, pressed)
                    process.send_signal(signal.SIGWINCH)
        code = process.wait()
    os.close(main)
    assert not left, (left, seen[-2000:])
    return seen, code


def _size(terminal: int, size: tuple[int, int]) -> None:
    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", *size, 0, 0))
