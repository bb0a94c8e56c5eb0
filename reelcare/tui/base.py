"""What screens are made of: the one frame, the way to another screen, and what they may know of the app.

The rules of this file: a screen knows its host by the protocol alone; it never imports the app or another screen. Row 1
is the head, row 2 the standing line, the last but one the message line, the last one the keys; nothing ever lies over
them but a dialog. A screen says what its body is, and no more.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from typing import ClassVar, Protocol, TypeVar, cast

from textual import events, work
from textual.app import ComposeResult
from textual.binding import ActiveBinding, Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Input, Static

from reelcare.core import units
from reelcare.core.entries import Entry, Kind
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.text import _, mark
from reelcare.core.timestamps import day_of
from reelcare.core.wording import weekday_and_time
from reelcare.register.errors import Busy, RegisterError
from reelcare.register.reading import yard
from reelcare.register.writing.writer import Writer
from reelcare.tui.keys import bind
from reelcare.tui.leaving import LeftOnce
from reelcare.tui.preferences import Preferences
from reelcare.tui.requests import Answer, Opens, OpenSteps
from reelcare.tui.text import join
from reelcare.tui.widgets.key_line import KeyLine
from reelcare.tui.widgets.message_line import MessageLine
from reelcare.tui.widgets.standing_line import standing_line, two_rows

Written = TypeVar("Written")
NARROW = 70
"""A window of fewer cells gives its screens the class `-tiny`."""


class Host(Protocol):
    """What a screen may ask of the app."""

    register: Writer
    preferences: Preferences
    person: str
    warnings: tuple[str, ...]
    """What was found wrong when the app last looked around; shown until it does again."""

    @property
    def role(self) -> str:
        """The role of who is at the terminal."""

    def now(self) -> datetime:
        """The present moment."""

    @property
    def is_telling(self) -> bool:
        """Whether something is told in the message line."""

    def tell(self, text: str, *, bad: bool = False, asks: bool = False) -> None:
        """Tell something in the message line: done, not done (`bad`), or asked; text is never parsed as markup."""

    def tell_stale(self, why: RegisterError, since: str) -> None:
        """Tell that what is shown is of before, and why."""

    def tell_fresh(self) -> None:
        """Tell no more that what is shown is of before."""

    def errors_told(self) -> contextlib.AbstractContextManager[None]:
        """Tell what the register says that cannot be asked in this block."""

    def check_health(self) -> None:
        """Look for what is wrong with clock and register, and tell it."""

    def clear_notice(self) -> None:
        """Take away what is told."""

    def leave_for_demo(self) -> None:
        """Leave this register, and open the demo estate."""

    def in_turn(self, act: Callable[[], object]) -> None:
        """Do something that writes, at once or, where another program writes, when it is this one's turn."""

    def write(self, what: Callable[[], Written]) -> Written | None:
        """Do something that writes; None where it could not be, which is told."""

    def screen_for(self, request: Opens[Answer]) -> Screen[Answer]:
        """Make the screen that a request asks for."""

    async def ask(self, request: Opens[Answer]) -> Answer | None:
        """Open a dialog and wait for its answer; only in a worker."""

    async def may_write(self, kind: str = "") -> bool:
        """Whether somebody is there who may write this kind of entry ('': any); asks who it is. Only in a worker."""


DEMO = " DEMO "
"""What the head of every screen begins with where the register is a demo."""
LOOK = 3.0
"""Interval between looks at the clock, and for what another program has written [s]."""
LEFT_OUT = 9
"""Looks that are left out after one that failed, but for a register that is only busy: a server that does not answer is
waited for each time."""


