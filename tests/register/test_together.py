"""Entries written together are what they are when each is written by itself, to the last byte."""

import contextlib
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.core.entries import Draft
from reelcare.register import sheets
from reelcare.register.acts import people, plans, walk_rounds
from reelcare.register.demo import _right
from reelcare.register.errors import Refused, RegisterError
from reelcare.register.exchange import run_logs
from reelcare.register.opening import open_writer
from reelcare.register.proof import proving
from reelcare.register.writing.writer import Writer
from tests.register.conftest import entries, sql, while_it_waits

START = datetime(2026, 3, 1, 6, tzinfo=UTC)
NOW = START + timedelta(days=40)
CARDS: tuple[dict[str, Any], ...] = (
    {"tag": "R1", "hose": {"length": "400 m"}, "in_use_since": "2026-02-20"},
    {"tag": "R2"},
)
PRE_START = sheets.load().by_id["pre-start"]

steps = st.lists(
    st.tuples(
        st.sampled_from(["answer", "answer", "answer", "ended", "left", "begun", "measured", "set-up", "run", "reading",
                         "service", "fault", "hold", "repair", "retest", "release", "card", "plan", "correct"]),
        st.integers(0, 1),  # the machine
        st.integers(0, 3) | st.integers(-200, 200),  # hours after the one before
        st.integers(0, 99),
    ),
    max_size=14,
)  # fmt: skip


def made(folder: Path) -> tuple[Writer, list[walk_rounds.Check], list[str]]:
    """A register whose ids hang on nothing but what is written: two machines, each with an open check and a fault."""
    register = open_writer(folder / "r.db", entropy=bytes)
    people.enrol(register, "Mara", "supervisor", by="Mara", now=START - timedelta(days=9))
    ids = [register.add(e.Carded(card=card), by="Mara", now=START - timedelta(days=8)).machine or "" for card in CARDS]
    checks = [walk_rounds.begin(register, one, PRE_START, by="Mara", now=START) for one in ids]
    fault = e.Fault(part="pawl", says="slips", holds="run", retest="pawl holds")
    return register, checks, [register.add(fault, machine=one, by="Mara", now=START).id for one in ids]


def what_of(kind: str, number: int, at: datetime, check: walk_rounds.Check, fault: str, known: Sequence[str]) -> e.Kind:
    question = PRE_START.questions[number % len(PRE_START.questions)].id
    hours = 20 + number
    whats: dict[str, Callable[[], e.Kind]] = {
        "answer": lambda: e.Answered(check=check.id, question=question, seen="yes", judged="right", note=" a\nb"),
        "ended": lambda: e.CheckEnded(check=check.id, verdict=("held", "passed")[number % 2]),
        "left": lambda: e.CheckEnded(check=check.id, verdict="left", why="rain"),
        "begun": lambda: e.CheckBegun(sheet=known[0], sheet_id="pre-start", checks_for="run"),
        "measured": lambda: e.Measured(about="gun", figures={"bore": "23.3 mm", "tries": number}),
        "set-up": lambda: e.SetPlanned(wishes={"out": "300 m"}, planned={"speed": "24 m/h"}),
        "run": lambda: e.Run(started=at - timedelta(hours=1 + number % 5), ended=at, metres=number * 1000),
        "reading": lambda: e.Reading(counter="hours", value=number * 3600),
        "service": lambda: e.Service(item=("grease", "chain", "hose")[number % 3]),
        "fault": lambda: e.Fault(part="hose", says="scuffed", fix_by_runs=number),
        "hold": lambda: e.Fault(part="pawl", says="bent", holds=("run", "road", "both")[number % 3]),
        "repair": lambda: e.Repair(fault=fault, says="mended"),
        "retest": lambda: e.Retest(fault=fault, passed=number % 3 > 0),
        "release": lambda: e.Release(fault=fault),
        "card": lambda: e.Carded(card={**CARDS[number % 2], "in_use_since": f"2026-02-{20 + number % 9}"}),
        "plan": lambda: e.Planned(
            plan={"id": "p", "items": [{"id": "hose", "what": "Hose", "every": {"hours": hours}}]}
        ),
        "correct": lambda: e.Correction(entry=known[number % len(known)], why="a slip"),
    }
    return whats[kind]()


def drafts_of(
    register: Writer, checks: list[walk_rounds.Check], faults: list[str], happened: list[tuple[str, int, int, int]]
) -> list[Draft]:
    known = [one.id for one in entries(register, "1 = 1 ORDER BY number DESC")]
    drafts, at = [], START
    for kind, place, hours, number in happened:
        at += timedelta(hours=hours, microseconds=1500 * number)
        what = what_of(kind, number, at, checks[place], faults[place], known)
        drafts.append(Draft(what=what, machine=checks[place].machine, happened=at))
    return drafts


