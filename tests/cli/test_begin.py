"""Spreadsheets of a person's own: read in whatever dialect they come, never guessed, all of it or nothing."""

import sys
import tomllib
import zipfile
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import openpyxl
import openpyxl.chart
import pytest

from reelcare.cli import main
from reelcare.core.machine.card import READERS, TOP
from reelcare.core.spreadsheet.columns import MACHINES, RUNS, Matching, read_matching
from reelcare.register.errors import Refused
from reelcare.register.exchange import spreadsheets
from reelcare.register.exchange.first_day import previews
from reelcare.register.exchange.spreadsheets import decoded
from reelcare.register.opening import open_writer
from tests.cli.terminals import in_a_terminal

MATCHING = """
[columns]
machine = "Nr"
started = ["Tag", "von"]
ended = ["Tag", "bis"]
metres = "gelegt"
inlet = "Druck (bar)"
[machines]
tag = "Nr"
place = "Ort"
hose.length = "Rohr (m)"
[units]
metres = "m"
"""
RUN_LOG = (
    "Nr;Tag;von;bis;gelegt;Druck (bar);Wind\nR1;13/5/2026;06:30;17:00;318,5;6,4;x\nR1;4/6/26;6:30;16:00;1.002 ft;;\n"
)
LIST = "Nr;Ort;Rohr (m)\nA1;North;380,5\nA2;South;400\n"


@pytest.fixture
def here(tmp_path: Path) -> Any:
    (tmp_path / "ours.toml").write_text(MATCHING, "utf-8")

    def write(name: str, text: str, coding: str = "utf-8") -> str:
        (tmp_path / name).write_bytes(text.encode(coding))
        return str(tmp_path / name)

    return write


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_every_usual_encoding_is_read(coding: str) -> None:
    """The decoders of Python's standard library are the check."""
    assert decoded("Länge;Größe\n1;2\n".encode(coding)) == "Länge;Größe\n1;2\n"


def test_the_runs_of_a_spreadsheet_are_brought_once(farm: Any, here: Any, tmp_path: Path) -> None:
    runs = here("runs.csv", RUN_LOG, "cp1252")
    told = farm("bring", runs, "--as", str(tmp_path / "ours.toml"), "--by", "Olav", "--json")
    assert (told.code, told.json["brought"]) == (0, 2)
    book = farm("book", "R1", "--kind", "run", "--json").json
    # 1002 ft are 305.4096 m (NIST SP 811); 6.4 bar are 640 kPa
    assert [(one["body"]["metres"], one["body"].get("inlet")) for one in book] == [(305_410, None), (318_500, 640_000)]
    assert book[1]["body"]["started"].startswith("2026-05-13T06:30")
    again = farm("bring", runs, "--as", str(tmp_path / "ours.toml"), "--by", "Olav", "--json").json
    assert (again["brought"], again["skipped"]) == (0, 2)


def test_a_cell_that_cannot_be_is_told_with_its_own_column_in_every_language(
    farm: Any, here: Any, tmp_path: Path
) -> None:
    header = RUN_LOG.partition("\n")[0]
    path = here("r.csv", f"{header}\nR1;13/5/26;06:30;17:00;520;400;\n")
    matched = ("bring", path, "--as", str(tmp_path / "ours.toml"), "--by", "Olav", "--language")
    for language, says in (
        ("en", ("column gelegt, row 2: metres: 520 m", "column Druck (bar), row 2: inlet: 40000 kPa")),
        ("es", ("columna gelegt, fila 2: metros: 520 m", "columna Druck (bar), fila 2: entrada: 40000 kPa")),
        ("fr", ("colonne gelegt, ligne 2 : mètres : 520 m", "colonne Druck (bar), ligne 2 : entrée : 40000 kPa")),
    ):
        told = farm(*matched, language)
        assert told.code == 2
        for one in says:
            assert one in told.err


