"""Answers to a verdict: what counts, what is still open, what is held, and the faults to raise.

The rules of this file: nothing is passed that was not answered right, in order, in this check, and lately. An
answer counts only if all questions before it had counting answers when it was given and the gate before its own was
signed, if it is neither older than the check nor stale, and if no later answer contradicts it. A wrong answer to a stop
question of the machine holds whatever is answered after it; one of the place, of weather and people or of an adjustment
holds until the question is answered right. Every answer is judged here again; the word kept with it is not trusted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import cached_property
from typing import Literal, NamedTuple

from reelcare.core.checks.limits import Judgement, judge
from reelcare.core.checks.sheet import FEET, GATES, Question, Sheet
from reelcare.core.machine.card import Card
from reelcare.core.text import _, current_language

Verdict = Literal["passed", "held", "open"]
PAUSE = timedelta(hours=8)
"""A pause after which, until the water is open, what moves by hand is looked at again (common practice, no source)."""
STALE = timedelta(hours=12)
"""An answer older than this at the end of its check is asked again (common practice, no source)."""


class Given(NamedTuple):
    """One answer as given."""

    question: str
    seen: str
    at: datetime
    by: str
    id: str = ""
    note: str = ""
    terminal: str = ""
    from_paper: bool = False
    """Whether it was written on paper at the machine, and entered later."""


class LaterSet(NamedTuple):
    """A set that was kept after a check was begun: from when it counts, and the values that it holds answers to."""

    at: datetime
    planned: Mapping[str, str]


class Undone(NamedTuple):
    """Why an answer does not count: `again` answered again, `order` given before its turn, `wrong` to be put right,
    `moved` another answer changed what it says, `person` somebody else went on, `pause` it was long ago. `by` is the
    id of the question that changed it."""

    why: Literal["again", "order", "wrong", "moved", "person", "pause"]
    by: str = ""


class Signature(NamedTuple):
    """A gate signed: which, when, by whom, and the id of its entry."""

    gate: str
    at: datetime
    by: str
    id: str = ""


@dataclass(slots=True)
class _Progress:
    """How far a walk has come: the answers that count, the gates whose signature stands, and who did what last."""

    kept: dict[str, Given]
    answered: list[bool]
    gates: list[Signature]
    last: tuple[datetime, str] | None = None
    undone: dict[Given, Undone] = field(default_factory=dict)

    def copy(self) -> _Progress:
        return _Progress(dict(self.kept), list(self.answered), list(self.gates), self.last, dict(self.undone))

    def drop(self, id: str, why: Undone) -> None:
        """Drop the answer to a question."""
        given = self.kept.pop(id, None)
        if given is not None:
            self.undone[given] = why


class Held(NamedTuple):
    """An answer that holds: wrong to a stop question, or a reading that must never be."""

    question: Question
    given: Given
    judgement: Judgement


@dataclass(frozen=True)
class Walk:
    """One check in progress: the sheet as it fits the machine, what was answered, and what to judge it by: the set
    that was `planned` when it was begun, and the `sets` kept since, each for the answers after it."""

    sheet: Sheet
    begun: datetime
    given: tuple[Given, ...]
    card: Card
    planned: Mapping[str, str]
    language: str = "en"
    sets: tuple[LaterSet, ...] = ()
    signed: tuple[Signature, ...] = ()

    def in_language(self, language: str) -> Walk:
        """The walk as it is told in a language."""
        return self if language == self.language else replace(self, language=language)

    def planned_at(self, moment: datetime) -> Mapping[str, str]:
        """The values of the set that an answer of this moment is held to."""
        later = [one.planned for one in self.sets if one.at <= moment]
        return later[-1] if later else self.planned

    @property
    def newest_plan(self) -> Mapping[str, str]:
        """The values of the set that the next answer is held to."""
        return self.sets[-1].planned if self.sets else self.planned

    def judgement(self, given: Given) -> Judgement:
        """What an answer is worth."""
        key = given, current_language()  # which can be another the next time, and English where it is kept
        found = self._judged.get(key)
        if found is None:
            found = self._judged[key] = self._judge(given)
        return found

    @cached_property
    def _judged(self) -> dict[tuple[Given, str], Judgement]:
        """What was asked of `judgement` before, by answer and language."""
        return {}

    def _judge(self, given: Given) -> Judgement:
        question = self.sheet.question(given.question)
        if question is None:
            return Judgement("unreadable", _("no such question on this sheet"))
        planned = self.planned_at(given.at) if self.sets else self.planned
        return judge(question, given.seen, card=self.card, planned=planned, language=self.language)

    def counting(self) -> Mapping[str, Given]:
        """The answers that count, by question: the latest of each, where nothing speaks against it."""
        return self._progress.kept

    def undone(self) -> Mapping[Given, Undone]:
        """Why each of the answers that do not count does not; those that cannot be read are not among them."""
        return self._progress.undone

    def fallen(self, at: datetime, by: str = "") -> list[Undone]:
        """Why each of the answers counts no more that fell back since the last one: somebody else goes on, or after a
        long pause."""
        before = self._progress.undone
        return [why for given, why in self._at(at, by).undone.items() if given not in before]

    def kept_figures(self) -> dict[str, float]:
        """The figures that this check measures, by the name under which the machine keeps them, in SI."""
        found = {}
        for id, one in self.counting().items():
            question = self.sheet.question(id)
            value = self.judgement(one).value
            if question is not None and question.keeps and value is not None:
                found[question.keeps] = value
        return found

    @cached_property
    def _progress(self) -> _Progress:
        """The walk played through, answers and signatures in their order."""
        progress = _Progress({}, [False] * len(self.sheet.places), [])
        acts: list[Given | Signature] = [*filter(self._can_count, self.given), *self.signed]
        for act in sorted(acts, key=lambda one: (one.at, one.id)):
            at, by = act.at, act.by
            after = progress.copy() if isinstance(act, Signature) else progress
            self._fall_back(after, at, by)
            after.last = (at, by or (after.last[1] if after.last else ""))
            if not isinstance(act, Signature):
                self._take(after, act)
            elif act.gate == self._next_gate(after) and not self._open_for(act.gate, at, after):
                after.gates.append(act)
                progress = after  # one that the answers do not bear out is nothing that somebody did to the machine
        return progress

    def _can_count(self, one: Given) -> bool:
        return one.question in self.sheet.places and one.at >= self.begun and self.judgement(one).judged != "unreadable"

    def _take(self, progress: _Progress, one: Given) -> None:
        """One more answer. It counts if all before it are answered and signed, and undoes what it contradicts."""
        judgement, places = self.judgement(one), self.sheet.places
        place = places[one.question]
        if not all(progress.answered[:place]) or self.sheet.gate_places.get(one.question, 0) > len(progress.gates):
            progress.undone[one] = Undone("order")
            return  # out of order: something before it was still open, or what permits it not signed yet
        progress.drop(one.question, Undone("again"))
        open_again = judgement.holds and judgement.owner != "machine"
        if open_again:  # it is put right, and answered once more
            progress.undone[one] = Undone("wrong")
        else:
            progress.kept[one.question] = one
        progress.answered[place] = not open_again
        for stale in self._reopened(place, judgement.judged, progress.kept):
            progress.drop(stale, Undone("moved", one.question))
            progress.answered[places[stale]] = False
        self._drop_gates(progress)

    def _drop_gates(self, progress: _Progress) -> None:
        """Drop the signatures of gates whose questions are not all answered any more."""
        while progress.gates and not all(progress.answered[: self.sheet.gate_ends[len(progress.gates)]]):
            progress.gates.pop()

    def _fall_back(self, progress: _Progress, at: datetime, by: str) -> None:
        """Until the water is open, after a change of person or a long pause: what moves by hand and the feet are open
        again, and the gate falls back by one. Once the hose is out, what is asked before that stays, but for the feet.
        """
        gates = self.sheet.gate_places
        if progress.last is None or not gates or self._is_open(progress):
            return
        before, who = progress.last
        if (not by or not who or by == who) and at - before < PAUSE:
            return
        is_out = any(gates[id] > 0 for id in progress.kept) and len(self.sheet.gates) == len(GATES)
        for id in list(progress.kept):
            question = self.sheet.question(id)
            assert question is not None
            stands = is_out and gates[id] == 0 and all(part != FEET for part, _ in question.positions)
            if question.by_hand and not stands:
                progress.drop(id, Undone("pause" if at - before >= PAUSE else "person"))
                progress.answered[self.sheet.places[id]] = False
        if progress.gates:
            progress.gates.pop()

    def _is_open(self, progress: _Progress) -> bool:
        """Whether the water is open: its gate is signed, and something of the last gate is answered. An answer alone
        opens nothing."""
        gates = self.sheet.gates
        if "running" not in gates or all(one.gate != "water" for one in progress.gates):
            return False
        return any(progress.answered[self.sheet.gate_ends[gates.index("running")] :])

    def _is_running(self, id: str) -> bool:
        return self.sheet.gate_of(id) == "running"

    def _at(self, at: datetime, by: str = "") -> _Progress:
        """How far it has come for somebody at a moment."""
        if not self.sheet.gates:
            return self._progress
        found = self._progress.copy()
        self._fall_back(found, at, by)
        return found

    def _next_gate(self, progress: _Progress) -> str:
        gates = self.sheet.gates
        return gates[len(progress.gates)] if len(progress.gates) < len(gates) else ""

    def _open_for(self, gate: str, at: datetime, progress: _Progress) -> list[Question]:
        """The questions of a gate, and of those before it, that are open or hold; answers of this gate can be stale."""
        gates, last = self.sheet.gate_places, self.sheet.gates.index(gate)
        found = []
        for one in self.sheet.questions:
            if gates[one.id] > last:
                break
            given = progress.kept.get(one.id)
            stale = given is not None and gates[one.id] == last and at - given.at > STALE
            if given is None or stale or self._is_unproved(one, given):
                found.append(one)
        return found

    def gates(self, at: datetime, by: str = "") -> tuple[Signature, ...]:
        """The gates whose signature stands, in their order."""
        return tuple(self._at(at, by).gates)

    def next_gate(self, at: datetime, by: str = "") -> str:
        """The gate to be signed next; '' where the sheet has none, or all are signed."""
        return self._next_gate(self._at(at, by))

    def open_for(self, gate: str, at: datetime, by: str = "") -> list[Question]:
        """What keeps a gate from being signed."""
        return self._open_for(gate, at, self._at(at, by))

    def _reopened(self, place: int, judged: str, kept: Mapping[str, Given]) -> list[str]:
        """The answers that a new one undoes.

        A position found not as it should be undoes the earlier answers that said it was; a position brought
        about again undoes the later questions that rest on where the part went afterwards.
        """
        question = self.sheet.questions[place]
        position = question.position
        if position is None or (question.is_number and judged != "right"):
            return []  # a reading that is off does not say that the part is not where it is read
        part, where = position
        found = []
        for other, id, there in self.sheet.by_part[part]:
            if other == place or id not in kept or (self._is_running(question.id) and not self._is_running(id)):
                continue  # once it runs, what is found is put right there: it undoes no gate
            later = other > place
            if (judged != "right" and there == where and not later) or (later and there != where):
                found.append(id)
        return found

    def open(self, at: datetime, by: str = "") -> list[Question]:
        """The questions that have no counting answer, in order; at the end of a check, stale ones among them."""
        progress = self._at(at, by)
        kept, gates, signed = progress.kept, self.sheet.gate_places, len(progress.gates)
        return [
            one
            for one in self.sheet.questions
            if one.id not in kept or (at - kept[one.id].at > STALE and gates.get(one.id, signed) >= signed)
        ]

    def next(self, at: datetime, by: str = "") -> Question | None:
        """The question to ask now."""
        waiting = self.open(at, by)
        return waiting[0] if waiting else None

    def next_in_gate(self, at: datetime, by: str = "") -> Question | None:
        """The question to ask now; None where what comes next is a signature."""
        question, gate = self.next(at, by), self.next_gate(at, by)
        if question is None or not gate:
            return question
        return question if self.sheet.gate_places[question.id] <= self.sheet.gates.index(gate) else None

    def is_ahead(self, question: Question, at: datetime, by: str = "") -> bool:
        """Whether another gate is to be signed before that of a question, so that an answer to it does not count."""
        return self.sheet.gate_places.get(question.id, 0) > len(self._at(at, by).gates)

    def begins_gate(self, at: datetime, by: str = "") -> bool:
        """Whether the question to ask now is the first of its gate: nothing of that gate is answered."""
        question = self.next_in_gate(at, by)
        if question is None or not self.sheet.gates:
            return False
        kept, places = self._at(at, by).kept, self.sheet.gate_places
        return not any(places[id] == places[question.id] for id in kept)

    def resume(self, at: datetime, by: str = "") -> Question | None:
        """The question to ask after an interruption: the last answered one once more, unless an earlier is open."""
        kept = self._at(at, by).kept
        if not kept or self.held() or self.signed:
            return self.next_in_gate(at, by)
        order = self.sheet.places
        last = max(kept.values(), key=lambda one: (one.at, one.id)).question
        waiting = self.next(at, by)
        if waiting is not None and order[waiting.id] < order[last]:
            return waiting
        return self.sheet.question(last)

    def held(self) -> list[Held]:
        """Every answer that holds for the machine's sake, whatever was answered later, and those that hold for another
        and were not put right since."""
        found = []
        for one in self.given:
            question = self.sheet.question(one.question)
            if question is not None:
                judgement = self.judgement(one)
                # a stop reading that has nothing to judge it by is not a pass either; it stays open instead
                if judgement.holds and (judgement.owner == "machine" or not self._is_over(one)):
                    found.append(Held(question, one, judgement))
        return found

    def _is_over(self, holding: Given) -> bool:
        """Whether a later answer to the same question ended what one held, or holds in its place."""
        tries = self.tries(holding.question)
        later = (self.judgement(one) for one in tries[tries.index(holding) + 1 :])
        return any(one.puts_right or one.holds for one in later)

    def ends_held(self) -> bool:
        """Whether the check is over: something of the machine failed in it."""
        return any(one.judgement.owner == "machine" for one in self.held())

    def tries(self, question: str) -> tuple[Given, ...]:
        """All answers that were given to a question, in their order."""
        return tuple(sorted((one for one in self.given if one.question == question), key=lambda one: (one.at, one.id)))

    def unproved(self) -> list[Question]:
        """Questions whose counting answer holds, and stop questions that have nothing to judge their answer by."""
        kept = self.counting()
        return [one for one in self.sheet.questions if one.id in kept and self._is_unproved(one, kept[one.id])]

    def _is_unproved(self, question: Question, given: Given) -> bool:
        judgement = self.judgement(given)
        return judgement.holds or (question.if_not == "stop" and judgement.judged in ("noted", "unreadable"))

    def verdict(self, at: datetime) -> Verdict:
        """Passed only if every question has a counting answer, every stop question a right one, and each gate but the
        last is signed."""
        if self.held():
            return "held"
        if self.open(at) or self.unproved():
            return "open"
        if self.sheet.gates and len(self.gates(at)) < len(self.sheet.gates) - 1:
            return "open"
        return "passed"
