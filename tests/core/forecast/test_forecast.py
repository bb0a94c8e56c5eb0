"""Forecasts: closed forms from outside, and the laws that any forecast keeps."""

import json
import math
import random
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from reelcare.core.forecast.days_ahead import nodes
from reelcare.core.forecast.first_passage import WANTED, Course, amount_quantiles, normal_deviate
from reelcare.core.forecast.forecast import Forecast, forecast, why_none
from reelcare.core.forecast.joint_passage import bivariate_normal_cdf
from reelcare.core.forecast.kalman import LASTS
from reelcare.core.forecast.season import day_after, in_season, open_days, season_days
from reelcare.core.forecast.seasonal_profile import (
    APART,
    USUAL,
    USUAL_PRIOR,
    Learnt,
    Neighbours,
    learn,
    waves_at,
    weight,
)
from reelcare.core.forecast.usage_history import Use
from reelcare.core.forecast.usage_rate import _NEXT, _SAME, Pace, neighbours, pace, why_no_pace
from reelcare.core.forecast.weeks import USUAL_RUN
from reelcare.core.machine.card import Season
from reelcare.core.scales import ScalePoint, Threshold
from reelcare.core.service import due
from reelcare.core.state.plain_form import encode
from tests.evidence_tables import forecasts
from tests.simulated import after_run

ROWS = {row["id"]: row for row in json.loads(Path("tests/references/upkeep.json").read_text("utf-8"))}
ALWAYS = Season()
H = 3600


def hours(left: float) -> tuple[Threshold, ...]:
    return (Threshold("hours", 0, round(left * H), round(left * H * 1.1)),)


def worked(days: int, hours_a_day: float, until: date = date(2026, 7, 10)) -> Use:
    use = Use()
    for number in range(days):
        use = after_run(use, until - timedelta(days=days - 1 - number), round(hours_a_day * H), 100_000)
    return use


def told_for(left: float, use: Use, today: date, season: Season = ALWAYS) -> Forecast:
    told = forecast(hours(left), ScalePoint(today), pace(use, today, season), season)
    assert told is not None
    return told


def test_constant_use_gives_the_exact_day() -> None:
    # row I19: 22 h left at 5 h a day from 2026-07-10
    told = told_for(22, worked(70, 5), date(2026, 7, 10))
    assert told.early == told.likely == told.late == date.fromisoformat(ROWS["I19"]["expected"]["hours"])


@given(st.integers(14, 120), st.integers(1, 20), st.integers(1, 400), st.dates(date(2026, 6, 1), date(2026, 8, 1)))
def test_constant_use_gives_the_exact_day_in_any_season(days: int, a_day: int, left: int, today: date) -> None:
    season = Season("02-01", "11-30")
    told = told_for(left, worked(days, a_day, today), today, season)
    day, done = today, 0
    while done < left:
        day += timedelta(days=1)
        done += a_day * in_season(season, day)
    assert told.early == told.likely == told.late == day


def test_a_day_on_which_nothing_was_done_yet_is_not_taken_for_idle() -> None:
    evening, morning = date(2026, 7, 9), date(2026, 7, 10)
    use = worked(60, 5, evening)
    assert (told_for(22, use, morning).likely or date.max) - morning == (
        told_for(22, use, evening).likely or date.max
    ) - evening


def test_a_threshold_that_is_reached_is_due_today_and_a_date_is_certain() -> None:
    now = ScalePoint(date(2026, 7, 10), 100 * H)
    assert forecast(hours(90), now, None, ALWAYS).likely == now.day  # type: ignore[union-attr]
    day = date(2026, 9, 1).toordinal()
    told = forecast((Threshold("date", day - 100, day, day),), now, None, ALWAYS)
    assert told is not None
    assert {told.early, told.likely, told.late} == {date(2026, 9, 1)}


def test_nothing_is_told_where_nothing_is_known() -> None:
    assert pace(Use(), date(2026, 7, 10), ALWAYS) is None
    assert forecast(hours(50), ScalePoint(date(2026, 7, 10)), None, ALWAYS) is None


# the days by which work is done, against the exact distributions (scipy)


def chance(left: float, mean: float, variance: float, lump: float) -> float:
    return float(stats.norm.cdf(normal_deviate(left, mean, variance, lump)))


