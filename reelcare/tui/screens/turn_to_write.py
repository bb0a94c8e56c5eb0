"""Waiting for the turn to write, while the screen goes on showing.

The rules of this file: what writes is done at once where nobody else writes; else a dialog says that it waits, keys go
nowhere meanwhile, and it is done as soon as it is this program's turn. Who holds the register for too long is told.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from functools import partial
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import Static

from reelcare.core.text import _, mark
from reelcare.register.errors import RegisterError
from reelcare.register.writing.writer import Writer
from reelcare.tui.base import Host
from reelcare.tui.keys import bind
from reelcare.tui.leaving import Dialog, DialogBox
from reelcare.tui.text import said

LOOK = 0.05
"""Seconds between two looks at whether it is this program's turn."""
AT_ONCE = 0.03
"""Seconds of waiting that nobody sees: another writer is mostly done by then."""
MOST = 60.0
"""Seconds after which nothing is saved, and that is told."""

Turn = contextlib.AbstractContextManager[None]


class WaitForTurn(Dialog["Turn | None"]):
    """Another program writes; this one waits, and shows that it does."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind(
            "turn.give_up", "escape", mark("Do not wait"), mark("Saves nothing; what you typed stays"), action="leave"
        ),
    ]

    def __init__(self, register: Writer) -> None:
        super().__init__()
        self._register, self._since = register, time.monotonic()

    def compose(self) -> ComposeResult:
        """What is waited for."""
        with DialogBox():
            yield Static(said(_("Waiting for another program")), classes="dialog--title")
            yield Static(said(_("Another program is writing to this register. This goes on by itself.")))
            yield Static("", id="waited")
            yield Static(said(_("Esc stops waiting; nothing is saved, what you typed stays")), classes="dialog--foot")

    def on_mount(self) -> None:
        """Look again and again."""
        self.set_interval(LOOK, self._look)

    def _look(self) -> None:
        if not self.is_current:
            return
        waited = time.monotonic() - self._since
        self.query_one("#waited", Static).update(said(_("{waited} s", waited=int(waited))))
        turn = _turn(self._register)
        if turn is not None or waited > MOST:
            self.dismiss(turn)


def in_turn(host: Host, push: Callable[..., object], act: Callable[[], object]) -> None:
    """Do something that writes: at once, or when it is this program's turn; `push` shows a dialog."""
    until = time.monotonic() + AT_ONCE
    while (turn := _turn(host.register)) is None and time.monotonic() < until:
        time.sleep(LOOK / 10)
    if turn is not None:
        with turn:
            act()
    else:
        push(WaitForTurn(host.register), partial(_done_waiting, host, act))


def _done_waiting(host: Host, act: Callable[[], object], turn: Turn | None) -> None:
    if turn is None:
        host.tell(_("Not saved: another program is writing to this register. Try again."), bad=True)
    else:
        with turn:
            act()


def _turn(register: Writer) -> Turn | None:
    """The turn to write; where the register says what is wrong, the write itself will say it."""
    try:
        return register.db.try_turn()
    except RegisterError:
        return contextlib.nullcontext()
