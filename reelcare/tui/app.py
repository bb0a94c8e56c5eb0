"""The terminal app: which screens there are, who is at it, and the one way to write.

The rules of this room: a screen shows what decides the next action, and hands entries to the register; it never
judges. What people typed passes through `text.py`. Errors of the register are told and leave the screen as it
is, with all that was typed.
"""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, ClassVar, TypeVar

from textual.app import App, SystemCommand
from textual.binding import Binding, BindingType
from textual.screen import Screen

from reelcare.core.units import System
from reelcare.register import pins
from reelcare.register.errors import NotAllowed, RegisterError
from reelcare.register.register import Register
from reelcare.tui.theme import DUSK, NOON, dress

Written = TypeVar("Written")
Clock = Callable[[], datetime]


@dataclass(slots=True)
class Manner:
    """How this person wants it, units and language; and what the terminal can bear."""

    system: System = "metric"
    language: str = "en"
    slow: bool = False
    ascii: bool = False


class Reelcare(App[None]):
    """Checks, settings and upkeep of hose-reel machines."""

    TITLE = "Reelcare"
    CSS_PATH = "app.tcss"
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (100, "-wide")]  # noqa: RUF012 -- typed by the base class
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("p", "person", "Who", id="app.person", tooltip="Says who is at this terminal"),
        Binding("u", "units", "Units", show=False, id="app.units", tooltip="Metric or US customary units"),
        Binding("l", "language", "Language", show=False, id="app.language", tooltip="English or Spanish sheets"),
        Binding("question_mark", "help", "Help", id="app.help", tooltip="The keys of this screen"),
        Binding(
            "ctrl+l",
            "draw_again",
            "Draw again",
            show=False,
            priority=True,  # in a dialog, and where something is typed
            id="app.draw_again",
            tooltip="Draws the whole screen again, where the line has lost something",
        ),
        Binding("q", "quit", "Quit", id="app.quit", tooltip="Leaves Reelcare; everything is saved already"),
    ]

    def __init__(
        self, register: Register, *, manner: Manner | None = None, clock: Clock | None = None, machine: str = ""
    ) -> None:
        super().__init__()
        self.register = register
        self.manner = manner or Manner()
        self._opens_on = machine
        self.person = ""
        self._told = ""
        self._clock = clock or (lambda: datetime.now(UTC))
        if self.manner.slow:
            self.animation_level = "none"
        noon = os.environ.get("REELCARE_THEME") == "noon"
        dress(self, theme=NOON if noon else DUSK, ascii_only=self.manner.ascii)

    def now(self) -> datetime:
        """The moment: the one place where the app asks the clock."""
        return self._clock()

    def get_default_screen(self) -> Screen[Any]:
        """The yard, under everything else."""
        from reelcare.tui.screens.yard import Yard

        return Yard()

    def on_mount(self) -> None:
        """Where only one person is enrolled, it is that one."""
        self.app_resume_signal.subscribe(self, lambda _: self.action_draw_again(), immediate=True)
        people = self.register.roles()
        if len(people) == 1 and not pins.has(self.register, next(iter(people))):
            self.person = next(iter(people))
        self.call_after_refresh(gc.enable)
        self.call_after_refresh(self._look_around)
        if self._opens_on:
            from reelcare.tui.screens.bench import Bench

            self.push_screen(Bench(self._opens_on))

    def _look_around(self) -> None:
        """The quick proof and a look at the clock, once the yard stands on the screen: what is wrong is told."""
        from reelcare.register.corrected import clock_behind
        from reelcare.register.proving import prove_the_end

        behind = clock_behind(self.register, self.now())
        if behind:
            self.tell(
                f"This computer's clock is {behind} behind the last entry: set it right before you write.", bad=True
            )

        for one in prove_the_end(self.register)[:2]:
            self.tell(f"NOT WHOLE. {one.place}: {one.what}. Run `reelcare prove`, and go back to a copy.", bad=True)
        if self.register.heed:
            self.tell(self.register.heed, bad=True)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """No single letter leaves a form, or changes who signs it: what was typed there would be lost."""
        if action in ("quit", "person", "units", "language") and self.screen_stack:
            return not getattr(self.screen, "HOLDS_TYPING", False)
        return super().check_action(action, parameters)

    @property
    def role(self) -> str:
        """The role of who is at the terminal."""
        return self.register.roles().get(self.person, "")

    def write(self, what: Callable[[], Written]) -> Written | None:
        """Do something that writes; where it cannot be, tell why and leave everything as it is."""
        try:
            return what()
        except (RegisterError, ValueError) as why:
            self.tell(f"NOT saved. {why}", bad=True)
            if isinstance(why, NotAllowed):
                self._ask_missing_pin()
            return None

    def _ask_missing_pin(self) -> None:
        """Who is there was given a PIN since they said so: it is asked here, and what is on the screen stays."""
        if pins.has(self.register, self.person) and self.person not in self.register.signed:
            self._ask_pin(self.person, lambda: self.tell("The PIN is right: do it again, and it is kept."))

    def tell(self, text: str, *, bad: bool = False) -> None:
        """A word in the corner; typed text in it stays text."""
        from reelcare.core.typed import clean

        if text == self._told:
            self.clear_notifications()  # the same again and again would cover the screen
        self._told = text
        self.notify(clean(text), severity="error" if bad else "information", markup=False, timeout=10 if bad else 4)

    def with_person(self, then: Callable[[], Any], kind: str = "") -> None:
        """Go on once it is known who is at the terminal, and that they may write an entry of this kind ('': of any).

        Where they may not, it is told before anything is written, and not when it is to be kept.
        """

        def go_on() -> None:
            try:
                if kind:
                    self.register.must_be_allowed(kind, self.person)
            except NotAllowed as why:
                self.tell(f"{why}. Say who is there with p.", bad=True)
                return
            then()

        if self._only_looks():
            return
        if self.person:
            go_on()
            return
        self._choose_person(go_on)

    def _only_looks(self) -> bool:
        """Whether nothing may be written here; then it is told."""
        if self.register.looks_only:
            self.tell("Opened to look only: nothing can be written here.", bad=True)
        return self.register.looks_only

    def _choose_person(self, then: Callable[[], Any] | None = None) -> None:
        from reelcare.tui.widgets.people import ChoosePerson

        people = self.register.roles()
        if not people:
            self.tell("Nobody is enrolled yet: `reelcare people add NAME --role supervisor`", bad=True)
            return

        def chosen(name: str | None) -> None:
            if name is None:
                return
            if pins.has(self.register, name) and name not in self.register.signed:
                self._ask_pin(name, lambda: chosen(name))
                return
            if name != self.person:
                self.register.signed.intersection_update({name})
            self.person = name
            self.refresh_bindings()
            refresh = getattr(self.screen, "refresh_head", None)
            if refresh is not None:
                refresh()
            if then is not None:
                then()

        self.push_screen(ChoosePerson(people, now=self.person), chosen)

    def _ask_pin(self, name: str, then: Callable[[], None], wrong: str = "") -> None:
        """Ask for a PIN until it is right or the dialog is left."""
        from reelcare.tui.widgets.people import Sign, Signature

        def given(signature: Signature | None) -> None:
            if signature is None or signature.pin is None:
                return
            try:
                pins.check(self.register, name, signature.pin.reveal(), now=self.now())
            except RegisterError as why:
                self._ask_pin(name, then, str(why))
                return
            then()

        role = self.register.roles().get(name, "")
        self.push_screen(Sign(name, "Who is at this terminal?", role=role, pin=True, wrong=wrong), given)

    def action_person(self) -> None:
        """Choose who is at the terminal: who would sign what is written."""
        if not self._only_looks():
            self._choose_person()

    def action_units(self) -> None:
        """Change between metric and US customary units."""
        self.manner.system = "us" if self.manner.system == "metric" else "metric"
        self._show_again(f"units: {self.manner.system}")

    def action_language(self) -> None:
        """Change the language of sheets and plans."""
        self.manner.language = "es" if self.manner.language == "en" else "en"
        self._show_again({"en": "language: English", "es": "idioma: español"}[self.manner.language])

    def _show_again(self, says: str) -> None:
        fill = getattr(self.screen, "fill", None)
        if fill is not None:
            fill()
        self.tell(says)

    def action_help(self) -> None:
        """Show the keys of the present screen."""
        from reelcare.tui.screens.help import Help

        self.push_screen(Help(self.screen))

    def action_draw_again(self) -> None:
        """Draw the whole screen again."""
        self.refresh(layout=True)

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        """The command palette: every named key of the present screen, and what Textual brings."""
        for active in screen.active_bindings.values():
            binding = active.binding
            if binding.description and binding.tooltip and active.enabled:
                yield SystemCommand(
                    binding.description, binding.tooltip, lambda action=binding.action: self._do(action)
                )
        yield from super().get_system_commands(screen)

    def _do(self, action: str) -> None:
        self.call_later(self.screen.run_action, action)


def open_app(register: Register, manner: Manner | None = None, *, machine: str = "") -> None:
    """Run the app on a register until it is left; where a machine is named by its id, it is open at once."""
    Reelcare(register, manner=manner, machine=machine).run()
