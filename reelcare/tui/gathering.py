"""Lists over all machines: read at once in a small yard, and beside the screen with progress in a large one."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import TypeVar

from textual.worker import Worker, get_current_worker

from reelcare.core.text import _, mark
from reelcare.register.errors import RegisterError
from reelcare.register.opening import open_beside, write_beside
from reelcare.register.progress import Progress, no_progress
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer
from reelcare.tui import yard_reading
from reelcare.tui.base import ListScreen
from reelcare.tui.widgets.rows import Rows

Gathered = TypeVar("Gathered")
Opened = TypeVar("Opened", bound=Reader)
_GROUP = "gathering"


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

    def follow(self, *, others: bool = True) -> None:
        """Keep of when the rows are; a large yard is gathered again for another day, not for what others write."""
        super().follow(others=others and not yard_reading.is_large(self.register))

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
