"""Tables: fitted to a terminal, whole in a pipe, and nothing lost without being named."""

import json
import re
import sys
import unicodedata
from collections import Counter
from contextlib import redirect_stderr, redirect_stdout
from io import BytesIO, StringIO, TextIOWrapper
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from rich.cells import cell_len

from reelcare.cli.common import print_table
from reelcare.cli.table import TextColumn, fitted, in_lines, plain
from reelcare.core.clean import clean
from reelcare.core.wording import cells
from tests.cli.terminals import in_a_terminal

CELLS = st.sampled_from(
    ("", "a", "hose reel", " b ", "é", "e\u0301", "ten\u200bsion", "x\x1b[2J", "two\nlines", "ホース リール", "38899 m",
     "gearbox-oil-change", "2026-05-01 06:30", "x" * 50, "水" * 30, "end stop: drive came out late at the stop test")
) | st.text(max_size=9)  # fmt: skip
COLUMNS = st.builds(
    TextColumn, st.sampled_from(("machine", "what", "left", "for whom", "由")), st.integers(1, 4), st.booleans(),
    st.booleans(), st.sampled_from((False, False, False, True)),
)  # fmt: skip


@st.composite
def tables(draw: Any) -> tuple[list[TextColumn], list[list[str]]]:
    columns = [TextColumn("tag"), *draw(st.lists(COLUMNS, max_size=5))]
    rows = draw(st.lists(st.lists(CELLS, min_size=len(columns), max_size=len(columns)), min_size=1, max_size=5))
    return columns, rows


def in_two(told: str) -> tuple[str, str]:
    """The table, and the line below it that names what is not shown."""
    body, _, named = told.partition("\nNot shown in ")
    return body, named


def letters(text: str) -> str:
    """What stands there, whatever the blanks and line ends."""
    return re.sub(r"\s", "", text)


@given(tables(), st.integers(20, 130))
def test_no_line_is_longer_than_the_terminal(table: Any, width: int) -> None:
    columns, rows = table
    told = fitted(columns, rows, width)
    assert max(map(cells, told.splitlines())) <= width
    assert not any(line.endswith(" ") for line in told.splitlines())


@given(tables(), st.integers(20, 130))
def test_nothing_is_lost_without_being_named(table: Any, width: int) -> None:
    columns, rows = table
    told = fitted(columns, rows, width)
    body, named = in_two(told)
    have, named = Counter(letters(body)), letters(named)
    wanted: Counter[str] = Counter()
    for at, one in enumerate(columns):
        if one.band:  # stands once for many rows
            assert not set(letters("".join(clean(row[at]) for row in rows))) - set(have)
        elif letters(one.head) not in named:
            wanted += Counter(letters("".join(clean(row[at]) for row in rows)))
        else:
            assert one.priority > 1 or any(other.priority > 1 for other in columns if other.head == one.head)
    assert not wanted - have


@given(tables())
def test_where_all_fits_every_row_is_one_line_with_all_its_cells(table: Any) -> None:
    columns, rows = table
    columns = [TextColumn(one.head, one.priority, one.figures, one.whole) for one in columns]
    lines = fitted(columns, rows, 1000).splitlines()
    assert len(lines) == len(rows) + 1
    for line, row in zip(lines[1:], rows, strict=True):
        assert letters(line) == letters("".join(map(clean, row)))


@given(tables(), st.integers(20, 130))
@example(([TextColumn("tag"), TextColumn("done", amounts=True)], [["", "38899 m"]]), 20)
def test_no_word_is_broken_that_is_shorter_than_a_line(table: Any, width: int) -> None:
    columns, rows = table
    body, named = in_two(fitted(columns, rows, width))
    # the thousands of an amount are set apart by a blank that stays in its line
    found = set(body.split()) | {letters(amount[0]) for amount in re.finditer(r"-?\d{1,3}(?: \d{3})+\S*", body)}
    for at, one in enumerate(columns):
        if one.figures or one.whole or letters(one.head) in letters(named):
            continue
        for word in clean(" ".join(row[at] for row in rows)).split():
            assert word in found or cells(word) > width - 2 or (one.band and any(word in text for text in found))


@given(tables())
def test_in_a_pipe_every_column_stands_and_begins_in_one_cell(table: Any) -> None:
    columns, rows = table
    lines = plain(columns, rows).split("\n")[:-1]
    told = [[one.head for one in columns], *([clean(text) for text in row] for row in rows)]
    widths = [max(cells(row[at]) for row in told) for at in range(len(columns))]
    assert len(lines) == len(told)
    for line, row in zip(lines, told, strict=True):
        wanted = ""
        for text, wide, one in zip(row, widths, columns, strict=True):
            blank = " " * (wide - cells(text))
            wanted += "  " * bool(one is not columns[0]) + (blank + text if one.figures else text + blank)
        assert letters(line) == letters(wanted)
        assert cells(line) <= sum(widths) + 2 * (len(widths) - 1)