def test_a_run_over_midnight_ends_on_the_day_after_where_one_column_has_the_day(
    farm: Any, here: Any, tmp_path: Path
) -> None:
    header = RUN_LOG.partition("\n")[0]
    rows = "R1;13/5/26;19:30;05:10;318;;\nR1;14/5/26;19:30;19:30;300;;\n"
    told = farm("bring", here("r.csv", f"{header}\n{rows}"), "--as", str(tmp_path / "ours.toml"), "--by", "Olav")
    assert told.code == 2
    assert "column Tag + bis, row 3: ended: not after started" in told.err  # 24 h, or nothing: nobody can say
    assert "row 2" not in told.err
    path = here("r.csv", f"{header}\n{rows.partition(chr(10))[0]}\n")
    assert farm("bring", path, "--as", str(tmp_path / "ours.toml"), "--by", "Olav").code == 0
    [run] = farm("book", "R1", "--kind", "run", "--json").json
    assert (run["body"]["started"], run["body"]["ended"]) == ("2026-05-13T19:30:00.000Z", "2026-05-14T05:10:00.000Z")


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ("R1;3/4/26;06:30;17:00;318;;\n", "column Tag + von, row 2: '3/4/26 06:30': day or month first?"),
        ("R1;3/4/26;06:30;17:00;318;;\nR1;14/4/26;06:30;17:00;1,234;;\n", "column gelegt, row 3: '1,234': thousands"),
        (
            "R1;14/4/26;06:30;17:00;318;;\nR1;4/14/26;06:30;17:00;3;;\n",
            "row 3: '4/14/26 06:30': the month is first here",
        ),
        ("R1;14/4/26;06:30;17:00;318;;\nR1;15/4/26;;17:00;3;;\n", "column Tag + von, row 3: '15/4/26'"),
        ("X9;14/4/26;06:30;17:00;318;;\n", "column Nr, row 2: X9: no such machine"),
        ("R1;14/4/26;06:30;17:00;;;\n", "column gelegt, row 2: empty"),
        ("R1;14/4/26;06:30;17:00;31x;;\n", "column gelegt, row 2"),
        ("R1;14/4/26;06:30;06:31;320;;\n", "row 2"),
    ],
)
def test_a_cell_in_doubt_or_that_cannot_be_is_named_and_nothing_is_brought(
    farm: Any, here: Any, tmp_path: Path, rows: str, says: str
) -> None:
    good = "R1;20/5/26;06:30;17:00;318;;\n" if "month" not in says and "1,234" not in rows else ""
    runs = here("runs.csv", RUN_LOG.partition("\n")[0] + "\n" + rows + (good if "first?" not in says else ""))
    told = farm("bring", runs, "--as", str(tmp_path / "ours.toml"), "--by", "Olav")
    assert told.code == 2
    assert says in told.err
    assert farm("book", "R1", "--kind", "run", "--json").json == []


def test_two_columns_of_one_heading_are_refused_only_where_one_of_them_is_read(
    farm: Any, here: Any, tmp_path: Path
) -> None:
    runs = here(
        "runs.csv", RUN_LOG.replace("Wind", "Wind;wind;Wind").replace(";;\n", ";;;;\n").replace("x\n", "x;y;z\n")
    )
    told = farm("bring", runs, "--as", str(tmp_path / "ours.toml"), "--by", "Olav", "--json")
    assert told.json["brought"] == 2
    twice = here("twice.csv", RUN_LOG.replace("Wind", "GELEGT"))
    told = farm("bring", twice, "--as", str(tmp_path / "ours.toml"), "--by", "Olav")
    assert told.code == 2
    assert "two columns are headed 'GELEGT'; give one another heading" in told.err


SPELT = (
    'dates = "d/m/y"\ndecimal = ","\n[columns]\nmachine = "Nr"\nstarted = "Beginn"\nended = "Ende"\nmetres = "Meter"\n'
)


def test_a_heading_that_is_matched_is_no_other_column_though_it_is_spelt_like_one(farm: Any, here: Any) -> None:
    """*Meter* is German for metres; our column `meter` is the reading of a water meter."""
    runs = here("runs.csv", "Nr;Beginn;Ende;Meter;Wind\nR1;13/5/26 06:30;13/5/26 16:05;318,5;2,5\n")
    told = farm("bring", runs, "--as", here("spelt.toml", SPELT + '[units]\nmetres = "m"\n'), "--by", "Olav")
    assert told.code == 0
    assert f"{runs}: columns that were not read: Wind" in told.err
    [run] = farm("book", "R1", "--kind", "run", "--json").json
    assert (run["body"]["metres"], run["body"].get("meter")) == (318_500, None)


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("R1;13/5/36 06:30;13/5/36 16:05;318", "column Ende, row 3: the time"),
        ("R1;13/5/26 08:30;13/5/26 18:05;318", "column Beginn, row 3: overlaps the run of line 2"),
    ],
)
def test_a_row_that_cannot_be_is_named_with_the_heading_of_its_own(farm: Any, here: Any, row: str, says: str) -> None:
    runs = here("runs.csv", f"Nr;Beginn;Ende;Meter\nR1;13/5/26 06:30;13/5/26 16:05;318,5\n{row}\n")
    told = farm("bring", runs, "--as", here("spelt.toml", SPELT + '[units]\nmetres = "m"\n'), "--by", "Olav")
    assert told.code == 2
    assert says in told.err
    assert farm("book", "R1", "--kind", "run", "--json").json == []


