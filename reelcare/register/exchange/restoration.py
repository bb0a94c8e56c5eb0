"""Going back to a copy, as an act of the register: nothing is lost on the way, and an entry says who did it and why.

The register, its log and its heads are set aside under one name; the copy takes their place under a new terminal name,
with all entries that the set-aside file still has and the copy lacks. Killed in between, the old register is there, or
the new one is; where the old one stands without its log, its heads tell.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import shutil
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

from reelcare import files
from reelcare.core import entries as e
from reelcare.core.text import _
from reelcare.register import opening
from reelcare.register.database import models
from reelcare.register.database.models import EntryRow
from reelcare.register.database.opening import on_a_server
from reelcare.register.database.sqlite import Sqlite
from reelcare.register.errors import Busy, CannotWrite, NotThere, NotWhole, Refused, RegisterError, into_a_file
from reelcare.register.exchange import carry_files, carry_format, copies
from reelcare.register.exchange.carry_format import Bundle, Carried
from reelcare.register.integrity import witness
from reelcare.register.integrity.chain import Head
from reelcare.register.progress import Progress, quietly
from reelcare.register.reading import foreign
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer

PERSONAL: tuple[type[models.RegisterTable], ...] = (models.PinRow, models.PinTryRow)
"""What belongs to people here and is in no entry: it is taken over from the register that is set aside."""


@dataclass(frozen=True, slots=True)
class Restoration:
    """What going back did: where the old register lies (None: there was none), its entries that were brought back, and
    the heads of both."""

    aside: Path | None
    brought_back: int
    terminal: str
    before: tuple[Head, ...]
    after: tuple[Head, ...]
    gone: tuple[Head, ...]
    """Those of `before` that the register has not even now."""


@dataclass(frozen=True, slots=True)
class _Old:
    """What could be read of the register that is set aside; `heads` are the witnessed ones, where they are further."""

    heads: Mapping[str, Head] = field(default_factory=dict)
    entries: Sequence[Carried] = ()
    personal: tuple[tuple[type[models.RegisterTable], list[tuple[object, ...]]], ...] = ()
    brought: foreign.Ranges = field(default_factory=dict)
    """What of its entries was carried into it: that waits, or counts, as it did."""


def restore(
    where: Path | str,
    copy: Path,
    *,
    by: str,
    why: str,
    now: datetime,
    ask_pin: Callable[[str], str] | None = None,
    progress: Progress = quietly,
) -> Restoration:
    """Go back to a copy. `by` is a supervisor of the copy, and of the register as far as it can be read.

    Raises NotThere for what is no copy, NotWhole for one that does not prove whole, NotAllowed, Refused without a
    reason, Busy while another program has the register open; then everything is as it was.
    """
    if on_a_server(where):
        raise Refused(
            _("{copy}: a register on a server is restored by the server's own means, then `reelcare prove`", copy=copy)
        )
    where = Path(where)
    if where.exists() and copy.exists() and where.samefile(copy):
        raise Refused(_("{copy}: this is the register itself; name a copy of it", copy=copy))
    with contextlib.ExitStack() as held:
        with opening.open_reader(copy) as source:
            if not isinstance(source.db, Sqlite):
                raise NotThere(_("{copy}: no copy in a file", copy=copy))
            held.enter_context(into_a_file(where))
            building = held.enter_context(files.being_made(where))
            source.db.backup_to(building)
        witnessed = witness.kept(where) or ()
        old = held.enter_context(_set_down(where, by, ask_pin))
        old = replace(old, heads=_furthest(witnessed, tuple(old.heads.values())))
        made = _made(building, old, by=by, why=why, now=now, ask_pin=ask_pin, progress=progress)
        aside = _swap(where, building, now)
    # only now, so that until here the old heads tell what is not there
    witness.path_of(where).unlink(missing_ok=True)
    with opening.open_reader(where) as reader:
        witness.keep(reader.db, where)
        before = tuple(old.heads.values())
        gone = witness.contradicted(reader.db, before)
        return Restoration(aside, *made, before, witness.heads(reader.db), gone)


@contextlib.contextmanager
def _set_down(where: Path, by: str, ask_pin: Callable[[str], str] | None) -> Iterator[_Old]:
    """What the register still has, in one file and in nobody else's hands as long as this lasts.

    What is damaged is read from a file made of it, and stays byte for byte as it is.
    """
    if not where.exists():
        yield _Old()
        return
    try:
        old = opening.open_writer(where, create=False)
    except (NotWhole, NotThere):
        yield _salvaged(where)
        return
    with old:
        try:
            old.ask_pin = ask_pin
            old.must_have_signed(by)
            old.must_be_allowed(e.Restored.kind, by)
            if isinstance(old.db, Sqlite) and not old.db.keep_in_one_file():
                raise Busy(_("{where}: another program has it open; close it there and try again", where=where))
            found = _read(old)
        except NotWhole:
            found = None
        if found is not None:
            with old.db.writing():
                yield found
            return
    yield _salvaged(where)


def _read(reader: Reader) -> _Old:
    rows = reader.db.fetch(EntryRow.select(*carry_files.COLUMNS).order_by(EntryRow.number))
    personal = tuple((table, reader.db.fetch(table.select(*table._meta.sorted_fields))) for table in PERSONAL)
    return _Old(_furthest(witness.heads(reader.db)), carry_format.sound(rows), personal, foreign.brought(reader.db))


def _furthest(*heads: Sequence[Head]) -> dict[str, Head]:
    """Of each terminal the head with most entries; of two alike, the first."""
    found: dict[str, Head] = {}
    for one in itertools.chain(*heads):
        if one.terminal not in found or one.count > found[one.terminal].count:
            found[one.terminal] = one
    return found


def _salvaged(where: Path) -> _Old:
    """What can be read of a damaged register, or of one beside another file's log, from a file made of it alone."""
    try:
        with files.being_made(where.with_name(f"{where.name}.salvage")) as trial:
            shutil.copyfile(where, trial)
            with opening.open_reader(trial) as reader, reader.db.lenient_text():
                return _read(reader)
    except (OSError, RegisterError):
        return _Old()


