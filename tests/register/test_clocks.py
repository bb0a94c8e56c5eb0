"""A clock that is ahead gives no false clear and blocks no true one: a chain knows the true order."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.errors import ClockBehind
from reelcare.register.exchange import carry_files, carry_format, waiting
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from reelcare.register.reading import doubts, foreign
from reelcare.register.reading import yard as yards
from tests.register.conftest import accept_all, carry_in
from tests.register.test_gates import answer_gate, begin, sign, signed_up_to, standing
from tests.servers import in_a_file

H, DAY = timedelta(hours=1), timedelta(days=1)


def test_a_signature_behind_the_last_entry_asks_whether_the_clock_is_right(yard: Any) -> None:
    going = begin(yard)
    yard.now += DAY
    yard.register.add(e.Fault(part="hose", says="scuffed"), machine=yard.machine, by="Olav", now=yard.now)
    yard.now -= DAY
    going = answer_gate(yard, going)
    with pytest.raises(ClockBehind, match="the last entry here is of 2026-05-02"):
        sign(yard, going)
    yard.register.clock_is_right = True
    sign(yard, going)
    going = answer_gate(yard, going)
    sign(yard, going)
    assert standing(yard)[0] == "clear"


def test_what_another_program_began_to_write_before_takes_nothing_back(yard: Any) -> None:
    """It waited for its turn or for a PIN, or the clocks of two computers at one server differ by seconds."""
    fault = yard.add(e.Fault(part="pawl", says="spring gone", holds="run"))
    for what in (
        e.Repair(fault=fault.id, says="spring"), e.Retest(fault=fault.id, passed=True), e.Release(fault=fault.id)
    ):  # fmt: skip
        yard.add(what)
    signed_up_to(yard, "water")
    assert standing(yard)[0] == "clear"
    with yard.again() as other:
        for late in (timedelta(seconds=5), doubts.BEHIND):
            entry = other.add(e.Noted(says="x"), machine=yard.machine, by="Mara", now=yard.now - late)
            assert entry.happened == yard.now - late
            assert (standing(yard)[0], yard.register.state(yard.machine).faults) == ("clear", ())
    assert yard.register.rebuild() == []
    assert prove(yard.register).whole
    with yard.again() as other:  # so far back it is another clock, and which was right cannot be told
        late = doubts.BEHIND + timedelta(seconds=1)
        other.add(e.Noted(says="x"), machine=yard.machine, by="Mara", now=yard.now - late)
    assert standing(yard)[0] == "check due"


@in_a_file
def test_what_is_doubtful_is_asked_for_by_its_ids_and_not_by_going_through_all_entries(
    yard: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every look asks it, once another program has written: SQLite took the entries first, all of them, in a join."""
    db, fetch, ways = yard.register.db, yard.register.db.fetch, list[str]()

    def explained(query: Any) -> Any:
        sql, values = db.get_sql_context().sql(query).query()
        ways.extend(str(way) for *_, way in db.execute_sql(f"EXPLAIN QUERY PLAN {sql}", values))
        return fetch(query)

    monkeypatch.setattr(db, "fetch", explained)
    assert doubts.in_this_register(db) == ({}, frozenset())
    # t1 is the table that is asked, the entries
    assert [one for one in ways if one.startswith("SEARCH t1 USING INDEX")]
    assert [one for one in ways if one.startswith("SCAN t1")] == []


def test_carrying_in_and_deciding_ask_once_whether_the_clock_is_right(yard: Any, tmp_path: Path) -> None:
    with open_writer(tmp_path / "other.db") as other:
        people.enrol(other, "Bo", "supervisor", by="Bo", now=yard.now)
        carry_files.carry_out(other, tmp_path / "a.carry", now=yard.now)
    bundle = carry_format.read(tmp_path / "a.carry")
    run_now(type(yard)(yard.register, yard.machine, now=yard.now + DAY))
    before = yard.register.count_entries()
    with pytest.raises(ClockBehind):
        carry_files.carry_in(yard.register, bundle, by="Olav", now=yard.now)
    assert yard.register.count_entries() == before
    yard.register.clock_is_right = True
    carry_files.carry_in(yard.register, bundle, by="Olav", now=yard.now)
    person = next(iter(foreign.kept(yard.register.db)))
    waiting.decide(yard.register, [person], accepted=True, why="known", by="Mara", now=yard.now)
    assert yard.register.roles()["Bo"] == "supervisor"


def test_a_hold_is_written_whatever_the_clock_says(yard: Any) -> None:
    yard.now += DAY
    run_now(yard)
    yard.now -= DAY
    fault = e.Fault(part="pawl", says="spring gone", holds="run")
    yard.register.add(fault, machine=yard.machine, by="Olav", now=yard.now)
    assert standing(yard)[0] == "held"


