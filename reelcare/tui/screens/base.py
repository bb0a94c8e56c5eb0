"""What the screens share: the line on top, and the app as what it is."""

from __future__ import annotations

from datetime import datetime

from textual.screen import Screen
from textual.widgets import Static

from reelcare.core import units
from reelcare.register.register import Register
from reelcare.tui.app import Manner, Reelcare
from reelcare.tui.text import join
from reelcare.tui.widgets.rows import Rows


class Place(Screen[None]):
    """A screen of the app, with one line on top that says where one is and who is there."""

    WHERE = ""

    @property
    def reelcare(self) -> Reelcare:
        """The app."""
        assert isinstance(self.app, Reelcare)
        return self.app

    @property
    def register(self) -> Register:
        """The register that the app is open on."""
        return self.reelcare.register

    @property
    def manner(self) -> Manner:
        """Units and language."""
        return self.reelcare.manner

    def now(self) -> datetime:
        """The moment."""
        return self.reelcare.now()

    def head(self) -> Static:
        """The line on top."""
        return Static(classes="head", id="head")

    def where(self) -> str:
        """What the line on top says of this screen."""
        return self.WHERE

    def refresh_head(self) -> None:
        """Write the line on top anew."""
        who = f"{self.reelcare.person}, {self.reelcare.role}" if self.reelcare.person else "nobody yet (p)"
        who = "to look only" if self.register.looks_only else who
        room = self.app.size.width - len("Reelcare  ") - len(who) - 4
        where = self.where()
        where = where if len(where) <= room else where[: max(room - 1, 0)] + "…"
        gap = " " * max(room - len(where) + 1, 1)
        self.query_one("#head", Static).update(join(("Reelcare  ", "bold $primary"), where, gap, who))

    def on_resize(self) -> None:
        """The line on top is as wide as the screen."""
        self.refresh_head()

    def length(self, millimetres: int) -> str:
        """A length kept in mm, in the person's units."""
        return units.show(millimetres / 1000, "length", self.manner.system)

    def local(self, moment: datetime) -> datetime:
        """A moment in the register's zone."""
        return moment.astimezone(self.register.zone)

    def action_leave(self) -> None:
        """Back to where one came from."""
        self.app.pop_screen()


class Listing(Place):
    """A screen with one list, and something beside it that follows its cursor."""

    def on_mount(self) -> None:
        """Fill the list; what follows the cursor is drawn with it."""
        rows = self.query_one(Rows)
        rows.at_once = self.detail
        self.fill()
        rows.focus()

    def fill(self) -> None:
        """Read what the list shows."""
        raise NotImplementedError

    def detail(self) -> None:
        """Show what belongs to the row under the cursor."""
        raise NotImplementedError
