"""The door: what comes in is kept for good, and what cannot be is refused with nothing written."""

import contextlib
import sqlite3
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import peewee
import pytest

from reelcare.core import entries as e
from reelcare.core.entries import Draft
from reelcare.core.machine.tag import text_of
from reelcare.core.state.plain_form import to_plain
from reelcare.register.acts import corrections, people
from reelcare.register.database.models import EntryRow, MachineRow
from reelcare.register.errors import CannotWrite, NotAllowed, Refused
from reelcare.register.exchange import copies
from reelcare.register.opening import open_writer
from reelcare.register.proof import proving
from reelcare.register.reading import yard as yards
from reelcare.register.views import book
from reelcare.register.writing.writer import Writer
from tests.register.conftest import CARD, START, entries, let_be_changed, sql
from tests.servers import in_a_file

HOUR = timedelta(hours=1)
MINE: dict[str, Any] = {"id": "mine", "items": [{"id": "grease", "what": "Grease", "every": {"hours": 500}}]}


def count(register: Writer) -> int:
    return int(sql(register.db, "SELECT COUNT(*) FROM entry")[0][0])


def refused(yard: Any, what: e.Kind, says: str, **more: Any) -> None:
    before = count(yard.register), sql(yard.register.db, "SELECT * FROM machine_state")
    with pytest.raises(Refused, match=says):
        yard.add(what, **more)
    assert (count(yard.register), sql(yard.register.db, "SELECT * FROM machine_state")) == before


# keeping


def test_every_kind_of_entry_comes_back_as_it_went_in(yard: Any) -> None:
    fault = yard.add(e.Fault(part="hose", says="scuff", fix_by_millimetres=5, fix_by_day="2027-01-01", retest="look"))
    for what in (
        e.Reading(counter="hours", value=3600),
        e.Reading(counter="metres", value=5, change="new counter"),
        e.Service(item="grease", title="Grease", steps=("a", "b"), isolated=("water",), minutes=3, note="n"),
        e.Repair(fault=fault.id, says="patched"),
        e.Retest(fault=fault.id, passed=True, seen="dry"),
        e.Release(fault=fault.id, says="fit"),
        e.Measured(about="timing check", figures={"guide": "3 mm"}),
    ):
        written = yard.add(what)
        assert yard.register.entry(written.id) == written
        assert written.what == what