@pytest.mark.parametrize(("shape", "scale"), [(2.0, 1.5), (8.0, 0.7), (40.0, 3.0)])
def test_continuous_use_agrees_with_the_gamma_distribution(shape: float, scale: float) -> None:
    for part in (0.6, 0.9, 1.0, 1.2, 1.6):
        left = shape * scale * part
        assert chance(left, shape * scale, shape * scale**2, 0) == pytest.approx(
            stats.gamma(shape, scale=scale).sf(left), abs=0.006
        )


def test_poisson_runs_agree_with_the_erlang_time_to_the_fiftieth() -> None:
    # row F16: runs at 1.5 a day, due at 50 runs; P(T <= 30) = 0.2468
    assert chance(49.5, 45, 45, 1) == pytest.approx(ROWS["F16"]["expected"]["P30"], abs=0.001)
    for days in (20, 25, 33, 40, 50):
        exact = stats.gamma(50, scale=1 / 1.5).cdf(days)
        assert chance(49.5, 1.5 * days, 1.5 * days, 1) == pytest.approx(exact, abs=0.002)


def test_fixed_runs_on_random_days_agree_with_the_negative_binomial() -> None:
    # row F14: 8 h on a day with p = 0.6; 100 h take 13 run days; P(by day 20) = 0.4159
    assert chance(100, 96, 64 * 0.24 * 20, 8) == pytest.approx(ROWS["F14"]["expected"], abs=0.004)


def test_the_day_of_the_25th_run_has_the_negative_binomials_mean_and_variance() -> None:
    # row F11: one run a day with p = 0.6
    beyond = [1 - chance(24.5, 0.6 * day, 0.24 * day, 1) for day in range(1, 200)]
    mean = 1 + sum(beyond)
    square = 1 + sum((2 * day + 1) * one for day, one in enumerate(beyond, 1))
    assert mean == pytest.approx(ROWS["F11"]["expected"]["mean"], abs=0.1)
    assert square - mean**2 == pytest.approx(ROWS["F11"]["expected"]["var"], abs=0.6)
    exact = stats.nbinom(25, 0.6)
    for day in range(28, 60):
        assert 1 - beyond[day - 1] == pytest.approx(exact.cdf(day - 25), abs=0.004)


def days_of(course: Course) -> list[float]:
    found = [course.day(place) for place in range(3)]
    assert None not in found
    return [one for one in found if one is not None]


@pytest.mark.parametrize("runs", [5, 10, 25, 50, 100])
def test_early_likely_and_late_of_random_run_days_are_the_negative_binomials(runs: int) -> None:
    # one run a day with p = 0.6, as row F11: the 10, 50 and 90 % points of the day of the last of them (scipy)
    even = Pace((0, 0, 0.6), (0, 0, 0.24), (1, 1, 1), (1, 1, 1))
    exact = [runs + stats.nbinom.ppf(part, runs, 0.6) for part in (0.1, 0.5, 0.9)]
    assert [math.ceil(one - 1e-9) for one in days_of(Course(even, 2, runs))] == pytest.approx(exact, abs=1)


@pytest.mark.parametrize("hours", [50, 100, 200, 400])
def test_early_likely_and_late_of_fixed_runs_on_random_days_are_the_negative_binomials(hours: int) -> None:
    # row F14: 8 h on a day with p = 0.6, so that 100 h take 13 run days
    even = Pace((4.8 * H, 0, 0.6), (64 * 0.24 * H * H, 0, 0.24), (8 * H, 1, 1), (1, 1, 1))
    needed = math.ceil(hours / 8)
    exact = [needed + stats.nbinom.ppf(part, needed, 0.6) for part in (0.1, 0.5, 0.9)]
    assert [math.ceil(one - 1e-9) for one in days_of(Course(even, 0, hours * H))] == pytest.approx(exact, abs=1)


@pytest.mark.parametrize("runs", [20, 50, 150])
def test_early_likely_and_late_of_poisson_runs_are_erlangs(runs: int) -> None:
    # row F16: runs at 1.5 a day
    often = Pace((0, 0, 1.5), (0, 0, 1.5), (1, 1, 1), (1, 1, 1))
    exact = stats.gamma(runs, scale=1 / 1.5).ppf([0.1, 0.5, 0.9])
    assert days_of(Course(often, 2, runs)) == pytest.approx(list(exact), rel=0.01)


def test_poisson_runs_of_gamma_size_agree_with_their_sum_term_by_term() -> None:
    runs, size, spread = 12.0, 9.0, 0.4  # runs expected, hours of one, its coefficient of variation
    shape = 1 / spread**2
    for left in (60, 90, 108, 140, 180):
        exact = sum(
            stats.poisson(runs).pmf(k) * stats.gamma(k * shape, scale=size / shape).sf(left) for k in range(1, 60)
        )
        assert chance(left, runs * size, runs * size**2 * (1 + spread**2), size) == pytest.approx(exact, abs=0.004)


