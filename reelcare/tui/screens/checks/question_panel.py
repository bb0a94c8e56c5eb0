"""A question of a walk-round with its answers, or the end of it. An answer comes up as a message."""

from __future__ import annotations

from dataclasses import dataclass

from textual import events, on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.message import Message
from textual.widgets import Input, Static

from reelcare.core import units
from reelcare.core.checks.limits import CANNOT_READ
from reelcare.core.checks.sheet import Question
from reelcare.core.wording import said as in_language
from reelcare.tui.screens.checks.walk_view import WalkView
from reelcare.tui.text import keyed, said
from reelcare.tui.widgets.inputs.fields import NumberInput
from reelcare.tui.widgets.typed_quantity import with_unit


class QuestionPanel(Vertical):
    """What is asked, the answers or a line for a number, what the last answer is worth, and what belongs to it."""

    @dataclass
    class Answered(Message):
        """An answer was given: the id of a choice, or a number with its unit."""

        seen: str

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._view: WalkView | None = None

    def compose(self) -> ComposeResult:
        """From the question down."""
        yield Static(id="ask")
        yield Vertical(id="answers")
        yield NumberInput(id="number", disabled=True)
        yield Static(id="judged")
        yield Static(id="about", classes="note")

    def show(self, view: WalkView) -> None:
        """Show a question, or the end of the walk where there is none."""
        self._view, question = view, view.question
        self.query_one("#ask", Static).update(view.ask())
        self.query_one("#answers", Vertical).remove_children()
        number = self.query_one(NumberInput)
        number.display = question is not None and question.is_number
        number.disabled = not number.display
        self.tell_about(view)
        if question is None or not question.is_number:
            self.screen.set_focus(None)
        if question is not None and question.is_number:
            number.value = ""
            number.placeholder = view.unit_hint()
            number.focus()
        elif question is not None:
            self._show_choices(question, view.language)

    def _show_choices(self, question: Question, language: str) -> None:
        self.query_one("#answers", Vertical).mount(
            *(
                Static(keyed(str(place), in_language(choice.says, language)), classes="choice", name=choice.id)
                for place, choice in enumerate(question.choices, 1)
            )
        )

    def tell_about(self, view: WalkView) -> None:
        """Tell what belongs to the question: limit, caution, reason, note."""
        self.query_one("#about", Static).update(view.about())

    def tell(self, says: str | Content) -> None:
        """Tell what an answer is worth."""
        self.query_one("#judged", Static).update(said(says) if isinstance(says, str) else says)

    def tell_error(self, text: str) -> None:
        """Tell why an answer cannot be taken."""
        self.tell(said(text, "$text-error"))

    @on(events.Click, ".choice")
    def _clicked(self, event: events.Click) -> None:
        if event.widget is not None and event.widget.name:
            self.post_message(self.Answered(event.widget.name))

    @on(Input.Changed)
    def _number_begun(self) -> None:
        self.screen.refresh_bindings()

    @on(Input.Submitted)
    def _number_given(self, event: Input.Submitted) -> None:
        event.stop()
        view, typed = self._view, event.value.strip()
        if view is None or view.question is None:
            return
        if not typed:
            self.tell_error(view.label("number missing"))
            return
        question = view.question
        if question.cannot_read and typed.lower().startswith(CANNOT_READ):
            self.post_message(self.Answered(typed))
            return
        try:
            self.post_message(self.Answered(with_unit(typed, question.quantity, view.system, question.role)))
        except units.UnitsError as why:
            self.tell_error(str(why))
