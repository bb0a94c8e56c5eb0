"""Plays two seasons on the invented estate of demo/estate.toml, up to a given day.

The rules of this file: it writes through the register's door like everybody else, with the clock of the story.
The same day gives the same history: chance comes from a generator seeded by the machine's tag.
"""

from __future__ import annotations

import heapq
import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from reelcare import files
from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.checks.limits import find
from reelcare.core.checks.sheet import PRE_START, Question
from reelcare.core.checks.verdict import Walk
from reelcare.core.entries import Draft
from reelcare.register import sheets
from reelcare.register.acts import people, walk_rounds
from reelcare.register.database.opening import DEMO
from reelcare.register.reading import yard
from reelcare.register.writing.writer import Writer

SEASON_AGO = timedelta(days=110)
"""How long before the day of the demo this year's season opened, so that it is always in full swing."""
SEASON_LENGTH = 170


@dataclass(slots=True)
class _Machine:
    """One machine of the estate while its story is played."""

    id: str
    tag: str
    story: str
    run_days: float
    reach: int
    place: str
    chance: random.Random
    known: sheets.Sheets


def mark_as_demo(register: Writer) -> None:
    """Let every screen say that this is a demo."""
    with register.writing():
        register.db.keep_about(DEMO, "1")
    register.is_demo = True


def build(register: Writer, now: datetime) -> None:
    """Play the estate's two seasons into an empty register, up to `now`."""
    estate = sheets.toml_table(files.folder("demo") / "estate.toml")
    today = now.astimezone(register.zone).replace(hour=6, minute=30, second=0, microsecond=0)
    opened = today - SEASON_AGO
    began = opened - timedelta(days=365 + 14)
    known = sheets.load()
    supervisor = _enrol(register, estate["people"], began)
    with register.writing():  # one transaction for all of it: the disk is waited for once
        _tell([_story(register, plain, known, supervisor, opened, today, now) for plain in estate["machines"]])


Story = Iterator[datetime]
"""What happens on one machine: it goes on to its next write, and says when that will be."""


def _tell(stories: list[Story]) -> None:
    """All stories together, in the order of their writes: the clock of a terminal does not go back."""
    waiting = [(next(story), number, story) for number, story in enumerate(stories)]
    heapq.heapify(waiting)
    while waiting:
        _, number, story = heapq.heappop(waiting)
        at = next(story, None)
        if at is not None:
            heapq.heappush(waiting, (at, number, story))


def _story(
    register: Writer, plain: Mapping[str, Any], known: sheets.Sheets, by: str, opened: datetime, today: datetime,
    now: datetime,
) -> Story:  # fmt: skip
    began = today - timedelta(days=20) if plain["story"] == "new this month" else opened - timedelta(days=365 + 7)
    yield began
    machine = _add(register, plain, known, by, opened, began)
    yield from _play(register, machine, opened, today)
    yield from _ending(register, machine, today, now)


def _enrol(register: Writer, known: list[Mapping[str, str]], began: datetime) -> str:
    first = known[0]["name"]
    for one in known:
        people.enrol(register, one["name"], one["role"], by=first, now=began)
    return first


def _add(
    register: Writer, plain: Mapping[str, Any], known: sheets.Sheets, by: str, opened: datetime, began: datetime
) -> _Machine:
    card = dict(plain["card"])
    closes = opened + timedelta(days=SEASON_LENGTH)
    days = plain["run_days"] * SEASON_LENGTH
    card["season"] = {
        "opens": f"{opened:%m-%d}",
        "closes": f"{closes:%m-%d}",
        "hours_a_year": round(days * 9),
        "metres_a_year": round(days * plain["reach"]),
    }
    card["in_use_since"] = f"{began.astimezone(register.zone):%Y-%m-%d}"
    entry = register.add(e.Carded(card=card), by=by, now=began)
    assert entry.machine is not None
    return _Machine(
        entry.machine, card["tag"], plain["story"], plain["run_days"], plain["reach"], card["place"],
        random.Random(card["tag"]), known,
    )  # fmt: skip


def _days(opened: datetime, today: datetime, story: str) -> Iterator[datetime]:
    """The days of both seasons before today."""
    if story == "new this month":
        yield from (today - timedelta(days=back) for back in range(18, 0, -1))
        return
    before = opened - timedelta(days=365)
    yield from (before + timedelta(days=number) for number in range(SEASON_LENGTH))
    # the last days are left free for what the story ends with
    yield from (opened + timedelta(days=number) for number in range((today - opened).days - 1))


