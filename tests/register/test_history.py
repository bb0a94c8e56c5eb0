"""A history folded from its rows is what the core makes of the same entries, at any moment."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.core.fold import first_day, fold
from reelcare.core.timestamps import day_of
from reelcare.register import history, people
from reelcare.register.errors import RegisterError
from reelcare.register.register import Draft, Register
from tests.register.test_histories import START, fresh, steps, write

stretches = st.lists(
    st.tuples(
        st.sampled_from(["answer", "answer", "answer", "service", "service", "run"]),
        st.integers(1, 8).map(lambda place: 20 * place),
        st.integers(0, 10_000),
    ),
    min_size=10,
    max_size=40,
)
"""Of what a history is full, close together: many of a kind follow one another."""


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(st.one_of(steps, stretches), st.lists(st.integers(0, 310), max_size=4))
def test_rows_give_what_entries_give(happened: list[tuple[str, int, int]], days: list[int]) -> None:
    with TemporaryDirectory() as folder:
        for register, machine in fresh(folder):
            now = START + timedelta(days=300)
            for step in happened:
                now += timedelta(minutes=1)
                try:
                    write(register, machine, step, now)
                except RegisterError:
                    continue
            known = register.known()
            for until in (None, *(START + timedelta(days=day) for day in days)):
                entries = register.of_machine(machine, until)
                assert history.folded(register.db, machine, known, until) == fold(machine, entries, known)


def test_a_history_begins_on_the_day_that_a_clock_put_back_shows_once_more() -> None:
    """Newfoundland put its clocks back at one minute past midnight (tz database, America/St_Johns, 2005-10-30)."""
    moments = [datetime(2005, 10, 30, 2, 30, 30, tzinfo=UTC), datetime(2005, 10, 30, 2, 40, tzinfo=UTC)]
    zone = ZoneInfo("America/St_Johns")
    assert [day_of(one, zone).day for one in moments] == [30, 29]
    assert first_day(moments, zone).isoformat() == "2005-10-29"
    later = [moments[0], moments[0] + timedelta(days=40)]
    assert first_day(later, zone).isoformat() == "2005-10-30"


@pytest.mark.parametrize("together", [False, True])
def test_what_is_written_as_a_clock_is_put_back_begins_a_history_on_that_day_at_once(
    together: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As above: the machine is carded half a minute after midnight, and all else happens on the day before."""
    monkeypatch.setenv("TZ", "America/St_Johns")
    carded = datetime(2005, 10, 30, 2, 30, 30, tzinfo=UTC)
    with Register(tmp_path / "r.db") as register:
        people.enrol(register, "Mara", "supervisor", by="Mara", now=carded)
        machine = register.add(e.Carded(card={"tag": "R1"}), by="Mara", now=carded).machine
        assert machine is not None
        whats = [e.Measured(about="gun", figures={"bore": "23 mm"}), e.Reading(counter="hours", value=0)]
        drafts = [Draft(what=one, machine=machine, happened=carded + timedelta(minutes=10)) for one in whats]
        for some in [drafts] if together else [[one] for one in drafts]:
            register.add_all(some, by="Mara", now=carded + timedelta(minutes=20))
        assert register.tally(machine).began.isoformat() == "2005-10-29"
        assert register.rebuild() == []
