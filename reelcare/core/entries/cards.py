"""Cards of machines, service plans, fields with their lanes, and the order of lanes that somebody chose."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta

from reelcare.core import units
from reelcare.core.entries.base import SHORTEST_WHY, Context, Entry, Json, Kind, UpdateScope, WaitsFor
from reelcare.core.machine.card import CardError, read_card
from reelcare.core.machine.tag import ALL
from reelcare.core.service.plan_table import PlanError, read_plan
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.machine_state import Retirement
from reelcare.core.state.plans import Known
from reelcare.core.text import _, plural
from reelcare.core.timestamps import day_of

A_YEAR = timedelta(days=366)
"""How far ahead the day can be since which a machine is in use: until then nothing of it is due."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Carded(Kind):
    """A machine added, or its card revised; `card` is the card file's content as `card.read_card` takes it."""

    kind = "card"
    least_role = "supervisor"
    reaches = UpdateScope.LIMITS
    news = "good"
    before_beginning = True
    card: Mapping[str, Json]

    def problems(self, context: Context) -> Iterator[str]:
        """The card can be read, and its tag is no other machine's, nor what stands for all of them."""
        tag = str(self.card.get("tag", ""))
        named = context.state.card.get("tag") if context.state is not None else None
        if tag.casefold() == ALL and tag != named:
            yield _("tag: {tag} means every machine; choose another", tag=tag)
        if context.machine_with_tag(tag) is not None:
            yield _("tag: {tag} is another machine's already", tag=tag)
        try:
            since = read_card(self.card).in_use_since
        except CardError as why:
            yield from why.problems
            return
        if since is not None and since > day_of(context.now, context.zone) + A_YEAR:
            yield _("in_use_since: {day} is more than a year ahead; look at the year", day=since)

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        state.take_card(self.card, entry.happened)

    def describe(self, system: units.System = "metric") -> str:
        return _("card of {tag}: {name}", tag=self.card.get("tag", ""), name=self.card.get("name", "")).rstrip(": ")

    def waits_for(self, entry: Entry) -> WaitsFor:
        """A new machine waits for nothing; a revised card for a name."""
        return "" if entry.id == entry.machine else "name"

    def validate_content(self) -> None:
        read_card(self.card)


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned(Kind):
    """A service plan put in force, for one machine or (machine None) for all without one of their own. An empty plan
    gives a machine back to the one for all."""

    kind = "plan"
    least_role = "supervisor"
    reaches = UpdateScope.HISTORY
    news = "good"
    for_all = True
    before_beginning = True
    plan: Mapping[str, Json]

    def problems(self, context: Context) -> Iterator[str]:
        """The plan can be read; only a machine is given back to the plan for all."""
        if not self.plan:
            if context.machine is None:
                yield _("plan: empty; the plan for all machines is never taken away")
            return
        try:
            read_plan(self.plan)
        except PlanError as why:
            yield from why.problems

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """Nothing: which plan was in force when is known beside the entries."""

    def describe(self, system: units.System = "metric") -> str:
        if not self.plan:
            return _("back to the service plan for all machines")
        return plural(
            "service plan {plan}, {n} item",
            "service plan {plan}, {n} items",
            len(self.plan.get("items", ())),
            plan=self.plan.get("id", ""),
        )

    def validate_content(self) -> None:
        if self.plan:
            read_plan(self.plan)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved(Kind):
    """A machine brought to another place; its card is otherwise as it was."""

    kind = "moved"
    least_role = "operator"
    reaches = UpdateScope.LIMITS
    news = "neutral"
    by_person = True
    place: str

    def problems(self, context: Context) -> Iterator[str]:
        """A place is given, and it is not where the machine stands now."""
        if not self.place:
            yield _("place: empty; say where the machine stands now")
        elif context.state is not None and context.state.card.get("place", "") == self.place:
            yield _("place: it is at {place} already", place=self.place)

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        if state.card:
            state.take_card({**state.card, "place": self.place}, entry.happened)

    def describe(self, system: units.System = "metric") -> str:
        return _("moved to {place}", place=self.place)


@dataclass(frozen=True, slots=True, kw_only=True)
class Retired(Kind):
    """A machine that left the yard for good: sold or scrapped. It stays in the record; cancelled, it is there again."""

    kind = "retired"
    least_role = "supervisor"
    reaches = UpdateScope.LIMITS
    news = "good"
    why: str

    def problems(self, context: Context) -> Iterator[str]:
        if len(self.why) < SHORTEST_WHY:
            yield _("why: say in a few words why the machine leaves the yard")

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        state.retired = Retirement(entry.happened, self.why)

    def describe(self, system: units.System = "metric") -> str:
        return _("left the yard: {why}", why=self.why)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapped(Kind):
    """A field with its lanes, added or changed; `field` is the file's content as `read_field` takes it. The one
    of the same id that was written last counts."""

    kind = "field"
    least_role = "supervisor"
    reaches = UpdateScope.NOTHING
    news = "neutral"
    by_person = True
    before_beginning = True
    field: Mapping[str, Json]

    def problems(self, context: Context) -> Iterator[str]:
        from reelcare.core.night.field import LaneFileError, read_field  # only those who write a field need it

        try:
            read_field(self.field)
        except LaneFileError as why:
            yield from why.problems

    def describe(self, system: units.System = "metric") -> str:
        lanes = len(self.field.get("lanes", ()))
        return plural("field {id}, {n} lane", "field {id}, {n} lanes", lanes, id=self.field.get("id", ""))

    def validate_content(self) -> None:
        from reelcare.core.night.field import read_field

        read_field(self.field)


@dataclass(frozen=True, slots=True, kw_only=True)
class LanesChosen(Kind):
    """The lanes that a machine takes next, one after the other, as somebody chose them; without lanes the rule of the
    night counts again. A lane is done with once it was run."""

    kind = "lane order"
    least_role = "operator"
    reaches = UpdateScope.STATE
    news = "neutral"
    by_person = True
    field: str
    lanes: tuple[str, ...] = ()

    def problems(self, context: Context) -> Iterator[str]:
        twice = sorted({one for one in self.lanes if self.lanes.count(one) > 1})
        if twice:
            yield _("lanes: {lanes} is there twice", lanes=", ".join(twice))

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """Nothing: the night is planned again from it."""

    def describe(self, system: units.System = "metric") -> str:
        lanes = ", ".join(self.lanes) or _("by the rule")
        return _("next lanes of {field}: {lanes}", field=self.field, lanes=lanes)


KINDS: tuple[type[Kind], ...] = (Carded, Planned, Moved, Retired, Mapped, LanesChosen)
