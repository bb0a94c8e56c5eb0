"""`yard`, `due` and `book`: looking at a register."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from reelcare.cli import common, filters
from reelcare.cli.parser import Problem
from reelcare.cli.table import TextColumn
from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.service import due_list as due_lists
from reelcare.core.service.due_line import DueLine
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.text import _, mark, plural
from reelcare.core.wording import nearest
from reelcare.register.errors import NotWhole
from reelcare.register.reading import yard as yards
from reelcare.register.reading.reader import Reader
from reelcare.register.views import book as books
from reelcare.register.views.due_list import due_list

YARD = (
    mark("machine"), TextColumn(mark("run"), whole=True), TextColumn(mark("road"), whole=True),
    TextColumn(mark("hours"), 3, figures=True), TextColumn(mark("metres"), 3, figures=True),
    TextColumn(mark("next"), 2), mark("because"),
)  # fmt: skip
BOOK = (
    TextColumn(mark("when"), whole=True), mark("what"), mark("says"), TextColumn(mark("by"), 2),
    TextColumn(mark("entry"), 3),
)  # fmt: skip
NEWEST = 50
"""The lines of a book that people see where they ask for no other number."""


def yard(asked: argparse.Namespace) -> int:
    """Every machine, holds first."""
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        # the table has no column for a forecast, and for other programs only what comes first has one
        told = common.tell_how_far(_("the yard (Ctrl C stops it)"))
        machines = yards.yard(register, at, past=past, forecasts=asked.json, of_next=True, progress=told)
        if not past:
            _refuse_not_borne_out(register, machines, at)
    if asked.json:
        common.print_json([yard_json(one) for one in machines])
    else:
        common.print_table(
            YARD,
            [_yard_line(one, common.system(asked), common.language(asked)) for one in machines],
            empty=_("no machine yet; `reelcare machine add CARD.toml --by NAME` adds one"),
        )
    held = any(one.standing.worst == "held" for one in machines)
    return 1 if asked.exit_code and held else 0


def _refuse_not_borne_out(register: Reader, machines: Sequence[MachineNow], at: datetime) -> None:
    """Raise NotWhole where a machine is kept as clear and its entries do not say so."""
    wrong = yards.not_borne_out(register, machines, at)
    if wrong:
        raise NotWhole(
            _(
                "{tags}: kept as clear, and the entries do not say so; `reelcare prove` tells more, "
                "`reelcare rebuild` mends it",
                tags=", ".join(wrong),
            )
        )


def yard_json(one: MachineNow) -> dict[str, Any]:
    """A machine of the yard, as CONTRACTS has it."""
    totals = one.state.totals
    first = one.next
    return {
        "machine": one.tag,
        "name": one.card.name,
        "place": one.card.place,
        "standing": {
            "run": one.standing.run,
            "road": one.standing.road,
            "gate": one.standing.gate or None,
            "held_as": one.standing.held_as,
        },
        "because": [reason.says for reason in one.standing.because],
        "hours": totals.seconds / 3600,
        "metres": totals.millimetres / 1000,
        "runs": totals.runs,
        "last_check": e.time_text(one.state.last_check) if one.state.last_check else None,
        "next": {
            "item": first.item.id,
            "by": first.due.by,
            "left": first.due.left,
            "likely": first.forecast.likely.isoformat() if first.forecast and first.forecast.likely else None,
        }
        if first
        else None,
    }


def _yard_line(one: MachineNow, system: units.System, language: str) -> tuple[str, ...]:
    totals = one.state.totals
    first = one.next
    return (
        one.tag,
        _(one.standing.run),
        _(one.standing.road),
        f"{totals.seconds / 3600:.1f}",
        units.show(totals.millimetres / 1000, "length", system),
        _next(first, language) if first else "",
        one.standing.because[0].says if one.standing.because else "",
    )


def _next(first: DueLine, language: str) -> str:
    return _("{title} ({left})", title=first.item.title(language), left=first.due.why)


def due(asked: argparse.Namespace) -> int:
    """What is due, worst first."""
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        told = common.tell_how_far(_("what is due (Ctrl C stops it)"))
        lines = due_list(register, filters.wanted(asked, register), at, past=past, most=asked.most, progress=told)
        if not lines:
            filters.warn_of_place(asked, register, at, past=past)
    if asked.json:
        common.print_json({"as_of": e.time_text(at), "items": [due_json(line) for line in lines]})
    else:
        _print_due(lines, asked)
    acute = any(line.due.state in due_lists.ACUTE for line in lines)
    return 1 if asked.exit_code and acute else 0


def due_json(line: DueLine) -> dict[str, Any]:
    """A line of the due list, as CONTRACTS has it."""
    ahead = line.forecast
    return {
        "machine": line.tag,
        "item": line.item.id,
        "what": line.item.title(),
        "state": line.due.state,
        "by": line.due.by,
        "used": line.due.used,
        "interval": line.due.interval,
        "left": line.due.left,
        "life": line.due.used_fraction,
        "grace_left": line.due.grace_left,
        "last_done": line.last_done.isoformat() if line.last_done else None,
        "forecast": {
            "early": ahead.early.isoformat(),
            "likely": ahead.likely.isoformat() if ahead.likely else None,
            "late": ahead.late.isoformat() if ahead.late else None,
        }
        if ahead
        else None,
        **({"forecast_reason": line.forecast_reason} if ahead is None else {}),
    }


def _print_due(lines: list[DueLine], asked: argparse.Namespace) -> None:
    rows, left_out = due_lists.rows(lines, everything=asked.all, coming=bool(asked.within))
    common.print_table(
        [
            TextColumn(one.head, one.priority, figures=one.figures, band=one.head == "state")
            for one in due_lists.COLUMNS
        ],
        [due_lists.cells(row, common.language(asked)) for row in rows],
        empty="" if left_out else _("nothing to list; `reelcare due --all` lists every item of every machine"),
    )
    if lines:
        more = due_lists.left_out_in_words(left_out)
        common.say("; ".join((due_lists.counts_in_words(lines), *([more] if more else ()))))


def book(asked: argparse.Namespace) -> int:
    """Everything that happened to a machine."""
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        machine = register.machine_id(asked.tag)
        for kind in asked.kind:
            if kind not in e.KINDS:
                raise Problem(
                    _(
                        "--kind: {kind}: no such kind of entry{nearest}",
                        kind=kind,
                        nearest=nearest(kind, tuple(e.KINDS)),
                    )
                )
        until = at if past else None
        lines = books.book(register, machine, kinds=asked.kind, until=until, most=_most(asked))
        whole = 0 if _everything(asked) else books.count(register, machine, kinds=asked.kind, until=until)
        tries = books.tries(register, lines) if asked.json else {}
        zone = register.zone
    if asked.json:
        common.print_json([_book_json(line, tries.get(line.entry.id, ())) for line in lines])
        return 0

    def when(moment: datetime) -> str:
        return f"{moment.astimezone(zone):%Y-%m-%d %H:%M}"

    common.print_table(
        BOOK,
        [
            (
                when(line.entry.happened),
                _("{kind} (taken back)", kind=_(line.entry.what.kind)) if line.taken_back else _(line.entry.what.kind),
                line.says(common.system(asked)),
                line.entry.by,
                line.entry.id[-8:],
            )
            for line in lines
        ],
        empty=_("no such entry; `reelcare book {tag}` lists all of this machine", tag=asked.tag),
    )
    if (left_out := whole - len(lines)) > 0:
        common.say(plural("{n} older entry: --all shows it", "{n} older entries: --all shows them", left_out))
    return 0


def _everything(asked: argparse.Namespace) -> bool:
    return bool(asked.json or asked.all or asked.most is not None)


def _most(asked: argparse.Namespace) -> int:
    """How many lines are wanted; -1 for all."""
    if asked.most is not None:
        return int(asked.most)
    return -1 if _everything(asked) else NEWEST


def _book_json(line: books.BookLine, tries: Sequence[e.Entry]) -> dict[str, Any]:
    one = line.entry
    body = e.to_body(one.what)
    if tries:
        body["tries"] = [
            {"seen": each.what.seen, "judged": each.what.judged, "at": e.time_text(each.happened), "by": each.by}
            for each in tries
            if isinstance(each.what, e.Answered)
        ]
    return {
        "entry": one.id,
        "kind": one.what.kind,
        "happened": e.time_text(one.happened),
        "recorded": e.time_text(one.recorded),
        "terminal": one.terminal,
        "by": one.by,
        "says": line.says_plainly,
        "body": body,
        "taken_back": {
            "entry": line.taken_back.id,
            "by": line.taken_back.by,
            "why": getattr(line.taken_back.what, "why", ""),
        }
        if line.taken_back
        else None,
    }
