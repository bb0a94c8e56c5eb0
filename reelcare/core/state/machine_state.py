"""What a machine has done and what stands open on it, as its entries left it. Nothing here changes; the fold does.

A state is small whatever the length of the history; folding all entries again gives the same one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Literal, NamedTuple

from reelcare.core.forecast.usage_history import Use
from reelcare.core.machine.card import Season
from reelcare.core.scales import ScalePoint
from reelcare.core.service import due
from reelcare.core.service.due import Cycle
from reelcare.core.service.plan import Item
from reelcare.core.state import counters as counting
from reelcare.core.state.counters import Counters, Totals

Holds = Literal["", "run", "road", "both"]
"""What a fault holds now."""
FaultStatus = Literal["open", "repaired", "re-tested"]
Order = tuple[datetime, datetime, str]
"""The place of an entry among others: when it happened, when it was recorded, its id."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenFault:
    """A fault that has not been released.

    `fix_by_*` are life totals (s, mm, runs) or a day (ISO text) from which on it holds run and road by itself.
    """

    id: str
    part: str
    says: str
    since: datetime
    by: str
    holds: Holds = ""
    fix_by_seconds: int | None = None
    fix_by_millimetres: int | None = None
    fix_by_runs: int | None = None
    fix_by_day: str | None = None
    check: str = ""
    question: str = ""
    retest: str = ""
    status: FaultStatus = "open"

    def left(self, totals: Totals, today: date) -> list[tuple[str, int]]:
        """What is left of its fix-by limits: ("hours", s), ("metres", mm), ("runs", runs), ("date", days)."""
        day = date.fromisoformat(self.fix_by_day).toordinal() if self.fix_by_day else None
        found = [
            ("hours", self.fix_by_seconds, totals.seconds),
            ("metres", self.fix_by_millimetres, totals.millimetres),
            ("runs", self.fix_by_runs, totals.runs),
            ("date", day, today.toordinal()),
        ]
        return [(by, limit - now) for by, limit, now in found if limit is not None]

    def lapsed(self, totals: Totals, today: date) -> bool:
        """Whether its fix-by limit has been reached, so that it holds by itself."""
        return any(left <= 0 for _, left in self.left(totals, today))


class Answer(NamedTuple):
    """An answer as its check needs it to be judged: the question, what was seen, when, and the id of its entry."""

    question: str
    seen: str
    at: datetime
    id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenCheck:
    """A walk-round that was begun and has not been ended, with all that it is judged by when it is signed.

    `sheet` is the sheet's id, `kept_sheet` the entry that keeps it as it was asked, `card` the card of that time.
    """

    id: str
    sheet: str
    kept_sheet: str
    checks_for: str
    begun: datetime
    by: str
    card: Mapping[str, Any]
    language: str = "en"
    left_out: tuple[str, ...] = ()
    planned: Mapping[str, str] = field(default_factory=dict)
    again_of: str = ""
    answers: tuple[Answer, ...] = ()

    @property
    def answered(self) -> datetime | None:
        """When the last answer was given."""
        return self.answers[-1].at if self.answers else None


@dataclass(frozen=True, slots=True)
class Passed:
    """The last check for the run or the road that its own answers bear out, and what has used it up since."""

    check: str
    sheet: str
    at: datetime
    by: str
    spent: datetime | None = None
    spent_by: str = ""


class WholeCheck(NamedTuple):
    """A whole check that was passed lately, from which a second run on the same set can go on."""

    kept_sheet: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineState:
    """Everything that decides what a machine may do and needs, worked out from its entries.

    `early` are answers to checks that are not open, of the last hours: a terminal's clock can be behind another's.
    """

    machine: str
    began: date
    card: Mapping[str, Any] = field(default_factory=dict)
    counters: Counters = field(default_factory=Counters)
    cycles: Mapping[str, Cycle] = field(default_factory=dict)
    faults: tuple[OpenFault, ...] = ()
    checks: tuple[OpenCheck, ...] = ()
    early: Mapping[str, tuple[Answer, ...]] = field(default_factory=dict)
    passed: Mapping[str, Passed] = field(default_factory=dict)
    whole: Mapping[str, WholeCheck] = field(default_factory=dict)
    last_check: datetime | None = None
    last_run: datetime | None = None
    use: Use = field(default_factory=Use)
    last: Order | None = None

    @property
    def totals(self) -> Totals:
        """Life totals as they stand."""
        return counting.totals(self.counters)

    @property
    def season(self) -> Season:
        """When the season opens and closes, as the card says."""
        return season_of(self.card)

    def fault(self, id: str) -> OpenFault | None:
        """The open fault of this id."""
        return next((one for one in self.faults if one.id == id), None)

    def point(self, day: date) -> ScalePoint:
        """Where the machine stands on the scales of its intervals."""
        totals = self.totals
        return ScalePoint(day, totals.seconds, totals.millimetres, totals.runs)

    def cycle(self, item: Item) -> Cycle:
        """How far an item's interval has come: as it was left, or a first one from the machine's beginning."""
        return self.cycles.get(item.id) or first_cycle(item, self.began, self.card)


def season_of(card: Mapping[str, Any]) -> Season:
    """When the season opens and closes, as a card says."""
    plain = card.get("season") or {}
    return Season(plain.get("opens"), plain.get("closes"))


def first_cycle(item: Item, began: date, card: Mapping[str, Any]) -> Cycle:
    """The first cycle of an item: from the day on which the machine's history begins, with nothing done."""
    return due.begin(item, ScalePoint(began), season_of(card) if item.on else None)
