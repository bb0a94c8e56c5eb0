"""Forecasts: closed forms from outside, and the laws that any forecast keeps."""

import importlib.util
import json
import math
import sys
from datetime import date, timedelta
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from reelcare.core.machine.card import Season
from reelcare.core.upkeep import due
from reelcare.core.upkeep.due import Limb, Point, Thresholds
from reelcare.core.upkeep.forecast import Use, forecast, in_season, open_days, pace, reached, season_days

ROWS = {row["id"]: row for row in json.loads(Path("tests/references/upkeep.json").read_text("utf-8"))}
ALWAYS = Season()
H = 3600


def hours(left: float) -> Thresholds:
    return Thresholds((Limb("hours", 0, round(left * H), round(left * H * 1.1)),))


def worked(days: int, hours_a_day: float, until: date = date(2026, 7, 10)) -> Use:
    use = Use()
    for number in range(days):
        use = use.after_run(until - timedelta(days=days - 1 - number), round(hours_a_day * H), 100_000)
    return use


def test_constant_use_gives_the_exact_day() -> None:
    # row I19: 22 h left at 5 h a day from 2026-07-10
    today = date(2026, 7, 9)  # whole weeks up to here, so that no week is cut
    use = worked(70, 5, date(2026, 7, 9) - timedelta(days=(date(2026, 7, 9).toordinal() % 7) + 1))
    now = Point(use.last or today, 0)
    told = forecast(hours(22), now, pace(use, now.day, ALWAYS), ALWAYS)
    assert told is not None
    assert told.early == told.likely == told.late == now.day + timedelta(days=math.ceil(22 / 5))
    assert (date.fromisoformat(ROWS["I19"]["expected"]["hours"]) - date(2026, 7, 10)).days == math.ceil(22 / 5)


def test_a_threshold_that_is_reached_is_due_today_and_a_date_is_certain() -> None:
    now = Point(date(2026, 7, 10), 100 * H)
    assert forecast(hours(90), now, None, ALWAYS).likely == now.day  # type: ignore[union-attr]
    day = date(2026, 9, 1).toordinal()
    told = forecast(Thresholds((Limb("date", day - 100, day, day),)), now, None, ALWAYS)
    assert told is not None
    assert {told.early, told.likely, told.late} == {date(2026, 9, 1)}


def test_nothing_is_told_where_nothing_is_known() -> None:
    assert pace(Use(), date(2026, 7, 10), ALWAYS) is None
    assert forecast(hours(50), Point(date(2026, 7, 10)), None, ALWAYS) is None


@pytest.mark.parametrize(("shape", "scale"), [(2.0, 1.5), (8.0, 0.7), (40.0, 3.0)])
def test_the_chance_of_a_sum_agrees_with_the_gamma_distribution(shape: float, scale: float) -> None:
    # Wilson & Hilferty 1931 is an approximation of the gamma distribution: a few parts in a thousand here
    days = 30.0
    mean, variance = shape * scale / days, shape * scale**2 / days
    for part in (0.6, 0.9, 1.0, 1.2, 1.6):
        left = shape * scale * part
        ours = stats.norm.cdf(reached(days, left, mean, variance, 0.0))
        assert ours == pytest.approx(stats.gamma(shape, scale=scale).sf(left), abs=0.006)


def test_poisson_runs_agree_with_the_erlang_time_to_the_fiftieth() -> None:
    # row F16: runs at 1.5 a day, due at 50 runs; P(T <= 30) = 0.2468
    ours = stats.norm.cdf(reached(30, 49.5, 1.5, 1.5, 0.0))  # half a run: runs are whole
    assert ours == pytest.approx(ROWS["F16"]["expected"]["P30"], abs=0.01)


def test_fixed_runs_on_random_days_agree_with_the_negative_binomial() -> None:
    # row F14: 8 h on a day with p = 0.6; 100 h take 13 run days; P(by day 20) = 0.4159
    mean, variance = 8 * 0.6, 64 * 0.6 * 0.4
    ours = stats.norm.cdf(reached(20, 12.5 * 8, mean, variance, 0.0))
    # so few whole run days are less skewed than a gamma sum: it is told three in a hundred too late
    assert ours == pytest.approx(ROWS["F14"]["expected"], abs=0.03)


