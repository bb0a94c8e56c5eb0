"""Which presses of a key answer a question: none right after it appeared, and none of a key that is held down.

The rules of this file: it knows seconds and names of keys, no screen. A click is a key of its own.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import ClassVar

from reelcare.core.text import mark

TOO_SOON = mark("Not recorded: the question had only just appeared. Press the key again.")
HELD_DOWN = mark("Not recorded: the key was held down or pressed twice. Let go, then press it once.")


class Debounce:
    """Tells the presses that mean an answer from those that a hand in a glove, or a held key, gives besides.

    >>> moment = [0.0]
    >>> keys = Debounce(lambda: moment[0])
    >>> keys.appeared(); moment[0] = 0.3; keys.refuses("1") == TOO_SOON
    True
    >>> moment[0] = 0.5; keys.refuses("2")
    ''
    """

    AFTER: ClassVar[float] = 0.4
    """Seconds after a question appeared in which nothing answers it."""
    REPEAT: ClassVar[float] = 0.75
    """Seconds that the same key must have been let go; terminals repeat a held key after half a second, and then
    thirty times a second (common practice, no source)."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._appeared = clock() - self.AFTER
        self._last: tuple[str, float] | None = None

    def appeared(self) -> None:
        """A question has appeared."""
        self._appeared = self._clock()

    def refuses(self, key: str) -> str:
        """Why a press is not taken, in words; '' where it is."""
        now, last = self._clock(), self._last
        self._last = (key, now)
        if last is not None and last[0] == key and now - last[1] < self.REPEAT:
            return HELD_DOWN
        return TOO_SOON if now - self._appeared < self.AFTER else ""
