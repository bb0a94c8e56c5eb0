"""A list in bands: every row stands in it once, packed where there is little room, and the cursor goes through all."""

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from textual.app import App

from reelcare.tui.widgets.bands import ROOMY, Band, BandedRows, lines_of
from reelcare.tui.widgets.rows import Cell, Column

COLUMNS = (Column("machine", 9), Column("what", 20, grows=True))
TAGS = tuple(f"R{at}" for at in range(30))


def _band(name: str, count: int, quiet: int, first: int) -> Band:
    tags = tuple(f"R{at}" for at in range(first + count - quiet, first + count))
    return Band(f"{name} {count}", "warning", count, tags, f"else on {quiet}:", f"{name} {count}, else on {quiet}:")


@st.composite
def some_bands(draw: st.DrawFn) -> list[Band]:
    found: list[Band] = []
    for name in draw(st.lists(st.sampled_from(("held", "due", "clear")), max_size=4)):
        count = draw(st.integers(1, 12))
        found.append(_band(name, count, draw(st.integers(0, count)), sum(band.size for band in found)))
    return found


@settings(max_examples=40)
@given(bands=some_bands(), height=st.integers(1, 60), width=st.integers(20, 140))
def test_every_row_stands_in_the_list_once_and_in_its_order(bands: list[Band], height: int, width: int) -> None:
    lines = lines_of(bands, height, width)
    rows = [row for line in lines if not line.second for row in ([tag[0] for tag in line.tags] or [line.row])]
    count = sum(band.size for band in bands)
    assert [row for row in rows if row >= 0] == list(range(count))
    assert all(begins + len(tag) <= width for line in lines for _row, begins, tag in line.tags[1:])
    if len(bands) + count <= height:
        assert not any(line.tags for line in lines)
    twice = len(bands) + 2 * count <= height and width >= ROOMY
    assert sum(line.second for line in lines) == (count if twice else 0)
    assert len(lines) <= max(height, len(bands) + count)


@pytest.fixture
def listed(small: Callable[..., App[Any]]) -> Callable[..., tuple[App[Any], BandedRows]]:
    def make(size: tuple[int, int]) -> tuple[App[Any], BandedRows]:
        rows = BandedRows(COLUMNS, [(Cell(tag), f"meadow {tag}", f"name {tag}", f"more {tag}") for tag in TAGS])
        rows.bands = [_band("held", 2, 0, 0), _band("due", 18, 15, 2), _band("clear", 10, 10, 20)]
        return small(lambda: [rows]), rows

    return make


async def test_rows_with_nothing_to_say_are_packed_and_the_cursor_goes_through_them(
    listed: Callable[..., Any], screen_text: Callable[[App[Any]], str]
) -> None:
    app, rows = listed((80, 24))
    async with app.run_test(size=(80, 24)) as pilot:
        rows.focus()
        await pilot.pause()
        shown = screen_text(app)
        assert "else on 15: R5 R6 R7" in " ".join(shown.split())
        assert "clear 10, else on 10: R20 R21" in shown
        assert "meadow R4" in shown
        assert "meadow R5" not in shown
        for tag in TAGS:
            assert f"▸{tag}" in screen_text(app).replace("▸ ", "▸").replace("▸■ ", "▸")
            await pilot.press("down")
        assert rows.cursor == len(TAGS) - 1
        [line] = [y for y, text in enumerate(screen_text(app).splitlines()) if "clear 10" in text]
        at = screen_text(app).splitlines()[line].index("R23")
        await pilot.click(rows, offset=(at + 1, line))
        assert rows.cursor == 23


async def test_a_short_list_scrolls_and_shows_the_head_of_a_band_with_its_first_row(
    listed: Callable[..., Any], screen_text: Callable[[App[Any]], str]
) -> None:
    app, rows = listed((80, 6))
    async with app.run_test(size=(80, 6)) as pilot:
        rows.focus()
        await pilot.press("end", "pageup", "pageup")
        assert rows.cursor < 20
        await pilot.press("home")
        assert "held 2" in screen_text(app)
        assert rows.cursor == 0


async def test_rows_have_a_second_line_where_all_have_room_for_it(
    listed: Callable[..., Any], screen_text: Callable[[App[Any]], str]
) -> None:
    app, _rows = listed((120, 70))
    async with app.run_test(size=(120, 70)) as pilot:
        await pilot.pause()
        shown = screen_text(app).splitlines()
        at = next(y for y, text in enumerate(shown) if "meadow R7" in text)
        assert "name R7" in shown[at + 1]
        assert "more R7" in shown[at + 1]
