"""Pressure down the line: bars to one scale, values in the person's units."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelcare.core.drawing.pressure import BAR, LOST, WANTED, WRONG, PressurePoint, draw
from tests.pictures import tags

LINE = [
    PressurePoint("inlet", 690000),
    PressurePoint("after the drive", 640000),
    PressurePoint("gun", 345000, (300000, 400000)),
]


def length(row: str, sign: str) -> int:
    return row.count(sign)


def test_bars_are_as_long_as_their_pressures() -> None:
    rows = draw(LINE, width=80).rows
    full, less, least = (length(row, "█") for row in rows)
    assert abs(less / full - 640 / 690) < 1 / full
    assert abs((least + 1) / full - 345 / 690) <= 2 / full


def test_what_is_lost_is_drawn_behind_the_bar() -> None:
    picture = draw(LINE, width=80)
    assert "░" not in picture.rows[0]
    assert LOST in tags(picture)
    assert BAR in tags(picture)


def test_the_wanted_range_is_marked_and_a_miss_is_tagged() -> None:
    assert WANTED in tags(draw(LINE))
    assert WRONG not in tags(draw(LINE))
    assert WRONG in tags(draw([*LINE, PressurePoint("gun", 200000, (300000, 400000))]))


def test_units_follow_the_person() -> None:
    assert "100 psi" in draw([PressurePoint("inlet", 689475.7)], system="us").rows[0]


@given(
    st.lists(st.builds(PressurePoint, st.text("abc ", min_size=1, max_size=30), st.floats(-1e6, 4e6)), max_size=8),
    st.integers(10, 130),
)
def test_it_is_drawn_for_any_pressures_and_width(places: list[PressurePoint], width: int) -> None:
    picture = draw(places, width=width)
    assert picture.height == len(places)
    assert len({len(row) for row in picture.rows}) <= 1


@pytest.mark.parametrize("wrong", [math.nan, math.inf])
def test_a_pressure_that_is_no_number_is_refused_by_name(wrong: float) -> None:
    with pytest.raises(ValueError, match=r"gun: a pressure of"):
        draw([PressurePoint("gun", wrong)])
