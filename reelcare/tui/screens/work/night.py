"""The night of a place: a time line, and who must be where when.

The rules of this file: what is planned comes from the register's view, and is read again whenever something changed.
The order of a machine is changed by moving the set under the cursor one place forward; what somebody chose is an entry.
"""

from __future__ import annotations

from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core.hydraulics import volumes
from reelcare.core.night.plan import PlannedSet
from reelcare.core.text import _, mark
from reelcare.register.errors import Refused
from reelcare.register.views import night as nights
from reelcare.register.views.night import PlannedNight
from reelcare.reports import night as words
from reelcare.tui.keys import bind
from reelcare.tui.lists import ListScreen
from reelcare.tui.requests import OpenLanes, OpenNight
from reelcare.tui.text import lines, said
from reelcare.tui.widgets.columns import widened
from reelcare.tui.widgets.drawings.night_line import time_lines
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

COLUMNS = (
    Column(mark("machine"), 8, 1),
    Column(mark("lane"), 5, 1, right=True),
    Column(mark("hydrant"), 7, 1, right=True),
    Column(mark("move from"), 11, 2),
    Column(mark("starts"), 11, 1),
    Column(mark("home"), 11, 1),
    Column(mark("m3"), 6, 3, right=True),
    Column(mark("kWh"), 6, 4, right=True),
    Column(mark("attends"), 9, 2, grows=True, least=6),
)
TIMES = {3: "move from", 4: "starts", 5: "home"}
"""The columns of times, by their place: one with its day is as wide as the month is long in the language."""


class NightScreen(ListScreen):
    """The order of sets of a place."""

    CSS_PATH = "../night.tcss"
    HELP = mark("Each machine takes the lane on which it can begin first; nothing is moved in the dark.")
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("night.forward", "f", mark("Forward"), mark("This set one place earlier")),
        bind("night.rule", "u", mark("By rule"), mark("The order of the rule again"), action="by_rule"),
        bind("night.dark", "c", mark("Dark moves"), mark("Allows moves in the dark, or not")),
        bind("night.lanes", "a", mark("Lanes"), mark("The lanes of this field, and its hours")),
        bind("night.leave", "escape", mark("Back"), mark("Back to the yard")),
    ]

    def __init__(self, request: OpenNight) -> None:
        super().__init__()
        self.asked_for, self.dark_moves = request.where, False
        self.found: PlannedNight | None = None
        self.why = ""

    def body(self) -> ComposeResult:
        """The time line, the sets, and what is to be known."""
        yield Static(id="time-line")
        yield Rows(COLUMNS, id="sets", empty=mark("nothing can be planned in this time"), enter_chooses=False)
        yield Static(id="known")

    def page(self) -> str:
        """Which place."""
        found = self.found
        return _("Night  {place}", place=(found.field.place or found.field.id) if found is not None else self.asked_for)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Where no night is planned there is no set to put forward, and no move to allow."""
        if action in ("forward", "by_rule"):
            return bool(self.sets)
        return self.found is not None if action == "dark" else super().check_action(action, parameters)

    def counts(self) -> Content:
        """Sets, water and energy."""
        return said(words.totals(self.found) if self.found is not None else "")

    @property
    def sets(self) -> tuple[PlannedSet, ...]:
        """The sets in the order of the list."""
        return self.found.sets if self.found else ()

    def fill(self) -> None:
        """Plan the night and show it."""
        with self.follow():
            self.found, self.why = None, ""
            try:
                self.found = nights.plan(
                    self.register,
                    self.asked_for,
                    self.now(),
                    dark_moves=self.dark_moves,
                    system=self.preferences.system,
                )
            except Refused as why:
                self.why = str(why)
            found = words.lines(self.found) if self.found else []
            times = {TIMES[at]: [one[at] for one in found] for at in TIMES}
            water = volumes.unit(self.preferences.system)
            columns = [one._replace(head=water) if one.head == "m3" else one for one in COLUMNS]
            self.query_one(Rows).set_columns(widened(columns, {**times, water: [water]}))
            self.query_one(Rows).show([self._row(one) for one in found])
            self.refresh_head()
            self.refresh_bindings()
            self.detail()

    def row_id(self, place: int) -> tuple[str, int | str]:
        """The machine and its lane."""
        return self.sets[place].tag, self.sets[place].lane.number

    def _row(self, cells: tuple[str, ...]) -> Row:
        return (Cell(cells[0], "part"), *(Cell(one) for one in cells[1:]))

    def detail(self) -> None:
        """Light the set under the cursor on the time line; and what is to be known of this night."""
        self._draw_time_line()
        told = words.words(self.found)[1:] if self.found is not None else [self.why]
        self.query_one("#known", Static).update(lines(*told))

    def on_resize(self) -> None:
        """Draw the time line as wide as the screen is now."""
        self._draw_time_line()

    def _draw_time_line(self) -> None:
        """A quarter of the screen is for machines."""
        lit = self.under_cursor(self.sets)
        wide, high = max(self.size.width - 1, 41), max(self.size.height // 4, 3)
        drawn = time_lines(self.found, wide, lit, high) if self.found is not None else []
        self.query_one("#time-line", Static).update(lines(*drawn))

    def action_lanes(self) -> None:
        """Show the lanes of this field, also where none is known yet."""
        if self.found is None and self.register.machines_with_tag(self.asked_for):
            self.host.tell(self.why, bad=True)
        else:
            self.open(OpenLanes(self.asked_for))

    def action_dark(self) -> None:
        """Allow moves in the dark, or forbid them again."""
        self.dark_moves = not self.dark_moves
        self.fill()
        self.host.tell(_("moves in the dark are allowed") if self.dark_moves else _("no move in the dark"))

    @work
    async def action_forward(self) -> None:
        """Move the set under the cursor one place forward among those of its machine."""
        one = self.under_cursor(self.sets)
        if one is None or self.found is None:
            return
        mine = [str(each.lane.number) for each in self.found.found.of(one.tag)]
        at = mine.index(str(one.lane.number))
        if at == 0:
            self.host.tell(_("{tag} already takes lane {lane} first", tag=one.tag, lane=one.lane.number))
            return
        mine[at - 1], mine[at] = mine[at], mine[at - 1]
        await self._choose(one.tag, tuple(mine))

    @work
    async def action_by_rule(self) -> None:
        """Take back what was chosen for the machine under the cursor."""
        one = self.under_cursor(self.sets)
        if one is not None:
            await self._choose(one.tag, ())

    async def _choose(self, tag: str, lanes: tuple[str, ...]) -> None:
        if self.found is None or not await self.host.may_write(e.LanesChosen.kind):
            return
        what, machine = e.LanesChosen(field=self.found.field.id, lanes=lanes), self.register.machine_id(tag)
        if self.record(what, machine) is not None:
            self.fill()
            told = ", ".join(lanes)
            self.host.tell(_("{tag} takes next: lanes {lanes}", tag=tag, lanes=told) if lanes else
                           _("{tag} takes its lanes by the rule again", tag=tag))  # fmt: skip
