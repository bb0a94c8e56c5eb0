"""A set planned: what is wished at the left, what comes of it at the right, at every key.

The rules of this file: what was typed stands bright, what is worked out stands faint in the same lines, so that
changing one value moves the others. The core works it out; this screen only shows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.events import DescendantFocus
from textual.widgets import Input, Label, Static

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.machine import asked
from reelcare.core.machine.fields import BY_KEY, FIELDS, Field
from reelcare.core.machine.setting import TWICE, work_out
from reelcare.core.machine.settings_sheet import Setting
from reelcare.core.machine.sheet_words import figure_text
from reelcare.core.machine.warned import CODES
from reelcare.core.machine.wishes import WishError
from reelcare.core.state.machine_now import MachineNow
from reelcare.register import sets
from reelcare.tui.screens.base import Place
from reelcare.tui.text import join, lines, said
from reelcare.tui.widgets.drum_section import DrumSection, Wound
from reelcare.tui.widgets.key_line import KeyLine
from reelcare.tui.widgets.line import Line
from reelcare.tui.widgets.pressure_line import Place as At
from reelcare.tui.widgets.pressure_line import PressureLine

COUNT_STEPS = {"arc": 10.0, "ground_friction": 0.05, "coil_more": 1.0}
TIME_STEP = timedelta(minutes=30)
OTHER = {"depth": "speed", "speed": "depth"}
"""Lines of which one says the other, once the flow is known."""


def open_set_up(place: Place, machine: MachineNow) -> None:
    """Open the set-up of a machine, or say why its limits cannot be read."""
    app = place.reelcare
    ground = app.write(lambda: sets.ground(app.register, machine.id))
    if ground is not None:
        app.push_screen(SetUp(machine, ground))


class Wishes(VerticalScroll, inherit_bindings=False, can_focus=False):
    """The lines, which scroll with the cursor; page up and page down are the steps of a value."""


class SetUp(Place):
    """One set of one machine."""

    CSS_PATH = "set_up.tcss"
    HOLDS_TYPING = True
    HELP = "Faint values are worked out from the bright ones. Walk-rounds are held to the set that is kept."
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+y", "keep", "Keep as plan", id="set_up.keep", tooltip="Walk-rounds are held to this set"),
        Binding("pageup", "step(1)", "More", id="set_up.more", tooltip="One step more of this value"),
        Binding("pagedown", "step(-1)", "Less", id="set_up.less", tooltip="One step less of this value"),
        Binding("down", "app.focus_next", "Next", show=False, id="set_up.next", tooltip="The next line"),
        Binding("up", "app.focus_previous", "Before", show=False, id="set_up.before", tooltip="The line before"),
        Binding("escape", "leave", "Back", id="set_up.leave", tooltip="Back without keeping"),
    ]

    def __init__(self, machine: MachineNow, ground: sets.Ground) -> None:
        super().__init__()
        self.machine = machine
        self.ground = ground
        self.setting: Setting | None = None
        self._high: dict[str, int] = {}

    def compose(self) -> ComposeResult:
        """Wishes, then the drum, the pressures and the sheet."""
        yield self.head()
        former = self._former()
        with Horizontal(id="set-up"):
            with Wishes(id="wishes"):
                for one in FIELDS:
                    with Horizontal(classes="wish"):
                        yield Label(said(one.label), classes="wish--label")
                        yield Line(former.get(one.key, ""), id=one.key, max_length=40, select_on_focus=False)
            with Vertical(id="answer"):
                yield Static(id="sheet")
                yield DrumSection(Wound(1, 1, 0), id="drum")
                yield PressureLine(id="pressure")
        yield Static(id="warned")
        yield Static(id="hint")
        yield KeyLine()

    def on_mount(self) -> None:
        """Work out what stands there from the start."""
        self.work()
        self.query_one("#spacing", Line).focus()

    def where(self) -> str:
        """The machine."""
        return f"{self.machine.tag}  Set-up"

    def _former(self) -> dict[str, str]:
        """The wishes of the set before this one, but for its times: fields and lanes are alike."""
        entry = sets.current(self.register, self.machine.id, self.now())
        if entry is None or not isinstance(entry.what, e.SetPlanned):
            return {}
        return {key: text for key, text in entry.what.wishes.items() if key in BY_KEY and key not in ("start", "until")}

    # working it out

    def texts(self) -> dict[str, str]:
        """What stands in the lines."""
        return {one.key: self.query_one(f"#{one.key}", Line).value for one in FIELDS}

    def work(self) -> None:
        """Work the set out anew, and show it."""
        try:
            wishes = asked.read_wishes(self.texts(), self.register.zone, system=self.manner.system)
            self.setting = work_out(self.ground.card, wishes, self.ground.limits)
        except WishError as why:
            self.setting = None
            self._put("#warned", [join((one, "$text-error")) for one in why.problems[:3]])
            self.query_one("#answer").set_class(True, "-old")
            return
        self.query_one("#answer").set_class(False, "-old")
        self._show(self.setting)

    @on(Input.Changed)
    def _changed(self, event: Input.Changed) -> None:
        event.stop()
        key = event.input.id or ""
        self.work()
        other = OTHER.get(key)
        if self.setting is None and other and event.value.strip() and self._says_twice():
            # one says the other: the one that is being typed counts
            with self.prevent(Input.Changed):
                self.query_one(f"#{other}", Line).value = ""
            self.work()

    def _says_twice(self) -> bool:
        try:
            wishes = asked.read_wishes(self.texts(), self.register.zone, system=self.manner.system)
            work_out(self.ground.card, wishes, self.ground.limits)
        except WishError as why:
            return why.problems == [TWICE]
        return False

    def _show(self, setting: Setting) -> None:
        system = self.manner.system
        for key, text in worked_out(setting, system).items():
            self.query_one(f"#{key}", Line).placeholder = text
        self._show_sheet(setting, system)
        self._show_drum(setting)
        self._show_pressure(setting, system)
        warned = self.query_one("#warned", Static)
        warned.set_class(not setting.warnings, "-notes")
        if setting.warnings:
            room = 2 if self.app.size.width < 100 else 3
            told = [
                join(("✗ ", "bold $text-error"), (one.text(system), "$text-error")) for one in setting.warnings[:room]
            ]
            rest = "; ".join(CODES[one.code] for one in setting.warnings[room:])
            told += [join(("✗ ", "bold $text-error"), (rest, "$text-error"))] if rest else []
        else:
            notes = [f"not known: {one.what} (needs {one.needs})" for one in setting.unknown]
            taken = [f"{one.what} {figure_text(one.figure, system)}" for one in setting.taken]
            notes += [f"taken: {', '.join(taken)}"] if taken else []
            told = [said(one, "$text-muted") for one in notes]
        self._put("#warned", told[:4])

    def _show_sheet(self, setting: Setting, system: units.System) -> None:
        told = [join((f"{label:<8}", "$text-muted"), (value, "")) for label, value in short(setting, system)]
        self._put("#sheet", told or [said("Say lane spacing and pull-out.")])

    def _show_drum(self, setting: Setting) -> None:
        drum = self.query_one("#drum", DrumSection)
        wind, length = setting.wind, self.ground.card.hose.length
        drum.display = wind is not None and length is not None and setting.coils_left is not None
        if wind is None or length is None or setting.coils_left is None:
            return
        layers = wind.layers or max(1, math.ceil(wind.turns(length) / wind.coils_per_layer))
        on = min(setting.coils_left, wind.coils_per_layer * layers)
        drum.wind(Wound(wind.coils_per_layer, layers, on, self.ground.limits.least_coils))

    def _show_pressure(self, setting: Setting, system: units.System) -> None:
        line = self.query_one("#pressure", PressureLine)
        place = setting.at_pull_out
        line.display = place is not None
        if place is None:
            return
        cart, limits = self.ground.card.cart, self.ground.limits
        wanted = None
        if cart.kind != "boom":
            wanted = (cart.least_pressure or limits.gun_least, cart.most_pressure or limits.gun_most)
        behind = place.inlet - place.drive_loss
        places = [At("inlet", place.inlet), At("behind drive", behind), At("end of hose", behind - place.hose_loss)]
        if abs(place.lift) < 1:
            places.pop()
        line.flow([*places, At("gun", place.gun, wanted)], system)

    def _put(self, where: str, told: list[Content]) -> None:
        """Write lines; the screen is laid out anew only where they take more or less room than before."""
        place = self.query_one(where, Static)
        room = place.content_size.width or 1
        high = sum(-(-one.cell_length // room) for one in told)
        place.update(lines(*told), layout=self._high.get(where) != high)
        self._high[where] = high

    # keys

    @on(DescendantFocus)
    def _focused(self, event: DescendantFocus) -> None:
        field = BY_KEY.get(event.widget.id or "")
        if field is not None:
            self.query_one("#hint", Static).update(join((f"{field.label}, as in {field.example}", "$text-muted")))

    def action_step(self, steps: int) -> None:
        """One step more or less of the value under the cursor."""
        line = self.focused
        field = BY_KEY.get(line.id or "") if isinstance(line, Line) else None
        if field is None or not isinstance(line, Line):
            return
        text = stepped(field, line.value or str(line.placeholder), steps, self)
        if text is not None:
            line.value = text
            line.cursor_position = len(text)

    @on(Input.Submitted)
    def _next(self, event: Input.Submitted) -> None:
        event.stop()
        self.focus_next()

    def action_keep(self) -> None:
        """Keep the set as the plan of the day."""
        if self.setting is None:
            self.app.bell()
            return
        self.reelcare.with_person(self._keep)

    def _keep(self) -> None:
        setting, app = self.setting, self.reelcare
        if setting is None:
            return
        texts = {key: self._with_unit(BY_KEY[key], text.strip()) for key, text in self.texts().items() if text.strip()}
        kept = app.write(
            lambda: sets.plan(
                self.register, self.machine.id, setting, texts, self.ground.limits, by=app.person, now=self.now()
            )
        )
        if kept is not None:
            warned = f", warned of {len(setting.warnings)}" if setting.warnings else ""
            app.tell(f"{self.machine.tag}: set kept{warned}; walk-rounds are held to it")
            self.app.pop_screen()

    def _with_unit(self, field: Field, text: str) -> str:
        if field.quantity is None or field.quantity == "count" or units.split(text)[1]:
            return text
        return f"{text} {units.unit_for(field.quantity, self.manner.system, field.role)}"

    def action_leave(self) -> None:
        """Back without keeping."""
        self.app.pop_screen()


def short(setting: Setting, system: units.System) -> Iterator[tuple[str, str]]:
    """What comes of a set, in a few words each."""

    def show(value: float, quantity: units.Quantity, role: str = "") -> str:
        return units.show(value, quantity, system, role=role)

    if setting.run_time is not None:
        done = f", done {setting.finish:%d %b %H:%M}" if setting.finish is not None else ""
        yield "run", f"{show(setting.run_time, 'duration')}{done}"
    if setting.metres_left is not None and setting.coils_left is None:
        yield "drum", f"{show(setting.metres_left, 'length')} stay on it"
    if setting.spread is not None:
        yield (
            "spread",
            f"{100 * setting.spread.left:.0f} % of speed ({100 * setting.spread.bare:.0f} % bare)",
        )
    if setting.pull is not None and setting.allowable_pull is not None:
        yield "pull", f"{show(setting.pull, 'force')}; the hose bears {show(setting.allowable_pull, 'force')}"
    if setting.widest is not None and setting.radius is not None:
        widest = show(setting.widest.tapered, "length")
        yield "throw", f"{show(setting.radius, 'length')}; lanes {widest} at most"
    if setting.rate is not None:
        yield "rate", show(setting.rate, "speed", "rate")
    if setting.area is not None and setting.water_used is not None:
        yield "field", f"{show(setting.area, 'area')}, {show(setting.water_used, 'volume')}"


def worked_out(setting: Setting, system: units.System) -> dict[str, str]:
    """What stands faint in each line that was not typed."""
    place = setting.at_pull_out
    found: dict[str, float | None] = {
        "depth": setting.depth,
        "speed": setting.speed,
        "flow": setting.flow,
        "nozzle": setting.nozzle,
        "gun_pressure": place.gun if place is not None else None,
        "inlet": place.inlet if place is not None else None,
        "drive_loss": place.drive_loss if place is not None else None,
    }
    told = {}
    for key, value in found.items():
        field = BY_KEY[key]
        assert field.quantity is not None
        told[key] = "" if value is None else units.show(value, field.quantity, system, role=field.role)
    return told


def stepped(field: Field, text: str, steps: int, place: Place) -> str | None:
    """The text one step farther; None where it cannot be read."""
    system, zone = place.manner.system, place.register.zone
    if field.quantity is None:
        try:
            moment = datetime.fromisoformat(text) if text else place.now().astimezone(zone)
        except ValueError:
            return None
        moment = moment.replace(minute=moment.minute // 30 * 30, second=0, microsecond=0) + steps * TIME_STEP
        return moment.replace(tzinfo=None).isoformat(timespec="minutes")
    if field.quantity == "count":
        try:
            value = units.number(text) if text else 0.0
        except units.UnitsError:
            return None
        return f"{max(0.0, value + steps * COUNT_STEPS[field.key]):g}"
    name = units.unit_for(field.quantity, system, field.role)
    step = units.step_for(field.quantity, system, field.role)
    try:
        typed = text if not text or units.split(text)[1] else f"{text} {name}"
        value = units.in_unit(units.read(typed, field.quantity), name) if typed else 0.0
    except units.UnitsError:
        return None
    least = -math.inf if field.key in ("rise", "temperature") else 0.0
    whole = round(value / step) + steps
    return units.write(units.from_unit(max(least, whole * step), name), name, step)
