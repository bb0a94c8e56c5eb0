"""Carry files: whole or refused, in any order the same, and no hold ever dropped."""

import contextlib
import gzip
import hashlib
import json
import shutil
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from reelcare.core import entries as e
from reelcare.core.state.machine_state import Holds
from reelcare.register.acts import people
from reelcare.register.demo import mark_as_demo
from reelcare.register.errors import Damaged, NotAllowed, Refused
from reelcare.register.exchange import carry_files, carry_format
from reelcare.register.integrity import chain
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from reelcare.register.reading import foreign, queries
from reelcare.register.reading import yard as yards
from reelcare.register.views import night as nights
from reelcare.register.writing.writer import Writer
from tests.register.conftest import CARD, accept_all, carry_in, sql, while_it_waits
from tests.servers import in_a_file

START = datetime(2026, 5, 1, 6, tzinfo=UTC)


def content(register: Writer) -> set[tuple[Any, ...]]:
    """What a register knows, whatever the order in which it came to know it."""
    rows = sql(
        register.db, "SELECT id, kind, machine, happened, recorded, terminal, person, body, place, digest FROM entry"
    )
    told = ("carried in", "carry decision")
    return {(*row[:5], chain.base(row[5]), *row[6:]) for row in rows if row[1] not in told}


def standings(register: Writer, at: datetime) -> dict[str, Any]:
    return {
        one.id: (one.standing.run, one.standing.road, one.state.totals, sorted(fault.id for fault in one.faults))
        for one in yards.yard(register, at)
    }


def take_over(
    source: Writer, target: Writer, folder: Path, name: str, now: datetime = START
) -> carry_files.CarryPreview:
    path = folder / f"{name}.carry"
    path.unlink(missing_ok=True)
    carry_files.carry_out(source, path, now=now)
    return carry_in(target, path, now)


@pytest.fixture
def other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.setenv("TZ", "UTC")
    with open_writer(tmp_path / "other.db") as one:
        people.enrol(one, "Bo", "supervisor", by="Bo", now=START)
        yield one


def test_everything_comes_over_and_coming_twice_changes_nothing(yard: Any, other: Writer, tmp_path: Path) -> None:
    yard.run(0)
    fault = yard.add(e.Fault(part="pawl", says="spring gone", holds="run"))
    first = take_over(yard.register, other, tmp_path, "a")
    assert (first.new, first.known) == (first.new + first.known, 0)
    assert first.holds == ["R1, pawl: spring gone"]
    assert first.machines == ["R1"]
    assert content(other) - content(yard.register) == {row for row in content(other) if row[6] == "Bo"}
    assert content(yard.register) < content(other)
    accept_all(other)
    assert standings(other, yard.now) == standings(yard.register, yard.now)
    assert other.state(yard.machine).fault(fault.id) is not None
    assert take_over(yard.register, other, tmp_path, "b").new == 0
    assert prove(other).whole
    assert other.rebuild() == []


def test_who_left_while_a_carry_file_waited_for_its_turn_brings_nothing_in(
    yard: Any, other: Writer, tmp_path: Path
) -> None:
    """Nor a file that nobody signs for, as one that tells what another register has accepted."""
    take_over(yard.register, other, tmp_path, "a")
    take_over(other, yard.register, tmp_path, "b")
    accept_all(other)
    carry_files.carry_out(other, tmp_path / "c.carry", now=START)
    bundle, before = carry_format.read(tmp_path / "c.carry"), content(yard.register)
    assert carry_files.look(yard.register, bundle).kinds.keys() == {e.CarryDecision.kind}
    later = yard.now + timedelta(minutes=1)  # of two entries of one millisecond chance says which is the later one
    with (
        while_it_waits(yard, lambda beside: people.leave(beside, "Olav", by="Mara", now=later)),
        pytest.raises(NotAllowed, match="Olav: not enrolled"),
    ):
        carry_files.carry_in(yard.register, bundle, by="Olav", now=later)
    assert carry_files.look(yard.register, bundle).new > 0
    assert {row[1] for row in content(yard.register) - before} == {e.Enrolled.kind}


