"""`log`: writing down what happened."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from reelcare.cli import common
from reelcare.cli.problem import Problem
from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.entries import Draft
from reelcare.core.machine.tag import ALL
from reelcare.core.parts import PARTS, default_retest, part_called
from reelcare.core.state import counters as counting
from reelcare.core.state import fix_by
from reelcare.core.state.counters import total_in_words, totals_in_words
from reelcare.core.text import _, localized, mark, plural, typed_figure
from reelcare.core.timestamps import day_of
from reelcare.core.wording import nearest
from reelcare.register.acts import corrections, faults, giving, notes
from reelcare.register.acts.runs import log_run, whole
from reelcare.register.errors import Refused
from reelcare.register.writing.writer import Writer


def _say(asked: argparse.Namespace, entry: e.Entry, says: str) -> int:
    return common.answer(asked, _data(entry), _("{says} (entry {id})", says=says, id=entry.id[-8:]))


def _data(entry: e.Entry) -> dict[str, str]:
    return {"entry": entry.id, "kind": entry.what.kind, "happened": e.time_text(entry.happened)}


def _whole(text: str | None, quantity: units.Quantity, what: str) -> int | None:
    if text is None:
        return None
    try:
        return whole(units.read(typed_figure(text), quantity), quantity)
    except units.UnitsError as why:
        raise Problem(f"{what}: {why}") from None


def _shown(text: str, counter: str, system: units.System) -> int:
    """What a counter shows, in s or mm: a bare number is in the counter's own unit, which of a length is not known
    where somebody reads feet."""
    text = typed_figure(text)
    try:
        value, unit = units.split(text)
        if not unit and counter == "metres" and system == "us":
            says = mark("{text!r}: does the counter count feet or metres? Write `{text} ft` or `{text} m`")
            raise units.UnitsError(_(says, text=text.strip()))
        if not unit:
            return round(value * (3600 if counter == "hours" else 1000))
        quantity: units.Quantity = "duration" if counter == "hours" else "length"
        return round(units.read(text, quantity) * (1 if counter == "hours" else 1000))
    except units.UnitsError as why:
        raise Problem(f"{counter}: {why}") from None


def run(asked: argparse.Namespace) -> int:
    """One run."""
    now = common.now()
    with common.open_register(asked) as register:
        machine = register.machine_id(asked.tag)
        ended = common.moment_of(asked.ended, register.zone)
        what = e.Run(
            started=common.moment_of(asked.started, register.zone),
            ended=ended,
            metres=_whole(asked.metres, "length", "--metres") or 0,
            planned_speed=_whole(asked.planned_speed, "speed", "--planned-speed"),
            inlet=_whole(asked.inlet, "pressure", "--inlet"),
            gun=_whole(asked.gun, "pressure", "--gun-pressure"),
            drive_loss=_whole(asked.drive_loss, "pressure", "--drive-loss"),
            dwell=_whole(asked.dwell, "duration", "--dwell"),
            operator=asked.operator,
            place=asked.place,
            stopped_by=asked.stopped_by,
            notes=asked.notes,
            volume=_whole(asked.volume, "volume", "--volume"),
            meter=_whole(asked.meter, "volume", "--meter"),
            home=asked.home,
            lane=asked.lane.strip(),
        )
        logged = log_run(register, machine, what, by=common.by(asked), now=now)
        entry, state = logged.entry, register.state(machine)
        asks = asked.stopped_by == "fault" and logged.fault is None
        noted = asks and not asked.json and sys.stdin.isatty() and _ask_fault(register, machine, asked, now)
    for told in logged.words(asked.tag):
        common.say(told)
    if asks and not noted:
        common.say(_("stopped by a fault: `reelcare log fault {tag} PART --says TEXT` notes it", tag=asked.tag))
    totals = totals_in_words(state.totals, state.least, *_hours_and_metres(state.totals, common.system(asked)))
    return _say(asked, entry, _("{tag}: now {totals}", tag=asked.tag, totals=totals))


def _hours_and_metres(totals: counting.Totals, system: units.System) -> tuple[str, str]:
    return localized(f"{totals.seconds / 3600:.1f} h"), units.show(totals.millimetres / 1000, "length", system)


def _ask_fault(register: Writer, machine: str, asked: argparse.Namespace, now: datetime) -> bool:
    """Ask for the fault that ended a run, and note it; whether it was. The run is kept, whatever is answered."""
    try:
        typed = input(_("Which part? (Enter alone: not now) ")).strip()
        part = part_called(typed)
        while typed and not part:
            typed = input(_("{part}: no such part{hint}. Which part? ", part=typed, hint=nearest(typed, PARTS))).strip()
            part = part_called(typed)
        says = input(_("What is wrong? ")).strip() if part else ""
        if not says:
            return False
        holds = (
            input(_("Type HOLD where it holds the machine, Enter where it is only noted: ")).strip().upper() == "HOLD"
        )
    except EOFError:
        return False
    retest = default_retest(part) if holds else ""
    what = e.Fault(part=part, says=says, holds="both" if holds else "", retest=retest)
    register.add(what, machine=machine, by=common.by(asked), now=now)
    common.say(_(_noted_fault(holds), tag=asked.tag, retest=_(retest)))
    return True


def reading(asked: argparse.Namespace) -> int:
    """A counter's reading."""
    now = common.now()
    if asked.new_counter and asked.rolls_at:
        raise Problem(_("a counter is either new or rolled over; give --new-counter or --rolls-at, not both"))
    system = common.chosen_system(asked)
    what = e.Reading(
        counter=asked.counter,
        value=_shown(asked.value, asked.counter, system),
        change="new counter" if asked.new_counter else "rolled over" if asked.rolls_at else "",
        rolls_at=_shown(asked.rolls_at, asked.counter, system) if asked.rolls_at else None,
    )
    with common.open_register(asked) as register:
        machine = register.machine_id(asked.tag)
        at = common.happened(asked, register, now)
        doubts = _doubts(asked, register, machine, [what], at)
        entry = common.add(asked, register, what, machine)
        state = register.state(machine)
    _say_doubts(doubts, [entry])
    place = ("hours", "metres").index(asked.counter)
    life = _hours_and_metres(state.totals, system)[place]
    life = total_in_words(life, state.totals[place], is_least=asked.counter in state.least)
    return _say(asked, entry, _("{tag}: life total {life}", tag=asked.tag, life=life))


