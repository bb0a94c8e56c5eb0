"""`yard`, `due` and `book`: looking at a register."""

from __future__ import annotations

import argparse
from datetime import datetime
from typing import Any

from reelcare.cli import common
from reelcare.cli.parser import Problem
from reelcare.cli.table import TextColumn
from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.parts import PARTS
from reelcare.core.service.due_line import DueLine
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.wording import nearest
from reelcare.register.reading import yard as yards
from reelcare.register.views import book as books
from reelcare.register.writing.writer import Writer

YARD = (
    "machine", TextColumn("run", whole=True), TextColumn("road", whole=True), TextColumn("hours", 3, figures=True),
    TextColumn("metres", 3, figures=True), TextColumn("next", 2), "because",
)  # fmt: skip
DUE = (
    "machine", TextColumn("item", 3), "state", "where it stands", TextColumn("likely", 2, whole=True),
    TextColumn("last done", 4, whole=True), "what",
)  # fmt: skip
BOOK = (TextColumn("when", whole=True), "what", "says", TextColumn("by", 2), TextColumn("entry", 3))


def yard(asked: argparse.Namespace) -> int:
    """Every machine, holds first."""
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        # the table has no column for a forecast, and for other programs only what comes first has one
        told = common.tell_how_far("the yard (Ctrl C stops it)")
        machines = yards.yard(register, at, past=past, forecasts=asked.json, of_next=True, progress=told)
    if asked.json:
        common.print_json([yard_json(one) for one in machines])
    else:
        common.print_table(
            YARD,
            [_yard_line(one, common.system(asked), common.language(asked)) for one in machines],
            empty="no machine yet; `reelcare machine add CARD.toml --by NAME` adds one",
        )
    held = any(one.standing.worst == "held" for one in machines)
    return 1 if asked.exit_code and held else 0


def yard_json(one: MachineNow) -> dict[str, Any]:
    """A machine of the yard, as CONTRACTS has it."""
    totals = one.state.totals
    first = one.next
    return {
        "machine": one.tag,
        "name": one.card.name,
        "place": one.card.place,
        "standing": {"run": one.standing.run, "road": one.standing.road},
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
        one.standing.run,
        one.standing.road,
        f"{totals.seconds / 3600:.1f}",
        units.show(totals.millimetres / 1000, "length", system),
        f"{first.item.title(language)} ({first.due.why})" if first else "",
        one.standing.because[0].says if one.standing.because else "",
    )


def due(asked: argparse.Namespace) -> int:
    """What is due, worst first."""
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        machines = yards.listed(register, at, past=past, progress=common.tell_how_far("what is due (Ctrl C stops it)"))
        if asked.machine:
            machine = register.machine_id(asked.machine)
            machines = [one for one in machines if one.id == machine]
        lines = [line for line in yards.due_lines(register, machines, at) if _wanted(line, asked)]
        if asked.within is None:
            lines = lines[: asked.most]  # no more than are shown need a forecast
        lines = yards.with_forecasts(register, lines, machines, at, past=past)
        today = at.astimezone(register.zone).toordinal()
        lines = [line for line in lines if _is_within(line, asked, today)][: asked.most]
        if not lines:
            doubt(asked, register, at, past=past)
    if asked.json:
        common.print_json({"as_of": e.time_text(at), "items": [due_json(line) for line in lines]})
    else:
        _print_due(lines, common.language(asked))
    acute = any(line.due.state in ("overdue", "due") for line in lines)
    return 1 if asked.exit_code and acute else 0


def doubt(asked: argparse.Namespace, register: Writer, at: datetime, *, past: bool) -> None:
    """Where nothing was found: refuse a part that there is not, and tell of a place where no machine is.

    A slip must not read as if nothing were due there.
    """
    part, place = getattr(asked, "part", None), asked.place
    if part and part.casefold() not in PARTS:
        raise Problem(f"--part: {part}: no such part{nearest(part, PARTS)}")
    if place:
        places = sorted({one.place for one in yards.listed(register, at, past=past) if one.place})
        if place.casefold() not in {one.casefold() for one in places}:
            common.say(f"take heed: no machine is at {place}{nearest(place, places) if places else ''}")


def _wanted(line: DueLine, asked: argparse.Namespace) -> bool:
    if asked.overdue and line.due.state != "overdue":
        return False
    if asked.place and line.place.casefold() != asked.place.casefold():
        return False
    return not asked.part or bool(line.item.part.casefold() == asked.part.casefold())


def _is_within(line: DueLine, asked: argparse.Namespace, today: int) -> bool:
    """Whether an item is due, or likely to be within the days asked for."""
    if asked.within is None or line.due.state in ("overdue", "due"):
        return True
    likely = line.forecast.likely if line.forecast else None
    return likely is not None and likely.toordinal() - today <= int(asked.within)


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


def _print_due(lines: list[DueLine], language: str) -> None:
    common.print_table(
        DUE,
        [
            (
                line.tag,
                line.item.id,
                line.due.state,
                line.due.why,
                line.forecast.likely.isoformat() if line.forecast and line.forecast.likely else "",
                line.last_done.isoformat() if line.last_done else "never",
                line.item.title(language),
            )
            for line in lines
        ],
        empty="nothing to list; `reelcare due` without filters lists every item of every machine",
    )


def book(asked: argparse.Namespace) -> int:
    """Everything that happened to a machine."""
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        machine = register.machine_id(asked.tag)
        for kind in asked.kind:
            if kind not in e.KINDS:
                raise Problem(f"--kind: {kind}: no such kind of entry{nearest(kind, tuple(e.KINDS))}")
        lines = books.book(register, machine, kinds=asked.kind, until=at if past else None, most=asked.most)
        zone = register.zone
    if asked.json:
        common.print_json([_book_json(line) for line in lines])
        return 0

    def when(moment: datetime) -> str:
        return f"{moment.astimezone(zone):%Y-%m-%d %H:%M}"

    common.print_table(
        BOOK,
        [
            (
                when(line.entry.happened),
                line.entry.what.kind + (" (taken back)" if line.taken_back else ""),
                line.entry.what.describe(common.system(asked)),
                line.entry.by,
                line.entry.id[-8:],
            )
            for line in lines
        ],
        empty=f"no such entry; `reelcare book {asked.tag}` lists all of this machine",
    )
    return 0


def _book_json(line: books.BookLine) -> dict[str, Any]:
    one = line.entry
    return {
        "entry": one.id,
        "kind": one.what.kind,
        "happened": e.time_text(one.happened),
        "recorded": e.time_text(one.recorded),
        "terminal": one.terminal,
        "by": one.by,
        "says": one.what.describe(),
        "body": e.to_body(one.what),
        "taken_back": {
            "entry": line.taken_back.id,
            "by": line.taken_back.by,
            "why": getattr(line.taken_back.what, "why", ""),
        }
        if line.taken_back
        else None,
    }