def run_now(yard: Any) -> None:
    yard.register.add(
        e.Run(started=yard.now - H, ended=yard.now, metres=200_000), machine=yard.machine, by="Olav", now=yard.now
    )


@pytest.mark.parametrize("ahead", [DAY, 200 * DAY])
def test_a_check_signed_with_the_clock_ahead_clears_nothing_once_the_clock_is_right(
    yard: Any, ahead: timedelta
) -> None:
    yard.now += ahead
    signed_up_to(yard, "water")
    yard.now -= ahead - H
    run_now(yard)
    assert standing(yard)[0] == "check due"
    yard.now += ahead  # the very day that the check was dated, and no check since the run
    assert standing(yard)[0] == "check due"
    assert prove(yard.register).whole


def test_a_check_signed_with_the_clock_ahead_does_not_block_the_true_one(yard: Any) -> None:
    yard.now += DAY
    signed_up_to(yard, "water")
    yard.now -= DAY - H
    yard.register.clock_is_right = True
    signed_up_to(yard, "water")
    assert standing(yard)[0] == "clear"
    assert prove(yard.register).whole


def test_a_hold_with_the_clock_ahead_holds(yard: Any) -> None:
    yard.now += DAY
    yard.register.add(
        e.Fault(part="pawl", says="spring gone", holds="run"), machine=yard.machine, by="Olav", now=yard.now
    )
    yard.now -= DAY - H
    run_now(yard)
    assert standing(yard)[0] == "held"


def test_a_check_from_a_terminal_whose_clock_is_ahead_does_not_hide_the_one_that_stands(
    yard: Any, tmp_path: Path
) -> None:
    """Nothing was written there since, so that its chain does not tell of its clock."""
    carry_files.carry_out(yard.register, tmp_path / "a.carry", now=yard.now)
    signed_up_to(yard, "water")
    assert standing(yard)[0] == "clear"
    with open_writer(tmp_path / "other.db") as other:
        carry_in(other, tmp_path / "a.carry", yard.now)
        accept_all(other, yard.now)
        there = type(yard)(other, yard.machine, now=yard.now + DAY)
        signed_up_to(there, "water")
        carry_files.carry_out(other, tmp_path / "b.carry", now=there.now)
    carry_in(yard.register, tmp_path / "b.carry", yard.now)
    assert standing(yard)[0] == "clear"
    run_now(yard)
    assert standing(yard)[0] == "check due"
    assert prove(yard.register).whole


def test_what_a_carry_file_tells_of_a_clock_counts_here(yard: Any, tmp_path: Path) -> None:
    carry_files.carry_out(yard.register, tmp_path / "a.carry", now=yard.now)
    with open_writer(tmp_path / "other.db") as other:
        carry_in(other, tmp_path / "a.carry", yard.now)
        accept_all(other, yard.now)
        there = type(yard)(other, yard.machine, now=yard.now + DAY)
        signed_up_to(there, "water")
        carry_files.carry_out(other, tmp_path / "b.carry", now=there.now)
        other.add(e.Fault(part="hose", says="scuffed"), machine=yard.machine, by="Olav", now=yard.now)
        carry_files.carry_out(other, tmp_path / "c.carry", now=yard.now)
    for number, (name, word) in enumerate([("b", "clear"), ("c", "check due")]):
        carry_in(yard.register, tmp_path / f"{name}.carry", yard.now)
        assert yards.machine_now(yard.register, yard.machine, yard.now + DAY + H).standing.run == word, number
    assert prove(yard.register).whole


def test_what_is_kept_of_doubts_is_proved_and_rebuilt(yard: Any) -> None:
    yard.now += DAY
    signed_up_to(yard, "water")
    yard.now -= DAY - H
    run_now(yard)
    kept = doubts.kept(yard.register.db)
    assert kept == doubts.found(yard.register.db)
    assert len(kept) == 2
    yard.register.db.execute_sql("DELETE FROM doubtful")
    with yard.again() as again:
        assert "doubtful time" in prove(again).findings[0].what
        again.rebuild()
        assert doubts.kept(again.db) == kept
        assert prove(again).whole


@pytest.fixture
def from_ahead(yard: Any, tmp_path: Path) -> Any:
    """A check signed on another terminal whose clock is a day ahead has come in; nothing was written there since."""
    carry_files.carry_out(yard.register, tmp_path / "a.carry", now=yard.now)
    with open_writer(tmp_path / "other.db") as other:
        carry_in(other, tmp_path / "a.carry", yard.now)
        accept_all(other, yard.now)
        there = type(yard)(other, yard.machine, now=yard.now + DAY)
        signed_up_to(there, "water")
        carry_files.carry_out(other, tmp_path / "b.carry", now=there.now)
        ahead = there.now
    carry_in(yard.register, tmp_path / "b.carry", yard.now)
    return ahead