def _made(
    building: Path,
    old: _Old,
    *,
    by: str,
    why: str,
    now: datetime,
    ask_pin: Callable[[str], str] | None,
    progress: Progress,
) -> tuple[int, str]:
    """Make the copy into the register that is to be: how many entries came back, and its terminal's name."""
    with opening.open_writer(building, create=False) as made:
        copied = copies.heads_of_a_whole(made, progress)
        made.ask_pin = ask_pin
        made.must_have_signed(by)
        made.must_be_allowed(e.Restored.kind, by)
        made.take_another_name()
        with made.writing():
            foreign.keep_brought(made.db, old.brought)
            bundle = Bundle(building, made.terminal, 0, tuple(old.entries))
            found = carry_files.bring(made, bundle, foreign_here=False)
        _take_over(made, old)
        what = e.Restored(why=why, before=_plain(old.heads.values()), after=_plain(copied))
        made.add(what, by=by, now=now)
        if isinstance(made.db, Sqlite) and not made.db.keep_in_one_file():
            raise CannotWrite(_("{parent}: cannot be written (the disk failed)", parent=building.parent))
        return found.new, made.terminal


def _plain(heads: Iterable[Head]) -> dict[str, e.Json]:
    return {one.terminal: [one.count, one.digest] for one in heads}


def _take_over(made: Writer, old: _Old) -> None:
    with made.writing():
        for table, rows in old.personal:
            made.db.write(table.delete())
            made.db.insert_many(table, table._meta.sorted_fields, rows)


def _swap(where: Path, building: Path, now: datetime) -> Path | None:
    """Set the register aside and give its name to the file that was made."""
    if not where.exists():
        with into_a_file(where):
            files.settle(building, where)
        return None
    aside = where.with_name(f"{where.stem}-before-{now.astimezone(UTC):%Y%m%dT%H%M%SZ}{where.suffix}")
    if aside.exists():
        raise Refused(_("{aside}: exists already; move it elsewhere and try again", aside=aside))
    with into_a_file(aside):
        # every name is given twice before one is taken away
        for end in ("", *files.LOGS, ".heads"):
            beside = where.with_name(where.name + end)
            if beside.exists():
                _give_second_name(beside, aside.with_name(aside.name + end))
        for end in files.LOGS:
            where.with_name(where.name + end).unlink(missing_ok=True)
        files.settle(building, where, replace=True)
    return aside


def _give_second_name(path: Path, name: Path) -> None:
    try:
        os.link(path, name)
    except FileExistsError:
        raise
    except OSError:
        shutil.copy2(path, name)  # a file system without links