def test_the_unit_is_asked_for_where_nothing_says_it(farm: Any, here: Any, tmp_path: Path) -> None:
    matching = here("unitless.toml", MATCHING.partition("[units]")[0])
    told = farm("bring", here("runs.csv", RUN_LOG), "--as", matching, "--by", "Olav")
    assert told.code == 2
    assert "column gelegt, row 2: '318,5': in which unit?" in told.err


def test_last_done_dates_without_a_column_for_an_item_are_refused_not_passed_over(farm: Any, here: Any) -> None:
    path = here("done.csv", "Machine;Gears;Last done\nR1;gearbox-oil-change;2026-04-03\n")
    told = farm("bring", "--last-done", path, "--by", "Mara")
    assert told.code == 2
    assert "no column is an item of the plan" in told.err


def done(farm: Any) -> dict[str, str | None]:
    """When each item of the machine was last done, as `due` says it."""
    return {one["item"]: one["last_done"] for one in farm("due", "--all", "--json").json["items"]}


@pytest.mark.parametrize(
    "headings",
    [
        "machine;item;date;counter",
        "Máquina;Trabajo;Fecha;Horas",
        "Machine;Travail;Fait le;Compteur",
        "Máquina;Punto;Fecha;Cuentahoras",
        "Enrouleur;Point;Date;Compteur d'heures",
        "Nr;Arbeit;Datum;Std",
    ],
)
def test_one_service_in_each_row_comes_to_the_same_cells_as_one_item_in_each_column(
    farm: Any, here: Any, headings: str
) -> None:
    rows = "R1;gearbox-oil-change;13/4/26;1.420,5\nR1;Aceite de la caja: nivel;4/5/26;\nR1;chain;.;\nR1;pawl;;\n"
    told = farm("bring", "--last-done", here("done.csv", f"{headings}\n{rows}"), "--by", "Mara", "--json")
    assert told.json == {"services": 2, "without_day": 0, "earlier": 0}
    long = done(farm)
    assert (long["gearbox-oil-change"], long["gearbox-oil-level"], long["chain"]) == ("2026-04-13", "2026-05-04", None)
    [reading] = farm("book", "R1", "--kind", "reading", "--json").json
    assert reading["body"]["value"] == 5_113_800  # 1420.5 h in seconds


@pytest.mark.parametrize(
    ("first", "second", "counts"),
    [
        ("13/4/26;", "20/3/26;", "2026-04-13"),
        ("20/3/26;", "13/4/26;", "2026-04-13"),
        ("13/4/26;", "13/4/26;900 h", "2026-04-13"),
        ("20/3/26;800 h", "13/4/26;900 h", "2026-04-13"),
        ("13/4/26;900 h", "13/4/26;900 h", "2026-04-13"),
    ],
)
def test_of_several_rows_of_one_service_the_latest_counts_and_the_others_are_said(
    farm: Any, here: Any, first: str, second: str, counts: str
) -> None:
    path = here("done.csv", f"machine;item;date;counter\nR1;chain;{first}\nR1;chain;{second}\n")
    told = farm("bring", "--last-done", path, "--by", "Mara")
    assert (told.code, told.err) == (
        0, "1 service brought in\n1 row does not count: a later one is for the same machine and item\n",
    )  # fmt: skip
    assert done(farm)["chain"] == counts


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        (
            "R1;chain;13/4/26;\nR1;chain;;900\n",
            "column item, row 3: chain: it is not clear which is later, this row or row 2",
        ),
        (
            "R1;chain;13/4/26;900\nR1;chain;20/4/26;800\n",
            "column item, row 3: chain: it is not clear which is later, this row or row 2",
        ),
        (
            "R1;chian;13/4/26;\n",
            "column item, row 2: 'chian': no item of the plan; did you mean",
        ),
        (
            "R1;xyz;13/4/26;\n",
            "column item, row 2: 'xyz': no item of the plan; `reel",
        ),
        ("R1;end-of-run stop;13/4/26;\n", "'end-of-run stop': a check does it before each run; leave the row out"),
        ("R1;;13/4/26;\n", "column item, row 2: empty"),
        ("X9;chain;13/4/26;\n", "column machine, row 2: X9: no such machine"),
        ("R1;chain;13/4/36;\n", "column date, row 2: 2036-04-13 is still to come"),
        ("R1;chain;3/4/26;\n", "column date, row 2: '3/4/26': day or month first?"),
        ("R1;chain;13/4/26 800 h;900\n", "column counter, row 2: says another day or other hours"),
        ("R1;chain;soon;900\n", "column date, row 2: 'soon'"),
    ],
)
def test_a_row_of_a_service_that_cannot_be_is_named_and_nothing_is_brought(
    farm: Any, here: Any, rows: str, says: str
) -> None:
    path = here("done.csv", f"machine;item;date;counter\n{rows}R1;pawl;{'' if 'first?' in says else '13/4/26'};\n")
    told = farm("bring", "--last-done", path, "--by", "Mara")
    assert told.code == 2
    assert says in told.err
    assert done(farm)["pawl"] is None


