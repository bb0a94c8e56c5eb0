"""Coming together: bad news counts at once, good news waits to be accepted here."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.checks.sheet_table import read_sheet, to_plain
from reelcare.register import sheets
from reelcare.register.acts import people, walk_rounds
from reelcare.register.database.models import AboutRow
from reelcare.register.errors import NotAllowed, Refused
from reelcare.register.exchange import carry_files, carry_format, waiting
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from reelcare.register.reading import foreign, queries
from reelcare.register.reading import yard as yards
from reelcare.register.reading.reader import Reader
from reelcare.register.views import book
from reelcare.register.writing.batch import Batch
from reelcare.register.writing.writer import Writer
from tests.register.conftest import carry_in, while_it_waits

START = datetime(2026, 5, 1, 6, tzinfo=UTC)
H = timedelta(hours=1)
OWN = {"id": "own", "items": [
    {"id": "lube", "what": "Lube", "part": "gearbox", "every": {"hours": 10}, "grace": 0, "stop": True},
]}  # fmt: skip
LAX = {"id": "lax", "items": [{"id": "lube", "what": "Lube", "every": {"hours": 5000}}]}


def forge(other: Writer, what: e.Kind, *, by: str, machine: str | None = None, at: datetime = START) -> e.Entry:
    """Write an entry past every door, as somebody who has a register of his own in hand can."""
    with other.writing():
        batch = Batch(other, other.ids, by=by, now=at)
        entry = batch.add(what, machine, at)
        batch.flush()
    other.cache.clear()
    return entry


def word(register: Reader, machine: str, now: datetime) -> str:
    return yards.machine_now(register, machine, now, forecasts=False).standing.worst


def statuses(register: Reader) -> dict[str, str]:
    return foreign.kept(register.db)


class Meeting:
    """A yard with a held machine, and a register of somebody else's that has its entries."""

    def __init__(self, yard: Any, other: Writer, folder: Path) -> None:
        self.yard, self.other, self.folder = yard, other, folder
        self.count = 0
        self.now = yard.now + 30 * H

    @property
    def here(self) -> Writer:
        register: Writer = self.yard.register
        return register

    def carry(self, source: Writer, target: Writer) -> carry_files.CarryPreview:
        self.count += 1
        path = self.folder / f"{self.count}.carry"
        carry_files.carry_out(source, path, now=self.now)
        return carry_in(target, path, self.now)

    def word(self) -> str:
        return word(self.here, self.yard.machine, self.now)


@pytest.fixture
def meeting(yard: Any, tmp_path: Path) -> Iterator[Meeting]:
    with open_writer(tmp_path / "other.db") as other:
        people.enrol(other, "Bo", "supervisor", by="Bo", now=START)
        one = Meeting(yard, other, tmp_path)
        yard.register.add(e.Planned(plan=OWN), by="Mara", now=START)
        yard.register.add(e.Service(item="lube"), machine=yard.machine, by="Tove", now=START)
        yield one


def hold(meeting: Meeting) -> e.Entry:
    fault: e.Entry = meeting.yard.add(e.Fault(part="pawl", says="slips", holds="both", retest="pawl holds"))
    meeting.carry(meeting.here, meeting.other)
    return fault


def re_tested(meeting: Meeting, fault: e.Entry, by: str = "Tove") -> e.Entry:
    """A repair and a re-test that passed, written elsewhere."""
    m = meeting.yard.machine
    forge(meeting.other, e.Repair(fault=fault.id, says="new spring"), by=by, machine=m, at=meeting.now)
    return forge(meeting.other, e.Retest(fault=fault.id, passed=True), by=by, machine=m, at=meeting.now)


