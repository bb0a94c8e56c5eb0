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
from reelcare.core.text import _, typed_figure
from reelcare.core.wording import said as in_language
from reelcare.tui.screens.checks.walk_view import WalkView
from reelcare.tui.text import keyed, said
from reelcare.tui.widgets.drawings.reading_scale import ScaleLine
from reelcare.tui.widgets.inputs.fields import NumberInput
from reelcare.tui.widgets.typed_quantity import with_unit

MOST_CHOICES = 9
"""One key each is what there is."""


class QuestionPanel(Vertical):
    """What is asked, the answers or a line for a number, what the last answer is worth, and what belongs to it."""

    @dataclass
    class Answered(Message):
        """An answer was given: the id of a choice, or a number with its unit."""

        seen: str

    @dataclass
    class Clicked(Message):
        """A choice was clicked: its place, from 0."""

        place: int

    _view: WalkView | None = None

    def compose(self) -> ComposeResult:
        """In the order of the hand: what was answered before, the caution, the question, its answers."""
        yield Static(id="before", classes="note")
        with Vertical(id="asked"):
            yield Static(id="caution")
            yield Static(id="ask")
            for place in range(MOST_CHOICES):
                yield Static(classes="choice", id=f"choice-{place}")
            yield ScaleLine(id="scale")
            yield NumberInput(id="number", disabled=True)
            yield Static(id="worth")
        yield Static(id="judged")
        yield Static(id="about", classes="note")

    def show(self, view: WalkView) -> None:
        """Show a question, or the end of the walk where there is none."""
        self._view, question = view, view.question
        self.query_one("#ask", Static).update(view.ask())
        self.query_one("#caution", Static).update(view.caution())
        self.query_one("#caution").display = bool(view.caution())
        self.query_one("#asked").set_class(view.is_stop, "-stop")
        self._show_choices(view)
        number = self.query_one(NumberInput)
        number.display = question is not None and question.is_number
        number.disabled = not number.display
        self._tell_worth()
        self.tell_about(view)
        if question is None or not question.is_number:
            self.screen.set_focus(None)
        if question is not None and question.is_number:
            number.value = ""
            number.placeholder = view.unit_hint()
            number.focus()

    @property
    def typed(self) -> str:
        """What stands in the line for a number."""
        return self.query_one(NumberInput).value

    @typed.setter
    def typed(self, text: str) -> None:
        self.query_one(NumberInput).value = text

    @property
    def all_in_sight(self) -> bool:
        """Whether the caution, the question and all its answers have room."""
        return self.query_one("#asked").virtual_region.bottom <= self.size.height

    def take_room(self) -> None:
        """Show from its top all that there is, with its blank lines."""
        self.query_one("#before").display = True
        self.remove_class("-close")
        self.scroll_home(animate=False)

    def save_room(self) -> None:
        """Leave out the answer before, then the blank lines."""
        before = self.query_one("#before")
        self.set_class(not before.display, "-close")
        before.display = False

    def _show_choices(self, view: WalkView) -> None:
        """Show the choices. Their rows stay where they are: one that a finger is on is never taken away."""
        choices = view.question.choices if view.question is not None else ()
        for place, row in enumerate(self.query(".choice").results(Static)):
            row.display = place < len(choices)
            if row.display:
                row.update(keyed(str(place + 1), in_language(choices[place].says, view.language)))

    def tell_before(self, says: Content | str) -> None:
        """Tell what the question before was answered, and what that was worth."""
        self.query_one("#before", Static).update(says)

    def tell_about(self, view: WalkView) -> None:
        """Tell what belongs to the question: limit, caution, reason, note."""
        self.query_one("#about", Static).update(view.about())

    def tell(self, says: str | Content) -> None:
        """Tell what an answer is worth."""
        self.query_one("#judged", Static).update(said(says) if isinstance(says, str) else says)

    def tell_error(self, text: str) -> None:
        """Tell why an answer cannot be taken, in sight of who gave it."""
        self.tell(said(text, "$text-error"))
        self.call_after_refresh(self.query_one("#judged").scroll_visible, animate=False)

    @on(events.Click, ".choice")
    def _clicked(self, event: events.Click) -> None:
        if event.widget is not None and event.widget.id:
            self.post_message(self.Clicked(int(event.widget.id.removeprefix("choice-"))))

    @on(Input.Changed)
    def _number_begun(self) -> None:
        self.screen.refresh_bindings()
        self._tell_worth()

    def _tell_worth(self) -> None:
        """Show the scale of the reading, and what the figure that is typed is worth before it is taken."""
        view, typed = self._view, self.query_one(NumberInput).value.strip()
        judgement = view.trial(typed) if view is not None else None
        scale = view.scale(judgement) if view is not None else None
        self.query_one(ScaleLine).read(scale)
        worth = self.query_one("#worth", Static)
        worth.display = judgement is not None
        if view is not None and judgement is not None:
            worth.update(view.judged(judgement))

    @on(Input.Submitted)
    def _number_given(self, event: Input.Submitted) -> None:
        event.stop()
        view, typed = self._view, event.value.strip()
        if view is None or view.question is None:
            return
        if not typed:
            self.tell_error(_("A number is asked for; Page up goes back, Esc leaves the check open."))
            return
        question = view.question
        if question.cannot_read and typed.lower().startswith(CANNOT_READ):
            self.post_message(self.Answered(typed_figure(typed)))
            return
        try:
            self.post_message(self.Answered(with_unit(typed, question.quantity, view.system, question.role)))
        except units.UnitsError as why:
            self.tell_error(str(why))
