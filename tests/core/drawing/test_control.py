"""Charts and curves drawn at any size: nothing outside of the sheet, and what matters is seen."""

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from reelcare.core.drawing import control, curve
from reelcare.core.evidence.charts import chart_of
from reelcare.core.evidence.failures.counts import Mean, System, mean_cumulative
from tests.pictures import tags


def drifting() -> object:
    chance = random.Random(1)
    return chart_of([[chance.gauss(0, 2) for _ in range(30)] + [chance.gauss(6, 2) for _ in range(12)]])


def test_a_drift_shows_its_beginning_and_its_alarms() -> None:
    picture = control.draw(drifting())  # type: ignore[arg-type]
    for tag in (control.ALARM, control.BEGAN, control.USUAL, control.LIMIT, control.AVERAGE, control.RUN):
        assert tag in tags(picture), tag
    assert "began" in control.in_words(drifting())  # type: ignore[arg-type]


def test_while_nothing_is_learnt_the_runs_stand_alone() -> None:
    picture = control.draw(chart_of([[1.0, 2.0, 3.0]]))
    assert control.RUN in tags(picture)
    assert control.USUAL not in tags(picture)
    assert control.RUN not in tags(control.draw(chart_of([[]])))
    assert control.RUN in tags(control.draw(chart_of([[5.0]])))


@settings(max_examples=40)
@given(st.lists(st.floats(-1e5, 1e5), max_size=120), st.integers(1, 150), st.integers(1, 40))
def test_a_chart_fits_its_sheet(values: list[float], width: int, height: int) -> None:
    picture = control.draw(chart_of([values]), width=width, height=height)
    assert picture.width == max(width, control.MARGIN + 8)
    assert picture.height == max(height, 4)
    assert all(len(row) == picture.width for row in picture.rows)


@settings(max_examples=40)
@given(st.lists(st.floats(1, 999), min_size=1, max_size=20), st.integers(1, 120), st.integers(1, 30))
def test_a_curve_rises_and_fits_its_sheet(ages: list[float], width: int, height: int) -> None:
    means = mean_cumulative([System(tuple(sorted(ages)), 1000), System((), 1000)])
    picture = curve.draw(means, 1000, width=width, height=height)
    assert curve.MEAN in tags(picture)
    assert all(len(row) == picture.width for row in picture.rows)
    heights = [
        next(y for y in range(picture.height) if picture.tags[y][x] == curve.MEAN)
        for x in range(curve.MARGIN, picture.width)
    ]
    assert heights == sorted(heights, reverse=True)


def test_a_span_that_nothing_is_known_of_is_not_drawn() -> None:
    picture = curve.draw(mean_cumulative([System((100, 500), 1000)]), 1000)
    assert curve.MEAN in tags(picture)
    assert curve.SPAN not in tags(picture)


def test_no_failure_is_an_empty_sheet() -> None:
    assert curve.MEAN not in tags(curve.draw([], 100))
    assert curve.in_words([]) == "no failure"
    assert curve.in_words([Mean(5, 1, 0.5, 2, 3)], "m") == "failures of a machine: 1.0 (0.5 to 2.0; 3 watched) by 5 m"
