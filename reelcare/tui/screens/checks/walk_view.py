"""A walk-round as it is shown: every text around a question, from values alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from textual.content import Content

from reelcare.core import units
from reelcare.core.checks.limits import Judgement, limit_text
from reelcare.core.checks.sheet import Question
from reelcare.core.checks.verdict import Walk
from reelcare.core.drawing.machine import WalkRoute as Round
from reelcare.core.wording import said as in_language
from reelcare.tui.requests import AskYesNo
from reelcare.tui.screens.checks.walk_words import LABELS
from reelcare.tui.text import join, lines, said
from reelcare.tui.theme import state

_TONE = {"right": "$text-success", "wrong": "bold $text-error", "noted": "$foreground"}
_MARKS = {"right": "■", "wrong": "✗", "noted": "•"}


@dataclass(frozen=True, slots=True)
class WalkView:
    """A walk at a question (None: at its end), with the notes that wait, the person's units, and who is there."""

    walk: Walk
    question: Question | None
    notes: Mapping[str, str]
    system: units.System
    person: str

    @property
    def language(self) -> str:
        """The language in which the check was begun, and is asked to its end."""
        return self.walk.language

    def label(self, word: str) -> str:
        """A word of this screen in the language of the check."""
        return LABELS.get(self.language, LABELS["en"])[word]

    def _said(self, words: Mapping[str, str]) -> str:
        return in_language(words, self.language)

    def choice(self, key: str) -> str | None:
        """The answer that a figure gives; None where it gives none."""
        question = self.question
        if question is None or question.is_number or not key.isdigit():
            return None
        place = int(key) - 1
        return question.choices[place].id if 0 <= place < len(question.choices) else None

    def kept_note(self, question: Question) -> str:
        """The note that was kept with the answer to a question."""
        given = self.walk.counting().get(question.id)
        return given.note if given is not None else ""

    def note_to(self, question: Question) -> str:
        """The note to a question: what waits for its answer, or what was kept with it."""
        return self.notes.get(question.id, self.kept_note(question))

    # the machine beside the question

    def place(self) -> tuple[str, Round]:
        """The part that the question is about, and the way round the machine."""
        questions, held = self.walk.sheet.questions, self.walk.held()
        here = self.question or (held[0].question if held else None)
        at = questions.index(here) if here in questions else len(questions)
        parts = [one.part for one in (questions[: at + 1] if held else questions)]
        return here.part if here else "", Round.of(parts, at)

    def positions(self) -> dict[str, str]:
        """Positions that were answered as right."""
        found: dict[str, str] = {}
        for question in self.walk.sheet.questions:
            given = self.walk.counting().get(question.id)
            if given is not None and question.position and self.walk.judgement(given).judged == "right":
                found[question.position[0]] = question.position[1]
        return found

    def bar(self) -> Content:
        """A mark for each question, stage by stage, and how many are answered."""
        kept, stages = self.walk.counting(), self.walk.sheet.stages
        signs = " ".join("".join(self._mark(one) for one in stage.questions) for stage in stages)
        return join(signs, (f"  {len(kept)}/{len(self.walk.sheet.questions)}", "bold"))

    def _mark(self, question: Question) -> str:
        if self.question is not None and question.id == self.question.id:
            return "▣"
        given = self.walk.counting().get(question.id)
        return "□" if given is None else _MARKS.get(self.walk.judgement(given).judged, "□")

    # what is asked, and what belongs to it

    def ask(self) -> Content:
        """The question, or what the end of the walk is."""
        if self.question is not None:
            return said(self._said(self.question.ask))
        if self.walk.held():
            return join((f"{state('held')}: {self.label('is held')}", "bold $text-error"))
        return said(self.label("all").format(len(self.walk.counting())))

    def unit_hint(self) -> str:
        """What is to be typed for the number."""
        question = self.question
        if question is None or question.quantity == "count":
            return self.label("number")
        return f"{units.unit_for(question.quantity, self.system, question.role)}, Enter"

    def about(self) -> Content:
        """What belongs to the question; at the end, what holds the machine, or what was found and who signs."""
        if self.question is not None:
            return lines(*self._about(self.question))
        return self._held() if self.walk.held() else self._complete()

    def _about(self, question: Question) -> Iterator[Content]:
        if question.is_number:
            walk, quantity = self.walk, question.quantity
            unit = "" if quantity == "count" else units.unit_for(quantity, self.system, question.role)
            limit = limit_text(question, walk.card, walk.newest_plan, language=self.language, unit=unit)
            if limit:
                yield join(f"{self.label('right is')} ", (limit, "bold"))
        if question.caution:
            caution = self._said(question.caution)
            yield join((f"{self.label('caution')} ", "bold $text-warning"), (caution, "$text-warning"))
        for word, text in (("why", question.why), ("else", question.do)):
            if text:
                yield join((f"{self.label(word)}  ", "bold"), self._said(text))
        if note := self.note_to(question):
            yield join((f"{self.label('note')}  ", "bold"), note)

    def _held(self) -> Content:
        one = self.walk.held()[0]
        retest = self._said(one.question.retest or one.question.ask)
        return lines(
            f"{self._said(one.question.ask)} {one.judgement.says}",
            "",
            self._said(one.question.do) if one.question.do else "",
            self.label("bench"),
            join((f"{self.label('re-test')}  ", "bold"), retest),
        )

    def _complete(self) -> Content:
        judged = [self.walk.judgement(one).judged for one in self.walk.counting().values()]
        wrong = [
            f"{self._said(question.ask)} {self.walk.judgement(given).says}"
            for question in self.walk.sheet.questions
            if (given := self.walk.counting().get(question.id)) is not None
            and self.walk.judgement(given).judged != "right"
        ]
        return lines(
            self.label("sum").format(*(judged.count(one) for one in ("right", "noted", "wrong"))),
            *(f"• {text}" for text in wrong),
            "",
            join(("s", "bold reverse"), f"  {self.label('signs')} {self.person}"),
        )

    def judged(self, judgement: Judgement, more: str = "") -> Content:
        """What an answer is worth."""
        word = state(judgement.judged).replace(judgement.judged, self.label(judgement.judged))
        return join((word, _TONE.get(judgement.judged, "")), f"  {judgement.says}{more}")

    def hold_request(self, question: Question, judgement: Judgement) -> AskYesNo:
        """Whether an answer that holds the machine is to be written."""
        does = self._said(question.do) if question.do else ""
        says = (
            f"{self._said(question.ask)} {judgement.says}",
            "",
            f"{self.label('put right')} {does}",
            self.label("written"),
        )
        return AskYesNo(self.label("holds"), says, yes=self.label("write"), no=self.label("look again"))