def rows_of(register: Writer) -> list[list[tuple[Any, ...]]]:
    """All entries, and all that is kept of machines."""
    return [
        sql(register.db, "SELECT * FROM entry ORDER BY number"),
        sql(register.db, "SELECT * FROM machine_state ORDER BY machine"),
    ]


def good_ones(happened: list[tuple[str, int, int, int]]) -> list[Draft]:
    """What a register takes of it, one by one."""
    good = []
    with TemporaryDirectory() as folder:
        register, checks, faults = made(Path(folder))
        with register:
            for draft in drafts_of(register, checks, faults, happened):
                with contextlib.suppress(RegisterError):
                    register.append([draft], by="Mara", now=NOW)
                    good.append(draft)
    return good


@pytest.mark.long
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(steps)
@example([("service", 0, 1, 0), ("answer", 0, 1, 0)])
@example([("hold", 0, 1, 0), ("answer", 1, 0, 0), ("answer", 0, 0, 0), ("measured", 1, 0, 0), ("run", 0, 9, 4)])
def test_what_is_written_together_is_what_it_is_one_by_one(happened: list[tuple[str, int, int, int]]) -> None:
    drafts = good_ones(happened)
    with TemporaryDirectory() as first, TemporaryDirectory() as second:
        one_by_one, together = made(Path(first))[0], made(Path(second))[0]
        with one_by_one, together:
            assert rows_of(one_by_one) == rows_of(together)
            written = [one_by_one.append([draft], by="Mara", now=NOW)[0] for draft in drafts]
            assert together.append(drafts, by="Mara", now=NOW) == tuple(written)
            assert rows_of(one_by_one) == rows_of(together)
            with open_writer(Path(second) / "r.db") as anew:
                for machine in {one.machine for one in entries(anew, "kind = 'card'")}:
                    assert machine is not None
                    states = [one.state(machine) for one in (one_by_one, together, anew)]
                    assert states[0] == states[1] == states[2] == anew.fold(machine)
            assert together.rebuild() == []
            assert proving.prove(together).whole


def test_many_kinds_written_together_are_whole(yard: Any) -> None:
    going = walk_rounds.begin(yard.register, yard.machine, PRE_START, by="Mara", now=yard.now)
    at = yard.now + timedelta(minutes=1)
    answers = [e.Answered(check=going.id, question=one.id, seen="yes", judged="right") for one in PRE_START.questions]
    whats = [
        *answers[:9],
        e.Carded(card={"tag": "R1", "name": "Longer Reach"}),
        *answers[9:],
        e.Fault(part="hose", says="scuffed"),
        e.CheckEnded(check=going.id, verdict="left", why="rain"),
        e.Measured(about="gun", figures={"bore": "23.3 mm"}),
    ]
    drafts = [Draft(what=one, machine=yard.machine, happened=at) for one in whats]
    # one that comes before the others, too
    drafts.insert(20, Draft(what=answers[0], machine=yard.machine, happened=yard.now))
    written = yard.register.append(drafts, by="Mara", now=at)
    assert [one.what for one in written] == [one.what for one in drafts]
    last = entries(yard.register, "number > 0 ORDER BY number DESC LIMIT ?", len(written))
    assert last[::-1] == list(written)
    assert yard.register.state(yard.machine).checks == ()
    assert yard.register.rebuild() == []
    assert proving.prove(yard.register).whole


def test_what_came_in_before_the_one_that_is_refused_is_taken_back(yard: Any) -> None:
    going = walk_rounds.begin(yard.register, yard.machine, PRE_START, by="Mara", now=yard.now)
    answer = e.Answered(check=going.id, question="feet", seen="yes", judged="right")
    before = yard.register.of_machine(yard.machine)
    state = yard.register.state(yard.machine)
    drafts = [Draft(what=answer, machine=yard.machine, happened=yard.now) for _ in range(3)]
    late = Draft(what=answer, machine=yard.machine, happened=yard.now + timedelta(days=1))
    with pytest.raises(Refused, match="lies in the future"):
        yard.register.append([*drafts, late], by="Mara", now=yard.now)
    assert yard.register.of_machine(yard.machine) == before
    assert yard.register.state(yard.machine) == state
    yard.register.append(drafts, by="Mara", now=yard.now)
    assert proving.prove(yard.register).whole


