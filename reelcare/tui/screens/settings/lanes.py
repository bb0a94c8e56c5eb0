"""The lanes of a field, in a list: added to, changed and taken out; and what licence, tariff and daylight allow."""

from __future__ import annotations

from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core.night import field_words as words
from reelcare.core.night.field_table import without_lane
from reelcare.core.text import _, mark, plural
from reelcare.register.errors import Refused
from reelcare.register.views import fields
from reelcare.register.views.fields import KnownField
from reelcare.tui.keys import bind
from reelcare.tui.lists import ListScreen
from reelcare.tui.requests import AskYesNo, ChangeAllowed, ChangeLane, OpenLanes
from reelcare.tui.text import lines, said
from reelcare.tui.widgets.rows import Cell, Column, Rows

COLUMNS = (
    Column(mark("lane"), 5, 1, right=True),
    Column(mark("hydrant"), 7, 1, right=True),
    Column(mark("length"), 9, 1, right=True),
    Column(mark("spacing"), 9, 1, right=True),
    Column(mark("rise"), 8, 2, right=True),
    Column(mark("flow"), 10, 3, right=True),
    Column(mark("inlet"), 9, 3, right=True),
    Column(mark("shares with"), 11, 2, grows=True),
)


class Lanes(ListScreen):
    """The lanes of the field of a place."""

    CSS_PATH = "../night.tcss"
    HELP = mark("The night is planned on these lanes. One that is changed counts from now on.")
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("lanes.change", "enter", mark("Change"), mark("Changes this lane")),
        bind("lanes.add", "a", mark("Add"), mark("Adds a lane")),
        bind("lanes.out", "x", mark("Take out"), mark("Takes the lane out of the field"), action="take_out"),
        bind("lanes.allowed", "h", mark("Hours"), mark("Licence, tariff, dark, and how long a move takes")),
        bind("lanes.leave", "escape", mark("Back"), mark("Back to the screen before")),
    ]

    def __init__(self, request: OpenLanes) -> None:
        super().__init__()
        self.place = request.place
        self.known: KnownField | None = None

    def body(self) -> ComposeResult:
        """The lanes, and under them what is allowed."""
        yield Rows(COLUMNS, id="sets", empty=mark("No lanes are known here; a adds the first."), enter_chooses=False)
        yield Static(id="known")

    def page(self) -> str:
        """Whose lanes they are."""
        return _("Lanes  {place}", place=self.place)

    def counts(self) -> Content:
        """How many there are."""
        known = self.known
        return said(plural("{n} lane", "{n} lanes", len(known.field.lanes)) if known is not None else "")

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """A lane must be there to be changed."""
        if action in ("change", "take_out", "allowed"):
            return self.known is not None
        return super().check_action(action, parameters)

    def fill(self) -> None:
        """Read the field and show it."""
        self.known, told = None, []
        try:
            self.known = fields.find(self.register, self.place)
        except Refused as why:
            told = [str(why)]
        rows, system = [], self.preferences.system
        if self.known is not None:
            field = self.known.field
            for one in field.lanes:
                *figures, shares = words.line(one, system)
                rows.append(tuple(Cell(text) for text in (*figures, *words.fed(one, system), shares)))
            longest = fields.longest_hose(self.register, field)
            told = [words.allowed(field, system), *words.too_long(field, longest, system)]
        self.query_one(Rows).show(rows)
        self.query_one("#known", Static).update(lines(*told))
        self.refresh_head()
        self.refresh_bindings()

    @property
    def number(self) -> str:
        """The number of the lane under the cursor; '' where there is none."""
        lane = self.under_cursor(self.known.field.lanes) if self.known is not None else None
        return str(lane.number) if lane is not None else ""

    @on(Rows.Chosen)
    def action_change(self) -> None:
        """Change the lane under the cursor."""
        if self.number:
            self.open_to_write(ChangeLane(self.place, self.number), e.Mapped.kind)

    def action_add(self) -> None:
        """Add a lane."""
        self.open_to_write(ChangeLane(self.place), e.Mapped.kind)

    def action_allowed(self) -> None:
        """Change what licence, tariff and daylight allow."""
        self.open_to_write(ChangeAllowed(self.place), e.Mapped.kind)

    @work
    async def action_take_out(self) -> None:
        """Take the lane under the cursor out, once that was asked."""
        known, number, host = self.known, self.number, self.host
        if known is None or not number or not await host.may_write(e.Mapped.kind):
            return
        if len(known.field.lanes) == 1:
            host.tell(_("a field has one lane at least; change this one"), bad=True)
            return
        if not await self.ask(AskYesNo(_("Take lane {lane} out?", lane=number), (_("Its runs stay in the books."),))):
            return

        def take_out() -> e.Entry:
            newest = fields.find(self.register, self.place) or known  # what others have changed meanwhile stays changed
            return self.register.add(e.Mapped(field=without_lane(newest.table, number)), by=host.person, now=self.now())

        if host.write(take_out) is not None:
            self.fill()
            host.tell(_("lane {lane} is out", lane=number))