def test_a_table_is_as_it_is_drawn_here() -> None:
    columns = [
        TextColumn("place", band=True), TextColumn("machine"), TextColumn("what matters"),
        TextColumn("hours", 3, figures=True),
        TextColumn("for whom", 2),
    ]  # fmt: skip
    rows = [
        ("North", "T01", "end stop: drive came out late at the stop test", "1342", "Tomas"),
        ("North", "T02", "", "38899", ""),
        ("South", "E06", "gearbox oil change", "9", "Lena"),
    ]
    assert fitted(columns, rows, 50) == (
        "machine  what matters              hours  for whom\n"
        "\n"
        "North\n"
        "T01      end stop: drive came      1 342  Tomas\n"
        "         out late at the stop\n"
        "         test\n"
        "T02                               38 899\n"
        "\n"
        "South\n"
        "E06      gearbox oil change            9  Lena\n"
    )
    assert fitted(columns, rows, 30) == (
        "machine  what matters\n"
        "\n"
        "North\n"
        "T01      end stop: drive came\n"
        "         out late at the stop\n"
        "         test\n"
        "T02\n"
        "\n"
        "South\n"
        "E06      gearbox oil change\n"
        "\n"
        "Not shown in 30 columns:\n"
        "hours, for whom\n"
    )
    assert fitted([TextColumn("machine"), TextColumn("item")], [("T01", "gearbox-oil-change")], 20) == (
        "T01\n  item:\n  gearbox-oil-change\n"
    )
    assert plain(columns, rows[:2]) == (
        "place  machine  what matters                                    hours  for whom\n"
        "North  T01      end stop: drive came out late at the stop test   1342  Tomas\n"
        "North  T02                                                      38899\n"
    )


@pytest.mark.parametrize(
    ("figure", "told"),
    [
        ("999", "999"), ("1000", "1 000"), ("-38899 m", "-38 899 m"), ("1234567.25", "1 234 567.25"),
        ("0.12345", "0.12345"), ("2026-05-01", "2026-05-01"), ("T1234", "T1234"), ("007890", "007 890"),
        ("1000 of 2000", "1 000 of 2 000"), ("12345h", "12345h"),
    ],
)  # fmt: skip
def test_thousands_are_set_apart_for_people_alone(figure: str, told: str) -> None:
    # ISO 80000-1: groups of three, set apart by a small space, and neither by a point nor a comma
    column = TextColumn("h", figures=True)
    assert fitted([column], [(figure,)], 80).splitlines()[1].strip() == told
    assert plain([column], [(figure,)]).splitlines()[1].strip() == figure
    assert fitted([TextColumn("h")], [(figure,)], 80).splitlines()[1].strip() == figure


def test_cells_of_letters_are_those_that_another_library_counts() -> None:
    of_letters = [chr(code) for code in range(0x20, 0x1D000) if unicodedata.category(chr(code))[0] in "LMNP"]
    otherwise = {one for one in of_letters if cells(one) != cell_len(one)}
    # terminals differ on marks that have room of their own, and two letters are there to be invisible
    invisible = {"\N{HANGUL FILLER}", "\N{HALFWIDTH HANGUL FILLER}"}
    assert {one for one in otherwise if unicodedata.category(one) != "Mc"} <= invisible
    assert all(cells(one) > cell_len(one) for one in otherwise), "what is counted as too wide sticks out nowhere"


@pytest.mark.parametrize(
    "text", ["hose", "Łąka é", "e\u0301", "ホース", "水泵", "한국", "ｱ", "－", "ñ½²", "\u1112\u1161\u11ab"]
)
def test_cells_of_words_are_those_that_another_library_counts(text: str) -> None:
    assert cells(text) == cell_len(text)


@given(
    st.lists(CELLS).map(" ".join) | st.sampled_from(("    T01: " + "gearbox oil change; " * 9, "", "  ")),
    st.integers(20, 90),
)
def test_a_sentence_is_broken_between_words_and_keeps_all_of_them(text: str, width: int) -> None:
    lines = in_lines(text, width)
    assert max(map(cells, lines)) <= width
    assert letters("".join(lines)) == letters(text)


def told(heads: Any, lines: Any, **more: str) -> tuple[str, str]:
    said, about = StringIO(), StringIO()
    with redirect_stdout(said), redirect_stderr(about):
        print_table(heads, lines, **more)
    return said.getvalue(), about.getvalue()


def test_an_empty_table_says_the_next_step() -> None:
    assert told(("tag", "place"), [], empty="no machine yet: reelcare machine add CARD.toml") == (
        "tag  place\n", "no machine yet: reelcare machine add CARD.toml\n",
    )  # fmt: skip
    assert fitted([TextColumn("tag"), TextColumn("place")], [], 80) == ""


def test_a_character_that_the_locale_has_not_is_as_wide_as_it_is_written(monkeypatch: Any) -> None:
    written = TextIOWrapper(bytes_ := BytesIO(), "ascii", errors="backslashreplace")
    monkeypatch.setattr(written, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(sys, "stdout", written)
    monkeypatch.setenv("COLUMNS", "24")
    print_table(("name", "place"), [("Łucja Łącka", "Łąka nad Łęgiem")])
    written.flush()
    lines = bytes_.getvalue().decode("ascii").splitlines()
    assert max(map(len, lines)) <= 24
    assert "\\u0141ucja" in "".join(lines)


LISTS = (
    ["due"], ["people"], ["machine"], ["book", "R1"], ["plan"], ["yard"], ["sheets"], ["marks"], ["workload"],
)  # fmt: skip


@pytest.mark.long
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="pseudo-terminals of Linux")
@pytest.mark.parametrize("more", [{"TERM": "xterm"}, {"TERM": "dumb", "LC_ALL": "C", "PYTHONUTF8": "0"}])
def test_lists_fit_the_terminal_they_are_shown_on(farm: Any, more: dict[str, str]) -> None:
    assert farm("log", "fault", "R1", "hose", "--says", "zużyty ñ " * 8, "--by", "Olav").code == 0
    for words, columns in zip(LISTS, (20, 40, 80, 120, 40, 40, 40, 40, 40), strict=True):
        (shown,) = in_a_terminal([words], columns, more)
        assert max(map(cells, re.split("[\\n\\r]", shown))) <= columns, (words, columns)
    assert json.loads(farm("people", "--json").out)
