"""What a machine has done and what stands open on it, as its entries left it. Nothing here changes; the fold does.

A state is small whatever the length of the history; folding all entries again gives the same one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from types import MappingProxyType
from typing import Any, Literal, NamedTuple, get_args

from reelcare.core.checks.clearance import Passed
from reelcare.core.checks.limits import unread_shown
from reelcare.core.checks.verdict import LaterSet, Signature
from reelcare.core.forecast.usage_history import Use
from reelcare.core.machine.card import Season
from reelcare.core.scales import SCALES, By, ScalePoint
from reelcare.core.service import due
from reelcare.core.service.due import Cycle
from reelcare.core.service.due_line import ENDS_SHORTLY, Assignment
from reelcare.core.service.plan import Item
from reelcare.core.state import counters as counting
from reelcare.core.state.counters import Counters, Totals
from reelcare.core.text import _, current_language, mark

Side = Literal["run", "road"]
SIDES: tuple[Side, ...] = get_args(Side)
"""What a machine can be clear for."""
Holds = Literal["", "run", "road", "both"]
"""What a fault holds now."""
ENDS_BY = {
    "place": mark("move on, or change arc, lane or hydrant, and look again"),
    "adjustment": mark("put it right, and answer again"),
    "passing": mark("wait, and look again on the spot"),
}
"""What ends a hold that a right answer ends."""
FaultStatus = Literal["open", "repaired", "re-tested"]
Order = tuple[datetime, datetime, str]
"""The place of an entry among others: when it happened, when it was recorded, its id."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultContent:
    """What a fault says, in its entry and while it is open.

    `holds` is what it holds now; `fix_by_*` are life totals (seconds, millimetres, runs) or a day (ISO text) from which
    on it holds run and road by itself. `retest` says what must be tried again before a release.
    `owner` is '' for the machine's own; a hold of the place, of an adjustment or of what passes ends by a right answer.
    `says` and `retest` are English, or as somebody typed them; `..._by_language` have them in the other languages of
    the sheet that gave them.
    """

    part: str
    says: str
    holds: Holds = ""
    fix_by_seconds: int | None = None
    fix_by_millimetres: int | None = None
    fix_by_runs: int | None = None
    fix_by_day: str | None = None
    check: str = ""
    question: str = ""
    retest: str = ""
    owner: Literal["", "place", "adjustment", "passing"] = ""
    says_by_language: Mapping[str, str] = field(default_factory=dict, hash=False)
    retest_by_language: Mapping[str, str] = field(default_factory=dict, hash=False)

    @property
    def shown(self) -> str:
        """What it says, in the person's language where its sheet has it."""
        kept = self.says_by_language.get(current_language())
        return self.says if kept is None else unread_shown(kept)

    @property
    def of_part(self) -> str:
        """What it says, and of which part; the part once, where what it says begins with it."""
        part, says = _(self.part), self.shown
        return says if says.casefold().startswith(f"{part}:".casefold()) else f"{part}: {says}"

    @property
    def retest_shown(self) -> str:
        """What must be tried again, in the person's language."""
        return self.retest_by_language.get(current_language()) or _(self.retest)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenFault(FaultContent):
    """A fault that has not been released. `moved` says that the machine's place or its set changed since."""

    id: str
    since: datetime
    by: str
    status: FaultStatus = "open"
    moved: bool = False

    @property
    def waits_for(self) -> Literal["repair", "re-test", "release"]:
        """The next step towards its end: a repair, the re-test that it names, or the release."""
        if self.status == "open":
            return "repair"
        return "re-test" if self.status == "repaired" and self.retest else "release"

    @property
    def sides(self) -> tuple[Side, ...]:
        """What it holds the machine for now."""
        return SIDES if self.holds == "both" else (self.holds,) if self.holds else ()

    @property
    def ends_with(self) -> str:
        """What ends it, or comes next towards its end, in a word or two."""
        return ENDS_SHORTLY[self.owner] if self.owner and self.status == "open" else self.waits_for

    @property
    def ends_by_answer(self) -> bool:
        """Whether a right answer to its question ends it; else it takes repair, re-test and release."""
        return bool(self.owner)

    def left(self, totals: Totals, today: date) -> list[tuple[By, int]]:
        """What is left of its fix-by limits: ("hours", s), ("metres", mm), ("runs", runs), ("date", days)."""
        day = date.fromisoformat(self.fix_by_day).toordinal() if self.fix_by_day else None
        found: list[tuple[By, int | None, int]] = [
            ("hours", self.fix_by_seconds, totals.seconds),
            ("metres", self.fix_by_millimetres, totals.millimetres),
            ("runs", self.fix_by_runs, totals.runs),
            ("date", day, today.toordinal()),
        ]
        return [(by, limit - now) for by, limit, now in found if limit is not None]

    def lapsed(self, totals: Totals, today: date) -> bool:
        """Whether its fix-by limit has been reached, so that it holds by itself."""
        return any(left <= 0 for _, left in self.left(totals, today))

    def forbids_a_run(self, totals: Totals, today: date) -> bool:
        """Whether it holds the machine for a run."""
        return self.holds in ("run", "both") or self.lapsed(totals, today)

    def is_overdue(self, totals: Totals, today: date) -> bool:
        """Whether it is past its fix-by limit."""
        return any(left < 0 for _, left in self.left(totals, today))