def test_clustered_runs_agree_with_the_negative_binomial_count() -> None:
    count = stats.nbinom(6, 0.25)  # mean 18, variance 72
    for left in range(6, 45, 3):
        assert chance(left - 0.5, 18, 72, 1) == pytest.approx(count.sf(left - 1), abs=0.006)


def test_without_skewness_it_is_the_end_point_form() -> None:
    # row F08: remaining 100 h, 5 h a day, 6 h/sqrt(day)
    ours = [chance(100, 5 * t, 36 * t, 2 * 36 / 5) for t in (15, 20, 30)]
    assert ours == pytest.approx(ROWS["F08"]["expected"], abs=1e-9)


@given(st.floats(1, 1e6), st.floats(0.01, 1.5), st.floats(0, 1))
def test_amounts_are_the_chances_turned_round(mean: float, spread: float, lump: float) -> None:
    variance = (spread * mean) ** 2
    for place, amount in enumerate(amount_quantiles(mean, variance, lump * mean)):
        assert normal_deviate(amount, mean, variance, lump * mean) == pytest.approx(WANTED[place], abs=1e-6)


@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(-0.5, 0.98))
def test_two_that_go_together_agree_with_the_bivariate_normal(a: float, b: float, correlation: float) -> None:
    exact = stats.multivariate_normal([0, 0], [[1, correlation], [correlation, 1]]).cdf([a, b])
    assert bivariate_normal_cdf(a, b, correlation) == pytest.approx(exact, abs=1e-4)


def pace_of(together: float) -> Pace:
    return Pace((5 * H, 150_000, 0.5), ((9 * H) ** 2, 270_000**2, 0.5), (10 * H, 300_000, 1), (together,) * 3)


@pytest.mark.parametrize("together", [0.0, 0.6, 0.95])
def test_the_earlier_of_two_random_days_is_earlier_than_either_middle(together: float) -> None:
    pair = (Threshold("hours", 0, 200 * H, 200 * H), Threshold("metres", 0, 6_000_000, 6_000_000))
    told = forecast(pair, ScalePoint(date(2026, 7, 1)), pace_of(together), ALWAYS)
    alone = forecast(pair[:1], ScalePoint(date(2026, 7, 1)), pace_of(together), ALWAYS)
    assert told is not None
    assert alone is not None
    # exactly: the first day by which not both have yet to come, by the bivariate normal (scipy)
    course = Course(pace_of(together), 0, 200 * H)
    for day, wanted in ((told.early, 0.1), (told.likely, 0.5), (told.late, 0.9)):
        assert day is not None
        number = (day - date(2026, 7, 1)).days
        chances = []
        for days in (number - 1.5, number + 0.5):
            a = -course.at(days)
            chances.append(1 - stats.multivariate_normal([0, 0], [[1, together], [together, 1]]).cdf([a, a]))
        assert chances[0] < wanted <= chances[1]
    assert told.likely < alone.likely or together > 0.9  # type: ignore[operator]


def test_a_threshold_that_is_far_off_moves_nothing() -> None:
    near, far = Threshold("hours", 0, 50 * H, 50 * H), Threshold("metres", 0, 15_000_000, 15_000_000)
    told = [
        forecast(thresholds, ScalePoint(date(2026, 7, 1)), pace_of(0.9), ALWAYS)
        for thresholds in ((near,), (near, far))
    ]
    assert told[0] == told[1]