NEGLECTED = {
    "gearbox oil neglected": ("gearbox-oil-change", "gearbox-oil-level"),
    "nozzle wears": ("gun",),
    "hose to be fixed": ("grease",),
    "counter replaced": ("strainer",),
    "road check passed": ("road-gear",),
}
"""What nobody does any more on a machine in its last weeks."""


def _play(register: Writer, machine: _Machine, opened: datetime, today: datetime) -> Story:
    """Runs and services day by day."""
    days = [(day, machine.chance.random() < machine.run_days) for day in _days(opened, today, machine.story)]
    last = max(day for day, runs in days if runs)
    drafts: list[Draft] = []
    for number, (day, runs) in enumerate(days):
        if day == last:
            yield from _write(register, drafts, "Ines")
            drafts = []
            yield from _walk(register, machine, PRE_START, day, "Aldo")
        if runs:
            drafts.append(_run(machine, day, worn=machine.story == "nozzle wears" and (today - day).days < 24))
        if number % 6 == 5:
            yield from _write(register, drafts, "Ines" if number % 12 == 5 else "Aldo")
            drafts = []
            yield from _serve(register, machine, day, today)
    yield from _write(register, drafts, "Ines")


def _write(register: Writer, drafts: list[Draft], by: str) -> Story:
    if drafts:
        at = drafts[-1].happened + timedelta(minutes=7)
        yield at
        register.append(drafts, by=by, now=at)


def _run(machine: _Machine, day: datetime, *, worn: bool) -> Draft:
    chance = machine.chance
    planned = 34_000 + 500 * chance.randrange(-8, 9)
    metres = machine.reach * 1000 - 1000 * chance.randrange(0, 25)
    speed = planned * (1 + chance.gauss(-0.005, 0.02))
    started = day + timedelta(minutes=chance.randrange(40, 90))
    ended = started + timedelta(seconds=round(metres / speed * 3600))
    inlet = round(chance.gauss(650_000, 12_000), -3)
    loss = round(chance.gauss(48_000, 3000), -3)
    what = e.Run(
        started=started,
        ended=ended,
        metres=metres,
        planned_speed=planned,
        inlet=int(inlet),
        drive_loss=int(loss),
        # a bore 3 % wider lets the hose lose an eighth more
        gun=int(inlet - loss - (146_000 if worn else 130_000)),
        operator="Ines" if chance.random() < 0.5 else "Aldo",
        place=machine.place,
        stopped_by="end stop" if chance.random() < 0.97 else "operator",
    )
    return Draft(what=what, machine=machine.id, happened=ended)


def _serve(register: Writer, machine: _Machine, day: datetime, today: datetime) -> Story:
    """The mechanic's round: what is due is done, but for what this machine's story leaves undone."""
    at = day + timedelta(hours=15)
    left = NEGLECTED.get(machine.story, ()) if (today - day).days < 75 else ()
    found = yard.machine_now(register, machine.id, at, forecasts=False)
    drafts = []
    for line in found.dues:
        if line.item.id in left or line.item.done_by == PRE_START or not line.is_acute:
            continue
        if machine.chance.random() < 0.85 or line.due.held:
            item = line.item
            steps = tuple(step["en"] for step in item.steps)
            what = e.Service(item=item.id, title=item.title(), steps=steps, isolated=item.isolate, minutes=item.minutes)
            drafts.append(Draft(what=what, machine=machine.id, happened=at))
    if drafts and machine.chance.random() < 0.3:
        hours = found.state.totals.seconds // 3600
        shown = found.state.counters.hours.shown
        settled = found.state.counters.hours.settled
        value = hours * 3600 if shown is None else shown + max(hours * 3600 - settled, 0)
        drafts.insert(0, Draft(what=e.Reading(counter="hours", value=value), machine=machine.id, happened=at))
    yield from _write(register, drafts, "Tomas")


