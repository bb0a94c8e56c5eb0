"""One entry of a book, whole."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core.text import _, mark
from reelcare.register.views.entry_details import details
from reelcare.tui.keys import bind
from reelcare.tui.leaving import Dialog, DialogBox, DialogFoot
from reelcare.tui.requests import ShowEntry
from reelcare.tui.text import lines, said


class EntryPage(Dialog[None]):
    """One entry as it stands in the register."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("entry.back", "escape,enter", mark("Back"), mark("Closes the entry"), action="leave"),
    ]

    def __init__(self, request: ShowEntry) -> None:
        super().__init__()
        self._line, self._zone, self._system = request.line, request.zone, request.system

    def _local(self, moment: datetime) -> str:
        return f"{moment.astimezone(self._zone):%Y-%m-%d %H:%M}"

    def _taken_back(self) -> list[str]:
        """Who took it back, when and why, where it counts no more."""
        gone = self._line.taken_back
        if gone is None or not isinstance(gone.what, e.Correction):
            return []
        return [
            _("TAKEN BACK by {by}, {local}: {why}", by=gone.by, local=self._local(gone.happened), why=gone.what.why)
        ]

    def compose(self) -> ComposeResult:
        """What it says, then its envelope, then what else was given with it."""
        one = self._line.entry
        told = [
            self._line.says(self._system),
            "",
            _("happened  {local}", local=self._local(one.happened)),
            _("recorded  {local} on terminal {terminal}", local=self._local(one.recorded), terminal=one.terminal),
            _("by        {by}", by=one.by),
            _("entry     {id}", id=one.id),
            *self._taken_back(),
            *([self._line.why_uncounted.upper()] if self._line.uncounted else []),
            "",
            *(f"{name}: {value}" for name, value in details(one.what, self._zone, self._system)),
        ]
        with DialogBox():
            yield Static(said(_(one.what.kind)), classes="dialog--title")
            yield Static(lines(*told))
            with DialogFoot():
                yield Static(said(_("Esc goes back")), classes="dialog--foot")