def test_a_run_uses_up_a_check_that_was_here_and_dated_after_now(yard: Any, from_ahead: Any, tmp_path: Path) -> None:
    yard.now += 3 * H
    run_now(yard)
    yard.now = from_ahead + H  # the very day that the check was dated, and no check since the run
    assert standing(yard)[0] == "check due"
    assert prove(yard.register).findings == ()
    # and so it is wherever both come together, in whatever order
    carry_files.carry_out(yard.register, tmp_path / "c.carry", now=yard.now)
    for number, names in enumerate(("abc", "cb", "acb")):
        with open_writer(tmp_path / f"third-{number}.db") as third:
            for name in names:
                carry_in(third, tmp_path / f"{name}.carry", yard.now)
            accept_all(third, yard.now)
            assert yards.machine_now(third, yard.machine, yard.now).standing.run == "check due"
            assert prove(third).findings == ()
            assert third.rebuild() == []


def test_a_check_dated_after_now_that_no_run_came_after_clears_on_its_day(yard: Any, from_ahead: Any) -> None:
    assert standing(yard)[0] == "check due"
    yard.now = from_ahead + H
    assert standing(yard)[0] == "clear"


def test_a_run_entered_late_leaves_the_check_that_was_signed_since(yard: Any) -> None:
    yard.now += DAY
    signed_up_to(yard, "water")
    ended = yard.now - 10 * H
    yard.now += H
    late = e.Run(started=ended - 5 * H, ended=ended, metres=200_000)
    entry = yard.register.add(late, machine=yard.machine, by="Olav", now=yard.now, happened=ended)
    assert entry.what.doubts == ()
    assert standing(yard)[0] == "clear"
    run_now(yard)
    assert standing(yard)[0] == "check due"


def test_a_run_entered_late_uses_up_what_is_dated_after_now_all_the_same(yard: Any, from_ahead: Any) -> None:
    ended = yard.now
    yard.now += 3 * H
    late = e.Run(started=ended - H, ended=ended, metres=200_000)
    yard.register.add(late, machine=yard.machine, by="Olav", now=yard.now, happened=ended)
    yard.now = from_ahead + H
    assert standing(yard)[0] == "check due"
    assert prove(yard.register).findings == ()


def test_a_run_with_the_clock_ahead_uses_up_what_was_signed_before_it_and_nothing_since(yard: Any) -> None:
    signed_up_to(yard, "water")
    yard.now += 9 * DAY
    run_now(yard)
    yard.now -= 9 * DAY - H
    yard.register.add(e.Fault(part="hose", says="scuffed"), machine=yard.machine, by="Olav", now=yard.now)
    assert standing(yard)[0] == "check due"
    yard.register.clock_is_right = True
    signed_up_to(yard, "water")
    assert standing(yard)[0] == "clear"
    assert prove(yard.register).findings == ()
    run_now(yard)
    assert standing(yard)[0] == "check due"
    assert yard.register.rebuild() == []


def test_a_run_with_the_clock_ahead_is_no_use_after_the_check_since(yard: Any) -> None:
    """What every check does before every run, the stop test, is not past due by runs that were over before it."""
    for _unused in range(2):
        yard.now += 9 * DAY
        run_now(yard)
        yard.now -= 9 * DAY - 5 * H
    yard.register.clock_is_right = True
    signed_up_to(yard, "water")
    assert standing(yard)[0] == "clear"
    assert prove(yard.register).whole
    assert yard.register.rebuild() == []


def test_a_run_with_the_clock_ahead_is_settled_by_the_reading_since(yard: Any) -> None:
    yard.now += 9 * DAY
    run_now(yard)
    yard.now -= 9 * DAY - 5 * H
    yard.register.add(e.Reading(counter="hours", value=40 * 3600), machine=yard.machine, by="Olav", now=yard.now)
    yard.now += H
    yard.register.add(e.Fault(part="hose", says="scuffed"), machine=yard.machine, by="Olav", now=yard.now)
    assert yard.register.state(yard.machine).totals.seconds == 40 * 3600
    assert yard.register.rebuild() == []


def test_a_run_with_the_clock_ahead_uses_up_what_was_signed_in_the_moment_that_the_clock_went_back_to(
    yard: Any,
) -> None:
    signed_up_to(yard, "water")
    signed = yard.now
    yard.now += 9 * DAY
    run_now(yard)
    yard.now = max(one.recorded for one in yard.register.of_machine(yard.machine) if one.recorded <= signed)
    yard.register.add(e.Fault(part="hose", says="scuffed"), machine=yard.machine, by="Olav", now=yard.now)
    assert standing(yard)[0] == "check due"
    assert yard.register.rebuild() == []
