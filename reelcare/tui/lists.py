"""Screens with a list, which follows what others write; and lists over all machines, which are read at once in a small
yard, and beside the screen with progress in a large one.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from typing import ClassVar, TypeVar

from textual.worker import Worker, get_current_worker

from reelcare.core.text import _, mark
from reelcare.register.errors import RegisterError
from reelcare.register.opening import open_beside, write_beside
from reelcare.register.progress import Progress, no_progress
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer
from reelcare.tui import yard_reading
from reelcare.tui.base import BaseScreen
from reelcare.tui.widgets.rows import Rows

Gathered = TypeVar("Gathered")
Opened = TypeVar("Opened", bound=Reader)
Shown = TypeVar("Shown")
_GROUP = "gathering"


class ListScreen(BaseScreen):
    """A screen with one list, and perhaps something beside it that follows its cursor.

    A list that is read inside of `follow` shows what another program writes within seconds, and another day.
    """

    OF_A_ROW: ClassVar[frozenset[str]] = frozenset()
    """The actions that do something with a row of the list: an empty one does not offer their keys."""
    _filled_on: tuple[object, date] | None = None
    """The register's change token (None: the rows go by the day alone) and the day that the rows are of; None where the
    list follows neither."""

    def on_mount(self) -> None:
        """Fill the list before the first paint."""
        self.fill()
        rows = self.query_one(Rows)
        rows.cursor = self.first_row()
        # as it changes, and not by a message: what follows the cursor is painted in the same frame
        self.watch(rows, "cursor", self._follow_cursor, init=False)
        rows.focus()

    def _follow_cursor(self) -> None:
        with self.host.errors_told():
            self.detail()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """An empty list offers no key that needs a row."""
        if action in self.OF_A_ROW and not any(rows.count for rows in self.query(Rows)):
            return False
        return super().check_action(action, parameters)

    def under_cursor(self, shown: Sequence[Shown]) -> Shown | None:
        """What the list shows in the row under the cursor; None where there is none."""
        place = self.query_one(Rows).cursor
        return shown[place] if place < len(shown) else None

    def first_row(self) -> int:
        """The row on which the cursor begins."""
        return 0

    def come_back(self) -> None:
        """Show what was done on another screen, or at another terminal meanwhile."""
        self.fill_in_place()

    @contextlib.contextmanager
    def follow(self, *, others: bool = True) -> Iterator[None]:
        """Keep of when the rows are that are read in this block; what `others` write changes them, or another day
        alone. Where they cannot be read, what is shown stays of before, and is read again."""
        token, day = self.register.change_token() if others else None, self.today
        yield
        self._shows, self._filled_on = token, (token, day)

    def show_again(self) -> None:
        """Another day, or another program, can change every row; the cursor stays on its own."""
        token, day = self._filled_on or (None, self.today)
        if day == self.today and token in (None, self.register.change_token()):
            super().show_again()
            return
        self.fill_in_place()

    def fill_in_place(self) -> None:
        """Read the list anew, with the cursor on its own row, so that no key does something with another."""
        rows = self.query_one(Rows)
        here = self.row_id(rows.cursor) if rows.count else None
        self.fill()
        rows.cursor = next((place for place in range(rows.count) if self.is_row(place, here)), rows.cursor)

    def is_row(self, place: int, here: object) -> bool:
        """Whether the row of a place is the one that was known by this."""
        return self.row_id(place) == here

    def row_id(self, place: int) -> object:
        """What the row of a place is known by when the list is read anew."""
        return place

    def fill(self) -> None:
        """Read what the list shows."""
        raise NotImplementedError

    def detail(self) -> None:
        """Show what belongs to the row under the cursor, where the screen has a place for that."""


class GatheringScreen(ListScreen):
    """A list over all machines."""

    GATHERS = mark("gathering: {done} of {of} machines   Esc stops it")

    def gather(self, work: Callable[[Reader, Progress], Gathered], show: Callable[[Gathered], None]) -> None:
        """Read from all machines, and show what was found. In a large yard that is done beside the screen, which says
        how far it is; leaving the screen, or asking for something else, stops it.
        """
        if not yard_reading.is_large(self.register):
            show(work(self.register, no_progress))
            return
        rows = self.query_one(Rows)
        rows.tell_reading(reading=True)

        def all_is_read(found: Gathered) -> None:
            rows.tell_reading(reading=False)
            show(found)

        self._beside(work, all_is_read, open_beside)

    @contextlib.contextmanager
    def follow(self, *, others: bool = True) -> Iterator[None]:
        """Keep of when the rows are; a large yard is gathered again for another day, not for what others write."""
        with super().follow(others=others and not yard_reading.is_large(self.register)):
            yield

    def work_in_background(
        self,
        work: Callable[[Writer, Progress], Gathered],
        show: Callable[[Gathered], None],
        *,
        large: bool,
        failed: Callable[[str], None],
        stopped: Callable[[Gathered | None], None],
    ) -> None:
        """Do something with the register, at once or, where it is `large`, beside the screen on a connection of its
        own; `failed` is told why it could not be, `stopped` that it came to nothing, or to what it came before it could
        be stopped."""
        if not large:
            try:
                found = work(self.register, no_progress)
            except (RegisterError, ValueError) as why:
                failed(str(why))
                return
            show(found)
            return
        self._beside(work, show, write_beside, failed=failed, stopped=stopped)

    def _beside(
        self,
        work: Callable[[Opened, Progress], Gathered],
        show: Callable[[Gathered], None],
        open_own: Callable[[Writer], contextlib.AbstractContextManager[Opened]],
        *,
        failed: Callable[[str], None] | None = None,
        stopped: Callable[[Gathered | None], None] | None = None,
    ) -> None:
        register = self.register

        def beside() -> None:
            worker = get_current_worker()
            try:
                with open_own(register) as own:
                    found = work(own, self._progress_of(worker))
            except _Stopped:
                self._tell_stopped(stopped, None)
            except (RegisterError, ValueError) as why:
                if failed is None:
                    raise
                self.app.call_from_thread(failed, str(why))
            else:
                if worker.is_cancelled:
                    self._tell_stopped(stopped, found)
                    return
                self.app.call_from_thread(self.host.clear_notice)
                self.app.call_from_thread(show, found)

        self.run_worker(beside, thread=True, exclusive=True, group=_GROUP)

    def _progress_of(self, worker: Worker[None]) -> Progress:
        """What tells of progress until the work is stopped, and stops it then."""

        def tell(done: int, of: int) -> None:
            if not worker.is_cancelled:  # it was not stopped while this waited for its turn
                self.host.tell(_(self.GATHERS, done=done, of=of), asks=True)

        def progress(done: int, of: int) -> None:
            if worker.is_cancelled:
                raise _Stopped
            if done % 20 == 0:
                self.app.call_from_thread(tell, done, of)

        return progress

    def _tell_stopped(self, stopped: Callable[[Gathered | None], None] | None, found: Gathered | None) -> None:
        if stopped is not None and self.is_attached:
            self.app.call_from_thread(stopped, found)

    def stop_gathering(self) -> None:
        """Stop what is being read."""
        self.workers.cancel_group(self, _GROUP)
        for rows in self.query(Rows):
            rows.tell_reading(reading=False)


class _Stopped(Exception):
    """Nobody waits for the answer any more."""
