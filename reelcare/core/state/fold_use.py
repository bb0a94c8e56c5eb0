"""What a machine has done, while entries are folded into it: card, counters, runs and services.

`fold_state.py` has the rest of it, checks, faults and notes, and the rules of both.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass, field, replace
from datetime import date, datetime, tzinfo
from typing import Any

from reelcare.core.checks.clearance import Passed
from reelcare.core.forecast.usage_history import GrowingUse
from reelcare.core.scales import ScalePoint
from reelcare.core.service import due
from reelcare.core.service.due import Cycle
from reelcare.core.service.due_line import Assignment
from reelcare.core.service.plan import Item, Plan
from reelcare.core.state import counters as counting
from reelcare.core.state.counters import CounterReading, Counters, Totals
from reelcare.core.state.machine_state import (
    Answer,
    OpenCheck,
    OpenFault,
    OpenNote,
    PulledOut,
    Retirement,
    ToldUse,
    WholeCheck,
    cycle_of,
)
from reelcare.core.state.plans import Known
from reelcare.core.timestamps import day_of

_SCALE = {"hours": 0, "metres": 1}


@dataclass(slots=True, kw_only=True)
class FoldedUse:
    """The fields of a machine's state in the fold, and its use. `first_card` is what a check before the first carding
    is judged by."""

    machine: str
    began: date
    start: ScalePoint
    """Where it stood when its use began, by `last_card`."""
    first_card: Mapping[str, Any]
    last_card: Mapping[str, Any] = field(default_factory=dict)
    """The newest card of all entries: since when the machine is in use is judged by that alone."""
    card: Mapping[str, Any] = field(default_factory=dict)
    counters: Counters = field(default_factory=Counters)
    cycles: dict[str, Cycle] = field(default_factory=dict)
    faults: dict[str, OpenFault] = field(default_factory=dict)
    checks: dict[str, OpenCheck] = field(default_factory=dict)
    answers: dict[str, list[Answer]] = field(default_factory=dict)
    passed: dict[str, Passed] = field(default_factory=dict)
    whole: dict[str, WholeCheck] = field(default_factory=dict)
    given: dict[str, Assignment] = field(default_factory=dict)
    notes: dict[str, OpenNote] = field(default_factory=dict)
    out: PulledOut | None = None
    retired: Retirement | None = None
    last_check: datetime | None = None
    last_run: datetime | None = None
    use: GrowingUse = field(default_factory=GrowingUse)
    told: ToldUse | None = None

    # the card and the counters

    def take_card(self, card: Mapping[str, Any], at: datetime) -> None:
        """Another card is in force; a check begun at that very moment is judged by it. At another place nothing that
        was seen for a run stands any more: lines, ground, hydrant, feet; and a road check was for the one move."""
        if self.card and card.get("place") != self.card.get("place"):
            self._move_on()
            self.out = None
            for side in self.passed:
                self._spend(side, at, "the move")
            self.whole.clear()  # a second run is one on the same hydrant
            for check in list(self.checks.values()):
                if check.checks_for == "run":
                    del self.checks[check.id]
                    self.answers.pop(check.id, None)
        self.card = card
        for one in self.checks.values():
            if one.begun == at:
                self.checks[one.id] = replace(one, card=card)

    def take_reading(self, reading: CounterReading, at: datetime, *, sure: bool = True) -> None:
        """A counter was read, at a time that is `sure` or by a clock that was ahead. One that cannot be counts for
        nothing: two terminals that were apart can each have read what the other's reading contradicts; it stays in the
        book, and `contradicted` names it."""
        try:
            self.counters = counting.after_reading(self.counters, reading, at, sure=sure)
        except counting.CounterError:
            return
        if self.told is not None and reading.change != "new counter":  # nobody has read the old one
            self.told = self.told.each(lambda one: one.settled(_SCALE[reading.counter]))

    def tell_reading(self, reading: CounterReading) -> None:
        """A counter was read by somebody whom nobody here has accepted: it counts where it shows more. That one is new
        or rolled over waits until they are."""
        count = self.counters.hours if reading.counter == "hours" else self.counters.metres
        more = reading.value - (count.shown or 0)
        if not reading.change and more >= 0:
            life = more + (count.settled if count.shown is not None else 0)
            self.told = (self.told or ToldUse()).each(lambda one: one.after_reading(_SCALE[reading.counter], life))

    def take_run(
        self, started: datetime, ended: datetime, metres: int, zone: tzinfo, *, half_way: bool, over: datetime
    ) -> None:
        """A run of `metres` [mm]; it uses up every check that was passed before it was `over`, which is earlier than it
        `ended` by a clock that was ahead. One that ended `half_way` left its hose out."""
        self.counters = counting.after_run(self.counters, started, ended, metres)
        if self.told is not None:
            self._tell_use(Totals(), started, ended, metres)
        self._end_run(started, ended, metres, zone, half_way, over)

    def tell_run(
        self, started: datetime, ended: datetime, metres: int, zone: tzinfo, *, half_way: bool, over: datetime
    ) -> None:
        """A run that somebody tells of whom nobody here has accepted; it uses up checks as any other does."""
        before, after = map(counting.totals, (self.counters, counting.after_run(self.counters, started, ended, metres)))
        more = Totals(after.seconds - before.seconds, after.millimetres - before.millimetres, 1)
        self._tell_use(more, started, ended, metres)
        self._end_run(started, ended, metres, zone, half_way, over)

    def _tell_use(self, more: Totals, started: datetime, ended: datetime, metres: int) -> None:
        whole = Totals(counting.seconds_of(started, ended), metres, 1)
        self.told = (self.told or ToldUse()).each(lambda one: one.after_run(more, whole))

    def _end_run(
        self, started: datetime, ended: datetime, metres: int, zone: tzinfo, half_way: bool, over: datetime
    ) -> None:
        if not half_way:
            self.out = None
        self.use.add(day_of(ended, zone), counting.seconds_of(started, ended), metres)
        if self.last_run is None or ended > self.last_run:
            self.last_run = ended
        for side in self.passed:
            self._spend(side, over, "the run")
        for check in list(self.checks.values()):
            was_signed = check.signed and check.signed[0].at <= over
            if was_signed or (check.checks_for == "run" and check.begun < min(started, over)):
                del self.checks[check.id]  # what was seen and signed in it was for the run that is over
                self.answers.pop(check.id, None)

    def _spend(self, side: str, at: datetime, by: str) -> None:
        one = self.passed.get(side)
        if one is not None:
            self.passed[side] = one.spend(at, by)

    def _unpass(self, side: str, check: str) -> None:
        """Take back that a check has passed; the clearance before it stands as it was."""
        left = self.passed[side].without(check) if side in self.passed else None
        if left is not None:
            self.passed[side] = left
        else:
            self.passed.pop(side, None)

    # services

    def take_services(self, items: Iterable[str], at: datetime, known: Known, *, life: int | None = None) -> None:
        """These items of the plan, and all that they cover, were done; at `life` hours [s], where that is told."""
        here = self.point(day_of(at, known.zone))
        here = here if life is None else here._replace(seconds=life)
        plan = known.plans.at(self.machine, at)
        done = plan.with_covered(*items)
        self._split_off(plan, {item.id for item in done})
        is_in_use_since = bool(self.last_card.get("in_use_since"))
        for item in done:
            cycle = self.cycle(item)
            is_known = is_in_use_since or cycle.last_done is not None
            after = due.after_service(item, cycle, here, scheduled=is_known)
            self.cycles[item.id] = after if life is None else after._replace(by_hours=True)
            self.given.pop(item.id, None)
        if self.told is not None and life is None:  # hours that are told count from there, whoever ran them
            self.told = self.told.done(one.id for one in done)

    def _split_off(self, plan: Plan, done: Set[str]) -> None:
        """Keep apart from what is done now the items of the plan that were split from it: they have the history of it
        until here, and from here on only what is done under their own ids."""
        split = [one for one in plan.split_off if one.id not in self.cycles and not done.isdisjoint(one.was)]
        self.cycles.update({one.id: self.cycle(one) for one in split})

    def take_done_by(self, check: str, at: datetime, known: Known) -> None:
        """Every item of the plan that is done by such a check or measurement was done."""
        items = [one.id for one in known.plans.at(self.machine, at).items if one.done_by == check]
        if items:
            self.take_services(items, at, known)

    @property
    def totals(self) -> Totals:
        """Life totals as they stand."""
        signed = counting.totals(self.counters)
        return self.told.all.over(signed) if self.told is not None else signed

    def point(self, day: date) -> ScalePoint:
        """Where the machine stands on the scales of its intervals, by what is signed for here."""
        return ScalePoint(day, *counting.totals(self.counters))

    def cycle(self, item: Item) -> Cycle:
        """How far an item's interval has come, by the plan and card in force."""
        return cycle_of(item, self.cycles, self.start, self.last_card)

    def _move_on(self) -> None:
        """The machine's place or its set changed: what is of the place can end now by a right answer."""
        for one in self.faults.values():
            if one.owner == "place" and not one.moved:
                self.faults[one.id] = replace(one, moved=True)