def test_hours_of_another_unit_are_not_taken_for_hours(farm: Any, here: Any) -> None:
    path = here("done.csv", "machine;item;counter (m)\nR1;chain;900\n")
    told = farm("bring", "--last-done", path, "--by", "Mara")
    assert told.code == 2
    assert "column counter (m), row 2: '900': must be a day, or hours such as 1420 h" in told.err


def test_a_service_in_each_row_is_asked_for_what_its_headings_do_not_say(farm: Any, here: Any, tmp_path: Path) -> None:
    path = Path(here("done.csv", "Maschine;Arbeit;wann genau\nR1;chain;13/4/26\nR1;chain;20/3/26\n"))
    now = datetime(2026, 5, 1, tzinfo=UTC)
    with open_writer(tmp_path / "register.db") as register:
        seen = previews.look(register, path, "last done", Matching(), now=now)
        assert seen.question is not None
        assert (seen.question.settles, seen.question.answers) == ("column on", (("wann genau", "wann genau"),))
        seen = previews.look(register, path, "last done", previews.settled(seen, "wann genau"), now=now)
        assert (seen.question, seen.bad, seen.earlier) == (None, (), 1)
        assert [(one.ours, one.cells[0]) for one in seen.columns] == [
            ("machine", "R1"), ("item", "chain"), ("on", "2026-04-13"),
        ]  # fmt: skip
        assert read_matching(tomllib.loads(seen.matching.to_toml())) == seen.matching
        assert "item" not in previews.our_columns(register, seen)[4:]


def test_a_matching_with_mistakes_is_refused_with_each(farm: Any, here: Any, tmp_path: Path) -> None:
    wrong = here("wrong.toml", 'dates = "d/y/m"\n[columns]\nmetrs = "gelegt"\n[units]\ninlet = "m"\n')
    told = farm("bring", here("runs.csv", RUN_LOG), "--as", wrong, "--by", "Olav")
    assert told.code == 2
    assert all(one in told.err for one in ("dates:", "columns.metrs", "did you mean metres?", "units.inlet"))
    lost = here("lost.toml", MATCHING.replace('"gelegt"', '"geleggt"'))
    told = farm("bring", here("runs.csv", RUN_LOG), "--as", lost, "--by", "Olav")
    assert "no column is headed 'geleggt'; did you mean gelegt?" in told.err


