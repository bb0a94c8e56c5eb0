"""Time as a line, against a walk day by day."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from reelcare.core.drawing.weeks import WEEKS, line, place, scale

TODAY = date(2026, 5, 1)
days = st.integers(-400, 900).map(lambda number: TODAY + timedelta(days=number))


def naive_place(day: date, width: int) -> int:
    """The cell whose span of days holds the day, found by going through them."""
    for cell in range(width):
        first = -(-cell * WEEKS * 7 // width)
        after = -(-(cell + 1) * WEEKS * 7 // width)
        if first <= (day - TODAY).days < after:
            return cell
    return width


@given(days, st.integers(5, 80))
def test_a_day_stands_in_the_cell_that_holds_it(day: date, width: int) -> None:
    if day < TODAY:
        assert place(day, TODAY, width) < 0
    else:
        assert min(place(day, TODAY, width), width) == naive_place(day, width)


@given(st.lists(days, min_size=3, max_size=3).map(sorted), st.integers(5, 80))
def test_the_likely_day_lies_in_the_spread_and_the_line_has_its_width(found: list[date], width: int) -> None:
    early, likely, late = found
    drawn = line(early, likely, late, today=TODAY, width=width)
    assert len(drawn) == width
    assert set(drawn) <= set("·─├┤◆►")
    if "◆" in drawn and "├" in drawn:
        assert drawn.index("├") < drawn.index("◆")
    if "◆" in drawn and "┤" in drawn:
        assert drawn.index("◆") < drawn.index("┤")


def test_overdue_stands_at_the_left_edge_and_points_out() -> None:
    assert line(TODAY, TODAY, TODAY, today=TODAY, width=6, overdue=True) == "◄·····"


def test_what_cannot_be_told_and_what_lies_beyond_are_not_the_same() -> None:
    unknown = line(None, None, None, today=TODAY, width=6)
    beyond = line(date(2028, 1, 1), date(2028, 2, 1), None, today=TODAY, width=6)
    assert unknown != beyond
    assert "?" in unknown
    assert beyond.endswith("►")


def test_months_stand_over_their_first_cell() -> None:
    shown = scale(TODAY, 52)
    assert shown.startswith("May")
    assert place(date(2026, 6, 1), TODAY, 52) - shown.index("Jun") in (-1, 0)
    assert len(shown) == 52


@given(days, st.integers(1, 120))
def test_the_scale_has_the_width_asked_for(day: date, width: int) -> None:
    assert len(scale(day, width)) == width
