"""The walk-round: one question at a time, answered by one key, kept the moment it is given.

The rules of this file: it asks the core which question is next and what an answer means. Leaving loses nothing;
whoever comes back is asked the last answered question once more.
"""

from __future__ import annotations

from typing import ClassVar

from textual import events, on, work
from textual.binding import BindingType
from textual.content import Content

from reelcare.core import entries as e
from reelcare.core.checks.limits import Judgement
from reelcare.core.checks.sheet import GATE_TITLES, Question
from reelcare.core.checks.verdict import Given
from reelcare.core.text import _, localized, mark
from reelcare.core.wording import said as in_language
from reelcare.register.acts import walk_rounds
from reelcare.register.views import previous_answers
from reelcare.tui.keys import bind
from reelcare.tui.requests import AskText, AskYesNo, EnterPaper, LogFault, OpenSteps
from reelcare.tui.screens.checks.question_panel import QuestionPanel
from reelcare.tui.screens.checks.walk_screen import WalkScreen
from reelcare.tui.screens.words import ask_and_write

WHAT_CHANGED = mark("Its place and its set are still the same: if nothing else has changed, the hold stays.")
ENDED_WITHOUT = ("sign", "back", "forward", "note", "give_up")
"""What can be done no more with a check that has ended held."""
NOTE_GOES = mark("A note is kept with the answer to its question: {ask}")


