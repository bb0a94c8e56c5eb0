"""Leaving a screen: once, however many keys of a burst are still on their way to it."""

from __future__ import annotations

from textual.await_complete import AwaitComplete
from textual.screen import Screen, ScreenResultType


class LeftOnce(Screen[ScreenResultType]):
    """A screen that is left once: what is dismissed a second time would take the one below with it."""

    def dismiss(self, result: ScreenResultType | None = None) -> AwaitComplete:
        """Leave it with an answer, where it is still the one on top."""
        return super().dismiss(result) if self.is_active else AwaitComplete()
