"""Cells of last-done dates, usual headings, and a matching that is kept and read again."""

import re
import tomllib
from datetime import UTC, date

import pytest

from reelcare.core.spreadsheet.cells import CellError, DoneAt, Doubt, Value, read_cell, read_done, writing_of
from reelcare.core.spreadsheet.columns import Matching, SheetKind, places, places_so_far, read_matching
from reelcare.core.spreadsheet.table import table_of_rows, table_of_text
from reelcare.core.spreadsheet.usual_headings import with_usual


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("29/6/26", DoneAt(date(2026, 6, 29), None)),
        ("6/29/2026", DoneAt(date(2026, 6, 29), None)),
        ("3.4.26", DoneAt(date(2026, 4, 3), None)),  # dots are day first (DIN 1355)
        ("2026-04-03", DoneAt(date(2026, 4, 3), None)),
        ("3.4.98", DoneAt(date(1998, 4, 3), None)),
        ("3.4.68", DoneAt(date(2068, 4, 3), None)),  # years from 69 on are of the last century (POSIX.1, strptime)
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


def test_the_day_on_which_a_machine_was_bought_is_not_taken_for_that_since_which_it_works() -> None:
    table = table_of_text("Machine;Bought;Place\nR1;2022-03-15;North\n")
    assert set(with_usual(table, Matching(), "machines").machines) == {"tag"}, "what is spelt as ours needs no line"


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


def _read(kind: SheetKind, heading: str, cell: str, decimal: str = ",") -> Value | None:
    """What a cell is read as below a heading of ours."""
    needed = "tag;" if kind == "machines" else "machine;started;ended;"
    table = table_of_text(f"{needed}{heading}\nA;{';' * needed.count(';')}\n")
    matching = Matching(decimal=decimal)
    place = next(one for one in places_so_far(table, matching, kind).values() if one.heading == heading)
    row = (*("" for _one in table.header[:-1]), cell)
    return read_cell(row, place, writing_of(table, {}, matching, UTC))


@pytest.mark.parametrize(
    ("cell", "decimal", "read"),
    [
        ("320,5", ",", 320.5), ("1.320,5", ",", 1320.5), ("1 320,5", ",", 1320.5), ("1\u2019320.5", ".", 1320.5),
        ("320.5", ".", 320.5), ("1,320.5", ".", 1320.5), ("1.320", ",", 1320), ("1,050 ft", ".", 320.04),
        ("320.5", ",", None), ("1.5", ",", None), ("12,5", ".", None), ("1,23,456", ".", None), ("4 5", ".", None),
    ],
)  # fmt: skip
def test_a_figure_of_another_decimal_sign_is_refused_not_read_tenfold(
    cell: str, decimal: str, read: float | None
) -> None:
    if read is None:
        with pytest.raises(CellError, match=re.escape(repr(cell))):
            _read("runs", "metres (m)", cell, decimal)
    else:
        assert _read("runs", "metres (m)", cell, decimal) == pytest.approx(read)


@pytest.mark.parametrize(
    ("heading", "cell", "read"),
    [
        ("in_use.hours", "4120", 4120), ("in_use.hours", "4120 h", 4120), ("in_use.hours", "90 min", 1.5),
        ("in_use.metres (ft)", "1000", 304.8), ("in_use.metres", "12 km", 12_000), ("cart.mass", "0,5 t", 500),
        ("cart.mass (lb)", "1000", 453.592), ("cart.mass", "500 kg", 500), ("cart.arc", "210°", 210),
        ("in_use.hours", "1.23E+05", None), ("in_use.hours", "4000-4200", None), ("in_use.hours", "3:30", None),
        ("in_use.hours", "4120 kg", None), ("drum.layers", "5 m", None), ("drum.coils_per_layer", "12x5", None),
        ("cart.mass", "500 st", None), ("cart.arc", "3 rad", None),
    ],
)  # fmt: skip
def test_a_bare_number_of_a_card_is_read_whole_and_in_its_unit(heading: str, cell: str, read: float | None) -> None:
    if read is None:
        with pytest.raises(CellError, match=re.escape(cell)):
            _read("machines", heading, cell)
    else:
        assert _read("machines", heading, cell) == pytest.approx(read)


@pytest.mark.parametrize("text", ["last spring", "never", "at 1420 h"])
def test_words_in_place_of_a_day_are_refused_with_what_is_right(text: str) -> None:
    with pytest.raises(CellError, match="must be a day, or hours such as 1420 h; leave it empty where it is not known"):
        read_done(text, UTC)


def test_a_time_of_day_is_no_duration_and_told_as_it_stands_there() -> None:
    with pytest.raises(CellError, match=r"^'1:30': ':30' is not a unit known here; write one number, and one unit"):
        _read("runs", "dwell (h)", "1:30")


@pytest.mark.parametrize("cell", [float("inf"), float("nan")])
@pytest.mark.parametrize(("kind", "heading"), [("last done", "now (h)"), ("last done", "oil"), ("runs", "metres (m)")])
def test_a_number_of_a_workbook_beyond_all_bounds_is_refused(kind: SheetKind, heading: str, cell: float) -> None:
    """In a column of last-done dates it ended the command with a traceback."""
    table = table_of_rows("Sheet", [(1, (heading,)), (2, (cell,))])
    (place,) = places_so_far(table, Matching(), kind, ["oil"]).values()
    with pytest.raises(CellError, match="must be a figure"):
        read_cell(table.rows[0][1], place, writing_of(table, {}, Matching(), UTC))