class BaseScreen(LeftOnce[None]):
    """A screen in the one frame: where one is, what the machine may do or how much there is, the body, what is told,
    and the keys.

    A screen of one machine sets `machine_id`; others say in `counts` how much there is.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        bind(
            "screen.stop_now", "exclamation_mark", mark("Stop now"),
            mark("What stops the machine, at any time and in any state"), priority=True,
        ),
    ]  # fmt: skip
    PAGE = ""
    machine_id = ""
    """The machine that the screen is about; '' for lists."""
    seen: MachineNow | None = None
    """The machine as it stood when its standing was last shown."""
    _shown_minute: datetime | None = None
    _shows: object = None
    """The register's change token of what is shown; None where the screen does not follow what others write."""
    unsaved: dict[tuple[str, str], str]
    """Words that could not be written, by what was asked."""
    _was_shown = False
    _left_out = 0
    """Looks that are still left out, as the register could not be read."""

    def __init__(self) -> None:
        super().__init__()
        self.unsaved = {}

    def compose(self) -> ComposeResult:
        """The frame, and the body in it."""
        yield Static(id="head")
        yield Static(id="standing")
        with Vertical(id="body"):
            yield from self.body()
        yield MessageLine()
        yield KeyLine()

    def body(self) -> ComposeResult:
        """What stands between the standing line and the message line."""
        raise NotImplementedError

    @property
    def host(self) -> Host:
        """The app, as far as a screen knows it."""
        return cast(Host, self.app)

    @property
    def register(self) -> Writer:
        """The register that the app is open on."""
        return self.host.register

    @property
    def preferences(self) -> Preferences:
        """Units and language."""
        return self.host.preferences

    @property
    def holds_typing(self) -> bool:
        """Whether something is written here that no single letter may leave behind."""
        return False

    def now(self) -> datetime:
        """The present moment."""
        return self.host.now()

    def on_mount(self) -> None:
        """Follow who is there, how they want it, what is told, and the clock."""
        self.watch(self.app, "person", self.refresh_head, init=False)
        self.watch(self.app, "preferences", self._fill_again, init=False)
        self.watch(self.app, "notice", self.query_one(MessageLine).tell)
        self.set_interval(LOOK, self._look)

    def on_screen_resume(self) -> None:
        """Show what was done elsewhere; what the first paint shows is not read twice."""
        if self._was_shown:
            with self.host.errors_told():
                self.come_back()
        self._was_shown = True

    def come_back(self) -> None:
        """Show what was done on another screen."""
        self.refresh_head()

    def _fill_again(self) -> None:
        self.refresh_bindings()
        if self.is_current:
            self.fill_in_place()

    def _look(self) -> None:
        if not self.is_current or self._shown_minute is None:
            return
        if self._left_out:
            self._left_out -= 1
            return
        try:
            self.register.db.refuse_another_file()
            is_past = self.now().replace(second=0, microsecond=0) != self._shown_minute
            if is_past or (self._shows is not None and self.register.change_token() != self._shows):
                self.show_again()
        except RegisterError as why:
            if not isinstance(why, Busy):
                self._left_out = LEFT_OUT
            self.host.tell_stale(why, weekday_and_time(self.local(self._shown_minute)))
        else:
            self.host.tell_fresh()

    async def _on_message(self, message: Message) -> None:
        """Handle what comes to the screen. A register that cannot be read ends neither it nor the app; a screen that
        could not even open is left again."""
        try:
            await super()._on_message(message)
        except RegisterError as why:
            self.host.tell(str(why), bad=True)
            if isinstance(message, events.Mount) and len(self.app.screen_stack) > 1:
                self.call_later(self.dismiss)

    def show_again(self) -> None:
        """Show what another minute changes, or what another program has written, though no key comes."""
        self.refresh_head()

    def fill_in_place(self) -> None:
        """The same, with the cursor where it is."""
        self.fill()

    def fill(self) -> None:
        """Show everything as it is now, in the person's units and language."""

    @property
    def active_bindings(self) -> dict[str, ActiveBinding]:
        """The keys that do something now, in the person's language: the key line, the help and the palette ask here."""
        return {
            key: one._replace(
                tooltip=_(one.tooltip),
                binding=replace(one.binding, description=self.key_name(one.binding), tooltip=_(one.binding.tooltip)),
            )
            for key, one in super().active_bindings.items()
        }

    def key_name(self, binding: Binding) -> str:
        """What the key line calls a key now, in the person's language."""
        return _(binding.description)

    # stopping

    @property
    def stops(self) -> str:
        """The machine that the key of the stops speaks of; '' for none."""
        return self.machine_id

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """The key of the stops is open wherever there is a machine."""
        if action == "stop_now":
            return bool(self.stops)
        return super().check_action(action, parameters)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Say whether the key of the stops is a letter of what is typed."""
        if len(event.value) <= 1:
            self.refresh_bindings()

    def action_stop_now(self) -> None:
        """Show what stops the machine."""
        self.open(OpenSteps(self.stops, stop=True))

    # the head and the standing line

    def page(self) -> str:
        """What the head says of this screen, after the machine that it is about."""
        return _(self.PAGE)

    def where(self) -> str:
        """What the head says: the machine, if the screen is about one, and the page."""
        one = self.seen
        return f"{' '.join(f'{one.tag} {one.card.name}'.split())}  {self.page()}" if one else self.page()

    def counts(self) -> Content:
        """What the standing line of a list says: how much there is, and of what."""
        return Content("")

    def refresh_head(self) -> None:
        """Read how the machine stands, and write the head and the standing line again."""
        if self.machine_id:
            token = self.register.change_token()
            self.seen = yard.machine_now(
                self.register, self.machine_id, self.now(), forecasts=False, permits=True,
                language=self.preferences.language, system=self.preferences.system,
            )  # fmt: skip
            self._shows = token
        self._write_frame()

    def _write_frame(self) -> None:
        here = self.now()
        # as the clock gives it: a local time of the hour that comes twice in autumn equals none of another zone
        self._shown_minute, now = here.replace(second=0, microsecond=0), self.local(here)
        demo = ((DEMO, "bold reverse"), " ") if self.register.is_demo else ()
        width = self.app.size.width - 2 - (len(DEMO) + 1 if demo else 0)
        who = f"{self._who()}, {_(self.host.role)}" if self.host.person else _("nobody yet: p")
        who = _("view only") if self.register.read_only else who
        when = f"{weekday_and_time(now)}   "
        where = self.where()
        if len(where) + 2 + len(when) + len(who) > width:
            when = ""
        room = max(width - len(when) - len(who) - 2, 0)
        where = where if len(where) <= room else where[: max(room - 1, 0)] + "…"
        place, rest = (*where.split("  ", 1), "")[:2]
        gap = " " * max(width - len(where) - len(when) - len(who), 1)
        head = join(*demo, (place, "bold"), f"{'  ' if rest else ''}{rest}", gap, (when, "$text-muted"), who)
        self.query_one("#head", Static).update(head)
        standing = self.standing(self.seen) if self.seen is not None else self.counts()
        self.query_one("#standing", Static).update(standing)

    def standing(self, machine: MachineNow) -> Content:
        """The standing line of a machine."""
        return standing_line(machine, self.standing_room)

    @property
    def standing_room(self) -> int:
        """How many cells the standing line has: one row, and two where the window is narrow."""
        width = self.app.size.width - 2
        return two_rows(width) if self.is_narrow else width

    @property
    def is_narrow(self) -> bool:
        """Whether the window is narrow; of a screen that just opens its class does not say so yet."""
        return self.app.size.width < NARROW

    def _who(self) -> str:
        """Who is there; a long name leaves the greater part of the line to where one is."""
        name, most = self.host.person, max(self.app.size.width // 3 - len(self.host.role) - 2, 6)
        return name if len(name) <= most else name[: most - 1] + "…"

    def on_resize(self) -> None:
        """Head and standing line are as wide as the screen; what is written on stays in sight, as above the keyboard of
        a tablet."""
        if self._shown_minute is not None:
            with self.host.errors_told():
                self._write_frame()
        self.call_after_refresh(self.show_focus)

    def show_focus(self) -> None:
        """Bring the line with the cursor into sight."""
        if self.focused is not None:
            self.focused.scroll_visible(animate=False)

    # the person's units, the register's zone

    def length(self, millimetres: int) -> str:
        """A length kept in mm, in the person's units."""
        return units.show(millimetres / 1000, "length", self.preferences.system)

    def local(self, moment: datetime) -> datetime:
        """A moment in the register's zone."""
        return moment.astimezone(self.register.zone)

    @property
    def today(self) -> date:
        """The day that it is in the register's zone."""
        return day_of(self.now(), self.register.zone)

    # writing, and other screens

    def record(self, what: Kind, machine: str | None = None) -> Entry | None:
        """Write what happens now to a machine (None: to all), by who is there; None where it could not be, which is
        told."""
        host = self.host
        return host.write(lambda: self.register.add(what, machine=machine, by=host.person, now=self.now()))

    def open(self, request: Opens[None]) -> None:
        """Open a screen; where what it shows cannot be read, tell why and stay here."""
        try:
            self.register.change_token()  # whether it can be read at all
            screen = self.host.screen_for(request)
        except (RegisterError, ValueError) as why:
            self.host.tell(str(why), bad=True)
            return
        self.app.push_screen(screen)

    @work
    async def open_to_write(self, request: Opens[None], kind: str = "") -> None:
        """Open a screen that writes an entry of this kind ('': any), where somebody is there who may."""
        if await self.host.may_write(kind):
            self.open(request)

    async def ask(self, request: Opens[Answer]) -> Answer | None:
        """Open a dialog and wait for its answer; only in a worker."""
        return await self.host.ask(request)

    def action_leave(self) -> None:
        """Back to where one came from."""
        self.dismiss()
