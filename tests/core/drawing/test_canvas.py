"""A sheet of cells: what lies outside of it is not drawn."""

import pytest

from reelcare.core.drawing.canvas import Canvas


@pytest.mark.parametrize(("x", "y"), [(-1, 0), (3, 0), (0, -1), (0, 2)])
def test_what_lies_outside_is_left_out(x: int, y: int) -> None:
    canvas = Canvas(3, 2)
    canvas.put(x, y, "x")
    assert all(canvas.free(column, row) for column in range(3) for row in range(2))


def test_a_text_is_cut_at_the_edge() -> None:
    canvas = Canvas(3, 2)
    canvas.put(1, 1, "abc")
    assert [canvas.sign(column, 1) for column in range(4)] == [" ", "a", "b", " "]
