"""Charts and curves drawn at any size: nothing outside of the sheet, and what matters is seen."""

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from reelcare.core.drawing import control, curve
from reelcare.core.evidence.charts import chart
from reelcare.core.evidence.failures.counts import Mean, System, mean_cumulative


def drifting() -> object:
    chance = random.Random(1)
    return chart([chance.gauss(0, 2) for _ in range(30)] + [chance.gauss(6, 2) for _ in range(12)])


def test_a_drift_shows_its_beginning_and_its_alarms() -> None:
    picture = control.draw(drifting())  # type: ignore[arg-type]
    for tag in (control.ALARM, control.BEGAN, control.USUAL, control.LIMIT, control.AVERAGE, control.RUN):
        assert picture.has(tag), tag
    assert "began" in control.in_words(drifting())  # type: ignore[arg-type]


def test_while_nothing_is_learnt_the_runs_stand_alone() -> None:
    picture = control.draw(chart([1.0, 2.0, 3.0]))
    assert picture.has(control.RUN)
    assert not picture.has(control.USUAL)
    assert not control.draw(chart([])).has(control.RUN)
    assert control.draw(chart([5.0])).has(control.RUN)


@settings(max_examples=40)
@given(st.lists(st.floats(-1e5, 1e5), max_size=120), st.integers(1, 150), st.integers(1, 40))
def test_a_chart_fits_its_sheet(values: list[float], width: int, height: int) -> None:
    picture = control.draw(chart(values), width=width, height=height)
    assert picture.width == max(width, control.MARGIN + 8)
    assert picture.height == max(height, 4)
    assert all(len(row) == picture.width for row in picture.rows)


@settings(max_examples=40)
@given(st.lists(st.floats(1, 999), min_size=1, max_size=20), st.integers(1, 120), st.integers(1, 30))
def test_a_curve_rises_and_fits_its_sheet(ages: list[float], width: int, height: int) -> None:
    means = mean_cumulative([System(tuple(sorted(ages)), 1000), System((), 1000)])
    picture = curve.draw(means, 1000, width=width, height=height)
    assert picture.has(curve.MEAN)
    assert all(len(row) == picture.width for row in picture.rows)
    heights = [
        next(y for y in range(picture.height) if picture.tags[y][x] == curve.MEAN)
        for x in range(curve.MARGIN, picture.width)
    ]
    assert heights == sorted(heights, reverse=True)


def test_a_span_that_nothing_is_known_of_is_not_drawn() -> None:
    picture = curve.draw(mean_cumulative([System((100, 500), 1000)]), 1000)
    assert picture.has(curve.MEAN)
    assert not picture.has(curve.SPAN)


def test_no_failure_is_an_empty_sheet() -> None:
    assert not curve.draw([], 100).has(curve.MEAN)
    assert curve.in_words([]) == "no failure"
    assert curve.in_words([Mean(5, 1, 0.5, 2, 3)], "m") == "failures of a machine: 1.0 (0.5 to 2.0; 3 watched) by 5 m"