def test_a_plan_for_all_that_was_taken_back_is_taken_back_everywhere(yard: Any, other: Writer, tmp_path: Path) -> None:
    plan = {"id": "mine", "items": [{"id": "grease", "what": "Grease", "every": {"hours": 500}}]}
    put_in_force = yard.register.add(e.Planned(plan=plan), by="Mara", now=yard.now)
    take_over(yard.register, other, tmp_path, "a")
    assert len(yards.machine_now(other, yard.machine, yard.now).dues) > 1
    accept_all(other)
    assert len(yards.machine_now(other, yard.machine, yard.now).dues) == 1
    yard.register.add(e.Correction(entry=put_in_force.id, why="a slip"), by="Mara", now=yard.now)
    take_over(yard.register, other, tmp_path, "b")
    assert len(yards.machine_now(other, yard.machine, yard.now).dues) == 1
    accept_all(other)
    assert other.rebuild() == []
    assert len(yards.machine_now(other, yard.machine, yard.now).dues) > 1


def test_however_many_entries_are_held_at_a_time_the_file_is_the_same(
    yard: Any, other: Writer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    take_over(other, yard.register, tmp_path, "theirs")
    for day in range(9):
        yard.run(day)
    written = []
    for number, many in enumerate((5000, 1, 3, 7)):
        monkeypatch.setattr(carry_files, "PAGE", many)
        carry_files.carry_out(yard.register, tmp_path / f"{number}.carry", now=START)
        written.append((tmp_path / f"{number}.carry").read_bytes())
    assert len(set(written)) == 1
    assert len(carry_format.read(tmp_path / "0.carry").entries) == prove(yard.register).entries


def test_a_look_writes_nothing(yard: Any, other: Writer, tmp_path: Path) -> None:
    carry_files.carry_out(yard.register, tmp_path / "x.carry", now=yard.now)
    found = carry_files.look(other, carry_format.read(tmp_path / "x.carry"))
    assert found.new > 0
    assert found.kinds == Counter(one.what.kind for one in yard.register.select(queries.entries()))
    assert found.people == ["Mara, supervisor", "Tove, mechanic", "Olav, operator"]
    assert {row[6] for row in content(other)} == {"Bo"}


def test_a_hold_from_anywhere_holds_everywhere(yard: Any, other: Writer, tmp_path: Path) -> None:
    take_over(yard.register, other, tmp_path, "a")
    other.add(e.Fault(part="end stop", says="hangs", holds="run"), machine=yard.machine, by="Bo", now=yard.now)
    take_over(other, yard.register, tmp_path, "b")
    assert yards.machine_now(yard.register, yard.machine, yard.now).standing.run == "held"
    assert content(other) == content(yard.register)


def test_a_run_that_was_logged_on_two_terminals_is_told_with_the_way_back(
    yard: Any, other: Writer, tmp_path: Path
) -> None:
    """Both are told to take the same one back: if each took the other's back, none would count."""
    take_over(yard.register, other, tmp_path, "a")
    begun, hour = yard.now - timedelta(hours=20), timedelta(hours=1)
    for register, by, late in ((yard.register, "Olav", 0), (other, "Bo", 1)):
        run = e.Run(started=begun + late * hour, ended=begun + (9 + late) * hour, metres=300_000)
        now = yard.now + late * hour
        entry = register.add(run, machine=yard.machine, by=by, now=now, happened=run.ended)
    apart = e.Run(started=begun - 9 * hour, ended=begun, metres=300_000)
    other.add(apart, machine=yard.machine, by="Bo", now=yard.now + hour, happened=apart.ended)
    here, there = tmp_path / "here.carry", tmp_path / "there.carry"
    for register, path in ((yard.register, here), (other, there)):
        carry_files.carry_out(register, path, now=yard.now + hour)
    for register, path in ((yard.register, there), (other, here)):
        warnings = carry_in(register, path, yard.now + 2 * hour).warnings
        told = [one for one in warnings if "overlaps another one" in one]
        assert len(told) == 1
        assert f"R1: 1 run, that of {begun + hour:%Y-%m-%d %H:%M} ({entry.id[-8:]})" in told[0]
    assert take_over(other, yard.register, tmp_path, "c", yard.now + 3 * hour).warnings == []


def test_a_run_that_was_taken_back_before_it_came_is_not_told(yard: Any, other: Writer, tmp_path: Path) -> None:
    take_over(yard.register, other, tmp_path, "a")
    run = e.Run(started=yard.now - timedelta(hours=9), ended=yard.now, metres=300_000)
    yard.register.add(run, machine=yard.machine, by="Olav", now=yard.now, happened=run.ended)
    entry = other.add(run, machine=yard.machine, by="Bo", now=yard.now, happened=run.ended)
    other.add(e.Correction(entry=entry.id, why="it was Olav's"), by="Bo", now=yard.now)
    assert not any("overlaps" in one for one in take_over(other, yard.register, tmp_path, "b", yard.now).warnings)


def test_one_tag_given_to_two_machines_is_told_and_both_live_on(yard: Any, other: Writer, tmp_path: Path) -> None:
    place = yard.register.card(yard.machine, yard.now).place
    entry = other.add(e.Carded(card={"tag": "r1", "name": "Another", "place": place}), by="Bo", now=START)
    found = take_over(yard.register, other, tmp_path, "a")
    assert "two machines are called R1: revise the card of one of them" in found.warnings
    with pytest.raises(Refused, match="two machines have this tag"):
        other.machine_id("R1")
    assert entry.machine is not None
    assert other.machine_id(entry.machine) == entry.machine
    lane = {"number": 1, "hydrant": 1, "length": "300 m", "spacing": "68 m"}
    other.add(e.Mapped(field={"id": "f", "place": place, "lanes": [lane]}), by="Bo", now=yard.now)
    with pytest.raises(Refused, match="two machines have this tag"):
        nights.plan(other, place, yard.now)
    other.add(e.Carded(card={"tag": "R1b", "name": "Another"}), machine=entry.machine, by="Bo", now=yard.now)
    assert other.machine_id("R1") == yard.machine


def test_a_near_miss_without_a_name_is_nothing_to_heed(yard: Any, other: Writer, tmp_path: Path) -> None:
    near = e.Noted(says="the gun cart rolled", near_miss="yes")
    yard.register.add(near, machine=yard.machine, by="", now=yard.now)
    assert take_over(yard.register, other, tmp_path, "a").warnings == []
    assert [one.says for one in other.state(yard.machine).notes] == ["the gun cart rolled"]


def test_two_machines_of_one_tag_stand_in_the_same_order_in_both_registers(
    yard: Any, other: Writer, tmp_path: Path
) -> None:
    other.add(e.Carded(card=CARD), by="Bo", now=START)
    take_over(yard.register, other, tmp_path, "a")
    take_over(other, yard.register, tmp_path, "b")
    here, there = (
        (
            list(register.tags()),
            [one.id for one in yards.listed(register, yard.now)],
            [one.id for one in yards.yard(register, yard.now)],
            [(line.machine, line.item.id) for line in yards.with_due_lines(register, yard.now)[1]],
        )
        for register in (yard.register, other)
    )
    assert here == there
    assert len(here[0]) == 2


def test_readings_that_contradict_each_other_stay_and_count_for_nothing(
    yard: Any, other: Writer, tmp_path: Path
) -> None:
    take_over(yard.register, other, tmp_path, "a")
    accept_all(other)
    hour = timedelta(hours=1)
    yard.register.add(
        e.Reading(counter="hours", value=500 * 3600), machine=yard.machine, by="Olav", now=START + 9 * hour
    )
    other.add(e.Reading(counter="hours", value=400 * 3600), machine=yard.machine, by="Olav", now=START + 10 * hour)
    take_over(other, yard.register, tmp_path, "b", START + 11 * hour)
    take_over(yard.register, other, tmp_path, "c", START + 11 * hour)
    assert content(other) == content(yard.register)
    accept_all(other, START + 11 * hour)
    assert other.state(yard.machine).totals == yard.register.state(yard.machine).totals
    assert yard.register.state(yard.machine).totals.seconds == 500 * 3600
    assert prove(other).whole


@in_a_file
def test_the_same_register_copied_and_written_on_in_both_places(yard: Any, tmp_path: Path) -> None:
    # the same laptop image twice: one terminal's name, two chains from one place on
    yard.register.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    shutil.copy(yard.register.path, tmp_path / "twin.db")
    with open_writer(tmp_path / "twin.db") as twin:
        assert twin.terminal == yard.register.terminal
        yard.add(e.Fault(part="pawl", says="spring gone", holds="run"))
        twin.add(e.Fault(part="hose", says="scuffed"), machine=yard.machine, by="Olav", now=yard.now)
        twin.add(e.Fault(part="gun", says="arm bent"), machine=yard.machine, by="Olav", now=yard.now)
        found = take_over(twin, yard.register, tmp_path, "a")
        assert any("copy of this very register" in text for text in found.warnings)
        take_over(yard.register, twin, tmp_path, "b")
        assert content(twin) == content(yard.register)
        assert len(yard.register.state(yard.machine).faults) == 3
        # both go on under names of their own, so that it does not happen again
        assert yard.register.terminal != twin.terminal
        for one in (twin, yard.register):
            one.add(e.Fault(part="chain", says="slack"), machine=yard.machine, by="Olav", now=yard.now)
            assert prove(one).whole
            assert one.rebuild() == []
        take_over(twin, yard.register, tmp_path, "c")
        take_over(yard.register, twin, tmp_path, "d")
        assert content(twin) == content(yard.register)
        assert prove(twin).whole
        assert prove(yard.register).whole


def test_a_clock_that_is_ahead_is_told(yard: Any, tmp_path: Path) -> None:
    carry_files.carry_out(yard.register, tmp_path / "x.carry", now=yard.now + timedelta(days=2))
    bundle = carry_format.read(tmp_path / "x.carry")
    assert carry_files.clock_ahead(bundle, yard.now) >= timedelta(days=1)
    assert carry_files.clock_ahead(bundle, yard.now + timedelta(days=3)) == timedelta(0)


def test_who_wrote_what_they_may_not_is_told(yard: Any, other: Writer, tmp_path: Path) -> None:
    released = yard.add(e.Fault(part="pawl", says="x", holds="run"))
    yard.add(e.Repair(fault=released.id, says="new"), by="Tove")
    take_over(yard.register, other, tmp_path, "a")
    people.enrol(yard.register, "Tove", "operator", by="Mara", now=yard.now)
    path = tmp_path / "b.carry"
    carry_files.carry_out(yard.register, path, now=yard.now)
    with open_writer(tmp_path / "third.db") as third:
        people.enrol(third, "Bo", "supervisor", by="Bo", now=START)
        warnings = carry_files.look(third, carry_format.read(path)).warnings
        assert any("Tove (operator) wrote a repair" in text for text in warnings)


def test_every_changed_byte_is_found(yard: Any, tmp_path: Path) -> None:
    path = tmp_path / "x.carry"
    carry_files.carry_out(yard.register, path, now=yard.now)
    whole = path.read_bytes()
    for place in range(0, len(whole), max(1, len(whole) // 250)):
        damaged = bytearray(whole)
        damaged[place] ^= 0x55
        path.write_bytes(damaged)
        try:
            bundle = carry_format.read(path)
        except (Refused, Damaged):
            continue
        # a byte of the packing's own head that means nothing to the content
        assert len(bundle.entries) == prove(yard.register).entries


def resealed(path: Path, line: int, changed: Callable[[Any], Any]) -> None:
    """Change what stands in one line of a carry file, and make its last line fit."""
    lines = gzip.decompress(path.read_bytes()).split(b"\n")[:-1]
    # with escapes, so that what is no letter can be written, too
    lines[line] = json.dumps(changed(json.loads(lines[line])), separators=(",", ":")).encode()
    body = b"".join(line + b"\n" for line in lines[:-1])
    end = json.dumps({"end": hashlib.sha256(body).hexdigest()}).encode() + b"\n"
    path.write_bytes(gzip.compress(body + end))


def test_a_changed_entry_with_a_new_seal_is_found(yard: Any, tmp_path: Path) -> None:
    path = tmp_path / "x.carry"
    carry_files.carry_out(yard.register, path, now=yard.now)
    resealed(path, 2, lambda row: [*row[:6], "Somebody", *row[7:]])
    with pytest.raises(Damaged, match=r"not as it was sealed.*where the file was made `reelcare prove` says more"):
        carry_format.read(path)


DEEP = "[" * 200_000


@pytest.mark.parametrize(
    "made",
    [
        {3: 10**30},
        {4: -(10**20)},
        {5: "ab~cd"},
        {6: "half \ud800"},
        {7: '{"a":"\udfff"}'},
        {7: DEEP},
        {7: "[1]"},
        {7: "{"},
        {8: 0},
        {8: 2**70},
    ],
    ids=["happened", "recorded", "branch", "person", "body", "deep", "list", "half", "place 0", "far place"],
)
def test_what_no_register_can_hold_is_refused_however_well_it_is_sealed(
    yard: Any, tmp_path: Path, made: dict[int, Any]
) -> None:
    path = tmp_path / "x.carry"
    carry_files.carry_out(yard.register, path, now=yard.now)

    def forged(row: list[Any]) -> list[Any]:
        row = [made.get(at, value) for at, value in enumerate(row)]
        text = json.dumps(["", row[8], *row[:8]], ensure_ascii=False, separators=(",", ":"))
        row[9] = hashlib.sha256(b"reelcare entry 1\n" + text.encode("utf-8", "surrogatepass")).hexdigest()
        return row

    resealed(path, 1, forged)
    with pytest.raises(Damaged, match="write it again with `carry out`") as told:
        carry_format.read(path)
    assert "\n" not in str(told.value)
    assert "x.carry" in str(told.value)


RUN = {"ended": "2026-05-01T16:00:00.000Z", "metres": 300_000, "started": "2026-05-01T06:00:00.000Z"}


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("run", RUN | {"metres": "many"}),
        ("run", RUN | {"metres": 1.5}),
        ("run", RUN | {"metres": True}),
        ("run", RUN | {"started": 5}),
        ("run", RUN | {"started": "2026-05-01T06:00"}),
        ("run", RUN | {"ended": "0001-01-01T00:00:00.000Z"}),
        ("reading", {"counter": "hours", "value": None}),
        ("answer", {"check": ["a"], "question": "q", "seen": "s", "judged": "right"}),
        ("service", {"item": ["oil"]}),
        ("service", {"item": "oil", "steps": [1]}),
        ("check begun", {"sheet": "s", "sheet_id": "pre-start", "checks_for": "run", "planned": {"out": 5}}),
        ("card", {"card": "R1"}),
        ("card", {"card": {"hose": 5}}),
        ("plan", {"plan": {"id": "p"}}),
        ("sheet", {"sheet": 5}),
        ("fault", {"part": "hose", "says": "scuffed", "fix_by_day": "some day"}),
        ("fault", {"part": "hose", "says": "scuffed", "holds": "all"}),
        ("re-test", {"fault": "a", "passed": "yes"}),
        ("correction", {"entry": None, "why": "a slip"}),
    ],
)
def test_what_no_kind_of_entry_can_say_is_refused_however_well_it_is_sealed(
    yard: Any, tmp_path: Path, kind: str, body: dict[str, Any]
) -> None:
    """Let in, it could never be taken out again, and no proof would come to its end."""
    path = tmp_path / "x.carry"
    carry_files.carry_out(yard.register, path, now=yard.now)

    def forged(row: list[Any]) -> list[Any]:
        row = [row[0], kind, *row[2:7], json.dumps(body), *row[8:]]
        return [*row[:9], chain.digest("", row[8], *row[:8])]

    resealed(path, 1, forged)
    with pytest.raises(Refused, match="bring it in with a newer reelcare") as told:
        carry_format.read(path)
    assert "\n" not in str(told.value)


@pytest.mark.parametrize("head", [{"schema": "1"}, {"made": 10**30}, {"made": "x"}, {"made": None}])
def test_a_head_that_cannot_be_is_refused(yard: Any, tmp_path: Path, head: dict[str, Any]) -> None:
    path = tmp_path / "x.carry"
    carry_files.carry_out(yard.register, path, now=yard.now)
    resealed(path, 0, lambda before: before | head)
    with pytest.raises(Damaged, match="line 1: damaged; write it again with `carry out`"):
        carry_format.read(path)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "not a carry file"),
        (b"hello", "not a carry file"),
        (gzip.compress(b""), "carry"),
        (gzip.compress(b"[1, 2]\n"), "not a carry file"),
        (gzip.compress(b"hello\n"), "not a carry file"),
        (gzip.compress(b'{"reelcare carry": 99}\n'), "newer version"),
        (gzip.compress(b'{"reelcare carry": 1, "schema": 99}\n'), "newer version"),
        (gzip.compress(b'{"reelcare carry": 1, "terminal": "ab", "entries": 1}\n'), "changed since it was written"),
        (gzip.compress(b'{"reelcare carry": 1, "terminal": "ab", "entries": 1}\n[1]\n'), "not an entry"),
        (gzip.compress(b'{"reelcare carry": 1, "terminal": "ab", "entries": 1}\n{\n'), "damaged"),
        (gzip.compress(b"x" * 5_000_000), "larger than any"),
        (gzip.compress(b'{"reelcare carry": 1, "entries": 0}\n' * 3)[:-9], "write it again with `carry out`"),
    ],
    ids=range(12),
)
def test_what_is_no_carry_file_is_refused_in_one_line(tmp_path: Path, data: bytes, says: str) -> None:
    path = tmp_path / "x.carry"
    path.write_bytes(data)
    with pytest.raises((Refused, Damaged), match=says) as told:
        carry_format.read(path)
    assert "\n" not in str(told.value)
    assert "x.carry" in str(told.value)


