"""A form: named lines, an error under the one that it is about, and one way to keep it.

The rules of this file: what was typed stays until it is kept: arriving on a line selects nothing, letters tick nothing,
and Esc asks where anything was changed. An error stands in the row under its line, where the cursor goes. How it ended
is asked last, and writes nothing until it is confirmed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import ClassVar, NamedTuple, TypeVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.events import DescendantFocus
from textual.widget import Widget
from textual.widgets import Button, Input, Label, Static

from reelcare.core import units
from reelcare.core.text import _, mark, typed_figure
from reelcare.core.typed_time import TimeError, read_past
from reelcare.register.errors import Refused
from reelcare.tui.base import BaseScreen, Written
from reelcare.tui.keys import bind
from reelcare.tui.requests import AskYesNo, Opens
from reelcare.tui.text import join, said
from reelcare.tui.widgets.inputs.checkbox import Checkbox, StrayLetter
from reelcare.tui.widgets.inputs.choice_list import KeyChoice
from reelcare.tui.widgets.inputs.fields import PastingInput
from reelcare.tui.widgets.inputs.outcomes import Outcomes
from reelcare.tui.widgets.typed_quantity import with_unit

Value = TypeVar("Value")
LEAVE_UNKEPT = AskYesNo(
    mark("Leave without saving?"),
    (mark("What is typed here is not saved."),),
    yes=mark("leave it"),
    no=mark("go back to it"),
)


class FormField(NamedTuple):
    """One line of a form: its id, its label, what stands in it, and a hint."""

    id: str
    label: str
    value: str = ""
    hint: str = ""


class FieldError(ValueError):
    """What stands in a line cannot be taken; the message says why, `id` names the line."""

    def __init__(self, id: str, why: object) -> None:
        super().__init__(str(why))
        self.id = id


class FormBody(VerticalScroll, inherit_bindings=False, can_focus=False):
    """The lines of a form, which scroll with the cursor: arrows go from line to line, in a short window as well."""


class Form(BaseScreen):
    """A form with lines and perhaps boxes to tick; sub-classes say which, and keep it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("form.keep", "ctrl+y", mark("Sign and save"), mark("Signs what is written here and saves it")),
        bind("form.next", "down", mark("Next"), mark("Next line"), action="app.focus_next", show=False),
        bind("form.before", "up", mark("Before"), mark("Previous line"), action="app.focus_previous", show=False),
        bind("form.leave", "escape", mark("Back"), mark("Back without saving")),
    ]
    AUTO_FOCUS = ""  # the framework would put the first line in the middle, and cautions out of sight
    CSS_PATH = Path(__file__).with_name("form.tcss")  # absolute: forms stand in several folders
    KEEP = mark("Sign and save")
    BOXES_LAST = False
    """Whether the boxes stand below the lines."""
    then: Opens[None] | None = None
    """The screen that follows once it is kept."""

    @property
    def holds_typing(self) -> bool:
        """Always: no single letter may leave a form behind."""
        return True

    def key_name(self, binding: Binding) -> str:
        """The key that keeps it is called as its button is."""
        return _(self.KEEP) if binding.id == "form.keep" else super().key_name(binding)

    def form_lines(self) -> Sequence[FormField]:
        """The lines of the form."""
        return ()

    def before(self) -> Sequence[str | Content]:
        """What is said above the lines, text by text."""
        return ()

    def boxes(self) -> Sequence[tuple[str, str]]:
        """Boxes to tick: id and text."""
        return ()

    def outcomes(self) -> Sequence[KeyChoice]:
        """How it ended, asked last: letters and texts."""
        return ()

    def keep(self) -> bool:
        """Write it down; whether it is kept."""
        raise NotImplementedError

    def body(self) -> ComposeResult:
        """Above, boxes, lines, error, and the button that keeps it."""
        boxes = [Checkbox(text, id=f"box-{id}") for id, text in self.boxes()]
        with FormBody(classes="form"):
            for told in self.before():
                yield Static(said(told) if isinstance(told, str) else told, classes="form--says")
            if not self.BOXES_LAST:
                yield from boxes
            for line in self.form_lines():
                with Horizontal(classes="field"):
                    yield Label("▸", classes="field--mark")
                    yield Label(said(line.label), classes="field--label")
                    yield PastingInput(
                        line.value, placeholder=line.hint, id=line.id, max_length=2000, select_on_focus=False
                    )
            if self.BOXES_LAST:
                yield from boxes
            if choices := self.outcomes():
                yield Outcomes(choices, id="outcome", mark=_("chosen; Enter keeps it"))
            yield Static("", classes="form--error", id="error")
            yield Button(f"{_(self.KEEP)} (Ctrl Y)", id="keep")

    def on_mount(self) -> None:
        """Begin at the first line, with all in sight that stands above it, as far as there is room: cautions first."""
        self._began = self._filled_in()
        self.refresh_head()
        first = self.query("Checkbox, Input, Outcomes").first()
        first.focus(scroll_visible=False)
        self.call_after_refresh(first.scroll_visible, animate=False)

    def _filled_in(self) -> Mapping[str | None, str | bool]:
        """All that stands in lines and boxes, and the choice."""
        lines = {one.id: one.value.strip() for one in self.query(Input)}
        ticks = {one.id: one.value for one in self.query(Checkbox)}
        return {**lines, **ticks, **{one.id: one.given for one in self.query(Outcomes)}}

    def day_line(self) -> FormField:
        """The line for the day on which it was done; `happened` reads it."""
        return FormField("day", _("when"), "", _("blank for now; yesterday, 2026-05-01 16:30"))

    def happened(self) -> datetime:
        """When it was done, as the line of the day says it."""
        return self.read("day", lambda text: read_past(text, self.now(), self.register.zone))

    def write(self, what: Callable[[], Written], at: str | Callable[[], str]) -> Written | None:
        """Do something that writes; what the register refuses is told `at` a line, which can be looked for then. None
        where it was not written."""
        refused: list[Refused] = []

        def tried() -> Written:
            try:
                return what()
            except Refused as why:
                refused.append(why)
                raise

        kept = self.host.write(tried)
        if refused:
            self.wrong(str(refused[0]), at if isinstance(at, str) else at())
        return kept

    def value(self, id: str) -> str:
        """What stands in a line."""
        return self.query_one(f"#{id}", Input).value.strip()

    def ticked(self, id: str) -> bool:
        """Whether a box is ticked."""
        return self.query_one(f"#box-{id}", Checkbox).value

    def outcome(self) -> str:
        """The letter of the outcome that is chosen; '' for none."""
        return self.query_one(Outcomes).given

    def quantity(self, id: str, quantity: units.Quantity, role: str = "") -> float | None:
        """A line as a quantity in SI; without a unit in the person's own; None where it is empty."""
        text = self.value(id)
        if not text:
            return None
        return self.read(
            id, lambda typed: units.read(with_unit(typed, quantity, self.preferences.system, role), quantity)
        )

    def example(self, metric: str, quantity: units.Quantity, role: str = "") -> str:
        """An example of what may stand in a line, in the person's units."""
        return units.example(metric, quantity, self.preferences.system, role)

    def figure(self, id: str) -> float:
        """The figure in a line, whole where it is; 0 where it is empty."""
        figure = self.read(id, lambda text: units.number(text or "0"))
        return int(figure) if figure == int(figure) else figure

    def read(self, id: str, how: Callable[[str], Value]) -> Value:
        """What stands in a line, read; a `FieldError` of this line where it cannot be."""
        try:
            return how(typed_figure(self.value(id)))
        except (units.UnitsError, TimeError) as why:
            raise FieldError(id, why) from None

    def wrong(self, text: str, id: str = "") -> bool:
        """Say what is wrong in the row under the line that it is about, and go there."""
        error, body = self.query_one("#error", Static), self.query_one(FormBody)
        seen: list[Widget] = [error]
        error.update(join(("✗ ", "bold $text-error"), (text, "$text-error")))
        error.display = True
        error.set_class(False, "-field")
        if id:
            at = self.query_one(f"#{id}")
            error.set_class(isinstance(at, Input), "-field")
            body.move_child(error, after=next(one for one in body.children if at in one.walk_children(with_self=True)))
            at.focus(scroll_visible=False)
            seen.append(at)  # its line must be in sight with what is wrong in it
        else:
            body.move_child(error, before=self.query_one("#keep"))
        self.host.tell(_("Not saved yet: 1 thing to correct"), bad=True)
        for one in seen:
            self.call_after_refresh(one.scroll_visible, animate=False)
        return False

    @on(DescendantFocus)
    def _focused(self, event: DescendantFocus) -> None:
        for one in self.query(".field"):
            one.set_class(event.widget in one.children, "-here")

    @on(Input.Submitted)
    def _next(self, event: Input.Submitted) -> None:
        self.focus_next()

    @on(StrayLetter)
    def _say_what_letters_do(self) -> None:
        self.host.tell(_("This is a box: Space ticks it. To type, go to a line."), bad=True)

    @on(Outcomes.Confirmed)
    @on(Button.Pressed, "#keep")
    def action_keep(self) -> None:
        """Keep it, if it is right; the outcome is asked for where it is not chosen yet."""
        self.query_one("#error", Static).display = False
        for one in self.query(Outcomes):
            if not one.given:
                one.focus()
                one.scroll_visible(animate=False)
                keys = ", ".join(one.keys)
                self.host.tell(_("Choose {keys}: nothing is written before", keys=keys), asks=True)
                return
        self.host.in_turn(self._keep_or_say)

    def _keep_or_say(self) -> None:
        try:
            kept = self.keep()
        except FieldError as why:
            self.wrong(str(why), why.id)
            return
        if kept:
            self.dismiss()
            if self.then is not None:
                self.app.push_screen(self.host.screen_for(self.then))

    def action_leave(self) -> None:
        """Back without keeping; what was changed is asked about."""
        if self._filled_in() == self._began:
            self.dismiss()
        else:
            self._ask_to_leave()

    @work
    async def _ask_to_leave(self) -> None:
        if await self.ask(LEAVE_UNKEPT):
            self.dismiss()