def test_a_workbook_is_read_by_its_sheet(farm: Any, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.title = "Runs"
    for row in (
        ["machine", "started", "ended", "metres"],
        ["R1", datetime.fromisoformat("2026-05-04T06:00"), datetime.fromisoformat("2026-05-04T17:00"), 318.5],
    ):
        book.active.append(row)
    book.save(tmp_path / "runs.xlsx")
    assert farm("bring", str(tmp_path / "runs.xlsx"), "--by", "Olav").code == 0
    assert farm("book", "R1", "--kind", "run", "--json").json[0]["body"]["metres"] == 318_500
    book.active["D2"] = "much"
    book.create_sheet("Other")
    book.save(tmp_path / "two.xlsx")
    told = farm("bring", str(tmp_path / "two.xlsx"), "--by", "Olav")
    assert told.code == 2
    assert "2 sheets (Runs, Other)" in told.err
    (tmp_path / "m.toml").write_text('sheet = "Runs"\n', "utf-8")
    told = farm("bring", str(tmp_path / "two.xlsx"), "--as", str(tmp_path / "m.toml"), "--by", "Olav")
    assert "sheet Runs, column metres, row 2: 'much'" in told.err


def test_what_a_workbook_keeps_as_a_number_is_no_time_and_what_is_left_out_can_be_brought_again(
    farm: Any, tmp_path: Path
) -> None:
    """A quarter of a day, as workbooks keep 06:00, was taken for 00:25."""
    book, day = openpyxl.Workbook(), datetime.fromisoformat("2026-05-04")
    book.active.append(["Nr", "Tag", "von", "bis", "gelegt", "Druck (bar)"])
    for begins in (0.25, time(6)):
        book.active.append(["R1", day, begins, time(17), 318.5])
    book.save(tmp_path / "runs.xlsx")
    (tmp_path / "ours.toml").write_text(MATCHING, "utf-8")
    bring = ("bring", "--as", str(tmp_path / "ours.toml"), "--by", "Olav", "--keep-good")
    told = farm(*bring, str(tmp_path / "runs.xlsx"))
    assert "column Tag + von, row 2: '2026-05-04 0.25': must be a day and a time" in told.err
    assert [one["body"]["started"] for one in farm("book", "R1", "--kind", "run", "--json").json] == [
        "2026-05-04T06:00:00.000Z"
    ]
    left = tmp_path / "runs.refused.csv"
    assert left.read_text("utf-8").splitlines()[1] == "R1,2026-05-04,0.25,17:00,318.5,"
    left.write_text(left.read_text("utf-8").replace("05-04,0.25", "05-05,06:00"), "utf-8")
    assert farm(*bring, str(left), "--json").json["brought"] == 1


def test_a_day_of_a_workbook_is_no_moment_and_its_hours_can_be_more_than_a_day_has(farm: Any, tmp_path: Path) -> None:
    """A day is kept as its midnight: days alone of beginning and end made a run of 24 hours."""
    first, told = date(2026, 5, 4), []
    for head, began, until in (
        ("ended", first, date(2026, 5, 5)),
        ("duration", datetime.fromisoformat("2026-05-04T00:00"), timedelta(hours=30, minutes=15)),
    ):
        book = openpyxl.Workbook()
        book.active.append(["machine", "started", head, "metres"])
        book.active.append(["R1", began, until, 318.5])
        book.save(tmp_path / "runs.xlsx")
        told.append(farm("bring", str(tmp_path / "runs.xlsx"), "--by", "Olav"))
    assert [one.code for one in told] == [2, 0]
    assert "column started, row 2: '2026-05-04': must be a day and a time" in told[0].err
    [run] = farm("book", "R1", "--kind", "run", "--json").json
    assert (run["body"]["started"], run["body"]["ended"]) == ("2026-05-04T00:00:00.000Z", "2026-05-05T06:15:00.000Z")


def test_a_workbook_that_is_damaged_is_refused(farm: Any, tmp_path: Path) -> None:
    """One whose packed rows are not as they were packed ended in a trace."""
    book, path = openpyxl.Workbook(), tmp_path / "runs.xlsx"
    book.active.append(["machine", "started", "ended", "metres"])
    book.save(path)
    with zipfile.ZipFile(path) as packed:
        inside = packed.getinfo("xl/worksheets/sheet1.xml")
    data = bytearray(path.read_bytes())
    begins = inside.header_offset + 30 + len(inside.filename)
    data[begins : begins + inside.compress_size] = b"\xff" * inside.compress_size
    path.write_bytes(data)
    told = farm("bring", str(path), "--by", "Olav")
    assert told.code == 2
    assert f"{path}: cannot be read as a workbook (" in told.err


def test_a_cell_that_is_merged_with_others_is_named_not_taken_for_empty(cli: Any, tmp_path: Path) -> None:
    """What a merged cell says is kept in the first of its cells alone: the second machine had no place."""
    book = openpyxl.Workbook()
    book.active.title, sheet = "Sold", book.create_sheet("Yard")
    for row in (
        ["Our machines"],
        ["tag", "place", "Wer"],
        ["A1", "North", "x"],
        ["A2", None, None],
        ["A3", "South", "y"],
    ):
        sheet.append(row)
    for cells in ("A1:C1", "B3:B4", "C3:C4", "C5:D90"):
        sheet.merge_cells(cells)
    book.save(tmp_path / "list.xlsx")
    (tmp_path / "m.toml").write_text('sheet = "Yard"\n', "utf-8")
    cli("begin", "--supervisor", "Mara")
    add = ("machine", "add", str(tmp_path / "list.xlsx"), "--as", str(tmp_path / "m.toml"), "--by", "Mara")
    told = cli(*add)
    assert (told.code, told.err.count("merged with others")) == (2, 1), "of a column that nobody reads any may be"
    assert "sheet Yard, column place, row 4: merged with others (B3:B4); take them apart" in told.err
    sheet.unmerge_cells("B3:B4")
    sheet["B4"] = "North"
    book.save(tmp_path / "list.xlsx")
    assert cli(*add).code == 0


def test_a_chart_is_no_sheet_of_a_workbook(farm: Any, tmp_path: Path) -> None:
    book, path = openpyxl.Workbook(), tmp_path / "runs.xlsx"
    book.active.append(["machine", "started", "ended", "metres"])
    book.active.append(["R1", "2026-05-04T06:00", "2026-05-04T17:00", 318.5])
    book.create_chartsheet("Plot").add_chart(openpyxl.chart.BarChart())
    book.save(path)
    assert farm("bring", str(path), "--by", "Olav").code == 0


def test_a_yard_begins_with_its_machines_and_runs(cli: Any, here: Any, tmp_path: Path) -> None:
    listed, ours = here("list.csv", LIST, "utf-16"), str(tmp_path / "ours.toml")
    runs = here("runs.csv", RUN_LOG.replace("R1", "A1"))
    told = cli("begin", "--supervisor", "Mara", "--machines", listed, "--runs", runs, "--as", ours)
    assert told.code == 0
    assert [(one["tag"], one["hose"]["length"]) for one in cli("machine", "--json").json] == [
        ("A1", "380.5 m"), ("A2", "400 m"),
    ]  # fmt: skip
    assert len(cli("book", "A1", "--kind", "run", "--json").json) == 2
    told = cli("begin", "--supervisor", "Mara")
    assert told.code == 2
    assert cli("machine", "add", listed, "--as", ours, "--by", "Mara", "--json").json == {"added": 0, "skipped": 2}


def seen(line: str) -> str:
    """What a terminal shows of a line that was drawn over."""
    cells: list[str] = []
    for drawn in line.split("\r"):
        cells[: len(drawn)] = drawn
    return "".join(cells).rstrip()


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="pseudo-terminals of Linux")
def test_nothing_of_how_far_it_was_is_left_before_what_is_told(here: Any, tmp_path: Path) -> None:
    listed, runs = here("list.csv", LIST), here("runs.csv", RUN_LOG.replace("R1", "A1"))
    done = here("done.csv", "machine;item;on\nA1;chain;13/4/26\nA2;chain;13/4/26\n")
    words = ["begin", "--supervisor", "Mara", "--machines", listed, "--runs", runs, "--last-done", done]
    more = {"REELCARE_REGISTER": str(tmp_path / "register.db"), "TZ": "UTC"}
    [told] = in_a_terminal([[*words, "--as", str(tmp_path / "ours.toml")]], 200, more)
    lines = [seen(line) for line in told.split("\n")]
    assert "2 machines added, 0 were here already" in lines
    assert "2 services brought in" in lines


