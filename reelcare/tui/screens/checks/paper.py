"""A check that was filled in on paper at the machine, entered as one form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from reelcare.core import units
from reelcare.core.checks.limits import CANNOT_READ
from reelcare.core.checks.sheet import GATE_TITLES, Question
from reelcare.core.text import _, mark, typed_figure
from reelcare.core.typed_time import TimeError, read_after, read_past
from reelcare.core.wording import said as in_language
from reelcare.register.errors import Refused
from reelcare.register.exchange.papers import Paper, paper_of, which_sheet
from reelcare.tui.requests import EnterPaper
from reelcare.tui.screens.form import FieldError, Form, FormField
from reelcare.tui.widgets.typed_quantity import with_unit

HOW = mark(
    "Type what is on the paper: the number that is ticked, or the reading. `1 3` means 1 at "
    "first, then 3; a note goes after a semicolon. What is left blank stays open. The name on "
    "the paper must be yours: who enters it signs it."
)


class PaperForm(Form):
    """The open questions of a check with what stands on the paper, and when its gates were signed."""

    PAGE = mark("From paper")

    def __init__(self, request: EnterPaper) -> None:
        super().__init__()
        self.machine, self.going = request.machine, request.going
        self.machine_id = request.machine.id
        self._told: Mapping[str | None, str | bool] | None = None
        """What stood here when it was told what it holds."""

    def before(self) -> Sequence[str]:
        """How it is filled in, and of which sheet."""
        return (_(HOW), which_sheet(self.going))

    def _asked(self, gate: str) -> list[Question]:
        """The open questions of a gate; of the whole sheet where it has none."""
        walk = self.going.walk
        waiting = walk.open(self.now(), self.host.person)
        return [one for one in waiting if not gate or walk.sheet.gate_of(one.id) == gate]

    @property
    def _gates(self) -> tuple[str, ...]:
        """The gates that are not signed yet; '' where the sheet has none."""
        sheet = self.going.walk.sheet
        return sheet.gates[len(self.going.walk.gates(self.now(), self.host.person)) :] or ("",)

    def form_lines(self) -> Sequence[FormField]:
        """When it was filled in, a line for each question, and one for each signature."""
        language, questions = self.preferences.language, self.going.walk.sheet.questions
        found = [FormField("began", _("filled in at"), "", _("06:30, yesterday 06:30, 2026-05-01 06:30"))]
        for gate in self._gates:
            for one in self._asked(gate):
                label = f"{questions.index(one) + 1} {in_language(one.title, language)}"
                found.append(FormField(f"q-{one.id}", label, "", self._hint(one, language)))
            label = _(GATE_TITLES[gate]) if gate else _("signed")
            found.append(FormField(f"signed-{gate}", label, "", _("signed at, as in 06:50; blank: not signed")))
        return found

    def _hint(self, question: Question, language: str) -> str:
        if not question.is_number:
            return "  ".join(f"{n} {in_language(one.says, language)}" for n, one in enumerate(question.choices, 1))
        return question.unit(self.preferences.system) + (_("; c: cannot be read") if question.cannot_read else "")

    def keep(self) -> bool:
        """Read all of it, ask once more where it holds the machine, and write it at once."""
        paper = self._read()
        if not paper.done:
            raise FieldError("began", _("nothing is entered yet"))
        held, here = paper.here.walk.held(), self._filled_in()
        if held and self._told != here:
            self._told = here
            says = "; ".join(one.judgement.says for one in held)
            return self.wrong(_("This holds the machine: {says}. Ctrl Y once more writes it down.", says=says))
        written = self.write(lambda: paper.write(self.register, now=self.now()), "began")
        if written is not None:
            self.host.tell(_("{tag}: entered from paper", tag=self.machine.tag))
        return written is not None

    def _read(self) -> Paper:
        """What stands in the lines. Raises FieldError at the line that cannot be taken."""
        zone, text = self.register.zone, self.value("began")
        if not text:
            raise FieldError("began", _("say when it was filled in at the machine"))
        today = f"today {text}" if text[0].isdecimal() and len(text) <= len("06:30") else text
        at = self.read("began", lambda _text: read_past(today, self.now(), zone))
        try:
            paper = paper_of(self.going, by=self.host.person, at=at)
        except Refused as why:
            raise FieldError("began", why) from None
        for gate in self._gates:
            for question in self._asked(gate):
                paper = self._answered(paper, question)
            clock = self.value(f"signed-{gate}")
            if clock:
                try:
                    paper = paper.signed(self.register, read_after(clock, paper.at, zone))
                except (Refused, TimeError) as why:
                    raise FieldError(f"signed-{gate}", why) from None
        return paper

    def _answered(self, paper: Paper, question: Question) -> Paper:
        """The paper with what stands in the line of a question."""
        id = f"q-{question.id}"
        text, _semicolon, note = self.value(id).partition(";")
        if not text.strip():
            return paper
        try:
            if question.is_number:
                return paper.answered(question.id, self._reading(question, text.strip(), note), "")
            for figure in text.split():
                paper = paper.answered(question.id, _choice(question, figure), note.strip())
        except (Refused, units.UnitsError) as why:
            raise FieldError(id, why) from None
        return paper

    def _reading(self, question: Question, text: str, note: str) -> str:
        """A reading with its unit; where it cannot be read, with what was read elsewhere behind it."""
        if question.cannot_read and text.lower() == "c":
            return f"{CANNOT_READ}; {typed_figure(note.strip())}" if note.strip() else CANNOT_READ
        if question.quantity == "count":
            return typed_figure(text)
        return with_unit(text, question.quantity, self.preferences.system, question.role)


def _choice(question: Question, figure: str) -> str:
    """The choice of a figure. Raises Refused."""
    if figure.isdecimal() and 1 <= int(figure) <= len(question.choices):
        return question.choices[int(figure) - 1].id
    raise Refused(_("{figure}: must be a number from 1 to {choices}", figure=figure, choices=len(question.choices)))
