"""What the message line of every screen tells, and when that goes away."""

from __future__ import annotations

from typing import Any

from textual import events
from textual.app import App
from textual.notifications import SeverityLevel
from textual.reactive import var
from textual.screen import Screen

from reelcare.core.clean import clean
from reelcare.tui.base import BaseScreen
from reelcare.tui.keys import MOVES
from reelcare.tui.widgets.message_line import Notice


class NoticeApp(App[str]):
    """An app that tells in a line of the screen what was done, what was not, and what is asked."""

    notice: var[Notice | None] = var(None)
    """What the message line of every screen tells."""
    _told_on: Screen[Any] | None = None
    """Where somebody has worked on since it was told that something was not done."""

    def tell(self, text: str, *, bad: bool = False, asks: bool = False) -> None:
        """Tell something in the message line: done, not done (`bad`), or asked; text is never parsed as markup."""
        self._told_on = None
        self.notice = Notice("wrong" if bad else "asks" if asks else "done", clean(text))

    def clear_notice(self) -> None:
        """Take away what is told."""
        self.notice = None

    def notify(
        self,
        message: str,
        *,
        title: str = "",
        severity: SeverityLevel = "information",
        timeout: float | None = None,
        markup: bool = True,
    ) -> None:
        """Tell in the message line what the framework would show in a corner."""
        self.tell(message, bad=severity == "error", asks=severity == "warning")

    async def on_event(self, event: events.Event) -> None:
        """A key that does something takes away what was told; one that only moves the cursor leaves it."""
        if isinstance(event, events.Key) and not event.is_forwarded and event.key not in MOVES:
            self._forget_notice()
        await super().on_event(event)

    def _forget_notice(self) -> None:
        """Take away what was done or asked; what was not done stays until another screen is worked on."""
        if self.notice is None or not isinstance(self.screen, BaseScreen):
            return
        if self.notice.kind != "wrong":
            self.notice = None
        elif self._told_on is None:
            self._told_on = self.screen
        elif self._told_on is not self.screen:
            self.notice = None
