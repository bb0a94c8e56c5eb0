"""Counters: exact totals whatever happened to the counters."""

import json
import random
from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelcare.core.entries import Reading
from reelcare.core.state import counters as counting
from reelcare.core.state.counters import Counters, Totals
from reelcare.core.state.plain_form import encode

T = datetime(2026, 5, 1, 6, tzinfo=UTC)
HOUR = timedelta(hours=1)


def hours(value: float, change: str = "", rolls_at: int | None = None) -> Reading:
    return Reading(counter="hours", value=round(value * 3600), change=change, rolls_at=rolls_at)  # type: ignore[arg-type]


def life(counters: Counters) -> float:
    return counting.totals(counters).seconds / 3600


def test_a_reading_settles_the_total_and_runs_fill_in_after_it() -> None:
    c = counting.after_run(counting.start(), T, T + 10 * HOUR, 300_000)
    c = counting.after_reading(c, hours(480), T + 11 * HOUR)
    assert life(c) == 480
    c = counting.after_run(c, T + 24 * HOUR, T + 32 * HOUR, 300_000)
    assert life(c) == 488
    c = counting.after_reading(c, hours(487), T + 40 * HOUR)
    assert life(c) == 487
    assert counting.totals(c).runs == 2


def test_a_run_that_a_reading_falls_into_counts_only_by_the_part_after_it() -> None:
    c = counting.after_reading(counting.start(), hours(100), T + 4 * HOUR)
    c = counting.after_reading(c, Reading(counter="metres", value=1_000_000), T + 4 * HOUR)
    c = counting.after_run(c, T, T + 10 * HOUR, 300_000)
    assert counting.totals(c) == Totals(106 * 3600, 1_000_000 + 180_000, 1)


def test_a_new_counter_goes_on_from_the_life_total() -> None:
    c = counting.after_reading(counting.start(), hours(900), T)
    c = counting.after_run(c, T + HOUR, T + 9 * HOUR, 0)
    c = counting.after_reading(c, hours(3, "new counter"), T + 10 * HOUR)
    assert life(c) == 908
    c = counting.after_reading(c, hours(20), T + 50 * HOUR)
    assert life(c) == 925


def test_a_run_during_which_the_counter_was_replaced_counts_whole() -> None:
    c = counting.after_reading(counting.start(), hours(900), T)
    c = counting.after_reading(c, hours(0, "new counter"), T + 4 * HOUR)
    c = counting.after_run(c, T, T + 10 * HOUR, 300_000)
    assert life(c) == 910
    # the new counter has run since it was put in
    c = counting.after_reading(c, hours(6), T + 11 * HOUR)
    assert life(c) == 910
    c = counting.after_reading(c, hours(8), T + 30 * HOUR)
    assert life(c) == 912


def test_a_run_during_which_the_counter_was_replaced_and_read_again_counts_whole() -> None:
    c = counting.after_reading(counting.start(), hours(900), T)
    c = counting.after_reading(c, hours(0, "new counter"), T + 4 * HOUR)
    c = counting.after_reading(c, hours(1), T + 5 * HOUR)
    c = counting.after_run(c, T, T + 10 * HOUR, 300_000)
    assert life(c) == 910
    # a run that was over before that, and is logged late, is in the reading or in what nobody has read
    never_read = counting.after_reading(counting.start(), hours(0, "new counter"), T + 4 * HOUR)
    read_again = counting.after_reading(never_read, hours(0), T + 6 * HOUR)
    assert life(counting.after_run(read_again, T + HOUR, T + 8 * HOUR, 0)) == 3 + 2
    assert life(counting.after_run(read_again, T + 4 * HOUR, T + 6 * HOUR, 0)) == 0


def test_a_counter_that_rolled_over_goes_on() -> None:
    c = counting.after_reading(counting.start(), hours(9990), T)
    c = counting.after_reading(c, hours(15, "rolled over", 10_000 * 3600), T + 40 * HOUR)
    assert life(c) == 10_015
    with pytest.raises(counting.CounterError, match="rolls over"):
        counting.after_reading(c, hours(1, "rolled over"), T + 50 * HOUR)
    with pytest.raises(counting.CounterError, match="no earlier reading"):
        counting.after_reading(counting.start(), hours(1, "rolled over", 9000 * 3600), T)