class OpenNote(NamedTuple):
    """A remark on a machine that is no fault, shown until it is read or its day (ISO text) has passed. A near miss is
    for the supervisor."""

    id: str
    says: str
    since: datetime
    by: str
    until: str = ""
    near_miss: bool = False

    def is_shown(self, today: date) -> bool:
        """Whether its day has not passed."""
        return not self.until or today <= date.fromisoformat(self.until)


class Retirement(NamedTuple):
    """When and why a machine left the yard for good."""

    at: datetime
    why: str


class Answer(NamedTuple):
    """An answer as its check needs it to be judged: the question, what was seen, when, the id of its entry, by whom."""

    question: str
    seen: str
    at: datetime
    id: str
    by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenCheck:
    """A walk-round that was begun and has not been ended, with all that it is judged by when it is signed.

    `sheet` is the sheet's id, `kept_sheet` the entry that keeps it as it was asked, `card` the card of that time. One
    that `follows_set` is held to the `sets` kept after it was begun; one that is `told` was begun by somebody whom
    nobody here has accepted, or before the machine was made ready otherwise: nobody goes on with it, and it permits
    nothing.
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
    follows_set: bool = False
    sets: tuple[LaterSet, ...] = ()
    signed: tuple[Signature, ...] = ()
    told: bool = False


class WholeCheck(NamedTuple):
    """A whole check that was passed lately, from which a second run on the same set can go on."""

    kept_sheet: str
    at: datetime


class ToldScales(NamedTuple):
    """What is told of the use on the scales of totals (s, mm, runs) by people whom nobody here has accepted.

    `extra` are their runs since a counter was read here, beside what is signed for here; `shown` is the greatest life
    total by their readings, with all runs after it. Kept apart (a sum, and a maximum), nothing that is told takes
    anything from something else that is.
    """

    extra: Totals = Totals()
    shown: Totals = Totals()

    def after_run(self, more: Totals, whole: Totals) -> ToldScales:
        """After a run, of which so much is `more` than what the counters here know."""
        grown = zip(self.shown, whole, strict=True)
        return ToldScales(_added(self.extra, more), Totals(*(old + new if old else 0 for old, new in grown)))

    def after_reading(self, scale: int, life: int) -> ToldScales:
        """After a reading of theirs that shows this life total on one of the scales."""
        return self._replace(shown=_put(self.shown, scale, max(self.shown[scale], life)))

    def settled(self, scale: int) -> ToldScales:
        """After a reading here: it knows what all runs before it did."""
        return self._replace(extra=_put(self.extra, scale, 0))

    def over(self, signed: Totals) -> Totals:
        """The totals by what is signed for here and what is told, the greater on each scale."""
        return Totals(*map(max, _added(signed, self.extra), self.shown))


def _added(one: Totals, other: Totals) -> Totals:
    return Totals(*map(int.__add__, one, other))


def _put(values: Totals, place: int, value: int) -> Totals:
    return Totals(*(value if at == place else old for at, old in enumerate(values)))


class ToldUse(NamedTuple):
    """What is told of a machine's use: of all of it, and of each item that was done since, from there on."""

    all: ToldScales = ToldScales()
    items: Mapping[str, ToldScales] = MappingProxyType({})

    def of(self, item: str) -> ToldScales:
        """What counts for an item."""
        return self.items.get(item, self.all)

    def each(self, change: Callable[[ToldScales], ToldScales]) -> ToldUse:
        """All of it changed in one way."""
        return ToldUse(change(self.all), MappingProxyType({id: change(one) for id, one in self.items.items()}))

    def done(self, items: Iterable[str]) -> ToldUse:
        """After these items were done: of what was told before, nothing counts for them."""
        return self._replace(items=MappingProxyType(dict(self.items) | dict.fromkeys(items, ToldScales())))


