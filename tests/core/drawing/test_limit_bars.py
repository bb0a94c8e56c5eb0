"""Limits as bars: one line of 100 % for all, which a bar crosses exactly where its figure is over."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from reelcare.core.drawing.limits import BEYOND, LimitBar, draw

bars = st.builds(
    lambda name, percent, more: LimitBar(name, percent, percent + more, f"{percent:.0f} %"),
    st.text("abc ", min_size=1, max_size=30).map(str.strip), st.floats(0, 999), st.floats(0, 400),
)  # fmt: skip


@given(st.lists(bars, min_size=1, max_size=9), st.integers(30, 130))
def test_the_line_stands_in_one_column_and_only_what_is_over_crosses_it(made: list[LimitBar], width: int) -> None:
    picture = draw(made, width=width)
    columns = {row.index("│") for row in picture.rows}
    assert len(columns) == 1
    (line,) = columns
    for row, one in zip(picture.rows, made, strict=True):
        assert (row[line + 1] in "█" + BEYOND and row[line - 1] == "█") == one.over
        # what is worst crosses it, too, as a light bar
        assert (row[line + 1] != " ") == (one.worst > 100 + 1e-9)
        assert one.short in row


@given(st.floats(0, 100), st.floats(0, 100))
def test_more_percent_is_never_a_shorter_bar(less: float, more: float) -> None:
    less, more = sorted((less, more))
    rows = draw([LimitBar("a", one, one, "") for one in (less, more)], width=50).rows
    assert rows[0].count("█") <= rows[1].count("█")