def test_a_card_holds_for_what_is_written_after_it_in_the_same_breath(yard: Any) -> None:
    what = e.Measured(about="gun", figures={"bore": "23.3 mm"})
    measured = Draft(what=what, machine=yard.machine, happened=yard.now)
    later = (yard.now + timedelta(days=1)).date().isoformat()
    card = Draft(what=e.Carded(card={"tag": "R1", "in_use_since": later}), machine=yard.machine, happened=yard.now)
    with pytest.raises(Refused, match="before the machine's beginning"):
        yard.register.append([measured, card, measured], by="Mara", now=yard.now)
    yard.register.append([measured, measured, card], by="Mara", now=yard.now)
    assert yard.register.rebuild() == []


@pytest.mark.parametrize("together", [False, True])
@pytest.mark.parametrize("first", ["late", "last", "taken back"])
def test_the_newest_card_holds_for_what_comes_after_it_where_a_machine_is_folded_again(
    yard: Any, first: str, together: bool
) -> None:
    measured, day = e.Measured(about="gun", figures={"bore": "23 mm"}), timedelta(days=1)
    yard.add(measured, at=yard.start + 4 * day)
    longer = e.Carded(card={"tag": "R1", "hose": {"length": "450 m"}, "in_use_since": "2026-05-03"})
    shorter = e.Carded(card={"tag": "R1", "hose": {"length": "300 m"}})
    at, now = yard.start + 5 * day, yard.start + 6 * day
    happened: list[tuple[e.Kind, datetime]] = [(measured, yard.start + day), (longer, at - day / 2)]
    if first == "late":
        happened = [(longer, yard.start + 3 * day)]
    elif first == "taken back":
        yard.add(longer, at=yard.start + 2 * day)
        happened = [(e.Correction(entry=yard.add(shorter, at=at - day).id, why="another machine's"), at - day / 2)]
    happened.append((e.Run(started=at - timedelta(hours=9), ended=at, metres=440_000), at))
    drafts = [Draft(what=what, machine=yard.machine, happened=moment) for what, moment in happened]
    for some in [drafts] if together else [[one] for one in drafts]:
        yard.register.append(some, by="Mara", now=now)
    early = Draft(what=measured, machine=yard.machine, happened=yard.start + day)
    with pytest.raises(Refused, match="before the machine's beginning"):
        yard.register.append([*drafts[:-1], early] if first == "last" else [early], by="Mara", now=now)
    assert yard.register.state(yard.machine).totals.millimetres == 440_000
    assert yard.register.rebuild() == []


def test_two_moments_that_a_clock_shows_alike_are_two(yard: Any) -> None:
    """Clocks of Madrid (IANA time-zone data): 25 October 2026 has 02:00 to 03:00 twice."""
    first = datetime(2026, 10, 25, 2, 30, tzinfo=ZoneInfo("Europe/Madrid"))
    what = e.Measured(about="gun", figures={"bore": "23 mm"})
    drafts = [Draft(what=what, machine=yard.machine, happened=first.replace(fold=fold)) for fold in (0, 1)]
    with pytest.raises(Refused, match=r"01:30\S* lies in the future"):
        yard.register.append(drafts, by="Mara", now=datetime(2026, 10, 25, 0, 40, tzinfo=UTC))
    yard.register.append(drafts, by="Mara", now=datetime(2026, 10, 25, 1, 40, tzinfo=UTC))
    assert len({one.happened for one in yard.register.of_machine(yard.machine)[1:]}) == 2


def test_a_state_is_what_the_register_has_whoever_wrote_it_last(yard: Any) -> None:
    first = yard.register.state(yard.machine)
    yard.add(e.Fault(part="hose", says="scuffed"))
    mine = yard.register.state(yard.machine)
    assert (first.faults, [one.says for one in mine.faults]) == ((), ["scuffed"])
    assert yard.register.state(yard.machine) is mine
    at = yard.now

    def beside(what: e.Kind) -> None:
        nonlocal at
        at += timedelta(minutes=1)
        with yard.again() as other:
            other.add(what, machine=yard.machine, by="Mara", now=at)
            assert yard.register.state(yard.machine) == other.state(yard.machine) != mine

    beside(e.Fault(part="pawl", says="bent"))
    beside(e.Carded(card={"tag": "R1", "name": "Far Reach"}))
    assert yard.register.state(yard.machine).card["name"] == "Far Reach"
    # what an entry is held against at the door is the newest card, too
    yard.register.add(
        measured := e.Measured(about="gun", figures={"bore": "23 mm"}), machine=yard.machine, by="Mara", now=at
    )
    beside(e.Carded(card={"tag": "R1", "in_use_since": (at + timedelta(days=1)).date().isoformat()}))
    with pytest.raises(Refused, match="before the machine's beginning"):
        yard.register.add(measured, machine=yard.machine, by="Mara", now=at)


