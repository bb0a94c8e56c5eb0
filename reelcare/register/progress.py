"""Progress of long work: the worker reports it through a callback, and an exception from the callback stops the
work."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TypeVar

Item = TypeVar("Item")
Progress = Callable[[int, int], None]
"""Called with how many of how many items are done; an exception from it stops the work."""


def no_progress(done: int, of: int) -> None:
    """Report progress to nobody."""


def with_progress(items: Iterable[Item], of: int, progress: Progress, each: int = 1) -> Iterator[Item]:
    """Yield the items; report progress before every `each`-th one, and at the end that all are done."""
    for number, one in enumerate(items):
        if number % each == 0:
            progress(number, of)
        yield one
    progress(of, of)