def test_what_cannot_be_begun_whole_leaves_nobody_and_nothing(cli: Any, here: Any, tmp_path: Path) -> None:
    listed, ours = here("list.csv", LIST), str(tmp_path / "ours.toml")
    runs = here("runs.csv", RUN_LOG)  # of a machine that is not in the list
    assert cli("begin").code == 2
    with pytest.raises(AssertionError, match="one line"):  # each bad cell has a line of its own
        cli("begin", "--supervisor", "Mara", "--machines", listed, "--runs", runs, "--as", ours)
    assert cli("people", "--json").json == []
    assert cli("machine", "--json").json == []


def test_no_machine_is_told_as_added_where_nothing_was_begun(cli: Any, here: Any, tmp_path: Path, capsys: Any) -> None:
    listed, runs = here("list.csv", LIST), here("runs.csv", RUN_LOG)
    words = ["begin", "--supervisor", "Mara", "--machines", listed, "--runs", runs, "--as", str(tmp_path / "ours.toml")]
    assert main(words) == 2
    told = capsys.readouterr().err
    assert "nothing was begun" in told
    assert "added" not in told
    here("runs.csv", RUN_LOG.replace("R1", "A1"))
    assert main(words) == 0
    assert "2 machines added, 0 were here already" in capsys.readouterr().err


@pytest.mark.parametrize("first", ["Total", "TOTAL:", "Summe", "Somme", "Suma total"])
def test_a_row_of_totals_is_no_machine(cli: Any, here: Any, tmp_path: Path, capsys: Any, first: str) -> None:
    listed, ours = here("list.csv", f"{LIST}{first};;780,5\n"), str(tmp_path / "ours.toml")
    cli("people", "add", "Mara", "--role", "supervisor")
    assert main(["machine", "add", listed, "--as", ours, "--by", "Mara"]) == 2
    assert f"column Nr, row 4: {first}: looks like a row of totals" in capsys.readouterr().err
    assert cli("machine", "--json").json == []


