"""Going back to a copy on a server: in one transaction, beside which nobody else writes.

The copy is made into a register in a schema of its own; then the old tables are set aside under another schema and it
takes their place. It is another register to every computer that works in it: each takes a new terminal name, and heads
that it has witnessed stay with it, but for those that the entry answers.
"""

from __future__ import annotations

import contextlib
from datetime import UTC
from pathlib import Path

from reelcare import files
from reelcare.core.text import _
from reelcare.register import opening
from reelcare.register.database import opening as naming
from reelcare.register.database.models import EntryRow
from reelcare.register.database.postgres import Postgres
from reelcare.register.errors import Damaged, Refused
from reelcare.register.exchange import copies, restored_content
from reelcare.register.exchange.restored_content import Act, OldRegister, Restoration
from reelcare.register.integrity import witness
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer


def restore(url: str, copy: Path | str, act: Act) -> Restoration:
    """Go back to a copy, as `restoration.restore` does. Where the database is empty, the copy fills it."""
    with contextlib.ExitStack() as opened:
        with restored_content.of_the_copy(copy):
            source = opened.enter_context(opening.open_reader(copy))
        old = opening.open_writer(url)
        with contextlib.closing(old.db):
            if isinstance(source.db, Postgres) and isinstance(old.db, Postgres) and old.db.is_same_as(source.db):
                raise Refused(_("{copy}: this is the register itself; name a copy of it", copy=source.where))
            if not old.db.fetch(EntryRow.select(EntryRow.number).limit(1)):
                return _fill(old, source, act)
            return _change_places(old, source, act)


def _fill(made: Writer, source: Reader, act: Act) -> Restoration:
    """The copy in a database without entries."""
    known = OldRegister().with_heads(witness.kept(made.path) or ())
    with restored_content.of_the_copy(source.where), made.writing():
        copies.fill(source, made)
        brought_back = restored_content.complete(made, known, act)
    return restored_content.done(made, None, brought_back, known)


def _change_places(old: Writer, source: Reader, act: Act) -> Restoration:
    assert isinstance(old.db, Postgres)
    with contextlib.suppress(Damaged):
        act.must_be_allowed(old)
    moment = f"{act.now.astimezone(UTC):%Y%m%dt%H%M%Sz}"
    witnessed = witness.kept(old.path) or ()
    made: Writer | None = None
    try:
        with old.db.writing():
            known = _read(old).with_heads(witnessed)
            zone = source.db.about().get(naming.ZONE, "")
            made = Writer(naming.make_beside(old.db, f"reelcare_made_{moment}", zone), old.opened_by)
            with restored_content.of_the_copy(source.where):
                copies.fill(source, made)
                brought_back = restored_content.complete(made, known, act)
            before = f"reelcare_before_{moment}"
            is_there = old.db.has_schema
            aside = before + files.free_ending(lambda more: is_there(before + more))
            old.db.change_places(aside)
    except BaseException:
        if made is not None:
            naming.forget(made.path)  # this computer's name in a register that there is not
        raise
    return restored_content.done(made, aside, brought_back, known)


def _read(old: Reader) -> OldRegister:
    """What can be read of the register; where that fails the transaction goes on."""
    try:
        with old.db.atomic():
            return restored_content.read(old)
    except Damaged:
        return OldRegister()