def test_a_carry_file_is_brought_in_by_somebody_who_is_enrolled(meeting: Meeting) -> None:
    path = meeting.folder / "x.carry"
    carry_files.carry_out(meeting.other, path, now=meeting.now)
    bundle = carry_format.read(path)
    with pytest.raises(NotAllowed, match="Nobody: not enrolled here"):
        carry_files.carry_in(meeting.here, bundle, by="Nobody", now=meeting.now)
    meeting.here.give_pin("Olav", "739104", by="Olav")
    with pytest.raises(NotAllowed, match="PIN"):
        carry_files.carry_in(meeting.here, bundle, by="Olav", now=meeting.now)
    meeting.here.sign_in("Olav", "739104", now=meeting.now)
    carry_files.carry_in(meeting.here, bundle, by="Olav", now=meeting.now)
    [signed] = [one for one in meeting.here.select(queries.entries()) if isinstance(one.what, e.CarriedIn)]
    assert isinstance(signed.what, e.CarriedIn)
    assert (signed.by, signed.what.terminal, signed.what.digest) == ("Olav", meeting.other.terminal, bundle.digest)
    assert signed.what.brought == {"person": 1}


def test_an_empty_register_enrols_its_first_supervisor_before(meeting: Meeting) -> None:
    carry_files.carry_out(meeting.here, meeting.folder / "x.carry", now=meeting.now)
    with open_writer(meeting.folder / "empty.db") as empty, pytest.raises(NotAllowed, match="nobody is enrolled yet"):
        carry_files.carry_in(empty, carry_format.read(meeting.folder / "x.carry"), by="Mara", now=meeting.now)


def test_the_first_person_brings_no_plan_that_travels(meeting: Meeting) -> None:
    assert meeting.carry(meeting.other, meeting.here).kinds == {"person": 1}
    assert meeting.here.plans().newest(meeting.yard.machine).id == "own"
    assert len(meeting.other.plans().newest("any").items) > 5


def test_a_default_plan_of_an_older_program_never_replaces_a_chosen_one(meeting: Meeting) -> None:
    """It stood in the same breath as the first person."""
    with open_writer(meeting.folder / "old.db") as old:
        drafts = [e.Draft(what=one, happened=meeting.now) for one in (
            e.Enrolled(name="Old", role="supervisor"), e.Planned(plan=LAX))]  # fmt: skip
        old.append(drafts, by="Old", now=meeting.now)
        meeting.carry(old, meeting.here)
    assert list(statuses(meeting.here).values()) == ["waiting", "void"]
    assert meeting.here.plans().newest(meeting.yard.machine).id == "own"


def good_news(meeting: Meeting, fault: e.Entry) -> dict[str, tuple[e.Kind, str | None]]:
    m = meeting.yard.machine
    return {
        "release": (e.Release(fault=fault.id), m),
        "re-test": (e.Retest(fault=fault.id, passed=True), m),
        "put right": (e.PutRight(fault=fault.id, check="c", says="moved"), m),
        "correction of the hold": (e.Correction(entry=fault.id, why="a slip"), m),
        "correction of the first card": (e.Correction(entry=m, why="a slip"), m),
        "plan": (e.Planned(plan=LAX), None),
        "plan of it": (e.Planned(plan=LAX), m),
        "card": (e.Carded(card={"tag": "R1", "name": "Another"}), m),
        "person": (e.Enrolled(name="Olav", role="supervisor"), None),
        "decision": (e.CarryDecision(entries=(fault.id,), accepted=True, why="why not"), None),
        "restore": (e.Restored(why="why not", before={}, after={}), None),
    }


@pytest.mark.parametrize("by", ["Bo", "Mara", "Olav", "Nobody"])
@pytest.mark.parametrize("name", [
    "release", "re-test", "put right", "correction of the hold", "correction of the first card", "plan", "plan of it",
    "card", "person", "decision", "restore",
])  # fmt: skip
def test_no_forged_entry_ends_a_hold_or_gives_a_right(meeting: Meeting, name: str, by: str) -> None:
    fault = hold(meeting)
    before = (meeting.here.state(meeting.yard.machine), meeting.here.roles(), meeting.here.plans().newest("x"))
    what, machine = good_news(meeting, fault)[name]
    forge(meeting.other, what, by=by, machine=machine, at=meeting.now)
    meeting.carry(meeting.other, meeting.here)
    assert meeting.word() == "held"
    state, roles, plan = before
    after = meeting.here.state(meeting.yard.machine)
    assert (after.faults, after.card, after.cycles) == (state.faults, state.card, state.cycles)
    assert (meeting.here.roles(), meeting.here.plans().newest("x")) == (roles, plan)
    assert prove(meeting.here).whole
    assert meeting.here.rebuild() == []
    assert meeting.word() == "held"


