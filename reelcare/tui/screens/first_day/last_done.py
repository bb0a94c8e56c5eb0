"""Last done: one grid, machine by item of the plan, filled by typing, down a column, or from a spreadsheet.

The rules of this file: a blank cell is not known, and stays so. A date is *on*, a figure is *at* (h of the counter),
both may stand in a cell. Nothing is written before `Ctrl Y`, and then all of it or nothing.
"""

from __future__ import annotations

from typing import ClassVar

from textual import events, on, work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Input, Static

from reelcare.core.spreadsheet.cells import CellError, DoneAt, read_done
from reelcare.core.text import _, mark, plural
from reelcare.register.exchange.first_day import last_done
from reelcare.register.exchange.first_day.last_done import NOW, ToldServices
from reelcare.tui.base import BaseScreen
from reelcare.tui.keys import bind
from reelcare.tui.requests import AskYesNo
from reelcare.tui.screens.first_day.start import bring_file
from reelcare.tui.text import said
from reelcare.tui.widgets.grid import Grid, GridCell
from reelcare.tui.widgets.inputs.fields import LineInput


class LastDonePage(BaseScreen):
    """When each item was last done."""

    PAGE = mark("Last done")
    HELP = mark("A date is the day on which it was done, a figure the hour counter then; both may be in one cell.")
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("done.keep", "ctrl+y", mark("Sign and save"), mark("Signs and saves all")),
        bind("done.sheet", "i", mark("Spreadsheet"), mark("Brings them in from a spreadsheet"), action="spreadsheet"),
        bind("done.repeat", "equals_sign", mark("As above"), mark("Repeats the cell above")),
        bind("done.fill", "f", mark("Fill down"), mark("Fills the blank cells below with this")),
        bind("done.clear", "full_stop,delete", mark("Not known"), mark("Makes the cell blank")),
        bind("done.leave", "escape", mark("Back"), mark("Back without saving")),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.typed: dict[last_done.Cell, str] = {}

    @property
    def holds_typing(self) -> bool:
        """What is typed is cells."""
        return True

    def body(self) -> ComposeResult:
        """What the cell is, the grid, and the line that is typed on."""
        yield Static(id="which", classes="note")
        yield Grid(id="grid")
        says = _("begin the cell with a digit: 29.6.26, 1420 h, or both")
        yield LineInput(id="cell", placeholder=says, select_on_focus=False, max_length=40)

    def on_mount(self) -> None:
        """Show the grid."""
        super().on_mount()
        self.fill()
        grid = self.query_one(Grid)
        grid.focus()
        self.watch(grid, "at", self._say_which, init=False)

    def fill(self) -> None:
        """Read what is known, and show it under what is typed."""
        self.grid = last_done.grid(self.register)
        language = self.preferences.language
        self.columns = [NOW, *(one.id for one in self.grid.items)]
        heads = [_("counter now")] + [
            ("┃ " if one.stop else "") + str(one.title(language).short) for one in self.grid.items
        ]
        self.query_one(Grid).show(
            heads, [tag for _id, tag in self.grid.machines],
            [[self._cell(machine, column) for column in self.columns] for machine, _tag in self.grid.machines],
        )  # fmt: skip
        self.refresh_head()
        self._say_which()

    def _cell(self, machine: str, column: str) -> GridCell:
        typed, known = self.typed.get((machine, column)), self.grid.known.get((machine, column))
        if column != NOW and (machine, column) not in self.grid.asked:
            return GridCell("-", faint=True)
        if typed is not None:
            return GridCell(typed)
        return GridCell(known, faint=True) if known is not None else GridCell(".", faint=True)

    def counts(self) -> Content:
        """How much is filled in."""
        asked, known = self.grid.asked, set(self.grid.known)
        filled = len(known | {one for one in self.typed if one[1] != NOW})
        machines, items = len(self.grid.machines), len(self.grid.items)
        return said(
            _(
                "{machines}, {items}   {n} of {all} filled   ? {left} not known",
                machines=plural("{n} machine", "{n} machines", machines),
                items=plural("{n} item", "{n} items", items),
                n=filled,
                all=len(asked),
                left=len(asked) - filled,
            )
        )

    def _here(self) -> last_done.Cell | None:
        row, column = self.query_one(Grid).at
        if row >= len(self.grid.machines):
            return None
        at = (self.grid.machines[row][0], self.columns[column])
        return at if at[1] == NOW or at in self.grid.asked else None

    def _say_which(self) -> None:
        row, column = self.query_one(Grid).at
        if not self.grid.machines:
            self.query_one("#which", Static).update(said(_("No machine in the yard.")))
            return
        tag, name = self.grid.machines[row][1], self.columns[column]
        item = next((one for one in self.grid.items if one.id == name), None)
        title = str(item.title(self.preferences.language)) if item is not None else _("hour counter now (h)")
        holds = "  " + _("holds the machine past its grace") if item is not None and item.stop else ""
        self.query_one("#which", Static).update(said(f"{tag}  {title}{holds}"))

    # typing

    def on_key(self, event: events.Key) -> None:
        """A digit begins a cell."""
        typing = self.query_one("#cell", LineInput)
        if typing.has_focus or event.character is None or not event.character.isdecimal():
            return
        event.stop()
        event.prevent_default()
        if self._here() is None:
            self.host.tell(_("This machine has no such item."), bad=True)
            return
        typing.value = event.character
        typing.cursor_position = 1
        typing.focus()

    @on(Grid.Chosen)
    def _change(self) -> None:
        at, typing = self._here(), self.query_one("#cell", LineInput)
        if at is not None:
            typing.value = self.typed.get(at, "")
            typing.cursor_position = len(typing.value)
            typing.focus()

    @on(Input.Submitted, "#cell")
    def _given(self) -> None:
        self._give()

    def _give(self) -> bool:
        """Put what is typed into its cell, and go on to the next; False where it cannot be."""
        at, typing, grid = self._here(), self.query_one("#cell", LineInput), self.query_one(Grid)
        text = typing.value.strip()
        if at is not None and typing.has_focus:
            try:
                self._read(at, text) if text else None
            except CellError as why:
                self.host.tell(str(why), bad=True)
                return False
            self._put(at, text)
            self.host.clear_notice()
            typing.clear()
            grid.focus()
            grid.action_move(1, 0)
        return True

    def _read(self, at: last_done.Cell, text: str) -> DoneAt | None:
        found = read_done(text, self.register.zone)
        if at[1] == NOW and found is not None and (found.day is not None or found.counter is None):
            raise CellError(_("{text!r}: must be what the hour counter shows now, as in 1420", text=text))
        return found

    def _put(self, at: last_done.Cell, text: str) -> None:
        if text and text != ".":
            self.typed[at] = text
        else:
            self.typed.pop(at, None)
        self._show(at)
        self.refresh_head()

    def _show(self, at: last_done.Cell) -> None:
        row = next(place for place, one in enumerate(self.grid.machines) if one[0] == at[0])
        self.query_one(Grid).put(row, self.columns.index(at[1]), self._cell(*at))

    def action_repeat(self) -> None:
        """The cell above once more, and on to the next."""
        grid, at = self.query_one(Grid), self._here()
        row, column = grid.at
        above = self.typed.get((self.grid.machines[row - 1][0], self.columns[column])) if row else None
        if at is not None and above is not None:
            self._put(at, above)
            grid.action_move(1, 0)

    def action_fill(self) -> None:
        """Fill the blank cells below with this one."""
        at = self._here()
        text = self.typed.get(at) if at is not None else None
        if at is None or text is None:
            self.host.tell(_("Fill this cell first: f repeats it in the blank ones below."), bad=True)
            return
        row, many = self.query_one(Grid).at[0], 0
        for machine, _tag in self.grid.machines[row + 1 :]:
            below = (machine, at[1])
            if (
                below[1] != NOW
                and below in self.grid.asked
                and below not in self.typed
                and below not in self.grid.known
            ):
                self._put(below, text)
                many += 1
        self.host.tell(plural("{n} cell filled", "{n} cells filled", many))

    def action_clear(self) -> None:
        """Not known."""
        at = self._here()
        if at is not None:
            self._put(at, "")
            self.query_one(Grid).action_move(1, 0)

    @work
    async def action_spreadsheet(self) -> None:
        """Bring them from a spreadsheet."""
        await bring_file(self, "last done")

    def come_back(self) -> None:
        """Show what was brought."""
        self.fill()

    # keeping

    @work
    async def action_keep(self) -> None:
        """Sign all cells and keep them, the one that is being typed among them."""
        if not self._give():
            return
        if not self.typed:
            self.host.tell(_("Nothing is filled in."))
            return
        if await self.host.may_write("service"):
            self.host.in_turn(self._keep)

    def _keep(self) -> None:
        host, now = self.host, self.now()
        cells: dict[last_done.Cell, DoneAt] = {}
        for at, text in self.typed.items():
            done = self._read(at, text)
            if done is not None:
                cells[at] = done
        told = last_done.told_services(self.register, cells, now=now)
        if told.problems:
            self._go_to(told)
            return
        kept = host.write(lambda: last_done.write(self.register, told, by=host.person, now=now))
        if kept is not None:
            self.dismiss()
            host.tell(_said(kept))

    def _go_to(self, told: ToldServices) -> None:
        at, says = next(iter(told.problems.items()))
        row = next(place for place, one in enumerate(self.grid.machines) if one[0] == at[0])
        self.query_one(Grid).at = (row, self.columns.index(at[1]))
        more = plural("; {n} more", "; {n} more", len(told.problems) - 1) if len(told.problems) > 1 else ""
        self.host.tell(f"{self.grid.machines[row][1]}: {says}{more}", bad=True)

    def action_leave(self) -> None:
        """Back from the line to the grid; else back without keeping, which is asked where anything was typed."""
        typing = self.query_one("#cell", LineInput)
        if typing.has_focus:
            typing.clear()
            self.query_one(Grid).focus()
        elif self.typed:
            self._ask_to_leave()
        else:
            self.dismiss()

    @work
    async def _ask_to_leave(self) -> None:
        says = (_("What is filled in here is not saved."),)
        if await self.ask(AskYesNo(_("Leave without saving?"), says, yes=mark("leave it"))):
            self.dismiss()


def _said(kept: ToldServices) -> str:
    told = plural("{n} service saved", "{n} services saved", kept.services)
    if not kept.without_day:
        return told
    return (
        told
        + "; "
        + plural(
            "{n} without its day counts by date from the last day that is sure",
            "{n} without their day count by date from the last day that is sure",
            len(kept.without_day),
        )
    )