class PulledOut(NamedTuple):
    """The check by whose gates the hose was pulled out and the water opened, its sheet, and when; a run that was
    stopped half-way goes on from it until the hose is home."""

    check: str
    sheet: str
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
    given: Mapping[str, Assignment] = field(default_factory=dict)
    """To whom services (by item) and faults (by id) are given."""
    notes: tuple[OpenNote, ...] = ()
    out: PulledOut | None = None
    retired: Retirement | None = None
    last_check: datetime | None = None
    last_run: datetime | None = None
    use: Use = field(default_factory=Use)
    last: Order | None = None
    told: ToldUse | None = None

    @property
    def open_checks(self) -> tuple[OpenCheck, ...]:
        """The checks that somebody here can go on with."""
        return tuple(one for one in self.checks if not one.told)

    @property
    def totals(self) -> Totals:
        """Life totals as they stand: of what is signed for here and what is only told, the greater."""
        signed = counting.totals(self.counters)
        return self.told.all.over(signed) if self.told is not None else signed

    def fault(self, id: str) -> OpenFault | None:
        """The open fault of this id."""
        return next((one for one in self.faults if one.id == id), None)

    def point(self, day: date) -> ScalePoint:
        """Where the machine stands on the scales of its intervals."""
        return ScalePoint(day, *self.totals)

    @property
    def known_use(self) -> tuple[By, ...]:
        """The scales on which the use since the day on the card is known."""
        return known_use(self.card, self.began, self.counters)

    @property
    def least(self) -> tuple[By, ...]:
        """The scales on which the life total is only a least: what was counted here, as nobody knows the use before."""
        if self.known_use == SCALES:
            return ()
        return tuple(by for by in SCALES if by not in (*self.counters.known, "date"))

    def cycle(self, item: Item) -> Cycle:
        """How far an item's interval has come: as it was left, or a first one from the machine's beginning."""
        return cycle_of(item, self.cycles, first_point(self.began, self.card), self.card)


UNSEEN = 31
"""Days of use before the first entry of a machine that need no reading (common practice, no source)."""


def known_use(card: Mapping[str, Any], began: date, counters: Counters) -> tuple[By, ...]:
    """The scales on which the use of a machine since the day on its card is known: all where its history begins with
    it, else those of the counters that were read; none where the card names no day."""
    if not card.get("in_use_since"):
        return ()
    if (began - first_point(began, card).day).days <= UNSEEN:
        return SCALES
    return (*counters.known, "date")


def season_of(card: Mapping[str, Any]) -> Season:
    """When the season opens and closes, as a card says."""
    plain = card.get("season") or {}
    return Season(plain.get("opens"), plain.get("closes"))


def first_point(began: date, card: Mapping[str, Any]) -> ScalePoint:
    """Where a machine stood when its use began: on the day and at the counters that its card says, else on the day on
    which its history begins, with nothing done.

    >>> first_point(date(2026, 5, 1), {"in_use_since": "2024-04-01", "in_use": {"hours": 2.5}})
    ScalePoint(day=datetime.date(2024, 4, 1), seconds=9000, millimetres=0, runs=0)
    """
    since, then = card.get("in_use_since"), card.get("in_use") or {}
    day = date.fromisoformat(str(since).strip()[:10]) if since else began
    return ScalePoint(
        day, round(then.get("hours", 0) * 3600), round(then.get("metres", 0) * 1000), int(then.get("runs", 0))
    )


def kept_cycle(item: Item, cycles: Mapping[str, Cycle]) -> Cycle | None:
    """The cycle of an item as it was left; until it or what it was split from is done under a plan that has both, that
    of an item it was split from, the last done."""
    if item.id in cycles or not item.was:
        return cycles.get(item.id)
    former = [cycles[one] for one in item.was if one in cycles]
    return max(former, key=lambda one: one.last_done or date.min, default=None)


def cycle_of(item: Item, cycles: Mapping[str, Cycle], start: ScalePoint, card: Mapping[str, Any]) -> Cycle:
    """How far an item has come by the plan and card in force: where nothing was done, from where the machine's use
    began, whatever was repaired since."""
    kept = kept_cycle(item, cycles)
    season = season_of(card) if item.on else None
    if kept is not None and kept.last_done is not None:
        return due.in_force(item, kept, season)
    first = due.begin(item, start, season)
    return first if kept is None else first._replace(again=kept.again)
