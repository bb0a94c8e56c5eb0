"""The work list on paper: what a person does on a day, with boxes to tick and what to take along.

The rules of this file: core values in, a document out. What was given for a day that is past and is still open is done
with the next day's.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from reelcare.core import units
from reelcare.core.machine.card import Card
from reelcare.core.service import due_list as lists
from reelcare.core.service.due_line import STEP_CAUTIONS, DueLine
from reelcare.core.service.plan_table import ENERGIES
from reelcare.core.service.supplies import taken_along
from reelcare.core.text import _
from reelcare.core.wording import duration, said
from reelcare.reports.blocks import Block, Document, Heading, Paragraph, Signatures, table

BOX = "[\N{NO-BREAK SPACE}\N{NO-BREAK SPACE}]"


def of_day(lines: Iterable[DueLine], day: date | None, today: date) -> list[DueLine]:
    """Those lines that are given for a day, and what is left of the days before today; all, where no day is meant."""
    return [
        line
        for line in lines
        if day is None or (line.given is not None and (line.given.day == day or line.given.day < min(day, today)))
    ]


def document(
    lines: Sequence[DueLine],
    cards: Mapping[str, Card],
    person: str,
    day: date | None,
    stamp: str,
    language: str,
    system: units.System,
    *,
    everything: bool,
    for_supervisor: Sequence[str] = (),
) -> Document:
    """The list as a document: of one person, or (`everything`) of all, each with their own part, and what is told the
    supervisor first."""
    parts: list[Block] = []
    if not everything:
        parts += _part(lists.rows(lines, coming=True, on_paper=True).rows, cards, language, system)
        parts += [comes_first(), Signatures((person,))]
    else:
        parts += beside(for_supervisor)
        for name in sorted({line.given.to if line.given else "" for line in lines}, key=lambda one: (not one, one)):
            mine = [line for line in lines if (line.given.to if line.given else "") == name]
            rows = lists.rows(mine, coming=bool(name), on_paper=True).rows
            if rows:
                parts.append(Heading(name or _("not given to anybody")))
                parts += _part(rows, cards, language, system)
        parts.append(comes_first())
    minutes = sum(line.item.minutes or 0 for line in lines if line.given)
    told = (lists.counts_in_words(lines), _("about {time}", time=duration(minutes)) if minutes else "")
    title = _("Work list of {name}", name=person) if person else _("Work list")
    title += f", {day:%Y-%m-%d}" if day is not None else ""
    under = "; ".join(one for one in told if one)
    return Document(title, under, tuple(parts), language, close=not everything, stamp=stamp)


def beside(for_supervisor: Sequence[str]) -> list[Block]:
    """What stands beside the lines for the supervisor, a paragraph each; nothing where there is nothing."""
    return [Heading(_("For the supervisor")), *map(Paragraph, for_supervisor)] if for_supervisor else []


def _part(rows: Sequence[lists.DueRow], cards: Mapping[str, Card], language: str, system: units.System) -> list[Block]:
    heads = ("", _("state"), _("machine"), _("place"), _("what"), _("due at"), _("left"), _("min"), _("when"))
    parts: list[Block] = [table(heads, [_row(row, language, system) for row in rows], numbers=(5, 6, 7))]
    lines = [line for row in rows for line in row.lines]
    if along := taken_along(lines, cards, language):
        parts.append(Heading(_("Take along")))
        parts.append(Paragraph("; ".join(along)))
    if safe := list(dict.fromkeys(one for line in lines for one in line.item.isolate)):
        parts.append(
            Paragraph(
                _("Make safe first, on each machine: {energies}", energies=", ".join(_(ENERGIES[one]) for one in safe)),
                "warning",
            )
        )
    if hurts := dict(_cautions(lines, language)):
        parts.append(table((_("what"), _("CAUTION")), hurts.items()))
    return parts


def comes_first() -> Paragraph:
    """What comes first wherever work on a machine is listed."""
    return Paragraph(_("The machine's own manual, local codes and licensed practice come first."), "small")


def _cautions(lines: Sequence[DueLine], language: str) -> Iterator[tuple[str, str]]:
    """What can hurt, beside the work at which it does: a service, or the next step of a fault."""
    for line in lines:
        if line.fault is None and line.item.cautions:
            yield line.item.title(language), " ".join(said(one, language) for one in line.item.cautions)
        elif line.fault is not None and line.fault.waits_for in STEP_CAUTIONS:
            yield _(line.fault.waits_for), _(STEP_CAUTIONS[line.fault.waits_for])


def _row(row: lists.DueRow, language: str, system: units.System) -> tuple[str, ...]:
    told = dict(zip([one.head for one in lists.COLUMNS], lists.cells(row, language, system), strict=True))
    return (BOX, *(told[head] for head in ("state", "machine", "place", "what", "due at", "left", "min", "when")))
