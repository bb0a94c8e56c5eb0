"""The walk-round: one question at a time, answered by one key, kept the moment it is given.

The rules of this file: it asks the core which question is next and what an answer means. Leaving loses nothing;
whoever comes back is asked the last answered question once more.
"""

from __future__ import annotations

from typing import ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Input, Static

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.checks.limits import Judgement, limit_text
from reelcare.core.checks.sheet import Question, Sheet, left_out, left_out_again
from reelcare.core.checks.verdict import Given
from reelcare.core.drawing.machine import Walk as Round
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.wording import said as in_language
from reelcare.register import known, sheets, walks
from reelcare.register.errors import Refused
from reelcare.tui.screens.base import Place
from reelcare.tui.screens.walk_words import LABELS
from reelcare.tui.text import join, lines, said
from reelcare.tui.theme import state
from reelcare.tui.widgets.dialogs import Ask, Choose, Confirm
from reelcare.tui.widgets.key_line import KeyLine
from reelcare.tui.widgets.line import Reading
from reelcare.tui.widgets.machine_plan import MachinePlan

_TONE = {"right": "$text-success", "wrong": "bold $text-error", "noted": "$text-secondary"}


def open_walk(place: Place, machine: MachineNow, sheet_id: str) -> None:
    """Begin a walk-round on a machine, or go on with the one that is open."""
    app = place.reelcare
    for one in machine.state.checks:
        if one.sheet == sheet_id:
            going = walks.check(app.register, one.id)
            app.push_screen(Walk(machine, going, resumed=True))
            return
    sheet = sheets.load().by_id.get(sheet_id)
    if sheet is None:
        app.tell(f"{sheet_id}: no such sheet; `reelcare sheets` says what is wrong", bad=True)
        return
    if walks.first_of_the_set(app.register, machine.id, sheet, app.now()) is None:
        _begin(place, machine, sheet, again=False)
        return
    card = machine.card
    asked, all_ = (len(sheet.without(out(sheet, card)).questions) for out in (left_out_again, left_out))

    def chosen(number: int | None) -> None:
        if number is not None:
            _begin(place, machine, sheet, again=number == 0)

    texts = [
        f"a second run on this hydrant: the {asked} questions whose answers can have changed",
        f"a new set: all {all_} questions",
    ]
    app.push_screen(Choose(f"What is {machine.tag} checked for?", texts), chosen)


def _begin(place: Place, machine: MachineNow, sheet: Sheet, *, again: bool) -> None:
    app = place.reelcare
    begun = app.write(
        lambda: walks.begin(
            app.register, machine.id, sheet, by=app.person, now=app.now(), language=app.manner.language, again=again
        )
    )
    if begun is not None:
        app.push_screen(Walk(machine, begun, resumed=False))


