"""What going back to a copy keeps, whichever database the register is in: entries, PINs, recovery codes, heads.

What the register still has and the copy lacks comes in as from a carry file; an entry says who went back and why.
"""

from __future__ import annotations

import contextlib
import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from reelcare.core import entries as e
from reelcare.core.text import _
from reelcare.register import opening
from reelcare.register.database import models
from reelcare.register.database.models import AboutRow, EntryRow
from reelcare.register.database.opening import shown
from reelcare.register.errors import Damaged, NotThere
from reelcare.register.exchange import carry_files, carry_format, copies
from reelcare.register.exchange.carry_format import Bundle, Carried
from reelcare.register.integrity import witness
from reelcare.register.integrity.chain import Head
from reelcare.register.integrity.recovery import RECOVERY
from reelcare.register.progress import Progress
from reelcare.register.reading import doubts, foreign
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer

PERSONAL: tuple[type[models.RegisterTable], ...] = (models.PinRow, models.PinTryRow)
"""What belongs to people here and is in no entry: it is taken over from the register that is set aside."""


@dataclass(frozen=True, slots=True)
class Restoration:
    """What going back did: where the old register lies (a file, on a server a schema; None: there was none), its
    entries that were brought back, and the heads of both."""

    aside: Path | str | None
    brought_back: int
    terminal: str
    before: tuple[Head, ...]
    after: tuple[Head, ...]
    gone: tuple[Head, ...]
    """Those of `before` that the register has not even now."""


@dataclass(frozen=True, slots=True)
class OldRegister:
    """What could be read of the register that is set aside; `heads` are the witnessed ones, where they are further."""

    heads: Mapping[str, Head] = field(default_factory=dict)
    entries: Sequence[Carried] = ()
    personal: tuple[tuple[type[models.RegisterTable], list[tuple[object, ...]]], ...] = ()
    recovery: Mapping[str, str] | None = None
    """The facts that keep recovery codes; None where none could be read."""
    brought: frozenset[str] = frozenset()
    """The digests of the entries that were carried into it: they go on to wait, or to count, as they did. Of a chain
    that forked, the branches can have other names in the copy."""
    ahead: Mapping[str, int] = field(default_factory=dict)
    """By digest when those of them came that are dated later [ms]."""
    own: frozenset[str] = frozenset()
    """The digests of the entries that were written in it; none where it has no machine yet."""

    def with_heads(self, witnessed: Sequence[Head]) -> OldRegister:
        """The same with the heads that this computer has witnessed, where they are further."""
        return replace(self, heads=furthest(witnessed, tuple(self.heads.values())))


@dataclass(frozen=True, slots=True)
class Act:
    """Who goes back, why and when; how a PIN is asked for, and who is told how far the work is."""

    by: str
    why: str
    now: datetime
    ask_pin: Callable[[str], str] | None
    progress: Progress
    copy: Path | str = ""

    def must_be_allowed(self, register: Writer) -> None:
        """Raise NotAllowed where this register does not know the person as a supervisor who has signed in."""
        register.ask_pin = self.ask_pin
        register.must_have_signed(self.by)
        register.must_be_allowed(e.Restored.kind, self.by)


@contextlib.contextmanager
def of_the_copy(copy: Path | str) -> Iterator[None]:
    """Tell of damage inside that it is the copy's, which is read under other names, too."""
    try:
        yield
    except Damaged as damage:
        says = _("{copy}: the copy is damaged, nothing was changed; `reelcare prove --register {copy}` says more",
                 copy=shown(copy))  # fmt: skip
        raise Damaged(says) from damage


def read(reader: Reader) -> OldRegister:
    """What a register has that a copy may lack. Raises Damaged where it is too damaged."""
    rows = reader.db.fetch(EntryRow.select(*carry_files.COLUMNS).order_by(EntryRow.number))
    personal = tuple((table, reader.db.fetch(table.select(*table._meta.sorted_fields))) for table in PERSONAL)
    codes = {name: value for name, value in reader.db.about().items() if name.startswith(RECOVERY)}
    here, brought = _by_origin(reader)
    return OldRegister(furthest(witness.heads(reader.db)), carry_format.sound(rows), personal, codes, brought,
                       _ahead(reader), here if reader.machine_ids() else frozenset())  # fmt: skip


