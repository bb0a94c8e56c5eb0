"""Leaving a screen: once, however many keys of a burst are still on their way to it; and the dialogs that are left
with an answer.
"""

from __future__ import annotations

from pathlib import Path

from textual.actions import SkipAction
from textual.await_complete import AwaitComplete
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen, Screen, ScreenResultType


class LeftOnce(Screen[ScreenResultType]):
    """A screen that is left once: what is dismissed a second time would take the one below with it."""

    def dismiss(self, result: ScreenResultType | None = None) -> AwaitComplete:
        """Leave it with an answer, where it is still the one on top."""
        return super().dismiss(result) if self.is_active else AwaitComplete()


class Dialog(LeftOnce[ScreenResultType], ModalScreen[ScreenResultType]):
    """A box in the middle of the screen that was there; it only gives back its answer."""

    CSS_PATH = Path(__file__).with_name("dialog.tcss")  # absolute: dialogs stand in several folders
    BY_LETTER = False
    """Whether one letter answers it: never one that is held down since before it opened."""

    def __init__(self) -> None:
        super().__init__(classes="dialog")

    def action_leave(self) -> None:
        """No answer."""
        self.dismiss(None)


class DialogFoot(Vertical):
    """The lowest lines of a box, with its answers: in sight however long the rest is."""


class DialogBox(VerticalScroll):
    """What a dialog says: as high as that needs, or as there is room; then arrows and PgDn bring the rest."""

    def action_page_up(self) -> None:
        """One page up; at the top the key is the dialog's own."""
        self._turn(-1, can=self.scroll_y > 0)

    def action_page_down(self) -> None:
        """One page down; at the end the key is the dialog's own."""
        self._turn(1, can=not self.is_vertical_scroll_end)

    def _turn(self, pages: int, *, can: bool) -> None:
        if not can:
            raise SkipAction
        self.go_on(pages)

    def go_on(self, pages: int) -> None:
        """Scroll by pages of what is seen above the foot, less a line."""
        foot = sum(one.outer_size.height for one in self.query(DialogFoot))
        page = max(self.scrollable_content_region.height - foot - 1, 1)
        self.scroll_relative(y=pages * page, animate=False)
