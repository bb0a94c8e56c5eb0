"""The door of a register: one way in (`add_all`), and the entries out again as core values.

The rules of this file: what comes in is cleaned, allowed by role, admitted by the core, chained and folded
into the machine's tally in one immediate transaction, or nothing is. Now and who are arguments. What people
look at (yard, book, due, people) is in `reading.py`; walk-rounds are in `walks.py`.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reelcare.core import admit, people, typed
from reelcare.core import entries as e
from reelcare.core.clean import clean
from reelcare.core.machine import tag as tags
from reelcare.core.machine.card import Card, CardError, read_card
from reelcare.core.upkeep.plan import Plan
from reelcare.core.upkeep.plan_table import PlanError, read_plan
from reelcare.core.upkeep.tally import PlanBook, Tally
from reelcare.register import history, opening, pins, rollup, schema, witness, zones
from reelcare.register.chain_end import ChainEnd
from reelcare.register.errors import NotAllowed, Refused
from reelcare.register.few import Few
from reelcare.register.ids import Ids
from reelcare.register.kept_tally import KeptTally
from reelcare.register.moments import milliseconds
from reelcare.register.progress import Progress, quietly
from reelcare.register.questions import FEW, IN_ORDER, STANDS
from reelcare.register.work import Work

if TYPE_CHECKING:
    from reelcare.core.checks.sheet import Sheet
    from reelcare.register.walks import Check


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """Something to be written: what happened, to which machine (its id), when."""

    what: e.What
    happened: datetime
    machine: str | None = None


def plain(tag: str) -> str:
    """A tag as it is looked up: the letters A to Z small, as both databases do it for this column.

    >>> plain("R7-Éa")
    'r7-Éa'
    """
    return "".join(letter.lower() if letter.isascii() else letter for letter in tag)


WITNESSED = (e.CheckEnded, e.Release, e.Fault)
"""Entries after which the heads are witnessed at once: what somebody's safety hangs on."""


