"""What was read from a register and is still true.

What belongs here: one cache and its one rule. Everything in it holds while the register's change token stays the same;
what this program writes itself, the writer puts in or clears. Nothing else in the register remembers what it read.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Hashable, Iterator
from typing import Any, TypeVar

Value = TypeVar("Value")


class Cache:
    """Values by key, all of one state of the register."""

    def __init__(self, token: Callable[[], object]) -> None:
        """`token` gives another value once another program has written."""
        self._token = token
        self._seen: object = None
        self._values: dict[Hashable, Any] = {}
        self._times_cleared = 0
        self._alone = False

    def get(self, key: Hashable, read: Callable[[], Value]) -> Value:
        """The value of a key; `read` where it is not known yet."""
        self._look()
        if key in self._values:
            known: Value = self._values[key]
            return known
        before = self._times_cleared
        value = read()
        if self._times_cleared == before:  # else another program wrote meanwhile, and it can be of before that
            self._values[key] = value
        return value

    def known(self, key: Hashable) -> Any:
        """The value of a key where it is known and still true, else None."""
        self._look()
        return self._values.get(key)

    def put(self, key: Hashable, value: object) -> None:
        """Replace the value of a key: this program has just written what it says."""
        self._values[key] = value

    def drop(self, key: Hashable) -> None:
        """Read the value of a key again: this program has just written something about it."""
        self._values.pop(key, None)

    def drop_all(self, name: str) -> None:
        """The same for all keys that begin with a name."""
        for key in [one for one in self._values if isinstance(one, tuple) and one[0] == name]:
            del self._values[key]

    def clear(self) -> None:
        """Read everything again when it is next asked for."""
        self._values.clear()
        self._times_cleared += 1

    @contextlib.contextmanager
    def alone(self) -> Iterator[None]:
        """Inside the block nobody else can write, so the token is asked only once."""
        self._look()
        before, self._alone = self._alone, True
        try:
            yield
        finally:
            self._alone = before

    def in_step(self, token: object) -> None:
        """Keep the values valid after this program's own commit, by the token of that commit: it has put in what it
        wrote. With the token of now, writes of other programs since the commit would go unseen."""
        self._seen = token

    def _look(self) -> None:
        if self._alone:
            return
        token = self._token()
        if token != self._seen:
            self.clear()
            self._seen = token
