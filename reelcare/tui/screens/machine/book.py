"""A machine's book: everything that ever happened to it, newest first, with what was taken back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import BindingType

from reelcare.core import entries as e
from reelcare.core.text import _, mark
from reelcare.register.acts import corrections
from reelcare.register.errors import Refused
from reelcare.register.views import book
from reelcare.register.views.book import BookLine
from reelcare.tui.keys import bind
from reelcare.tui.lists import ListScreen
from reelcare.tui.requests import AskText, OpenBook, ShowEntry
from reelcare.tui.screens.words import ask_and_write
from reelcare.tui.widgets.columns import widened
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

FILTERS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (mark("answers hidden"), tuple(kind for kind in e.KINDS if kind not in ("answer", "sheet"))),
    (mark("runs"), ("run",)),
    (mark("checks"), ("check begun", "answer", "check ended")),
    (mark("services"), ("service",)),
    (mark("faults"), ("fault", "repair", "re-test", "release", "put right")),
    (mark("counters"), ("reading",)),
    (mark("corrections"), ("correction",)),
    (mark("everything"), ()),
)
COLUMNS = (
    Column(mark("when"), 16, 1),
    Column(mark("what"), 12, 1),
    Column(mark("says"), 24, 1, grows=True),
    Column(mark("by"), 12, 2),
)


class Book(ListScreen):
    """The book of one machine."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("book.entry", "enter", mark("Details"), mark("All details of the entry: who, when and where")),
        bind(
            "book.filter", "f", mark("Filter"),
            mark("Runs, checks, services, faults, counters, corrections, everything"),
        ),
        bind("book.take_back", "x", mark("Take back"), mark("Takes the entry back with a reason; it stays visible")),
        bind("book.move", "m", mark("Move"), mark("Moves the entry to the right machine; its day stays")),
        bind("book.leave", "escape", mark("Back"), mark("Back to the screen before")),
    ]  # fmt: skip

    def __init__(self, request: OpenBook) -> None:
        super().__init__()
        self.machine_id, self.tag = request.machine, request.tag
        self.filter = 0
        self.lines: list[BookLine] = []

    def body(self) -> ComposeResult:
        """The list."""
        yield Rows(
            COLUMNS,
            enter_chooses=False,
            id="book",
            empty=mark("Nothing of this kind."),
        )

    def page(self) -> str:
        """What the filter lets through, and how much of it."""
        return _("Book, {filters}: {n}", filters=_(FILTERS[self.filter][0]), n=len(self.lines))

    def fill(self) -> None:
        """Read the book and show what the filter lets through."""
        with self.follow():
            kinds = FILTERS[self.filter][1]
            self.lines = book.book(self.register, self.machine_id, kinds=kinds)
            kinds_shown = {_(line.entry.what.kind) for line in self.lines}
            self.query_one(Rows).set_columns(widened(COLUMNS, {"what": kinds_shown}))
            self.query_one(Rows).show(self)
            self.refresh_head()

    # where the rows of the list come from

    def count(self) -> int:
        """How many lines there are."""
        return len(self.lines)

    def rows(self, offset: int, limit: int) -> Sequence[Row]:
        """A page of the list."""
        return [self._row(line) for line in self.lines[offset : offset + limit]]

    def row_id(self, place: int) -> str:
        """The entry."""
        return self.lines[place].entry.id

    def _row(self, line: BookLine) -> Row:
        one = line.entry
        tone = (
            "faint" if line.taken_back else "warning" if line.uncounted else "bad" if one.what.kind == "fault" else ""
        )
        says = line.says(self.preferences.system)
        if line.taken_back:
            assert isinstance(line.taken_back.what, e.Correction)
            says = _(
                "TAKEN BACK by {by}: {why} | {says}", by=line.taken_back.by, why=line.taken_back.what.why, says=says
            )
        if line.uncounted:
            says = f"{line.why_uncounted.upper()} | {says}"
        return (
            Cell(f"{self.local(one.happened):%Y-%m-%d %H:%M}"),
            Cell(_(one.what.kind), tone),
            Cell(says, tone),
            Cell(one.by),
        )

    @property
    def line(self) -> BookLine | None:
        """The line under the cursor."""
        return self.under_cursor(self.lines)

    @on(Rows.Chosen)
    def action_entry(self) -> None:
        """Show the whole entry."""
        if self.line is not None:
            self.open(ShowEntry(self.line, self.register.zone, self.preferences.system))

    def action_filter(self) -> None:
        """The next filter."""
        self.filter = (self.filter + 1) % len(FILTERS)
        self.query_one(Rows).cursor = 0
        self.fill()

    @work
    async def action_take_back(self) -> None:
        """Take the entry under the cursor back."""
        line = await self._line_to_correct()
        if line is None:
            return
        asked = AskText(_("Why is this entry taken back?"), self._says(line))
        await ask_and_write(self, asked, lambda why: self._correct(line.entry, why))

    @work
    async def action_move(self) -> None:
        """Move the entry under the cursor to the machine that it is of."""
        line = await self._line_to_correct(moves=True)
        if line is None:
            return
        tag = await self.ask(AskText(_("Which machine does it belong to?"), self._says(line)))
        if tag:
            asked = AskText(_("Why is it moved?"), self._says(line), _("wrong machine"))
            await ask_and_write(self, asked, lambda why: self._correct(line.entry, why, tag))

    async def _line_to_correct(self, *, moves: bool = False) -> BookLine | None:
        """The line under the cursor, if its entry can be cancelled and who is there may; what cannot be is told before
        anything is asked."""
        line, host = self.line, self.host
        if line is None:
            return None
        try:
            if line.taken_back:
                raise Refused(_("{entry}: taken back already", entry=_(line.entry.what.kind)))
            if moves:
                corrections.refuse_move(line.entry)
        except Refused as why:
            host.tell(str(why), bad=True)
            return None
        is_slip = self.register.may_cancel(line.entry.id, host.person, self.now())
        return line if await host.may_write("" if is_slip else e.Correction.kind) else None

    def _says(self, line: BookLine) -> str:
        return f"{_(line.entry.what.kind)}: {line.says(self.preferences.system)}"

    def _correct(self, entry: e.Entry, why: str, tag: str = "") -> bool:
        """Take an entry back, and write it to the machine of this tag, if one is named; whether that could be done."""
        host, now, register = self.host, self.now(), self.register

        def write() -> e.Entry:
            to = register.machine_id(tag) if tag else ""
            return corrections.correct(register, entry, why, by=host.person, now=now, happened=now, move_to=to)

        if host.write(write) is None:
            return False
        self.fill()
        kind, day = _(entry.what.kind), self.local(entry.happened)
        if tag:
            host.tell(_("{kind} of {day:%Y-%m-%d} is moved to {tag}", kind=kind, day=day, tag=tag))
            return True
        told = _("taken back: {kind}, {day:%Y-%m-%d}", kind=kind, day=day)
        if isinstance(entry.what, e.Run):  # what it used up is there again, though the machine did run
            told += ". " + _("{tag} is as it was before that run: log the right run (r in the yard)", tag=self.tag)
        host.tell(told)
        return True
