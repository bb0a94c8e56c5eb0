"""The yard: every machine with its standing, holds first, and what to do about the one under the cursor."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal
from textual.content import Content

from reelcare.core import entries as e
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.state.standing import state_counts
from reelcare.core.text import _, mark, plural
from reelcare.installation import command
from reelcare.register.reading import yard
from reelcare.register.reading.yard import ListedMachine
from reelcare.tui import requests, yard_reading
from reelcare.tui.keys import bind
from reelcare.tui.lists import ListScreen
from reelcare.tui.screens.machine.machine_detail import WIDE, DetailPane, MachineDetail
from reelcare.tui.screens.machine.yard_rows import COLUMNS, YardRows, arranged, bands
from reelcare.tui.screens.words import ask_and_write
from reelcare.tui.widgets.bands import BandedRows
from reelcare.tui.widgets.rows import Row, Rows
from reelcare.tui.widgets.standing_line import counted

ELSEWHERE = 4
"""Counts that are told of other places."""
FRAME = 5
"""Lines of the frame, and the head of the list."""
BESIDE = 160
"""Columns from which on the pane of a chosen machine stands beside the list."""
WORDS, NARROW_WORDS = 8, 6
"""Lines of the pane's words below the list."""
DRAWN = (30, 16)
"""Lines from which on there is room for the drawing: of the pane beside the list, and of that below it."""


