"""What speaks against an entry at the door, kind by kind, and that a kind asks for no more than it needs."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from reelcare.core import entries as e
from reelcare.core.fold import fold
from reelcare.core.machine.card import read_card
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plans import Known
from tests.core.entries.test_kinds import EXAMPLES, Around, T, entry

H = timedelta(hours=1)


def run(started: datetime = T - 9 * H, ended: datetime = T, **more: int | str) -> e.Run:
    return e.Run(**{"started": started, "ended": ended, "metres": 300_000} | more)  # type: ignore[arg-type]


def state(*whats: e.Kind) -> MachineState:
    entries = [entry(e.Carded(card={"tag": "R1"}), T - timedelta(days=20), "0")]
    entries += [entry(what, T - timedelta(days=9) + number * H, str(number + 1)) for number, what in enumerate(whats)]
    found = fold("m", entries, Known())
    assert found is not None
    return found


def says(what: e.Kind, **around: object) -> str:
    return "; ".join(e.problems(what, Around(**around)))  # type: ignore[arg-type]


class Untouched:
    """A context that may be asked for the time and nothing else."""

    at, now, zone, in_use_since, carded, machine = T, T, UTC, None, T, "m"

    def __getattr__(self, name: str) -> object:
        raise AssertionError(f"{name} is asked for")


@pytest.mark.parametrize("kind", ["answer", "check ended", "gate signed"])
def test_what_is_written_many_times_asks_for_its_time_alone(kind: str) -> None:
    assert e.problems(EXAMPLES[kind], Untouched()) == []  # type: ignore[arg-type]


def test_a_machine_and_a_person_of_before_keep_the_word_that_they_are_called_by() -> None:
    named = replace(state(), card={"tag": "all"})
    assert says(e.Carded(card={"tag": "all", "name": "Heron"}), state=named) == ""
    roles = {"Ana": "supervisor", "nobody": "operator"}
    assert says(e.Enrolled(name="nobody", role="mechanic"), roles=roles) == ""


@pytest.mark.parametrize(
    ("what", "expected"),
    [
        (run(), ""),
        (run(started=T), "ended: not after started"),
        (run(started=T - timedelta(days=8)), "more than 7 days"),
        (run(metres=-1), "metres: less than nothing"),
        (run(metres=400_001), "more than the card's hose (400 m)"),
        (run(planned_speed=0), "planned speed: 0 m/h"),
        (run(inlet=4_000_001), "inlet: 4000 kPa"),
        (run(drive_loss=-1), "drive loss: -0.001 kPa"),
        (run(dwell=3600), ""),
        (run(dwell=-60), "dwell: -1 min"),
        (run(dwell=9 * 3600), "dwell: 540 min: must be 0 or more, and less than the whole run"),
        # 400 m in all but the planned dwell: 48 min are as fast as a hose comes home, 47 min are faster
        (run(metres=400_000, dwell=(9 * 60 - 48) * 60), ""),
        (run(metres=400_000, dwell=(9 * 60 - 47) * 60), "400 m in 47 min is faster than a hose comes home"),
        (run(stopped_by="end stpo"), "did you mean end stop?"),
        (e.Service(item="oli"), "oli: not an item of this machine's plan; did you mean oil?"),
        (e.Fault(part="pawll", says="x"), "pawll: not a part; did you mean pawl?"),
        (e.Fault(part="pawl", says=""), "says: nothing; say what is wrong"),
        (e.Fault(part="pawl", says="x", fix_by_day="2026-13-01"), "is not a day such as"),
        (e.Fault(part="pawl", says="x", fix_by_day="2026-04-30"), "2026-04-30 is already past"),
        (e.Fault(part="pawl", says="x", fix_by_day="2026-05-01"), ""),
        (e.Reading(counter="hours", value=-1), "cannot show less than 0"),
        (e.Repair(fault="f", says="mended"), "f: no open fault of this machine at that time"),
        (e.Enrolled(name="", role="operator"), "name: empty"),
        (e.Enrolled(name="Nobody", role="operator"), "name: Nobody is the word for nobody"),
        (e.Carded(card={"tag": "ALL"}), "tag: ALL means every machine"),
        (e.Enrolled(name="Bo", role="mechnic"), "did you mean mechanic?"),
        (e.Enrolled(name="ana", role="operator"), "Ana is enrolled already; write it the same way"),
        (e.Enrolled(name="Ana", role="mechanic"), "Ana is the only supervisor; enrol another first"),
        (e.Enrolled(name="Ana", role="supervisor"), ""),
        (e.Carded(card={"tag": "R2"}), "tag: R2 is another machine's already"),
        (e.Carded(card={"tag": "R3", "hose": {"length": 400}}), "hose.length: 400 without a unit"),
        (e.Carded(card={"tag": "R3", "in_use_since": str((T + timedelta(days=366)).date())}), ""),
        (
            e.Carded(card={"tag": "R3", "in_use_since": "2098-04-03"}),
            "in_use_since: 2098-04-03 is more than a year ahead",
        ),
        (e.Planned(plan={"id": "p", "items": [{"id": "x"}]}), "what"),
    ],
)
def test_a_kind_says_what_speaks_against_it(what: e.Kind, expected: str) -> None:
    card = read_card({"tag": "R1", "hose": {"length": "400 m"}})
    found = says(what, card=card, tags={"R2": "other"})
    assert expected in found
    assert bool(expected) == bool(found)


def test_the_first_person_is_a_supervisor() -> None:
    assert "must be a supervisor" in says(e.Enrolled(name="Ana", role="operator"), roles={})
    assert says(e.Enrolled(name="Ana", role="supervisor"), roles={}) == ""


def test_two_runs_at_once_are_refused_by_the_times_of_the_other() -> None:
    other = run(T - 12 * H, T - 8 * H)
    assert "overlaps the run of 2026-04-30 18:00 to 22:00" in says(run(), runs=(other,))
    assert says(run(), runs=(run(T - 12 * H, T - 9 * H),)) == ""


def test_the_time_lies_neither_in_the_future_nor_before_the_machine() -> None:
    fault = EXAMPLES["fault"]
    assert "lies in the future" in says(fault, now=T - timedelta(minutes=6))
    assert says(fault, now=T - timedelta(minutes=5)) == ""
    assert "before the machine's beginning (2026-05-02)" in says(fault, in_use_since=date(2026, 5, 2))
    assert "more than five years before" in says(fault, carded=T + timedelta(days=5 * 366, minutes=1))
    assert says(fault, carded=T + timedelta(days=5 * 366)) == ""
    # of a run both ends count
    since = T.date()
    assert "2026-04-30 is before" in says(run(), in_use_since=since)
    assert "lies in the future" in says(run(T, T + H), at=T, now=T)
    for kind in ("card", "plan", "person"):
        assert "beginning" not in says(EXAMPLES[kind], in_use_since=date(2027, 1, 1))


def test_readings_are_held_against_what_the_machine_has_done() -> None:
    before = state(e.Reading(counter="hours", value=500 * 3600))
    assert "is less than the 500 h" in says(e.Reading(counter="hours", value=499 * 3600), state=before)
    assert "only" in says(e.Reading(counter="hours", value=999 * 3600), state=before)
    assert says(e.Reading(counter="hours", value=510 * 3600), state=before) == ""


def test_a_fault_goes_from_repair_to_re_test_to_release() -> None:
    fault = e.Fault(part="pawl", says="slips", holds="run", retest="pawl holds")
    opened = state(fault)
    repaired = state(fault, e.Repair(fault="1", says="mended"))
    tested = state(fault, e.Repair(fault="1", says="mended"), e.Retest(fault="1", passed=True))
    failed = state(fault, e.Repair(fault="1", says="mended"), e.Retest(fault="1", passed=False))
    assert says(e.Repair(fault="1", says=""), state=opened) == "says: nothing; say what was done"
    assert "log the repair before its re-test" in says(e.Retest(fault="1", passed=True), state=opened)
    for before in (opened, failed):
        assert "log the repair before the release" in says(e.Release(fault="1"), state=before)
    assert "its re-test has not passed yet (pawl holds)" in says(e.Release(fault="1"), state=repaired)
    assert says(e.Release(fault="1"), state=tested) == ""


@pytest.mark.parametrize(
    ("what", "expected"),
    [
        (EXAMPLES["run"], ""),
        (EXAMPLES["fault"], ""),
        (e.Fault(part="pawl", says="slips", holds="road"), "a hold is not taken back"),
        (EXAMPLES["person"], "a person entry is not taken back"),
        (EXAMPLES["sheet"], "a sheet entry is not taken back"),
        (EXAMPLES["plan"], ""),
    ],
)
def test_what_may_be_taken_back(what: e.Kind, expected: str) -> None:
    correction = e.Correction(entry="x", why="a slip")
    found = says(correction, entries={"x": entry(what, id="x")})
    assert expected in found
    assert bool(expected) == bool(found)
    assert says(correction, entries={"x": entry(what, id="x")}, gone=frozenset("x")) == "x: taken back already"


def test_a_correction_names_an_entry_and_a_reason_and_ends_at_the_second() -> None:
    assert "no such entry" in says(e.Correction(entry="x", why="a slip"))
    known = {"x": entry(EXAMPLES["run"], id="x"), "y": entry(e.Correction(entry="x", why="a slip"), id="y")}
    known["z"] = entry(e.Correction(entry="y", why="it was right"), id="z")
    assert "say in a few words" in says(e.Correction(entry="x", why="no"), entries=known)
    assert says(e.Correction(entry="y", why="it was right"), entries=known) == ""
    assert "this correction is final" in says(e.Correction(entry="z", why="a slip"), entries=known)
    first = {"m": entry(EXAMPLES["card"], id="m")}
    assert "first card is not taken back" in says(e.Correction(entry="m", why="a slip"), entries=first)
    revised = {"n": entry(EXAMPLES["card"], id="n")}
    assert says(e.Correction(entry="n", why="a slip"), entries=revised) == ""


def test_a_run_comes_back_only_where_no_other_was_logged_for_its_time() -> None:
    known = {"x": entry(run(), id="x"), "y": entry(e.Correction(entry="x", why="a slip"), id="y")}
    back, other = e.Correction(entry="y", why="it was right"), run(T - 12 * H, T - 8 * H)
    found = says(back, entries=known, runs=(other,))
    assert "overlaps that of 2026-04-30 18:00 to 22:00: take that one back first" in found
    assert says(back, entries=known, runs=(run(T - 12 * H, T - 9 * H),)) == ""
    assert says(back, entries=known) == ""


def test_a_field_that_cannot_be_read_is_refused_with_its_place() -> None:
    lane = {"number": 1, "hydrant": 7, "length": "320 m"}
    assert says(e.Mapped(field={"id": "north", "lanes": [lane]})) == ""
    assert "lanes[1].length" in says(e.Mapped(field={"id": "north", "lanes": [lane | {"length": "320"}]}))
    assert "lanes[1].hydrant: missing" in says(
        e.Mapped(field={"id": "north", "lanes": [{"number": 1, "length": "9 m"}]})
    )


def test_lanes_are_chosen_once_each() -> None:
    assert says(e.LanesChosen(field="north", lanes=("1", "2"))) == ""
    assert "lanes: 1 is there twice" in says(e.LanesChosen(field="north", lanes=("1", "2", "1")))


def test_a_machine_moves_to_another_place_than_its_own() -> None:
    there = state(e.Moved(place="South Field"))
    assert says(e.Moved(place="South Field"), state=there) == "place: it is at South Field already"
    assert says(e.Moved(place="North Field"), state=there) == says(e.Moved(place="North Field")) == ""
    assert says(e.Moved(place=""), state=there).startswith("place: empty")


def test_a_hold_of_the_place_is_put_right_with_a_word_or_after_a_move() -> None:
    fault = e.Fault(part="gun", says="arc over the road", holds="run", owner="place")
    asks = "say in a few words what has changed at the place"
    assert asks in says(e.PutRight(fault="1", check="c"), state=state(fault))
    assert says(e.PutRight(fault="1", check="c", says="arc turned"), state=state(fault)) == ""
    assert says(e.PutRight(fault="1", check="c"), state=state(fault, e.Moved(place="South Field"))) == ""
    weather = e.Fault(part="gun", says="wind", holds="run", owner="passing")
    assert says(e.PutRight(fault="1", check="c"), state=state(weather)) == ""
    machine = e.Fault(part="gun", says="cracked", holds="run")
    assert "repair, re-test and release" in says(e.PutRight(fault="1", check="c", says="x"), state=state(machine))
