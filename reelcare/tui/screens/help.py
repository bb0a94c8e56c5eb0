"""The keys of a screen, told from the bindings that are active on it, and what the screen says of itself."""

from __future__ import annotations

import textwrap
from itertools import groupby
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from reelcare.core.text import _, mark
from reelcare.tui.keys import KeyHelp, bind
from reelcare.tui.leaving import Dialog, DialogBox, DialogFoot
from reelcare.tui.requests import ShowHelp
from reelcare.tui.text import join, lines, plain, said

WIDTH, FRAME, KEYS = 66, 10, 11
"""Cells of the dialog, of its borders and paddings, and of the column of keys."""


class Help(Dialog[None]):
    """Lists every key that works on the screen below, with what it does; the screen's `HELP` stands before them."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("help.back", "escape,question_mark,q", mark("Back"), mark("Closes the help"), action="leave"),
    ]

    def __init__(self, request: ShowHelp) -> None:
        super().__init__()
        self._request = request

    def compose(self) -> ComposeResult:
        """What the screen is for, then one line for each key."""
        with DialogBox():
            yield Static(said(_("Keys")), classes="dialog--title")
            with Vertical(classes="dialog--text"):
                if self._request.about:
                    yield Static(said(" ".join(_(self._request.about).split())), classes="note")
                for group, found in groupby(self._request.keys, key=lambda line: line.group):
                    yield Static(lines(said(_(group), "bold"), *(self._line(line) for line in found)))
            with DialogFoot():
                yield Static(
                    said(_("Shift and drag selects text. The machine's own manual and local codes come first.")),
                    classes="dialog--foot",
                )

    def _line(self, line: KeyHelp) -> Content:
        does = line.does if line.works else _("{does} (not now)", does=line.does)
        room = max(min(WIDTH, self.app.size.width * 96 // 100) - FRAME - KEYS - 2, 16)
        first, *more = textwrap.wrap(plain(does), room) or [""]
        keys = ", ".join(line.keys)
        return lines(
            join((f"{keys:>{KEYS}}", "bold $text-primary"), "  ", first), *(" " * (KEYS + 2) + one for one in more)
        )
