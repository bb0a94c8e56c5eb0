"""Answers to a verdict: what counts, what is still open, what is held, and the faults to raise.

The rules of this file: nothing is passed that was not answered right, in order, in this check, and lately. An
answer counts only if all questions before it had counting answers when it was given, if it is neither older
than the check nor stale, and if no later answer contradicts it. A wrong answer to a stop question of the
machine holds whatever is answered after it; one of the place, of weather and people or of an adjustment holds until
the question is answered right. Every answer is judged here again; the word kept with it is not trusted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property
from typing import Literal, NamedTuple

from reelcare.core.checks.limits import Judgement, judge
from reelcare.core.checks.sheet import Question, Sheet
from reelcare.core.machine.card import Card

Verdict = Literal["passed", "held", "open"]
STALE = timedelta(hours=12)
"""An answer older than this at the end of its check is asked again (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Given:
    """One answer as given."""

    question: str
    seen: str
    at: datetime
    by: str
    id: str = ""
    note: str = ""
    terminal: str = ""


class LaterSet(NamedTuple):
    """A set that was kept after a check was begun: from when it counts, and the values that it holds answers to."""

    at: datetime
    planned: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Held:
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

    def until(self, moment: datetime) -> Walk:
        """The walk as it was answered up to a moment."""
        return replace(self, given=tuple(one for one in self.given if one.at <= moment))

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
        question = self.sheet.question(given.question)
        if question is None:
            return Judgement("unreadable", "no such question on this sheet")
        planned = self.planned_at(given.at) if self.sets else self.planned
        return judge(question, given.seen, card=self.card, planned=planned, language=self.language)

    @cached_property
    def _judged(self) -> dict[int, Judgement]:
        return {number: self.judgement(one) for number, one in enumerate(self.given)}

    def counting(self) -> Mapping[str, Given]:
        """The answers that count, by question: the latest of each, where nothing speaks against it."""
        return self._counting

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
    def _counting(self) -> dict[str, Given]:
        places = self.sheet.places
        answered = [False] * len(places)
        kept: dict[str, Given] = {}
        for number, one in sorted(enumerate(self.given), key=lambda pair: (pair[1].at, pair[1].id)):
            place = places.get(one.question)
            judged = self._judged[number].judged
            if place is None or one.at < self.begun or judged == "unreadable":
                continue
            if not all(answered[:place]):
                continue  # out of order: something before it was still open
            open_again = self._judged[number].holds and self._judged[number].owner != "machine"
            if open_again:  # it is put right, and answered once more
                kept.pop(one.question, None)
            else:
                kept[one.question] = one
            answered[place] = not open_again
            for stale in self._reopened(place, judged, kept):
                del kept[stale]
                answered[places[stale]] = False
        return kept

    @cached_property
    def _by_part(self) -> dict[str, list[tuple[int, str, str]]]:
        """The questions about each part that has positions: place, id, position."""
        found: dict[str, list[tuple[int, str, str]]] = {}
        for place, one in enumerate(self.sheet.questions):
            if one.position is not None:
                found.setdefault(one.position[0], []).append((place, one.id, one.position[1]))
        return found

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
        for other, id, there in self._by_part[part]:
            if other == place or id not in kept:
                continue
            later = other > place
            if (judged != "right" and there == where and not later) or (later and there != where):
                found.append(id)
        return found

    def open(self, at: datetime) -> list[Question]:
        """The questions that have no counting answer, in order; at the end of a check, stale ones among them."""
        kept = self.counting()
        return [one for one in self.sheet.questions if one.id not in kept or at - kept[one.id].at > STALE]

    def next(self, at: datetime) -> Question | None:
        """The question to ask now."""
        waiting = self.open(at)
        return waiting[0] if waiting else None

    def resume(self, at: datetime) -> Question | None:
        """The question to ask after an interruption: the last answered one once more, unless an earlier is open."""
        kept = self.counting()
        if not kept or self.held():
            return self.next(at)
        order = self.sheet.places
        last = max(kept.values(), key=lambda one: (one.at, one.id)).question
        waiting = self.next(at)
        if waiting is not None and order[waiting.id] < order[last]:
            return waiting
        return self.sheet.question(last)

    def held(self) -> list[Held]:
        """Every answer that holds for the machine's sake, whatever was answered later, and those that hold for another
        and were not put right since."""
        found = []
        latest = {one.question: one for one in sorted(self.given, key=lambda one: (one.at, one.id))}
        for one in self.given:
            question = self.sheet.question(one.question)
            if question is not None:
                judgement = self.judgement(one)
                # a stop reading that has nothing to judge it by is not a pass either; it stays open instead
                if judgement.holds and (judgement.owner == "machine" or latest[one.question] == one):
                    found.append(Held(question, one, judgement))
        return found

    def ends_held(self) -> bool:
        """Whether the check is over: something of the machine failed in it."""
        return any(one.judgement.owner == "machine" for one in self.held())

    def tries(self, question: str) -> tuple[Given, ...]:
        """All answers that were given to a question, in their order."""
        return tuple(sorted((one for one in self.given if one.question == question), key=lambda one: (one.at, one.id)))

    def unproved(self) -> list[Question]:
        """Questions whose counting answer holds, and stop questions that have nothing to judge their answer by."""
        kept = self.counting()
        found = []
        for one in self.sheet.questions:
            judgement = self.judgement(kept[one.id]) if one.id in kept else None
            if judgement is not None and (
                judgement.holds or (one.if_not == "stop" and judgement.judged in ("noted", "unreadable"))
            ):
                found.append(one)
        return found

    def verdict(self, at: datetime) -> Verdict:
        """Passed only if every question has a counting answer and every stop question a right one."""
        if self.held():
            return "held"
        if self.open(at) or self.unproved():
            return "open"
        return "passed"
