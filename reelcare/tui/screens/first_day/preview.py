"""A spreadsheet before it is brought: your columns beside ours with the first rows as understood, what is to be asked,
and every cell that cannot be.

The rules of this file: nothing is written before `b`. A large file is read and brought beside the screen, which says
how far it is; Esc stops that, and then nothing of it is brought.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar, TypeVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core.text import _, mark, plural
from reelcare.register.exchange.first_day import previews
from reelcare.register.exchange.first_day.previews import Preview
from reelcare.register.exchange.run_logs import Brought
from reelcare.register.progress import Progress
from reelcare.register.writing.writer import Writer
from reelcare.tui.keys import bind
from reelcare.tui.lists import GatheringScreen
from reelcare.tui.requests import AskChoice, AskText, AskYesNo, OpenPreview
from reelcare.tui.screens.first_day.start import KINDS
from reelcare.tui.text import lines, said
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

LARGE = 60_000
"""Bytes of a file beyond which it is read beside the screen."""
BAD_SHOWN = 4
TOO_MANY = 30
"""Choices beyond which a column is named by typing."""
TITLES = {
    "machines": mark("Machines from a list"), "runs": mark("Runs of the season"), "last done": mark("Last done"),
}  # fmt: skip
Found = TypeVar("Found")


class PreviewPage(GatheringScreen):
    """A spreadsheet as it is understood."""

    GATHERS = mark("{done} of {of} rows   Esc stops it; nothing is brought in")
    HELP = mark("Nothing is brought in before b. What could mean two things is asked; the answers are saved.")
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("preview.bring", "b", mark("Bring"), mark("Brings the file in as it is shown")),
        bind("preview.answer", "a", mark("Answer"), mark("Answers what is asked of the file")),
        bind("preview.match", "enter", mark("Match"), mark("Matches the column under the cursor")),
        bind("preview.out", "u", mark("Leave out"), mark("Leaves the column out"), action="leave_out"),
        bind("preview.leave", "escape", mark("Back"), mark("Stops; nothing is brought in")),
    ]

    def __init__(self, request: OpenPreview) -> None:
        super().__init__()
        self.path, self.kind = request.path, request.kind
        self.preview: Preview | None = None
        self.matching = previews.first_matching(self.path, self.kind)
        self.works = False

    @property
    def holds_typing(self) -> bool:
        """The letters are those of this screen."""
        return True

    def body(self) -> ComposeResult:
        """The columns, and what is wrong."""
        yield Rows(self._columns(), id="columns", empty=mark("Reading ..."), enter_chooses=False)
        yield Static(id="bad")

    def page(self) -> str:
        """What it is of, and the file."""
        return f"{_(TITLES[self.kind])}  {self.path.name}"

    def counts(self) -> Content:
        """How the file is understood."""
        one = self.preview
        if one is None:
            return Content("")
        matched = sum(bool(column.ours) for column in one.columns)
        told = [
            plural("{n} row", "{n} rows", one.rows),
            _("{n} of {all} columns matched", n=matched, all=len(one.columns)),
            one.writing,
            plural("{n} is here already", "{n} are here already", one.skipped) if one.skipped else "",
            plural("{n} row is earlier, and does not count", "{n} rows are earlier, and do not count", one.earlier)
            if one.earlier
            else "",
            _("? 1 question (a)") if one.question is not None else "",
            plural("✗ {n} cell has an error", "✗ {n} cells have errors", len(one.bad)) if one.bad else "",
        ]
        return said(" · ".join(part for part in told if part))

    def _columns(self) -> list[Column]:
        numbers = self.preview.numbers if self.preview is not None else ()
        return [
            Column(_("yours"), 16, 1, grows=True),
            Column(_("ours"), 14, 1),
            *(Column(_("row {n}", n=number), 17, 2 + place) for place, number in enumerate(numbers)),
        ]

    def on_mount(self) -> None:
        """Look at the file."""
        super().on_mount()
        self.look()

    def fill(self) -> None:
        """Show what was understood."""
        one, rows = self.preview, self.query_one(Rows)
        rows.set_columns(self._columns())
        rows.show([self._row(column) for column in one.columns] if one is not None else [])
        bad = one.bad if one is not None else ()
        told = [said(f"✗ {problem}", "$text-error") for problem in bad[:BAD_SHOWN]]
        if len(bad) > BAD_SHOWN:
            told.append(said(_("and {n} more", n=len(bad) - BAD_SHOWN)))
        self.query_one("#bad", Static).update(lines(*told) if told else "")
        self.refresh_head()

    def _row(self, column: previews.PreviewColumn) -> Row:
        def tone(text: str) -> str:
            return (
                "bad" if text.startswith("✗") else "warning" if text.startswith("?") else "" if column.ours else "faint"
            )

        cells = [Cell(text, tone(text)) for text in column.cells]
        return (Cell(column.heading, "part"), Cell(column.ours or "-", "" if column.ours else "faint"), *cells)

    # looking

    def look(self) -> None:
        """Read the file with the matching as it is."""
        now, path, kind, matching = self.now(), self.path, self.kind, self.matching
        system = self.preferences.system

        def look(own: Writer, progress: Progress) -> Preview:
            return previews.look(own, path, kind, matching, now=now, system=system, progress=progress)

        self._do(look, self._seen)

    def _do(self, act: Callable[[Writer, Progress], Found], show: Callable[[Found], None]) -> None:
        self.works = True

        def done(found: Found) -> None:
            self.works = False
            show(found)

        large = self.path.stat().st_size > LARGE
        self.work_in_background(act, done, large=large, failed=self._failed, stopped=self._stopped)

    def _failed(self, why: str) -> None:
        self.works = False
        self.host.tell(why, bad=True)

    def _stopped(self, found: object) -> None:
        self.works = False
        if isinstance(found, Brought):
            self._brought(found)  # it was written before it could be stopped
        else:
            self.host.tell(_("Stopped: nothing was brought in."), bad=True)

    def _seen(self, found: Preview) -> None:
        self.preview, self.matching = found, found.matching
        self.fill()
        if found.question is not None:
            self.action_answer()

    @work
    async def action_answer(self) -> None:
        """Answer what is asked of the file."""
        one = self.preview
        if self.works:
            return
        if one is None or one.question is None:
            self.host.tell(_("Nothing is asked of this file."))
            return
        asked = one.question
        title = f"{asked.asks}\n{asked.stands}" if asked.stands else asked.asks
        number = await self.ask(AskChoice(title, tuple(words for _value, words in asked.answers)))
        if number is not None:
            self.matching = previews.settled(one, asked.answers[number][0])
            self.look()

    # matching by hand

    def _here(self) -> previews.PreviewColumn | None:
        return self.under_cursor(self.preview.columns) if self.preview is not None else None

    @on(Rows.Chosen)
    @work
    async def action_match(self) -> None:
        """Say which column of ours the one under the cursor is."""
        column, seen = self._here(), self.preview
        if column is None or seen is None or self.works:
            return
        taken = {one.ours for one in seen.columns}
        free = [one for one in previews.our_columns(self.register, seen) if one not in taken]
        title = _("What is in the column {heading}?", heading=column.heading)
        if len(free) <= TOO_MANY:
            number = await self.ask(AskChoice(title, tuple(free)))
            name = free[number] if number is not None else None
        else:
            name = await self._ask_name(title, free)
        if not name:
            return
        if column.ours:
            self.matching = self.matching.with_column(self.kind, column.ours, ())
        self.matching = self.matching.with_column(self.kind, name, (column.heading,))
        self.look()

    async def _ask_name(self, title: str, free: Sequence[str]) -> str | None:
        """One of many columns by its name; a slip is asked again as it was typed, with those that it is a part of."""
        says, typed = ", ".join(free), ""
        while True:
            name = await self.ask(AskText(title, says, typed))
            if not name or name in free:
                return name
            typed, near = name, [one for one in free if name.casefold() in one.casefold()]
            says = _("{name}: no such column", name=name) + ": " + ", ".join(near or free)

    def action_leave_out(self) -> None:
        """Leave the column under the cursor out."""
        column = self._here()
        if column is not None and column.ours and not self.works:
            self.matching = self.matching.with_column(self.kind, column.ours, ())
            self.look()

    # bringing

    @work
    async def action_bring(self) -> None:
        """Bring the file in as it is shown."""
        one, host = self.preview, self.host
        if one is None or self.works:
            return
        if one.question is not None:
            self.action_answer()
            return
        if not await host.may_write(KINDS[self.kind]):
            return
        keep_good = False
        if one.bad and self.kind == "runs":
            keep_good = await self.ask(_good_ones(one)) is True
        if one.bad and not keep_good:
            host.tell(_("Nothing was brought in: correct the cells with errors, or leave columns out."), bad=True)
            return
        by, now = host.person, self.now()

        def act(own: Writer, progress: Progress) -> Brought:
            return previews.bring(own, one, by=by, now=now, keep_good=keep_good, progress=progress)

        self._do(act, self._brought)

    def _brought(self, found: Brought) -> None:
        assert self.preview is not None
        if found.bad and not found.left:
            self.host.tell(str(found.bad[0]), bad=True)
            return
        kept = previews.keep(self.preview)
        if self.preview.kind == "last done":  # of one row each cell is a service
            told = plural("{n} service brought in", "{n} services brought in", found.brought)
        else:
            told = plural("{n} row brought in", "{n} rows brought in", found.brought)
        if found.skipped:
            told += ", " + plural("{n} was here already", "{n} were here already", found.skipped)
        if found.left:
            told += ", " + _("the others are in {file}", file=found.left)
        if kept is not None:
            told += ". " + _("Matching saved: --as {path}", path=kept)
        self.dismiss()
        self.host.tell(told)

    def action_leave(self) -> None:
        """Stop what is going on, or go back."""
        if self.works:
            self.stop_gathering()
        else:
            self.dismiss()


def _good_ones(one: Preview) -> AskYesNo:
    lines_ = len({bad.line for bad in one.bad})
    title = plural("{n} line has an error. Bring in the others?", "{n} lines have errors. Bring in the others?", lines_)
    return AskYesNo(title, (_("Those left out are kept in a file beside this one."),))