def test_an_entry_of_a_machine_that_changes_nothing_leaves_the_register_whole(
    yard: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(e.SetPlanned, "reaches", e.UpdateScope.NOTHING)
    yard.add(e.SetPlanned(wishes={}, planned={}))
    assert proving.prove(yard.register).whole
    assert yard.register.rebuild() == []


def test_a_release_is_held_against_the_entries_whatever_is_kept_and_written_before_it(yard: Any) -> None:
    fault = yard.add(e.Fault(part="pawl", says="slips", holds="run"))
    state = yard.register.state(yard.machine)
    spoilt = replace(state, faults=tuple(replace(one, status="repaired") for one in state.faults))
    row = MachineRow.update(state=to_plain(spoilt)).where(MachineRow.machine == yard.machine)
    yard.register.db.write(row)
    assert yard.register.state(yard.machine).faults[0].status == "repaired"
    whats = (e.Reading(counter="hours", value=3600), e.Release(fault=fault.id))
    drafts = [Draft(what=what, machine=yard.machine, happened=yard.now) for what in whats]
    with pytest.raises(Refused, match="not yet repaired"):
        yard.register.append(drafts, by="Mara", now=yard.now)


@in_a_file
def test_nothing_written_can_be_changed_removed_or_replaced(yard: Any) -> None:
    db = yard.register.db
    row = EntryRow
    first = sql(db, "SELECT id, terminal, place FROM entry LIMIT 1")[0]
    for statement in (
        "UPDATE entry SET body = '{}'",
        "UPDATE entry SET digest = '' WHERE number = 1",
        "DELETE FROM entry",
        "INSERT OR REPLACE INTO entry SELECT * FROM entry LIMIT 1",
        "REPLACE INTO entry SELECT * FROM entry LIMIT 1",
        "INSERT INTO entry SELECT * FROM entry WHERE true ON CONFLICT (id) DO UPDATE SET body = '{}'",
    ):
        with pytest.raises(peewee.IntegrityError, match="never"):
            db.execute_sql(statement)
    with pytest.raises(peewee.IntegrityError, match="never"):
        row.update(body="{}").execute(db)
    with pytest.raises(peewee.IntegrityError, match="never"):
        row.delete().execute(db)
    values = {"id": first[0], "kind": "run", "happened": 0, "recorded": 0, "terminal": "t", "person": "p",
              "body": "{}", "place": 1, "digest": ""}  # fmt: skip
    with pytest.raises(peewee.IntegrityError, match="never"):
        row.replace(**values).execute(db)  # type: ignore[no-untyped-call]
    with pytest.raises(peewee.IntegrityError, match="never"):
        row.insert(**values).on_conflict_replace().execute(db)
    assert proving.prove(yard.register).whole


def test_a_register_survives_closing_and_opening(yard: Any) -> None:
    yard.run(1)
    yard.register.close()
    with yard.again() as again:
        assert yards.machine_now(again, yard.machine, yard.now).state.totals.runs == 1
        assert proving.prove(again).whole


@in_a_file
def test_a_commit_is_as_durable_as_the_engine_can_make_it(register: Writer) -> None:
    asked = {name: sql(register.db, f"PRAGMA {name}")[0][0] for name in ("journal_mode", "synchronous", "mmap_size")}
    assert asked == {"journal_mode": "wal", "synchronous": 2, "mmap_size": 0}
    assert register.path.stat().st_mode & 0o077 == 0


@in_a_file
def test_a_commit_that_the_disk_refuses_is_told_as_such_and_the_next_one_goes_through(yard: Any) -> None:
    """The system itself refuses: no file of this process may grow."""
    resource = pytest.importorskip("resource")
    log = Path(f"{yard.register.path}-wal")
    before = proving.prove(yard.register).entries
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (log.stat().st_size, limits[1]))
    try:
        with pytest.raises(CannotWrite, match="the disk failed; nothing was saved"):
            yard.add(e.Fault(part="hose", says="scuffed"))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert proving.prove(yard.register).entries == before
    yard.add(e.Fault(part="hose", says="scuffed"))
    proof = proving.prove(yard.register)
    assert (proof.whole, proof.entries) == (True, before + 1)


@in_a_file
def test_a_plan_whose_commit_the_disk_refused_is_not_in_force(yard: Any) -> None:
    resource = pytest.importorskip("resource")
    items = len(yard.register.plans().newest(yard.machine).items)
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (Path(f"{yard.register.path}-wal").stat().st_size, limits[1]))
    try:
        with pytest.raises(CannotWrite):
            yard.register.add(e.Planned(plan=MINE), by="Mara", now=yard.now)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert len(yard.register.plans().newest(yard.machine).items) == items
    yard.run(1)
    assert yard.register.rebuild() == []


def test_all_or_nothing(yard: Any) -> None:
    before = count(yard.register)
    good = Draft(what=e.Reading(counter="hours", value=100), machine=yard.machine, happened=yard.now)
    bad = Draft(what=e.Service(item="no-such-item"), machine=yard.machine, happened=yard.now)
    with pytest.raises(Refused, match="no-such-item"):
        yard.register.append([good, bad], by="Mara", now=yard.now)
    assert count(yard.register) == before


# who


def test_the_first_person_is_a_supervisor_and_brings_the_plan(register: Writer) -> None:
    now = datetime(2026, 5, 1, tzinfo=UTC)
    with pytest.raises(Refused, match="supervisor"):
        people.enrol(register, "Olav", "operator", by="Olav", now=now)
    with pytest.raises(NotAllowed, match="nobody is enrolled"):
        register.add(e.Carded(card={"tag": "R1"}), by="Olav", now=now)
    people.enrol(register, "Mara", "supervisor", by="Mara", now=now)
    assert register.plans().newest("").id == "default"


