"""Cells of last-done dates, usual headings, and a matching that is kept and read again."""

import tomllib
from datetime import UTC, date

import pytest

from reelcare.core.spreadsheet.cells import CellError, DoneAt, Doubt, read_done, writing_of
from reelcare.core.spreadsheet.columns import Matching, places, read_matching
from reelcare.core.spreadsheet.table import table_of_text
from reelcare.core.spreadsheet.usual_headings import with_usual


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("29/6/26", DoneAt(date(2026, 6, 29), None)),
        ("6/29/2026", DoneAt(date(2026, 6, 29), None)),
        ("3.4.26", DoneAt(date(2026, 4, 3), None)),  # dots are day first (DIN 1355)
        ("2026-04-03", DoneAt(date(2026, 4, 3), None)),
        ("1 420,5 h", DoneAt(None, 5_113_800)),
        ("1420", DoneAt(None, 5_112_000)),
        ("1010 h 3.11.25", DoneAt(date(2025, 11, 3), 3_636_000)),
        ("3.11.25, 1010 h", DoneAt(date(2025, 11, 3), 3_636_000)),
        (".", None),
        ("?", None),
    ],
)
def test_a_cell_says_on_which_day_or_at_which_hours(text: str, found: DoneAt | None) -> None:
    assert read_done(text, UTC) == found


@pytest.mark.parametrize("text", ["3/4/26", "1,234", "soon", "1420 m", "31.2.26", "29/6/26 soon"])
def test_what_can_be_meant_in_two_ways_or_is_no_such_thing_is_refused(text: str) -> None:
    with pytest.raises(CellError):
        read_done(text, UTC)


def test_usual_headings_are_matched_by_whole_words_and_never_twice() -> None:
    table = table_of_text("Masch. Nr.;Beginn;Ende;gelegt (m);Bemerkung;Wind\nR1;x;y;3;;\n")
    found = with_usual(table, Matching(), "runs").columns
    assert found == {
        "machine": ("Masch. Nr.",), "started": ("Beginn",), "ended": ("Ende",), "metres": ("gelegt (m)",),
        "notes": ("Bemerkung",),
    }  # fmt: skip
    left_out = Matching(columns={"notes": ()})
    assert with_usual(table, left_out, "runs").columns["notes"] == ()


def test_a_matching_reads_again_as_it_was_kept() -> None:
    kept = Matching(
        "d/m/y", ",", "Blatt 1", {"machine": ("Nr",), "started": ("Tag", "von")}, {"hose.length": ("Rohr (m)",)},
        {"oil": ("Öl",)}, {"metres": "m"},
    )  # fmt: skip
    assert read_matching(tomllib.loads(kept.to_toml())) == kept


@pytest.mark.parametrize("title", ["Machines of the yard;;;\n\n", "Yard 2026\nas of May\n", ""])
def test_titles_above_the_headings_are_passed_over_and_rows_keep_their_numbers(title: str) -> None:
    table = table_of_text(f"{title}Tag;Hose\nT01;350 m\nT02\n")
    assert table.header == ("Tag", "Hose")
    first = title.count("\n") + 2
    assert table.rows == ((first, ("T01", "350 m")), (first + 1, ("T02", "")))
    assert table_of_text("tag\nT01\nT02\n").header == ("tag",)


def test_a_heading_spelt_like_a_key_needs_no_matching_whatever_its_capitals() -> None:
    table = table_of_text("Tag;PLACE;Hose.Length (m)\nT01;North;350\n")
    found = places(table, Matching(), "machines")
    assert {name: one.heading for name, one in found.items()} == {
        "tag": "Tag", "place": "PLACE", "hose.length": "Hose.Length (m)",
    }  # fmt: skip


def test_figures_that_are_written_both_ways_are_a_doubt() -> None:
    table = table_of_text("tag;hose.length (m)\nT01;12,5\nT02;12.5\n")
    with pytest.raises(Doubt, match=r"a decimal comma, and '12[.]5' in row 3 has a point"):
        writing_of(table, places(table, Matching(), "machines"), Matching(), UTC)
