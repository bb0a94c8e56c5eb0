"""A walk-round on the screen: the bar, the question at the left, the machine at the right, and what stands in the head.

The rules of this file: it asks the core which question is next and what an answer means; nothing is answered here.
"""

from __future__ import annotations

from collections.abc import Callable

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Static

from reelcare.core.checks.judged_by import JudgedBy, judged_by
from reelcare.core.checks.sheet import Question
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.state.standing import Reason
from reelcare.core.text import _
from reelcare.core.wording import said as in_language
from reelcare.register.acts import sets, walk_rounds
from reelcare.register.errors import Refused
from reelcare.tui.base import BaseScreen
from reelcare.tui.requests import OpenWalkRound
from reelcare.tui.screens.checks.debounce import Debounce
from reelcare.tui.screens.checks.question_panel import QuestionPanel
from reelcare.tui.screens.checks.walk_view import WalkView
from reelcare.tui.widgets.drawings.machine_plan import MachinePlan
from reelcare.tui.widgets.standing_line import road_line


class WalkScreen(BaseScreen):
    """One check on one machine, as it is shown."""

    CSS_PATH = "../walk_round.tcss"

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

    def body(self) -> ComposeResult:
        """The question at the left, the machine at the right."""
        yield Static(id="bar")
        with Horizontal(id="walk"):
            yield QuestionPanel(id="question")
            with Vertical(id="plan"):
                yield MachinePlan(self.machine.card)

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
        """Another program can hold the machine, or let it go, while a signature is offered; keep another set; or answer
        the same check."""
        super().show_again()
        if not (self._is_over() or self.read_again()) and self.question is None and self._holds() != self.holds:
            self.show(self._next())

    def read_again(self) -> bool:
        """Read the check anew. Whether it is judged by something else now: that is told and shown, and what is typed
        stays."""
        before = self.going
        try:
            self.going = (
                walk_rounds.check(self.register, before.id) if before.is_written
                else walk_rounds.prepare_again(self.register, before, self.now())
            )  # fmt: skip
        except Refused:  # what keeps it from being begun is said to its first answer
            return False
        one, other = before.walk, self.going.walk
        if one.newest_plan == other.newest_plan and one.card == other.card:
            return False
        typed = self.panel.typed
        self.show(self.question if self.question in other.sheet.questions else self._next())
        self.panel.typed = typed
        self.host.tell(_("Set or card were changed meanwhile: look at the limits, then answer."), asks=True)
        return True

    def _is_over(self) -> bool:
        """Whether another program has ended the check since it was read; then it is told."""
        if self.going.ended is not None or not self.going.is_written:
            return False
        ended = walk_rounds.check(self.register, self.going.id).ended
        if ended is None:
            return False
        says = _("This check was ended by {by} at {at:%H:%M}: {how}.", by=ended.by or "-",
                 at=self.local(ended.happened), how=ended.what.describe())  # fmt: skip
        self.host.tell(says + " " + _("Nothing more of it is saved: Esc, then begin a new one (w)."), bad=True)
        return True

    def _holds(self) -> tuple[Reason, ...]:
        sheet, system, now = self.going.walk.sheet, self.preferences.system, self.now()
        found = walk_rounds.holds_of(self.register, self.machine.id, now, sheet, system=system) if sheet.gates else ()
        return tuple(found)

    def _tell_before(self, how: Callable[[], Content | str]) -> None:
        """Tell what was answered before; it is told anew in another language."""
        self._before = how
        self.panel.tell_before(how())

    def _tell(self, how: Callable[[], Content | str] = str) -> None:
        """Tell what an answer is worth, or why it was not taken; it is told anew in another language."""
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

    def show_focus(self) -> None:
        """The figure, once one is typed, after the panel went to its top; before, caution and question are seen."""
        if self.panel.typed:
            self.call_after_refresh(super().show_focus)

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