@pytest.mark.parametrize(
    ("by", "what"),
    [
        ("Olav", e.Service(item="grease")),
        ("Olav", e.Carded(card={"tag": "R2"})),
        ("Tove", e.Carded(card={"tag": "R2"})),
        ("Tove", e.Enrolled(name="X", role="operator")),
        ("Olav", e.Correction(entry="x", why="because")),
        ("Stranger", e.Reading(counter="hours", value=1)),
    ],
)
def test_what_a_role_may_not_do_is_not_done(yard: Any, by: str, what: e.Kind) -> None:
    before = count(yard.register)
    with pytest.raises(NotAllowed):
        yard.add(what, by=by)
    assert count(yard.register) == before


def test_a_release_takes_a_mechanic(yard: Any) -> None:
    fault = yard.add(e.Fault(part="pawl", says="slips", holds="run"), by="Olav")
    yard.add(e.Repair(fault=fault.id, says="spring"), by="Tove")
    with pytest.raises(NotAllowed, match="only a mechanic"):
        yard.add(e.Release(fault=fault.id), by="Olav")
    yard.add(e.Release(fault=fault.id), by="Tove")


def test_the_only_supervisor_cannot_step_down(yard: Any) -> None:
    refused(yard, e.Enrolled(name="Mara", role="operator"), "only supervisor")


# what cannot be


@pytest.mark.parametrize(
    ("what", "says"),
    [
        (e.Reading(counter="hours", value=-1), "less than 0"),
        (e.Reading(counter="hours", value=10**12), "more than any machine"),
        (e.Service(item="gearbox-oil-chang"), "did you mean gearbox-oil-change"),
        (e.Fault(part="wing", says="x"), "not a part"),
        (e.Fault(part="drum", says="  "), "say what is wrong"),
        (e.Fault(part="drum", says="x", fix_by_day="2020-01-01"), "already past"),
        (e.Repair(fault="nothing", says="x"), "no open fault"),
        (e.Reading(counter="hours", value=1), "x" * 0),
    ],
)
def test_what_cannot_be_is_refused_with_its_cure(yard: Any, what: e.Kind, says: str) -> None:
    if not says:
        yard.add(what)
        return
    refused(yard, what, says)


def test_a_run_that_cannot_be_is_refused(yard: Any) -> None:
    t = yard.start + timedelta(days=2)
    good = e.Run(started=t, ended=t + 8 * HOUR, metres=300_000)
    for change, says in (
        ({"ended": t}, "not after started"),
        ({"ended": t + timedelta(days=9)}, "more than 7 days"),
        ({"metres": 401_000}, "more than the card's hose"),
        ({"metres": -1}, "less than nothing"),
        ({"planned_speed": 0}, "planned speed"),
        ({"inlet": 10**8}, "inlet"),
        ({"stopped_by": "wind"}, "did you mean|choose from"),
    ):
        bad = replace(good, **change)
        refused(yard, bad, says, at=max(bad.ended, t))
    yard.add(good, at=good.ended)
    for started in (t - 7 * HOUR, t + HOUR, t + 7 * HOUR):
        refused(yard, replace(good, started=started, ended=started + 8 * HOUR), "overlaps", at=started + 8 * HOUR)
    after = replace(good, started=good.ended, ended=good.ended + HOUR)
    yard.add(after, at=after.ended)


def test_times_that_cannot_be_are_refused(yard: Any) -> None:
    what = e.Reading(counter="hours", value=0)
    future = yard.now + timedelta(days=1)
    with pytest.raises(Refused, match="lies in the future"):
        yard.register.add(what, machine=yard.machine, by="Mara", now=yard.now, happened=future)
    with pytest.raises(Refused, match="five years before"):
        yard.register.add(
            what, machine=yard.machine, by="Mara", now=yard.now, happened=datetime(2001, 1, 1, tzinfo=UTC)
        )
    with pytest.raises(Refused, match="without a zone"):
        yard.register.add(what, machine=yard.machine, by="Mara", now=yard.now, happened=datetime(2026, 5, 1))  # noqa: DTZ001


