"""The start page: what a register needs on its first day, in order, each with what is there already."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core.spreadsheet.columns import SheetKind
from reelcare.core.text import _, mark, plural
from reelcare.files import downloads_folder
from reelcare.register.exchange.first_day import last_done
from reelcare.tui import requests
from reelcare.tui.base import BaseScreen
from reelcare.tui.keys import bind
from reelcare.tui.lists import ListScreen
from reelcare.tui.requests import AskChoice, AskText
from reelcare.tui.text import said
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

COLUMNS = (
    Column(mark("step"), 34, 1, grows=True),
    Column(mark("how"), 20, 2),
    Column(mark("there already"), 13, 1),
)
STEPS = ("people", "machines", "by hand", "runs", "last done")
KINDS: Mapping[SheetKind, str] = {"machines": e.Carded.kind, "runs": e.Run.kind, "last done": e.Service.kind}
"""What a spreadsheet is brought as: the kind of its entries."""
SUFFIXES = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm")
MOST = 12
"""Files that are offered, the newest first; any other is named by its path."""


class StartPage(ListScreen):
    """What a register needs on its first day."""

    PAGE = mark("First day")
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("start.step", "enter", mark("Do this"), mark("Does the step under the cursor")),
        bind("start.demo", "o", mark("Demo"), mark("Leaves this and opens the demo estate")),
        bind("start.leave", "escape", mark("Yard"), mark("Back to the yard")),
    ]

    def body(self) -> ComposeResult:
        """What it is for, and the steps."""
        yield Static(said(_("All of it can wait: nothing counts as done because it was left out.")), classes="note")
        yield Rows(COLUMNS, id="steps", enter_chooses=False)

    def counts(self) -> Content:
        """Whether anything is there."""
        empty = not self.register.roles() and not self.register.machine_ids()
        return said(_("A new register: nothing in it yet") if empty else _("You can add to what is there."))

    def fill(self) -> None:
        """Read what is there, and show the steps."""
        register = self.register
        people, machines = len(register.roles()), len(register.machine_ids())
        grid = last_done.grid(register)
        first = not people
        self.query_one(Rows).show(
            [
                self._row(1, _("You: the first supervisor") if first else _("People: enrol, role, PIN"),
                          _("name") if first else _("form"),
                          plural("{n} person", "{n} people", people) if people else ""),
                self._row(2, _("Machines from a list"), ".csv .xlsx",
                          plural("{n} machine", "{n} machines", machines) if machines else ""),
                self._row(3, _("A machine by hand"), _("form"), ""),
                self._row(4, _("Runs of the season, if any"), ".csv .xlsx", self._runs()),
                self._row(5, _("Last done: one grid"), _("blank = not known"),
                          _("{n} of {all}", n=len(grid.known), all=len(grid.asked)) if grid.asked else ""),
            ]
        )  # fmt: skip
        self.refresh_head()

    def _row(self, number: int, what: str, how: str, there: str) -> Row:
        return (Cell(f"{number}  {what}", "part"), Cell(how, "faint"), Cell(there))

    def _runs(self) -> str:
        states = self.register.states().values()
        runs = sum(one.totals.runs - (self.register.card(one.machine).in_use.runs or 0) for one in states)
        return plural("{n} run", "{n} runs", runs) if runs else ""

    @on(Rows.Chosen)
    @work
    async def action_step(self) -> None:
        """Do the step under the cursor."""
        step = STEPS[self.query_one(Rows).cursor]
        if not self.register.roles() or (step != "last done" and not self.host.person):
            if not await self.host.may_write():
                return
            self.fill()
            if step == "people":
                self.query_one(Rows).cursor = 1
                return
        if step == "people":
            self.open(requests.OpenPeople())
        elif step == "by hand":
            self.open_to_write(requests.ChangeMachine(), "card")
        elif step == "last done":
            self.open_to_write(requests.OpenLastDone(), "service")
        else:
            await bring_file(self, "machines" if step == "machines" else "runs")

    def action_demo(self) -> None:
        """Leave this register as it is, and open the demo estate."""
        self.host.leave_for_demo()


async def bring_file(screen: BaseScreen, kind: SheetKind) -> None:
    """Choose a spreadsheet and look at it; only in a worker."""
    if not await screen.host.may_write(KINDS[kind]):
        return
    asks = {
        "machines": _("Which list of machines?"),
        "runs": _("Which runs of the season?"),
        "last done": _("Which spreadsheet has when services were last done?"),
    }[kind]
    path = await choose_file(screen, asks)
    if path is not None:
        screen.open(requests.OpenPreview(kind, path))


async def choose_file(screen: BaseScreen, asks: str) -> Path | None:
    """A spreadsheet: one of the newest here and in the usual folders, or another by its path; only in a worker."""
    found = spreadsheets()
    number = None
    if found:
        titles = (*(str(one) for one in found), _("another file"))
        number = await screen.ask(AskChoice(asks, titles))
        if number is None:
            return None
        if number < len(found):
            return found[number]
    typed = await screen.ask(AskText(asks, _("The path of a .csv or .xlsx file.")))
    if not typed:
        return None
    path = Path(typed).expanduser()
    if not path.is_file():
        screen.host.tell(_("{path}: no such file", path=path), bad=True)
        return None
    return path


def spreadsheets() -> list[Path]:
    """Spreadsheets in this folder and where files are usually put, the newest first."""
    found: list[tuple[float, Path]] = []
    folders = (Path(), Path.home(), downloads_folder())
    for folder in {one.resolve(): one for one in reversed(folders)}.values():
        try:
            some = [one for one in folder.iterdir() if one.suffix.casefold() in SUFFIXES and one.is_file()]
            found += [(one.stat().st_mtime, one) for one in some]
        except OSError:
            continue
    # a text file may be a table with tabs, and is most often none
    newest = sorted(found, key=lambda one: (one[1].suffix.casefold() == ".txt", -one[0], str(one[1])))
    return [path for _time, path in newest][:MOST]
