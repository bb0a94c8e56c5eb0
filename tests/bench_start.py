"""How soon the app is ready for keys, and how soon a key is answered, beside a bare Textual program.

Run it with `python tests/bench_start.py [--times N]` on Linux or macOS. It builds the demo estate in a folder of
its own, starts both programs in turn in a pseudo-terminal of 120 x 40, and prints medians and their ratios. Nothing
is asserted: what may be reached stands in DEVELOPERS.md, under Budgets.
"""

from __future__ import annotations

import argparse
import fcntl
import os
import pty
import select
import signal
import statistics
import struct
import subprocess
import sys
import tempfile
import termios
import time
from pathlib import Path

HELLO = """
from textual.app import App
from textual.widgets import Static
class Hello(App):
    def compose(self):
        yield Static("hello, world")
Hello().run()
"""
DOWN, PAGE_UP, PAGE_DOWN = b"\x1b[B", b"\x1b[5~", b"\x1b[6~"
WISHES = [b"s", b"68", DOWN, b"300", DOWN, b"25", DOWN, DOWN, b"43", DOWN, DOWN, b"4.5"]
"""Opens the set-up of a machine and wishes for a set."""
QUIET = 0.15


class Terminal:
    """A program in a pseudo-terminal; the clock starts with it."""

    def __init__(self, command: list[str], size: tuple[int, int] = (40, 120)) -> None:
        self.began = time.perf_counter()
        self.pid, self.screen = pty.fork()
        if self.pid == 0:
            os.environ.update(TERM="xterm-256color", COLORTERM="truecolor")
            fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", *size, 0, 0))
            os.execvp(command[0], command)
        fcntl.ioctl(self.screen, termios.TIOCSWINSZ, struct.pack("HHHH", *size, 0, 0))

    def until(self, text: bytes, patience: float = 20) -> float:
        """Seconds from the start until a text has been written."""
        seen = b""
        while time.perf_counter() - self.began < patience:
            if select.select([self.screen], [], [], 0.5)[0]:
                seen += os.read(self.screen, 65536)
                if text in seen:
                    return time.perf_counter() - self.began
        raise SystemExit(f"{text!r} was not shown within {patience} s")

    def until_quiet(self) -> float:
        """The moment of the last byte before a pause."""
        last = time.perf_counter()
        while select.select([self.screen], [], [], QUIET)[0]:
            os.read(self.screen, 65536)
            last = time.perf_counter()
        return last

    def press(self, key: bytes) -> float:
        """Seconds from a key to the last byte that it caused."""
        self.until_quiet()
        pressed = time.perf_counter()
        os.write(self.screen, key)
        return self.until_quiet() - pressed

    def end(self) -> None:
        """Stop the program."""
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        os.close(self.screen)


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--times", type=int, default=7)
    times = asked.parse_args().times
    with tempfile.TemporaryDirectory() as folder:
        register = str(Path(folder) / "demo.db")
        ours = [sys.executable, "-m", "reelcare", "--register", register]
        subprocess.run([*ours[:3], "demo", "--no-app", "--at", register], check=True, stderr=subprocess.DEVNULL)
        hello, ready, keys, pages, steps = [], [], [], [], []
        for _ in range(times):
            bare = Terminal([sys.executable, "-c", HELLO])
            hello.append(bare.until(b"hello, world"))
            bare.end()
            reelcare = Terminal(ours)
            ready.append(reelcare.until(b"Walk-round"))
            keys += [reelcare.press(DOWN) for _ in range(4)]
            for _ in range(3):
                reelcare.press(PAGE_UP)
                pages.append(reelcare.press(PAGE_DOWN))
            for key in WISHES:
                reelcare.press(key)
            steps += [reelcare.press(PAGE_UP) for _ in range(4)]
            reelcare.end()
    yardstick, keyed = statistics.median(hello), statistics.median(ready)
    print(f"bare Textual, first paint     {yardstick * 1000:6.0f} ms")
    print(f"the yard, ready for keys      {keyed * 1000:6.0f} ms   {keyed / yardstick:.2f} x")
    print(f"one row down, to the last byte{statistics.median(keys) * 1000:6.1f} ms")
    print(f"one page down                 {statistics.median(pages) * 1000:6.1f} ms")
    print(f"one step of a value in set-up {statistics.median(steps) * 1000:6.1f} ms")


if __name__ == "__main__":
    main()