@pytest.mark.parametrize(
    ("started", "ended", "hours"),
    [
        # clocks of New York (IANA time-zone data): 1 November 2026 has 01:00 to 02:00 twice, 14 March 2027 has no 02:00
        ("2026-10-31T00:30", "2026-10-31T04:30", 4),
        ("2026-11-01T00:30", "2026-11-01T04:30", 5),
        ("2027-03-14T00:30", "2027-03-14T04:30", 3),
    ],
)
def test_a_run_over_a_change_of_clocks_lasts_as_long_as_it_did(yard: Any, started: str, ended: str, hours: int) -> None:
    zone = ZoneInfo("America/New_York")
    begins, ends = (datetime.fromisoformat(text).replace(tzinfo=zone) for text in (started, ended))
    written = yard.add(e.Run(started=begins, ended=ends, metres=1000), at=ends)
    assert yard.register.state(yard.machine).totals.seconds == hours * 3600
    assert proving.prove(yard.register).whole
    assert yard.register.entry(written.id) == written


def test_a_run_is_reckoned_by_the_moments_that_are_kept(yard: Any) -> None:
    begins = datetime(2026, 5, 2, 6, 0, 0, 900, tzinfo=UTC)
    ends = datetime(2026, 5, 2, 7, 0, 0, 500, tzinfo=UTC)
    yard.add(e.Run(started=begins, ended=ends, metres=1000), at=ends)
    assert yard.register.state(yard.machine).totals.seconds == 3600
    assert proving.prove(yard.register).whole


def test_a_run_of_the_whole_hose_is_one_in_feet_too(yard: Any) -> None:
    # 1312 ft are 399.8976 m, and a register keeps whole millimetres
    yard.add(e.Carded(card=CARD | {"hose": {"length": "1312 ft"}}))
    yard.run(1, metres=round(1312 * 304.8))
    with pytest.raises(Refused, match="more than the card's hose"):
        yard.run(2, metres=round(1312 * 304.8) + 1)


def test_nothing_happens_before_the_day_that_the_card_names(yard: Any) -> None:
    card = {"tag": "R9", "in_use_since": "2026-04-01"}
    machine = yard.register.add(e.Carded(card=card), by="Mara", now=yard.now).machine
    early = datetime(2026, 3, 31, 12, tzinfo=UTC)
    refused(yard, e.Service(item="grease"), "before the machine's beginning", at=early, machine=machine)


def test_a_carding_that_was_dated_back_is_the_machines_beginning(yard: Any) -> None:
    entry = yard.register.add(
        e.Carded(card={"tag": "R8"}), by="Mara", now=yard.now, happened=yard.now - timedelta(days=30)
    )
    refused(
        yard,
        e.Service(item="grease"),
        "before the machine's beginning",
        at=yard.now - timedelta(days=31),
        machine=entry.machine,
    )


def test_a_tag_belongs_to_one_machine(yard: Any) -> None:
    with pytest.raises(Refused, match="another machine's"):
        yard.register.add(e.Carded(card={"tag": "r1"}), by="Mara", now=yard.now)


def test_an_unknown_machine_is_named_with_near_ones(yard: Any) -> None:
    with pytest.raises(Refused, match="no such machine"):
        yard.register.machine_id("R11x")
    tag = text_of("0191e7a4-0000-7000-8000-000000000001", "R7")
    with pytest.raises(Refused, match="the tag of a machine that is not in this register"):
        yard.register.machine_id(tag)
    assert yard.register.machine_id(text_of(yard.machine, "old tag")) == yard.machine


# text


NASTY = ["[/] [red", "\x1b]52;c;AAAA\x07", "a\u202eb", "zero\u200bwidth", "nul\x00", "\ud800", "é", "🚜" * 40]


