"""A machine's state while entries are folded into it, one after the other; `freeze` gives it as it stands then.

The rules of this file: it changes itself, so that a long history costs little, and no copy of it leaves the fold. What
an entry does is said by its kind (`core/entries`) in terms of these methods.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, tzinfo
from types import MappingProxyType

from reelcare.core.checks.clearance import LAPSE, Passed
from reelcare.core.checks.sheet import Sheet
from reelcare.core.checks.verdict import PAUSE, STALE, LaterSet, Signature
from reelcare.core.forecast.usage_history import GrowingUse
from reelcare.core.parts import default_retest
from reelcare.core.service import due
from reelcare.core.service.due_line import Assignment
from reelcare.core.state.fold_use import FoldedUse
from reelcare.core.state.machine_state import (
    SIDES,
    Answer,
    FaultStatus,
    MachineState,
    OpenCheck,
    OpenFault,
    OpenNote,
    Order,
    PulledOut,
    WholeCheck,
    first_point,
)
from reelcare.core.state.plans import Known
from reelcare.core.state.signed import answered_right, gates_signed, has_passed
from reelcare.core.timestamps import day_of


@dataclass(slots=True, kw_only=True)
class FoldState(FoldedUse):
    """A machine's state in the fold."""

    @classmethod
    def of(cls, state: MachineState) -> FoldState:
        """A state to fold on from; the one given stays as it is."""
        return cls(
            machine=state.machine, began=state.began, start=first_point(state.began, state.card),
            first_card=state.card, card=state.card, last_card=state.card, counters=state.counters,
            cycles=dict(state.cycles), faults={one.id: one for one in state.faults},
            checks={one.id: one for one in state.checks},
            answers={id: list(some) for id, some in state.early.items()}
            | {one.id: list(one.answers) for one in state.checks},
            passed=dict(state.passed), given=dict(state.given), whole=dict(state.whole), last_check=state.last_check,
            notes={one.id: one for one in state.notes}, out=state.out, retired=state.retired, last_run=state.last_run,
            use=GrowingUse.of(state.use), told=state.told,
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
            given=MappingProxyType(dict(self.given)), notes=tuple(self.notes.values()), out=self.out,
            retired=self.retired,
            last_check=self.last_check, last_run=self.last_run, use=self.use.freeze(), last=last, told=self.told,
        )  # fmt: skip

    # checks

    def begin_check(self, check: OpenCheck) -> None:
        """A check is begun. Answers that a clock behind this one's dated before it are its answers all the same."""
        self.checks[check.id] = check
        before = [one for one in self.answers.get(check.id, ()) if check.begun - one.at <= STALE]
        self.answers[check.id] = before
        # another sheet that goes on from the gates of the pull-out: who begins it says that the run was stopped
        if self.out is not None and check.again_of == self.out.check and check.sheet != self.out.sheet:
            self._spend("run", check.begun, "the stop half-way")
            for one in list(self.checks.values()):
                if one.signed:
                    del self.checks[one.id]

    def take_set(self, planned: Mapping[str, str], at: datetime) -> None:
        """A set is kept; checks that follow the set are held to it from now on."""
        self._move_on()
        for one in self.checks.values():
            if one.follows_set:
                self.checks[one.id] = replace(one, sets=(*one.sets, LaterSet(at, planned)))

    def take_answer(self, check: str, answer: Answer, known: Known) -> None:
        """An answer. One that was recorded after its check was signed, for the very moment of the signing, is not what
        was signed for: the check has passed no more, and none before it stands in for it. One that is still open is
        judged gate by gate."""
        self.answers.setdefault(check, []).append(answer)
        asked = self.checks.get(check)
        for side, one in list(self.passed.items()):
            if asked is None and one.check == check and answer.at <= one.at:
                del self.passed[side]
                self.whole.pop(check, None)
                self._not_out(check)
        if asked is not None and asked.signed:
            self._after_signature(asked, answer, known)

    def _after_signature(self, check: OpenCheck, answer: Answer, known: Known) -> None:
        """An answer to a check of which a gate is signed: the water is open, or a gate has fallen back."""
        one, sheet = self.passed.get("run"), known.sheet(check.kept_sheet)
        if one is None or sheet is None:
            return
        if one.check != check.id:  # it stands behind another that was signed since, and no more as it stood then
            self._unpass("run", check.id)
            return
        place, before = sheet.gate_places.get(answer.question, 0), self.answers[check.id][-2:-1]
        last = max((check.signed[-1].at, check.signed[-1].by), *((each.at, each.by) for each in before))
        handed_over = one.opened is None and (answer.by != last[1] or answer.at - last[0] >= PAUSE)
        if handed_over or (one.gate in sheet.gates and place <= sheet.gates.index(one.gate)):
            self._permit(check, answer.at, known)
        elif one.opened is None and one.gate == "water" and sheet.gate_of(answer.question) == "running":
            self.passed["run"] = one._replace(opened=answer.at)
        one = self.passed.get("run")
        if one is not None and one.check == check.id and one.opened is None:
            self.passed["run"] = one._replace(seen_again=answer.at)  # the pause is counted from here

    def sign_gate(self, id: str, signature: Signature, known: Known) -> None:
        """A gate is signed. It counts if the answers bear it out, and nothing holds the machine for a run."""
        check, at = self.checks.get(id), signature.at
        if check is not None and check.told:
            self.spend_by(id, at, known)
            return
        if check is None or self.is_held_for_run(day_of(at, known.zone)):
            return
        check = self.checks[id] = replace(check, signed=(*check.signed, signature))
        gates = self._permit(check, at, known)
        if not gates or gates[-1] != signature:
            self.checks[id] = replace(check, signed=check.signed[:-1])
            return
        self._spend_by_signature(check, at, known)
        if signature.gate == "pull-out":
            self.out = None  # another pull-out
        if signature.gate == "water":
            self.last_check = at
            self.take_done_by(check.sheet, at, known)
            sheet = known.sheet(check.kept_sheet)
            if sheet is not None and sheet.goes_on:
                self._credit_tests(check, sheet, at, known)
                return
            self.out = PulledOut(check.id, check.sheet, at)
            if not check.again_of:
                self.whole[check.id] = WholeCheck(check.kept_sheet, at)

    def _credit_tests(self, check: OpenCheck, sheet: Sheet, at: datetime, known: Known) -> None:
        """What the check of the pull-out does and this one tested once more was done again: the stop test."""
        tested = {one.part for one in sheet.questions if one.kind == "test"}
        if self.out is not None:
            items = known.plans.at(self.machine, at).items
            done = [one.id for one in items if one.done_by == self.out.sheet and one.part in tested]
            self.take_services(done, at, known)

    def _not_out(self, check: str) -> None:
        """What a check permitted is taken back: no run goes on from it."""
        if self.out is not None and self.out.check == check:
            self.out = None

    def _permit(self, check: OpenCheck, at: datetime, known: Known) -> tuple[Signature, ...]:
        """Permit what the gates of an open check permit that still stand."""
        answers = tuple(self.answers.get(check.id, ()))
        gates = gates_signed(replace(check, answers=answers), at, self.whole, self.out, known.sheet)
        one = self.passed.get("run")
        mine = one if one is not None and one.check == check.id else None
        if len(gates) < 2:
            self._not_out(check.id)
        if gates and (mine is None or mine.gate != gates[-1].gate or mine.at != gates[-1].at):
            planned = check.sets[-1].planned if check.sets else check.planned
            last = gates[-1]
            self.passed["run"] = Passed(
                check.id,
                check.sheet,
                last.at,
                last.by,
                gate=last.gate,
                finish=planned.get("finish", ""),
            ).after(one if mine is None else mine.before)
        elif not gates and mine is not None:
            self._unpass("run", check.id)
        return gates

    def doubt_answer(self, check: str, answer: Answer, known: Known) -> None:
        """An answer of somebody who is not accepted here: a wrong one takes the clearance away, a right one changes
        nothing."""
        asked = self.checks.get(check)
        if asked is None:
            return
        if not answered_right(replace(asked, answers=(answer,)), answer.question, known.sheet):
            self.passed.pop(asked.checks_for, None)

    def spend_by(self, check: str, at: datetime, known: Known) -> None:
        """A check is signed by somebody who is not accepted here: it clears nothing, and uses up what it would."""
        asked = self.checks.get(check)
        if asked is not None:
            self._spend_by_signature(asked, at, known)

    def _spend_by_signature(self, check: OpenCheck, at: datetime, known: Known) -> None:
        """Use up what a signed check undoes, and let nobody go on with what was begun for that before. A machine that
        is set up for a run is no longer ready for the road, and the other way round; a check for neither that tells how
        parts stand leaves it otherwise than it was found ready: its stop tried, its drum blocked."""
        by, undone = f"the {check.checks_for} check since", [side for side in SIDES if side != check.checks_for]
        if check.checks_for not in SIDES:
            by, sheet = "another check since", known.sheet(check.kept_sheet)
            if sheet is None or not any(one.positions for one in sheet.questions):
                return
        for side in undone:
            self._spend(side, at, by)
        for one in list(self.checks.values()):
            if one.checks_for in undone and one.begun < at:
                self.checks[one.id] = replace(one, told=True)  # signed elsewhere all the same, it spends in its turn

    def leave_check(self, id: str) -> None:
        """Close a check without any other effect, since its signature is doubtful."""
        self.checks.pop(id, None)
        self.answers.pop(id, None)

    def distrust_check(self, id: str, at: datetime, known: Known) -> None:
        """A signature that somebody not accepted here found dated ahead: its check is begun again, and what the machine
        was ready for before, it is ready for no more."""
        check = self.checks.get(id)
        if check is not None:
            self.passed.pop(check.checks_for, None)
            self.spend_by(id, at, known)
        self.leave_check(id)

    def end_check(self, id: str, verdict: str, at: datetime, by: str, known: Known) -> None:
        """A check is ended: "passed" where it was signed as complete, "held", or "left".

        What was signed has passed only if the answers bear it out, by the sheet and the card of that time.
        """
        check = self.checks.get(id)
        if check is not None and check.told:
            self.distrust_check(id, at, known)
            return
        self.checks.pop(id, None)
        if check is None:
            return
        answers = self.answers.pop(id, [])
        before = self.passed.get(check.checks_for)
        stood = before.without(id) if before is not None else None
        if check.signed and before is not None and before.check == id:
            self._unpass(check.checks_for, id)
        if verdict == "left":
            return
        self.last_check = at
        self.passed.pop(check.checks_for, None)
        if verdict != "passed":
            return
        self._spend_by_signature(check, at, known)
        if has_passed(replace(check, answers=tuple(answers)), at, self.whole, self.out, known.sheet):
            passed = Passed(check.id, check.sheet, at, by).after(stood)
            if check.signed:
                passed = passed._replace(gate="running")
            if check.signed and before is not None:
                passed = passed._replace(opened=before.opened, finish=before.finish)
            self.passed[check.checks_for] = passed
            if not check.again_of and not check.signed:
                self.whole[check.id] = WholeCheck(check.kept_sheet, at)
        sheet = known.sheet(check.kept_sheet)
        if sheet is not None and any(("hose", "home") in one.positions for one in sheet.questions):
            self.out = None
        if not check.signed:  # else it was done when the gate of the water was signed
            self.take_done_by(check.sheet, at, known)

    # faults

    def open_fault(self, fault: OpenFault) -> None:
        """A fault; one that holds undoes the checks of what it holds."""
        self.faults[fault.id] = fault
        if fault.ends_by_answer and any(one.check == fault.check for one in self.passed.values()):
            return  # put right and answered again in the same check, it goes on where it was
        for side in fault.sides:
            self.passed.pop(side, None)
            for one in list(self.checks.values()):
                is_put_right_there = fault.ends_by_answer and one.id == fault.check
                if side == "run" and one.signed and not is_put_right_there:
                    del self.checks[one.id]  # what was signed before a repair is looked at again

    def repair_fault(self, id: str, at: datetime, known: Known) -> None:
        """A fault is repaired; where the plan says so, the first interval of its part's items runs once more."""
        fault = self.faults.get(id)
        if fault is None:
            return
        items = [one for one in known.plans.at(self.machine, at).items if one.first_after_repair]
        today = day_of(at, known.zone)
        here = self.point(today)
        for item in items:
            if item.part == fault.part:
                self.cycles[item.id] = due.restart(item, self.cycle(item), here)
        if not fault.retest and fault.lapsed(self.totals, today):  # it holds by now, and every hold has a re-test
            self.faults[id] = replace(fault, retest=default_retest(fault.part))
        self.move_fault(id, "repaired")

    def move_fault(self, id: str, status: FaultStatus) -> None:
        """A fault has come to another status."""
        fault = self.faults.get(id)
        if fault is not None:
            self.faults[id] = replace(fault, status=status)

    def put_right(self, fault: str, check: str, says: str, known: Known) -> None:
        """A hold that a right answer ends has ended, if the answers of the check bear it out. One of the place takes a
        change of place or set, or a word of what changed."""
        held, asked = self.faults.get(fault), self.checks.get(check)
        if held is None or asked is None or asked.told or not held.ends_by_answer:
            return
        if held.owner == "place" and not (held.moved or says):
            return
        answers = tuple(self.answers.get(check, ()))
        if answered_right(replace(asked, answers=answers), held.question, known.sheet):
            self.release_fault(fault)

    def release_fault(self, id: str) -> None:
        """A fault has ended."""
        self.faults.pop(id, None)
        self.given.pop(id, None)

    def is_held_for_run(self, today: date) -> bool:
        """Whether a fault forbids a run."""
        totals = self.totals
        return any(one.forbids_a_run(totals, today) for one in self.faults.values())

    def was_held_for_run(self, at: datetime, zone: tzinfo) -> bool:
        """Whether a fault that is open now, and was seen by a moment past, forbade a run then."""
        return any(one.since <= at and one.forbids_a_run(self.totals, day_of(at, zone)) for one in self.faults.values())

    # notes

    def add_note(self, note: OpenNote) -> None:
        """A note is to be read."""
        self.notes[note.id] = note

    def end_note(self, id: str, *, near_miss: bool) -> None:
        """A note was read, or a near miss: each only by what ends its kind."""
        if id in self.notes and self.notes[id].near_miss == near_miss:
            del self.notes[id]

    # the work list

    def give(self, item: str, to: str, day: date | None) -> None:
        """A line of the work list is given to somebody for a day, or to nobody any more."""
        if to and day is not None:
            self.given[item] = Assignment(to, day)
        else:
            self.given.pop(item, None)
