"""`yard`, `due` and `book`: looking at a register."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from reelcare.cli import common, filters
from reelcare.cli.problem import Problem
from reelcare.cli.table import TextColumn
from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.service import due_list as due_lists
from reelcare.core.service.due_line import DueLine
from reelcare.core.state.counters import total_cell
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.state.machine_state import OpenFault, OpenNote
from reelcare.core.state.standing import state_counts
from reelcare.core.text import _, localized, mark, plural
from reelcare.core.timestamps import day_of
from reelcare.core.wording import nearest
from reelcare.register.errors import Damaged
from reelcare.register.reading import yard as yards
from reelcare.register.reading.reader import Reader
from reelcare.register.reading.yard import ListedMachine
from reelcare.register.views import book as books
from reelcare.register.views.due_list import WorkList, instruction_in_words, near_miss_in_words, work_list
from reelcare.register.views.instructions import Instruction

NO_MACHINE = mark("no machine in the yard; `reelcare machine add CARD.toml --by NAME` adds one")
NOTHING_TO_LIST = mark("nothing to list; `reelcare due --all` lists every item of every machine")
"""What is said, and what comes next, where a list is empty."""
YARD = (
    mark("machine"), TextColumn(mark("run"), whole=True), TextColumn(mark("road"), whole=True),
    TextColumn(mark("hours"), 3, figures=True), TextColumn(mark("metres"), 3, figures=True),
    TextColumn(mark("next"), 2), mark("because"),
)  # fmt: skip
BOOK = (
    TextColumn(mark("when"), whole=True), mark("what"), TextColumn(mark("says"), amounts=True),
    TextColumn(mark("by"), 2), TextColumn(mark("entry"), 3),
)  # fmt: skip
NEWEST = 50
"""The lines of a book that people see where they ask for no other number."""


def yard(asked: argparse.Namespace) -> int:
    """Every machine, holds first."""
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        # the table has no column for a forecast, and for other programs only what comes first has one
        told = common.tell_how_far(_("the yard (Ctrl C stops it)"))
        machines = yards.yard(register, at, past=past, forecasts=asked.json, progress=told,
                              language=common.language(asked), system=common.system(asked))  # fmt: skip
        if asked.place:
            machines = [one for one in machines if one.card.place.casefold() == asked.place.casefold()]
            if not machines:
                filters.warn_of_place(asked, register, at, past=past)
        if not past:
            _refuse_unproven_clear(register, machines, at)
        today = day_of(at, register.zone)
    if asked.json:
        common.print_json([yard_json(one, today) for one in machines])
    elif machines or not asked.place:
        rows = [_yard_line(one, common.system(asked), common.language(asked)) for one in machines]
        common.print_table(YARD, rows, empty=_(NO_MACHINE))
        _say_state_counts(machines)
        if any(one.state.least for one in machines):
            common.say(_("hours, metres: + at least so much, ? not known, as nobody knows what was done before"))
    held = any(one.standing.worst == "held" for one in machines)
    return 1 if asked.exit_code and held else 0


def _say_state_counts(machines: Sequence[MachineNow]) -> None:
    """The counts that stand in the head of the yard on the screen."""
    counts = [says for _state, n, says in state_counts(one.judged for one in machines) if n]
    if machines:
        common.say(", ".join(counts) or _("nothing out of the ordinary"))


def _refuse_unproven_clear(register: Reader, machines: Sequence[MachineNow], at: datetime) -> None:
    """Raise Damaged where a machine is kept as clear and its entries do not say so."""
    wrong = yards.unproven_clear(register, machines, at)
    if wrong:
        says = mark(
            "{tags}: shown as clear, but the entries do not say so; `reelcare prove` says more, "
            "`reelcare rebuild` mends it"
        )
        raise Damaged(_(says, tags=", ".join(wrong)))


def yard_json(one: MachineNow, today: date) -> dict[str, Any]:
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
        "known": [by for by in ("hours", "metres", "runs") if by not in one.state.least],
        "last_check": e.time_text(one.state.last_check) if one.state.last_check else None,
        "next": {
            "item": first.item.id,
            "kind": first.kind,
            "by": first.due.by if first.thresholds else None,
            "left": first.due.left if first.has_left else None,
            "likely": first.forecast.likely.isoformat() if first.forecast and first.forecast.likely else None,
        }
        if first
        else None,
        "faults": [_fault_json(fault, one, today) for fault in one.faults],
        "given_to": one.given_to or None,
        "note": notes[-1].says if (notes := one.notes(today)) else None,
        "home_by": one.home_by or None,
    }


def _fault_json(fault: OpenFault, one: MachineNow, today: date) -> dict[str, Any]:
    left = dict(fault.left(one.state.totals, today))
    limits = {
        "hours_left": left["hours"] / 3600 if "hours" in left else None,
        "metres_left": left["metres"] / 1000 if "metres" in left else None,
        "runs_left": left.get("runs"),
        "day": fault.fix_by_day,
    }
    return {
        "id": fault.id,
        "part": fault.part,
        "says": fault.says,
        "holds": fault.holds or None,
        "fix_by": limits if left else None,
        "since": e.time_text(fault.since),
    }


def _yard_line(one: MachineNow, system: units.System, language: str) -> tuple[str, ...]:
    totals, least = one.state.totals, one.state.least
    hose = units.show(totals.millimetres / 1000, "length", system)
    first = one.next
    return (
        one.tag,
        _(one.standing.run),
        _(one.standing.road),
        total_cell(localized(f"{totals.seconds / 3600:.1f}"), totals.seconds, is_least="hours" in least),
        total_cell(hose, totals.millimetres, is_least="metres" in least),
        _("{title} ({left})", title=first.item.title(language), left=first.due.why(system)) if first else "",
        one.standing.because[0].says if one.standing.because else "",
    )


def due(asked: argparse.Namespace) -> int:
    """What is due, worst first."""
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        told = common.tell_how_far(_("what is due (Ctrl C stops it)"))
        wanted = filters.wanted(asked, register)
        everything = asked.json or asked.all
        found = work_list(register, wanted, at, past=past, most=asked.most, everything=everything, progress=told)
        lines, tags = found.lines, register.tags()
        empty = NOTHING_TO_LIST
        if not lines:
            filters.warn_of_place(asked, register, at, past=past)
            if next(yards.judged(register, at, past=past), None) is None:
                empty = NO_MACHINE
    if asked.json:
        common.print_json({
            "as_of": e.time_text(at),
            "items": [due_json(line) for line in lines],
            "near_misses": [_miss_json(machine, note) for machine, note in found.near_misses],
            "instructions": [_instruction_json(one, tags) for one in found.instructions],
        })  # fmt: skip
    else:
        _print_due(lines, asked, empty=empty)
        _print_for_supervisor(found, tags)
    acute = any(line.is_acute for line in lines)
    return 1 if asked.exit_code and acute else 0


def _miss_json(machine: ListedMachine, note: OpenNote) -> dict[str, Any]:
    return {
        "machine": machine.tag, "place": machine.place, "entry": note.id, "says": note.says, "by": note.by or None,
        "since": e.time_text(note.since),
    }  # fmt: skip


def _instruction_json(one: Instruction, tags: Mapping[str, str]) -> dict[str, Any]:
    return {
        "person": one.person, "machine": tags.get(one.machine), "on": one.on.isoformat(), "by": one.by,
        "until": one.until.isoformat(), "left": one.left, "state": "overdue" if one.left < 0 else "soon",
    }  # fmt: skip


def _print_for_supervisor(found: WorkList, tags: Mapping[str, str]) -> None:
    """Near misses, runs of held machines, and instruction that runs out."""
    for machine, note in found.near_misses:
        told = near_miss_in_words(machine, note)
        common.say(_("{told}; `reelcare log note {tag} --read` once it is dealt with", told=told, tag=machine.tag))
    for one in found.instructions:
        common.say(instruction_in_words(one, tags))


def due_json(line: DueLine) -> dict[str, Any]:
    """A line of the due list, as CONTRACTS has it."""
    ahead, is_known = line.forecast, line.kind == "service" and line.due.state != "unknown"
    return {
        "machine": line.tag,
        "kind": line.kind,
        "item": line.item.id,
        "part": line.item.part or None,
        "what": line.item.title(),
        "state": line.due.state,
        "by": line.due.by if line.thresholds else None,
        "used": line.due.used if is_known else None,
        "interval": line.due.interval if line.kind == "service" else None,
        "left": line.due.left if line.has_left else None,
        "life": line.due.used_fraction if is_known else None,
        "grace_left": line.due.grace_left if is_known else None,
        "due_at": line.due_at,
        "held": line.due.held,
        "waits_for": line.fault.waits_for or None if line.fault else None,
        "given_to": line.given.to if line.given else None,
        "for_day": line.given.day.isoformat() if line.given else None,
        "minutes": line.item.minutes,
        "place": line.place,
        "last_done": line.last_done.isoformat() if line.last_done else None,
        "last_done_hours": line.done_at / 3600 if line.done_at is not None else None,
        "forecast": {
            "early": ahead.early.isoformat(),
            "likely": ahead.likely.isoformat() if ahead.likely else None,
            "late": ahead.late.isoformat() if ahead.late else None,
        }
        if ahead
        else None,
        **({"forecast_reason": line.forecast_reason} if ahead is None else {}),
    }


def _print_due(lines: list[DueLine], asked: argparse.Namespace, *, empty: str) -> None:
    rows, left_out = due_lists.rows(lines, everything=asked.all, coming=bool(asked.within))
    heads = [
        TextColumn(one.head, one.priority, figures=one.figures, band=one.head == "state") for one in due_lists.COLUMNS
    ]
    told = [due_lists.cells(row, common.language(asked), common.system(asked)) for row in rows]
    common.print_table(heads, told, empty="" if left_out else _(empty))
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
                near = nearest(kind, tuple(e.KINDS))
                raise Problem(_("--kind: {kind}: no such kind of entry{nearest}", kind=kind, nearest=near))
        until = at if past else None
        everything = asked.json or asked.all
        most = asked.most or (-1 if everything else NEWEST)
        lines = books.book(register, machine, kinds=asked.kind, until=until, most=most)
        is_cut = not everything and asked.most is None
        whole = books.count(register, machine, kinds=asked.kind, until=until) if is_cut else 0
        tries = books.tries(register, lines) if asked.json else {}
        zone = register.zone
    if asked.json:
        common.print_json([_book_json(line, tries.get(line.entry.id, ())) for line in lines])
        return 0

    rows = [
        (f"{line.entry.happened.astimezone(zone):%Y-%m-%d %H:%M}", _kind_of(line), line.says(common.system(asked)),
         line.entry.by, line.entry.id[-8:])
        for line in lines
    ]  # fmt: skip
    nothing = _("no such entry; `reelcare book {tag}` lists all of this machine", tag=asked.tag)
    common.print_table(BOOK, rows, empty=nothing)
    if (left_out := whole - len(lines)) > 0:
        common.say(plural("{n} older entry: --all shows it", "{n} older entries: --all shows them", left_out))
    return 0


def _kind_of(line: books.BookLine) -> str:
    """The kind of an entry, with what keeps it from counting."""
    kind = _(line.entry.what.kind)
    if line.taken_back:
        return _("{kind} (taken back)", kind=kind)
    return f"{kind} ({line.why_uncounted})" if line.uncounted else kind


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
        "uncounted": line.uncounted or None,
        "taken_back": {
            "entry": line.taken_back.id,
            "by": line.taken_back.by,
            "why": getattr(line.taken_back.what, "why", ""),
        }
        if line.taken_back
        else None,
    }
