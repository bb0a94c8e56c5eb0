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

from reelcare.core.scales import left_of
from reelcare.core.service.due import STATES
from reelcare.core.service.due_line import DueLine
from reelcare.core.text import _, mark, plural
from reelcare.core.wording import Title

ACUTE = ("overdue", "due")
QUIET = "ok"
"""The state of what needs no action."""


@dataclass(frozen=True, slots=True)
class DueFilter:
    """Which lines are asked for. `machine` is its id; `within` is in days, None for any time; '' lets all through."""

    machine: str = ""
    place: str = ""
    part: str = ""
    overdue: bool = False
    within: int | None = None

    def takes(self, line: DueLine) -> bool:
        """Whether a line is one of those, whenever it is due: what can be said without a forecast."""
        if self.overdue and line.due.state != "overdue":
            return False
        if self.machine not in ("", line.machine):
            return False
        if self.place and line.place.casefold() != self.place.casefold():
            return False
        return not self.part or line.item.part.casefold() == self.part.casefold()

    def is_within(self, line: DueLine, today: date) -> bool:
        """Whether a line with its forecast is due, or likely to be within the days."""
        if self.within is None or line.due.state in ACUTE:
            return True
        likely = line.forecast.likely if line.forecast else None
        return self.within > 0 and likely is not None and (likely - today).days <= self.within


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


def rows(lines: Iterable[DueLine], *, everything: bool = False, coming: bool = False) -> DueRows:
    """The rows of these lines, the worst first; with `coming`, what is ok today is among them.

    What each pre-start asks is one row where it is due and no more, unless `everything` is to be seen.
    """
    in_order = sorted(lines, key=lambda line: line.order)
    shown = [line for line in in_order if everything or coming or line.due.state != QUIET]
    asked = tuple(line for line in shown if not line.news and line.due.state == "due")
    found: list[DueRow] = []
    for line in shown:
        if not everything and len(asked) > 1 and not line.news and line.due.state == "due":
            if line is asked[-1]:
                found.append(DueRow(asked))
        else:
            found.append(DueRow((line,)))
    return DueRows(tuple(found), len(in_order) - len(shown))


def counts(lines: Iterable[DueLine]) -> Mapping[str, int]:
    """How many items are in each state, the worst first; none is left out."""
    found = Counter(line.due.state for line in lines)
    return {state: found[state] for state in STATES}


def counts_in_words(lines: Iterable[DueLine]) -> str:
    """How many items are overdue, due and soon."""
    found = counts(lines)
    return _(
        "{overdue} overdue, {due} due, {soon} soon", overdue=found["overdue"], due=found["due"], soon=found["soon"]
    )


STATE_WORDS: Mapping[str, str] = {
    "overdue": mark("overdue"), "due": mark("due"), "soon": mark("soon"), "ok": mark("ok"),
}  # fmt: skip


class DueColumn(NamedTuple):
    """A column of the list: its head (in English), and how soon it goes where there is no room (1: never)."""

    head: str
    priority: int = 1
    figures: bool = False


COLUMNS = (
    DueColumn(mark("state")), DueColumn(mark("machine")), DueColumn(mark("what")),
    DueColumn(mark("left"), figures=True), DueColumn(mark("likely"), 3), DueColumn(mark("place"), 2),
    DueColumn(mark("min"), 4, figures=True), DueColumn(mark("last done"), 5), DueColumn(mark("item"), 4),
)  # fmt: skip


def cells(row: DueRow, language: str) -> tuple[str, ...]:
    """The cells of a row, one for each of `COLUMNS`."""
    if len(row.lines) > 1:
        return _cells_of_several(row.lines, language)
    line = row.first
    likely = line.forecast.likely if line.forecast else None
    return (
        _(STATE_WORDS[line.due.state]),
        line.tag,
        line.item.title(language),
        left_of(line.due.by, line.due.left),
        likely.isoformat() if likely else "",
        line.place,
        str(line.item.minutes or ""),
        line.last_done.isoformat() if line.last_done else _("never"),
        line.item.id,
    )


def _cells_of_several(lines: Sequence[DueLine], language: str) -> tuple[str, ...]:
    items = {line.item.id: line.item for line in lines}
    machines = len({line.machine for line in lines})
    titles = ", ".join(item.title(language).short for item in items.values())
    return (
        _(STATE_WORDS[lines[0].due.state]),
        lines[0].tag if machines == 1 else plural("{n} machine", "{n} machines", machines),
        Title(_("pre-start: {titles}", titles=titles), _("pre-start checks")),
        plural("{n} item", "{n} items", len(lines)),
        "",
        "",
        str(sum(line.item.minutes or 0 for line in lines) or ""),
        "",
        ", ".join(items),
    )


def left_out_in_words(many: int) -> str:
    """How many items are not shown, and what shows them."""
    return plural("{n} more is ok: --all shows it", "{n} more are ok: --all shows them", many) if many else ""
