"""Cards of machines, service plans, fields with their lanes, and the order of lanes that somebody chose."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import ClassVar

from reelcare.core import units
from reelcare.core.entries.base import Context, Entry, Json, Kind, News, UpdateScope
from reelcare.core.machine.card import CardError, read_card
from reelcare.core.night.field import LaneFileError, read_field
from reelcare.core.people import Role
from reelcare.core.service.plan_table import PlanError, read_plan
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.plans import Known


@dataclass(frozen=True, slots=True, kw_only=True)
class Carded(Kind):
    """A machine added, or its card revised; `card` is the card file's content as `card.read_card` takes it."""

    kind: ClassVar[str] = "card"
    least_role: ClassVar[Role] = "supervisor"
    reaches: ClassVar[UpdateScope] = UpdateScope.LIMITS
    news: ClassVar[News] = "good"
    before_beginning: ClassVar[bool] = True
    card: Mapping[str, Json]

    def problems(self, context: Context) -> Iterator[str]:
        """The card can be read, and its tag is no other machine's."""
        tag = str(self.card.get("tag", ""))
        if context.machine_with_tag(tag) is not None:
            yield f"tag: {tag} is another machine's already"
        try:
            read_card(self.card)
        except CardError as why:
            yield from why.problems

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """The card is in force."""
        state.take_card(self.card, entry.happened)

    def describe(self, system: units.System = "metric") -> str:
        """Tag and name."""
        return f"card of {self.card.get('tag', '')}: {self.card.get('name', '')}".rstrip(": ")

    def subject(self) -> str | None:
        """Nothing."""
        return None

    def validate_content(self) -> None:
        """The card can be read. Raises CardError."""
        read_card(self.card)


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned(Kind):
    """A service plan put in force, for one machine or (machine None) for all without one of their own."""

    kind: ClassVar[str] = "plan"
    least_role: ClassVar[Role] = "supervisor"
    reaches: ClassVar[UpdateScope] = UpdateScope.HISTORY
    news: ClassVar[News] = "good"
    for_all: ClassVar[bool] = True
    before_beginning: ClassVar[bool] = True
    plan: Mapping[str, Json]

    def problems(self, context: Context) -> Iterator[str]:
        """The plan can be read."""
        try:
            read_plan(self.plan)
        except PlanError as why:
            yield from why.problems

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """Nothing: which plan was in force when is known beside the entries."""

    def describe(self, system: units.System = "metric") -> str:
        """The plan's id and how many items it has."""
        return f"service plan {self.plan.get('id', '')}, {len(self.plan.get('items', ()))} items"

    def subject(self) -> str | None:
        """Nothing."""
        return None

    def validate_content(self) -> None:
        """The plan can be read. Raises PlanError."""
        read_plan(self.plan)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapped(Kind):
    """A field with its lanes, added or described anew; `field` is the file's content as `read_field` takes it. The one
    of the same id that was written last counts."""

    kind: ClassVar[str] = "field"
    least_role: ClassVar[Role] = "supervisor"
    reaches: ClassVar[UpdateScope] = UpdateScope.NOTHING
    news: ClassVar[News] = "neutral"
    before_beginning: ClassVar[bool] = True
    field: Mapping[str, Json]

    def problems(self, context: Context) -> Iterator[str]:
        """The field can be read."""
        try:
            read_field(self.field)
        except LaneFileError as why:
            yield from why.problems

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """Nothing: no machine is meant."""

    def describe(self, system: units.System = "metric") -> str:
        """The field's id and how many lanes it has."""
        return f"field {self.field.get('id', '')}, {len(self.field.get('lanes', ()))} lanes"

    def subject(self) -> str | None:
        """Nothing."""
        return None

    def validate_content(self) -> None:
        """The field can be read. Raises LaneFileError."""
        read_field(self.field)


@dataclass(frozen=True, slots=True, kw_only=True)
class LanesChosen(Kind):
    """The lanes that a machine takes next, one after the other, as somebody chose them; without lanes the rule of the
    night counts again. A lane is done with once it was run."""

    kind: ClassVar[str] = "lane order"
    least_role: ClassVar[Role] = "operator"
    reaches: ClassVar[UpdateScope] = UpdateScope.STATE
    news: ClassVar[News] = "neutral"
    field: str
    lanes: tuple[str, ...] = ()

    def problems(self, context: Context) -> Iterator[str]:
        """No lane is there twice."""
        twice = sorted({one for one in self.lanes if self.lanes.count(one) > 1})
        if twice:
            yield f"lanes: {', '.join(twice)} is there twice"

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """Nothing: the night is planned anew from it."""

    def describe(self, system: units.System = "metric") -> str:
        """The lanes in their order."""
        return f"next lanes of {self.field}: {', '.join(self.lanes) or 'by the rule'}"

    def subject(self) -> str | None:
        """Nothing."""
        return None


KINDS: tuple[type[Kind], ...] = (Carded, Planned, Mapped, LanesChosen)