def test_no_file_is_written_over_and_the_file_is_private(yard: Any, tmp_path: Path) -> None:
    path = tmp_path / "x.carry"
    carry_files.carry_out(yard.register, path, now=yard.now)
    assert path.stat().st_mode & 0o777 == 0o600
    with pytest.raises(Refused, match="exists already"):
        carry_files.carry_out(yard.register, path, now=yard.now)
    with pytest.raises(Refused, match="no such file"):
        carry_format.read(tmp_path / "none.carry")
    assert sorted(one.name for one in tmp_path.iterdir() if "carry" in one.name) == ["x.carry"]


def test_the_file_of_a_demo_comes_into_no_register_but_a_demo(yard: Any, other: Writer, tmp_path: Path) -> None:
    yard.add(e.Fault(part="pawl", says="invented", holds="run"))
    mark_as_demo(yard.register)
    carry_files.carry_out(yard.register, tmp_path / "demo.carry", now=yard.now)
    bundle = carry_format.read(tmp_path / "demo.carry")
    before = content(other)
    with pytest.raises(Refused, match=r"demo\.carry: from a demo"):
        carry_files.look(other, bundle)
    with pytest.raises(Refused, match=r"demo\.carry: from a demo"):
        carry_files.carry_in(other, bundle, by="Bo", now=yard.now)
    assert content(other) == before
    mark_as_demo(other)
    assert carry_files.carry_in(other, bundle, by="Bo", now=yard.now).holds == ["R1, pawl: invented"]


