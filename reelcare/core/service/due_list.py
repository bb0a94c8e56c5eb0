"""What is due over all machines, as every face lists it: which lines a filter lets through, the rows they make, and the
columns of those rows.

The rules of this file: the app, the command and the report of this name draw from here, so that they count the same.
What is overdue or due is inside every window of time. People see what asks for action, and how much is left out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from reelcare.core import units
from reelcare.core.people import NOBODY
from reelcare.core.service.due import STATES
from reelcare.core.service.due_line import DueLine
from reelcare.core.text import _, mark, plural
from reelcare.core.wording import Title, count_text

QUIET = "ok"
"""The state of what needs no action."""


@dataclass(frozen=True, slots=True)
class DueFilter:
    """Which lines are asked for. `machine` is its id; `person` *nobody* asks for what is given to no one; `within` is
    in days, None for any time; '' lets all through."""

    machine: str = ""
    place: str = ""
    part: str = ""
    person: str = ""
    overdue: bool = False
    within: int | None = None

    def takes(self, line: DueLine) -> bool:
        """Whether a line is one of those, whenever it is due: what can be said without a forecast."""
        if self.overdue and not self._is_overdue(line):
            return False
        if self.person and (line.given.to if line.given else NOBODY).casefold() != self.person.casefold():
            return False
        if not self.takes_machine(line.machine, line.place):
            return False
        return not self.part or line.item.part.casefold() == self.part.casefold()

    @staticmethod
    def _is_overdue(line: DueLine) -> bool:
        """Whether it holds, is past its grace or is unknown today: no service after the next one is."""
        return line.planned is None and (line.due.held or line.due.state in ("overdue", "unknown"))

    def takes_machine(self, machine: str, place: str) -> bool:
        """Whether a machine, by its id, at a place is one of those that are asked about."""
        return self.machine in ("", machine) and self.place.casefold() in ("", place.casefold())

    def is_within(self, line: DueLine, today: date) -> bool:
        """Whether a line with its forecast is due, or likely to be within the days; a fault without a day always is."""
        if self.within is None or line.is_acute:
            return True
        if line.likely is None:
            return line.kind == "fault"
        return self.within > 0 and (line.likely - today).days <= self.within


class DueRow(NamedTuple):
    """A row of the list: one line, or several that the same check settles."""

    lines: tuple[DueLine, ...]

    @property
    def first(self) -> DueLine:
        """The worst of its lines."""
        return self.lines[0]


class DueRows(NamedTuple):
    """The rows that people see, and how many items were left out as they need no action."""

    rows: tuple[DueRow, ...]
    left_out: int


def rows(
    lines: Iterable[DueLine], *, everything: bool = False, coming: bool = False, on_paper: bool = False
) -> DueRows:
    """The rows of these lines, the worst first; with `coming`, what is ok today is among them.

    What each pre-start asks is one row where it is due and no more, and what is unknown is one row a machine, unless
    `everything` is to be seen. No row `on_paper` is of several machines: nothing opens it there to tell which.
    """
    in_order = sorted(lines, key=lambda line: line.order)
    shown = [line for line in in_order if everything or coming or line.due.state != QUIET]
    together: dict[tuple[str, str], list[DueLine]] = {}
    for place, line in enumerate(shown):
        together.setdefault(("", str(place)) if everything else _row_of(line, place, on_paper), []).append(line)
    return DueRows(tuple(DueRow(tuple(some)) for some in together.values()), len(in_order) - len(shown))


def _row_of(line: DueLine, place: int, on_paper: bool) -> tuple[str, str]:
    """What tells the row of a line from other rows; lines of one row stand together where the first of them does."""
    if line.due.state == "unknown" and line.given is None:
        return "unknown", line.machine
    if not line.news and line.due.state == "due":
        return "asked", f"{line.machine} {line.given}" if on_paper else ""
    return "", str(place)


def counts(lines: Iterable[DueLine]) -> Mapping[str, int]:
    """How many items are in each state, the worst first; none is left out."""
    found = Counter(line.due.state for line in lines)
    return {state: found[state] for state in STATES}


def counts_in_words(lines: Iterable[DueLine]) -> str:
    """How many items are overdue, unknown, due and soon, and how many of all hold a machine."""
    lines = list(lines)
    found, held = counts(lines), sum(line.due.held for line in lines)
    told = ", ".join(count_text(state, found[state]) for state in ("overdue", "unknown", "due", "soon"))
    return told + (plural("; {n} holds its machine", "; {n} hold their machine", held) if held else "")


class DueColumn(NamedTuple):
    """A column of the list: its head (in English), and how soon it goes where there is no room (1: never)."""

    head: str
    priority: int = 1
    figures: bool = False


COLUMNS = (
    DueColumn(mark("state")), DueColumn(mark("machine")), DueColumn(mark("what")),
    DueColumn(mark("due at"), 3, figures=True), DueColumn(mark("left"), figures=True), DueColumn(mark("likely"), 3),
    DueColumn(mark("for"), 2), DueColumn(mark("when"), 2), DueColumn(mark("place"), 2),
    DueColumn(mark("min"), 4, figures=True), DueColumn(mark("last done"), 5), DueColumn(mark("item"), 4),
)  # fmt: skip
PRINTED = COLUMNS[:-1]
"""The columns on paper: what an item is called in commands is for those who type them."""


def cells(row: DueRow, language: str, system: units.System) -> tuple[str, ...]:
    """The cells of a row, one for each of `COLUMNS`."""
    if len(row.lines) > 1:
        return _cells_of_several(row.lines, language)
    line = row.first
    return (
        _(line.band),
        line.tag,
        line.item.title(language),
        line.due_at_in_words(system),
        line.left_in_words(system),
        line.likely.isoformat() if line.likely else "",
        line.given.to if line.given else "",
        line.given.day.isoformat() if line.given else "",
        line.place,
        str(line.item.minutes or ""),
        "" if line.kind == "fault" else line.last_done_as(),
        line.item.part if line.kind == "fault" else line.item.id,  # as `give` and `log repair` take it
    )


def _cells_of_several(lines: Sequence[DueLine], language: str) -> tuple[str, ...]:
    items = {line.item.id: line.item for line in lines}
    machines = len({line.machine for line in lines})
    given = lines[0].given if len({line.given for line in lines}) == 1 else None
    titles = "; ".join(item.title(language).short for item in items.values())
    if lines[0].due.state == "unknown":
        stop = "; ".join(item.title(language).short for item in items.values() if item.stop)
        what = Title(_("never done: {titles}", titles=titles), _("never done: {titles}", titles=stop or titles))
    else:
        what = Title(_("pre-start: {titles}", titles=titles), _("pre-start checks"))
    return (
        _(lines[0].band),
        lines[0].tag if machines == 1 else plural("{n} machine", "{n} machines", machines),
        what,
        "",
        plural("{n} item", "{n} items", len(lines)),
        "",
        given.to if given else "",
        given.day.isoformat() if given else "",
        lines[0].place if machines == 1 else "",
        str(sum(line.item.minutes or 0 for line in lines) or ""),
        "",
        ", ".join(items),
    )


def left_out_in_words(many: int) -> str:
    """How many items are not shown, and what shows them."""
    return plural("{n} more is ok: --all shows it", "{n} more are ok: --all shows them", many) if many else ""