def test_a_card_from_a_list_is_printed_in_units_that_a_person_writes(cli: Any, here: Any) -> None:
    cli("people", "add", "Mara", "--role", "supervisor")
    listed = here("list.csv", "tag;hose.length (m);hose.inside (mm);drive.most_loss (bar)\nA1;380,5;90,4;0,7\n")
    assert cli("machine", "add", listed, "--by", "Mara").code == 0
    card = cli("machine", "A1", "--json").json
    assert card == {"tag": "A1", "hose": {"length": "380.5 m", "inside": "90.4 mm"}, "drive": {"most_loss": "70 kPa"}}


def test_a_day_that_cannot_be_is_told_what_a_day_is_and_asked_for_no_time(cli: Any, here: Any) -> None:
    cli("people", "add", "Mara", "--role", "supervisor")
    listed = here("list.csv", "tag;in_use_since\nA1;13/4/22\nA2;soon\n")
    told = cli("machine", "add", listed, "--by", "Mara")
    assert told.code == 2
    assert "'soon': must be a day, as in d/m/y" in told.err


def test_a_card_that_the_register_would_refuse_is_named_with_its_row_in_the_preview_too(
    cli: Any, here: Any, tmp_path: Path
) -> None:
    cli("begin", "--supervisor", "Mara")
    path = here("list.csv", "tag;in_use_since\nA1;3.4.98\nall;\nA3;3.4.2098\n")
    told = cli("machine", "add", path, "--as", here("none.toml", ""), "--by", "Mara")
    assert (told.code, cli("yard", "--json").json) == (2, [])
    assert "column tag, row 3: tag: all means every machine" in told.err
    assert "column in_use_since, row 4: in_use_since: 2098-04-03 is more than a year ahead" in told.err
    with open_writer(tmp_path / "register.db") as register:
        seen = previews.look(register, Path(path), "machines", Matching(), now=datetime(2026, 5, 1, tzinfo=UTC))
    assert [one.line for one in seen.bad] == [3, 4]
    assert seen.columns[1].cells[0] == "1998-04-03"


def test_columns_that_were_not_read_are_named(cli: Any, here: Any) -> None:
    told = cli("begin", "--supervisor", "Mara", "--machines", here("list.csv", "tag;hose length;place\nA1;abc;North\n"))
    assert told.code == 0
    assert "columns that were not read: hose length; --as says what they are" in told.err
    told = cli(
        "machine", "add", here("more.csv", "tag;;;place\nA2;;new;North\n"), "--as", here("m.toml", ""), "--by", "Mara"
    )
    assert "columns that were not read: 3 (without a heading); --as" in told.err


def test_a_preview_shows_figures_unrounded_and_knows_usual_headings(here: Any, tmp_path: Path) -> None:
    listed = Path(here("list.csv", "Kennzeichen;Rohr (m);Inbetriebnahme\nA1;350,5;13/4/2022\n"))
    with open_writer(tmp_path / "x.db") as register:
        seen = previews.look(register, listed, "machines", Matching(), now=datetime(2026, 5, 1, tzinfo=UTC))
    assert [(one.ours, one.cells) for one in seen.columns] == [
        ("tag", ("A1",)), ("hose.length", ("350.5 m",)), ("in_use_since", ("2022-04-13",)),
    ]  # fmt: skip


def test_a_preview_of_runs_tells_what_is_here_already_and_what_overlaps(farm: Any, here: Any, tmp_path: Path) -> None:
    head, first = "machine,started,ended,metres (m)\n", "R1,2026-04-13 06:30,2026-04-13 17:00,318\n"
    farm("bring", here("first.csv", head + first), "--as", here("none.toml", ""), "--by", "Olav")
    other = "R1,2026-04-13 12:00,2026-04-13 18:00,300\n"
    path, now = Path(here("runs.csv", head + first + other)), datetime(2026, 5, 1, tzinfo=UTC)
    with open_writer(tmp_path / "register.db") as register:
        seen = previews.look(register, path, "runs", Matching(), now=now)
        told = previews.bring(register, seen, by="Mara", now=now)
    assert (seen.skipped, seen.bad) == (told.skipped, told.bad)
    assert (seen.skipped, [str(one) for one in seen.bad]) == (
        1, ["column started, row 3: overlaps a run that is in the register"],
    )  # fmt: skip


