"""Leaving a screen: once, however many keys of a burst are still on their way to it."""

from __future__ import annotations

from pathlib import Path

from textual.await_complete import AwaitComplete
from textual.screen import ModalScreen, Screen, ScreenResultType


class LeftOnce(Screen[ScreenResultType]):
    """A screen that is left once: what is dismissed a second time would take the one below with it."""

    def dismiss(self, result: ScreenResultType | None = None) -> AwaitComplete:
        """Leave it with an answer, where it is still the one on top."""
        return super().dismiss(result) if self.is_active else AwaitComplete()


class Dialog(LeftOnce[ScreenResultType], ModalScreen[ScreenResultType]):
    """A box in the middle of the screen that was there; it only gives back its answer."""

    CSS_PATH = Path(__file__).with_name("dialog.tcss")  # absolute: dialogs stand in several folders

    def __init__(self) -> None:
        super().__init__(classes="dialog")

    def action_leave(self) -> None:
        """No answer."""
        self.dismiss(None)
