"""A set planned: what is wished at the left, what comes of it at the right, at every key.

The rules of this file: what was typed stands bright, what is worked out stands faint in the same lines, so that
changing one value moves the others. The core works it out; this screen only shows.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.events import DescendantFocus
from textual.widgets import Input, Static

from reelcare.core.settings import set_parser as asked
from reelcare.core.settings.fields import BY_KEY, FIELDS, SetField
from reelcare.core.settings.set_request import WishError
from reelcare.core.settings.setting import work_out
from reelcare.core.settings.settings_sheet import Setting
from reelcare.core.text import _, mark
from reelcare.register.acts import sets
from reelcare.register.sheets import FileError
from reelcare.tui.base import BaseScreen
from reelcare.tui.keys import bind
from reelcare.tui.requests import OpenSetUp
from reelcare.tui.screens.settings.set_up_answer import SetUpAnswer
from reelcare.tui.screens.settings.set_up_steps import stepped
from reelcare.tui.screens.settings.set_up_texts import verdict_lines, warnings, worked_out
from reelcare.tui.text import join, lines, said
from reelcare.tui.widgets.inputs.fields import LineInput
from reelcare.tui.widgets.inputs.growing_text import GrowingText
from reelcare.tui.widgets.typed_quantity import with_unit

OTHER = {"depth": "speed", "speed": "depth"}
"""Lines of which one says the other, once the flow is known."""


class WishList(VerticalScroll, inherit_bindings=False, can_focus=False):
    """The lines, which scroll with the cursor; page up and page down are the steps of a value."""


class WishNames(Static):
    """The names of all lines, as one text: a widget for each would be asked for its looks at every key."""

    def on_mount(self) -> None:
        """Take the room of all lines."""
        self.mark("", layout=True)

    def mark(self, key: str, *, layout: bool = False) -> None:
        """Mark the line with the cursor."""
        told = (join(("▸ " if one.key == key else "  ", "bold"), (_(one.label), "")) for one in FIELDS)
        self.update(lines(*told), layout=layout)


class WishLine(LineInput):
    """What is wished of one thing. It says at once that it is changed: as a message it would come after the sign has
    been painted, and the screen would be painted twice."""

    def __init__(self, value: str, key: str, changed: Callable[[WishLine], None]) -> None:
        super().__init__(value, id=key, max_length=40, select_on_focus=False)
        self._changed = changed

    def watch_value(self) -> None:
        """Tell."""
        if self.is_mounted:
            self._changed(self)

    def on_input_changed(self, event: Input.Changed) -> None:
        """It is told already."""
        event.stop()


class SetUp(BaseScreen):
    """One set of one machine."""

    PAGE = mark("Set-up")
    CSS_PATH = "../set_up.tcss"
    HELP = mark("Faint values are computed from the bright ones. Walk-rounds are judged by the set that is kept.")
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("set_up.keep", "ctrl+y", mark("Keep as plan"), mark("Walk-rounds are judged by this set")),
        bind("set_up.more", "pageup", mark("More"), mark("One step more of this value"), action="step(1)"),
        bind("set_up.less", "pagedown", mark("Less"), mark("One step less of this value"), action="step(-1)"),
        bind("set_up.next", "down", mark("Next"), mark("Next line"), action="app.focus_next", show=False),
        bind("set_up.before", "up", mark("Before"), mark("Previous line"), action="app.focus_previous", show=False),
        bind("set_up.leave", "escape", mark("Back"), mark("Back without saving")),
    ]

    def __init__(self, request: OpenSetUp, basis: sets.SetBasis) -> None:
        super().__init__()
        self.machine = request.machine
        self.machine_id = request.machine.id
        self.basis = basis
        self.setting: Setting | None = None

    @property
    def holds_typing(self) -> bool:
        """Always: no single letter may leave a set behind."""
        return True

    def body(self) -> ComposeResult:
        """Wishes, then the drum, the pressures and the sheet."""
        yield GrowingText(id="verdict", grows=False)
        former = self._former()
        with Horizontal(id="set-up"):
            with WishList(id="wishes"), Horizontal(id="wish-lines"):
                yield WishNames(id="wish-names")
                with Vertical():
                    for one in FIELDS:
                        yield WishLine(former.get(one.key, ""), one.key, self._changed)
            yield SetUpAnswer(id="answer")
        yield GrowingText(id="warned")
        yield Static(id="hint")

    def on_mount(self) -> None:
        """Work out what stands there from the start."""
        self.refresh_head()
        self.show_set()
        self.query_one("#spacing", LineInput).focus()

    def _former(self) -> dict[str, str]:
        """The wishes of the set before this one, but for its times: fields and lanes are alike."""
        wished = sets.wishes_for(self.register, self.machine.id, self.now())
        kept = {key: text for key, text in wished.items() if key in BY_KEY and key not in ("start", "until")}
        return {key: BY_KEY[key].as_shown(text) for key, text in kept.items()}

    # working it out

    def show_again(self) -> None:
        """Another program can have changed what the set is worked out from."""
        super().show_again()
        self._is_as_shown()

    def _is_as_shown(self) -> bool:
        """Whether card and figures still are those that the set was worked out from; else it is worked out again."""
        try:
            basis = sets.basis(self.register, self.machine_id)
        except FileError as why:
            self.host.tell(str(why), bad=True)
            return False
        if basis == self.basis:
            return True
        self.basis = basis
        self.show_set()
        self.host.tell(_("Card or figures were changed meanwhile: look at the set once more."), bad=True)
        return False

    def texts(self) -> dict[str, str]:
        """What stands in the lines, as it is kept."""
        return {one.key: one.as_kept(self.query_one(f"#{one.key}", LineInput).value) for one in FIELDS}

    def _work_out(self) -> Setting:
        wishes = asked.read_wishes(self.texts(), self.register.zone, system=self.preferences.system)
        return work_out(self.basis.card, wishes, self.basis.limits)

    def show_set(self) -> WishError | None:
        """Work the set out again, and show it; what speaks against that, where it cannot be."""
        answer, warned = self.query_one(SetUpAnswer), self.query_one("#warned", GrowingText)
        told = self.query_one("#verdict", GrowingText)
        try:
            self.setting = self._work_out()
        except WishError as why:
            self.setting = None
            told.show([said(_("This cannot be computed; the reason is below."), "$text-muted")])
            warned.show([join((one, "$text-error")) for one in why.problems[:3]])
            answer.add_class("-old")
            return why
        answer.remove_class("-old")
        system = self.preferences.system
        for key, text in worked_out(self.setting, system).items():
            self.query_one(f"#{key}", LineInput).placeholder = text
        told.show(verdict_lines(self.setting))
        answer.show(self.setting, self.basis, system)
        warned.set_class(not self.setting.warnings, "-notes")
        warned.show(warnings(self.setting, system, 2 if self.app.size.width < 100 else 3))
        return None

    def _changed(self, line: WishLine) -> None:
        other = OTHER.get(line.id or "")
        wrong = self.show_set()
        if wrong is not None and wrong.twice and other and line.value.strip():
            # one says the other: the one that is being typed counts
            self.query_one(f"#{other}", LineInput).value = ""

    # keys

    @on(DescendantFocus)
    def _focused(self, event: DescendantFocus) -> None:
        field = BY_KEY.get(event.widget.id or "")
        if field is not None:
            self.query_one(WishNames).mark(field.key)
            told = _(
                "{label}, as in {example}", label=_(field.label), example=field.example_in(self.preferences.system)
            )
            self.query_one("#hint", Static).update(join((told, "$text-muted")))

    def action_step(self, steps: int) -> None:
        """One step more or less of the value under the cursor."""
        line = self.focused
        field = BY_KEY.get(line.id or "") if isinstance(line, LineInput) else None
        if field is None or not isinstance(line, LineInput):
            return
        now = self.local(self.now())
        text = stepped(field, line.value or str(line.placeholder), steps, self.preferences.system, now)
        if text is not None:
            line.value = text
            line.cursor_position = len(text)

    @on(Input.Submitted)
    def _next(self, event: Input.Submitted) -> None:
        event.stop()
        self.focus_next()

    @work
    async def action_keep(self) -> None:
        """Keep the set as the plan of the day."""
        setting, host = self.setting, self.host
        if setting is None or not self._is_as_shown():
            self.app.bell()
            return
        if setting.cannot_be is not None:
            why = setting.cannot_be.text(self.preferences.system)
            self.query_one("#warned", GrowingText).show([join((_("not kept: {why}", why=why), "$text-error"))])
            self.app.bell()
            return
        if not await host.may_write():
            return
        texts = {key: self._with_unit(BY_KEY[key], text.strip()) for key, text in self.texts().items() if text.strip()}
        host.in_turn(lambda: self._write(setting, texts))

    def _write(self, setting: Setting, texts: dict[str, str]) -> None:
        host, limits, now = self.host, self.basis.limits, self.now()
        kept = host.write(
            lambda: sets.plan(self.register, self.machine.id, setting, texts, limits, by=host.person, now=now)
        )
        if kept is not None:
            n = len(setting.warnings)
            warned = _("{tag}: set kept, warnings: {n}; walk-rounds are judged by it", tag=self.machine.tag, n=n)
            host.tell(warned if n else _("{tag}: set kept; walk-rounds are judged by it", tag=self.machine.tag))
            self.dismiss()

    def _with_unit(self, field: SetField, text: str) -> str:
        return text if field.quantity is None else with_unit(text, field.quantity, self.preferences.system, field.role)
