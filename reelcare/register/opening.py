"""The only way to a register: to read it, or to write in it."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import Any

from reelcare.core import entries as e
from reelcare.register.database import steps
from reelcare.register.database.base import Database
from reelcare.register.database.models import EntryRow
from reelcare.register.database.opening import ZONE, Opened, open_register
from reelcare.register.integrity import witness
from reelcare.register.progress import Progress, no_progress
from reelcare.register.reading import foreign, states
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer


def open_reader(where: Path | str) -> Reader:
    """Open the register in a file, or the one on a server where `where` is a postgresql:// URL, to read only.

    Nothing in it changes, not even to bring an older version up to date: that is done in memory. Raises a RegisterError
    in one clear line.
    """
    opened = open_register(where, partial(_rebuild, no_progress), create=False, read_only=True)
    return Reader(_with_what_was_witnessed(opened), where)


def open_writer(
    where: Path | str,
    *,
    create: bool = True,
    read_only: bool = False,
    entropy: Callable[[int], bytes] = os.urandom,
    progress: Progress = no_progress,
) -> Writer:
    """Open a register to write, or make one where there is none. Raises a RegisterError in one clear line.

    `progress` is told how many machines of how many are rebuilt where an older version kept their states in another
    form. What is opened `read_only` refuses every write.
    """
    opened = open_register(
        where, partial(_rebuild, progress), create=create and not read_only, read_only=read_only, entropy=entropy
    )
    return Writer(_with_what_was_witnessed(opened), where, entropy=entropy)


def open_again(writer: Writer) -> None:
    """Open the register of a writer again, as after going back to a copy: whoever has the writer goes on with it."""
    opened = open_register(writer.opened_by, partial(_rebuild, no_progress), create=False)
    Writer.__init__(writer, _with_what_was_witnessed(opened), writer.opened_by)


def open_beside(reader: Reader) -> Reader:
    """The register of a reader once more, on a connection of its own, to read beside other work."""
    return open_reader(reader.opened_by)


def write_beside(writer: Writer) -> Writer:
    """The register of a writer once more, on a connection of its own, to write beside other work: whoever has signed in
    there has signed in here."""
    own = open_writer(writer.opened_by, create=False, read_only=writer.read_only)
    own.signed, own.clock_is_right = writer.signed, writer.clock_is_right
    return own


def _with_what_was_witnessed(opened: Opened) -> Opened:
    if opened.before:
        with steps.closed_on_error(opened.db):
            witness.follow(opened.db, opened.path, opened.before, lambda: _went_back_from(opened))
    return opened


def _went_back_from(opened: Opened) -> list[Mapping[str, Any]]:
    """The heads that each going back to a copy knew of; what another register went through answers nothing here."""
    found = foreign.written_here(Reader(opened), EntryRow.kind == e.Restored.kind)
    return [one.what.before for one in found if isinstance(one.what, e.Restored)]


def _rebuild(progress: Progress, db: Database) -> None:
    states.rebuild(Reader(Opened(db, Path(), "", db.about()[ZONE])), progress)
