"""Short questions over a screen: one of several, yes or no, a few words. Each only gives back its answer."""

from __future__ import annotations

import string
from typing import ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import Input, Static

from reelcare.core.text import _, mark
from reelcare.tui.keys import bind
from reelcare.tui.leaving import Dialog, DialogBox, DialogFoot
from reelcare.tui.requests import AskChoice, AskText, AskYesNo
from reelcare.tui.text import keyed, lines, said
from reelcare.tui.widgets.inputs.fields import PastingInput

LETTERS = string.ascii_lowercase + string.digits


class Choose(Dialog[int | None]):
    """One of several by one key: a letter each, or a click."""

    BY_LETTER = True
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("dialog.back", "escape", mark("Back"), mark("Closes this without an answer"), action="leave"),
    ]

    def __init__(self, request: AskChoice) -> None:
        super().__init__()
        self._title = request.title
        self._choices = request.choices

    def compose(self) -> ComposeResult:
        """The choices, each with its letter."""
        with DialogBox():
            yield Static(said(_(self._title)), classes="dialog--title")
            for number, choice in enumerate(self._choices):
                yield Static(keyed(LETTERS[number], choice), classes="dialog--choice", id=f"choice-{number}")
            with DialogFoot():
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

    BY_LETTER = True
    _seen = False
    """Whether the end of what is said was in sight."""
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("confirm.yes", "y", mark("Yes"), mark("Yes, do it"), action="answer(True)"),
        bind("confirm.no", "n,escape", mark("No"), mark("No, go back"), action="answer(False)"),
    ]

    def __init__(self, request: AskYesNo) -> None:
        super().__init__()
        self._request = request

    def compose(self) -> ComposeResult:
        """What it is about, and the two answers."""
        with DialogBox():
            yield Static(said(_(self._request.title)), classes="dialog--title")
            yield Static(lines(*map(_, self._request.says)))
            with DialogFoot():
                yield Static(keyed("y", _(self._request.yes)), id="yes", classes="dialog--choice")
                yield Static(keyed("n", _(self._request.no)), id="no", classes="dialog--choice")

    @on(events.Click, ".dialog--choice")
    def _clicked(self, event: events.Click) -> None:
        self.action_answer(event.widget is not None and event.widget.id == "yes")

    def on_mount(self) -> None:
        """What has room was seen; a window made smaller later takes nothing back."""
        self.call_after_refresh(self._look)
        self.watch(self.query_one(DialogBox), "scroll_y", self._look, init=False)

    def _look(self) -> None:
        box = self.query_one(DialogBox)
        self._seen = self._seen or box.is_vertical_scroll_end

    def action_answer(self, yes: bool) -> None:
        """The answer; while more is below, *yes* goes on to that first: it answers all that stands here."""
        if yes and not self._seen:
            self.query_one(DialogBox).go_on(1)
        else:
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
        with DialogBox(can_focus=False):
            yield Static(said(_(self._request.title)), classes="dialog--title")
            if self._request.says:
                yield Static(said(self._request.says))
            with DialogFoot():
                yield PastingInput(self._request.value, max_length=2000)
                yield Static("", classes="dialog--error")
                yield Static(said(_("Enter keeps it, Esc goes back")), classes="dialog--foot")

    @on(Input.Submitted)
    def _given(self, event: Input.Submitted) -> None:
        if self._request.needed and len(event.value.strip()) < 3:
            self.query_one(".dialog--error", Static).update(said(_("Say it in a few words.")))
        else:
            self.dismiss(event.value.strip())