def _by_origin(reader: Reader) -> tuple[frozenset[str], frozenset[str]]:
    """The digests of the entries that were written here, and of those that were carried in."""
    came = foreign.brought(reader.db)
    found: dict[bool, list[str]] = {True: [], False: []}
    for terminal, place, digest in _places(reader):
        is_brought = any(first <= place <= last for first, last in came.get(terminal, ()))
        found[is_brought].append(digest)
    return frozenset(found[False]), frozenset(found[True])


def _ahead(reader: Reader) -> dict[str, int]:
    """By digest when entries came that are dated later [ms]."""
    parts = doubts.ahead(reader.db)
    return {
        digest: min(came)
        for terminal, place, digest in (_places(reader) if parts else ())
        if (came := [at for first, last, at in parts.get(terminal, ()) if first <= place <= last])
    }


def _places(reader: Reader) -> Iterator[tuple[str, int, str]]:
    """Terminal, place and digest of every entry; one in which damage put something else is left out."""
    columns = EntryRow.select(EntryRow.terminal, EntryRow.place, EntryRow.digest)
    for terminal, place, digest in reader.db.fetch(columns):
        if isinstance(terminal, str) and isinstance(place, int) and isinstance(digest, str):
            yield terminal, place, digest


def _keep_origins(made: Writer, bundle: Bundle, old: OldRegister) -> None:
    """Keep which entries of the register that is set aside had been carried into it, and which of them ahead of their
    time, by the names that their chains have here."""
    columns = carry_files.columns(made, bundle)
    theirs = [one for one in bundle.entries if one.digest in old.brought]
    foreign.keep_brought(made.db, foreign.ranges_of((columns[one.digest], one.place) for one in theirs))
    for at in sorted(set(old.ahead.values())):
        some = (one for one in theirs if old.ahead.get(one.digest) == at)
        parts = foreign.ranges_of((columns[one.digest], one.place) for one in some)
        doubts.keep_ahead(made.db, {name: [(*each, at) for each in ranges] for name, ranges in parts.items()})


def entries_to_restore(reader: Reader, copy: Path) -> tuple[int, int]:
    """Of how many entries a copy is, and how many the register has that it lacks. Raises as the opening of a copy."""
    with opening.open_reader(copy) as source:
        here, there = (set(one.db.column(EntryRow.select(EntryRow.digest))) for one in (reader, source))
    return len(there), len(here - there)


def furthest(*heads: Sequence[Head]) -> dict[str, Head]:
    """Of each terminal the head with most entries; of two alike, the first."""
    found: dict[str, Head] = {}
    for one in itertools.chain(*heads):
        if one.terminal not in found or one.count > found[one.terminal].count:
            found[one.terminal] = one
    return found


def complete(made: Writer, old: OldRegister, act: Act) -> int:
    """Make a copy into the register that is to be, once it proves whole: how many entries came back."""
    copied = copies.proven_heads(made, act.progress)
    act.must_be_allowed(made)
    if old.own and old.own.isdisjoint(_by_origin(made)[0]):
        says = _(
            "{copy}: no copy of this register, nothing was changed: none of the entries that were written here were "
            "written there; `reelcare carry in` brings in what another register has",
            copy=shown(act.copy),
        )
        raise NotThere(says)
    with made.writing():
        bundle = Bundle(made.path, made.terminal, 0, tuple(old.entries))
        _keep_origins(made, bundle, old)
        found = carry_files.bring(made, bundle, came=None)
    _take_over(made, old)
    what = e.Restored(why=act.why, before=_plain(old.heads.values()), after=_plain(copied))
    made.add(what, by=act.by, now=act.now)
    return found.new


def done(made: Reader, aside: Path | str | None, brought_back: int, old: OldRegister) -> Restoration:
    """What going back did. Only from now on the new heads are witnessed: until here the old ones tell what is not
    there."""
    before = tuple(old.heads.values())
    gone = witness.contradicted(made.db, before)
    witness.path_of(made.path).unlink(missing_ok=True)
    witness.keep(made.db, made.path)
    return Restoration(aside, brought_back, made.terminal, before, witness.heads(made.db), gone)


def _plain(heads: Iterable[Head]) -> dict[str, e.Json]:
    return {one.terminal: [one.count, one.digest] for one in heads}


def _take_over(made: Writer, old: OldRegister) -> None:
    with made.writing():
        for table, rows in old.personal:
            made.db.write(table.delete())
            made.db.insert_many(table, table._meta.sorted_fields, rows)
        if old.recovery is not None:
            made.db.write(AboutRow.delete().where(AboutRow.name.startswith(RECOVERY)))
            for name, value in old.recovery.items():
                made.db.keep_about(name, value)
