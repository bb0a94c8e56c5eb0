"""What every kind of entry is: its fields, and beside them all that the program must know of it.

The rules of this file: the class of a kind is its specification. A kind says who may write it, what it changes, what
kind of news it is, what speaks against writing it, what it does to a machine's state, and how the book describes it;
whatever treats all kinds goes through `KINDS`. Exact quantities are whole numbers: seconds, millimetres, pascals,
millimetres an hour. Times are aware and in UTC.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from enum import IntEnum
from typing import Any, ClassVar, Literal, NamedTuple, Protocol

from reelcare.core import units
from reelcare.core.machine.card import Card
from reelcare.core.people import Role
from reelcare.core.service.plan import Plan
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.machine_state import MachineState, Order
from reelcare.core.state.plans import Known
from reelcare.core.text import _
from reelcare.core.timestamps import day_of

Json = Any
News = Literal["good", "bad", "neutral"]
WaitsFor = Literal["", "person", "name"]
"""What an entry that another register wrote waits for in this one: nothing, that its author is a person of this
register with the role, or that somebody accepts it by name."""
SHORTEST_WHY = 3
"""Characters of the shortest reason."""


class EntryError(ValueError):
    """An entry that cannot be: the message names the place and what would be right."""


class UpdateScope(IntEnum):
    """How much of what is derived from a machine's entries one more entry can change; each scope holds those before."""

    NOTHING = 0
    """No machine: people, and sheets as they were asked."""
    STATE = 1
    """The state alone: how far an open check is. What the machine is judged by stays."""
    LIMITS = 2
    """What the machine is judged by, too."""
    HISTORY = 3
    """What earlier entries did: the machine, or all of them, must be folded again."""


class Kind:
    """One kind of thing that happens. Sub-classes are frozen dataclasses of plain fields, and say all that is not
    said here."""

    kind: ClassVar[str]
    """The name under which it is kept."""
    least_role: ClassVar[Role]
    """The least role that may write it (common practice, no source)."""
    reaches: ClassVar[UpdateScope]
    """What one more of it can change."""
    news: ClassVar[News]
    """"good" where it can end or weaken a hold or a limit, "bad" where it warns or holds, else "neutral"."""
    by_person: ClassVar[bool] = False
    """Whether it counts in another register too where a person of that register with the role signed it; good news
    that is not waits there for a name each time."""
    witnessed: ClassVar[bool] = False
    """Whether the heads of the chains are witnessed at once after it: what somebody's safety rests on."""
    for_all: ClassVar[bool] = False
    """Whether it bears on people and plans, that is on entries of any machine."""
    before_beginning: ClassVar[bool] = False
    """Whether it may be dated before the machine's own beginning."""
    after_retirement: ClassVar[bool] = False
    """Whether it may be written of a machine that has left the yard."""
    looked_up_by: ClassVar[str] = ""
    """The field by which it is looked up, where one is; see `subject`."""

    def problems(self, context: Context) -> Iterator[str]:
        """What speaks against writing it, each with its cure; the rule of time is in `admission.py`. Nothing, where a
        kind says no more: an answer, or a signature of a check, is judged again in the fold."""
        yield from ()

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """Do to the state of the entry's machine what it does; a kind that reaches nothing need not say so."""
        if self.reaches is not UpdateScope.NOTHING:
            raise NotImplementedError

    def describe(self, system: units.System = "metric") -> str:
        """What happened, in one line and in the reader's units."""
        raise NotImplementedError

    def subject(self) -> str | None:
        """What it is looked up by: the id of the entry that it is about, or the digest of what it keeps; None where
        nobody looks for it."""
        return getattr(self, self.looked_up_by) if self.looked_up_by else None

    def waits_for(self, entry: Entry) -> WaitsFor:
        """What it waits for in a register that did not write it: bad news counts at once, good news needs a name."""
        if self.by_person:
            return "person"
        return "name" if self.news == "good" else ""

    def apply_waiting(self, state: FoldState, entry: Entry, known: Known) -> None:
        """Do what is bad news of it, while the rest waits to be accepted: nothing, where a kind says no more."""

    def span(self, happened: datetime) -> tuple[datetime, datetime]:
        """The first and the last moment that it speaks of."""
        return happened, happened

    def validate_content(self) -> None:
        """What `bodies.validate` asks of this kind beyond the types of its fields. Raises ValueError."""


class Entry(NamedTuple):
    """One line of the register: the envelope around a `Kind`. A tuple, as millions are made.

    `machine` is the id of the entry that first carded it, or None where no one machine is meant.
    """

    id: str
    machine: str | None
    happened: datetime
    recorded: datetime
    terminal: str
    by: str
    what: Kind

    @property
    def order(self) -> Order:
        """The order in which entries are read: as things happened, then as they were recorded."""
        return (self.happened, self.recorded, self.id)


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """Something to be written: what happened, to which machine (its id), when."""

    what: Kind
    happened: datetime
    machine: str | None = None
    id: str = ""
    """The id that was drawn for it before, where something else names it; a new one where nothing does."""


class RunSpan(Protocol):
    """When a run was."""

    @property
    def started(self) -> datetime: ...
    @property
    def ended(self) -> datetime: ...


class Context(Protocol):
    """What a check may ask around an entry. Each is worked out only where a kind asks for it."""

    @property
    def at(self) -> datetime:
        """When it happened."""

    @property
    def now(self) -> datetime:
        """When it is written."""

    @property
    def zone(self) -> tzinfo:
        """Where the machines stand."""

    @property
    def machine(self) -> str | None:
        """The machine's id; None where no one machine is meant, and for a first card."""

    @property
    def state(self) -> MachineState | None:
        """The machine as it stood then; None where nothing is known of it."""

    @property
    def card(self) -> Card | None:
        """The machine's newest card."""

    def card_at(self, moment: datetime) -> Card | None:
        """The card that was in force at a moment; before the first one, that. None where there is none."""

    @property
    def plan(self) -> Plan | None:
        """The plan in force for the machine then."""

    @property
    def in_use_since(self) -> date | None:
        """The day before which nothing can have happened: the card's, or that of a carding that was dated back."""

    @property
    def carded(self) -> datetime | None:
        """When the machine was first carded."""

    @property
    def fastest(self) -> int:
        """The fastest that a hose comes home [mm/h], over a whole run."""

    @property
    def roles(self) -> Mapping[str, str]:
        """Everybody enrolled now, with their role."""

    def run_after(self, moment: datetime) -> RunSpan | None:
        """The machine's first run that counts and ended after a moment."""

    def machine_with_tag(self, tag: str) -> str | None:
        """The id of another machine that has this tag."""

    def entry(self, id: str) -> Entry | None:
        """The entry of this very id."""

    def moved_to(self, correction: str) -> str | None:
        """The tag of the machine on which an entry counts that was written again together with the correction that took
        it back, or was moved on from there."""

    def is_in_newest_plan(self, item: str) -> bool:
        """Whether the machine's plan of today has this item."""

    def is_cancelled(self, id: str) -> bool:
        """Whether a correction of this entry stands."""


def day_problems(name: str, text: str, context: Context) -> Iterator[str]:
    """What is wrong with a day (ISO text) by which something is to be: it is none, or it is past."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        yield _("{option}: {text!r} is not a day such as 2026-05-31", option=name, text=text)
        return
    if day < day_of(context.at, context.zone):
        yield _("{option}: {day} is already past", option=name, day=day)
