"""A walk-round as it is shown: every text around a question, from values alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from textual.content import Content

from reelcare.core import units
from reelcare.core.checks.judged_by import JudgedBy
from reelcare.core.checks.limits import Judgement, limit_text
from reelcare.core.checks.reading_scale import ReadingScale, scale_of
from reelcare.core.checks.sheet import GATE_TITLES, Question
from reelcare.core.checks.verdict import Given, Walk
from reelcare.core.drawing.machine import WalkRoute as Round
from reelcare.core.state.machine_state import ENDS_BY
from reelcare.core.state.standing import Reason
from reelcare.core.text import _, mark, plural
from reelcare.core.wording import said as in_language
from reelcare.core.wording import with_answer
from reelcare.register.acts.walk_rounds import HELD_AHEAD
from reelcare.tui.requests import AskYesNo
from reelcare.tui.text import join, lines, said
from reelcare.tui.theme import state
from reelcare.tui.widgets.typed_quantity import with_unit

_TONE = {"right": "$text-success", "wrong": "bold $text-error", "noted": "$foreground"}
_MARKS = {"right": "■", "wrong": "✗", "noted": "•"}
HELD_BY = {
    "machine": mark("what is broken"),
    "place": mark("the place"),
    "adjustment": mark("what is set wrong"),
    "passing": mark("weather or people"),
}
"""What a hold is of."""
ENDS = {
    "machine": mark("repair, re-test and release, at the bench"),
    **ENDS_BY,
    "test": mark("the first failed try counts: repair, re-test, release. Every try stays in the book"),
}
"""What ends a hold of it, or one that a failed test made."""


CARD_SILENT = mark(
    "The card does not say whether it has this. Where it has none, a supervisor says so there (c in the yard); "
    "a check begun after that does not ask."
)


@dataclass(frozen=True, slots=True)
class WalkView:
    """A walk at a question (None: at its end), with the notes that wait, the person's units, who is there, and when."""

    walk: Walk
    question: Question | None
    notes: Mapping[str, str]
    system: units.System
    person: str
    now: datetime
    gate: str = ""
    """The gate that is signed next."""
    holds: tuple[Reason, ...] = ()
    """What holds the machine for a run, so that no gate can be signed."""
    judged_by: tuple[JudgedBy, ...] = ()
    """On the page before a gate: what it will be judged by."""

    @property
    def language(self) -> str:
        """The language in which the sheet is asked."""
        return self.walk.language

    def _said(self, words: Mapping[str, str]) -> str:
        return in_language(words, self.language)

    def choice(self, key: str) -> str | None:
        """The answer that a figure gives; None where it gives none."""
        question = self.question
        if question is None or question.is_number or not key.isdecimal():
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

    def question_before(self) -> Question | None:
        """The question before the one that is shown; before a signature, and before a question of a later gate, the
        last that is answered. None at the first."""
        questions, kept, here = self.walk.sheet.questions, self.walk.counting(), self.question
        if here is not None and not self.walk.is_ahead(here, self.now, self.person):
            return questions[questions.index(here) - 1] if here != questions[0] else None
        return next((one for one in reversed(questions) if one.id in kept), None)

    def question_after(self) -> Question | None:
        """The question after the one that is shown, where it is answered."""
        questions = self.walk.sheet.questions
        after = questions[questions.index(self.question) + 1 :][:1] if self.question is not None else ()
        return next((one for one in after if one.id in self.walk.counting()), None)

    def going_on(self) -> str:
        """What is asked again of a check that somebody comes back to."""
        fallen = self.walk.fallen(self.now, self.person)
        if any(one.why == "person" for one in fallen):
            return plural(
                "Going on: {n} answer is asked again, as another person goes on.",
                "Going on: {n} answers are asked again, as another person goes on.",
                len(fallen),
            )
        if fallen:
            return plural(
                "Going on: {n} answer is asked again after a long pause.",
                "Going on: {n} answers are asked again after a long pause.",
                len(fallen),
            )
        if self.question is not None and self.question.id in self.walk.counting():
            return _("Going on: the last answer is asked once more.")
        return _("Going on where it was left.")

    # the machine beside the question

    def place(self) -> tuple[str, Round]:
        """The part that the question is about, and the way round the machine."""
        questions, held = self.walk.sheet.questions, self.walk.held()
        here = self.question or (held[0].question if held else None)
        at = questions.index(here) if here in questions else len(questions)
        parts = [one.part for one in (questions[: at + 1] if self.walk.ends_held() else questions)]
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
        if self.judged_by:
            places, gates = self.walk.sheet.gate_places, self.walk.sheet.gates
            n = sum(gates[place] == self.gate for place in places.values())
            title = _(GATE_TITLES[self.gate])
            return said(_("{title}: {n} questions. Enter begins.", title=title, n=n))
        if self.walk.held():
            return join((f"{state('held')}: " + _("the machine is held"), "bold $text-error"))
        return said(plural("{n} question is answered", "All {n} questions are answered", len(self.walk.counting())))

    @property
    def is_stop(self) -> bool:
        """Whether an answer to the question can hold the machine."""
        return self.question is not None and self.question.can_hold

    def caution(self) -> Content:
        """The caution of the question, which stands above it."""
        if self.question is None or not self.question.caution:
            return Content("")
        says = self._said(self.question.caution)
        return join((_("CAUTION") + " ", "bold $text-warning"), (says, "$text-warning"))

    def unit_hint(self) -> str:
        """What is to be typed for the number."""
        question = self.question
        if question is None or question.quantity == "count":
            return _("a number, Enter")
        return f"{question.unit(self.system)}, Enter"

    def limit(self) -> str:
        """The limits of the reading in words, as far as they are known; '' where none is asked for."""
        question, walk = self.question, self.walk
        if question is None or not question.is_number:
            return ""
        return limit_text(question, walk.card, walk.newest_plan, unit=question.unit(self.system))

    def trial(self, typed: str) -> Judgement | None:
        """What a figure would be worth that is typed and not yet given; None where it cannot be read."""
        question = self.question
        if question is None or not question.is_number or not typed:
            return None
        try:
            seen = with_unit(typed, question.quantity, self.system, question.role)
        except units.UnitsError:
            return None
        found = self.walk.judgement(Given(question.id, seen, self.now, self.person))
        return found if found.judged in ("right", "wrong") else None

    def scale(self, judgement: Judgement | None) -> ReadingScale | None:
        """The limits of the reading as a scale, and on it what it was judged; None where no figure limits it."""
        question, walk = self.question, self.walk
        if question is None or not question.is_number:
            return None
        return scale_of(question, walk.card, walk.newest_plan, self.system, judgement)

    def about(self) -> Content:
        """What belongs to the question; at the end, what holds the machine, or what was found and who signs."""
        if self.question is not None:
            return lines(*self._about(self.question))
        if self.judged_by:
            return self._judged_by()
        return self._held() if self.walk.held() else self._complete()

    def _about(self, question: Question) -> Iterator[Content]:
        if self.walk.is_ahead(question, self.now, self.person):
            yield join((_(HELD_AHEAD), "$text-warning"))
        if limit := self.limit():
            yield join(_("right is") + " ", (limit, "bold"))
        if not all(self.walk.card.is_sure_of(need) for need in question.needs):
            yield said(_(CARD_SILENT))
        for word, text in ((_("why"), question.why), (_("else"), question.do)):
            if text:
                yield join((f"{word}  ", "bold"), self._said(text))
        if self.is_stop:
            word = "test" if question.kind == "test" else question.owner or "machine"
            yield join((_("STOP QUESTION, if wrong:") + "  ", "bold"), _(ENDS[word]))
        if note := self.note_to(question):
            yield join((_("note") + "  ", "bold"), note)

    def _judged_by(self) -> Content:
        """What is planned and what limits it, line by line; what holds the machine first."""
        width = max(len(one.label) for one in self.judged_by)
        rows = [
            join(f"{one.label:<{width}}  ", (one.planned or _("not planned"), "bold" if one.planned else ""),
                 f"  {one.limit}".rstrip())
            for one in self.judged_by
        ]  # fmt: skip
        kept = _("Judged by the set that is kept, and the card:")
        head = kept if self.walk.newest_plan else _("No set is kept (s in the yard): judged by the card alone:")
        return lines(head, *rows)

    def _held(self) -> Content:
        one = self.walk.held()[0]
        retest = self._said(one.question.retest or one.question.ask)
        return lines(
            with_answer(self._said(one.question.ask), one.judgement.says),
            "",
            self._said(one.question.do) if one.question.do else "",
            _("It needs a repair, the re-test and a release at the bench (Esc, then b)."),
            join((_("re-test") + "  ", "bold"), retest),
        )

    def _complete(self) -> Content:
        judged = [self.walk.judgement(one).judged for one in self.walk.counting().values()]
        wrong = [
            with_answer(self._said(question.ask), self.walk.judgement(given).says)
            for question in self.walk.sheet.questions
            if (given := self.walk.counting().get(question.id)) is not None
            and self.walk.judgement(given).judged != "right"
        ]
        counts = {one: judged.count(one) for one in ("right", "noted", "wrong")}
        return lines(
            _("{right} right, {noted} noted, {wrong} to be fixed.", **counts),
            *(f"• {text}" for text in wrong),
            *self._people(),
            "",
            self.held_now() or join(("s", "bold reverse"), f"  {self._signs()}"),
        )

    def _signs(self) -> str:
        """What `s` signs: a gate, or the check as complete."""
        if not self.gate:
            return _("signs the check as complete, as {person}", person=self.person)
        return _("signs: {gate}, as {person}", gate=_(GATE_TITLES[self.gate]), person=self.person)

    def held_now(self) -> Content:
        """What holds the machine, whatever is answered here, and what ends it; empty where nothing does."""
        if not self.holds or not self.walk.sheet.gates:
            return Content("")
        owner = self.holds[0].owner
        return lines(
            join((_("{held} by {what}", held=state("held"), what=_(HELD_BY[owner])), "bold $text-error")),
            *(f"• {one.says}" for one in self.holds),
            join((_("to end it:") + "  ", "bold"), _(ENDS[owner])),
            _("You can still answer questions; no gate can be signed while this holds."),
        )

    def before(self, question: Question, judgement: Judgement, more: str = "") -> Content:
        """What a question was answered, and what that is worth, named once another question stands below."""
        short = self._said(question.short or question.ask)
        return join(_("before:") + f" {short}  ", self.judged(judgement, more))

    def by(self, given: Given) -> str:
        """Who gave an answer, where more than one person did."""
        return f"   ({given.by})" if len({one.by for one in self.walk.given} | {self.person}) > 1 else ""

    def _people(self) -> Iterator[str]:
        """Who answered how much, where more than one person did."""
        counted = Counter(one.by for one in self.walk.counting().values())
        if len(counted) > 1:
            people = ", ".join(f"{who} {n}" for who, n in counted.most_common())
            yield _("answered by {people}", people=people)

    def judged(self, judgement: Judgement, more: str = "") -> Content:
        """What an answer is worth."""
        word = state(judgement.judged)
        return join((word, _TONE.get(judgement.judged, "")), f"  {judgement.says}{more}")

    def hold_request(self, question: Question, judgement: Judgement) -> AskYesNo:
        """Whether an answer that holds the machine is to be written."""
        does = self._said(question.do) if question.do else ""
        broken = judgement.owner == "machine"
        says = (
            with_answer(self._said(question.ask), judgement.says),
            "",
            does if broken else _("If it can be put right now, do that and answer again: {how}", how=does),
            _("Once written, it holds until it is repaired, tested again and released.")
            if broken
            else _("Once written, it holds. To end it: {how}", how=_(ENDS[judgement.owner])),
        )
        return AskYesNo(_("This holds the machine"), says, yes=_("write it down: the machine is held"))