@pytest.mark.parametrize("text", NASTY)
def test_text_is_kept_literally_without_what_steers(yard: Any, text: str) -> None:
    says = yard.add(e.Fault(part="drum", says=f"x{text}")).what.says
    kept = yard.register.entry(yard.written[-1].id).what.says
    assert kept == says
    assert not any(sign in kept for sign in "\x1b\x07\x00\u202e\u200b")
    kept.encode("utf-8")
    if text.startswith("["):
        assert kept == f"x{text}"


def test_a_text_too_long_to_be_meant_is_refused(yard: Any) -> None:
    refused(yard, e.Fault(part="drum", says="x" * 100_000), "shorten it")


# corrections


def test_a_correction_takes_back_what_followed_and_both_stay(yard: Any) -> None:
    run = yard.run(1)
    yard.run(2)
    assert yard.register.state(yard.machine).totals.runs == 2
    yard.add(e.Correction(entry=run.id, why="wrong machine"))
    assert yard.register.state(yard.machine).totals.runs == 1
    lines = book.book(yard.register, yard.machine)
    taken = next(line for line in lines if line.entry.id == run.id)
    assert taken.taken_back is not None
    assert isinstance(taken.taken_back.what, e.Correction)
    assert taken.taken_back.what.why == "wrong machine"
    yard.add(e.Correction(entry=yard.written[-1].id, why="it was right after all"))
    assert yard.register.state(yard.machine).totals.runs == 2
    assert yard.register.rebuild() == []


def test_what_counts_again_is_not_marked_as_taken_back_and_can_be_taken_back_anew(yard: Any) -> None:
    run = yard.run(1)
    first = yard.add(e.Correction(entry=run.id, why="wrong machine"))
    refused(yard, e.Correction(entry=run.id, why="wrong machine"), "taken back already")
    yard.add(e.Correction(entry=first.id, why="it was right after all"))

    def why(id: str) -> str:
        line = next(one for one in book.book(yard.register, yard.machine) if one.entry.id == id)
        if line.taken_back is None:
            return ""
        assert isinstance(line.taken_back.what, e.Correction)
        return line.taken_back.what.why

    assert (why(run.id), why(first.id)) == ("", "it was right after all")
    assert yard.register.state(yard.machine).totals.runs == 1
    yard.add(e.Correction(entry=run.id, why="it was the other machine"))
    assert why(run.id) == "it was the other machine"
    assert yard.register.state(yard.machine).totals.runs == 0
    assert yard.register.rebuild() == []


def test_what_was_moved_to_another_machine_does_not_count_for_both(yard: Any) -> None:
    run = yard.run(1)
    other = yard.register.add(e.Carded(card={**CARD, "tag": "R2"}), by="Mara", now=yard.now, happened=START).id
    register, now = yard.register, yard.now + HOUR
    moved = corrections.correct(
        register, run, "the other machine's", by="Mara", now=now, happened=now, move_to=other
    )  # fmt: skip
    [correction] = entries(register, "kind = 'correction' AND refers = ?", run.id)
    yard.now = now
    refused(yard, e.Correction(entry=correction.id, why="it was right"), "it was moved to R2, and would count for both")
    yard.add(e.Correction(entry=moved.id, why="it was right"), machine=other)
    yard.add(e.Correction(entry=correction.id, why="it was right"))
    assert [register.state(one).totals.runs for one in (yard.machine, other)] == [1, 0]
    assert register.rebuild() == []


def test_what_was_moved_on_from_there_does_not_count_for_both_either(yard: Any) -> None:
    """Moved to R2 and from there to R3, it was asked for on R2 alone, where it was taken back."""
    run = yard.run(1)
    register, now = yard.register, yard.now + HOUR
    second, third = (
        register.add(e.Carded(card={**CARD, "tag": tag}), by="Mara", now=yard.now, happened=START).id
        for tag in ("R2", "R3")
    )
    for to in (second, third):
        by = {"by": "Mara", "now": now, "happened": now}
        run, moved = corrections.correct(register, run, "another's", move_to=to, **by), run
        [correction] = entries(register, "kind = 'correction' AND refers = ?", moved.id)
        if to == second:
            first = correction
    yard.now = now
    refused(yard, e.Correction(entry=first.id, why="it was right"), "it was moved to R3, and would count for both")
    assert [register.state(one).totals.runs for one in (yard.machine, second, third)] == [0, 0, 1]