def test_a_counter_that_goes_back_is_refused_with_the_cure() -> None:
    c = counting.after_reading(counting.start(), hours(500), T)
    cure = r"less than the 500 h read on 2026-05-01; say at the bench \(m\) .*\(--new-counter\) .*\(--rolls-at\)"
    with pytest.raises(counting.CounterError, match=cure):
        counting.after_reading(c, hours(499), T + HOUR)


@pytest.mark.parametrize(
    ("value", "passed", "says"), [(540, 24, "but only 24.0 h have passed"), (300_000, 0, "more than any machine has")]
)
def test_rates_that_cannot_be_are_told(value: float, passed: int, says: str) -> None:
    c = counting.after_reading(counting.start(), hours(500), T)
    assert says in " ".join(counting.impossible(c, hours(value), T + passed * HOUR))


@pytest.mark.parametrize(
    ("reading", "refused"),
    [(hours(479.9), True), (hours(480), False), (hours(5), True), (hours(5, "new counter"), False)],
)
def test_a_first_reading_below_what_the_card_says_cannot_be(reading: Reading, *, refused: bool) -> None:
    began = after_runs(counting.start(480 * 3600, 0, 30), 1)
    told = " ".join(counting.impossible(began, reading, T + 24 * HOUR))
    assert ("is less than the 480 h that its card says it showed at first" in told) is refused
    if reading.change:
        assert life(counting.after_reading(began, reading, T + 24 * HOUR)) == 490


def test_a_first_reading_is_held_to_the_runs_beyond_what_the_card_says() -> None:
    began = after_runs(counting.start(480 * 3600, 0, 30), 3)
    assert list(counting.doubtful(began, hours(500))) == []
    assert "the runs logged so far make 30 h" in "".join(counting.doubtful(began, hours(499)))


def test_a_counter_rolls_over_no_faster_than_the_clock() -> None:
    c = counting.after_reading(counting.start(), hours(9990), T)
    said = " ".join(counting.impossible(c, hours(90, "rolled over", 10_000 * 3600), T + 24 * HOUR))
    assert "100 h more" in said
    assert "where it rolls over" in said


def after_runs(c: Counters, count: int) -> Counters:
    for number in range(count):
        c = counting.after_run(c, T + number * 24 * HOUR, T + (number * 24 + 10) * HOUR, 300_000)
    return c


@pytest.mark.parametrize(
    ("first", "runs", "reading", "says"),
    [
        (None, 30, hours(20), "if the counter was replaced"),
        (500, 10, hours(520), "does the counter stand still"),
        (500, 10, hours(700), "are runs missing"),
        (500, 10, hours(400, "new counter"), "was it used elsewhere"),
        (500, 10, hours(598), ""),
        (500, 10, hours(580), ""),
        (500, 10, hours(579), "does the counter stand still"),
        (500, 10, hours(660), ""),
        (500, 10, hours(661), "are runs missing"),
        (500, 0, hours(700), ""),
        (500, 10, hours(2, "new counter"), ""),
        (9950, 10, hours(48, "rolled over", 10_000 * 3600), ""),
    ],
)
def test_what_is_likely_a_slip_is_told(first: float | None, runs: int, reading: Reading, says: str) -> None:
    c = counting.after_reading(counting.start(), hours(first), T) if first is not None else counting.start()
    told = list(counting.doubtful(after_runs(c, runs), reading))
    assert bool(told) == bool(says)
    assert says in "".join(told)


@pytest.mark.parametrize(
    ("card", "reading", "says"),
    [
        (1000, hours(123456), "122456 h more, where the runs logged since make 100 h; are runs missing?"),
        (1000, hours(1161), "are runs missing?"),
        (1000, hours(1160), ""),
        (1000, hours(1050), "if the counter was replaced"),
        (0, hours(5000), ""),
    ],
)
def test_the_first_reading_is_held_against_the_card_and_the_runs_since(card: int, reading: Reading, says: str) -> None:
    c = after_runs(counting.start(card * 3600), 10)
    told = list(counting.doubtful(c, reading))
    assert bool(told) == bool(says)
    assert says in "".join(told)


