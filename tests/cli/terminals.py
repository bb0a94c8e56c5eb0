"""Programs run in a pseudo-terminal of a given width, as a person has them before their eyes."""

import json
import os
import pty
import struct
import subprocess
import sys
import termios
from collections.abc import Sequence
from contextlib import suppress
from fcntl import ioctl
from pathlib import Path

ROOT = Path(__file__).parents[2]
NEXT = "\x1e"
"""Stands between what one command says and what the next says."""
ONE_AFTER_THE_OTHER = f"""
import json, sys
from reelcare.cli import main
for words in json.loads(sys.argv[1]):
    code = main(words)
    sys.stderr.flush()
    print({NEXT!r}, end="", flush=True)
    if code not in (0, 1):
        sys.exit(code)
"""


def in_a_terminal(commands: Sequence[Sequence[str]], columns: int, more: dict[str, str]) -> list[str]:
    """What each command writes, data and the words about it, in a pseudo-terminal of so many columns."""
    main, side = pty.openpty()
    ioctl(side, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    said = b""
    with subprocess.Popen(_program(commands), stdout=side, stderr=side, env=_outside(more)) as run:
        os.close(side)
        with suppress(OSError):  # as Linux tells the end
            while more_of_it := os.read(main, 65536):
                said += more_of_it
        os.close(main)
    told = said.decode("utf-8").replace("\r\n", "\n")
    assert run.returncode == 0, told
    return told.split(NEXT)[:-1]


def in_a_pipe(commands: Sequence[Sequence[str]], more: dict[str, str]) -> list[str]:
    """What each command writes, data and the words about it, where another program reads."""
    run = subprocess.run(
        _program(commands), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=_outside(more), check=True
    )
    return run.stdout.decode("utf-8").split(NEXT)[:-1]


def _program(commands: Sequence[Sequence[str]]) -> list[str]:
    return [sys.executable, "-c", ONE_AFTER_THE_OTHER, json.dumps([list(words) for words in commands])]


def _outside(more: dict[str, str]) -> dict[str, str]:
    outside = {**os.environ, "PYTHONPATH": str(ROOT), **more}
    outside.pop("COLUMNS", None)
    return outside
