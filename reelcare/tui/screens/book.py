"""A machine's book: everything that ever happened to it, newest first, with what was taken back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, overload

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.register import reading
from reelcare.register.reading import BookLine
from reelcare.tui.screens.base import Place
from reelcare.tui.text import lines, said
from reelcare.tui.widgets.dialogs import Ask
from reelcare.tui.widgets.key_line import KeyLine
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

FILTERS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("without single answers", tuple(kind for kind in e.KINDS if kind not in ("answer", "sheet"))),
    ("runs", ("run",)),
    ("checks", ("check begun", "answer", "check ended")),
    ("services", ("service",)),
    ("faults", ("fault", "repair", "re-test", "release")),
    ("counters", ("reading",)),
    ("corrections", ("correction",)),
    ("everything", ()),
)


class _Lines(Sequence[Row]):
    """Rows made as they come into sight."""

    def __init__(self, book: Book) -> None:
        self._book = book

    def __len__(self) -> int:
        return len(self._book.lines)

    @overload
    def __getitem__(self, place: int) -> Row: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Row]: ...
    def __getitem__(self, place: int | slice) -> Row | Sequence[Row]:
        if isinstance(place, slice):
            return [self._book.row(line) for line in self._book.lines[place]]
        return self._book.row(self._book.lines[place])


class Book(Place):
    """The book of one machine."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "enter",
            "entry",
            "Whole entry",
            id="book.entry",
            tooltip="The whole entry, with who, when and where",
        ),
        Binding(
            "f",
            "filter",
            "Filter",
            id="book.filter",
            tooltip="Runs, checks, services, faults, counters, corrections, everything",
        ),
        Binding(
            "x",
            "take_back",
            "Take back",
            id="book.take_back",
            tooltip="Takes the entry back with a reason; it stays visible",
        ),
        Binding("escape", "leave", "Back", id="book.leave", tooltip="Back to where one came from"),
    ]

    def __init__(self, machine: str, tag: str) -> None:
        super().__init__()
        self.machine_id = machine
        self.tag = tag
        self.filter = 0
        self.lines: list[BookLine] = []

    def compose(self) -> ComposeResult:
        """The filter in words, then the list."""
        yield self.head()
        yield Static(id="filter", classes="note")
        yield Rows(
            (
                Column("when", 16, 1),
                Column("what", 12, 1),
                Column("says", 24, 1, grows=True),
                Column("by", 12, 2),
            ),
            chooses="Whole entry",
            id="book",
            empty="Nothing of this kind.",
        )
        yield KeyLine()

    def on_mount(self) -> None:
        """Fill the list."""
        self.fill()
        self.query_one(Rows).focus()

    def where(self) -> str:
        """The machine."""
        return f"{self.tag}  Book"

    def fill(self) -> None:
        """Read the book and show what the filter lets through."""
        name, kinds = FILTERS[self.filter]
        self.lines = reading.book(self.register, self.machine_id, kinds=kinds)
        self.query_one("#filter", Static).update(said(f"{name}: {len(self.lines)}"))
        self.query_one(Rows).show(_Lines(self))
        self.refresh_head()

    def row(self, line: BookLine) -> Row:
        """One line of the list."""
        one = line.entry
        tone = "faint" if line.taken_back else "bad" if one.what.kind == "fault" else ""
        says = one.what.describe(self.manner.system)
        if line.taken_back:
            assert isinstance(line.taken_back.what, e.Correction)
            says = f"TAKEN BACK by {line.taken_back.by}: {line.taken_back.what.why} | {says}"
        return (
            Cell(f"{self.local(one.happened):%Y-%m-%d %H:%M}"),
            Cell(one.what.kind, tone),
            Cell(says, tone),
            Cell(one.by),
        )

    @property
    def line(self) -> BookLine | None:
        """The line under the cursor."""
        place = self.query_one(Rows).cursor
        return self.lines[place] if place < len(self.lines) else None

    @on(Rows.Chosen)
    def action_entry(self) -> None:
        """Show the whole entry."""
        if self.line is not None:
            self.app.push_screen(EntryPage(self.line, self))

    def action_filter(self) -> None:
        """The next filter."""
        self.filter = (self.filter + 1) % len(FILTERS)
        self.query_one(Rows).cursor = 0
        self.fill()

    def action_take_back(self) -> None:
        """Take the entry under the cursor back."""
        line = self.line
        if line is None:
            return
        app = self.reelcare

        def given(why: str | None) -> None:
            if why and app.write(
                lambda: self.register.add(
                    e.Correction(entry=line.entry.id, why=why),
                    machine=self.machine_id,
                    by=app.person,
                    now=self.now(),
                )
            ):
                self.fill()

        says = f"{line.entry.what.kind}: {line.entry.what.describe(self.manner.system)}"
        ask = Ask("Why is this entry taken back?", says)
        app.with_person(lambda: self.app.push_screen(ask, given), e.Correction.kind)


class EntryPage(ModalScreen[None]):
    """One entry as it stands in the register."""

    CSS_PATH = "../dialog.tcss"

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,enter", "app.pop_screen", "Back", id="entry.back", tooltip="Closes the entry"),
    ]

    def __init__(self, line: BookLine, book: Book) -> None:
        super().__init__(classes="dialog")
        self._line = line
        self._book = book

    def _taken_back(self) -> list[str]:
        """Who took it back, when and why, where it counts no more."""
        gone = self._line.taken_back
        if gone is None or not isinstance(gone.what, e.Correction):
            return []
        return [f"TAKEN BACK by {gone.by}, {self._book.local(gone.happened):%Y-%m-%d %H:%M}: {gone.what.why}"]

    def compose(self) -> ComposeResult:
        """Envelope first, then every field."""
        one = self._line.entry
        told = [
            f"happened  {self._book.local(one.happened):%Y-%m-%d %H:%M}",
            f"recorded  {self._book.local(one.recorded):%Y-%m-%d %H:%M} on terminal {one.terminal}",
            f"by        {one.by}",
            f"entry     {one.id}",
            *self._taken_back(),
            "",
            *(f"{name:<18}{value}" for name, value in e.to_body(one.what).items()),
        ]
        with Vertical():
            yield Static(said(one.what.kind), classes="dialog--title")
            with VerticalScroll():
                yield Static(lines(*told))
            yield Static(said("Esc goes back"), classes="dialog--foot")
