"""The yard in its order, from what is kept: the same as the judge says of every machine, at any moment after."""

import contextlib
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.core.state.limits import limits_of
from reelcare.core.state.machine_now import due_lines
from reelcare.register import copies, reading, schema, yard
from reelcare.register import glance as glances
from reelcare.register.demo import build
from reelcare.register.errors import Refused
from reelcare.register.register import Register
from tests.register.conftest import CARD, START
from tests.register.test_glimpse import row
from tests.servers import longer_on_a_server

NOW = datetime(2026, 7, 1, 9, tzinfo=UTC)
HOURS = (0, 1, 8, 23, 24, 25, 30, 47, 24 * 5, 24 * 40, 24 * 200, 24 * 500)


def agree(register: Register, now: datetime) -> None:
    """Order, counts and words from what is kept, against every machine as the judge sees it."""
    seen = reading.yard(register, now)
    order = yard.order(register, now)
    assert list(order.machines) == [one.id for one in seen]
    worst = [one.standing.worst for one in seen]
    assert order.counts == {word: worst.count(word) for word in ("held", "check due", "clear")}
    assert yard.machines(register, order.machines, now) == seen
    for one, told in zip(seen, yard.rows(register, order, 0, len(seen), now, "es"), strict=True):
        assert tuple(told) == row(one)
    day = now.astimezone(register.zone).date()
    for one in seen:
        # what is kept is of its last entry; the words are for any moment after it
        last = one.state.last[1]  # type: ignore[index]  # it has a card at least
        limits = limits_of(one.state, one.plan)
        judged = due_lines(one.id, one.tag, one.card.place, limits, one.plan, last, register.zone)
        kept = glances.glance(one.state, one.plan, last, register.zone, judged)
        assert kept.words(now, day) == (one.standing.run, one.standing.road)


@longer_on_a_server
def test_it_agrees_over_the_demo_estate_at_many_moments(place: Any, tmp_path: Path) -> None:
    with Register(tmp_path / "demo.db") as register:
        build(register, NOW)
        # a server is filled from a file, which takes a moment
        copies.copy(register, place)
    with Register(place) as register:
        for hours in HOURS:
            agree(register, NOW + timedelta(hours=hours))


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


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(st.lists(st.lists(what, max_size=5), min_size=1, max_size=4), st.sampled_from(HOURS))
def test_it_agrees_whatever_has_happened(
    tmp_path_factory: pytest.TempPathFactory, happened: list[list[Any]], hours: int
) -> None:
    from reelcare.register import people

    with Register(tmp_path_factory.mktemp("yard") / "r.db") as register:
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


def test_a_large_yard_keeps_its_order_of_an_earlier_day_until_it_is_renewed(
    yard_of_three: Register, monkeypatch: pytest.MonkeyPatch
) -> None:
    register, later = yard_of_three, START + timedelta(days=90)
    monkeypatch.setattr(yard, "AT_ONCE", 2)
    assert yard.order(register, later).of_earlier
    yard.renew(register, later)
    order = yard.order(register, later)
    assert not order.of_earlier
    assert list(order.machines) == [one.id for one in reading.yard(register, later)]
    assert register.rebuild() == []
    assert schema.rows(register.db, "SELECT COUNT(*) FROM machine_now WHERE next_item = ''") == [(0,)]


@pytest.fixture
def yard_of_three(register: Register) -> Register:
    from reelcare.register import people

    people.enrol(register, "Mara", "supervisor", by="Mara", now=START)
    register.add(e.Planned(plan=PLAN), by="Mara", now=START)
    for number in (3, 1, 2):
        card = {**CARD, "tag": f"R{number}", "name": f"Reel {number}", "place": "Øst" if number == 2 else "West"}
        entry = register.add(e.Carded(card=card), by="Mara", now=START + timedelta(days=number))
        register.add(e.Fault(part="hose", says="x", fix_by_runs=9), machine=entry.machine, by="Mara", now=NOW)
    return register


def test_finding_goes_by_tag_first_and_then_by_name_and_place(yard_of_three: Register) -> None:
    register = yard_of_three
    ids = yard.order(register, NOW).machines
    tags = [one.tag for one in yard.machines(register, ids, NOW)]
    assert yard.find(register, "r3", ids, 0) == tags.index("R3")
    assert yard.find(register, "øst", ids, 0) == tags.index("R2")
    assert yard.find(register, "reel 1", ids, 0) == tags.index("R1")
    assert yard.find(register, "reel 1", ids, tags.index("R1") + 1) is None
    assert yard.find(register, "nothing", ids, 0) is None
