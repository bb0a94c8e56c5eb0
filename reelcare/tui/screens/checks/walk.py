"""The walk-round: one question at a time, answered by one key, kept the moment it is given.

The rules of this file: it asks the core which question is next and what an answer means. Leaving loses nothing;
whoever comes back is asked the last answered question once more.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual import events, on, work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core.checks.judged_by import JudgedBy, judged_by
from reelcare.core.checks.limits import Judgement
from reelcare.core.checks.sheet import GATE_TITLES, Question
from reelcare.core.checks.verdict import Given
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.state.standing import Reason
from reelcare.core.text import _, localized, mark
from reelcare.core.wording import said as in_language
from reelcare.register.acts import sets, walk_rounds
from reelcare.register.views import previous_answers
from reelcare.tui.base import BaseScreen
from reelcare.tui.requests import AskText, AskYesNo, EnterPaper, LogFault, OpenSteps, OpenWalkRound
from reelcare.tui.screens.checks.debounce import Debounce
from reelcare.tui.screens.checks.ended_elsewhere import ended_elsewhere
from reelcare.tui.screens.checks.question_panel import QuestionPanel
from reelcare.tui.screens.checks.walk_keys import KEYS
from reelcare.tui.screens.checks.walk_view import WalkView
from reelcare.tui.widgets.drawings.machine_plan import MachinePlan
from reelcare.tui.widgets.standing_line import road_line

WHAT_CHANGED = mark("Its place and its set are still the same: if nothing else has changed, the hold stays.")
ENDED_WITHOUT = ("sign", "back", "forward", "note", "give_up")
"""What can be done no more with a check that has ended held."""
NOTE_GOES = mark("A note is kept with the answer to its question: {ask}")


class WalkRound(BaseScreen):
    """One check on one machine."""

    CSS_PATH = "../walk_round.tcss"

    BINDINGS: ClassVar[list[BindingType]] = KEYS

    def __init__(self, request: OpenWalkRound) -> None:
        super().__init__()
        self.machine, self.going, self.resumed = request.machine, request.going, request.resumed
        self.machine_id = request.machine.id
        self.notes: dict[str, str] = {}
        """Notes that wait for the answer to their question."""
        self.question: Question | None = None
        self.gate = ""
        self.opening = False
        """Whether the page before a gate is shown: what it will be judged by."""
        self.begun = ""
        """The gate whose page was seen."""
        self.holds: tuple[Reason, ...] = ()
        self.debounce = Debounce()
        self._before: Callable[[], Content | str] = str
        self._judged: Callable[[], Content | str] = str

    @property
    def holds_typing(self) -> bool:
        """Whether a note waits, which no single letter may leave behind."""
        return bool(self.notes)

    def body(self) -> ComposeResult:
        """The question at the left, the machine at the right."""
        yield Static(id="bar")
        with Horizontal(id="walk"):
            yield QuestionPanel(id="question")
            with Vertical(id="plan"):
                yield MachinePlan(self.machine.card)

    def on_mount(self) -> None:
        """Ask where the walk stands."""
        self.screen_layout_refresh_signal.subscribe(self, self._make_room, immediate=True)
        first = self.going.walk.resume(self.now(), self.host.person) if self.resumed else self._next()
        self.show(first)
        if self.resumed and first is not None:
            self.host.tell(self.view.going_on(), asks=True)
        self._tell_before(lambda: self.view.held_now())

    @property
    def view(self) -> WalkView:
        """The check as it is shown now."""
        walk, person = self.going.walk.in_language(self.preferences.language), self.host.person
        told: tuple[JudgedBy, ...] = ()
        if self.opening:
            wishes = sets.wishes_for(self.register, self.machine.id, self.now())
            told = tuple(judged_by(walk, wishes, self.preferences.system, self.register.zone, self.now()))
        return WalkView(
            walk, self.question, dict(self.notes), self.preferences.system, person, self.now(), self.gate, self.holds,
            told,
        )  # fmt: skip

    @property
    def panel(self) -> QuestionPanel:
        """The question and its answers."""
        return self.query_one(QuestionPanel)

    def standing(self, machine: MachineNow) -> Content:
        """What the sheet is for: of a road check, how the machine stands for the road."""
        if self.going.walk.sheet.checks_for == "road":
            return road_line(machine, self.standing_room)
        return super().standing(machine)

    def page(self) -> str:
        """The sheet and the stage."""
        sheet, language = self.going.walk.sheet, self.view.language
        stage = sheet.stage_of(self.question.id) if self.question else None
        place = f": {in_language(stage.title, language)}" if stage else ""
        return f"{in_language(sheet.title, language)}{place}"

    def fill(self) -> None:
        """Show the present question again, and what was told beside it, in the person's language."""
        self.show(self._next() if self.opening else self.question)
        self._tell_before(self._before)
        self._tell(self._judged)

    def show_again(self) -> None:
        """Another program can hold the machine, or let it go, while a signature is offered."""
        super().show_again()
        if not self._is_over() and self.question is None and self._holds() != self.holds:
            self.show(self._next())

    def _is_over(self) -> bool:
        """Whether another program has ended the check; then it is told."""
        told = ended_elsewhere(self.register, self.going)
        if told:
            self.host.tell(told, bad=True)
        return bool(told)

    def _holds(self) -> tuple[Reason, ...]:
        gated = bool(self.going.walk.sheet.gates)
        return tuple(walk_rounds.holds_of(self.register, self.machine.id, self.now())) if gated else ()

    def _tell_before(self, how: Callable[[], Content | str]) -> None:
        """Tell what was answered before; it is told again in another language."""
        self._before = how
        self.panel.tell_before(how())

    def _tell(self, how: Callable[[], Content | str] = str) -> None:
        """Tell what an answer is worth, or why it was not taken; it is told again in another language."""
        self._judged = how
        self.panel.tell(how())

    def show(self, question: Question | None) -> None:
        """Show a question, or the end of the walk where there is none."""
        self.debounce.appeared()
        walk, now = self.going.walk, self.now()
        self.gate = walk.next_gate(now, self.host.person)
        is_first = question is not None and question == self._next() and walk.begins_gate(now, self.host.person)
        self.opening = is_first and self.begun != self.gate
        self.question = None if self.opening else question
        self.refresh_bindings()
        self.holds = self._holds()
        view = self.view
        self.refresh_head()
        self.query_one("#bar", Static).update(view.bar())
        part, round_ = view.place()
        self.query_one(MachinePlan).light(part, view.positions(), round_)
        self.panel.show(view)
        self._share_room()

    def _share_room(self) -> None:
        """Show all there is; as soon as it is laid out, it is seen whether everything has a place."""
        self.query_one("#plan").display = not self.opening and not self.is_narrow
        self.panel.take_room()

    def _make_room(self, _screen: object) -> None:
        """Give the question the room of the drawing, then that of what stands around it, where its own answers would
        not all be in sight."""
        plan = self.query_one("#plan")
        if not self.panel.all_in_sight and plan.display:
            plan.display = False
        elif not self.panel.all_in_sight:
            self.panel.save_room()

    def action_scroll_text(self, lines: int) -> None:
        """What has no room of the text of a question."""
        self.panel.scroll_relative(y=lines, animate=False)

    def on_resize(self) -> None:
        """See in the new room whether the drawing has a place in it."""
        self._share_room()

    def _next(self) -> Question | None:
        """The question to ask now; None where a signature comes next."""
        return walk_rounds.to_ask(self.register, self.going, self.now(), self.host.person)

    def _show_again(self, question: Question | None) -> None:
        """Show a question with the answer that it has, as far as it has one."""
        self.show(question)
        self._tell_before(str)
        given = self.going.walk.counting().get(question.id) if question is not None else None
        if given is not None:
            self._tell(lambda: self.view.judged(self.view.walk.judgement(given), self.view.by(given)))
        else:
            self._tell()

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
        if question is None or self._is_over():
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
        why = await self.ask(AskText(_("Why is this check given up?")))
        if why:
            self.host.in_turn(lambda: self._give_up(why))

    def _give_up(self, why: str) -> None:
        host, now = self.host, self.now()
        if host.write(lambda: walk_rounds.leave(self.register, self.going.id, why, by=host.person, now=now)):
            self.dismiss()
