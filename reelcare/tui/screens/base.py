"""What the screens share: the line on top, and the app as what it is."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TypeVar

from textual.screen import Screen
from textual.widgets import Static
from textual.worker import get_current_worker

from reelcare.core import units
from reelcare.register import yard as yards
from reelcare.register.progress import Progress, quietly
from reelcare.register.register import Register
from reelcare.register.upcoming import AT_ONCE
from reelcare.tui.app import Manner, Reelcare
from reelcare.tui.text import join
from reelcare.tui.widgets.rows import Rows

Gathered = TypeVar("Gathered")
GATHERING = "gathering"
"""The work that reads from all machines of a large yard."""


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
        who = f"{self._who()}, {self.reelcare.role}" if self.reelcare.person else "nobody yet (p)"
        who = "to look only" if self.register.looks_only else who
        room = self.app.size.width - len("Reelcare  ") - len(who) - 4
        where = self.where()
        where = where if len(where) <= room else where[: max(room - 1, 0)] + "…"
        gap = " " * max(room - len(where) + 1, 1)
        self.query_one("#head", Static).update(join(("Reelcare  ", "bold $primary"), where, gap, who))

    def _who(self) -> str:
        """Who is there; a long name leaves the greater part of the line to where one is."""
        name, most = self.reelcare.person, max(self.app.size.width // 3 - len(self.reelcare.role) - 2, 6)
        return name if len(name) <= most else name[: most - 1] + "…"

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

    def gather(self, work: Callable[[Register, Progress], Gathered], show: Callable[[Gathered], None]) -> None:
        """Read from all machines, and show what was found. In a large yard that is done beside the screen, which says
        how far it is; leaving the screen, or asking for something else, stops it.
        """
        if len(yards.order(self.register, self.now())) <= AT_ONCE:
            show(work(self.register, quietly))
            return
        register = self.register

        def beside() -> None:
            worker = get_current_worker()

            def progress(done: int, of: int) -> None:
                if worker.is_cancelled:
                    raise _Stopped
                if done % 20 == 0:
                    self.app.call_from_thread(self._tell_how_far, done, of)

            try:
                with register.beside() as own:
                    found = work(own, progress)
            except _Stopped:
                return
            if not worker.is_cancelled:
                self.app.call_from_thread(show, found)

        self.run_worker(beside, thread=True, exclusive=True, group=GATHERING)

    def _tell_how_far(self, done: int, of: int) -> None:
        self.query_one("#head", Static).update(
            join(("Reelcare  ", "bold $primary"), f"gathering: {done} of {of} machines (Esc stops it)")
        )


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


class _Stopped(Exception):
    """Nobody waits for the answer any more."""
