"""What was carried in and is dated later than it came: it was written by then, whatever its terminal's clock said."""

import sqlite3
from datetime import timedelta
from pathlib import Path

import pytest

from reelcare.core import entries as e
from reelcare.register.exchange import carry_files, carry_format, copies, restoration
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from reelcare.register.writing.batch import Batch
from tests.register.test_carry_limits import chained, fault, packed
from tests.register.test_foreign import START, H, Meeting, forge, meeting, statuses, word
from tests.register.test_gates import signed_up_to
from tests.servers import in_a_file

__all__ = ["meeting"]


@pytest.mark.parametrize("ahead", [timedelta(hours=5), timedelta(days=3650)])
def test_a_service_carried_in_from_a_clock_that_is_ahead_hides_no_use_since(
    meeting: Meeting, ahead: timedelta, tmp_path: Path
) -> None:
    """Nothing comes after it in its own chain, but it was written by when it came in."""
    yard, now = meeting.yard, meeting.now
    yard.run(0, hours=20)
    copies.copy(yard.register, tmp_path / "copy.db")
    meeting.carry(meeting.here, meeting.other)
    service = forge(meeting.other, e.Service(item="lube"), by="Tove", machine=yard.machine, at=now + ahead)
    meeting.carry(meeting.other, meeting.here)
    assert meeting.word() == "check due"
    run = e.Run(started=now + H, ended=now + 12 * H, metres=300_000)
    yard.register.add(run, machine=yard.machine, by="Olav", now=now + 12 * H)
    assert prove(meeting.here).whole
    assert meeting.here.rebuild() == []
    assert word(meeting.here, yard.machine, now + 13 * H) == "held"
    yard.register.close()
    restoration.restore(yard.place, tmp_path / "copy.db", by="Mara", why="the disk failed", now=now + 13 * H)
    with yard.again() as again:
        assert word(again, yard.machine, now + 13 * H) == "held"
        assert again.known().doubtful[service.id] <= now
        assert prove(again).whole


def test_what_came_from_a_clock_that_is_ahead_is_known_in_the_other_kind_of_database_too(
    meeting: Meeting, tmp_path: Path
) -> None:
    """A copy on a server, or of one: it is filled row by row."""
    meeting.carry(meeting.here, meeting.other)
    service = e.Service(item="lube")
    forge(meeting.other, service, by="Tove", machine=meeting.yard.machine, at=meeting.now + 5 * H)
    meeting.carry(meeting.other, meeting.here)
    with open_writer(tmp_path / "made.db") as made:
        copies.fill(meeting.here, made)
        assert made.known().doubtful == meeting.here.known().doubtful != {}
        assert prove(made).whole
        assert made.rebuild() == []


def test_a_service_of_a_clock_that_is_minutes_ahead_counts_as_it_is_dated(meeting: Meeting) -> None:
    meeting.yard.run(0, hours=20)
    meeting.carry(meeting.here, meeting.other)
    at = meeting.now + timedelta(minutes=20)
    forge(meeting.other, e.Service(item="lube"), by="Tove", machine=meeting.yard.machine, at=at)
    meeting.carry(meeting.other, meeting.here)
    assert meeting.here.known().doubtful == {}
    assert meeting.word() == "check due"


def test_a_run_carried_in_from_a_clock_that_is_ahead_lets_a_check_be_made_after_it(meeting: Meeting) -> None:
    yard = meeting.yard
    meeting.carry(meeting.here, meeting.other)
    at = meeting.now + timedelta(days=3650)
    run = e.Run(started=at - H, ended=at, metres=10)
    forge(meeting.other, run, by="Olav", machine=yard.machine, at=at)
    meeting.carry(meeting.other, meeting.here)
    yard.now, yard.by = meeting.now + H, "Olav"
    signed_up_to(yard, "water")
    assert word(meeting.here, yard.machine, yard.now) == "clear"


@pytest.mark.parametrize("what", [
    e.Service(item="lube"), e.Service(item="lube", life=-1), e.Service(item="lube", life=2**40),
    e.Reading(counter="hours", value=10), e.Run(started=START + 9000 * H, ended=START + 9001 * H, metres=10),
])  # fmt: skip
def test_what_no_terminal_lets_in_for_its_time_or_figures_has_no_effect(meeting: Meeting, what: e.Kind) -> None:
    """Dated after it was recorded, or with hours that no machine has done."""
    meeting.yard.run(0, hours=20)
    meeting.carry(meeting.here, meeting.other)
    before = meeting.here.state(meeting.yard.machine)
    at = meeting.now if isinstance(what, e.Service) and what.life is not None else START + 9001 * H
    with meeting.other.writing():
        batch = Batch(meeting.other, meeting.other.ids, by="Tove", now=meeting.now)
        one = batch.add(what, meeting.yard.machine, at)
        batch.flush()
    meeting.other.cache.clear()
    meeting.carry(meeting.other, meeting.here)
    assert statuses(meeting.here)[one.id] == "void"
    state = meeting.here.state(meeting.yard.machine)
    assert (state.totals, state.cycles, meeting.word()) == (before.totals, before.cycles, "held")


@in_a_file
def test_a_long_chain_of_a_clock_that_was_ahead_is_taken_in_parts(meeting: Meeting, tmp_path: Path) -> None:
    """Not every SQLite takes as many ids in one question as a chain can have."""
    rows = chained("a", [fault() for _unused in range(1200)], lambda place: f"f{place}", person="Olav")
    connection: sqlite3.Connection = meeting.here.db.connection()  # type: ignore[no-untyped-call]
    connection.setlimit(sqlite3.SQLITE_LIMIT_VARIABLE_NUMBER, 999)
    bundle = carry_format.read(packed(tmp_path / "x.carry", rows))
    meeting.here.clock_is_right = True
    carry_files.carry_in(meeting.here, bundle, by="Mara", now=START - 24 * H)
    assert len(meeting.here.known().doubtful) == 1200
    assert meeting.here.rebuild() == []
    assert prove(meeting.here).whole
