"""The yard as lists show it, from what is kept: the same as the judge says of every whole state, at any moment."""

import contextlib
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.due_list import DueFilter
from reelcare.core.state.limits import Limits, limits_of
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.state.plain_form import to_plain
from reelcare.register.acts import people
from reelcare.register.demo import build
from reelcare.register.errors import Refused
from reelcare.register.exchange import copies
from reelcare.register.opening import open_reader, open_writer
from reelcare.register.reading import yard as yards
from reelcare.register.reading.reader import Reader
from reelcare.register.views import due_list
from reelcare.register.writing.writer import Writer
from tests.register.conftest import CARD, START
from tests.servers import longer_on_a_server

NOW = datetime(2026, 7, 1, 9, tzinfo=UTC)
HOURS = (0, 1, 8, 23, 24, 25, 30, 47, 24 * 5, 24 * 40, 24 * 200, 24 * 500)


def agree(register: Reader, now: datetime) -> None:
    """Order, standing, reasons and due lines from what is kept, against every whole state as the judge sees it."""
    seen, listed = yards.yard(register, now), yards.listed(register, now)
    assert [one.id for one in listed] == [one.id for one in seen]
    some = yards.with_limits(register, [one.id for one in listed], now)
    for one, whole in zip(listed, seen, strict=True):
        assert (one.tag, one.name, one.place) == (whole.tag, whole.card.name, whole.card.place)
        same, limits = some[one.id]
        assert same == one
        assert limits == Limits.from_plain(limits_of(whole.state, whole.plan, whole.card).to_plain())
        assert one.judged._replace(standing=yards.reasons(register, one, limits)) == whole.judged
        alone = yards.machine_now(register, one.id, now, forecasts=False)
        assert (alone.state, alone.judged) == (whole.state, whole.judged)
        assert [*map(as_kept, alone.lines)] == [*map(as_kept, whole.lines)]
    known, due = yards.with_due_lines(register, now)
    assert known == listed
    assert [*map(as_kept, due)] == [*map(as_kept, _ordered(seen))]


def _ordered(seen: list[MachineNow]) -> list[DueLine]:
    return sorted((line for whole in seen for line in whole.lines), key=lambda line: line.order)


def as_kept(line: DueLine) -> DueLine:
    """The line with its thresholds as a text gives them back: as lists."""
    return line._replace(thresholds=[list(one) for one in line.thresholds])  # type: ignore[misc]


def agree_on_the_past(register: Reader, at: datetime) -> None:
    """The same of a moment past, for which every machine is folded anew."""
    seen = yards.yard(register, at, past=True)
    listed, due = yards.with_due_lines(register, at, past=True)
    assert [one.id for one in listed] == [one.id for one in seen]
    for one, whole in zip(listed, seen, strict=True):
        limits = limits_of(whole.state, whole.plan, whole.card)
        assert one.judged._replace(standing=yards.reasons(register, one, limits)) == whole.judged
        assert yards.machine_now(register, one.id, at, past=True, forecasts=False) == whole
    assert [*map(as_kept, due)] == [*map(as_kept, _ordered(seen))]


@pytest.mark.long
@longer_on_a_server
def test_it_agrees_over_the_demo_estate_at_many_moments(place: Any, tmp_path: Path) -> None:
    with open_writer(tmp_path / "demo.db") as register:
        build(register, NOW)
        # a server is filled from a file, which takes a moment
        copies.copy(register, place)
    with open_writer(place) as register:
        for hours in HOURS:
            agree(register, NOW + timedelta(hours=hours))
        agree_on_the_past(register, NOW - timedelta(days=30))


days = st.dates(START.date() + timedelta(days=4), START.date() + timedelta(days=60))
what = st.one_of(
    st.builds(
        e.Fault, part=st.sampled_from(["pawl", "wheels", "hose"]), says=st.just("x"),
        holds=st.sampled_from(["", "run", "road", "both"]),
    ),
    st.builds(
        e.Fault, part=st.just("hose"), says=st.just("x"), fix_by_runs=st.one_of(st.none(), st.integers(1, 4)),
        fix_by_day=st.one_of(st.none(), days.map(str)),
    ),
    st.integers(1, 12),
)  # fmt: skip
PLAN = {"id": "p", "items": [
    {"id": "a", "what": "x", "part": "gearbox", "every": {"hours": 20, "months": 1}, "stop": True, "grace": 20},
    {"id": "b", "what": "x", "part": "wheels", "every": {"months": 1}, "stop": True, "grace": 0},
    {"id": "c", "what": "x", "part": "wheels", "every": {"runs": 3}, "stop": True, "grace": 0},
    {"id": "d", "what": "x", "part": "hose", "every": {"metres": 900}},
]}  # fmt: skip