def test_a_state_that_was_rolled_back_is_forgotten(yard: Any) -> None:
    yard.add(e.Fault(part="hose", says="scuffed"))
    before = yard.register.state(yard.machine)

    class Cut(Exception):
        """The power, as far as this transaction goes."""

    def cut() -> None:
        with yard.register.writing():
            yard.add(e.Fault(part="pawl", says="bent"))
            assert len(yard.register.state(yard.machine).faults) == 2
            raise Cut

    with pytest.raises(Cut):
        cut()
    assert yard.register.state(yard.machine) == before
    yard.add(e.Fault(part="drum", says="dented"))
    assert [one.part for one in yard.register.state(yard.machine).faults] == ["hose", "drum"]
    assert yard.register.rebuild() == []


def test_a_run_counts_at_once_as_it_will_when_it_is_read_again(yard: Any) -> None:
    """Kept are milliseconds: from 0.0009 s to 1.0001 s it is a second, as they are kept."""
    started = yard.start + timedelta(microseconds=900)
    run = e.Run(started=started, ended=started + timedelta(microseconds=999_200), metres=0)
    yard.now += timedelta(hours=1)
    entry = yard.add(run, at=run.ended)
    assert yard.register.entry(entry.id) == entry
    assert yard.register.state(yard.machine).totals.seconds == 1
    with yard.again() as anew:
        assert anew.state(yard.machine) == yard.register.state(yard.machine)
    assert yard.register.rebuild() == []


def test_a_run_log_that_two_programs_bring_at_once_counts_once(yard: Any, tmp_path: Path) -> None:
    """The second has read it, and waits for its turn, while the first one writes."""
    log = tmp_path / "runs.csv"
    log.write_text("machine,started,ended,metres\nR1,2026-05-02T06:00Z,2026-05-02T16:00Z,300\n", "utf-8")
    now, first = yard.start + timedelta(days=9), list[run_logs.Brought]()
    with while_it_waits(yard, lambda other: first.append(run_logs.bring(other, log, by="Mara", now=now))):
        second = run_logs.bring(yard.register, log, by="Mara", now=now)
    assert [(one.brought, one.skipped) for one in (*first, second)] == [(1, 0), (0, 1)]
    assert yard.register.state(yard.machine).totals.seconds == 10 * 3600


def test_a_plan_is_held_against_the_one_that_came_into_force_while_it_waited(yard: Any) -> None:
    """The first plan brings an item that holds the machine; nobody has said that the second one may drop it."""
    oil = {"id": "oil", "what": "Oil", "part": "gearbox", "every": {"hours": 5}}
    lube = {"id": "lube", "what": "Lube", "part": "gearbox", "every": {"hours": 10}, "grace": 0, "stop": True}
    first, second = {"id": "first", "items": [oil, lube]}, {"id": "second", "items": [oil]}
    told, m = {"by": "Mara", "now": yard.now}, yard.machine
    yard.register.add(e.Planned(plan={"id": "before", "items": [oil]}), by="Mara", now=yard.now)
    with (
        while_it_waits(yard, lambda other: plans.put_in_force(other, first, m, **told)),
        pytest.raises(Refused, match="--drop lube"),
    ):
        plans.put_in_force(yard.register, second, m, **told)
    assert yard.register.plans().newest(m).id == "first"


def test_two_programs_that_give_the_first_answer_at_once_begin_one_check(yard: Any) -> None:
    sheet = sheets.load().by_id["pre-start"]
    going = walk_rounds.prepare(yard.register, yard.machine, sheet, by="Olav", at=yard.now)
    first = going.walk.sheet.questions[0]

    def answer(register: Writer) -> None:
        walk_rounds.answer(register, going, first.id, _right(first, going.walk), by="Olav", now=yard.now)

    with while_it_waits(yard, answer), pytest.raises(Refused, match="is open since"):
        answer(yard.register)
    assert len(yard.register.state(yard.machine).open_checks) == 1


def test_a_check_that_ends_held_while_an_answer_waits_for_its_turn_takes_no_more(yard: Any) -> None:
    sheet = sheets.load().by_id["pre-start"]
    going = walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now)
    test = next(one for one in going.walk.sheet.questions if one.kind == "test")
    wrong = next(one.id for one in test.choices if not one.right)

    def answer(register: Writer) -> None:
        walk_rounds.answer(register, going.id, test.id, wrong, by="Olav", now=yard.now)

    with while_it_waits(yard, answer), pytest.raises(Refused, match="has ended"):
        answer(yard.register)
    assert len(yard.register.state(yard.machine).faults) == 1
