"""Services, figures measured, and sets planned."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import ClassVar

from reelcare.core import units
from reelcare.core.entries.base import Context, Entry, Json, Kind, News, UpdateScope
from reelcare.core.people import Role
from reelcare.core.settings import measured_gun as measured
from reelcare.core.settings.warning_codes import CODES, refused
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.plans import Known
from reelcare.core.wording import nearest


@dataclass(frozen=True, slots=True, kw_only=True)
class Service(Kind):
    """A service done. `item` is the plan's item id; `steps` are the steps ticked off as they were worded."""

    kind: ClassVar[str] = "service"
    least_role: ClassVar[Role] = "mechanic"
    reaches: ClassVar[UpdateScope] = UpdateScope.LIMITS
    news: ClassVar[News] = "good"
    by_person: ClassVar[bool] = True
    item: str
    title: str = ""
    steps: tuple[str, ...] = ()
    supplies: str = ""
    minutes: int | None = None
    isolated: tuple[str, ...] = ()
    note: str = ""

    def problems(self, context: Context) -> Iterator[str]:
        """Its item is in the plan."""
        plan = context.plan
        known = [item.id for item in plan.items] if plan is not None else []
        if self.item not in known:
            yield f"{self.item}: not an item of this machine's plan{nearest(self.item, known)}"

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """The item, and what it covers, was done."""
        state.take_services((self.item,), entry.happened, known)

    def describe(self, system: units.System = "metric") -> str:
        """What was done."""
        return (self.title or self.item) + (f": {self.note}" if self.note else "")

    def subject(self) -> str | None:
        """Nothing."""
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured(Kind):
    """A figure measured on a machine (timing check, catch cans, speed against tape and watch), kept as found."""

    kind: ClassVar[str] = "measured"
    least_role: ClassVar[Role] = "operator"
    reaches: ClassVar[UpdateScope] = UpdateScope.LIMITS
    news: ClassVar[News] = "good"
    by_person: ClassVar[bool] = True
    about: str
    figures: Mapping[str, Json]
    note: str = ""

    def problems(self, context: Context) -> Iterator[str]:
        """Nothing speaks against it."""
        yield from ()

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """Items of the plan that are done by such a measurement were done."""
        state.take_done_by(self.about, entry.happened, known)

    def describe(self, system: units.System = "metric") -> str:
        """What was measured, with the figures that the program understands."""
        moment = datetime(1, 1, 1, tzinfo=UTC)
        told = [
            " ".join(measured.tell(name, measured.Figure(float(value), moment, self.about), system))
            for name, value in self.figures.items()
            if isinstance(value, (int, float)) and name in measured.KNOWN
        ]
        return ", ".join([self.about, *told]) + (f": {self.note}" if self.note else "")

    def subject(self) -> str | None:
        """Nothing."""
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPlanned(Kind):
    """One set planned: what was wished, as typed with units, and what walk-rounds are held to from then on.

    `planned` has the values that sheets name as `set.`; `warnings` are the codes of what was warned of.
    """

    kind: ClassVar[str] = "set-up"
    least_role: ClassVar[Role] = "operator"
    reaches: ClassVar[UpdateScope] = UpdateScope.STATE
    news: ClassVar[News] = "neutral"
    by_person: ClassVar[bool] = True
    wishes: Mapping[str, str]
    planned: Mapping[str, str]
    warnings: tuple[str, ...] = ()

    def problems(self, context: Context) -> Iterator[str]:
        """It can be."""
        code = refused(self.warnings)
        if code:
            yield f"this set cannot be kept, {CODES[code]}; change it until it holds"

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """Open checks are held to it from now on."""
        state.take_set(self.planned, entry.happened)

    def describe(self, system: units.System = "metric") -> str:
        """Pull-out, speed and inlet pressure, and what was warned of."""
        told = []
        for name, label, quantity in _OF_A_SET:
            if name in self.planned:
                value = units.read(self.planned[name], quantity)
                told.append(f"{label} {units.show(value, quantity, system)}")
        return "set planned: " + ", ".join([*told, *(f"warned of {one}" for one in self.warnings)])

    def subject(self) -> str | None:
        """Nothing."""
        return None


_OF_A_SET: tuple[tuple[str, str, units.Quantity], ...] = (
    ("pull_out", "out", "length"),
    ("planned_speed", "at", "speed"),
    ("inlet_pressure", "inlet", "pressure"),
)

KINDS: tuple[type[Kind], ...] = (Service, Measured, SetPlanned)


def newest_figures(entries: Iterable[Entry]) -> dict[str, measured.Figure]:
    """The newest of each figure measured, from entries in their order."""
    found: dict[str, measured.Figure] = {}
    for one in entries:
        if isinstance(one.what, Measured):
            for name, value in one.what.figures.items():
                if isinstance(value, (int, float)) and not isinstance(value, bool):
                    found[name] = measured.Figure(float(value), one.happened, one.what.about)
    return found