@pytest.mark.parametrize("by", ["Bo", "Olav", "Nobody"])
def test_a_stop_item_past_its_grace_is_held_until_somebody_known_here_does_it(meeting: Meeting, by: str) -> None:
    meeting.yard.run(0, hours=20)
    assert meeting.word() == "held"
    meeting.carry(meeting.here, meeting.other)
    at = meeting.now
    for what in (e.Service(item="lube"), e.Measured(about="lube", figures={})):
        forge(meeting.other, what, by=by, machine=meeting.yard.machine, at=at)
    meeting.carry(meeting.other, meeting.here)
    assert meeting.word() == "held"
    assert prove(meeting.here).whole


def test_a_service_by_a_person_of_this_register_with_the_role_counts_at_once(meeting: Meeting) -> None:
    meeting.yard.run(0, hours=20)
    meeting.carry(meeting.here, meeting.other)
    forge(meeting.other, e.Service(item="lube"), by="Tove", machine=meeting.yard.machine, at=meeting.now)
    meeting.carry(meeting.other, meeting.here)
    assert meeting.word() == "check due"


def test_a_release_waits_whoever_signed_it_and_counts_once_it_is_accepted(meeting: Meeting) -> None:
    fault = hold(meeting)
    retest = re_tested(meeting, fault)
    release = forge(meeting.other, e.Release(fault=fault.id), by="Tove", machine=meeting.yard.machine, at=meeting.now)
    meeting.carry(meeting.other, meeting.here)
    assert meeting.word() == "held"
    before, line = [one for one in waiting.waiting(meeting.here, meeting.now) if one.machine]
    assert (before.id, before.before, before.after) == (retest.id, "held", "held")
    assert (line.id, line.machine, line.before, line.after) == (release.id, "R1", "held", "check due")
    assert line.says == f"R1: held -> check due, because release: released; with {retest.id[-8:]}"
    with pytest.raises(NotAllowed):
        waiting.decide(meeting.here, [release.id], accepted=True, why="seen", by="Tove", now=meeting.now)
    with pytest.raises(Refused, match="why"):
        waiting.decide(meeting.here, [release.id], accepted=True, why="", by="Mara", now=meeting.now)
    both = [retest.id, release.id[-8:]]
    waiting.decide(meeting.here, both, accepted=True, why="I was there", by="Mara", now=meeting.now)
    assert waiting.still_held(meeting.here, [retest.id, release.id]) == []
    assert meeting.word() == "check due"
    assert not [one for one in waiting.waiting(meeting.here, meeting.now) if one.machine]
    assert prove(meeting.here).whole
    assert meeting.here.rebuild() == []
    with pytest.raises(Refused, match="does not wait"):
        waiting.decide(meeting.here, [release.id], accepted=True, why="again", by="Mara", now=meeting.now)


