"""A program in a pseudo-terminal, and every byte that it writes there."""

import fcntl
import os
import pty
import struct
import subprocess
import sys
import termios
from collections.abc import Sequence


def run(
    words: Sequence[str], *, keys: Sequence[tuple[bytes, bytes]] = (), size: tuple[int, int] = (24, 80), **more: str
) -> tuple[bytes, int]:
    """What `python WORDS` wrote, and its exit code; `keys` are pressed one after the other, each once a text has come.

    `more` are variables of its environment. Standard error is the terminal as well.
    """
    main, other = pty.openpty()
    fcntl.ioctl(other, termios.TIOCSWINSZ, struct.pack("HHHH", *size, 0, 0))
    environment = {**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor", "PYTHONPATH": os.getcwd(), **more}
    left, seen, since = list(keys), b"", 0
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
            if left and left[0][0] in seen[since:]:
                since = len(seen)
                os.write(main, left.pop(0)[1])
        code = process.wait()
    os.close(main)
    assert not left, (left, seen[-2000:])
    return seen, code
