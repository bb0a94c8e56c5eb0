"""How soon the app is ready for keys, how soon a key is answered, and what it holds, beside bare Textual programs.

Run it with `python tests/bench_start.py [--times N]` on Linux, in an environment without psycopg. It builds the demo
estate and a yard of 1,000 machines in a folder of its own, starts the programs in turn in a pseudo-terminal of
120 x 40, and prints medians and their ratios. Nothing is asserted: what may be reached stands in DEVELOPERS.md, under
Budgets.
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
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests import programs, scale

HELLO = """
from textual.app import App
from textual.widgets import Static
class Hello(App):
    def compose(self):
        yield Static("hello, world")
Hello().run()
"""
LIST = """
from textual.app import App
from textual.widgets import OptionList
class Listed(App):
    def compose(self):
        yield OptionList(*[f"row {number}" for number in range(1000)])
Listed().run()
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

    def memory(self) -> float:
        """What it holds in memory [MiB]."""
        pages = int(Path(f"/proc/{self.pid}/statm").read_text("ascii").split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") / (1 << 20)

    def end(self) -> None:
        """Stop the program."""
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        os.close(self.screen)


@dataclass
class Program:
    """A program with a list, and what was measured of it."""

    name: str
    command: Sequence[str]
    shows: bytes
    """What it writes once it is ready."""
    wishes: Sequence[bytes] = ()
    """Keys that open what is stepped through by page up."""
    ready: list[float] = field(default_factory=list)
    rows: list[float] = field(default_factory=list)
    pages: list[float] = field(default_factory=list)
    steps: list[float] = field(default_factory=list)
    memory: list[float] = field(default_factory=list)

    def measure(self) -> None:
        """Start it, press keys, and end it."""
        here = Terminal([*self.command])
        self.ready.append(here.until(self.shows))
        self.rows += [here.press(DOWN) for _ in range(4)]
        for _ in range(3):
            here.press(PAGE_UP)
            self.pages.append(here.press(PAGE_DOWN))
        self.memory.append(here.memory())
        for key in self.wishes:
            here.press(key)
        if self.wishes:
            self.steps += [here.press(PAGE_UP) for _ in range(4)]
        here.end()

    def tell(self, beside: Program | None = None) -> None:
        """Print the medians, and their ratios to those of another program."""
        print(f"{self.name}")
        for what in ("ready", "rows", "pages", "steps"):
            found, yardstick = getattr(self, what), getattr(beside, what, [])
            if found:
                took = statistics.median(found)
                ratio = f"{took / statistics.median(yardstick):6.2f} x" if yardstick else ""
                print(f"  {TOLD[what]:<30}{took * 1000:8.1f} ms{ratio}")
        more = f"  {statistics.median(self.memory) - statistics.median(beside.memory):+6.1f}" if beside else ""
        print(f"  {'memory':<30}{statistics.median(self.memory):8.1f} MiB{more}")


TOLD = {
    "ready": "ready for keys", "rows": "one row down, to the last byte", "pages": "one page down",
    "steps": "one step of a value in set-up",
}  # fmt: skip


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--times", type=int, default=7)
    times = asked.parse_args().times
    programs.tell_of_extras()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        programs.compiled(folder)
        demo, large = folder / "demo.db", folder / "large.db"
        ours = [sys.executable, "-m", "reelcare"]
        subprocess.run([*ours, "demo", "--no-app", "--at", demo], check=True, stderr=subprocess.DEVNULL)
        scale.build(large, 1000, 1, 12, now=datetime.now(UTC))
        bare = Program("a bare Textual program with a list", [sys.executable, "-c", LIST], b"row 5")
        hello = Program("a bare Textual program", [sys.executable, "-c", HELLO], b"hello, world")
        yards = [
            Program("12 machines", [*ours, "--register", str(demo)], b"Walk-round", WISHES),
            Program("1,000 machines", [*ours, "--register", str(large)], b"Walk-round"),
        ]
        for one in (hello, bare, *yards):  # once, so that what they load is compiled and was read from the disk
            started = Terminal([*one.command])
            started.until(one.shows)
            started.end()
        for _ in range(times):
            started = Terminal([*hello.command])
            hello.ready.append(started.until(hello.shows))
            started.until_quiet()
            hello.memory.append(started.memory())
            started.end()
            for one in (bare, *yards):
                one.measure()
    hello.tell()
    hello.rows, hello.pages = bare.rows, bare.pages
    for one in (bare, *yards):
        one.tell(hello)


if __name__ == "__main__":
    main()