class Register:
    """An open register."""

    def __init__(
        self,
        where: Path | str,
        *,
        create: bool = True,
        entropy: Callable[[int], bytes] = os.urandom,
        progress: Progress = quietly,
        look: bool = False,
    ) -> None:
        """Open the register in a file, or the one on a server where `where` is a postgresql:// URL; to `look` only,
        nothing is written, not even to bring an older version up to date.

        `progress` is told how many machines of how many are done where an older version kept its totals otherwise.
        """
        opened = opening.open_register(where, create=create and not look, entropy=entropy, look=look)
        self._named = where
        self.db = opened.db
        self.path: Path = opened.path
        """The register's file; for one on a server, the place of what this computer keeps of it (`opening.py`)."""
        self.ids = Ids(entropy)
        self.terminal: str = opened.terminal
        self.zone: tzinfo = zones.zone(opened.zone)
        self._few = Few(self.db, self.zone, self.entries)
        self._begun: dict[str, tuple[datetime, datetime]] = {}
        self._cards: dict[str, Card] = {}
        self.kept_sheets: dict[str, Sheet] = {}
        self.written = 0
        """How many transactions were written through this connection."""
        self.kept_check: tuple[object, Check] | None = None
        """The check that was looked at last outside a transaction, and a mark of the moment; see `walks.py`."""
        self.kept_tally: KeptTally | None = None
        """The tally that was read or kept last; see `rollup.py`."""
        self.kept_card: tuple[Mapping[str, Any], Card] | None = None
        """The card that was read last for what is written, after the table that it was read from."""
        self.signed: set[str] = set()
        """Who has signed in with a PIN since this was opened."""
        self.ask_pin: Callable[[str], str] | None = None
        """Asks a person for their PIN, where a face can; the answer is what they gave."""
        rollup.bring_up_to_date(self, progress)
        if not self.db.lasts:
            self.db.execute_sql("PRAGMA query_only = 1")
        if look:
            self.only_look()

    @property
    def where(self) -> str:
        """How this register is named to people."""
        return str(self.db.where)

    @property
    def heed(self) -> str:
        """What a person should know of where this register stands, in one line; '' where nothing."""
        return str(self.db.heed)

    @property
    def looks_only(self) -> bool:
        """Whether nothing may be written through this one."""
        return bool(self.db.looks_only)

    def only_look(self) -> None:
        """From now on nothing is written through this one, whoever asks; the database itself is told so too."""
        self.db.only_look()

    def change(self) -> object:
        """A mark that is another one once another program has written."""
        return self.db.change()

    def mark(self) -> object:
        """A mark that is another one once anything was written, by this program or another."""
        return self.change(), self.written

    def close(self) -> None:
        """Close the file, its heads witnessed."""
        if self.written and not self.db.is_closed():
            witness.keep(self.db, self.path)
        self.db.close()

    def beside(self) -> Register:
        """The same register on a connection of its own, for work beside this one's; to be closed by who asked."""
        return Register(self._named, create=False, look=self.looks_only)

    def __enter__(self) -> Register:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def take_another_name(self) -> None:
        """Go on under another name: a copy of this register has written under the one that it had."""
        self.terminal = opening.another_terminal(self.db, self.path)

    @contextlib.contextmanager
    def writing(self) -> Iterator[None]:
        """One transaction, as the database gives it: what is asked for every entry is asked once in it."""
        try:
            with self.db.writing(), self._few.alone():
                yield
        except BaseException:
            # what was read in it is not so, wherever it failed: at its commit, too
            self._few.forget()
            raise
        self.written += 1

    # what the door needs to know

    def roles(self) -> dict[str, str]:
        """Every enrolled person with the role they have now."""
        return dict(self._few.roles())

    def plans(self) -> PlanBook:
        """Which plan was in force when."""
        return self._few.plans()

    def entries(self, where: str, *values: Any) -> list[e.Entry]:
        """The entries that a condition of ours picks, as core values."""
        return [
            history.entry_of(row)
            for row in schema.rows(self.db, f"SELECT {history.COLUMNS} FROM entry WHERE {where}", *values)
        ]

    def entry(self, id: str) -> e.Entry | None:
        """One entry by its id, or by as much of its end as tells it apart."""
        id = clean(id)
        found = self.entries("id = ? OR (length(?) >= 4 AND id LIKE '%' || ?) LIMIT 2", id, id, id)
        return found[0] if len(found) == 1 else None

    def of_machine(self, machine: str, until: datetime | None = None) -> list[e.Entry]:
        """All that happened to a machine up to a moment, corrections included, in order."""
        return [history.entry_of(row) for row in history.rows_of(self.db, machine, until)]

    def machine_id(self, tag: str) -> str:
        """The id of the machine with this tag, or whose id or scanned tag is given. Raises Refused, naming near tags.

        Two terminals that were apart can have given one tag to two machines: then only an id tells which is meant.
        """
        tag = clean(tag)
        scanned = tags.machine_of(tag)
        if scanned is not None:
            if not schema.rows(self.db, "SELECT 1 FROM machine_now WHERE machine = ?", scanned):
                raise Refused(f"{tag}: the tag of a machine that is not in this register")
            return scanned
        found = schema.rows(self.db, "SELECT machine FROM machine_now WHERE LOWER(tag) = ?", plain(tag))
        if not found and len(tag) == 36:
            found = schema.rows(self.db, "SELECT machine FROM machine_now WHERE machine = ?", tag)
        if len(found) > 1:
            ids = " and ".join(str(one[0]) for one in found)
            raise Refused(f"{tag}: two machines are called so, {ids}: say which by its id, and revise the card of one")
        if not found:
            known = [str(one[0]) for one in schema.rows(self.db, "SELECT tag FROM machine_now ORDER BY tag")]
            raise Refused(f"{tag}: no such machine{admit.nearest(tag, known) if known else '; none is carded yet'}")
        return str(found[0][0])

    def card(self, machine: str, at: datetime | None = None) -> Card:
        """A machine's card as it stood at a moment (the first one, before it was carded)."""
        kept = self.entries(
            f"machine = ? AND {FEW} AND kind = 'card' AND {STANDS} {IN_ORDER}",
            machine,
        )
        chosen = kept[0]
        for one in kept:
            if at is None or one.happened <= at:
                chosen = one
        assert isinstance(chosen.what, e.Carded)
        # an entry never changes, so what was read once is read
        known = self._cards.get(chosen.id)
        if known is None:
            known = self._cards[chosen.id] = read_card(chosen.what.card)
        return known

    def begun(self, machine: str) -> tuple[datetime, datetime] | None:
        """When a machine was carded, and when that was recorded; None where it never was."""
        if machine not in self._begun:
            carded = self.entries("id = ?", machine)
            if not carded:
                return None
            # an entry never changes, so what was read once is read
            self._begun[machine] = (carded[0].happened, carded[0].recorded)
        return self._begun[machine]

    # the way in

    def came_in(self, kind: str) -> None:
        """An entry of this kind came in by another way than `add_all`, in a transaction of this program's."""
        self._few.came_in(kind)

    def add(
        self,
        what: e.What,
        *,
        by: str,
        now: datetime,
        machine: str | None = None,
        happened: datetime | None = None,
    ) -> e.Entry:
        """Write one entry; see `add_all`."""
        draft = Draft(what=what, machine=machine, happened=happened if happened is not None else now)
        return self.add_all([draft], by=by, now=now)[0]

    def add_all(self, drafts: Iterable[Draft], *, by: str, now: datetime) -> tuple[e.Entry, ...]:
        """Write entries together or not at all, and bring the machines' tallies up to date.

        Raises Refused (with what would be right), NotAllowed, Busy or CannotWrite; then nothing was written.
        """
        self.must_have_signed(by)
        with self.writing():
            work, end = Work(self), ChainEnd(self, by=by, now=now)
            written = []
            for draft in drafts:
                alone = type(draft.what) in admit.ALONE
                if not alone:
                    end.put_in()  # what it is held against at the door must stand there
                entry = end.add(self._fit(draft, by, now, work), draft.machine, draft.happened)
                if not alone:
                    end.put_in()
                written.append(entry)
                work.take(entry)
            end.put_in()
            work.finish()
        if any(isinstance(one.what, WITNESSED) for one in written):
            witness.keep(self.db, self.path)
        return tuple(written)

    def _fit(self, draft: Draft, by: str, now: datetime, work: Work) -> e.What:
        milliseconds(draft.happened)  # refuses a time without a zone
        if isinstance(draft.what, e.Run):
            milliseconds(draft.what.started)
            milliseconds(draft.what.ended)
        try:
            what = typed.cleaned(draft.what)
        except e.EntryError as why:
            raise Refused(str(why)) from None
        self._allow(what, by)
        found = admit.problems(what, work.place(type(what), draft.machine, e.kept(draft.happened), now))
        if type(what) not in admit.ALONE:
            found += [*self._neighbours(what, draft), *_readable(what)]
        if found:
            raise Refused("; ".join(found))
        return what

    def _allow(self, what: e.What, by: str) -> None:
        if isinstance(what, e.Enrolled) and not self._few.roles():
            if what.role != "supervisor":
                raise Refused("role: the first person enrolled must be a supervisor")
            return
        self.must_be_allowed(what.kind, by)

    def must_have_signed(self, by: str) -> None:
        """Raise NotAllowed where a person has a PIN here and has not signed in with it."""
        if self.ask_pin is not None and by not in self.signed and pins.has(self.db, by):
            pins.check(self.db, by, self.ask_pin(by), now=datetime.now(UTC), signed=self.signed)
        pins.must_have_signed(self.db, by, self.signed)

    def must_be_allowed(self, kind: str, by: str) -> None:
        """Raise NotAllowed where this person may not write an entry of this kind."""
        roles = self._few.roles()
        if not roles:
            raise NotAllowed("nobody is enrolled yet: `reelcare people add NAME --role supervisor` comes first")
        if by not in roles:
            raise NotAllowed(f"{by or 'nobody'}: not enrolled here{admit.nearest(by, list(roles))}")
        if not people.may(roles[by], kind):
            raise NotAllowed(f"{by} is {_a(roles[by])}; this takes {_a(people.LEAST[kind])} ({kind})")

    def _neighbours(self, what: e.What, draft: Draft) -> list[str]:
        if isinstance(what, e.Run) and what.started < what.ended:
            later = self.entries(
                f"machine = ? AND kind = 'run' AND happened > ? AND {STANDS}"
                " ORDER BY happened LIMIT 1",
                draft.machine, milliseconds(what.started),
            )  # fmt: skip
            for one in later:
                assert isinstance(one.what, e.Run)
                if one.what.started < what.ended:
                    return [
                        f"started: overlaps the run of {one.what.started.astimezone(self.zone):%Y-%m-%d %H:%M} "
                        f"to {one.what.ended.astimezone(self.zone):%H:%M}"
                    ]
        if isinstance(what, e.Carded):
            return self._tag_taken(what, draft.machine)
        if isinstance(what, e.Enrolled):
            roles = self.roles()
            near = [name for name in roles if name.casefold() == what.name.casefold() and name != what.name]
            if near:
                return [f"name: {near[0]} is enrolled already; write it the same way, or choose another"]
            steps_down = roles.get(what.name) == "supervisor" and what.role != "supervisor"
            if steps_down and list(roles.values()).count("supervisor") == 1:
                return [f"role: {what.name} is the only supervisor; enrol another first"]
        if isinstance(what, e.Correction):
            return self._not_correctable(what)
        return []

    def _tag_taken(self, what: e.Carded, machine: str | None) -> list[str]:
        tag = str(what.card.get("tag", ""))
        other = schema.rows(
            self.db,
            "SELECT machine FROM machine_now WHERE LOWER(tag) = ? AND machine <> ?",
            plain(tag),
            machine or "",
        )
        return [f"tag: {tag} is another machine's already"] if other else []

    def _not_correctable(self, what: e.Correction) -> list[str]:
        entry = self.entry(what.entry)
        if entry is None or entry.id != what.entry:
            return [f"{what.entry}: no such entry"]
        if self.entries(f"kind = 'correction' AND refers = ? AND {STANDS}", what.entry):
            return [f"{what.entry}: taken back already"]
        if isinstance(entry.what, e.Correction):
            first = self.entry(entry.what.entry)
            if first is not None and isinstance(first.what, e.Correction):
                return ["this correction is final: write the entry anew instead"]
        if isinstance(entry.what, e.Fault) and entry.what.holds:
            return ["a hold is not taken back: repair it, test it again and release it"]
        if isinstance(entry.what, (e.Enrolled, e.Sheeted)):
            return [f"a {entry.what.kind} entry is not taken back: write a new one"]
        if isinstance(entry.what, e.Carded) and entry.id == entry.machine:
            return ["a machine's first card is not taken back: revise the card"]
        return []

    # the way out

    def tally(self, machine: str, at: datetime | None = None) -> Tally:
        """What a machine has done and what stands open on it: now, or at a moment past."""
        if at is None:
            kept = rollup.kept(self, machine)
            if kept is not None:
                return kept
        found = rollup.worked_out(self, machine, at)
        if found is None:
            raise Refused("nothing is known of this machine at that time")
        return found

    def plan(self, machine: str, at: datetime) -> Plan:
        """The service plan in force for a machine at a moment."""
        return self.plans().at(machine, at)

    def rebuild(self) -> list[str]:
        """Work all derived tables out anew and say what had to change: nothing, in a whole register."""
        with self.writing():
            return rollup.rebuild(self)


def _readable(what: e.What) -> Sequence[str]:
    """What a card or plan has against it, in full."""
    try:
        if isinstance(what, e.Carded):
            read_card(what.card)
        elif isinstance(what, e.Planned):
            read_plan(what.plan)
    except (CardError, PlanError) as why:
        return list(why.problems)
    return []


def _a(role: str) -> str:
    return f"an {role}" if role[0] in "aeiou" else f"a {role}"