def test_a_run_taken_back_makes_room_for_the_right_one(yard: Any) -> None:
    run = yard.run(1, metres=32_000)
    yard.add(e.Correction(entry=run.id, why="32 for 320"))
    yard.run(1, metres=320_000)
    assert yard.register.state(yard.machine).totals.millimetres == 320_000


def test_a_misread_counter_is_taken_back(yard: Any) -> None:
    yard.add(e.Reading(counter="hours", value=100 * 3600))
    yard.now += timedelta(days=500)
    slip = yard.add(e.Reading(counter="hours", value=1100 * 3600))
    refused(yard, e.Reading(counter="hours", value=111 * 3600), "less than the 1100 h")
    yard.add(e.Correction(entry=slip.id, why="a digit too many"))
    yard.add(e.Reading(counter="hours", value=111 * 3600))
    assert yard.register.state(yard.machine).totals.seconds == 111 * 3600


def test_a_hold_is_never_taken_back(yard: Any) -> None:
    hold = yard.add(e.Fault(part="pawl", says="slips", holds="run"))
    refused(yard, e.Correction(entry=hold.id, why="let it run"), "a hold is not taken back")


@pytest.mark.parametrize("what", ["card", "person", "nothing", "twice"])
def test_what_others_rest_on_is_not_taken_back(yard: Any, what: str) -> None:
    run = yard.run(1)
    yard.add(e.Correction(entry=run.id, why="twice"))
    person = entries(yard.register, "kind = 'person' LIMIT 1")[0]
    entry = {"card": yard.machine, "person": person.id, "nothing": "0" * 36, "twice": run.id}[what]
    refused(yard, e.Correction(entry=entry, why="because"), "not taken back|no such entry|taken back already")


def test_a_correction_that_would_leave_a_reading_impossible_is_refused(yard: Any) -> None:
    yard.add(e.Reading(counter="hours", value=900 * 3600))
    new = yard.add(e.Reading(counter="hours", value=0, change="new counter"))
    yard.add(e.Reading(counter="hours", value=1 * 3600))
    refused(yard, e.Correction(entry=new.id, why="not new"), "less than the 900 h")


# late entries


def test_an_entry_that_comes_late_is_reckoned_in_its_place(yard: Any) -> None:
    yard.run(1)
    yard.run(3)
    yard.add(e.Reading(counter="hours", value=500 * 3600), at=yard.start + timedelta(days=2))
    assert yard.register.state(yard.machine).totals.seconds == 510 * 3600
    assert yard.register.rebuild() == []


def test_a_past_moment_can_be_asked_for(yard: Any) -> None:
    for day in range(1, 6):
        yard.run(day)
    then = yard.start + timedelta(days=3, hours=1)
    assert yard.register.state(yard.machine, then).totals.runs == 2
    assert yards.machine_now(yard.register, yard.machine, then, past=True).state.totals.runs == 2
    with pytest.raises(Refused, match="nothing is known"):
        yard.register.state(yard.machine, datetime(2020, 1, 1, tzinfo=UTC))


def test_another_plan_counts_from_then_on(yard: Any) -> None:
    yard.register.add(e.Service(item="grease"), machine=yard.machine, by="Tove", now=yard.now)
    yard.run(1, hours=60)
    before = yard.now
    plan = {"id": "mine", "items": [{"id": "grease", "what": "Grease", "every": {"hours": 500}}]}
    yard.register.add(e.Planned(plan=plan), by="Mara", now=yard.now + HOUR)

    def grease(at: datetime, past: bool) -> str:
        lines = yards.machine_now(yard.register, yard.machine, at, past=past).dues
        return next(line.due.state for line in lines if line.item.id == "grease")

    assert grease(before, True) == "overdue"
    assert grease(before + 2 * HOUR, False) == "ok"
    assert yard.register.rebuild() == []