@pytest.mark.parametrize("steps", ["", "repair", "failed", "passed, failed", "operator's", "passed, not repaired"])
def test_an_accepted_release_ends_a_hold_only_where_its_re_test_counts(meeting: Meeting, steps: str) -> None:
    fault, m = hold(meeting), meeting.yard.machine
    repair, passed, failed = (
        e.Repair(fault=fault.id, says="new spring"), e.Retest(fault=fault.id, passed=True),
        e.Retest(fault=fault.id, passed=False),
    )  # fmt: skip
    written = {
        "": (), "repair": (repair,), "failed": (repair, failed), "passed, failed": (repair, passed, failed),
        "operator's": (repair, passed), "passed, not repaired": (passed,),
    }[steps]  # fmt: skip
    for what in written:
        by = "Olav" if steps == "operator's" and what is passed else "Tove"
        forge(meeting.other, what, by=by, machine=m, at=meeting.now)
    release = forge(meeting.other, e.Release(fault=fault.id), by="Tove", machine=m, at=meeting.now)
    meeting.carry(meeting.other, meeting.here)
    [line] = [one for one in waiting.waiting(meeting.here, meeting.now) if one.id == release.id]
    assert (line.before, line.after) == ("held", "held")
    assert "; the hold stays: pawl: " in line.because
    people_too = [id for id, why in statuses(meeting.here).items() if why == "waiting"]
    all_of_it = [one.id for one in map(meeting.here.entry, people_too) if one is not None and one.machine]
    waiting.decide(meeting.here, all_of_it, accepted=True, why="all of it", by="Mara", now=meeting.now)
    assert meeting.word() == "held"
    [says] = waiting.still_held(meeting.here, all_of_it)
    assert says.startswith("R1: the hold stays: pawl: ")
    assert meeting.here.rebuild() == []
    assert prove(meeting.here).whole


def test_a_re_test_that_is_accepted_after_its_release_ends_the_hold(meeting: Meeting) -> None:
    fault = hold(meeting)
    retest = re_tested(meeting, fault)
    release = forge(meeting.other, e.Release(fault=fault.id), by="Tove", machine=meeting.yard.machine, at=meeting.now)
    meeting.carry(meeting.other, meeting.here)
    waiting.decide(meeting.here, [release.id], accepted=True, why="I was there", by="Mara", now=meeting.now)
    assert meeting.word() == "held"
    [says] = waiting.still_held(meeting.here, [release.id])
    lacks = f"its re-test has not passed yet (pawl holds); accept {retest.id[-8:]}, too"
    assert says == f"R1: the hold stays: pawl: {lacks}"
    [line] = [one for one in waiting.waiting(meeting.here, meeting.now) if one.machine]
    assert (line.id, line.before, line.after) == (retest.id, "held", "check due")
    waiting.decide(meeting.here, [retest.id], accepted=True, why="this, too", by="Mara", now=meeting.now)
    assert meeting.word() == "check due"


def test_what_is_refused_never_counts_and_is_listed_no_more(meeting: Meeting) -> None:
    fault = hold(meeting)
    release = forge(meeting.other, e.Release(fault=fault.id), by="Tove", machine=meeting.yard.machine, at=meeting.now)
    meeting.carry(meeting.other, meeting.here)
    waiting.decide(meeting.here, [release.id], accepted=False, why="he was not there", by="Mara", now=meeting.now)
    assert meeting.word() == "held"
    assert not [one for one in waiting.waiting(meeting.here, meeting.now) if one.machine]
    [decided] = foreign.recorded_here(meeting.here, e.CarryDecision.kind, START, meeting.now + H)
    assert isinstance(decided.what, e.CarryDecision)
    assert (decided.what.accepted, decided.what.entries) == (False, (release.id,))


def test_a_person_is_accepted_once(meeting: Meeting) -> None:
    meeting.yard.run(0, hours=20)
    meeting.carry(meeting.here, meeting.other)
    people.enrol(meeting.other, "Mek", "mechanic", by="Bo", now=meeting.now)
    forge(meeting.other, e.Service(item="lube"), by="Mek", machine=meeting.yard.machine, at=meeting.now)
    meeting.carry(meeting.other, meeting.here)
    assert meeting.word() == "held"
    lines = {one.entry.what.describe(): one for one in waiting.waiting(meeting.here, meeting.now)}
    assert lines["Mek, mechanic"].because == "Bo enrolled Mek there; 1 entry of theirs waits"
    waiting.decide(meeting.here, [lines["Mek, mechanic"].id], accepted=True, why="ours", by="Mara", now=meeting.now)
    assert meeting.here.roles()["Mek"] == "mechanic"
    assert meeting.word() == "check due"
    meeting.now += 40 * H
    meeting.yard.run(2, hours=20)
    assert meeting.word() == "held"
    forge(meeting.other, e.Service(item="lube"), by="Mek", machine=meeting.yard.machine, at=meeting.now)
    meeting.carry(meeting.other, meeting.here)
    assert meeting.word() == "check due"