class Walk(Place):
    """One check on one machine."""

    CSS_PATH = "walk.tcss"

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("pageup,left", "back", "Back", id="walk.back", tooltip="The question before, to answer it again"),
        Binding("pagedown,right", "forward", "Forward", id="walk.forward", tooltip="The next question"),
        Binding("n", "note", "Note", id="walk.note", tooltip="A note with the answer to this question"),
        Binding(
            "f",
            "fault",
            "Fault",
            id="walk.fault",
            tooltip="Notes a fault on this part without leaving the question",
        ),
        Binding(
            "t",
            "steps",
            "Steps",
            show=False,
            id="walk.steps",
            tooltip="What may be done now, and why not the rest",
        ),
        Binding("s", "sign", "Sign", id="walk.sign", tooltip="Signs the check as complete, when all is answered"),
        Binding("x", "give_up", "Give up", id="walk.give_up", tooltip="Gives this check up, with the reason"),
        Binding("escape", "leave", "Yard", id="walk.leave", tooltip="Back to the yard; the check stays open"),
    ]

    def __init__(self, machine: MachineNow, going: walks.Check, *, resumed: bool) -> None:
        super().__init__()
        self.machine = machine
        self.going = going
        self.resumed = resumed
        self.notes: dict[str, str] = {}
        """Notes that wait for the answer to their question."""
        self.question: Question | None = None

    @property
    def HOLDS_TYPING(self) -> bool:
        """Whether something is written here that no single letter may leave behind."""
        return bool(self.notes)

    def compose(self) -> ComposeResult:
        """The question at the left, the machine at the right."""
        yield self.head()
        yield Static(id="bar")
        with Horizontal(id="walk"):
            with Vertical(id="question"):
                yield Static(id="ask")
                yield Vertical(id="answers")
                yield Reading(id="number", disabled=True)
                yield Static(id="judged")
                yield Static(id="about", classes="note")
            with Vertical(id="plan"):
                yield MachinePlan(self.machine.card)
        yield KeyLine()

    def on_mount(self) -> None:
        """Ask where the walk stands."""
        walk = self.going.walk
        first = walk.resume(self.now()) if self.resumed else walk.next(self.now())
        self.show(first)
        if self.resumed and first is not None:
            self.query_one("#judged", Static).update(said(self.label("going on")))

    def where(self) -> str:
        """The machine, the sheet and the stage."""
        title = in_language(self.going.walk.sheet.title, self.language)
        stage = self.going.walk.sheet.stage_of(self.question.id) if self.question else None
        place = f"   {in_language(stage.title, self.language)}" if stage else ""
        return f"{self.machine.tag}  {title}{place}"

    @property
    def language(self) -> str:
        """The language in which the check was begun, and is asked to its end."""
        return self.going.walk.language

    def label(self, word: str) -> str:
        """A word of this screen in the language of the check."""
        return LABELS.get(self.language, LABELS["en"])[word]

    def fill(self) -> None:
        """Show the present question again."""
        self.show(self.question)

    def show(self, question: Question | None) -> None:
        """Show a question, or the end of the walk where there is none."""
        self.question = question
        self.refresh_head()
        self._bar()
        questions = self.going.walk.sheet.questions
        held = self.going.walk.held()
        here = question or (held[0].question if held else None)
        at = questions.index(here) if here in questions else len(questions)
        self.query_one(MachinePlan).light(
            here.part if here else "",
            self._positions(),
            Round.of([one.part for one in (questions[: at + 1] if held else questions)], at),
            language=self.language,
        )
        number = self.query_one("#number", Input)
        number.display = question is not None and question.is_number
        number.disabled = not number.display
        answers = self.query_one("#answers", Vertical)
        answers.remove_children()
        if question is None:
            self._end()
            return
        self.query_one("#ask", Static).update(said(in_language(question.ask, self.language)))
        if question.is_number:
            number.value = ""
            number.placeholder = self._unit(question)
            number.focus()
        else:
            self.set_focus(None)
            answers.mount(
                *(
                    Static(
                        join((f" {place} ", "bold reverse"), f"  {in_language(choice.says, self.language)}"),
                        classes="choice",
                        name=choice.id,
                    )
                    for place, choice in enumerate(question.choices, 1)
                )
            )
        self.query_one("#about", Static).update(self._about(question))

    def _about(self, question: Question) -> Content:
        told: list[Content] = []
        if question.is_number:
            walk, quantity = self.going.walk, question.quantity
            unit = "" if quantity == "count" else units.unit_for(quantity, self.manner.system, question.role)
            limit = limit_text(question, walk.card, walk.planned, language=self.language, unit=unit)
            if limit:
                told.append(join((f"{self.label('right is')} ", ""), (limit, "bold")))
        if question.caution:
            told.append(
                join(
                    (f"{self.label('caution')} ", "bold $text-warning"),
                    (in_language(question.caution, self.language), "$text-warning"),
                )
            )
        if question.why:
            told.append(join((f"{self.label('why')}  ", "bold"), in_language(question.why, self.language)))
        if question.do:
            told.append(join((f"{self.label('else')}  ", "bold"), in_language(question.do, self.language)))
        note = self._note_to(question)
        if note:
            told.append(join((f"{self.label('note')}  ", "bold"), note))
        return lines(*told)

    def _kept_note(self, question: Question) -> str:
        """The note that was kept with the answer to a question."""
        given = self.going.walk.counting().get(question.id)
        return given.note if given is not None else ""

    def _note_to(self, question: Question) -> str:
        """The note to a question: what waits for its answer, or what was kept with it."""
        return self.notes.get(question.id, self._kept_note(question))

    def _bar(self) -> None:
        walk = self.going.walk
        kept = walk.counting()
        signs = []
        for stage in walk.sheet.stages:
            marks = ""
            for one in stage.questions:
                if self.question is not None and one.id == self.question.id:
                    marks += "▣"
                elif one.id in kept:
                    marks += {"right": "■", "wrong": "✗", "noted": "•"}.get(walk.judgement(kept[one.id]).judged, "□")
                else:
                    marks += "□"
            signs.append(marks)
        done = f"{len(kept)}/{len(walk.sheet.questions)}"
        self.query_one("#bar", Static).update(join(" ".join(signs), ("  " + done, "bold")))

    def _positions(self) -> dict[str, str]:
        walk = self.going.walk
        found: dict[str, str] = {}
        for question in walk.sheet.questions:
            given = walk.counting().get(question.id)
            if given is not None and question.position and walk.judgement(given).judged == "right":
                found[question.position[0]] = question.position[1]
        return found

    def _unit(self, question: Question) -> str:
        if question.quantity == "count":
            return self.label("number")
        return f"{units.unit_for(question.quantity, self.manner.system, question.role)}, Enter"

    # answering

    def on_key(self, event: events.Key) -> None:
        """A figure chooses."""
        question = self.question
        if question is None or question.is_number or not event.character or not event.character.isdigit():
            return
        place = int(event.character) - 1
        if 0 <= place < len(question.choices):
            event.stop()
            self._answer(question.choices[place].id)

    @on(events.Click, ".choice")
    def _clicked(self, event: events.Click) -> None:
        if event.widget is not None and event.widget.name:
            self._answer(event.widget.name)

    @on(Input.Changed, "#number")
    def _number_begun(self) -> None:
        self.refresh_bindings()

    @on(Input.Submitted, "#number")
    def _number_given(self, event: Input.Submitted) -> None:
        question = self.question
        if question is None:
            return
        typed = event.value.strip()
        if not typed:
            self._say_error(self.label("number missing"))
            return
        if question.quantity != "count":
            try:
                if not units.split(typed)[1]:
                    typed = f"{typed} {units.unit_for(question.quantity, self.manner.system, question.role)}"
            except units.UnitsError as why:
                self._say_error(str(why))
                return
        self._answer(typed)

    def _say_error(self, text: str) -> None:
        self.query_one("#judged", Static).update(said(text, "$text-error"))

    def _answer(self, seen: str) -> None:
        question = self.question
        if question is None:
            return
        trial = self.going.walk.judgement(Given(question.id, seen, self.now(), self.reelcare.person))
        if trial.judged == "unreadable":
            self._say_error(trial.says)
            return
        if trial.judged == "wrong" and question.if_not == "stop":
            does = in_language(question.do, self.language) if question.do else ""
            self.app.push_screen(
                Confirm(
                    self.label("holds"),
                    [
                        f"{in_language(question.ask, self.language)} {trial.says}",
                        "",
                        f"{self.label('put right')} {does}",
                        self.label("written"),
                    ],
                    yes=self.label("write"),
                    no=self.label("look again"),
                ),
                lambda yes: self._write(question, seen) if yes else None,
            )
            return
        self._write(question, seen)

    def _write(self, question: Question, seen: str) -> None:
        app = self.reelcare
        note = self._note_to(question)
        after = app.write(
            lambda: walks.answer(
                self.register, self.going.id, question.id, seen, by=app.person, now=self.now(), note=note
            )
        )
        if after is None:
            return
        former = ""
        if question.is_number:
            # told only now: a value from before would answer for the eyes
            former = known.former_answer(
                self.register, self.machine.id, self.going.sheet_id, question.id, self.going.id
            )
        self.notes.pop(question.id, None)
        self.going = after.check
        self._tell_judged(after.judgement, f"   ({self.label('last time')} {former})" if former else "")
        if after.fault is not None:
            self.show(None)
            return
        self.show(self.going.walk.next(self.now()))

    def _tell_judged(self, judgement: Judgement, more: str = "") -> None:
        """Say what an answer is worth."""
        word = state(judgement.judged).replace(judgement.judged, self.label(judgement.judged))
        self.query_one("#judged", Static).update(
            join((word, _TONE.get(judgement.judged, "")), f"  {judgement.says}{more}")
        )

    def _end(self) -> None:
        """The last page: held, or all answered and to be signed."""
        ask, about = self.query_one("#ask", Static), self.query_one("#about", Static)
        walk = self.going.walk
        held = walk.held()
        self.set_focus(None)
        if held:
            one = held[0]
            ask.update(join((f"{state('held')}: {self.label('is held')}", "bold $text-error")))
            about.update(
                lines(
                    f"{in_language(one.question.ask, self.language)} {one.judgement.says}",
                    "",
                    in_language(one.question.do, self.language) if one.question.do else "",
                    self.label("bench"),
                    join(
                        (f"{self.label('re-test')}  ", "bold"),
                        in_language(one.question.retest or one.question.ask, self.language),
                    ),
                )
            )
            return
        judged = [walk.judgement(one).judged for one in walk.counting().values()]
        ask.update(said(self.label("all").format(len(judged))))
        wrong = [
            f"{in_language(question.ask, self.language)} {walk.judgement(given).says}"
            for question in walk.sheet.questions
            if (given := walk.counting().get(question.id)) is not None and walk.judgement(given).judged != "right"
        ]
        about.update(
            lines(
                self.label("sum").format(*(judged.count(one) for one in ("right", "noted", "wrong"))),
                *(f"• {text}" for text in wrong),
                "",
                join(("s", "bold reverse"), f"  {self.label('signs')} {self.reelcare.person}"),
            )
        )

    # keys

    def action_back(self) -> None:
        """The question before."""
        questions = self.going.walk.sheet.questions
        place = questions.index(self.question) if self.question in questions else len(questions)
        if place > 0 and not self.going.walk.held():
            self._show_again(questions[place - 1])

    def action_forward(self) -> None:
        """The next question, as far as the walk has come."""
        questions = self.going.walk.sheet.questions
        waiting = self.going.walk.next(self.now())
        if self.question is None or self.question == waiting:
            return
        place = questions.index(self.question) + 1
        self._show_again(questions[place] if place < len(questions) else waiting)

    def _show_again(self, question: Question | None) -> None:
        """Show a question with the answer that it has, as far as it has one."""
        self.show(question)
        given = self.going.walk.counting().get(question.id) if question is not None else None
        if given is not None:
            self._tell_judged(self.going.walk.judgement(given))
        else:
            self.query_one("#judged", Static).update("")

    def action_note(self) -> None:
        """A note that goes with the answer."""

        question = self.question
        if question is None:
            return

        def given(text: str | None) -> None:
            if text is None:
                return
            self.notes[question.id] = text
            if text == self._kept_note(question):
                del self.notes[question.id]
            self.query_one("#about", Static).update(self._about(question))
            self.refresh_bindings()

        self.app.push_screen(Ask(self.label("its note"), value=self._note_to(question), needed=False), given)

    def action_fault(self) -> None:
        """A fault on this part."""
        from reelcare.tui.screens.fault import FaultForm

        part = self.question.part if self.question else ""
        self.app.push_screen(FaultForm(self.machine.id, self.machine.tag, part))

    def action_steps(self) -> None:
        """What may be done now, as far as it was answered."""
        from reelcare.tui.screens.steps import open_steps

        open_steps(self, self.machine)

    def action_sign(self) -> None:
        """Sign the check as complete."""
        if self.going.walk.held() or self._back_to_note():
            return
        app = self.reelcare
        try:
            done = walks.complete(self.register, self.going.id, by=app.person, now=self.now())
        except Refused as why:
            app.tell(str(why), bad=True)
            self.show(self.going.walk.next(self.now()))
            return
        faults = sum(isinstance(one.what, e.Fault) for one in done)
        title = in_language(self.going.walk.sheet.title, self.language)
        app.tell(f"{self.machine.tag}: {title} complete" + (f", {faults} to be fixed noted" if faults else ""))
        self.app.pop_screen()

    def _back_to_note(self) -> bool:
        """Go to a question whose note is not kept yet; whether there is one."""
        waiting = next((one for one in self.going.walk.sheet.questions if one.id in self.notes), None)
        if waiting is None:
            return False
        self._show_again(waiting)
        self.reelcare.tell(f"{self.label('note goes')} {in_language(waiting.ask, self.language)}", bad=True)
        return True

    def action_leave(self) -> None:
        """Back to the yard; a note that waits for its answer is not left behind unasked."""
        waiting = [one for one in self.going.walk.sheet.questions if one.id in self.notes]
        if not waiting:
            super().action_leave()
            return
        says = [self.label("note goes"), *(in_language(one.ask, self.language) for one in waiting)]

        def answered(yes: bool | None) -> None:
            if yes:
                self.app.pop_screen()
            else:
                self._show_again(waiting[0])

        dialog = Confirm(self.label("note waits"), says, yes=self.label("without"), no=self.label("back to it"))
        self.app.push_screen(dialog, answered)

    def action_give_up(self) -> None:
        """Give the check up."""

        def given(why: str | None) -> None:
            app = self.reelcare
            if why and app.write(lambda: walks.leave(self.register, self.going.id, why, by=app.person, now=self.now())):
                self.app.pop_screen()

        if self.going.walk.held():
            self.app.pop_screen()
            return
        self.app.push_screen(Ask(self.label("give up")), given)
