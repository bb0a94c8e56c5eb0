"""Commands run while strace looks on, and what was found by it.

The rules of this file: a call is known by its name and its number among the calls of that name, as strace counts them
when it makes one fail. Only calls about the folder of the register are of interest, those about files that have no
name yet among them.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path


@dataclass
class Result:
    """What was found: commands run with a failure, and the ways in which one must not end.

    Silent: said to be done, and is not. Denied: said not to be done, and is. Lost: what was there before. Damaged: the
    register. Left: files that are half, or that nobody asked for. Rude: not one line, or not the exit code for it.
    """

    run: int = 0
    begun: int = 0
    """Entries that were there before a command ran."""
    silent: list[str] = field(default_factory=list)
    denied: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    damaged: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    rude: list[str] = field(default_factory=list)
    rows: Counter[tuple[str, str, str, int]] = field(default_factory=Counter)
    """How many runs there were of a command, with a call, in a way, that ended with an exit code."""

    @property
    def bad(self) -> list[str]:
        """All that must not be."""
        return [*self.silent, *self.denied, *self.lost, *self.damaged, *self.left, *self.rude]

    def tell(self, name: str) -> None:
        """Print the figures, and all that must not be."""
        ways = ("silent", "denied", "lost", "damaged", "left", "rude")
        print(f"{name}: {self.run} runs; " + ", ".join(f"{len(getattr(self, way))} {way}" for way in ways))
        for (command, call, how, code), count in sorted(self.rows.items()):
            print(f"  {command:10} {call:20} {how:10} {count:4} ended with {code}")
        for line in self.bad:
            print(f"  BAD {line}")


def traced(
    log: Path, path: Path, words: Sequence[str], *ways: str
) -> tuple[subprocess.CompletedProcess[str], list[str]]:
    """Run a command under strace with these of its ways (`-e`): how it ended, and its calls, each with its number."""
    told = subprocess.run(
        ["strace", "-f", "-y", "-o", log, *(word for way in ways for word in ("-e", way)),
         sys.executable, "-m", "reelcare", "--register", str(path), *words],
        capture_output=True, text=True, env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "TZ": "UTC"}, check=False,
    )  # fmt: skip
    counts: Counter[str] = Counter()
    lines = []
    for line in log.read_text("utf-8", "replace").splitlines():
        process, _, rest = line.partition(" ")
        call = rest.lstrip().partition("(")[0]
        counts[f"{process} {call}"] += 1
        lines.append(f"{counts[f'{process} {call}']} {rest.lstrip()}")
    return told, lines


def touches(line: str, at: Path) -> bool:
    """Whether a call is about a file in this folder, or the folder; what is written is no file."""
    call, _, words = line.partition("(")
    about = words.partition(",")[0] if call.split()[-1] in ("write", "pwrite64") else words
    return any(f"{at}{end}" in about for end in '/>"')


def numbers(lines: Iterable[str], at: Path) -> dict[str, list[int]]:
    """Of each kind of call the numbers of those that touch this folder."""
    found: dict[str, list[int]] = {}
    for line in lines:
        if touches(line, at):
            number, call = line.partition("(")[0].split()
            found.setdefault(call, []).append(int(number))
    return found


def spread(several: Sequence[int], most: int) -> list[int]:
    """So many of these at most, evenly, the last one among them, and the first where there is more than one.

    >>> spread([3, 5, 7, 9], 3), spread([3, 5], 1), spread([], 2)
    ([3, 5, 9], [5], [])
    """
    few = min(most, len(several))
    return [several[one * (len(several) - 1) // (few - 1)] for one in range(few)] if few > 1 else [*several[-1:]]
