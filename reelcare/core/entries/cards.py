"""Cards of machines and service plans."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import ClassVar

from reelcare.core import units
from reelcare.core.entries.base import Context, Entry, Json, Kind, News, UpdateScope, WaitsFor
from reelcare.core.machine.card import CardError, read_card
from reelcare.core.people import Role
from reelcare.core.service.plan_table import PlanError, read_plan
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.plans import Known
from reelcare.core.text import _, plural


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
            yield _("tag: {tag} is another machine's already", tag=tag)
        try:
            read_card(self.card)
        except CardError as why:
            yield from why.problems

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """The card is in force."""
        state.take_card(self.card, entry.happened)

    def describe(self, system: units.System = "metric") -> str:
        """Tag and name."""
        return _("card of {tag}: {name}", tag=self.card.get("tag", ""), name=self.card.get("name", "")).rstrip(": ")

    def subject(self) -> str | None:
        """Nothing."""
        return None

    def waits_for(self, entry: Entry) -> WaitsFor:
        """A new machine waits for nothing; a revised card for a name."""
        return "" if entry.id == entry.machine else "name"

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
        return plural(
            "service plan {plan}, {n} item",
            "service plan {plan}, {n} items",
            len(self.plan.get("items", ())),
            plan=self.plan.get("id", ""),
        )

    def subject(self) -> str | None:
        """Nothing."""
        return None

    def validate_content(self) -> None:
        """The plan can be read. Raises PlanError."""
        read_plan(self.plan)


KINDS: tuple[type[Kind], ...] = (Carded, Planned)
