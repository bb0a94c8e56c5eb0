"""Short questions over a screen: one of several, yes or no, a few words. Each only gives back its answer."""

from __future__ import annotations

import string
from typing import ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Input, Static

from reelcare.core.text import _, mark
from reelcare.tui.keys import bind
from reelcare.tui.leaving import Dialog
from reelcare.tui.requests import AskChoice, AskText, AskYesNo
from reelcare.tui.text import keyed, lines, said
from reelcare.tui.widgets.inputs.fields import PastingInput

LETTERS = string.ascii_lowercase + string.digits


class Choose(Dialog[int | None]):
    """One of several by one key: a letter each, or a click."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("dialog.back", "escape", mark("Back"), mark("Closes this without an answer"), action="leave"),
    ]

    def __init__(self, request: AskChoice) -> None:
        super().__init__()
        self._title = request.title
        self._choices = request.choices

    def compose(self) -> ComposeResult:
        """The choices, each with its letter."""
        with Vertical():
            yield Static(said(_(self._title)), classes="dialog--title")
            with VerticalScroll():
                for number, choice in enumerate(self._choices):
                    yield Static(keyed(LETTERS[number], choice), classes="dialog--choice", id=f"choice-{number}")
            yield Static(said(_("a letter chooses, Esc goes back")), classes="dialog--foot")

    def on_key(self, event: events.Key) -> None:
        """A letter chooses."""
        if event.character and event.character.lower() in LETTERS[: len(self._choices)]:
            event.stop()
            self.dismiss(LETTERS.index(event.character.lower()))

    @on(events.Click, ".dialog--choice")
    def _clicked(self, event: events.Click) -> None:
        widget = event.widget
        if widget is not None and widget.id:
            self.dismiss(int(widget.id.removeprefix("choice-")))


class Confirm(Dialog[bool]):
    """Yes or no, where yes has consequences."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("confirm.yes", "y", mark("Yes"), mark("Yes, do it"), action="answer(True)"),
        bind("confirm.no", "n,escape", mark("No"), mark("No, go back"), action="answer(False)"),
    ]

    def __init__(self, request: AskYesNo) -> None:
        super().__init__()
        self._request = request

    def compose(self) -> ComposeResult:
        """What it is about, and the two answers."""
        with Vertical():
            yield Static(said(_(self._request.title)), classes="dialog--title")
            yield Static(lines(*map(_, self._request.says)))
            yield Static(keyed("y", _(self._request.yes)), id="yes", classes="dialog--choice")
            yield Static(keyed("n", _(self._request.no)), id="no", classes="dialog--choice")

    @on(events.Click, ".dialog--choice")
    def _clicked(self, event: events.Click) -> None:
        self.dismiss(event.widget is not None and event.widget.id == "yes")

    def action_answer(self, yes: bool) -> None:
        """The answer."""
        self.dismiss(yes)


class Ask(Dialog[str | None]):
    """A few words."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("ask.back", "escape", mark("Back"), mark("Closes this without an answer"), action="leave"),
    ]

    def __init__(self, request: AskText) -> None:
        super().__init__()
        self._request = request

    def compose(self) -> ComposeResult:
        """The question and a line to write on."""
        with Vertical():
            yield Static(said(_(self._request.title)), classes="dialog--title")
            if self._request.says:
                yield Static(said(self._request.says))
            yield PastingInput(self._request.value, max_length=2000)
            yield Static("", classes="dialog--error")
            yield Static(said(_("Enter keeps it, Esc goes back")), classes="dialog--foot")

    @on(Input.Submitted)
    def _given(self, event: Input.Submitted) -> None:
        if self._request.needed and len(event.value.strip()) < 3:
            self.query_one(".dialog--error", Static).update(said(_("Say it in a few words.")))
        else:
            self.dismiss(event.value.strip())
