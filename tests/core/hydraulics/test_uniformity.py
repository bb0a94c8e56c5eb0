"""Catch cans: against published examples, numpy, and simple truths of overlap."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from reelcare.core.hydraulics import uniformity
from reelcare.core.hydraulics.uniformity import Transect, best_spacing, overlap

Row = Callable[[str], dict[str, Any]]
FOOT = 0.3048
catches = st.lists(st.floats(0, 100), min_size=4, max_size=60)


def test_the_published_example_of_fifteen_cans(row: Row) -> None:
    # G. Grabow, documentation example: CU and DU with the four lowest of fifteen
    caught = row("H7-01")["inputs"]["catch_ml"]
    assert 100 * uniformity.christiansen(caught) == pytest.approx(row("H7-01")["expected"]["CU"]["value"], abs=5e-6)
    # 3.75 cans are a fourth of fifteen: with the whole cans on either side the answer is another, as published
    mean, low = sum(caught) / 15, sorted(caught)
    four, three = 100 * sum(low[:4]) / 4 / mean, 100 * sum(low[:3]) / 3 / mean
    assert four == pytest.approx(row("H7-02")["expected"]["DU"]["value"], abs=5e-6)
    assert three == pytest.approx(row("H7-03")["expected"]["DU"]["value"], abs=1e-5)
    ours = 100 * uniformity.low_quarter(caught)
    assert ours == pytest.approx(100 * (sum(low[:3]) + 0.75 * low[3]) / 3.75 / mean)
    assert three < ours < four


def test_the_published_transect_of_a_travelling_gun(row: Row) -> None:
    # H7-04: NC Cooperative Extension AG-553-2 (1997), table 1, lanes of 224 ft, which is 11.2 cans
    told = row("H7-04")["inputs"]
    transect = Transect(tuple(told["left_in"]), tuple(told["right_in"]), 10 * FOOT, 20 * FOOT)
    even = overlap(transect, told["lane"]["value"] * FOOT)
    assert len(even.catches) == 12
    # by hand: the can at 110 ft on the right has 0.27 of its own, and lies 114 ft from the next hose's left side,
    # a fifth of the way from the can at 110 (0.42) to the one at 130 (0.33)
    assert even.catches[-1] == pytest.approx(0.27 + 0.42 + (0.33 - 0.42) * 0.2)
    assert even.catches[0] == pytest.approx(0.94)
    assert 0.8 < even.coefficient < 0.95


@given(catches)
def test_both_figures_are_numpys(caught: list[float]) -> None:
    assume(sum(caught) > 1e-3)
    data = np.array(caught)
    assert uniformity.christiansen(caught) == pytest.approx(
        1 - np.abs(data - data.mean()).mean() / data.mean(), abs=1e-9
    )
    # each can four times: a fourth of those is a whole number of them, whatever the count
    low = np.sort(np.repeat(data, 4))[: len(caught)].mean() / data.mean()
    assert uniformity.low_quarter(caught) == pytest.approx(low, abs=1e-9)


profiles = st.lists(st.floats(0, 10), min_size=3, max_size=20).map(tuple)


@given(profiles, profiles, st.integers(3, 12))
def test_overlap_of_whole_cans_is_the_sum_of_what_both_hoses_throw(left: Any, right: Any, cans: int) -> None:
    assume(sum(left) + sum(right) > 1)
    transect = Transect(left, right, 1.0, 2.0)
    spacing = 2.0 * cans
    try:
        even = overlap(transect, spacing)
    except ValueError:
        return

    def caught(aside: int) -> float:  # by whole cans, aside = 0 is the first on the right, -1 the first on the left
        side, number = (right, aside) if aside >= 0 else (left, -aside - 1)
        return side[number] if number < len(side) else 0.0

    naive = sorted(
        sum(caught(can + lane * cans) for lane in range(-30, 31)) for can in range(-math.ceil(cans / 2), cans // 2)
    )
    assert sorted(even.catches) == pytest.approx(naive, abs=1e-9)


@given(st.integers(2, 12), st.floats(0.5, 5))
def test_a_triangle_overlapped_at_half_its_width_is_even(cans: int, step: float) -> None:
    # two equal triangles, each reaching the other's hose, add up to the same everywhere
    reach = cans * step
    side = tuple(1 - (step / 2 + step * number) / reach for number in range(cans))
    even = overlap(Transect(side, side, step / 2, step), reach) if cans >= 4 else None
    if even is not None:
        assert even.coefficient == pytest.approx(1.0, abs=1e-9)
        assert even.low == pytest.approx(1.0, abs=1e-9)


def test_the_best_spacing_is_better_than_its_neighbours() -> None:
    transect = Transect((10, 10, 9, 7, 4, 1), (10, 10, 9, 7, 4, 1), 2.5, 5)
    best = best_spacing(transect)
    for other in (best.spacing - 5, best.spacing - 1, best.spacing + 1, best.spacing + 5):
        if transect.reach <= other <= 2 * transect.reach:
            assert overlap(transect, other).coefficient <= best.coefficient + 1e-9


def test_a_spacing_between_whole_cans_lies_between_its_neighbours() -> None:
    transect = Transect((10, 9, 7, 4, 1), (10, 9, 7, 4, 1), 2.5, 5)
    means = [np.mean(overlap(transect, spacing).catches) for spacing in (30, 31, 32, 33, 34, 35)]
    assert means == sorted(means, reverse=True)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: uniformity.christiansen([1, 2, 3]), "four or more"),
        (lambda: uniformity.christiansen([0, 0, 0, 0]), "dry"),
        (lambda: uniformity.low_quarter([1, 2, math.nan, 4]), "nothing or more"),
        (lambda: uniformity.low_quarter([1, 2, -3, 4]), "nothing or more"),
        (lambda: Transect((), (1.0,), 1, 2), "each side"),
        (lambda: Transect((1.0,), (1.0,), 1, 0), "cannot be"),
        (lambda: Transect((math.inf,), (1.0,), 1, 2), "nothing or more"),
        (lambda: overlap(Transect((1, 2, 3), (1, 2, 3), 1, 2), 1.5), "apart"),
        (lambda: overlap(Transect((1, 2, 3), (1, 2, 3), 1, 2), math.inf), "apart"),
        (lambda: overlap(Transect((1, 2, 3), (1, 2, 3), 1, 2), 1e30), "stays dry"),
    ],
)
def test_catches_that_cannot_tell_are_refused(make: Callable[[], Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        make()