class Merges(RuleBasedStateMachine):
    """Three terminals that write, merge, are copied, and merge again, in any order."""

    terminals: list[Writer]

    @initialize()
    def begin(self) -> None:
        import tempfile

        self.folder = Path(tempfile.mkdtemp())
        self.now = START
        self.count = 0
        first = open_writer(self.folder / "0.db")
        people.enrol(first, "Mara", "supervisor", by="Mara", now=START)
        entry = first.add(e.Carded(card={"tag": "R1", "hose": {"length": "400 m"}}), by="Mara", now=START)
        assert entry.machine is not None
        self.machine = entry.machine
        self.terminals = [first]
        for number in (1, 2):
            one = open_writer(self.folder / f"{number}.db")
            people.enrol(one, "Mara", "supervisor", by="Mara", now=START)
            take_over(first, one, self.folder, f"begin{number}")
            accept_all(one)
            self.terminals.append(one)
        self.written = [content(one) for one in self.terminals]

    def tick(self) -> datetime:
        self.now += timedelta(minutes=7)
        self.count += 1
        return self.now

    @rule(
        at=st.integers(0, 2), part=st.sampled_from(["pawl", "hose", "gun"]), holds=st.sampled_from(["run", "road", ""])
    )
    def fault(self, at: int, part: str, holds: Holds) -> None:
        now = self.tick()
        what = e.Fault(part=part, says=f"no. {self.count}", holds=holds)
        self.terminals[at].add(what, machine=self.machine, by="Mara", now=now)

    @rule(at=st.integers(0, 2), back=st.integers(0, 40), value=st.integers(0, 2000))
    def reading(self, at: int, back: int, value: int) -> None:
        now = self.tick()
        what = e.Reading(counter="hours", value=value * 3600)
        with contextlib.suppress(Refused):
            self.terminals[at].add(
                what, machine=self.machine, by="Mara", now=now, happened=max(START, now - timedelta(minutes=back))
            )

    @rule(at=st.integers(0, 2), hours=st.integers(1, 9))
    def run(self, at: int, hours: int) -> None:
        started = self.tick()
        self.now = started + timedelta(hours=hours)
        what = e.Run(started=started, ended=self.now, metres=hours * 25_000, stopped_by="end stop")
        self.terminals[at].add(what, machine=self.machine, by="Mara", now=self.now, happened=self.now)

    @rule(at=st.integers(0, 2))
    def release(self, at: int) -> None:
        one = self.terminals[at]
        faults = [fault for fault in one.state(self.machine).faults if fault.holds]
        if not faults:
            return
        for what in (
            e.Repair(fault=faults[0].id, says="done"),
            e.Retest(fault=faults[0].id, seen="fine", passed=True),
            e.Release(fault=faults[0].id),
        ):
            try:
                one.add(what, machine=self.machine, by="Mara", now=self.tick())
            except Refused:
                return

    @rule(source=st.integers(0, 2), into=st.integers(0, 2))
    def merge(self, source: int, into: int) -> None:
        before = content(self.terminals[into])
        take_over(self.terminals[source], self.terminals[into], self.folder, "merge", self.now)
        assert before | content(self.terminals[source]) == content(self.terminals[into])

    @precondition(lambda self: self.count < 60)
    @rule(source=st.integers(0, 2), into=st.integers(0, 2))
    def clone(self, source: int, into: int) -> None:
        """The target's register is brought home first, then it is given a copy of the source's."""
        if source == into:
            return
        take_over(self.terminals[into], self.terminals[source], self.folder, "home", self.now)
        self.terminals[source].db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        self.terminals[into].close()
        self.count += 1
        path = self.folder / f"clone{self.count}.db"
        shutil.copy(self.terminals[source].path, path)
        self.terminals[into] = open_writer(path)

    @invariant()
    def each_is_whole(self) -> None:
        for one in getattr(self, "terminals", []):
            assert prove(one).whole

    def teardown(self) -> None:
        if not getattr(self, "terminals", None):
            return
        for _ in range(2):
            for source in self.terminals:
                for target in self.terminals:
                    take_over(source, target, self.folder, "end", self.now)
        contents = [content(one) for one in self.terminals]
        assert contents[0] == contents[1] == contents[2]
        holds = {row[0] for row in contents[0] if row[1] == "fault" and json.loads(row[7]).get("holds")}
        for one in self.terminals:
            open_now = {fault.id for fault in one.state(self.machine).faults if fault.holds}
            # an end that came in by itself ends nothing here
            carried = foreign.carried_in(one)
            ended = {row[0]: json.loads(row[7])["fault"] for row in contents[0] if row[1] == "release"}
            assert holds - {fault for id, fault in ended.items() if id not in {each.id for each in carried}} <= open_now
            assert one.rebuild() == []
        for one in self.terminals:
            accept_all(one, self.now)
        seen = [standings(one, self.now) for one in self.terminals]
        assert seen[0] == seen[1] == seen[2]
        for one in self.terminals:
            assert prove(one).whole
            one.close()
        shutil.rmtree(self.folder)


TestMerges = pytest.mark.long(Merges.TestCase)
TestMerges.settings = settings(
    max_examples=12, stateful_step_count=14, deadline=None, suppress_health_check=list(HealthCheck)
)
