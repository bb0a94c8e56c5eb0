"""A register as it is written: one way in.

What belongs here: `append` and what every write goes through. What comes in is cleaned, allowed by role, checked by its
kind, chained and folded into the state of its machine in one transaction, or nothing is. Now and who are arguments.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path

from reelcare.core import entries as e
from reelcare.core import people
from reelcare.core.entries.typed import cleaned
from reelcare.core.text import _, mark
from reelcare.core.wording import nearest
from reelcare.register.database import opening, steps
from reelcare.register.database.models import EntryRow
from reelcare.register.database.opening import Opened
from reelcare.register.errors import ClockBehind, NotAllowed, Refused
from reelcare.register.integrity import pins, recovery, witness
from reelcare.register.integrity.ids import Ids
from reelcare.register.progress import Progress, no_progress, with_progress
from reelcare.register.reading import doubts, states
from reelcare.register.reading.reader import Reader
from reelcare.register.timestamps import milliseconds
from reelcare.register.writing.batch import Batch

A_ROLE = {"operator": mark("an operator"), "mechanic": mark("a mechanic"), "supervisor": mark("a supervisor")}
NAMED = 5
"""At most this many people are named who may do what somebody may not."""


class Writer(Reader):
    """An open register, to read and to write."""

    def __init__(self, opened: Opened, where: Path | str = "", *, entropy: Callable[[int], bytes] = os.urandom) -> None:
        """On a database that is open; `opening.open_writer` opens one."""
        super().__init__(opened, where)
        self.ids = Ids(entropy)
        self.signed: set[str] = set()
        """Who has signed in with a PIN since this was opened."""
        self.ask_pin: Callable[[str], str] | None = None
        """Asks a person for their PIN, where a face can; returns what they gave."""
        self.clock_is_right = False
        """Whether somebody says that the clock is right, though it is behind the last entry; for one signature."""
        self._wrote_for_witness = False
        """Whether the transaction that runs wrote what the heads beside the register are to tell of."""

    def close(self) -> None:
        """Close the connection; where anything was written to stay, the heads of the chains are witnessed before."""
        if self.db.written and self.db.persistent and not self.db.is_closed():
            self.witness_heads()
        super().close()

    def witness_heads(self) -> None:
        """Keep the heads of all chains beside the register."""
        witness.keep(self.db, self.path)

    @property
    def read_only(self) -> bool:
        """Whether nothing may be written through this one."""
        return self.db.read_only

    def make_read_only(self) -> None:
        """From now on refuse every write, whoever asks; the database refuses it as well."""
        self.db.make_read_only()

    def take_another_name(self) -> None:
        """Write on under another terminal name: a copy of this register has written under this one."""
        self.terminal = opening.rename_terminal(self._opened)

    @contextlib.contextmanager
    def writing(self) -> Iterator[None]:
        """One transaction, all of it or nothing; what was read inside a failed one is forgotten. Once all of it stands,
        the heads are witnessed where something in it asks for that."""
        try:
            with self.db.writing(), self.cache.alone():
                yield
                token = self.db.token_of_commit()
        except BaseException:
            self.cache.clear()
            raise
        self.cache.in_step(token())
        if self._wrote_for_witness and not self.db.in_transaction():
            self._wrote_for_witness = False
            self.witness_heads()

    @contextlib.contextmanager
    def writing_as(self, by: str) -> Iterator[None]:
        """The same for a person, whose PIN is asked for before others wait. What is looked at inside is looked at when
        it is this one's turn: what others wrote meanwhile is there. Raises NotAllowed."""
        self.must_have_signed(by)
        with self.writing():
            yield

    # who may write what

    def must_have_signed(self, by: str) -> None:
        """Raise NotAllowed where a person has a PIN here and has not signed in with it."""
        if by in self.signed or not self.cache.get(("pin", by), lambda: pins.has(self.db, by)):
            return
        if self.ask_pin is None:
            raise NotAllowed(_("{by} signs with a PIN; it was not given", by=by))
        self.sign_in(by, self.ask_pin(by), now=datetime.now(UTC))

    def sign_in(self, by: str, pin: str, *, now: datetime) -> None:
        """Sign a person in with their PIN. Raises NotAllowed, always in the same words and after the same work."""
        pins.check(self.db, by, pin, now=now, signed=self.signed)

    def recover(self, person: str, code: str, *, now: datetime) -> e.Entry:
        """Sign a locked supervisor in with the recovery code; an entry tells of it. Raises NotAllowed."""
        recovery.use(self.db, person, code, now=now, signed=self.signed)
        return self.add(e.Recovered(name=person), by=person, now=now)

    def give_recovery_code(self, person: str) -> str:
        """Give a person who has signed in another recovery code. Raises NotAllowed."""
        self.must_have_signed(person)
        with self.db.writing():
            return recovery.make(self.db, person)

    def give_pin(self, person: str, pin: str, *, by: str) -> str:
        """Give a person a PIN, their own or by a supervisor; returns a supervisor's recovery code, '' for others.
        Raises Refused or NotAllowed."""
        self.must_have_signed(by)
        roles = self.roles()
        with self.db.writing():
            pins.put(self.db, person, pin, by=by, roles=roles, signed=self.signed)
            return recovery.make(self.db, person) if roles[person] == "supervisor" else ""

    def unlock(self, person: str, *, by: str) -> bool:
        """Let a locked person try their PIN again; whether attempts had to wait. Raises NotAllowed where `by` is no
        supervisor."""
        self.must_have_signed(by)
        return pins.unlock(self.db, person, by=by, roles=self.roles(), signed=self.signed)

    def must_be_allowed(self, kind: str, by: str) -> None:
        """Raise NotAllowed where this person may not write an entry of this kind."""
        roles = self.roles()
        if not roles:
            raise NotAllowed(_("nobody is enrolled yet: `reelcare people add NAME --role supervisor` comes first"))
        if by not in roles:
            near = nearest(by, list(roles))
            raise NotAllowed(_("{by}: not enrolled here{nearest}", by=by or _("nobody"), nearest=near))
        least = e.KINDS[kind].least_role
        if not people.may(roles[by], least):
            says = mark("{by} is {role}; only {least} can do this: {names}")
            names = ", ".join([name for name, role in roles.items() if people.may(role, least)][:NAMED])
            raise NotAllowed(
                _(says, by=by, role=_(A_ROLE[roles[by]]), least=_(A_ROLE[least]), names=names or _("nobody here"))
            )

    def may_cancel(self, id: str, by: str, now: datetime) -> bool:
        """Whether an entry is a person's own slip, which they may cancel themselves: see `corrections.is_slip`."""
        entry = self.entry(id)
        if by not in self.roles() or entry is None or not e.is_slip(entry, by, now):
            return False
        later = EntryRow.select(EntryRow.id).where(EntryRow.machine == entry.machine, EntryRow.id > entry.id).limit(1)
        return not self.db.fetch(later)

    # the way in

    def add(
        self, what: e.Kind, *, by: str, now: datetime, machine: str | None = None, happened: datetime | None = None
    ) -> e.Entry:
        """Write one entry; see `append`."""
        draft = e.Draft(what=what, machine=machine, happened=happened if happened is not None else now)
        return self.append([draft], by=by, now=now)[0]

    def refuse_time(self, what: e.Kind, machine: str, happened: datetime, *, now: datetime) -> None:
        """Raise Refused where nothing can be written of a machine at this time, before anybody is asked anything."""
        context = Batch(self, self.ids, by="", now=now).context(what, machine, happened)
        _refuse(e.time_problems(what, context))

    def refuse(self, what: e.Kind, machine: str | None, happened: datetime, *, now: datetime) -> None:
        """Raise Refused where this cannot be written, before anybody is told what it changes."""
        context = Batch(self, self.ids, by="", now=now).context(what, machine, e.kept(happened))
        _refuse(e.problems(what, context))

    def append(
        self, drafts: Iterable[e.Draft], *, by: str, now: datetime, progress: Progress = no_progress
    ) -> tuple[e.Entry, ...]:
        """Write entries together or not at all, and bring the states of their machines up to date. `progress` is told
        how many are written, and then how many machines are done; what it raises stops it, and nothing was written.

        Raises Refused (with what would be right), NotAllowed, Busy or CannotWrite; then nothing was written.
        """
        self.must_have_signed(by)
        drafts = list(drafts)
        if any(_is_signature(one.what) for one in drafts):
            self._refuse_clock_behind(now)
        with self.writing():
            batch = Batch(self, self.ids, by=by, now=now)
            for draft in with_progress(drafts, len(drafts), progress):
                batch.add(self._checked(draft, by, batch), draft.machine, draft.happened, draft.id)
            batch.finish(progress)
            self._wrote_for_witness |= any(one.what.witnessed for one in batch.written.values())
        return tuple(batch.written.values())

    def _refuse_clock_behind(self, now: datetime) -> None:
        """Raise ClockBehind where a signature would be dated before this terminal's last entry, unless somebody says
        that the clock is right: then what was signed by a clock that was ahead is doubtful."""
        last = None if self.clock_is_right else doubts.later_entry(self.db, self.terminal, now)
        self.clock_is_right = False
        if last is not None:
            shown, later = (f"{one.astimezone(self.zone):%Y-%m-%d %H:%M}" for one in (now, last))
            says = mark(
                "this computer's clock says {now}, and the last entry here is of {last}: set the clock right, "
                "or say that it is right (--clock-is-right)"
            )
            raise ClockBehind(_(says, now=shown, last=later))

    def _checked(self, draft: e.Draft, by: str, batch: Batch) -> e.Kind:
        """The entry of a draft as it may be written. Raises Refused or NotAllowed."""
        milliseconds(draft.happened)  # refuses a time without a zone
        try:
            what = cleaned(draft.what)
        except e.EntryError as why:
            raise Refused(str(why)) from None
        is_first = isinstance(what, e.Enrolled) and not self.roles()
        is_slip = isinstance(what, e.Correction) and self.may_cancel(what.entry, by, batch.now)
        if not (is_first or is_slip or e.needs_no_name(what, by)):
            self.must_be_allowed(what.kind, by)
        _refuse(e.problems(what, batch.context(what, draft.machine, e.kept(draft.happened))))
        return what

    def rebuild(self) -> list[str]:
        """Rebuild all derived tables, mend indexes and triggers; name what had to change: nothing, if all is whole."""
        with self.writing():
            self.cache.clear()
            return [*steps.mend_schema(self.db), *states.rebuild(self)]


def _refuse(problems: Iterable[str]) -> None:
    found = "; ".join(problems)
    if found:
        raise Refused(found)


def _is_signature(what: e.Kind) -> bool:
    """Whether an entry clears a machine, lets go what held it, or says what of another register counts here."""
    return e.signs(what) or isinstance(what, e.Release | e.CarriedIn | e.CarryDecision)
