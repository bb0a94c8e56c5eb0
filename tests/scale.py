"""Registers of any size for the benchmarks: machines with seasons of runs, services and faults behind them. Invented.

Everything comes in by the register's own doors: cards and services by `append`, run logs by `write_runs` as `bring`
uses it. Chance is seeded, so that the same size is the same register but for ids and digests.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from reelcare.core import entries as e
from reelcare.core.entries import Draft
from reelcare.register import sheets
from reelcare.register.acts import people, walk_rounds
from reelcare.register.demo import _right
from reelcare.register.exchange.run_logs import write_runs
from reelcare.register.opening import open_writer
from reelcare.register.timestamps import milliseconds
from reelcare.register.writing.writer import Writer

BATCH = 500
"""Machines of which is written in one transaction."""


def build(
    where: Path | str, machines: int, seasons: int, runs: int, *, now: datetime,
    progress: Callable[[str], None] = lambda text: None,
) -> None:  # fmt: skip
    """A register of so many machines, each with so many seasons of so many runs, up to the day before `now`."""
    with open_writer(where) as register:
        began = now - timedelta(days=365 * seasons + 30)
        people.enrol(register, "Ann", "supervisor", by="Ann", now=began)
        register.add(e.Planned(plan=sheets.default_plan()[1]), by="Ann", now=began)
        parts = [range(first, min(first + BATCH, machines)) for first in range(0, machines, BATCH)]
        ids: list[str] = []
        for numbers in parts:
            cards = [Draft(what=e.Carded(card=_card(number)), happened=began) for number in numbers]
            ids += [str(one.machine) for one in register.append(cards, by="Ann", now=began)]
        for numbers in parts:  # the clock of the terminal never goes back: what stands before it would be doubtful
            told = [run for number in numbers for run in _runs(ids[number], number, seasons, runs, now)]
            write_runs(register, told, by="Ann", now=now - timedelta(days=1))
            progress(f"runs of {numbers[-1] + 1} of {machines} machines")
        for numbers in parts:
            _serve(register, ids[numbers.start : numbers.stop], numbers, now - timedelta(hours=20))
            progress(f"services of {numbers[-1] + 1} of {machines} machines")


def _card(number: int) -> dict[str, object]:
    return {
        "tag": f"M{number:05}", "name": f"Reel {number}", "place": f"Field {number % 97}", "hose": {"length": "400 m"},
        "legs": {"kind": "hydraulic"}, "drive": {"kind": "turbine", "most_loss": "10 psi"}, "cart": {"kind": "gun"},
        "season": {"opens": "04-15", "closes": "09-30"},
    }  # fmt: skip


def _runs(machine: str, number: int, seasons: int, runs: int, now: datetime) -> Iterator[tuple[str, e.Run]]:
    chance = random.Random(number)
    gap = timedelta(days=168 / max(runs, 1))
    for season in range(seasons, 0, -1):
        at = now - timedelta(days=365 * season - 5) + timedelta(hours=chance.randrange(24))
        for _ in range(runs):
            length = min(gap * 0.8, timedelta(minutes=chance.randrange(360, 840)))
            ended = (at + length).replace(microsecond=0)
            if ended > now - timedelta(days=2):
                return
            run = e.Run(
                started=at.replace(microsecond=0), ended=ended, metres=chance.randrange(200_000, 390_000),
                inlet=chance.randrange(600_000, 700_000), gun=chance.randrange(400_000, 500_000), operator="Ann",
                stopped_by="end stop",
            )  # fmt: skip
            yield machine, run
            at += gap


def _serve(register: Writer, ids: list[str], numbers: range, at: datetime) -> None:
    """A service of every item but one or two on each machine, a fault on one in fifty."""
    drafts = []
    for id, number in zip(ids, numbers, strict=True):
        chance = random.Random(~number)
        items = register.plans().newest(id).items
        left = set(chance.sample([one.id for one in items], k=1 if number % 20 else 4))
        drafts += [
            Draft(what=e.Service(item=one.id, title=one.title()), machine=id, happened=at)
            for one in items
            if one.id not in left
        ]
        if number % 50 == 0:
            drafts.append(Draft(what=e.Fault(part="pawl", says="spring gone", holds="run"), machine=id, happened=at))
    register.append(drafts, by="Ann", now=at)


def check_often(register: Writer, machine: str, times: int, last: datetime) -> None:
    """So many pre-start checks of a machine, a day apart up to the last, with a run after each. The first is answered
    by the doors; the others are its entries once more."""
    began = last - timedelta(days=times - 1)
    going = walk_rounds.begin(register, machine, sheets.load().by_id["pre-start"], by="Ann", now=began)
    for _gate in going.walk.sheet.gates:
        while (question := going.walk.next_in_gate(began, "Ann")) is not None:
            seen = _right(question, going.walk)
            going = walk_rounds.answer(register, going.id, question.id, seen, by="Ann", now=began).check
        walk_rounds.sign(register, going.id, by="Ann", now=began)
        going = walk_rounds.check(register, going.id)
    of_it = [one.what for one in register.of_machine(machine) if one.happened == began]
    drafts: list[Draft] = []
    for day in range(times):
        at = began + timedelta(days=day)
        id = register.ids.next(milliseconds(at))
        again = [
            Draft(what=one, machine=machine, happened=at, id=id)
            if isinstance(one, e.CheckBegun)
            else Draft(what=replace(one, check=id), machine=machine, happened=at)
            for one in of_it
            if isinstance(one, (e.CheckBegun, e.Answered, e.GateSigned, e.CheckEnded))
        ]
        run = e.Run(started=at + timedelta(hours=1), ended=at + timedelta(hours=9), metres=300_000, operator="Ann")
        drafts += [*(again if day else ()), Draft(what=run, machine=machine, happened=run.ended)]
    register.append(drafts, by="Ann", now=last + timedelta(days=1))


if __name__ == "__main__":
    where, *figures = sys.argv[1:]
    machines, seasons, runs = (int(one) for one in figures)
    build(Path(where), machines, seasons, runs, now=datetime.now(UTC), progress=lambda text: print(text, flush=True))