def test_what_the_runs_make_is_told_as_a_counter_shows_it() -> None:
    c = counting.after_reading(counting.start(), hours(500), T)
    c = counting.after_run(c, T, T + HOUR * 10 + HOUR * 1051 // 3600, 300_000)
    assert "where the runs logged since make 10.3 h; are runs missing?" in "".join(counting.doubtful(c, hours(700)))


def test_a_likely_reading_is_not_told_off() -> None:
    c = counting.after_reading(counting.start(), hours(500), T)
    assert not list(counting.impossible(c, hours(523), T + 24 * HOUR))


def test_totals_of_a_hundred_thousand_runs_do_not_drift() -> None:
    c = counting.start()
    for number in range(100_000):
        c = counting.after_run(c, T + number * HOUR, T + number * HOUR + timedelta(seconds=1111), 333_333)
    assert counting.totals(c) == Totals(111_100_000, 33_333_300_000, 100_000)


events = st.lists(
    st.tuples(st.sampled_from(["run", "reading", "new"]), st.integers(1, 20), st.integers(0, 500_000)), max_size=60
)


@given(events)
def test_totals_agree_with_a_reckoning_by_fractions(happened: list[tuple[str, int, int]]) -> None:
    c = counting.start()
    total, settled, shown, moment = Fraction(0), Fraction(0), None, T
    for kind, length, more in happened:
        if kind == "run":
            c = counting.after_run(c, moment, moment + length * HOUR, more)
            total += length * 3600
        elif kind == "reading":
            value = more if shown is None else shown + more
            c = counting.after_reading(c, Reading(counter="hours", value=value), moment)
            total = Fraction(value) if shown is None else settled + more
            shown, settled = value, total
        else:
            c = counting.after_reading(c, Reading(counter="hours", value=more, change="new counter"), moment)
            shown, settled = more, total
        moment += (length + 1) * HOUR
    assert counting.totals(c).seconds == total
    assert Counters.from_plain(json.loads(encode(c._asdict()))) == c


@given(st.integers(1, 10**6), st.integers(0, 10**6), st.integers(0, 86_400))
def test_the_part_of_a_straddled_run_is_never_more_than_the_run(length: int, metres: int, read_after: int) -> None:
    c = counting.after_reading(counting.start(), Reading(counter="metres", value=0), T + timedelta(seconds=read_after))
    c = counting.after_run(c, T, T + timedelta(seconds=length), metres)
    assert 0 <= counting.totals(c).millimetres <= metres


@given(st.integers(1, 10**6), st.integers(0, 10**6), st.lists(st.integers(0, 10**6), max_size=4))
def test_replaced_counters_lose_and_double_nothing_of_a_run(length: int, metres: int, replaced: list[int]) -> None:
    c = counting.start()
    for number, second in enumerate(sorted(replaced)):
        c = counting.after_reading(
            c, Reading(counter="metres", value=number, change="new counter"), T + timedelta(seconds=second)
        )
    c = counting.after_run(c, T, T + timedelta(seconds=length), metres)
    assert counting.totals(c).millimetres == metres
    assert Counters.from_plain(json.loads(encode(c._asdict()))) == c


@pytest.mark.long
def test_totals_of_a_hundred_thousand_entries_of_every_kind_are_exact() -> None:
    chance = random.Random(11)
    c, moment, exact, at_reading, shown = counting.start(), T, 0, 0, 0
    for _ in range(100_000):
        moment += timedelta(seconds=chance.randrange(60, 9000))
        kind = chance.random()
        if kind < 0.9:
            length = chance.randrange(1, 50_000)
            c = counting.after_run(c, moment, moment + timedelta(seconds=length), chance.randrange(500_000))
            moment += timedelta(seconds=length)
            exact += length
        elif kind < 0.98:
            off = exact - at_reading + chance.randrange(100)
            c = counting.after_reading(c, Reading(counter="hours", value=shown + off), moment)
            shown, at_reading = shown + off, at_reading + off
            exact = at_reading
        elif kind < 0.99:
            c = counting.after_reading(c, Reading(counter="hours", value=7, change="new counter"), moment)
            shown, at_reading = 7, exact
        else:
            rolls = shown + 1000
            c = counting.after_reading(
                c, Reading(counter="hours", value=900, change="rolled over", rolls_at=rolls), moment
            )
            shown, at_reading = 900, at_reading + 1900
            exact = at_reading
    assert counting.totals(c).seconds == exact