def test_a_preview_asks_for_the_day_and_the_time_that_stand_in_columns_of_their_own(
    farm: Any, here: Any, tmp_path: Path
) -> None:
    path = Path(here("runs.csv", "Rig;Tag;los um;heim um;Rohr (m);Wer;Wer\nR1;13/4/26;06:30;17:00;318,5;x;y\n"))
    now, asked = datetime(2026, 5, 1, tzinfo=UTC), []
    with open_writer(tmp_path / "register.db") as register:
        seen = previews.look(register, path, "runs", Matching(), now=now)
        for answer in ("Rig", "los um", "heim um", "Rohr (m)", "Tag", "Tag"):
            assert seen.question is not None
            asked.append((seen.question.settles, [value for value, _words in seen.question.answers]))
            seen = previews.look(register, path, "runs", previews.settled(seen, answer), now=now)
        assert (seen.question, seen.bad) == (None, ())
        assert seen.matching.columns == {
            "machine": ("Rig",), "started": ("Tag", "los um"), "ended": ("Tag", "heim um"), "metres": ("Rohr (m)",),
        }  # fmt: skip
        assert previews.bring(register, seen, by="Mara", now=now).brought == 1
    assert asked[0] == ("column machine", ["Rig", "Tag", "los um", "heim um", "Rohr (m)"])
    assert asked[-2:] == [("day of started", ["Tag"]), ("day of ended", ["Tag"])]
    [run] = farm("book", "R1", "--kind", "run", "--json").json
    assert (run["body"]["started"], run["body"]["ended"]) == ("2026-04-13T06:30:00.000Z", "2026-04-13T17:00:00.000Z")


def test_how_long_a_run_took_stands_for_its_end_in_hours_and_minutes_too(farm: Any, here: Any, tmp_path: Path) -> None:
    """In the night to 29 March 2026 clocks go forward in Ljubljana (tz database): the run takes no longer for that."""
    rows = "R1;28.3.26 20:00;10,5 h;318\nR1;30.3.26 06:30;7:45;300\n"
    path = Path(here("runs.csv", f"machine;started;Stunden;metres (m)\n{rows}"))
    with open_writer(tmp_path / "register.db") as register:
        register.zone = ZoneInfo("Europe/Ljubljana")
        bring = partial(spreadsheets.bring_runs, register, path, by="Olav", now=datetime(2026, 5, 1, tzinfo=UTC))
        with pytest.raises(Refused, match="ended: no column given for it"):
            bring(Matching())
        assert bring(Matching(columns={"duration": ("Stunden",)})).brought == 2
    book = farm("book", "R1", "--kind", "run", "--json").json
    assert [(one["body"]["started"], one["body"]["ended"]) for one in reversed(book)] == [
        ("2026-03-28T19:00:00.000Z", "2026-03-29T05:30:00.000Z"),
        ("2026-03-30T04:30:00.000Z", "2026-03-30T12:15:00.000Z"),
    ]


def test_a_preview_asks_how_long_runs_took_where_nothing_says_when_they_ended(
    farm: Any, here: Any, tmp_path: Path
) -> None:
    rows = "R1;13/4/26;06:30;7:30;318\nR1;14/4/26;06:30;;318\nR1;15/4/26;06:30;200;318\n"
    path, now = Path(here("runs.csv", f"machine;Day;Begun;Hours;metres (m)\n{rows}")), datetime(2026, 5, 1, tzinfo=UTC)
    with open_writer(tmp_path / "register.db") as register:
        seen, asked = previews.look(register, path, "runs", Matching(), now=now), []
        for answer in ("", "Hours", "Day", "h"):
            assert seen.question is not None
            asked.append((seen.question.settles, [value for value, _words in seen.question.answers]))
            seen = previews.look(register, path, "runs", previews.settled(seen, answer), now=now)
    assert asked[:3] == [
        ("column ended", ["Day", "Hours", ""]),
        ("column duration", ["Hours"]),
        ("day of started", ["Day"]),
    ]
    assert asked[3][0] == "units.duration"
    assert [str(one) for one in seen.bad] == [
        "column Hours, row 3: empty",
        "column Hours, row 4: ended: a run of more than 7 days; check the dates",
    ]
    assert read_matching(tomllib.loads(seen.matching.to_toml())).columns == {
        "started": ("Day", "Begun"),
        "duration": ("Hours",),
    }


def test_a_column_that_has_the_end_leaves_nothing_to_be_said_of_how_long_it_took(farm: Any, here: Any) -> None:
    row = "R1;13/4/26 06:30;13/4/26 16:30;9 h;318\n"
    path = here("runs.csv", f"machine;started;ended;duration;metres (m)\n{row}")
    told = farm("bring", path, "--as", here("m.toml", ""), "--by", "Olav")
    assert (told.code, "columns that were not read: duration" in told.err) == (0, True)


def test_every_key_of_a_card_but_the_points_of_a_pump_can_be_a_column() -> None:
    assert set(MACHINES) == {*READERS, *TOP} - {"pump.points"}
    assert read_matching({"columns": {"metres": "gelegt"}}).columns == {"metres": ("gelegt",)}
    assert RUNS["metres"].quantity == "length"
