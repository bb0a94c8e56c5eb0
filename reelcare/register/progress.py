"""How far long work is: told by who works to who waits, and stopped by what the telling raises."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TypeVar

Item = TypeVar("Item")
Progress = Callable[[int, int], None]
"""Told how many of how many are done; what it raises stops the work."""


def quietly(done: int, of: int) -> None:
    """Progress that nobody looks at."""


def telling(items: Iterable[Item], of: int, progress: Progress, each: int = 1) -> Iterator[Item]:
    """`items` one after the other: before every `each`-th it is told how many are done, and at last that all are."""
    for number, one in enumerate(items):
        if number % each == 0:
            progress(number, of)
        yield one
    progress(of, of)
