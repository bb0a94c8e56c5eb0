"""Distributions in plain Python against scipy."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from reelcare.core.evidence import distributions as chances


@given(st.floats(0.001, 300), st.floats(0.3, 200))
def test_chi_square_is_scipys(x: float, freedom: float) -> None:
    assert chances.chi_square_cdf(x, freedom) == pytest.approx(stats.chi2.cdf(x, freedom), abs=1e-11)


@given(st.floats(0.0005, 0.9995), st.floats(0.5, 200))
def test_points_of_chi_square_are_scipys(part: float, freedom: float) -> None:
    assert chances.chi_square_quantile(part, freedom) == pytest.approx(stats.chi2.ppf(part, freedom), rel=1e-8)


@given(st.floats(-12, 12), st.floats(1, 200))
def test_students_t_is_scipys(t: float, freedom: float) -> None:
    # scipy itself is 2.2e-9 off at t = 8e-9 and one degree of freedom, where the truth is 0.5 + atan(t) / pi
    assert chances.student_t_cdf(t, freedom) == pytest.approx(stats.t.cdf(t, freedom), abs=1e-8)
    assert chances.student_t_cdf(t, 1.0) == pytest.approx(0.5 + math.atan(t) / math.pi, abs=1e-11)


@given(st.floats(-7, 7), st.floats(4, 100))
def test_normal_scores_are_as_unlikely(t: float, freedom: float) -> None:
    score = chances.normal_score(t, freedom)
    assert stats.norm.sf(abs(score)) == pytest.approx(stats.t.sf(abs(t), freedom), rel=1e-6)
    assert score * t >= 0
    assert chances.normal_score(1e9, 5) == 8
    with pytest.raises(ValueError, match="between 0 and 1"):
        chances.chi_square_quantile(1, 3)