def test_two_people_of_one_name_are_told_apart_until_a_supervisor_joins_them(meeting: Meeting) -> None:
    meeting.yard.run(0, hours=20)
    meeting.carry(meeting.here, meeting.other)
    other_tove = forge(meeting.other, e.Enrolled(name="Tove", role="mechanic"), by="Bo", at=meeting.now)
    forge(meeting.other, e.Service(item="lube"), by="Tove", machine=meeting.yard.machine, at=meeting.now)
    meeting.carry(meeting.other, meeting.here)
    assert meeting.word() == "held"
    [line] = [one for one in waiting.waiting(meeting.here, meeting.now) if one.id == other_tove.id]
    assert "is it the Tove of this register?" in line.because
    assert (line.before, line.after) == ("mechanic", "mechanic")
    waiting.decide(meeting.here, [line.id], accepted=True, why="one and the same", by="Mara", now=meeting.now)
    assert meeting.word() == "check due"


def test_a_lowered_role_waits_and_the_last_supervisor_stays_one(meeting: Meeting) -> None:
    hold(meeting)
    low = forge(meeting.other, e.Enrolled(name="Mara", role="operator"), by="Bo", at=meeting.now)
    meeting.carry(meeting.other, meeting.here)
    assert meeting.here.roles()["Mara"] == "supervisor"
    with pytest.raises(Refused, match="there would be no supervisor here"):
        waiting.decide(meeting.here, [low.id], accepted=True, why="she left", by="Mara", now=meeting.now)


def test_two_programs_do_not_take_the_last_two_supervisors_away(meeting: Meeting) -> None:
    """Each accepts that one of them left, and by each alone the other one stays."""
    people.enrol(meeting.here, "Ines", "supervisor", by="Mara", now=meeting.now - H)
    low, lower = (
        forge(meeting.other, e.Enrolled(name=one, role="operator"), by="Bo", at=meeting.now) for one in ("Mara", "Ines")
    )
    meeting.carry(meeting.other, meeting.here)
    told = {"accepted": True, "why": "she left", "now": meeting.now}
    with (
        while_it_waits(meeting.yard, lambda second: waiting.decide(second, [low.id], by="Ines", **told)),
        pytest.raises(Refused, match="there would be no supervisor here"),
    ):
        waiting.decide(meeting.here, [lower.id], by="Ines", **told)
    assert "supervisor" in meeting.here.roles().values()


TINY = {"id": "pre-start", "title": "Pre-start", "for": "run", "stages": [{"id": "s", "title": "S", "questions": [
    {"id": "q", "ask": "Ready?", "kind": "seen", "part": "legs", "if_not": "stop", "why": "w", "common_practice": True,
     "choices": [{"id": "yes", "says": "yes", "right": True}, {"id": "no", "says": "no"}]},
]}]}  # fmt: skip


def test_nobody_goes_on_with_a_check_that_a_stranger_began(meeting: Meeting) -> None:
    """Its sheet and its set are the stranger's: one question in the place of fifteen."""
    yard, at = meeting.yard, meeting.now
    meeting.carry(meeting.here, meeting.other)
    sheet = forge(meeting.other, e.Sheeted(sheet=to_plain(read_sheet(TINY))), by="Bo", at=at)
    what = e.CheckBegun(sheet=sheet.id, sheet_id="pre-start", checks_for="run")
    begun = forge(meeting.other, what, by="Bo", machine=yard.machine, at=at)
    meeting.carry(meeting.other, meeting.here)
    state = meeting.here.state(yard.machine)
    assert ([one.id for one in state.checks], state.open_checks) == ([begun.id], ())
    answer = e.Answered(check=begun.id, question="q", seen="yes", judged="right")
    for one in (answer, e.CheckEnded(check=begun.id, verdict="passed")):
        meeting.now += timedelta(minutes=1)
        meeting.here.add(one, machine=yard.machine, by="Olav", now=meeting.now)
    assert meeting.word() == "check due"
    whole = sheets.load().by_id["pre-start"]
    assert walk_rounds.begin(meeting.here, yard.machine, whole, by="Olav", now=meeting.now).walk.sheet.questions
    assert meeting.here.rebuild() == []


