"""The work list over all machines: services and faults, the worst first, given to people and days, and ticked off.

The rules of this file: Enter does what a line asks for (the service form, the next step of a fault); ticked lines are
given together, and what they need is told below the list. What is told a supervisor alone stands first.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core.drawing.weeks import scale
from reelcare.core.service import due_list
from reelcare.core.service.due import STATES
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.due_list import DueFilter
from reelcare.core.service.supplies import taken_along
from reelcare.core.text import _, mark, plural
from reelcare.core.wording import Title, cells, count_text, day, duration, noted
from reelcare.register.acts import giving
from reelcare.register.reading import yard
from reelcare.register.views.due_list import WorkList, cards_of, work_list
from reelcare.tui import requests, yard_reading
from reelcare.tui.keys import bind
from reelcare.tui.printing import print_list
from reelcare.tui.requests import OpenBench, OpenPlan, OpenWeeks
from reelcare.tui.screens.work.filtered import FilteredScreen
from reelcare.tui.screens.work.supervisor_lines import SupervisorLine, deal_with, supervisor_lines
from reelcare.tui.text import lines as in_lines
from reelcare.tui.theme import TONES, state
from reelcare.tui.widgets.drawings.time_line import time_cell
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows
from reelcare.tui.widgets.standing_line import counted

WIDE = 140
"""Columns from which on whole titles have room."""
ROOMY = 160
"""Columns from which on time is drawn as a line, too."""
WINDOWS: tuple[tuple[str, int | None], ...] = (
    (mark("overdue and due"), 0),
    (mark("within 30 days"), 30),
    (mark("within 90 days"), 90),
    (mark("everything"), None),
)
SOON = (mark("today"), mark("tomorrow"), mark("the day after"), mark("another day"))
"""The days that lines are given for by one key."""


class DueList(FilteredScreen):
    """The work list."""

    CSS_PATH = "../work_list.tcss"
    OF_A_ROW = frozenset(("do_it", "tick", "give", "bench"))
    HELP = mark(
        "Services and faults in one list. Space ticks lines; g gives the ticked ones, else the one under the cursor."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("due.do_it", "enter", mark("Do this"), mark("Opens the service form, or the next step of the fault")),
        bind("due.tick", "space", mark("Tick"), mark("Ticks the line, or takes the tick away")),
        bind("due.give", "g", mark("Give"), mark("Gives lines to a person and a day")),
        bind("due.place", "a", mark("Place"), mark("One place after the other, then all")),
        bind("due.person", "f", mark("For"), mark("One person's lines after the other's")),
        bind("due.window", "w", mark("Time ahead"), mark("Overdue and due, 30 days, 90 days, all")),
        bind("due.bench", "b", mark("Bench"), mark("Opens the bench on this line")),
        bind("due.part", "t", mark("Part"), mark("One part after the other, then all")),
        bind("due.weeks", "v", mark("Weeks"), mark("The coming weeks: what is to be done where, and its time")),
        bind("due.plan", "s", mark("Plan"), mark("The service plan for all machines, and its figures")),
        bind("due.print", "o", mark("On paper"), mark("A page to print, of all or of one person")),
        bind("due.leave", "escape", mark("Back"), mark("Back to the yard")),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.window: int | None = None
        self.ticked: set[tuple[str, str]] = set()
        """The lines that are ticked: machine and item."""
        self.found = WorkList([], (), ())
        """All that there is, whatever is asked for."""
        self.beside: list[SupervisorLine] = []
        """What is told the supervisor; it stands before the lines."""
        self.lines: list[DueLine] = []
        self.listed: tuple[due_list.DueRow, ...] = ()

    def body(self) -> ComposeResult:
        """The list, and what the ticked lines need."""
        yield Rows(self._columns(), enter_chooses=False, id="due", empty=mark("Nothing to do in this time."))
        yield Static(id="along")

    def on_mount(self) -> None:
        """What is for the supervisor goes with who is there."""
        self.watch(self.app, "person", self.apply_filter, init=False)

    def _columns(self) -> tuple[Column, ...]:
        """The columns, the months of the scale in the person's language."""
        wide = self.app.size.width >= ROOMY
        states = max(cells(state(word)) for word in ("held", *STATES))  # no state is cut in any language
        # what each pre-start asks of a large yard is one row
        most = max((sum(line.item.minutes or 0 for line in row.lines) for row in self.listed), default=100)
        return (
            Column("", 3, 1),
            Column(mark("state"), states, 1),
            Column(mark("machine"), 7, 1),
            Column(mark("what"), 18, 1, grows=True),
            Column(mark("due at"), 10, 3, right=True),
            Column(mark("left"), 12, 1, right=True),
            Column(mark("min"), len(str(most)), 4, right=True),
            Column(mark("for"), 8, 2),
            Column(mark("when"), 10, 3),
            Column(mark("place"), 12, 4),
            *((Column(scale(self.today, 36), 36, 5),) if wide else ()),
        )

    def page(self) -> str:
        """What the filter lets through."""
        return _("Work list  {asked}", asked=self.asked(_(self._window[0])))

    def counts(self) -> Content:
        """How much of what is asked for holds, is overdue, unknown, due and soon, and how many lines that are."""
        many = {"held": sum(line.due.held for line in self.lines), **due_list.counts(self.lines)}
        words = ("held", "overdue", "unknown", "due", "soon")
        told = [(word, many[word], count_text(word, many[word])) for word in words]
        beside = self.found.beside(self.wanted)
        more = len(beside.near_misses) + len(beside.instructions)
        told.append(("due", more, plural("{n} for the supervisor", "{n} for the supervisor", more)))
        some = _("{n} shown", n=len(self.lines)) if len(self.lines) != len(self.all) else ""
        return counted(told, some)

    @property
    def all(self) -> list[DueLine]:
        """The lines, whatever is asked for."""
        return self.found.lines

    def fill(self) -> None:
        """Read what is due and show what the filter lets through."""
        with self.follow():
            now = self.now()
            large = yard_reading.is_large(self.register)
            if self.window is None:
                self.window = 0 if large else 2  # over a large yard, what comes up is gathered when it is asked for
            self.stop_gathering()
            if large:
                self._show(work_list(self.register, DueFilter(within=0), now))  # meanwhile
            if not large or self.window:
                self.gather(lambda reader, progress: work_list(reader, DueFilter(), now, progress=progress), self._show)

    def row_id(self, place: int) -> object:
        """The first line of the row, or what is told the supervisor."""
        told = len(self.beside)
        return self.beside[place] if place < told else _key(self.listed[place - told].first)

    def is_row(self, place: int, here: object) -> bool:
        """Also by another line: lines that stand in one row can stand there in another order."""
        told = len(self.beside)
        lines = self.listed[place - told].lines if place >= told else ()
        return self.row_id(place) == here or any(_key(one) == here for one in lines)

    def _show(self, found: WorkList) -> None:
        """Show what the filter lets through."""
        self.found = found
        self.ticked &= {_key(line) for line in found.lines}
        self.apply_filter()

    def apply_filter(self) -> None:
        """Show what is asked for."""
        self.lines = [one for one in self.in_time() if self.wanted.takes(one)]
        is_supervisor = self.host.role == "supervisor"
        self.beside = supervisor_lines(self.found.beside(self.wanted), self.register.tags()) if is_supervisor else []
        days = self._window[1]
        self.listed = due_list.rows(self.lines, everything=days is None, coming=bool(days)).rows
        self.query_one(Rows).set_columns(self._columns())
        self._draw()
        self.refresh_head()

    def _draw(self) -> None:
        rows = self.query_one(Rows)
        rows.show(self, keep=rows.cursor)
        self.detail()

    @property
    def _window(self) -> tuple[str, int | None]:
        return WINDOWS[self.window or 0]

    # where the rows of the list come from

    def count(self) -> int:
        """How many lines there are."""
        return len(self.beside) + len(self.listed)

    def rows(self, offset: int, limit: int) -> Sequence[Row]:
        """A page of the list."""
        today = self.today
        every: list[SupervisorLine | due_list.DueRow] = [*self.beside, *self.listed]
        some = every[offset : offset + limit]
        return [self._told(one) if isinstance(one, SupervisorLine) else self._row(one, today) for one in some]

    def _told(self, one: SupervisorLine) -> Row:
        cells = one.cells()
        return tuple(cells.get(column.head, Cell("")) for column in self._columns())

    def _row(self, row: due_list.DueRow, today: date) -> Row:
        heads = [one.head for one in due_list.COLUMNS]
        told = dict(zip(heads, due_list.cells(row, self.preferences.language, self.preferences.system), strict=True))
        line, what, machines = row.first, told["what"], len({one.machine for one in row.lines})
        work = _work(row)
        box = ("[x]" if all(_key(one) in self.ticked for one in work) else "[ ]") if work else ""
        return (
            Cell(box),
            Cell(state(line.band), TONES[line.band]),
            Cell(told["machine"] if machines == 1 else f"{machines} x", "part"),
            Cell(what.short if isinstance(what, Title) and self.app.size.width < WIDE else what),
            *(Cell(told[head]) for head in ("due at", "left", "min", "for", "when", "place")),
            *((time_cell(line.forecast, line.due.state, today),) if self.app.size.width >= ROOMY else ()),
        )

    def detail(self) -> None:
        """What the ticked lines need; where none is ticked, the line under the cursor in full."""
        some = [line for line in self.all if _key(line) in self.ticked]
        told: list[str] = []
        if some:
            cards = cards_of(self.register, some)
            along = "; ".join(taken_along(some, cards, self.preferences.language)) or _("nothing that the plan names")
            time = duration(sum(line.item.minutes or 0 for line in some))
            ticked = plural("{n} line ticked", "{n} lines ticked", len(some))
            told.append(", ".join(one for one in (ticked, time) if one))
            told.append(_("take along: {along}", along=along))
        elif (one := self._beside_here()) is not None:
            told.append(one.words)
        elif (row := self._row_here()) is not None:
            told.append(self._row_in_full(row))
        self.query_one("#along", Static).update(in_lines(*told))

    def _row_in_full(self, row: due_list.DueRow) -> str:
        """A row with all that its columns have no room for."""
        machines = {line.machine: line for line in row.lines}
        if len(machines) > 1:
            titles = dict.fromkeys(line.item.title(self.preferences.language) for line in row.lines)
            return f"{', '.join(line.tag for line in machines.values())}: {', '.join(titles)}"
        where = ", ".join(one for one in (row.first.tag, row.first.place) if one)
        return f"{where}: " + "; ".join(self._in_full(line) for line in row.lines)

    def _in_full(self, line: DueLine) -> str:
        system = self.preferences.system
        figure, likely, fault = line.due_at_in_words(system), line.likely, line.fault
        told = (
            line.due.why(system),
            noted(self.local(fault.since), fault.by) if fault else "",
            _("due at {figure}", figure=figure) if figure else "",
            _("likely {day}", day=day(likely)) if likely is not None else "",
            _("given to {name} for {day}", name=line.given.to, day=day(line.given.day)) if line.given else "",
        )
        return f"{line.item.title(self.preferences.language)} ({', '.join(one for one in told if one)})"

    def _row_here(self) -> due_list.DueRow | None:
        place = self.query_one(Rows).cursor - len(self.beside)
        return self.listed[place] if 0 <= place < len(self.listed) else None

    def _beside_here(self) -> SupervisorLine | None:
        return self.under_cursor(self.beside)

    # what is done with lines

    def action_tick(self) -> None:
        """Tick the lines of this row, or take their ticks away."""
        row = self._row_here()
        work = {_key(line) for line in _work(row)} if row is not None else set()
        if not work:
            return
        self.ticked = self.ticked - work if work <= self.ticked else self.ticked | work
        self.query_one(Rows).action_move(1)
        self._draw()

    @work
    async def action_give(self) -> None:
        """Give the ticked lines, or the one under the cursor, to a person and a day."""
        row = self._row_here()
        some = [line for line in self.all if _key(line) in self.ticked]
        some = some or (_work(row) or list(row.lines) if row else [])
        if not some or not await self.host.may_write("given"):
            return
        people, nobody = self.register.roles(), _("nobody")
        title = plural("Give {n} line to whom?", "Give {n} lines to whom?", len(some))
        chosen = await self.ask(requests.AskPerson({**people, nobody: ""}, title=title))
        if chosen is None:
            return
        to = chosen if chosen in people else ""
        day = await self._ask_day(to) if to else None
        if to and day is None:
            return
        now, host, jobs = self.now(), self.host, [(line.machine, line.item.id) for line in some]
        given = host.write(lambda: giving.give(self.register, jobs, to, day, by=host.person, now=now))
        if given is None:
            return
        self.ticked.clear()
        self.fill()
        lines = plural("{n} line", "{n} lines", len(given))
        told = mark("{lines} given to {to} for {day}") if to else mark("{lines} no longer given to anybody")
        host.tell(_(told, lines=lines, to=to, day=day))

    async def _ask_day(self, to: str) -> date | None:
        """The day for which lines are given."""
        today = self.today
        title = _("For which day, {name}?", name=to)
        number = await self.ask(requests.AskChoice(title, tuple(_(one) for one in SOON)))
        if number is None or number < len(SOON) - 1:
            return today + timedelta(days=number) if number is not None else None
        text, says = "", _("as in {day}", day=today + timedelta(days=7))
        while True:  # a slip is asked again, as it was typed
            typed = await self.ask(requests.AskText(title, says, text))
            if not typed:
                return None
            text = typed
            try:
                day = date.fromisoformat(text.strip())
            except ValueError:
                says = _("{text!r} is not a day such as 2026-05-31", text=text)
                continue
            if day >= today:
                return day
            says = _("{option}: {day} is already past", option=_("day"), day=day)

    @on(Rows.Chosen)
    @work
    async def action_do_it(self) -> None:
        """Do what the line under the cursor asks for."""
        if (one := self._beside_here()) is not None and await deal_with(self, one):
            self.fill()
        row = self._row_here()
        if one is not None or row is None:
            return
        line = row.first
        if not line.news:
            self.host.tell(_("The pre-start does it: w in the yard."), bad=True)
            return
        if len(row.lines) > 1:
            self.action_bench()
            return
        machine = yard.machine_now(self.register, line.machine, self.now(), permits=True)
        if line.kind == "fault":
            fault = machine.state.fault(line.item.id)
            if fault is not None:
                self.open_to_write(requests.LogFaultStep(machine.id, machine.tag, fault), "repair")
            return
        here = next((one for one in machine.dues if one.item.id == line.item.id), None)
        if here is not None:
            self.open_to_write(requests.LogService(machine, here), "service")

    def action_bench(self) -> None:
        """Open the bench on the line under the cursor."""
        row, one = self._row_here(), self._beside_here()
        if row is not None:
            self.open(OpenBench(row.first.machine, row.first.item.id))
        elif one is not None and one.machine:
            self.open(OpenBench(one.machine))

    # filters

    def action_window(self) -> None:
        """The next window."""
        before, self.window = self.window, ((self.window or 0) + 1) % len(WINDOWS)
        if before and self.window:
            self.apply_filter()
        else:
            self.fill()

    def in_time(self) -> list[DueLine]:
        """The lines of the window."""
        wanted, today = DueFilter(within=self._window[1]), self.today
        return [line for line in self.all if wanted.is_within(line, today)]

    def action_weeks(self) -> None:
        """Show the coming weeks."""
        self.open(OpenWeeks(self.place, self.part, self.person))

    def action_plan(self) -> None:
        """Show the plan for all."""
        self.open(OpenPlan())

    @work
    async def action_print(self) -> None:
        """Make a page to print of what is shown."""
        await print_list(self, self.lines, self.person, [one.words for one in self.beside])


def _key(line: DueLine) -> tuple[str, str]:
    return line.machine, line.item.id


def _work(row: due_list.DueRow) -> list[DueLine]:
    """What of a row is work for somebody: not what the pre-start asks, nor a hold that a right answer ends."""
    return [one for one in row.lines if one.news and not (one.fault is not None and not one.fault.waits_for)]