class Yard(ListScreen):
    """Every machine at a glance."""

    OF_A_ROW = frozenset((
        "walk", "other_sheet", "set_up", "run", "fault", "place", "note", "near_miss", "move", "bench", "card", "book",
        "steps", "night",
    ))  # fmt: skip
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("yard.walk", "w,enter", mark("Walk-round"), mark("Begins or goes on with the pre-start of this machine")),
        bind("yard.set_up", "s", mark("Set-up"), mark("Plans a set of this machine: speed, depth, pressures")),
        bind("yard.run", "r", mark("Run"), mark("Logs a run of this machine")),
        bind("yard.bench", "b", mark("Bench"), mark("The bench: services, faults, repairs of this machine")),
        bind("yard.due", "d", mark("Work list"), mark("Services and faults of all machines, the worst first")),
        bind("yard.place", "v", mark("Place"), mark("One place after the other, then all places")),
        bind(
            "yard.other", "o", mark("Other sheet"), mark("Another sheet: road, after the run, shop, season"),
            action="other_sheet",
        ),
        bind("yard.card", "c", mark("Card"), mark("This machine's particulars")),
        bind("yard.book", "k", mark("Book"), mark("Everything that happened to this machine")),
        bind("yard.steps", "t", mark("Steps"), mark("What may be done with this machine now")),
        bind("yard.signals", "i", mark("Signals"), mark("What the run logs say, over all machines"), show=False),
        bind("yard.marks", "m", mark("Marks"), mark("How checks were answered (for supervisors)"), show=False),
        bind("yard.fault", "f", mark("Fault"), mark("Notes a fault on this machine"), show=False),
        bind(
            "yard.waiting", "j", mark("Carried in"), mark("What was carried in and waits to be "
                                                          "accepted (for supervisors)"),
            show=False,
        ),
        bind(
            "yard.go_back", "z", mark("Go back"), mark("Goes back to a copy of the register (for supervisors)"),
            show=False,
        ),
        bind("yard.note", "e", mark("Note"), mark("Leaves a note for the next person"), show=False),
        bind("yard.near_miss", "x", mark("Near miss"), mark("Reports a near miss to the supervisor"), show=False),
        bind("yard.night", "n", mark("Night"), mark("Which lane next, and who is where when"), show=False),
        bind(
            "yard.first_day", "h", mark("First day"),
            mark("People, machines, spreadsheets, and when services were last done"), show=False,
        ),
        bind("yard.move", "a", mark("Move"), mark("Moves the machine to another place"), show=False),
    ]  # fmt: skip

    machines: Sequence[ListedMachine]
    """The machines of the place, in the order of the list."""
    every: Sequence[ListedMachine]
    """All machines."""
    place = ""
    """The place that is shown; '' for all."""

    def body(self) -> ComposeResult:
        """The list, and the machine under the cursor beside or below it."""
        self.machines = self.every = ()
        with Horizontal(id="yard"):
            yield BandedRows(
                COLUMNS,
                id="machines",
                empty=mark("No machine in the yard: h adds machines, by hand or from a list"),
                find=self._find,
            )
            yield DetailPane(classes="side")

    def fill(self) -> None:
        """Read the yard and show it, with the cursor on the same machine."""
        with self.follow():
            rows = self.query_one(BandedRows)
            chosen = self._id_at(rows.cursor)
            self.every = yard.listed(self.register, self.now())
            if self.place and self.place not in {one.place for one in self.every}:
                self.place = ""
            self.machines = arranged([one for one in self.every if self.place in ("", one.place)])
            rows.bands = bands(self.machines)
            self._share_room()
            rows.show(self, keep=next((row for row, one in enumerate(self.machines) if one.id == chosen), None))
            self.refresh_head()
            self.detail()

    def on_resize(self) -> None:
        """Share the new room between the list and the pane."""
        self._share_room()

    def _share_room(self) -> None:
        """Give the list its lines first, then the pane its words, then the drawing."""
        needs = self.query_one(BandedRows).height_of_all
        width, height = self.app.size.width, self.app.size.height - FRAME
        beside, narrow = width >= BESIDE, width < WIDE
        panes = self.query_one("#yard")
        panes.set_class(not beside, "-below")
        panes.set_class(beside, "-beside")
        panes.set_class(narrow, "-narrow")
        panes.set_class(narrow and height - NARROW_WORDS < needs <= height - 3, "-short")
        roomy = needs + len(self.machines) if needs + len(self.machines) <= height - WORDS else needs
        panes.set_class(not narrow and (height >= DRAWN[0] if beside else height - roomy >= DRAWN[1]), "-drawn")

    def page(self) -> str:
        """How many machines, and of which place; of a demo, how a register of one's own begins."""
        if self.register.is_demo and not self.place:
            return _("Yard  your own: {line}", line=f"{command()} begin")
        if self.place:
            return _("Yard  {n} of {all}, {place}", n=len(self.machines), all=len(self.every), place=self.place)
        return plural("Yard  {n} machine, all places", "Yard  {n} machines, all places", len(self.machines))

    def counts(self) -> Content:
        """How many machines are out of the ordinary, and how; and what must not be forgotten."""
        told = state_counts(one.judged for one in self.machines)
        many = len(self.register.uncounted().waiting)
        waits = plural("{n} carried in, to be accepted (j)", "{n} carried in, to be accepted (j)", many)
        told.append(("due", many, waits))
        quiet = self.machines and not any(many for _sign, many, _word in told)
        nothing = _("nothing out of the ordinary") if quiet else ""
        others = (one.judged for one in self.every if self.place and one.place != self.place)
        elsewhere = counted(state_counts(others)[:ELSEWHERE]).plain
        return counted(told, nothing, _("elsewhere: {counts}", counts=elsewhere) if elsewhere else "",
                       *self.host.warnings)  # fmt: skip

    def show_again(self) -> None:
        """Another minute, or another program, can change how any machine stands, and take the one under the cursor
        away: then the next key is for another one, which is told."""
        if gone := self._gone():
            self.host.tell(gone, asks=True)

    def _gone(self) -> str:
        """Read the yard anew; what is to be told where the machine under the cursor is no longer in it."""
        before = self.under_cursor(self.machines)
        self.fill()
        if before is None or any(one.id == before.id for one in self.machines):
            return ""
        return _("{tag} is no longer in this list: the cursor stands on another machine.", tag=before.tag)

    def row_id(self, place: int) -> str:
        """The machine."""
        return self._id_at(place)

    def come_back(self) -> None:
        """Show what was done on another screen, which told it, or at another terminal meanwhile."""
        gone = self._gone()
        if gone and not self.host.is_telling:
            self.host.tell(gone, asks=True)

    @property
    def stops(self) -> str:
        """The machine under the cursor."""
        return self._id_at(self.query_one(Rows).cursor)

    # where the rows of the list come from

    def count(self) -> int:
        """How many machines there are."""
        return len(self.machines)

    def rows(self, offset: int, limit: int) -> Sequence[Row]:
        """A page of the list."""
        told = YardRows(self.register, self.preferences.language, self.preferences.system, self.now())
        return told.rows(self.machines[offset : offset + limit])

    def _find(self, text: str, start: int) -> int | None:
        return yard_reading.find(text, self.machines, start)

    # the machine under the cursor

    def _id_at(self, place: int) -> str:
        return self.machines[place].id if place < len(self.machines) else ""

    @property
    def machine(self) -> MachineNow | None:
        """The machine under the cursor."""
        id = self._id_at(self.query_one(Rows).cursor)
        return self._as_it_is(id) if id else None

    def _as_it_is(self, id: str) -> MachineNow | None:
        return yard_reading.machine(self.register, id, self.now(), self.preferences.language, self.preferences.system)

    def detail(self) -> None:
        """Show why the machine under the cursor stands as it does."""
        machine = self.machine
        ahead = yard_reading.next_lane(self.register, machine, self.now()) if machine is not None else ""
        told = MachineDetail(machine, self.local(self.now()), self.preferences, ahead) if machine is not None else None
        self.query_one(DetailPane).detail = told

    @on(Rows.Chosen)
    def action_walk(self) -> None:
        """Begin or go on with the pre-start."""
        self._walk("pre-start")

    @work
    async def action_other_sheet(self) -> None:
        """Choose another sheet."""
        from reelcare.register import sheets

        machine = self.machine
        if machine is None:
            return
        found = list(sheets.load().by_id.values())
        titles = tuple(one.title.get(self.preferences.language, one.title["en"]) for one in found)
        number = await self.ask(requests.AskChoice(_("Which sheet for {tag}?", tag=machine.tag), titles))
        if number is not None:
            self._walk(found[number].id)

    @work
    async def _walk(self, sheet: str) -> None:
        from reelcare.tui.screens.checks.walk_start import start_walk_round  # the yard starts without what checks need

        chosen = self.machine
        if chosen is None or not await self.host.may_write():
            return
        machine = self._as_it_is(chosen.id)  # by now
        if machine is not None:
            await start_walk_round(self, machine, sheet)

    def action_set_up(self) -> None:
        """Plan a set."""
        if machine := self.machine:
            self.open(requests.OpenSetUp(machine))

    def action_run(self) -> None:
        """Log a run."""
        if machine := self.machine:
            self.open_to_write(requests.LogRun(machine))

    def action_fault(self) -> None:
        """Note a fault."""
        if machine := self.machine:
            self.open_to_write(requests.LogFault(machine.id, machine.tag))

    def action_place(self) -> None:
        """The next place, then all."""
        places = ["", *sorted({one.place for one in self.every if one.place})]
        self.place = places[(places.index(self.place) + 1) % len(places)]
        self.fill()

    def action_note(self) -> None:
        """Leave a note for the next person."""
        self._note(mark("A note on {tag} for the next person"))

    def action_near_miss(self) -> None:
        """Tell the supervisor of a near miss."""
        self._note(mark("A near miss on {tag}, for the supervisor"), near_miss=True)

    @work
    async def _note(self, title: str, *, near_miss: bool = False) -> None:
        machine = self.machine
        if machine is None or not await self.host.may_write("note"):
            return
        told = mark("{tag}: near miss reported to the supervisor") if near_miss else mark("{tag}: note left")

        def write(says: str) -> bool:
            what = e.Noted(says=says, near_miss="yes" if near_miss else "")
            kept = self.record(what, machine.id) is not None
            if kept:
                self.fill()
                self.host.tell(_(told, tag=machine.tag))
            return kept

        await ask_and_write(self, requests.AskText(_(title, tag=machine.tag)), write)

    @work
    async def action_move(self) -> None:
        """Bring the machine to another place."""
        from reelcare.tui.screens.machine.moving import move

        machine = self.machine
        if machine is not None and await move(self, machine.id, machine.tag, machine.card.place):
            self.fill()

    def action_first_day(self) -> None:
        """Open the page of the first day."""
        self.open(requests.OpenStart())

    def action_bench(self) -> None:
        """Open the bench on this machine."""
        if machine := self.machine:
            self.open(requests.OpenBench(machine.id))

    def action_card(self) -> None:
        """Show the card."""
        if machine := self.machine:
            self.open(requests.OpenCard(machine.id))

    def action_book(self) -> None:
        """Show the book."""
        if machine := self.machine:
            self.open(requests.OpenBook(machine.id, machine.tag))

    def action_steps(self) -> None:
        """Show what may be done now."""
        if machine := self.machine:
            self.open(requests.OpenSteps(machine.id))

    def action_night(self) -> None:
        """Show the night of this machine's place."""
        if machine := self.machine:
            self.open(requests.OpenNight(machine.card.place or machine.tag))

    def action_due(self) -> None:
        """Open the due list."""
        self.open(requests.OpenDue())

    def action_signals(self) -> None:
        """Show what the run log tells."""
        self.open(requests.OpenSignals())

    def action_waiting(self) -> None:
        """Show what was carried in and waits to be accepted."""
        refused = mark("Only a supervisor decides about carried entries: press p to change the person.")
        self._open_to_supervisors(requests.OpenWaiting(), refused)

    def action_marks(self) -> None:
        """Show how checks were answered."""
        refused = mark("Marks on checks are for supervisors: press p to change the person.")
        self._open_to_supervisors(requests.OpenMarks(), refused)

    def _open_to_supervisors(self, request: requests.Opens[None], refused: str) -> None:
        if self.host.role == "supervisor":
            self.open(request)
        else:
            self.host.tell(_(refused), bad=True)

    @work
    async def action_go_back(self) -> None:
        """Go back to a copy of the register."""
        from reelcare.tui.screens.going_back import go_back  # seldom wanted

        await go_back(self)
