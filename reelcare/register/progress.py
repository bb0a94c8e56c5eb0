"""How far long work is: told by who works to who waits, and stopped by what the telling raises."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[int, int], None]
"""Told how many of how many are done; what it raises stops the work."""


def quietly(done: int, of: int) -> None:
    """Progress that nobody looks at."""