def _ending(register: Writer, machine: _Machine, today: datetime, now: datetime) -> Story:
    """What is to be seen on the machine today."""
    yesterday = today - timedelta(days=1)
    by = "Ines"
    if machine.story == "stop fails":
        yield from _walk(register, machine, PRE_START, yesterday, by, wrong=("stop-test", "hangs"))
    elif machine.story == "cleared this morning":
        yield from _walk(register, machine, PRE_START, min(today, now - timedelta(hours=1)), by)
    elif machine.story == "check interrupted":
        yield from _walk(register, machine, PRE_START, min(today, now - timedelta(hours=1)), by, stop_after=9)
    elif machine.story == "road check passed":
        yield from _walk(register, machine, "road", min(today, now - timedelta(hours=1)), by)
    elif machine.story == "fault repaired":
        yield from _walk(register, machine, PRE_START, yesterday, by, wrong=("pawl-down", "rides"))
        fault = register.state(machine.id).faults[0].id
        at = yesterday + timedelta(hours=2)
        for step in (
            e.Repair(fault=fault, says="spring of the pawl renewed, tooth dressed"),
            e.Retest(fault=fault, passed=True, seen="down and in a tooth, five times in five"),
            e.Release(fault=fault),
        ):
            at += timedelta(hours=1)
            yield at
            register.add(step, machine=machine.id, by="Tomas", now=at)
    elif machine.story == "hose to be fixed":
        scuff = e.Fault(
            part="hose",
            says="scuff 60 m from the cart, as long as a hand",
            fix_by_millimetres=register.state(machine.id).totals.millimetres + 4_000_000,
        )
        yield yesterday
        register.add(scuff, machine=machine.id, by=by, now=yesterday)
    elif machine.story == "counter replaced":
        new = e.Reading(counter="hours", value=0, change="new counter")
        yield yesterday
        register.add(new, machine=machine.id, by="Tomas", now=yesterday)
    elif machine.story == "run corrected":
        yield from _correct_a_run(register, machine, yesterday + timedelta(hours=10), by)


def _correct_a_run(register: Writer, machine: _Machine, ended: datetime, by: str) -> Story:
    """A run written down with a slip, taken back, and written down right."""
    slip = e.Run(
        started=ended - timedelta(hours=9), ended=ended, metres=32_000, place=machine.place, stopped_by="end stop"
    )
    yield ended + timedelta(minutes=5)
    wrong = register.add(slip, machine=machine.id, by=by, now=ended + timedelta(minutes=5), happened=ended)
    later = ended + timedelta(hours=1)
    yield later
    why = e.Correction(entry=wrong.id, why="32 m was written for 320 m")
    register.add(why, machine=machine.id, by="Marta", now=later)
    right = replace(slip, metres=320_000)
    register.add(right, machine=machine.id, by="Marta", now=later, happened=ended)


def _walk(
    register: Writer,
    machine: _Machine,
    sheet: str,
    at: datetime,
    by: str,
    *,
    wrong: tuple[str, str] = ("", ""),
    stop_after: int = 0,
) -> Story:
    """A walk-round, answered right but for one question."""
    yield at
    going = walk_rounds.begin(register, machine.id, machine.known.by_id[sheet], by=by, now=at)
    questions = going.walk.sheet.questions
    for number, question in enumerate(questions, 1):
        at += timedelta(seconds=machine.chance.randrange(9, 40))
        seen = wrong[1] if question.id == wrong[0] else _right(question, going.walk)
        if going.walk.next_in_gate(at, by) is None:  # all of a gate is answered: it is signed
            yield at
            walk_rounds.sign(register, going.id, by=by, now=at)
            at += timedelta(seconds=20)
        yield at
        after = walk_rounds.answer(register, going.id, question.id, seen, by=by, now=at)
        going = after.check
        if after.fault is not None or number == stop_after:
            return
    yield at + timedelta(seconds=20)
    walk_rounds.sign(register, going.id, by=by, now=at + timedelta(seconds=20))


TYPICAL: dict[str, float] = {"pressure": 650_000, "speed": 34 / 3600, "length": 0.3, "count": 3, "voltage": 12.6}


def _right(question: Question, walk: Walk) -> str:
    """A right answer to a question, as a person would type it."""
    if not question.is_number:
        return next(choice.id for choice in question.choices if choice.right)
    value = TYPICAL[question.quantity]
    least = 1.5 if question.quantity == "count" else 0.0  # a reading is not near the least that can be
    for limit, part in ((question.about, 1.0), (question.at_most, 0.7), (question.at_least, least)):
        bound = find(limit, question, walk.card, walk.newest_plan) if limit is not None else None
        if bound is not None and part:
            value = bound.value * part
            break
    if question.quantity == "count":
        return f"{value:.0f}"
    unit = units.unit_for(question.quantity, "metric", question.role)
    return f"{units.in_unit(value, unit):.2f} {unit}"