def test_what_is_known_grows_over_the_season() -> None:
    season = Season("04-15", "09-30", 700, 21_000)
    doubts = [0.0] * 5
    for machine in range(20):  # one machine's scatter may well be found greater than it seemed at first
        chance_of_days = random.Random(machine)
        use, day = Use(), date(2026, 4, 15)
        for number in range(150):
            if chance_of_days.random() < 0.5:
                use = after_run(use, day, round(chance_of_days.uniform(7, 9) * H), 250_000)
            if number % 30 == 0:
                known = pace(use, day, season)
                assert known is not None
                assert known.doubt is not None
                doubts[number // 30] += known.doubt[0][0]
            day += timedelta(days=1)
    assert doubts == sorted(doubts, reverse=True)
    assert doubts[-1] < doubts[0] / 3


def test_the_card_speaks_before_there_is_a_history_and_is_outvoted_by_it() -> None:
    season = Season("04-15", "09-30", 169 * 5)
    before = told_for(100, Use(), date(2026, 6, 14), season)
    assert abs(((before.likely or date.max) - date(2026, 6, 14)).days - 100 / 5) <= 3
    use = Use()
    for number in range(60):
        use = after_run(use, date(2026, 4, 16) + timedelta(days=number), (9 + number % 3) * H, 300_000)
    after = told_for(100, use, date(2026, 6, 14), season)
    assert abs(((after.likely or date.max) - date(2026, 6, 14)).days - 100 / 10) <= 2


def test_nothing_falls_due_by_use_while_the_season_is_closed() -> None:
    season = Season("04-15", "09-30", 500)
    use = Use()
    for number in range(120):
        use = after_run(use, date(2026, 5, 1) + timedelta(days=number), (3 + number % 3) * H, 300_000)
    told = told_for(5, use, date(2026, 11, 1), season)
    assert told.early >= date(2027, 4, 15)


@pytest.mark.parametrize("days", [0, 10])
def test_before_a_first_season_nothing_is_told_but_when_it_can_be(days: int) -> None:
    season, today = Season("04-15", "09-30", 500), date(2026, 12, 1)
    use = worked(days, 5, date(2026, 9, 30)) if days else Use()
    assert pace(use, today, season) is None
    assert forecast(hours(50), ScalePoint(today), None, season) is None
    assert why_none(use, today, season, None) == "cannot say before April"
    assert why_no_pace(Use(), date(2026, 6, 1), ALWAYS) == "cannot say before a week of work is known"


def test_a_date_is_only_the_latest_day_where_nothing_is_known_of_the_use() -> None:
    # hours may come first: from the first day of the season that they can
    today = date(2026, 12, 1)
    last = date(2027, 8, 1).toordinal()
    told = forecast(
        (*hours(50), Threshold("date", last - 365, last, last)), ScalePoint(today), None, Season("04-15", "09-30")
    )
    assert told == Forecast(date(2027, 4, 15), date(2027, 8, 1), date(2027, 8, 1))


def test_a_season_that_the_card_does_not_name_is_learnt_from_a_long_rest() -> None:
    use = Use()
    for year in (2024, 2025):
        for number in range(0, 150, 2):
            use = after_run(use, date(year, 5, 1) + timedelta(days=number), (8 + number % 4) * H, 300_000)
    told = told_for(30, use, date(2025, 12, 20))
    assert date(2026, 4, 25) <= told.early <= (told.late or date.max) <= date(2026, 6, 1)


SEASON = Season("04-01", "09-30")


def season_of(rate: Callable[[float], float]) -> list[tuple[tuple[float, float, float], float, float]]:
    """The weeks of one season whose pace hangs on the part of it that has passed."""
    opens = date(2026, 4, 1).toordinal()
    return [(waves_at(SEASON, opens + 3 + 7 * n), 7.0, 7 * rate((n + 0.5) / 26)) for n in range(26)]


def test_the_shape_of_seasons_past_is_learnt_and_drawn_to_the_usual_one() -> None:
    for rate, wave, sign in ((lambda u: 1.8 - 1.6 * u, 0, 1), (lambda u: 0.2 + 1.6 * u, 0, -1)):
        one, three = (learn(season_of(rate) * many) for many in (1, 3))
        # a line that falls from 1.8 to 0.2 has a first wave of 0.8 * 8 / pi^2 (its Fourier cosine series)
        true = sign * 0.8 * 8 / math.pi**2
        assert 0 < sign * one.heights[wave] < sign * three.heights[wave] < sign * true
        assert one.own[wave] == pytest.approx(true, abs=0.08)
        assert three.precisions[wave] > 2 * one.precisions[wave]
    even = learn(season_of(lambda u: 1.0))
    assert all(abs(own) < 0.02 for own in even.own)
    assert all(abs(one) <= abs(usual) + 0.02 for one, usual in zip(even.heights, USUAL, strict=True))


def test_half_a_season_leaves_open_how_the_other_half_will_be() -> None:
    half, whole = (learn(season_of(lambda u: 1.0)[:many]) for many in (13, 26))
    assert half.precisions[0] < whole.precisions[0] / 4


def test_neighbours_narrow_the_prior_and_none_of_them_leaves_it() -> None:
    falling = learn(season_of(lambda u: 1.8 - 1.6 * u) * 2)
    nothing = learn([])
    alone = Neighbours({"a": falling, "b": nothing})
    assert alone.prior("a") == USUAL_PRIOR  # its own work is not counted twice
    one, two = alone.prior("b"), Neighbours({"a": falling, "b": nothing, "c": falling}).prior("b")
    assert USUAL[0] < one.heights[0] < two.heights[0] < falling.own[0]
    assert APART[0] ** 2 > one.variances[0] > two.variances[0]
    assert two == Neighbours({"a": falling, "c": falling}).prior("not one of them")


def test_the_span_is_narrower_with_neighbours_of_the_same_shape() -> None:
    season, today = Season("04-15", "09-30", 900, 27_000), date(2026, 5, 20)
    chance_of_days = random.Random(4)
    uses = []
    for machine in range(4):
        use = Use()
        for year in (2024, 2025) if machine else ():
            for number in range(168):
                if chance_of_days.random() < 0.6:
                    use = after_run(use, date(year, 4, 15) + timedelta(days=number), 9 * H, 270_000)
        for number in range(35):
            if chance_of_days.random() < 0.6:
                use = after_run(use, date(2026, 4, 15) + timedelta(days=number), 9 * H, 270_000)
        uses.append(use)
    prior = neighbours({f"{number}": (use, season) for number, use in enumerate(uses)}, today).prior("0")
    spans = [
        forecast(hours(400), ScalePoint(today), pace(uses[0], today, season, one), season)
        for one in (USUAL_PRIOR, prior)
    ]
    widths = [(told.late or date.max) - told.early for told in spans if told is not None]
    assert widths[1] < widths[0]


@given(st.dates(date(2024, 1, 1), date(2027, 12, 31)), st.sampled_from([SEASON, Season("10-01", "03-31"), ALWAYS]))
def test_nodes_count_the_waves_of_the_days_between_them(today: date, season: Season) -> None:
    # between two nodes that lie on whole days the sums are those of the days one by one, to their own width
    for node in nodes(season.opens, season.closes, today):
        if node.days != int(node.days) or not 0 < node.days < 400:
            continue
        days, day = 0, today
        waves = [0.0, 0.0, 0.0]
        while days < node.days:
            day += timedelta(days=1)
            if in_season(season, day):
                days += 1
                waves = [one + here for one, here in zip(waves, waves_at(season, day.toordinal()), strict=True)]
        assert waves == pytest.approx(node.waves, abs=0.1)
        assert node.now + node.then == pytest.approx(node.days)


@given(st.tuples(*[st.floats(-3, 3)] * 3), st.tuples(*[st.floats(-1, 1)] * 3))
def test_no_day_weighs_nothing(heights: tuple[float, ...], waves: tuple[float, ...]) -> None:
    assert weight(heights, waves) > 0


seasons = st.sampled_from([ALWAYS, Season("04-15", "09-30"), Season("10-01", "03-31"), Season("02-29", "06-01")])


@given(seasons, st.dates(date(2020, 1, 1), date(2030, 1, 1)), st.integers(0, 900))
def test_days_of_the_season_are_counted_as_one_by_one(season: Season, first: date, days: int) -> None:
    last = first.toordinal() + days
    singly = sum(in_season(season, date.fromordinal(day)) for day in range(first.toordinal(), last + 1))
    assert open_days(season, first.toordinal(), last) == singly
    if season is not ALWAYS:
        assert abs(season_days(season) - open_days(season, first.toordinal(), first.toordinal() + 364)) <= 2


@given(seasons, st.dates(date(2020, 1, 1), date(2030, 1, 1)), st.integers(1, 500))
def test_the_day_after_so_many_days_of_the_season_is_the_first_such(season: Season, today: date, count: int) -> None:
    days = day_after(count, today, season)
    assert days is not None
    reached_by = today.toordinal() + days
    assert open_days(season, today.toordinal() + 1, reached_by) == count
    assert in_season(season, date.fromordinal(reached_by))


history = st.lists(st.tuples(st.integers(0, 3), st.integers(1, 12), st.integers(0, 400)), min_size=8, max_size=60)


def played(days: list[tuple[int, int, int]]) -> tuple[Use, date]:
    day, use = date(2026, 4, 20), Use()
    for gap, length, metres in days:
        day += timedelta(days=gap)
        use = after_run(use, day, length * H, metres * 1000)
    return use, day


@given(history, seasons, st.integers(1, 600))
def test_early_likely_and_late_stand_in_that_order_and_none_in_the_past(
    days: list[tuple[int, int, int]], season: Season, left: int
) -> None:
    use, today = played(days)
    told = forecast(hours(left), ScalePoint(today), pace(use, today, season), season)
    if told is not None:
        far = date.max
        assert today <= told.early <= (told.likely or far) <= (told.late or far)


@given(history, st.integers(1, 300), st.integers(1, 300))
def test_more_left_is_never_due_sooner(days: list[tuple[int, int, int]], left: int, more: int) -> None:
    use, today = played(days)
    speed = pace(use, today, ALWAYS)
    near, far = (forecast(hours(amount), ScalePoint(today), speed, ALWAYS) for amount in (left, left + more))
    if near is not None and far is not None:
        assert near.early <= far.early
        assert (near.likely or date.max) <= (far.likely or date.max)
        assert (near.late or date.max) <= (far.late or date.max)


@given(history, st.integers(1, 300), st.integers(1, 200))
def test_whichever_comes_first_is_never_later_than_either(
    days: list[tuple[int, int, int]], left: int, until: int
) -> None:
    use, today = played(days)
    speed = pace(use, today, ALWAYS)
    date_threshold = Threshold("date", today.toordinal() - 10, today.toordinal() + until, today.toordinal() + until)
    together = forecast((*hours(left), date_threshold), ScalePoint(today), speed, ALWAYS)
    alone = forecast(hours(left), ScalePoint(today), speed, ALWAYS)
    assert together is not None
    assert together.late is not None
    assert together.late <= today + timedelta(days=until)
    if alone is not None:
        assert together.early <= alone.early


@given(history)
def test_the_plain_form_is_the_use(days: list[tuple[int, int, int]]) -> None:
    use, _ = played(days)
    assert Use.from_plain(json.loads(encode(use._asdict()))) == use
    assert len(use.weeks) <= 80


def test_the_thresholds_of_a_plans_item_can_be_forecast() -> None:
    from reelcare.core.service.plan_table import read_plan

    oil = read_plan({"id": "p", "items": [{"id": "o", "what": "o", "every": {"hours": 500, "months": 12}}]}).items[0]
    cycle = due.begin(oil, ScalePoint(date(2026, 4, 1)))
    told = forecast(due.thresholds(oil, cycle), ScalePoint(date(2026, 4, 1)), None, ALWAYS)
    assert told is not None
    assert told.likely == told.late == date(2027, 4, 1)


# the scores that the benchmark judges forecasts by


def test_the_benchmarks_pinball_loss_is_that_of_row_f24() -> None:
    cases = [(0.9, 10, 8), (0.9, 8, 10), (0.5, 10, 8), (0.1, 10, 8)]
    assert [forecasts.pinball(*case) for case in cases] == pytest.approx(ROWS["F24"]["expected"])


def test_the_benchmarks_interval_score_and_wilson_interval_are_those_of_rows_f30_and_f33() -> None:
    assert forecasts.interval_score(0.1, 10, 20, 22) == pytest.approx(ROWS["F30"]["expected"])
    assert forecasts.wilson(14, 20) == pytest.approx(ROWS["F33"]["expected"])


def test_before_the_first_run_the_pace_is_what_the_card_says_of_a_year() -> None:
    season = Season(hours_a_year=400.0)
    known = pace(Use(), date(2026, 7, 10), season)
    assert known is not None
    days = season_days(season)
    # a usual run takes 10 h: what the card does not say follows from it
    assert known.mean == pytest.approx((400 * H / days, known.mean[1], 400 * H / USUAL_RUN[0] / days), rel=1e-12)
    assert known.level == (0.0, 0.0, 0.0)


def test_weeks_go_together_as_a_level_that_fades_makes_them() -> None:
    # means over two spans of a process whose covariance fades with e^(-t / LASTS), by numerical integration
    for shift, told in ((0.0, _SAME), (7.0, _NEXT)):
        whole, _error = integrate.dblquad(lambda t, s: math.exp(-abs(t - s) / LASTS), 0, 7, shift, shift + 7)
        assert told == pytest.approx(whole / 49, rel=1e-6)


def test_neighbours_who_say_next_to_nothing_leave_the_usual_doubt() -> None:
    hardly = Learnt(USUAL, USUAL, (1e-6, 1e-6, 1e-6))
    told = Neighbours({"a": hardly, "b": hardly}).prior("a")
    assert told.heights == pytest.approx(USUAL, rel=1e-4)
    assert told.variances == pytest.approx([one**2 for one in APART], rel=1e-4)