def _doubts(
    asked: argparse.Namespace, register: Writer, machine: str, readings: Sequence[e.Reading], at: datetime
) -> list[list[str]]:
    """What is likely a slip in each of some readings, though it may be so."""
    if not readings:
        return []
    try:
        before = register.state(machine, at if asked.at else None).counters
    except Refused:
        return []  # nothing is known of the machine at that time
    return [list(counting.doubtful(before, one)) for one in readings]


def _say_doubts(doubts: Sequence[Sequence[str]], written: Sequence[e.Entry]) -> None:
    """Say what is doubtful about readings that were written, and the way back."""
    for entry, told in zip(written, doubts, strict=False):
        for said in told:
            told = mark("look again: {said}; `reelcare log correct {id} --why TEXT` takes the reading back")
            common.say(_(told, said=said, id=entry.id[-8:]))


def service(asked: argparse.Namespace) -> int:
    """A service done, with counter readings if given."""
    now = common.now()
    with common.open_register(asked) as register:
        machine = register.machine_id(asked.tag)
        at = common.happened(asked, register, now)
        item = register.plans().at(machine, at).item(asked.item)
        counters: dict[counting.CounterName, str | None] = {"hours": asked.hours, "metres": asked.metres}
        readings = [
            e.Reading(counter=name, value=_shown(value, name, common.chosen_system(asked)))
            for name, value in counters.items()
            if value is not None
        ]
        doubts = _doubts(asked, register, machine, readings, at)
        drafts = [Draft(what=one, machine=machine, happened=at) for one in readings]
        title = item.title(common.language(asked)) if item else ""
        what = e.Service(item=asked.item, title=title, note=asked.note)
        drafts.append(Draft(what=what, machine=machine, happened=at))
        written = register.append(drafts, by=common.by(asked), now=now)
        _say_doubts(doubts, written)
        told = faults.next_due(register, machine, asked.item, now, common.system(asked))
        return _say(asked, written[-1], f"{asked.tag}: {told}")


def fault(asked: argparse.Namespace) -> int:
    """A fault."""
    now = common.now()
    with common.open_register(asked) as register:
        machine = register.machine_id(asked.tag)
        at = common.happened(asked, register, now)
        limits = _fix_by(asked.fix_by, register, machine, at, past=bool(asked.at)) if asked.fix_by is not None else {}
        part = part_called(asked.part) or asked.part.lower()
        retest = asked.retest or (default_retest(part) if asked.hold and part in PARTS else "")
        what = e.Fault(part=part, says=asked.says, holds=asked.hold or "", retest=retest, **limits)
        entry = common.add(asked, register, what, machine)
        state, today = register.state(machine), day_of(now, register.zone)
        lapsed = any(one.id == entry.id and one.lapsed(state.totals, today) for one in state.faults)
    told = mark("{tag}: fault noted; its limit is reached, so the machine is held")
    return _say(asked, entry, _(told if lapsed and not asked.hold else _noted_fault(asked.hold), tag=asked.tag,
                                retest=_(retest)))  # fmt: skip


