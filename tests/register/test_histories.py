"""Random histories: whatever is written in whatever order, the rollup is what the entries give, and holds hold."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plain_form import from_plain, to_plain
from reelcare.register import people, proving, reading, schema
from reelcare.register.errors import RegisterError
from reelcare.register.register import Register

START = datetime(2026, 3, 1, 6, tzinfo=UTC)
CARD: dict[str, Any] = {"tag": "R1", "hose": {"length": "400 m"}}

steps = st.lists(
    st.tuples(
        st.sampled_from(["run", "reading", "new counter", "service", "fault", "hold", "repair", "retest", "release",
                         "correct", "plan", "answer"]),
        st.integers(0, 200),  # the day on which it happened
        st.integers(0, 10_000),
    ),
    max_size=25,
)  # fmt: skip
ITEMS = ("grease", "gearbox-oil-change", "gearbox-oil-level", "chain", "hose")


def write(register: Register, machine: str, step: tuple[str, int, int], now: datetime) -> None:
    kind, day, number = step
    at = START + timedelta(days=day, hours=number % 20)
    tally = register.tally(machine)
    open_fault = tally.faults[number % len(tally.faults)].id if tally.faults else "none"
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
        what = _answer(tally, number)
    elif kind == "plan":
        plan = {"id": "p", "items": [{"id": one, "what": one, "every": {"hours": 20 + number % 80}} for one in ITEMS]}
        register.add(e.Planned(plan=plan), by="Mara", now=now, happened=at)
        return
    else:
        known = [*register.of_machine(machine), *register.entries("kind = 'plan' ORDER BY id")]
        what = e.Correction(entry=known[number % len(known)].id, why="a slip")
        at = now
    register.add(what, machine=machine, by="Mara", now=now, happened=at)


def _answer(tally: MachineState, number: int) -> e.Kind:
    """An answer of a check that is open; one time in three, and where there is none, another check begins."""
    if not tally.checks or number % 3 == 0:
        return e.CheckBegun(sheet="0", sheet_id="pre-start", checks_for="run")
    check = tally.checks[number % len(tally.checks)].id
    return e.Answered(check=check, question=f"q{number % 5}", seen="yes", judged="right")


def fresh(folder: str) -> Iterator[tuple[Register, str]]:
    with Register(Path(folder) / "r.db") as register:
        people.enrol(register, "Mara", "supervisor", by="Mara", now=START - timedelta(days=10))
        machine = register.add(e.Carded(card=CARD), by="Mara", now=START - timedelta(days=10)).machine
        assert machine is not None
        yield register, machine


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(steps)
def test_the_rollup_is_what_the_entries_give_after_every_step(history: list[tuple[str, int, int]]) -> None:
    with TemporaryDirectory() as folder:
        for register, machine in fresh(folder):
            now = START + timedelta(days=300)
            for step in history:
                now += timedelta(minutes=1)
                holds = {one.id for one in register.tally(machine).faults if one.holds}
                try:
                    write(register, machine, step, now)
                except RegisterError:
                    continue
                after = {one.id for one in register.tally(machine).faults if one.holds}
                gone = holds - after
                # only a release ends a hold
                assert not gone or step[0] == "release"
                kept = register.tally(machine)
                text = to_plain(kept)
                assert from_plain(text) == kept
                assert schema.rows(register.db, "SELECT tally FROM machine_now") == [(text,)]
                if after:
                    assert reading.machine_now(register, machine, now).standing.run == "held"
            with Register(register.path) as opened_anew:
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
                totals.append((register.tally(machine).totals, register.tally(machine).use))
    assert totals[0] == totals[1]