@pytest.mark.parametrize("what", [
    e.Moved(place="South"), e.Assigned(item="lube", to="Olav", day="2030-01-01"),
    e.LanesChosen(field="North", lanes=("1",)),
])  # fmt: skip
def test_what_a_stranger_arranges_waits_until_they_are_accepted(meeting: Meeting, what: e.Kind) -> None:
    """A move lets a hold of the place end without a word of what changed."""
    fault = meeting.yard.add(e.Fault(part="hose", says="stones", holds="run", owner="place"))
    meeting.carry(meeting.here, meeting.other)
    one = forge(meeting.other, what, by="Bo", machine=meeting.yard.machine, at=meeting.now)
    meeting.carry(meeting.other, meeting.here)
    assert statuses(meeting.here)[one.id] == "waiting"
    held = meeting.here.state(meeting.yard.machine).fault(fault.id)
    assert held is not None
    assert not held.moved
    [bo] = [id for id in statuses(meeting.here) if isinstance(meeting.here.entry(id).what, e.Enrolled)]  # type: ignore[union-attr]
    waiting.decide(meeting.here, [bo], accepted=True, why="a new man", by="Mara", now=meeting.now)
    assert one.id not in statuses(meeting.here)


def test_that_somebody_left_waits_for_a_name(meeting: Meeting) -> None:
    meeting.carry(meeting.here, meeting.other)
    gone = forge(meeting.other, e.Enrolled(name="Olav", role="left"), by="Mara", at=meeting.now)
    meeting.carry(meeting.other, meeting.here)
    assert meeting.here.roles()["Olav"] == "operator"
    [listed] = [one for one in waiting.waiting(meeting.here, meeting.now) if one.id == gone.id]
    assert listed.words == ("operator", "nobody")
    assert "operator -> nobody" in listed.says
    waiting.decide(meeting.here, [gone.id], accepted=True, why="he left", by="Mara", now=meeting.now)
    assert "Olav" not in meeting.here.roles()


def test_bad_news_of_anybody_counts_at_once(meeting: Meeting) -> None:
    meeting.carry(meeting.here, meeting.other)
    m, at = meeting.yard.machine, meeting.now
    forge(meeting.other, e.Fault(part="hose", says="torn", holds="run"), by="Nobody", machine=m, at=at)
    run = e.Run(started=at - 20 * H, ended=at, metres=300_000)
    forge(meeting.other, run, by="Nobody", machine=m, at=at)
    forge(meeting.other, e.Reading(counter="hours", value=500 * 3600), by="Bo", machine=m, at=at)
    new = forge(meeting.other, e.Carded(card={"tag": "N9"}), by="Bo", at=at)
    meeting.carry(meeting.other, meeting.here)
    state = meeting.here.state(m)
    assert [one.says for one in state.faults] == ["torn"]
    assert (state.totals.seconds, state.totals.runs) == (500 * 3600, 1)
    assert meeting.here.machine_id("N9") == new.id
    assert meeting.word() == "held"


@pytest.mark.parametrize("what", [
    e.Reading(counter="hours", value=9000 * 3600), e.Reading(counter="hours", value=5 * 3600, change="new counter"),
    e.Run(started=START - 50 * H, ended=START - H, metres=10),
])  # fmt: skip
def test_no_use_that_a_stranger_tells_makes_anything_better(meeting: Meeting, what: e.Kind) -> None:
    """A reading before ours would contradict ours, and a run before a service move what it counts from."""
    yard = meeting.yard
    for after, hours in ((1, 100), (2, 101)):
        yard.register.add(e.Reading(counter="hours", value=hours * 3600), machine=yard.machine, by="Olav",
                          now=START + after * H)  # fmt: skip
    yard.register.add(e.Service(item="lube"), machine=yard.machine, by="Tove", now=START + 3 * H)
    yard.register.add(e.Reading(counter="hours", value=112 * 3600), machine=yard.machine, by="Olav", now=START + 20 * H)
    assert meeting.word() == "held"
    meeting.carry(meeting.here, meeting.other)
    at = what.ended if isinstance(what, e.Run) else START
    forge(meeting.other, what, by="Nobody", machine=yard.machine, at=at)
    meeting.carry(meeting.other, meeting.here)
    assert meeting.word() == "held"
    assert meeting.here.state(yard.machine).totals.seconds >= 112 * 3600
    assert prove(meeting.here).whole