@pytest.mark.long
@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(st.lists(st.lists(what, max_size=5), min_size=1, max_size=4), st.sampled_from(HOURS), st.integers(0, 65))
def test_it_agrees_whatever_has_happened(
    tmp_path_factory: pytest.TempPathFactory, happened: list[list[Any]], hours: int, before: int
) -> None:
    with open_writer(tmp_path_factory.mktemp("yard") / "r.db") as register:
        people.enrol(register, "Mara", "supervisor", by="Mara", now=START)
        register.add(e.Planned(plan=PLAN), by="Mara", now=START)
        now = START
        for number, told in enumerate(happened):
            machine = register.add(e.Carded(card={**CARD, "tag": f"R{number}"}), by="Mara", now=START).machine
            now = START
            for one in told:
                now += timedelta(hours=13)
                more = (
                    e.Run(started=now - timedelta(hours=one), ended=now, metres=100_000 + one)
                    if one in range(13)
                    else one
                )
                with contextlib.suppress(Refused):  # a limit that is reached already
                    register.add(more, machine=machine, by="Mara", now=now)
        agree(register, max(now, START + timedelta(hours=13 * 5)) + timedelta(hours=hours))
        agree_on_the_past(register, START + timedelta(hours=before))


@pytest.fixture
def yard_of_three(register: Writer) -> Writer:
    people.enrol(register, "Mara", "supervisor", by="Mara", now=START)
    register.add(e.Planned(plan=PLAN), by="Mara", now=START)
    for number in (3, 1, 2):
        card = {**CARD, "tag": f"R{number}", "name": f"Reel {number}", "place": "Øst" if number == 2 else "West"}
        entry = register.add(e.Carded(card=card), by="Mara", now=START + timedelta(days=number))
        for item in ("a", "b"):  # what was never done is unknown, and holds nothing
            done = e.Service(item=item)
            register.add(done, machine=entry.machine, by="Mara", now=START + timedelta(days=number))
        register.add(e.Fault(part="hose", says="x", fix_by_runs=9), machine=entry.machine, by="Mara", now=NOW)
    return register


def test_at_a_moment_past_each_machine_is_folded_once(yard_of_three: Writer, monkeypatch: pytest.MonkeyPatch) -> None:
    folded: list[str] = []
    fold = Reader.fold

    def counted(self: Reader, machine: str, at: datetime | None = None) -> Any:
        folded.extend([machine] if at is not None else [])
        return fold(self, machine, at)

    monkeypatch.setattr(Reader, "fold", counted)
    then = START + timedelta(days=20)
    assert due_list.work_list(yard_of_three, DueFilter(), then, past=True).lines
    assert due_list.lines_until(yard_of_three, DueFilter(), then, then.date() + timedelta(days=90), past=True)
    assert sorted(folded) == sorted(yard_of_three.machine_ids())


def test_a_moment_past_is_told_anew_once_something_is_written_that_happened_before_it(yard_of_three: Writer) -> None:
    then, machine = START + timedelta(days=20), yard_of_three.machine_ids()[0]
    assert yards.machine_now(yard_of_three, machine, then, past=True).state.totals.runs == 0
    ran = e.Run(started=then - timedelta(days=2), ended=then - timedelta(days=1), metres=300_000)
    yard_of_three.add(ran, machine=machine, by="Mara", now=NOW, happened=ran.ended)
    assert yards.machine_now(yard_of_three, machine, then, past=True).state.totals.runs == 1


def test_what_is_remembered_of_a_machine_after_each_write_is_what_is_kept_then(yard_of_three: Writer) -> None:
    register, machine = yard_of_three, yard_of_three.machine_ids()[0]
    slower = {**PLAN, "items": [{**one, "every": {"months": 2}} for one in PLAN["items"]]}  # type: ignore[dict-item]
    written = [
        e.Service(item="a"), e.Noted(says="wet"), e.Planned(plan=slower), e.Reading(counter="hours", value=7200),
        e.Fault(part="pawl", says="x", holds="run", retest="y"), e.Moved(place="East"),
        e.Carded(card={**CARD, "tag": "R9"}), e.Retired(why="sold"),
    ]  # fmt: skip
    for number, one in enumerate(written):
        assert register.kept(machine) is not None  # so that it is remembered
        register.add(one, machine=machine, by="Mara", now=NOW + timedelta(minutes=number))
        with open_reader(register.opened_by) as other:
            for id in register.machine_ids():
                mine, theirs = register.kept(id), other.kept(id)
                assert mine is not None
                assert theirs is not None
                assert (to_plain(mine[0]), mine[1]) == (to_plain(theirs[0]), theirs[1])


def test_a_list_that_is_looked_at_long_after_is_judged_by_that_day(yard_of_three: Writer) -> None:
    later = START + timedelta(days=90)
    assert {one.judged.standing.run for one in yards.listed(yard_of_three, START + timedelta(days=4))} == {"check due"}
    # two stop items by the month are past their grace by then
    assert {one.judged.standing.road for one in yards.listed(yard_of_three, later)} == {"held"}
    agree(yard_of_three, later)


def test_finding_goes_by_tag_first_and_then_by_name_and_place(yard_of_three: Writer) -> None:
    listed = yards.listed(yard_of_three, NOW)
    tags = [one.tag for one in listed]
    assert yards.find("r3", listed, 0) == tags.index("R3")
    assert yards.find("øst", listed, 0) == tags.index("R2")
    assert yards.find("reel 1", listed, 0) == tags.index("R1")
    assert yards.find("reel 1", listed, tags.index("R1") + 1) is None
    assert yards.find("nothing", listed, 0) is None


def test_what_ends_that_a_machine_has_left_is_no_check(yard: Any) -> None:
    yard.register.add(e.Retired(why="sold"), machine=yard.machine, by="Mara", now=yard.now)
    assert yards.machine_now(yard.register, yard.machine, yard.now).ends_by == ("taking that entry back",)
