"""Who is at the terminal, and their PIN: two dialogs that only give back their answer.

The rules of this file: choosing who one is takes one key here (and one to open it). A PIN is held in an object
that never shows it, and is gone from the dialog when it closes; whether it is right is not judged here.
"""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import Input, Static

from reelcare.core.text import _, mark
from reelcare.tui.keys import bind
from reelcare.tui.leaving import Dialog, DialogBox, DialogFoot
from reelcare.tui.requests import AskPerson, AskPin, Secret
from reelcare.tui.text import join, said
from reelcare.tui.widgets.inputs.choice_list import ChoiceList, KeyChoice
from reelcare.tui.widgets.inputs.fields import LineInput

PAGE = 14
"""People on one page: as many as are in sight in a window of 24 lines, with a letter each."""


class ChoosePerson(Dialog[str | None]):
    """Who it is: a letter for each person, page by page where there are more than have room.

    `people` are the names with their roles, in the order of the letters; the answer is a name, or None.
    """

    BY_LETTER = True
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("people.back", "escape", mark("Back"), mark("Closes this without an answer"), action="leave"),
        bind("people.more", "pagedown,right", mark("More"), mark("Next people"), action="page(1)"),
        bind("people.before", "pageup,left", mark("Before"), mark("Previous people"), action="page(-1)", show=False),
    ]

    def __init__(self, request: AskPerson) -> None:
        super().__init__()
        self.add_class("people")
        self._title = request.title
        self._people = dict(request.people)
        self._now = request.current
        self._page = 0

    @property
    def _pages(self) -> int:
        return max(1, -(-len(self._people) // PAGE))

    def _choices(self) -> list[KeyChoice]:
        names = list(self._people)[self._page * PAGE : (self._page + 1) * PAGE]
        return [KeyChoice(name, f"{name}, {_(self._people[name])}" if self._people[name] else name) for name in names]

    def compose(self) -> ComposeResult:
        """The people, each with a letter."""
        with DialogBox(can_focus=False):
            yield Static(said(_(self._title)), classes="dialog--title")
            yield ChoiceList(self._choices(), given=self._now, mark=_("now"))
            with DialogFoot():
                yield Static(self._foot(), classes="dialog--foot")

    def _foot(self) -> str:
        told = _("a letter chooses, Esc goes back")
        more = _("page {page} of {pages}, PgDn for more", page=self._page + 1, pages=self._pages)
        return f"{told}   {more}" if self._pages > 1 else told

    def on_mount(self) -> None:
        """The letters are the keys from the start; the title stays in sight."""
        self.query_one(ChoiceList).focus(scroll_visible=False)

    @on(ChoiceList.Given)
    def _given(self, event: ChoiceList.Given) -> None:
        event.stop()
        self.dismiss(event.id)

    async def action_page(self, by: int) -> None:
        """Other people."""
        page = (self._page + by) % self._pages
        if page != self._page:
            self._page = page
            await self.query_one(ChoiceList).ask(self._choices(), given=self._now)
            self.query_one(".dialog--foot", Static).update(self._foot())
            self.query_one(DialogBox).scroll_home(animate=False)


class PinDialog(Dialog[Secret | None]):
    """A person's PIN, or None. It is opened again with the reason where the one before was refused."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("sign.no", "escape", mark("Not now"), mark("Closes this without a signature"), action="leave"),
    ]

    def __init__(self, request: AskPin) -> None:
        super().__init__()
        self.add_class("people")
        self._request = request

    def compose(self) -> ComposeResult:
        """What is signed, by whom, and the line for the PIN."""
        with DialogBox(can_focus=False):
            yield Static(said(_(self._request.title)), classes="dialog--title")
            who = f", {_(self._request.role)}" if self._request.role else ""
            yield Static(join(_("signs") + "  ", (self._request.person, "bold"), who), classes="dialog--says")
            with DialogFoot():
                yield Static(id="wrong")
                yield LineInput(password=True, placeholder="PIN", max_length=32)
                yield Static(_("Enter signs, Esc goes back"), classes="dialog--foot")

    def on_mount(self) -> None:
        """Tell what was wrong before, and wait for the PIN."""
        self._refuse(self._request.wrong)
        self.query_one(Input).focus()

    def _refuse(self, why: str) -> None:
        """Tell why a PIN is not taken; '' for nothing."""
        wrong = self.query_one("#wrong", Static)
        wrong.update(said(f"✗ {why}", "$text-error"))  # not *wrong*: one that came too soon was not even tried
        wrong.display = bool(why)

    @on(Input.Submitted)
    def _submitted(self, event: Input.Submitted) -> None:
        event.stop()
        if not event.value:
            self._refuse(_("no PIN was given"))
            return
        pin = Secret(event.value)
        event.input.clear()
        self.dismiss(pin)
