"""Entries folded together are what they are one after the other."""

from datetime import UTC, date, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.core.service.plan_table import read_plan
from reelcare.core.state import tally as tallying
from reelcare.core.state.tally import PlanBook, Tally, begin, ending, fold

T = datetime(2026, 5, 1, 6, tzinfo=UTC)
PLANS = PlanBook([(T, None, read_plan({"id": "p", "items": [{"id": "oil", "what": "Oil", "every": {"hours": 100}}]}))])
CHECKS = ("c0", "c1", "c2")

steps = st.lists(
    st.tuples(
        st.sampled_from(["run", "answer", "answer", "answer", "begun", "ended", "fault", "release", "service"]),
        st.sampled_from(CHECKS),
        st.integers(0, 3),
    ),
    max_size=30,
)


def entry(step: tuple[str, str, int], number: int, at: datetime) -> e.Entry:
    """An entry of machine `m`; one that begins a check, or a fault, has the id by which the others name it."""
    kind, check, choice = step
    what: dict[str, e.What] = {
        "run": e.Run(started=at - timedelta(minutes=30), ended=at, metres=1000 * choice),
        "answer": e.Answered(check=check, question="feet", seen="yes", judged="right"),
        "begun": e.CheckBegun(sheet="s", sheet_id="pre-start", checks_for=("run", "road")[choice % 2]),
        "ended": e.CheckEnded(check=check, verdict="passed" if choice else "left"),
        "fault": e.Fault(part="pawl", says="slips", holds="run" if choice else ""),
        "release": e.Release(fault=check),
        "service": e.Service(item="oil"),
    }
    id = check if kind in ("begun", "fault") else f"{number:04}"
    return e.Entry(id=id, machine="m", happened=at, recorded=at, terminal="t", by="Ann", what=what[kind])


def one_by_one(tally: Tally, entries: list[e.Entry]) -> Tally:
    for one in entries:
        tally = fold(tally, one, PLANS)
    return tally


@given(steps, st.integers(0, 30))
def test_any_stretch_of_entries_gives_what_its_entries_give_one_after_the_other(
    happened: list[tuple[str, str, int]], cut: int
) -> None:
    entries = [entry(step, number, T + timedelta(hours=number)) for number, step in enumerate(happened)]
    start = begin("m", date(2026, 5, 1))
    first, then = entries[:cut], entries[cut:]
    before = tallying.fold_together(start, first, PLANS)
    assert before == one_by_one(start, first)
    assert tallying.fold_together(before, then, PLANS) == one_by_one(start, entries)
    if entries:
        assert tallying.fold_all("m", entries, PLANS) == ending(one_by_one(start, entries), entries[-1].order)


@given(st.lists(st.tuples(st.sampled_from([*CHECKS, "none"]), st.integers(0, 5)), max_size=12))
def test_an_open_check_keeps_the_moment_of_its_last_answer(given: list[tuple[str, int]]) -> None:
    begun = [entry(("begun", one, 0), 0, T) for one in CHECKS]
    answers = [entry(("answer", check, 0), number, T + timedelta(hours=hour)) for number, (check, hour) in
               enumerate(sorted(given, key=lambda one: one[1]))]  # fmt: skip
    tally = tallying.fold_together(begin("m", date(2026, 5, 1)), [*begun, *answers], PLANS)
    assert tally == one_by_one(begin("m", date(2026, 5, 1)), [*begun, *answers])
    last = {check: T + timedelta(hours=max(h for c, h in given if c == check)) for check, _ in given}
    assert {one.id: one.answered for one in tally.checks} == {one: last.get(one) for one in CHECKS}