@pytest.mark.parametrize("for_all", [True, False])
def test_a_plan_that_is_taken_back_counts_no_more_for_anybody(yard: Any, for_all: bool) -> None:
    yard.run(1, hours=60)
    items = len(yard.register.plans().newest(yard.machine).items)
    with yard.again() as beside:
        assert len(beside.plans().newest(yard.machine).items) == items
        dues = len(yards.machine_now(yard.register, yard.machine, yard.now).dues)  # of some it has not the part
        machine = None if for_all else yard.machine
        plan = yard.register.add(e.Planned(plan=MINE), by="Mara", now=yard.now, machine=machine)
        assert [len(one.plans().newest(yard.machine).items) for one in (yard.register, beside)] == [1, 1]
        correction = yard.register.add(e.Correction(entry=plan.id, why="a slip"), by="Mara", now=yard.now + HOUR)
        assert [len(one.plans().newest(yard.machine).items) for one in (yard.register, beside)] == [items, items]
        assert len(yards.machine_now(yard.register, yard.machine, yard.now + HOUR).dues) == dues
        assert beside.rebuild() == []
        yard.register.add(e.Correction(entry=correction.id, why="it was right"), by="Mara", now=yard.now + 2 * HOUR)
        assert [len(one.plans().newest(yard.machine).items) for one in (yard.register, beside)] == [1, 1]
        assert beside.rebuild() == []


def test_a_plan_in_what_was_refused_as_a_whole_is_forgotten(yard: Any) -> None:
    items = len(yard.register.plans().newest(yard.machine).items)
    drafts = [
        Draft(what=e.Planned(plan=MINE), happened=yard.now),
        Draft(what=e.Service(item="grease"), machine=yard.machine, happened=yard.now),
        Draft(what=e.Service(item="no such item"), machine=yard.machine, happened=yard.now),
    ]
    with pytest.raises(Refused, match="no such item"):
        yard.register.append(drafts, by="Mara", now=yard.now)
    with yard.again() as beside:
        # as many entries come in as were taken back
        for _ in drafts:
            beside.add(e.Fault(part="hose", says="scuffed"), machine=yard.machine, by="Mara", now=yard.now)
    assert len(yard.register.plans().newest(yard.machine).items) == items
    assert yard.register.rebuild() == []


# proving


def test_every_change_of_content_is_found(yard: Any, tmp_path: Path) -> None:
    yard.run(1)
    columns = {"body": "'{}'", "person": "'Nobody'", "happened": "happened + 1", "kind": "'reading'", "digest": "'00'"}
    for column, value in columns.items():
        copy = tmp_path / f"{column}.db"
        copies.copy(yard.register, copy)
        with contextlib.closing(sqlite3.connect(copy)) as db, db:
            db.execute("DROP TRIGGER entry_is_never_changed")
            db.execute(f"UPDATE entry SET {column} = {value} WHERE kind = 'run'")
        with open_writer(copy, create=False) as changed:
            assert not proving.prove(changed).whole, column


def test_an_entry_that_is_gone_is_found(yard: Any) -> None:
    yard.run(1)
    yard.run(2)
    let_be_changed(yard.register)
    yard.register.db.execute_sql("DELETE FROM entry WHERE place = 5")
    found = proving.prove(yard.register)
    assert not found.whole
    assert any("missing" in one.what for one in found.findings)


def test_a_total_that_is_not_what_the_entries_give_is_found_and_mended(yard: Any) -> None:
    yard.run(1)
    yard.register.db.execute_sql("UPDATE machine_state SET place = 'Nowhere'")
    assert not proving.prove(yard.register).whole
    assert len(yard.register.rebuild()) == 1
    assert proving.prove(yard.register).whole