def test_the_end_point_form_is_what_row_f08_says_it_is() -> None:
    # rows F08: remaining 100 h, 5 h a day, 6 h/sqrt(day): the normal end-point form, which ours tends to
    ours = [float(stats.norm.cdf(reached(t, 100, 5, 36, 0.0))) for t in (15, 20, 30)]
    assert ours == pytest.approx(ROWS["F08"]["expected"], abs=0.05)


seasons = st.sampled_from([ALWAYS, Season("04-15", "09-30"), Season("10-01", "03-31"), Season("02-29", "06-01")])


@given(seasons, st.dates(date(2020, 1, 1), date(2030, 1, 1)), st.integers(0, 900))
def test_days_of_the_season_are_counted_as_one_by_one(season: Season, first: date, days: int) -> None:
    last = first.toordinal() + days
    singly = sum(in_season(season, date.fromordinal(day)) for day in range(first.toordinal(), last + 1))
    assert open_days(season, first.toordinal(), last) == singly
    if season is not ALWAYS:
        assert abs(season_days(season) - open_days(season, first.toordinal(), first.toordinal() + 364)) <= 2


history = st.lists(st.tuples(st.integers(0, 3), st.integers(1, 12), st.integers(0, 400)), min_size=8, max_size=60)


def played(days: list[tuple[int, int, int]]) -> tuple[Use, date]:
    day, use = date(2026, 4, 20), Use()
    for gap, length, metres in days:
        day += timedelta(days=gap)
        use = use.after_run(day, length * H, metres * 1000)
    return use, day


@given(history, seasons, st.integers(1, 600))
def test_early_likely_and_late_stand_in_that_order_and_none_in_the_past(
    days: list[tuple[int, int, int]], season: Season, left: int
) -> None:
    use, today = played(days)
    told = forecast(hours(left), Point(today), pace(use, today, season), season)
    if told is not None:
        far = date.max
        assert today <= told.early <= (told.likely or far) <= (told.late or far)


@given(history, st.integers(1, 300), st.integers(1, 300))
def test_more_left_is_never_due_sooner(days: list[tuple[int, int, int]], left: int, more: int) -> None:
    use, today = played(days)
    speed = pace(use, today, ALWAYS)
    near, far = (forecast(hours(amount), Point(today), speed, ALWAYS) for amount in (left, left + more))
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
    date_limb = Limb("date", today.toordinal() - 10, today.toordinal() + until, today.toordinal() + until)
    both = forecast(Thresholds((*hours(left).limbs, date_limb)), Point(today), speed, ALWAYS)
    alone = forecast(hours(left), Point(today), speed, ALWAYS)
    assert both is not None
    assert both.late is not None
    assert both.late <= today + timedelta(days=until)
    if alone is not None:
        assert both.early <= alone.early


@given(history)
def test_the_plain_form_is_the_use(days: list[tuple[int, int, int]]) -> None:
    use, _ = played(days)
    assert Use.from_plain(json.loads(json.dumps(use.to_plain()))) == use
    assert len(use.weeks) <= 80


def test_the_thresholds_of_a_plans_item_can_be_forecast() -> None:
    from reelcare.core.upkeep.plan_table import read_plan

    oil = read_plan({"id": "p", "items": [{"id": "o", "what": "o", "every": {"hours": 500, "months": 12}}]}).items[0]
    cycle = due.begin(oil, Point(date(2026, 4, 1)))
    told = forecast(due.thresholds(oil, cycle), Point(date(2026, 4, 1)), None, ALWAYS)
    assert told is not None
    assert told.likely == date(2027, 4, 1)


# the scores that the benchmark judges forecasts by


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    spec = importlib.util.spec_from_file_location("bench_forecast", Path("tests/bench_forecast.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_the_benchmarks_pinball_loss_is_that_of_row_f24(bench: ModuleType) -> None:
    cases = [(0.9, 10, 8), (0.9, 8, 10), (0.5, 10, 8), (0.1, 10, 8)]
    assert [bench.pinball(*case) for case in cases] == pytest.approx(ROWS["F24"]["expected"])


def test_the_benchmarks_interval_score_and_wilson_interval_are_those_of_rows_f30_and_f33(bench: ModuleType) -> None:
    assert bench.interval_score(0.1, 10, 20, 22) == pytest.approx(ROWS["F30"]["expected"])
    assert bench.wilson(14, 20) == pytest.approx(ROWS["F33"]["expected"])
