"""A register as it is read: entries out of the database as core values, and what the core makes of them.

What belongs here: questions about entries, people, plans, sheets and the state of one machine. What must not: any
method that writes. A moment past is answered by folding the entries up to it; today's states are kept beside the
entries (`states.py`) and read here.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, tzinfo
from functools import cache, lru_cache
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import Any, Self

import peewee as pw

from reelcare.core import entries as e
from reelcare.core.canonical_json import canonical, parse
from reelcare.core.checks.sheet import Sheet
from reelcare.core.checks.sheet_table import read_sheet
from reelcare.core.clean import clean
from reelcare.core.fold import as_written, fold
from reelcare.core.machine import tag as tags
from reelcare.core.machine.card import Card, read_card
from reelcare.core.people import LEFT
from reelcare.core.service.plan import Plan
from reelcare.core.service.plan_table import read_plan
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plain_form import from_plain
from reelcare.core.state.plans import Known, PlanBook, Uncounted
from reelcare.core.text import _
from reelcare.core.wording import nearest
from reelcare.register import zones
from reelcare.register.database.base import Database
from reelcare.register.database.models import EntryRow, MachineRow, UncountedRow
from reelcare.register.database.opening import Opened
from reelcare.register.errors import Refused
from reelcare.register.reading import doubts, queries
from reelcare.register.reading.cache import Cache
from reelcare.register.timestamps import moment

E, M, U = EntryRow, MachineRow, UncountedRow
CARDS, FOLDED, KEPT = "cards", "folded", "kept"
"""With a machine's id, the keys under which its cards are remembered, its state as its entries give it, and that which
is kept, with the text of its limits."""
PAST = "past"
"""The key of the states at moments past, by machine and moment."""
DEFAULT_PLAN = "default plan"
"""The name in `about` of the plan that holds until one is put in force; it never travels."""
READ_TOGETHER = 20
"""Machines whose entries are read by one query where all are folded."""
ID_LENGTH = 36
"""Characters of a UUID as text."""


def entry_of(row: tuple[Any, ...]) -> e.Entry:
    """An entry from a row of `queries.ENTRY`. Raises EntryError where this version does not know it."""
    id, machine, happened, recorded, terminal, person, kind, body = row
    return e.Entry(id, machine, moment(happened), moment(recorded), terminal, person, e.from_body(kind, parse(body)))


def of_one_tag(tag: str, ids: Iterable[str]) -> Refused:
    """Says that a tag names two machines: terminals that were apart have given it to both."""
    says = _(
        "{tag}: two machines have this tag, {ids}: name one by its id, and revise its card",
        tag=tag, ids=" and ".join(ids),
    )  # fmt: skip
    return Refused(says)


class Reader:
    """An open register, to read."""

    def __init__(self, opened: Opened, where: Path | str = "") -> None:
        """On a database that is open; `opening.open_reader` opens one by `where`."""
        self.opened_by = where
        self.db: Database = opened.db
        self.path: Path = opened.path
        """The register's file; for one on a server, the place of what this computer keeps of it."""
        self.terminal: str = opened.terminal
        self.zone: tzinfo = zones.zone(opened.zone)
        self.is_demo: bool = opened.demo
        """Whether its machines and people are invented."""
        self.cache = Cache(self.db.change_token)
        self._opened = opened

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def count_entries(self) -> int:
        """How many entries there are."""
        return int(EntryRow.select().count(self.db))

    def close(self) -> None:
        """Close the connection."""
        self.db.close()

    @property
    def where(self) -> str:
        """How this register is named to people, without any password."""
        return self.db.where

    @property
    def warning(self) -> str:
        """What a person should know of where this register stands, in one line; '' where nothing."""
        return self.db.warning

    def change_token(self) -> object:
        """A token that changes whenever another program has written."""
        return self.db.change_token()

    # entries

    def select(self, query: pw.SelectQuery) -> list[e.Entry]:
        """The entries that a query over `queries.ENTRY` gives."""
        return [entry_of(row) for row in self.db.fetch(query)]

    def entry(self, id: str) -> e.Entry | None:
        """One entry by its id, or by as much of its end as tells it apart (four characters or more)."""
        id = clean(id)
        found = self.select(queries.entries(E.id == id))
        if not found and 4 <= len(id) < ID_LENGTH:
            found = self.select(queries.entries(pw.fn.SUBSTR(E.id, ID_LENGTH - len(id) + 1) == id).limit(2))
        return found[0] if len(found) == 1 else None

    def of_machine(self, machine: str, until: datetime | None = None) -> list[e.Entry]:
        """All that happened to a machine up to a moment, corrections included, in order."""
        return self.select(queries.of_machine(machine, until))

    # people, plans, sheets

    def roles(self) -> Mapping[str, str]:
        """Every enrolled person with the role they have now."""
        return self.cache.get("roles", self.roles_with)

    def roles_with(self, accepted: Collection[str] = (), at: datetime | None = None) -> dict[str, str]:
        """The same at a moment past (None: now), and as if these enrolments of other registers were accepted."""
        counts = queries.counts(accepted=accepted)
        found = self.as_written(self.select(queries.shared(e.Enrolled.kind).where(counts)), at)
        roles = {one.what.name: one.what.role for one in found if isinstance(one.what, e.Enrolled)}
        return {name: role for name, role in roles.items() if role != LEFT}

    def plans(self) -> PlanBook:
        """Which plan was in force when."""
        return self.cache.get("plans", self.plans_with)

    def plans_with(self, accepted: Collection[str] = ()) -> PlanBook:
        """Which plan was in force when, and would have been if these entries of other registers were accepted."""
        query = queries.shared(e.Planned.kind).where(queries.in_effect(accepted=accepted))
        rows = self.db.fetch(query.select(E.id, E.happened, E.machine, E.body))
        written = self.written
        default = self.db.about().get(DEFAULT_PLAN)
        return PlanBook(
            (
                (min(moment(at), written.get(str(id), moment(at))), machine, _plan_of(body))
                for id, at, machine, body in rows
            ),
            self.zone,
            _plan_of(default) if default is not None else None,
        )

    def sheet(self, id: str) -> Sheet | None:
        """The sheet that the entry of this id keeps; None where it is not here."""
        found: Sheet | None = self.cache.known(("sheet", id)) or self._read_sheet(id)
        if found is not None:  # what is not here yet can be written next: that nothing was found is not remembered
            self.cache.put(("sheet", id), found)
        return found

    def _read_sheet(self, id: str) -> Sheet | None:
        rows = self.db.fetch(E.select(E.body).where(E.id == id, E.kind == e.Sheeted.kind))
        return _sheet_of(str(rows[0][0])) if rows else None

    # machines

    def machine_ids(self) -> list[str]:
        """The ids of all machines, by tag."""
        return self.db.column(M.select(M.machine).order_by(M.tag, M.machine))

    def tags(self) -> dict[str, str]:
        """The tag of each machine, by its id."""
        return self.db.pairs(M.select(M.machine, M.tag).order_by(M.tag, M.machine))

    def machine_id(self, tag: str) -> str:
        """The id of the machine with this tag, or whose id or scanned tag is given. Raises Refused, naming near tags.

        Two terminals that were apart can have given one tag to two machines: then only an id tells which is meant.
        """
        tag = clean(tag)
        scanned = tags.machine_of(tag)
        if scanned is not None:
            if not self.is_machine(scanned):
                raise Refused(_("{tag}: the tag of a machine that is not in this register", tag=tag))
            return scanned
        found = self.machines_with_tag(tag)
        if not found and len(tag) == ID_LENGTH and self.is_machine(tag):
            found = [tag]
        if len(found) > 1:
            raise of_one_tag(tag, found)
        if not found and (now := self.renamed(tag)):
            raise Refused(_("{tag}: no machine has this tag now; {now} had it before", tag=tag, now=", ".join(now)))
        if not found:
            known = list(self.tags().values())
            raise Refused(
                _(
                    "{tag}: no such machine{nearest}",
                    tag=tag,
                    nearest=nearest(tag, known) if known else _("; no machines yet"),
                )
            )
        return found[0]

    def machines_with_tag(self, tag: str) -> list[str]:
        """The ids of the machines that are called so, whether written large or small."""
        return self.db.column(M.select(M.machine).where(pw.fn.LOWER(M.tag) == lowered(tag)))

    def renamed(self, tag: str) -> list[str]:
        """The tags of today of the machines that were called so before."""
        return self.cache.get("renamed", self._read_renamed).get(lowered(tag), [])

    def _read_renamed(self) -> dict[str, list[str]]:
        now, found = self.tags(), dict[str, list[str]]()
        for one in self.select(queries.shared(e.Carded.kind).where(queries.in_effect())):
            tag = now.get(one.machine or "")
            before = lowered(str(one.what.card.get("tag", ""))) if isinstance(one.what, e.Carded) else ""
            if tag is not None and before != lowered(tag) and tag not in found.setdefault(before, []):
                found[before].append(tag)
        return found

    def is_machine(self, id: str) -> bool:
        """Whether there is a machine of this id."""
        return bool(self.db.fetch(M.select(M.machine).where(M.machine == id)))

    def state(self, machine: str, at: datetime | None = None) -> MachineState:
        """What a machine has done and what stands open on it: now, or at a moment past. Raises Refused where nothing is
        known of it."""
        found = self.fold(machine, at) if at is not None else self.kept_state(machine) or self.fold(machine)
        if found is None:
            raise Refused(_("nothing is known of this machine at that time"))
        return found

    def kept(self, machine: str) -> tuple[MachineState, str] | None:
        """The state that is kept of a machine, and the text of its limits, which takes a tenth of the room; None where
        nothing is."""
        return self.cache.get((KEPT, machine), lambda: self._read_kept(machine))

    def kept_state(self, machine: str) -> MachineState | None:
        """The state that is kept of a machine; None where none is."""
        found = self.kept(machine)
        return found[0] if found is not None else None

    def states(self, machines: Iterable[str] | None = None) -> dict[str, MachineState]:
        """The states that are kept of these machines, or of all, by machine."""
        query = M.select(M.machine, M.state)
        if machines is not None:
            query = query.where(M.machine.in_(list(machines)))
        return {str(machine): from_plain(str(text)) for machine, text in self.db.fetch(query)}

    def _read_kept(self, machine: str) -> tuple[MachineState, str] | None:
        rows = self.db.fetch(M.select(M.state, M.limits).where(M.machine == machine))
        return (from_plain(str(rows[0][0])), str(rows[0][1])) if rows else None

    def folds(self, machines: Sequence[str]) -> Iterator[tuple[str, MachineState | None]]:
        """Each of these machines with its state folded from all its entries. One query reads those of some machines; of
        them the entries of one are held at a time."""
        known = self.known()
        for first in range(0, len(machines), READ_TOGETHER):
            left = set(machines[first : first + READ_TOGETHER])
            query = queries.entries(E.machine.in_(left)).order_by(E.machine, E.happened, E.recorded, E.id)
            for machine, rows in groupby(self.db.each(query), key=itemgetter(1)):
                left.discard(machine)
                yield machine, fold(machine, map(entry_of, rows), known)
            for machine in sorted(left):
                yield machine, None

    def fold(self, machine: str, at: datetime | None = None) -> MachineState | None:
        """The state folded from all entries of a machine up to a moment; None where there are none that count. That of
        now is remembered until somebody writes; what this program writes itself is folded on from it.

        A machine that was carded later than the moment is shown by its first card.
        """
        if at is None:
            return self.cache.get((FOLDED, machine), lambda: self._fold(machine))
        return self._fold(machine, at)

    def _fold(self, machine: str, at: datetime | None = None) -> MachineState | None:
        known, entries = self.known(), self.of_machine(machine, at)
        if entries and at is not None and not any(isinstance(one.what, e.Carded) for one in entries):
            entries += self.select(queries.entries(E.id == machine))
        return fold(machine, entries, known)

    def known(self) -> Known:
        """What the fold is given beside the entries."""
        doubtful, distrusted = self._doubts()
        return Known(
            plans=self.plans(),
            sheet=cache(self.sheet),  # a fold asks for each answer after a gate; whether others wrote is asked once
            doubtful=doubtful,
            distrusted=distrusted,
            uncounted=self.uncounted(),
        )

    def _doubts(self) -> tuple[dict[str, datetime], frozenset[str]]:
        return self.cache.get("doubtful", lambda: doubts.in_this_register(self.db))

    @property
    def written(self) -> dict[str, datetime]:
        """The entries that a clock dated which was ahead, and by when they were written."""
        return self._doubts()[0]

    def as_written(self, entries: list[e.Entry], until: datetime | None = None) -> list[e.Entry]:
        """Entries in order, up to a moment, each that a clock dated which was ahead where it was written."""
        return [one for one in as_written(entries, self.written) if until is None or one.happened <= until]

    def newest(self, machine: str, kind: str, until: datetime | None = None) -> e.Entry | None:
        """The newest entry of one kind of a machine that was not cancelled, up to a moment; None if there is none."""
        if self.written:
            found = self.as_written(self.select(queries.of_kind(machine, kind)), until)
        else:
            found = self.select(queries.newest_first(queries.of_kind(machine, kind, until)).limit(1))
        return found[-1] if found else None

    def uncounted(self) -> Uncounted:
        """What of the entries that were carried in does not count here as it stands."""
        return self.cache.get("uncounted", self._read_uncounted)

    def _read_uncounted(self) -> Uncounted:
        whys = self.db.pairs(U.select(U.entry, U.why))
        waiting, told = (frozenset(id for id, why in whys.items() if why == one) for one in ("waiting", queries.TOLD))
        return Uncounted(waiting, frozenset(whys) - waiting - told, told)

    def card_of(self, state: MachineState) -> Card:
        """The newest card of a state; the very same table is read once."""
        key = ("card of", state.machine)
        table, card = self.cache.known(key) or (None, None)
        if card is None or table is not state.card:
            card = read_card(state.card)
            self.cache.put(key, (state.card, card))
        found: Card = card
        return found

    def card(self, machine: str, at: datetime | None = None) -> Card:
        """A machine's card as it stood at a moment (None: now); before it was carded, the first one. Raises Refused."""
        cards = self.cache.get((CARDS, machine), lambda: self._read_cards(machine))
        if not cards:
            raise Refused(_("nothing is known of this machine"))
        until = [card for since, card in cards if at is None or since <= at]
        return until[-1] if until else cards[0][1]

    def _read_cards(self, machine: str) -> list[tuple[datetime, Card]]:
        """All cards of a machine in order, and since when each was in force; a move gives another place to the one
        before it."""
        either = E.kind.in_((e.Carded.kind, e.Moved.kind))
        entries = self.select(queries.in_order(queries.entries(E.machine == machine, either, queries.in_effect())))
        found: list[tuple[datetime, Card]] = []
        for one in self.as_written(entries):
            if isinstance(one.what, e.Carded):
                found.append((one.happened, read_card_text(canonical(e.to_body(one.what)))))
            elif isinstance(one.what, e.Moved) and found:
                found.append((one.happened, replace(found[-1][1], place=one.what.place)))
        return found

    def carded(self, machine: str) -> tuple[datetime, datetime] | None:
        """When a machine was carded, and when that was recorded; None where it never was."""
        return self.cache.get(("carded", machine), lambda: self._read_carded(machine))

    def _read_carded(self, machine: str) -> tuple[datetime, datetime] | None:
        rows = self.db.fetch(E.select(E.happened, E.recorded).where(E.id == machine))
        return (moment(rows[0][0]), moment(rows[0][1])) if rows else None


@lru_cache(maxsize=64)
def _plan_of(body: str) -> Plan | None:
    """The plan in the body of an entry, None for an empty one; the same text is parsed once."""
    table = parse(body)["plan"]
    return read_plan(table) if table else None


@lru_cache(maxsize=64)
def _sheet_of(body: str) -> Sheet:
    return read_sheet(parse(body)["sheet"], kept=True)


@lru_cache(maxsize=1024)
def read_card_text(body: str) -> Card:
    """The card in the body of an entry; the same text is parsed once."""
    return read_card(parse(body)["card"])


def lowered(tag: str) -> str:
    """A tag as it is looked up: the letters A to Z small, as both databases do it for this column.

    >>> lowered("R7-Éa")
    'r7-Éa'
    """
    return "".join(letter.lower() if letter.isascii() else letter for letter in tag)


def in_pages(fetch: Any, size: int) -> Iterator[list[tuple[Any, ...]]]:
    """A long table, `size` rows at a time: `fetch` takes the last row seen (None at the beginning) and gives the next
    ones, fewer than `size` where these are the last."""
    last = None
    while rows := fetch(last):
        yield rows
        if len(rows) < size:
            return
        last = rows[-1]