class WalkRound(WalkScreen):
    """One check on one machine."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("walk.begin", "enter", mark("Begin"), mark("Begins this gate with its first question")),
        bind(
            "walk.paper", "e", mark("From paper"),
            mark("Enters a check that was filled in on paper at the machine, as one form"),
        ),
        bind("walk.sign", "s", mark("Sign"), mark("Signs the gate, or the check as complete, when all is answered")),
        bind("walk.back", "pageup,left", mark("Back"), mark("Previous question, to answer it again")),
        bind("walk.forward", "pagedown,right", mark("Forward"), mark("Next question"), show=False),
        bind("walk.note", "n", mark("Note"), mark("A note with the answer to this question")),
        bind("walk.fault", "f", mark("Fault"), mark("Notes a fault on this part without leaving the question")),
        bind("walk.steps", "t", mark("Steps"), mark("What may be done now, and why the rest may not"), show=False),
        bind("walk.give_up", "x", mark("Give up"), mark("Gives this check up; asks for the reason")),
        bind("walk.leave", "escape", mark("Yard"), mark("Back to the yard; the check stays open")),
        bind(
            "walk.up", "up", mark("Up"), mark("The text of a long question, a few lines up"), action="scroll_text(-3)",
            show=False,
        ),
        bind(
            "walk.down", "down", mark("Down"), mark("The text of a long question, a few lines down"),
            action="scroll_text(3)", show=False,
        ),
    ]  # fmt: skip

    @property
    def holds_typing(self) -> bool:
        """Whether a note waits, which no single letter may leave behind."""
        return bool(self.notes)

    def on_mount(self) -> None:
        """Ask where the walk stands."""
        self.screen_layout_refresh_signal.subscribe(self, self._make_room, immediate=True)
        first = self.going.walk.resume(self.now(), self.host.person) if self.resumed else self._next()
        self.show(first)
        if self.resumed and first is not None:
            self.host.tell(self.view.going_on(), asks=True)
        self._tell_before(lambda: self.view.held_now())

    # answering

    def on_key(self, event: events.Key) -> None:
        """A figure chooses."""
        seen = self.view.choice(event.character or "")
        if seen is not None:
            event.stop()
            self._press(event.key, seen)

    @on(QuestionPanel.Clicked)
    def _clicked(self, event: QuestionPanel.Clicked) -> None:
        seen = self.view.choice(str(event.place + 1))
        if seen is not None:
            self._press("click", seen)

    @on(QuestionPanel.Answered)
    def _answered(self, event: QuestionPanel.Answered) -> None:
        self._press("enter", event.seen)

    def _press(self, key: str, seen: str) -> None:
        """Answer, unless the question has only just appeared or the key is held down."""
        why = self.debounce.refuses(key)
        if why:  # in the line that is always in sight: the panel of a long question is not
            self.host.tell(_(why), asks=True)
        else:
            self._answer(seen)

    def _answer(self, seen: str) -> None:
        question = self.question
        if question is None or self._is_over() or self.read_again():
            return
        trial = self.view.walk.judgement(Given(question.id, seen, self.now(), self.host.person))
        needs_word = trial.puts_right and walk_rounds.needs_word(self.register, self.going, question.id)
        if trial.judged == "unreadable":
            self.panel.tell_error(trial.says)
        elif trial.holds:
            self._confirm_hold(question, seen, trial)
        elif needs_word and not self.view.note_to(question).strip():
            self._ask_what_changed(question, seen)
        else:
            self.host.in_turn(lambda: self._write(question, seen))

    @work
    async def _confirm_hold(self, question: Question, seen: str, trial: Judgement) -> None:
        """Write an answer that holds the machine once that is confirmed."""
        if await self.ask(self.view.hold_request(question, trial)):
            self.host.in_turn(lambda: self._write(question, seen))

    @work
    async def _ask_what_changed(self, question: Question, seen: str) -> None:
        """Write an answer that ends a hold of the place with what changed there; without a word the hold stays."""
        text = await self.ask(AskText(_("What has changed at the place?"), _(WHAT_CHANGED), needed=False))
        if text is not None:
            self.notes[question.id] = text
            self.host.in_turn(lambda: self._write(question, seen))

    def _write(self, question: Question, seen: str) -> None:
        host, register, now = self.host, self.register, self.now()
        note = self.view.note_to(question)
        after = host.write(
            lambda: walk_rounds.answer(register, self.going, question.id, seen, by=host.person, now=now, note=note)
        )
        if after is None:
            return
        former = ""
        if question.is_number:
            # shown only now: an earlier value would be copied instead of read
            former = previous_answers.former_answer(
                register, self.machine.id, self.going.sheet_id, question.id, self.going.id
            )
        self.notes.pop(question.id, None)
        self.going = after.check

        def before() -> Content:
            view = self.view
            last = _("last time {value}", value=localized(former)) if former else ""
            more = f"   ({last})" if last else ""
            return view.before(question, view.walk.judgement(Given(question.id, seen, now, host.person)), more)

        self._tell_before(before)
        self._tell()
        self.show(None if self.going.walk.ends_held() else self._next())

    # keys

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """A gate is begun, and a paper entered, only on its page; a check that has ended held is only read."""
        if action in ("begin", "paper"):
            return self.opening
        walk = self.going.walk
        if (action in ENDED_WITHOUT and walk.ends_held()) or (action == "sign" and not self.going.is_written):
            return False
        return super().check_action(action, parameters)

    def action_begin(self) -> None:
        """Begin the gate: ask its first question."""
        self.begun = self.gate
        self.show(self._next())

    @work
    async def action_paper(self) -> None:
        """Enter what was filled in on paper; once it is kept, this screen is left as well."""
        before = self.register.change_token()
        await self.ask(EnterPaper(self.machine, self.going))
        if self.register.change_token() != before:
            self.dismiss()

    def action_back(self) -> None:
        """The question before."""
        before = self.view.question_before()
        if before is not None and not self.going.walk.ends_held():
            self._show_again(before)

    def action_forward(self) -> None:
        """The next question, as far as the walk has come."""
        waiting = self._next()
        if self.question is not None and self.question != waiting:
            self._show_again(self.view.question_after() or waiting)  # the next gate is asked once this one is signed

    @work
    async def action_note(self) -> None:
        """A note that goes with the answer."""
        question = self.question
        if question is None:
            return
        text = await self.ask(AskText(_("Note to this question"), value=self.view.note_to(question), needed=False))
        if text is None:
            return
        self.notes[question.id] = text
        if text == self.view.kept_note(question):
            del self.notes[question.id]
        self.panel.tell_about(self.view)
        self.refresh_bindings()

    def action_fault(self) -> None:
        """A fault on this part."""
        self.open(LogFault(self.machine.id, self.machine.tag, self.question.part if self.question else ""))

    def action_steps(self) -> None:
        """What may be done now, as far as it was answered."""
        self.open(OpenSteps(self.machine.id))

    def action_sign(self) -> None:
        """Sign the check as complete."""
        ended = self.going.walk.ends_held() or self._is_over()
        if not (ended or not self.going.is_written or self._back_to_note()):
            self.host.in_turn(self._sign)

    def _sign(self) -> None:
        host = self.host
        done = host.write(lambda: walk_rounds.sign(self.register, self.going.id, by=host.person, now=self.now()))
        if done is None:
            self.show(self._next())
            return
        signed = next((one.what.gate for one in done if isinstance(one.what, e.GateSigned)), None)
        if signed is not None:
            self.going = walk_rounds.check(self.register, self.going.id)
            host.tell(_("{tag}: {gate}, signed", tag=self.machine.tag, gate=_(GATE_TITLES[signed])))
            self.show(self._next())
            return
        faults = sum(isinstance(one.what, e.Fault) for one in done)
        title = in_language(self.going.walk.sheet.title, self.view.language)
        done_text = _("{tag}: {title} complete", tag=self.machine.tag, title=title)
        host.tell(done_text + (", " + _("{n} to be fixed noted", n=faults) if faults else ""))
        self.dismiss()

    def _waiting(self) -> list[Question]:
        """Questions whose notes are not kept yet."""
        return [one for one in self.going.walk.sheet.questions if one.id in self.notes]

    def _back_to_note(self) -> bool:
        """Go to a question whose note is not kept yet; whether there is one."""
        waiting = self._waiting()
        if waiting:
            self._show_again(waiting[0])
            ask = in_language(waiting[0].ask, self.view.language)
            self.host.tell(_(NOTE_GOES, ask=ask), bad=True)
        return bool(waiting)

    def action_leave(self) -> None:
        """Back to the yard; a note that waits for its answer is not left behind unasked."""
        waiting = self._waiting()
        if waiting:
            self._ask_to_leave(waiting)
        else:
            self.dismiss()

    @work
    async def _ask_to_leave(self, waiting: list[Question]) -> None:
        asks = "; ".join(in_language(one.ask, self.view.language) for one in waiting)
        yes, no = mark("leave without the note"), mark("back to the question")
        if await self.ask(AskYesNo(_("A note is not saved yet"), (_(NOTE_GOES, ask=asks),), yes, no)):
            self.dismiss()
        else:
            self._show_again(waiting[0])

    @work
    async def action_give_up(self) -> None:
        """Give the check up, with the reason."""
        if self.going.walk.ends_held() or not self.going.is_written:
            self.dismiss()
            return
        await ask_and_write(self, AskText(_("Why is this check given up?")), self._give_up)

    def _give_up(self, why: str) -> bool:
        host, now = self.host, self.now()
        left = host.write(lambda: walk_rounds.leave(self.register, self.going.id, why, by=host.person, now=now))
        if left:
            self.dismiss()
        return bool(left)
