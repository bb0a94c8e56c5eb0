"""What screens are made of: the line on top, the way to another screen, and what they may know of the app.

The rules of this file: a screen knows its host by the protocol alone; it never imports the app or another screen.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Protocol, TypeVar, cast

from textual.screen import Screen
from textual.widgets import Static

from reelcare.core import units
from reelcare.register.errors import RegisterError
from reelcare.register.writing.writer import Writer
from reelcare.tui.preferences import Preferences
from reelcare.tui.requests import Answer, Opens
from reelcare.tui.text import join
from reelcare.tui.widgets.rows import Rows

Written = TypeVar("Written")


class Host(Protocol):
    """What a screen may ask of the app."""

    register: Writer
    preferences: Preferences
    person: str

    @property
    def role(self) -> str:
        """The role of who is at the terminal."""

    def now(self) -> datetime:
        """The present moment."""

    def tell(self, text: str, *, bad: bool = False) -> None:
        """Show a toast; text is never parsed as markup."""

    def write(self, what: Callable[[], Written]) -> Written | None:
        """Do something that writes; None where it could not be, which is told."""

    def screen_for(self, request: Opens[Answer]) -> Screen[Answer]:
        """Make the screen that a request asks for."""

    async def ask(self, request: Opens[Answer]) -> Answer | None:
        """Open a dialog and wait for its answer; only in a worker."""

    async def may_write(self, kind: str = "") -> bool:
        """Whether somebody is there who may write this kind of entry ('': any); asks who it is. Only in a worker."""


class BaseScreen(Screen[None]):
    """A screen with one line on top that says where one is and who is there."""

    WHERE = ""

    @property
    def host(self) -> Host:
        """The app, as far as a screen knows it."""
        return cast(Host, self.app)

    @property
    def register(self) -> Writer:
        """The register that the app is open on."""
        return self.host.register

    @property
    def preferences(self) -> Preferences:
        """Units and language."""
        return self.host.preferences

    @property
    def holds_typing(self) -> bool:
        """Whether something is written here that no single letter may leave behind."""
        return False

    def now(self) -> datetime:
        """The present moment."""
        return self.host.now()

    def on_mount(self) -> None:
        """Follow who is there, and how they want it."""
        self.watch(self.app, "person", self.refresh_head, init=False)
        self.watch(self.app, "preferences", self._fill_again, init=False)

    def _fill_again(self) -> None:
        if self.is_current:
            self.fill()

    def fill(self) -> None:
        """Show everything as it is now, in the person's units and language."""

    # the line on top

    def head(self) -> Static:
        """The line on top."""
        return Static(classes="head", id="head")

    def where(self) -> str:
        """What the line on top says of this screen."""
        return self.WHERE

    def refresh_head(self) -> None:
        """Write the line on top anew."""
        who = f"{self._who()}, {self.host.role}" if self.host.person else "nobody yet (p)"
        who = "to look only" if self.register.read_only else who
        room = self.app.size.width - len("Reelcare  ") - len(who) - 4
        where = self.where()
        where = where if len(where) <= room else where[: max(room - 1, 0)] + "…"
        gap = " " * max(room - len(where) + 1, 1)
        self.query_one("#head", Static).update(join(("Reelcare  ", "bold $primary"), where, gap, who))

    def _who(self) -> str:
        """Who is there; a long name leaves the greater part of the line to where one is."""
        name, most = self.host.person, max(self.app.size.width // 3 - len(self.host.role) - 2, 6)
        return name if len(name) <= most else name[: most - 1] + "…"

    def on_resize(self) -> None:
        """The line on top is as wide as the screen."""
        self.refresh_head()

    # the person's units, the register's zone

    def length(self, millimetres: int) -> str:
        """A length kept in mm, in the person's units."""
        return units.show(millimetres / 1000, "length", self.preferences.system)

    def local(self, moment: datetime) -> datetime:
        """A moment in the register's zone."""
        return moment.astimezone(self.register.zone)

    # other screens

    def open(self, request: Opens[None]) -> None:
        """Open a screen; where what it shows cannot be read, tell why and stay here."""
        try:
            screen = self.host.screen_for(request)
        except (RegisterError, ValueError) as why:
            self.host.tell(str(why), bad=True)
            return
        self.app.push_screen(screen)

    async def ask(self, request: Opens[Answer]) -> Answer | None:
        """Open a dialog and wait for its answer; only in a worker."""
        return await self.host.ask(request)

    def action_leave(self) -> None:
        """Back to where one came from."""
        self.dismiss()


class ListScreen(BaseScreen):
    """A screen with one list, and perhaps something beside it that follows its cursor."""

    _was_shown = False

    def on_mount(self) -> None:
        """Fill the list before the first paint."""
        self.fill()
        rows = self.query_one(Rows)
        rows.cursor = self.first_row()
        self.detail()
        # as it changes, and not by a message: what follows the cursor is painted in the same frame
        self.watch(rows, "cursor", self.detail, init=False)
        rows.focus()

    def first_row(self) -> int:
        """The row on which the cursor begins."""
        return 0

    def on_screen_resume(self) -> None:
        """Show what was done elsewhere; what the first paint shows is not read twice."""
        if self._was_shown:
            self.fill()
        self._was_shown = True

    def fill(self) -> None:
        """Read what the list shows."""
        raise NotImplementedError

    def detail(self) -> None:
        """Show what belongs to the row under the cursor, where the screen has a place for that."""
