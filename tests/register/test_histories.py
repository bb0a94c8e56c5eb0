"""Random histories: whatever is written in whatever order, what is kept is what the entries give, and holds hold."""

import contextlib
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plain_form import from_plain, to_plain
from reelcare.register.acts import people
from reelcare.register.errors import RegisterError
from reelcare.register.opening import open_writer
from reelcare.register.proof import proving
from reelcare.register.reading import yard as yards
from reelcare.register.writing.writer import Writer
from tests.register.conftest import entries, sql

pytestmark = pytest.mark.long

START = datetime(2026, 3, 1, 6, tzinfo=UTC)
CARD: dict[str, Any] = {"tag": "R1", "hose": {"length": "400 m"}}

step = st.tuples(
    st.sampled_from(["run", "reading", "new counter", "service", "fault", "hold", "repair", "retest", "release",
                     "correct", "plan", "answer"]),
    st.integers(0, 200),  # the day on which it happened
    st.integers(0, 10_000),
)  # fmt: skip
steps = st.lists(step, max_size=25)
ITEMS = ("grease", "gearbox-oil-change", "gearbox-oil-level", "chain", "hose")


def write(register: Writer, machine: str, step: tuple[str, int, int], now: datetime) -> None:
    kind, day, number = step
    at = START + timedelta(days=day, hours=number % 20)
    state = register.state(machine)
    open_fault = state.faults[number % len(state.faults)].id if state.faults else "none"
    what: e.Kind
    if kind == "run":
        what = e.Run(started=at - timedelta(hours=1 + number % 9), ended=at, metres=number * 10)
    elif kind in ("reading", "new counter"):
        change = "new counter" if kind == "new counter" else ""
        what = e.Reading(counter="hours", value=(day * 12 + number % 12) * 3600, change=change)  # type: ignore[arg-type]
    elif kind == "service":
        what = e.Service(item=ITEMS[number % len(ITEMS)])
    elif kind in ("fault", "hold"):
        what = e.Fault(part="pawl", says="slips", holds="run" if kind == "hold" else "", fix_by_runs=number % 50)
    elif kind == "repair":
        what = e.Repair(fault=open_fault, says="mended")
    elif kind == "retest":
        what = e.Retest(fault=open_fault, passed=number % 3 > 0)
    elif kind == "release":
        what = e.Release(fault=open_fault)
    elif kind == "answer":
        what = _answer(state, number)
    elif kind == "plan":
        plan = {"id": "p", "items": [{"id": one, "what": one, "every": {"hours": 20 + number % 80}} for one in ITEMS]}
        register.add(e.Planned(plan=plan), by="Mara", now=now, happened=at)
        return
    else:
        known = [*register.of_machine(machine), *entries(register, "kind = 'plan' ORDER BY id")]
        what = e.Correction(entry=known[number % len(known)].id, why="a slip")
        at = now
    register.add(what, machine=machine, by="Mara", now=now, happened=at)


def _answer(state: MachineState, number: int) -> e.Kind:
    """An answer of a check that is open; one time in three, and where there is none, another check begins."""
    if not state.checks or number % 3 == 0:
        return e.CheckBegun(sheet="0", sheet_id="pre-start", checks_for="run")
    check = state.checks[number % len(state.checks)].id
    return e.Answered(check=check, question=f"q{number % 5}", seen="yes", judged="right")


def fresh(folder: str) -> Iterator[tuple[Writer, str]]:
    with open_writer(Path(folder) / "r.db") as register:
        people.enrol(register, "Mara", "supervisor", by="Mara", now=START - timedelta(days=10))
        machine = register.add(e.Carded(card=CARD), by="Mara", now=START - timedelta(days=10)).machine
        assert machine is not None
        yield register, machine


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(steps)
def test_what_is_kept_is_what_the_entries_give_after_every_step(history: list[tuple[str, int, int]]) -> None:
    with TemporaryDirectory() as folder:
        for register, machine in fresh(folder):
            now = START + timedelta(days=300)
            for step in history:
                now += timedelta(minutes=1)
                holds = {one.id for one in register.state(machine).faults if one.holds}
                try:
                    write(register, machine, step, now)
                except RegisterError:
                    continue
                after = {one.id for one in register.state(machine).faults if one.holds}
                gone = holds - after
                # only a release ends a hold
                assert not gone or step[0] == "release"
                kept = register.kept_state(machine)
                assert kept is not None
                [(_id, anew)] = register.folds([machine])
                assert kept == register.state(machine) == register.fold(machine) == anew
                assert from_plain(to_plain(kept)) == kept
                assert sql(register.db, "SELECT state FROM machine_state") == [(to_plain(kept),)]
                if after:
                    assert yards.machine_now(register, machine, now).standing.run == "held"
            with open_writer(register.path) as opened_anew:
                assert opened_anew.rebuild() == []
            assert register.rebuild() == []
            assert proving.prove(register).whole


@settings(max_examples=30, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.tuples(st.integers(0, 60), st.integers(1, 9)), unique_by=lambda one: one[0], min_size=1, max_size=12
    ),
    st.randoms(),
)  # fmt: skip
def test_the_order_in_which_runs_are_written_does_not_matter(runs: list[tuple[int, int]], chance: Any) -> None:
    totals = []
    for order in (list(runs), chance.sample(runs, len(runs))):
        with TemporaryDirectory() as folder:
            for register, machine in fresh(folder):
                now = START + timedelta(days=100)
                for day, hours in order:
                    started = START + timedelta(days=day)
                    run = e.Run(started=started, ended=started + timedelta(hours=hours), metres=hours * 30_000)
                    register.add(run, machine=machine, by="Mara", now=now, happened=run.ended)
                totals.append((register.state(machine).totals, register.state(machine).use))
    assert totals[0] == totals[1]


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(step, st.booleans()), max_size=20))
def test_what_two_programs_remember_is_what_the_entries_give(history: list[tuple[tuple[str, int, int], bool]]) -> None:
    """Each folds on from what it folded, until the other one writes."""
    with TemporaryDirectory() as folder:
        for first, machine in fresh(folder):
            with open_writer(first.path) as second:
                now = START + timedelta(days=300)
                for step, is_second in history:
                    now += timedelta(minutes=1)
                    with contextlib.suppress(RegisterError):
                        write(second if is_second else first, machine, step, now)
                    for one in (first, second):
                        [(_id, anew)] = one.folds([machine])
                        assert one.fold(machine) == one.state(machine) == anew