def _noted_fault(holds: object) -> str:
    """What is said of a fault that was written."""
    return mark("{tag}: fault noted, the machine is held; re-test: {retest}") if holds else mark("{tag}: fault noted")


def _fix_by(text: str, register: Writer, machine: str, at: datetime, *, past: bool) -> dict[str, Any]:
    try:
        totals = register.state(machine, at if past else None).totals
        return fix_by.read(typed_figure(text), totals, day_of(at, register.zone))
    except units.UnitsError as why:
        raise Problem(f"--fix-by: {why}") from None


def repair(asked: argparse.Namespace) -> int:
    """Work done on a fault."""
    return _on_fault(asked, lambda id: e.Repair(fault=id, says=asked.says), _("repaired"))


def retest(asked: argparse.Namespace) -> int:
    """A repaired fault tried again."""
    return _on_fault(
        asked, lambda id: e.Retest(fault=id, passed=not asked.failed, seen=asked.says),
        _("re-test not passed") if asked.failed else _("re-test passed"),
    )  # fmt: skip


def release(asked: argparse.Namespace) -> int:
    """The end of a fault."""
    return _on_fault(asked, lambda id: e.Release(fault=id, says=asked.says), _("released"))


def _on_fault(asked: argparse.Namespace, make: Callable[[str], e.Kind], says: str) -> int:
    with common.open_register(asked) as register:
        fault, machine = faults.named(register, asked.fault, asked.part)
        entry = common.add(asked, register, make(fault), machine)
    return _say(asked, entry, says)


def note(asked: argparse.Namespace) -> int:
    """A remark on a machine that is no fault; or that its notes were read."""
    now = common.now()
    if bool(asked.says) == asked.read:
        raise Problem(_("say what: --says TEXT; or --read once the notes of a machine are read"))
    with common.open_register(asked) as register:
        machine, at = register.machine_id(asked.tag), common.happened(asked, register, now)
        if asked.read:
            read = notes.read(register, machine, by=common.by(asked), now=now, happened=at)
            if not read:
                raise Refused(_("{tag}: no note is to be read", tag=asked.tag))
            said = plural("{tag}: {n} note read", "{tag}: {n} notes read", len(read), tag=asked.tag)
            return _say(asked, read[-1], said)
        until = common.day_said("--until", asked.until)
        day = until.isoformat() if until is not None else ""
        what = e.Noted(says=asked.says, until=day, near_miss="yes" if asked.near_miss else "")
        # a near miss bears no name but one that is given on purpose
        by = asked.by or "" if asked.near_miss else common.by(asked)
        entry = register.add(what, machine=machine, by=by, now=now, happened=at)
    told = mark("{tag}: near miss reported to the supervisor") if asked.near_miss else mark("{tag}: noted")
    return _say(asked, entry, _(told, tag=asked.tag))


def instruction(asked: argparse.Namespace) -> int:
    """Somebody was shown a machine, or all of them."""
    with common.open_register(asked) as register:
        name = giving.person(register, asked.name)
        of = "" if asked.tag.casefold() == ALL else register.machine_id(asked.tag)
        entry = common.add(asked, register, e.Instructed(name=name, of=of, valid=asked.valid))
    told = mark("{name}: instructed on {tag}, for {months}")
    months = plural("{n} month", "{n} months", asked.valid)
    return _say(asked, entry, _(told, name=name, tag=asked.tag if of else _("all machines"), months=months))


def correct(asked: argparse.Namespace) -> int:
    """Take entries back, all or none."""
    now, told = common.now(), []
    with common.open_register(asked) as register, register.writing_as(common.by(asked)):
        to = register.machine_id(asked.move_to) if asked.move_to else ""
        for entry in {one.id: one for one in [_entry(register, id) for id in asked.entries]}.values():
            day, at = entry.happened.astimezone(register.zone), common.happened(asked, register, now)
            done = corrections.correct(
                register, entry, asked.why, by=common.by(asked), now=now, happened=at, move_to=to
            )
            moved = mark("{kind} of {day:%Y-%m-%d} is moved to {tag}")
            says = moved if to else mark("taken back: {kind}, {day:%Y-%m-%d}")
            told.append((done, _(says, kind=_(entry.what.kind), day=day, tag=asked.move_to)))
    if asked.json and len(told) > 1:
        common.print_json([_data(done) for done, _says in told])
        return 0
    for done, says in told:
        _say(asked, done, says)
    return 0


def _entry(register: Writer, id: str) -> e.Entry:
    """The entry that is meant by its id, or by the end of it."""
    entry = register.entry(id)
    if entry is None:
        raise Problem(_("{entry}: no such entry, or more than one; `reelcare book TAG` lists them", entry=id))
    return entry
