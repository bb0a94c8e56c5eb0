"""Columns in a width: nothing overflows, the important stay."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from reelcare.tui.widgets.columns import GAP, Column, fit

columns = st.lists(
    st.builds(
        Column,
        head=st.just("x"),
        width=st.integers(1, 40),
        weight=st.integers(1, 6),
        grows=st.booleans(),
        right=st.booleans(),
        least=st.integers(0, 20),
    ),
    min_size=1,
    max_size=9,
)


@given(columns, st.integers(6, 200))
def test_columns_stand_in_order_beside_each_other_and_inside(cols: list[Column], width: int) -> None:
    placed = fit(cols, width)
    assert [one.place for one in placed] == sorted(one.place for one in placed)
    x = 0
    for one in placed:
        assert one.x == x
        x = one.x + one.width + GAP
    if len(placed) > 1 or cols[placed[0].place].width <= width:
        assert x - GAP <= width


@given(columns, st.integers(6, 200))
def test_a_column_that_is_left_out_does_not_fit_beside_what_is_as_important(cols: list[Column], width: int) -> None:
    placed = {one.place for one in fit(cols, width)}
    for place, column in enumerate(cols):
        if place in placed:
            continue
        before = [one for at, one in enumerate(cols) if at in placed and (one.weight, at) < (column.weight, place)]
        assert sum(min(one.width, one.least or one.width) + GAP for one in [*before, column]) - GAP > width


@given(columns, st.integers(6, 200))
def test_what_is_left_over_goes_to_those_that_grow(cols: list[Column], width: int) -> None:
    placed = fit(cols, width)
    if (
        any(cols[one.place].grows for one in placed)
        and sum(cols[one.place].width + GAP for one in placed) - GAP <= width
    ):
        assert placed[-1].x + placed[-1].width == width


def test_a_wide_column_shrinks_before_a_more_important_one_goes() -> None:
    placed = fit((Column("tag", 6), Column("what", 30, 1, least=10), Column("by", 8, 2)), 28)
    assert [(one.place, one.width) for one in placed] == [(0, 6), (1, 10), (2, 8)]


def test_where_nothing_fits_the_most_important_is_shown() -> None:
    assert [one.place for one in fit((Column("a", 30, 2), Column("b", 30, 1)), 8)] == [1]
