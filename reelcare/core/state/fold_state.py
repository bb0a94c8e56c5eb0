"""A machine's state while entries are folded into it, one after the other; `freeze` gives it as it stands then.

The rules of this file: it changes itself, so that a long history costs little, and no copy of it leaves the fold. What
an entry does is said by its kind (`core/entries`) in terms of these methods.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, tzinfo
from types import MappingProxyType
from typing import Any

from reelcare.core.checks.clearance import LAPSE
from reelcare.core.checks.verdict import STALE
from reelcare.core.forecast.usage_history import GrowingUse
from reelcare.core.scales import ScalePoint
from reelcare.core.service import due
from reelcare.core.service.due import Cycle
from reelcare.core.service.plan import Item
from reelcare.core.state import counters as counting
from reelcare.core.state.counters import CounterReading, Counters, Totals
from reelcare.core.state.machine_state import (
    Answer,
    FaultStatus,
    MachineState,
    OpenCheck,
    OpenFault,
    Order,
    Passed,
    WholeCheck,
    first_cycle,
)
from reelcare.core.state.plans import Known
from reelcare.core.state.signed import has_passed
from reelcare.core.timestamps import day_of


@dataclass(slots=True, kw_only=True)
class FoldState:
    """A machine's state in the fold. `first_card` is what a check before the first carding is judged by."""

    machine: str
    began: date
    first_card: Mapping[str, Any]
    card: Mapping[str, Any] = field(default_factory=dict)
    counters: Counters = field(default_factory=Counters)
    cycles: dict[str, Cycle] = field(default_factory=dict)
    faults: dict[str, OpenFault] = field(default_factory=dict)
    checks: dict[str, OpenCheck] = field(default_factory=dict)
    answers: dict[str, list[Answer]] = field(default_factory=dict)
    passed: dict[str, Passed] = field(default_factory=dict)
    whole: dict[str, WholeCheck] = field(default_factory=dict)
    last_check: datetime | None = None
    last_run: datetime | None = None
    use: GrowingUse = field(default_factory=GrowingUse)

    @classmethod
    def of(cls, state: MachineState) -> FoldState:
        """A state to fold on from; the one given stays as it is."""
        return cls(
            machine=state.machine, began=state.began, first_card=state.card, card=state.card, counters=state.counters,
            cycles=dict(state.cycles), faults={one.id: one for one in state.faults},
            checks={one.id: one for one in state.checks},
            answers={id: list(some) for id, some in state.early.items()}
            | {one.id: list(one.answers) for one in state.checks},
            passed=dict(state.passed), whole=dict(state.whole), last_check=state.last_check, last_run=state.last_run,
            use=GrowingUse.of(state.use),
        )  # fmt: skip

    def freeze(self, last: Order) -> MachineState:
        """The state as it stands after the entry of this place in the order."""
        at = last[0]
        # answer by answer, so that what is kept is the same whether or not the state was frozen in between
        early = {
            id: tuple(one for one in some if at - one.at <= STALE)
            for id, some in self.answers.items()
            if id not in self.checks and at - some[-1].at <= STALE
        }
        whole = {id: one for id, one in self.whole.items() if at - one.at <= LAPSE}
        return MachineState(
            machine=self.machine, began=self.began, card=self.card, counters=self.counters,
            cycles=MappingProxyType(dict(self.cycles)), faults=tuple(self.faults.values()),
            checks=tuple(
                replace(one, answers=tuple(self.answers.get(one.id, ()))) for one in self.checks.values()
            ),
            early=MappingProxyType(early), passed=MappingProxyType(dict(self.passed)), whole=MappingProxyType(whole),
            last_check=self.last_check, last_run=self.last_run, use=self.use.freeze(), last=last,
        )  # fmt: skip

    # the card and the counters

    def take_card(self, card: Mapping[str, Any], at: datetime) -> None:
        """Another card is in force; a check begun at that very moment is judged by it."""
        self.card = card
        for one in self.checks.values():
            if one.begun == at:
                self.checks[one.id] = replace(one, card=card)

    def take_reading(self, reading: CounterReading, at: datetime) -> None:
        """A counter was read. One that cannot be counts for nothing: two terminals that were apart can each have read
        what the other's reading contradicts; it stays in the book, and `contradicted` names it."""
        try:
            self.counters = counting.after_reading(self.counters, reading, at)
        except counting.CounterError:
            return

    def take_run(self, started: datetime, ended: datetime, metres: int, zone: tzinfo) -> None:
        """A run of `metres` [mm]; it uses up every check that was passed before it ended."""
        self.counters = counting.after_run(self.counters, started, ended, metres)
        self.use.add(day_of(ended, zone), counting.seconds_of(started, ended), metres)
        if self.last_run is None or ended > self.last_run:
            self.last_run = ended
        for side in self.passed:
            self._spend(side, ended, "the run")

    def _spend(self, side: str, at: datetime, by: str) -> None:
        one = self.passed.get(side)
        if one is not None and one.spent is None and at >= one.at:
            self.passed[side] = replace(one, spent=at, spent_by=by)

    # services

    def take_services(self, items: Iterable[str], at: datetime, known: Known) -> None:
        """These items of the plan, and all that they cover, were done."""
        here = self.point(day_of(at, known.zone))
        for item in known.plans.at(self.machine, at).with_covered(*items):
            self.cycles[item.id] = due.after_service(item, self.cycle(item), here)

    def take_done_by(self, check: str, at: datetime, known: Known) -> None:
        """Every item of the plan that is done by such a check or measurement was done."""
        items = [one.id for one in known.plans.at(self.machine, at).items if one.done_by == check]
        if items:
            self.take_services(items, at, known)

    @property
    def totals(self) -> Totals:
        """Life totals as they stand."""
        return counting.totals(self.counters)

    def point(self, day: date) -> ScalePoint:
        """Where the machine stands on the scales of its intervals."""
        counters = self.counters
        return ScalePoint(day, counters.hours.life, counters.metres.life, counters.runs)

    def cycle(self, item: Item) -> Cycle:
        """How far an item's interval has come: as it was left, or a first one from the machine's beginning."""
        return self.cycles.get(item.id) or first_cycle(item, self.began, self.card)

    # checks

    def begin_check(self, check: OpenCheck) -> None:
        """A check is begun. Answers that a clock behind this one's dated before it are its answers all the same."""
        self.checks[check.id] = check
        before = [one for one in self.answers.get(check.id, ()) if check.begun - one.at <= STALE]
        self.answers[check.id] = before

    def take_answer(self, check: str, answer: Answer) -> None:
        """An answer. One that was recorded after its check was signed, for the very moment of the signing, is not what
        was signed for: the check has passed no more."""
        self.answers.setdefault(check, []).append(answer)
        for side, one in list(self.passed.items()):
            if one.check == check and answer.at <= one.at:
                del self.passed[side]
                self.whole.pop(check, None)

    def end_check(self, id: str, verdict: str, at: datetime, by: str, known: Known) -> None:
        """A check is ended: "passed" where it was signed as complete, "held", or "left".

        What was signed has passed only if the answers bear it out, by the sheet and the card of that time.
        """
        check = self.checks.pop(id, None)
        if check is None:
            return
        answers = self.answers.pop(id, [])
        if verdict == "left":
            return
        self.last_check = at
        self.passed.pop(check.checks_for, None)
        if verdict != "passed":
            return
        other = {"run": "road", "road": "run"}.get(check.checks_for, "")
        # set up again, or made ready for the road: what was true for the other is so no longer
        self._spend(other, at, f"the {check.checks_for} check since")
        if has_passed(replace(check, answers=tuple(answers)), at, self.whole, known.sheet):
            self.passed[check.checks_for] = Passed(check.id, check.sheet, at, by)
            if not check.again_of:
                self.whole[check.id] = WholeCheck(check.kept_sheet, at)
        self.take_done_by(check.sheet, at, known)

    # faults

    def open_fault(self, fault: OpenFault) -> None:
        """A fault; one that holds undoes the checks of what it holds."""
        self.faults[fault.id] = fault
        for side in {"run": ("run",), "road": ("road",), "both": ("run", "road")}.get(fault.holds, ()):
            self.passed.pop(side, None)

    def repair_fault(self, id: str, at: datetime, known: Known) -> None:
        """A fault is repaired; where the plan says so, the first interval of its part's items runs once more."""
        fault = self.faults.get(id)
        if fault is None:
            return
        here = self.point(day_of(at, known.zone))
        for item in known.plans.at(self.machine, at).items:
            if item.first_after_repair and item.part == fault.part:
                self.cycles[item.id] = due.restart(item, self.cycle(item), here)
        self.move_fault(id, "repaired")

    def move_fault(self, id: str, status: FaultStatus) -> None:
        """A fault has come to another status."""
        fault = self.faults.get(id)
        if fault is not None:
            self.faults[id] = replace(fault, status=status)

    def release_fault(self, id: str) -> None:
        """A fault has ended."""
        self.faults.pop(id, None)