def test_what_stood_before_this_program_counts_as_accepted(meeting: Meeting) -> None:
    """A register says which entries came in; of one of an older program nothing is said."""
    fault = hold(meeting)
    re_tested(meeting, fault)
    forge(meeting.other, e.Release(fault=fault.id), by="Tove", machine=meeting.yard.machine, at=meeting.now)
    meeting.carry(meeting.other, meeting.here)
    assert meeting.word() == "held"
    about = AboutRow
    with meeting.here.writing():
        meeting.here.db.write(about.delete().where(about.name == foreign.BROUGHT))
    meeting.here.rebuild()
    assert meeting.word() == "check due"


def test_the_book_says_what_does_not_count_here_and_cancels_nothing_by_what_waits(meeting: Meeting) -> None:
    m, fault = meeting.yard.machine, hold(meeting)
    reading = meeting.here.add(e.Fault(part="hose", says="scuffed"), machine=m, by="Tove", now=meeting.now)
    forge(meeting.other, e.Correction(entry=fault.id, why="a slip"), by="Bo", machine=m, at=meeting.now)
    forge(meeting.other, e.Correction(entry=reading.id, why="a slip"), by="Bo", machine=m, at=meeting.now)
    forge(meeting.other, e.Release(fault=fault.id), by="Bo", machine=m, at=meeting.now)
    forge(meeting.other, e.Reading(counter="hours", value=9), by="Bo", machine=m, at=meeting.now)
    meeting.carry(meeting.other, meeting.here)
    lines = {one.entry.id: one for one in book.book(meeting.here, m)}
    assert lines[fault.id].taken_back is None
    assert lines[reading.id].taken_back is None
    found = sorted((one.entry.what.kind, one.uncounted) for one in lines.values() if one.uncounted)
    assert found == [("correction", "void"), ("correction", "waiting"), ("reading", "told"), ("release", "waiting")]
    assert {one.why_uncounted for one in lines.values() if one.uncounted == "waiting"} == {
        ("waits to be accepted here")
    }


def test_what_a_run_says_of_signatures_counts_by_who_says_it_and_of_its_own_machine_only(
    meeting: Meeting, monkeypatch: pytest.MonkeyPatch
) -> None:
    here, m = meeting.here, meeting.yard.machine
    begun = here.add(e.CheckBegun(sheet="s", sheet_id="x", checks_for="run"), machine=m, by="Olav", now=meeting.now)
    signed = here.add(e.GateSigned(check=begun.id, gate="water"), machine=m, by="Olav", now=meeting.now)

    monkeypatch.setattr(Batch, "_dated_after_now", lambda batch, machine: (signed.id,))

    def run(at: datetime, machine: str, by: str = "Bo") -> None:
        what = e.Run(started=at - H, ended=at, metres=1)
        forge(meeting.other, what, by=by, machine=machine, at=at)
        meeting.carry(meeting.other, here)

    def found() -> tuple[bool, bool]:
        assert prove(here).whole
        return signed.id in here.known().doubtful, signed.id in here.known().distrusted

    assert found() == (False, False)
    run(meeting.now + H, m)  # it was not dated after now when that was recorded
    run(meeting.now - H, "another")
    assert found() == (False, False)
    run(meeting.now - 2 * H, m)
    assert found() == (False, True)
    person = next(one.id for one in waiting.waiting(here, meeting.now) if isinstance(one.entry.what, e.Enrolled))
    waiting.decide(here, [person], accepted=True, why="known", by="Mara", now=meeting.now + H)
    assert found() == (True, False)
