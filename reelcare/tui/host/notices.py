"""What the message line of every screen tells, and when that goes away."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import Any

from textual import events
from textual.app import App
from textual.notifications import SeverityLevel
from textual.reactive import var
from textual.screen import Screen
from textual.worker import WorkerFailed

from reelcare.core.clean import clean
from reelcare.core.text import _
from reelcare.register.errors import RegisterError
from reelcare.tui.base import BaseScreen
from reelcare.tui.keys import MOVES
from reelcare.tui.widgets.message_line import Notice


class NoticeApp(App[str]):
    """An app that tells in a line of the screen what was done, what was not, and what is asked."""

    notice: var[Notice | None] = var(None)
    """What the message line of every screen tells."""
    _told_on: Screen[Any] | None = None
    """Where somebody has worked on since it was told that something was not done."""
    _stale: Notice | None = None
    """What was told of a register that could not be read anew."""

    @property
    def is_telling(self) -> bool:
        """Whether something is told in the message line."""
        return self.notice is not None

    def tell(self, text: str, *, bad: bool = False, asks: bool = False) -> None:
        """Tell something in the message line: done, not done (`bad`), or asked; text is never parsed as markup."""
        self._told_on = None
        self.notice = Notice("wrong" if bad else "asks" if asks else "done", clean(text))

    def clear_notice(self) -> None:
        """Take away what is told."""
        self.notice = None

    def tell_stale(self, why: RegisterError, since: str) -> None:
        """Tell that what is shown is of before, and why; what was not done stays told."""
        if self.notice is None or self.notice.kind != "wrong" or self.notice == self._stale:
            says = _("What is shown is of {when} and cannot be read anew: {why}", when=since, why=why)
            self._told_on = None
            self._stale = self.notice = Notice("wrong", clean(says))

    def tell_fresh(self) -> None:
        """Tell no more that what is shown is of before."""
        if self._stale is not None and self.notice == self._stale:
            self.notice = None
        self._stale = None

    @contextlib.contextmanager
    def errors_told(self) -> Iterator[None]:
        """Tell what the register says that cannot be asked in this block: the app goes on, and what was typed stays."""
        try:
            yield
        except RegisterError as why:
            self.tell(str(why), bad=True)

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
        with self.errors_told():
            await super().on_event(event)

    def _handle_exception(self, error: Exception) -> None:
        """End the app, as the framework does, but for a register that could not be asked in a worker or later on."""
        why = error.error if isinstance(error, WorkerFailed) else error
        if isinstance(why, RegisterError):
            self.tell(str(why), bad=True)
        else:
            super()._handle_exception(error)

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
