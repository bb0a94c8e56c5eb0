"""A table for people: every cell cleaned, every column as wide as its widest cell."""

from contextlib import redirect_stdout
from io import StringIO

from hypothesis import given
from hypothesis import strategies as st

from reelcare.cli.common import print_table
from reelcare.core.clean import clean

CELLS = st.sampled_from(
    ("", "a", "hose reel", " b ", "é", "e\u0301", "ten\u200bsion", "x\x1b[2J", "two\nlines")
) | st.text(max_size=5)


def told(heads: tuple[str, ...], lines: list[tuple[str, ...]]) -> str:
    said = StringIO()
    with redirect_stdout(said):
        print_table(heads, lines)
    return said.getvalue()


@given(st.lists(st.tuples(CELLS, CELLS, CELLS), max_size=8))
def test_a_table_is_its_cells_one_by_one(lines: list[tuple[str, str, str]]) -> None:
    heads = ("machine", "", "what")
    rows = [heads, *(tuple(clean(cell) for cell in line) for line in lines)]
    widths = [max(len(row[place]) for row in rows) for place in range(3)]
    wanted = [f"{row[0]:<{widths[0]}}  {row[1]:<{widths[1]}}  {row[2]:<{widths[2]}}".rstrip() + "\n" for row in rows]
    assert told(heads, lines) == "".join(wanted)


def test_a_table_without_lines_is_its_heads() -> None:
    assert told(("tag", "place"), []) == "tag  place\n"
