"""Going back to a copy, as an act of the register: nothing is lost on the way, and an entry says who did it and why.

The register, its log and its heads are set aside under one name; the copy takes their place under a new terminal name,
with all entries that the set-aside file still has and the copy lacks. Killed in between, the old register is there, or
the new one is; where the old one stands without its log, its heads tell. `server_restoration` has the way on a server.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

from reelcare import files
from reelcare.core.text import _
from reelcare.register import opening
from reelcare.register.database.opening import on_a_server, real_file
from reelcare.register.database.sqlite import Sqlite
from reelcare.register.errors import Busy, CannotWrite, Damaged, NotThere, Refused, RegisterError, into_a_file
from reelcare.register.exchange import copies, restored_content
from reelcare.register.exchange.restored_content import Act, OldRegister, Restoration
from reelcare.register.integrity import witness
from reelcare.register.progress import Progress, no_progress


def restore(
    where: Path | str,
    copy: Path | str,
    *,
    by: str,
    why: str,
    now: datetime,
    ask_pin: Callable[[str], str] | None = None,
    progress: Progress = no_progress,
) -> Restoration:
    """Go back to a copy: a file, or a register on a server that one was copied into. `by` is a supervisor of the copy,
    and of the register as far as it can be read.

    Raises NotThere for what is no copy, Damaged for one that does not prove whole, NotAllowed, Refused without a
    reason, Busy while another program has the register open; then everything is as it was.
    """
    act = Act(by, why, now, ask_pin, progress, copy)
    if on_a_server(where):
        from reelcare.register.exchange import server_restoration  # only who has a register on a server waits for it

        return server_restoration.restore(str(where), copy, act)
    return _in_a_file(real_file(Path(where)), copy, act)


def _in_a_file(where: Path, copy: Path | str, act: Act) -> Restoration:
    if isinstance(copy, Path) and where.exists() and copy.exists() and where.samefile(copy):
        raise Refused(_("{copy}: this is the register itself; name a copy of it", copy=copy))
    with contextlib.ExitStack() as held:
        with restored_content.of_the_copy(copy), opening.open_reader(copy) as source:
            held.enter_context(into_a_file(where))
            building = held.enter_context(files.being_made(where))
            copies.lay_down(source, building)
        witnessed = witness.kept(where) or ()
        old = held.enter_context(_set_down(where, act)).with_heads(witnessed)
        with restored_content.of_the_copy(copy):
            brought_back = _made(building, old, act)
        aside = _swap(where, building, act.now)
    with opening.open_reader(where) as reader:
        return restored_content.done(reader, aside, brought_back, old)


@contextlib.contextmanager
def _set_down(where: Path, act: Act) -> Iterator[OldRegister]:
    """What the register still has, in one file and in nobody else's hands as long as this lasts.

    What is damaged is read from a file made of it, and stays byte for byte as it is.
    """
    if not where.exists():
        yield OldRegister()
        return
    try:
        old = opening.open_writer(where, create=False)
    except (Damaged, NotThere):
        yield _salvaged(where)
        return
    with old:
        try:
            act.must_be_allowed(old)
            if isinstance(old.db, Sqlite) and not old.db.keep_in_one_file():
                raise Busy(_("{where}: another program has it open; close it there and try again", where=where))
            found = restored_content.read(old)
        except Damaged:
            found = None
        if found is not None:
            with old.db.writing():
                yield found
            return
    yield _salvaged(where)


def _salvaged(where: Path) -> OldRegister:
    """What can be read of a damaged register, or of one beside another file's log, from a file made of it alone."""
    try:
        with files.being_made(where.with_name(f"{where.name}.salvage")) as trial:
            shutil.copyfile(where, trial)
            with opening.open_reader(trial) as reader, reader.db.lenient_text():
                return restored_content.read(reader)
    except (OSError, RegisterError):
        return OldRegister()


def _made(building: Path, old: OldRegister, act: Act) -> int:
    """Make the copy into the register that is to be: how many entries came back."""
    with opening.open_writer(building, create=False) as made:
        made.take_another_name()
        brought_back = restored_content.complete(made, old, act)
        if isinstance(made.db, Sqlite) and not made.db.keep_in_one_file():
            raise CannotWrite(_("{parent}: cannot be written (the disk failed)", parent=building.parent))
        return brought_back


def _swap(where: Path, building: Path, now: datetime) -> Path | None:
    """Set the register aside and give its name to the file that was made."""
    if not where.exists():
        with into_a_file(where):
            files.settle(building, where)
        return None
    ends = ("", *files.LOGS, ".heads")
    before = f"{where.stem}-before-{now.astimezone(UTC):%Y%m%dT%H%M%SZ}"

    def named(more: str) -> Path:
        return where.with_name(f"{before}{more}{where.suffix}")

    aside = named(files.free_ending(lambda more: any(os.path.lexists(f"{named(more)}{end}") for end in ends)))
    names = [(where.with_name(where.name + end), aside.with_name(aside.name + end)) for end in ends]
    with into_a_file(aside), _taken_back([(one, other) for one, other in names if one.exists()]) as given:
        # every name is given twice before one is taken away
        for one, other in given:
            _give_second_name(one, other)
        for end in files.LOGS:
            where.with_name(where.name + end).unlink(missing_ok=True)
        files.settle(building, where, replace=True)
    return aside


@contextlib.contextmanager
def _taken_back(names: list[tuple[Path, Path]]) -> Iterator[list[tuple[Path, Path]]]:
    """Where the disk refuses half-way, the second names are taken away again, and nothing has lost its first."""
    try:
        yield names
    except OSError:
        for one, other in names:
            with contextlib.suppress(OSError):
                other.unlink() if one.exists() else other.rename(one)
        raise


def _give_second_name(path: Path, name: Path) -> None:
    try:
        os.link(path, name)
    except FileExistsError:
        raise
    except OSError:
        shutil.copy2(path, name)  # a file system without links
