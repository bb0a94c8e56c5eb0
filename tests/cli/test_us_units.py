"""What somebody reads who has chosen US units is in feet, psi and acre-inches, or says its unit; JSON stays SI."""

import csv
import io
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from reelcare.core import units
from reelcare.core.settings.warning_codes import no_more_than
from reelcare.core.spreadsheet.columns import Matching
from reelcare.register.exchange.first_day import previews
from reelcare.register.opening import open_writer
from tests.cli.conftest import CARD, Cli, held_by

PLAN = """
id = "mine"
[[items]]
id = "guide"
what = { en = "Look at the guide screw", es = "Mirar el husillo" }
part = "level wind"
every = { metres = 200 }
grace = 0
stop = true
"""
AT = ("--as-of", "2026-05-03")
US = ("--units", "us")


@pytest.fixture
def held(farm: Cli, tmp_path: Path) -> Cli:
    """The farm with its machine held by an item that is due by metres, 100 m past."""
    return held_by(farm, tmp_path, PLAN, "guide")


def test_a_hold_by_metres_is_told_in_the_units_of_the_person(held: Cli, tmp_path: Path) -> None:
    """The reasons of a standing said metres to everybody."""
    assert "Look at the guide screw: 328 ft past due" in held("yard", *AT, *US).out
    assert "Look at the guide screw: 100 m past due" in held("yard", *AT).out
    assert "328 ft past due" in held("may", "R1", *AT, *US).err
    page = tmp_path / "page.html"
    assert held("report", "machine", "R1", str(page), *AT, *US).code == 0
    assert "328 ft past due" in page.read_text("utf-8")
    assert "100 m" not in page.read_text("utf-8")


def test_a_check_and_its_blank_say_a_hold_by_metres_in_the_units_of_the_person(
    held: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("builtins.input", lambda _="": "")
    assert "328 ft past due" in held("check", "R1", "--by", "Olav", *US).out
    page = tmp_path / "blank.html"
    assert held("report", "blank", "R1", str(page), *US).code == 0
    assert "328 ft past due" in page.read_text("utf-8")


def test_texts_in_json_stay_in_metres_whatever_the_person_sees(held: Cli, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = held("yard", *AT, "--json").out
    assert "100 m past due" in plain
    monkeypatch.setenv("REELCARE_UNITS", "us")
    assert held("yard", *AT, "--json").out == plain


def test_why_a_machine_stands_so_has_the_title_of_the_language(held: Cli) -> None:
    """The yard by command said it in English to everybody."""
    assert "Mirar el husillo: 100 m de retraso" in held("yard", *AT, "--language", "es").out


@pytest.mark.parametrize("manner", [US, ("--language", "es"), ("--language", "fr")])
def test_csv_of_what_is_due_has_the_same_figures_for_everybody(
    held: Cli, tmp_path: Path, manner: tuple[str, ...]
) -> None:
    """Where it is due was told in the words of the language, with its decimal sign: `pasada 4`."""
    plan = tmp_path / "more.toml"
    more = ("{ runs = 3 }", "{ hours = 2 }")
    items = [f'[[items]]\nid = "i{n}"\nwhat = "W"\npart = "pawl"\nevery = {every}\n' for n, every in enumerate(more)]
    plan.write_text(PLAN.replace('id = "mine"', 'id = "more"') + "".join(items), "utf-8")
    assert held("plan", "R1", "--use", str(plan), "--by", "Mara", "--at", "2026-05-02T20:00").code == 0
    for item in ("i0", "i1"):
        assert held("log", "service", "R1", item, "--by", "Tove", "--at", "2026-05-02T21:00").code == 0
    told: list[dict[str, list[str]]] = []
    for words in ((), manner):
        page = tmp_path / f"due{len(told)}.csv"
        assert held("report", "due", str(page), *AT, *words).code == 0
        rows = csv.DictReader(io.StringIO(page.read_text("utf-8-sig")))
        told.append({row["item"]: [row[key] for key in ("due_at", "used", "interval", "left")] for row in rows})
    assert told[0] == told[1]
    assert [told[0][item][0] for item in ("guide", "i0", "i1")] == ["200 m", "run 4", "14 h"]


@pytest.mark.parametrize(("language", "says"), [
    ("en", "Answers are judged by this. Pull-out: not planned"),
    ("es", "Las respuestas se juzgan con esto. Extendido: no previsto"),
    ("fr", "Les réponses sont jugées d&#x27;après ceci. Déroulé : non prévu"),
])  # fmt: skip
def test_a_blank_has_one_colon_before_each_figure_and_a_blank_before_it_in_french(
    farm: Cli, tmp_path: Path, language: str, says: str
) -> None:
    """*Jugé selon : déroulé: non prévu*."""
    page = tmp_path / "blank.html"
    assert farm("report", "blank", "R1", str(page), "--language", language).code == 0
    assert says in page.read_text("utf-8")


def test_a_bare_length_of_a_counter_is_asked_for_its_unit_where_feet_are_shown(held: Cli) -> None:
    """It was taken for metres: 3000 ft typed as they are shown were 3000 m."""
    said = ("log", "reading", "R1", "metres")
    before = held("book", "R1", "--json").json
    for words in ((*said, "3000"), (*said, "3000", "--json"), (*said, "3000 ft", "--rolls-at", "9999"),
                  ("log", "service", "R1", "guide", "--metres", "3000")):  # fmt: skip
        told = held(*words, "--by", "Olav", *US)
        assert (told.code, "feet or metres? Write `" in told.err) == (2, True), words
    assert held("book", "R1", "--json").json == before
    told = held(*said, "3000 ft", "--by", "Olav", *US)
    assert "life total 3000 ft" in told.err + told.out
    assert held("yard", "--json").json[0]["metres"] == 914.4
    assert held(*said, "1000", "--by", "Olav").code == 0, "who reads metres types them"


def test_what_a_run_makes_of_the_totals_is_told_in_feet(farm: Cli) -> None:
    times = ("--started", "2026-05-02T06:00", "--ended", "2026-05-02T18:00")
    told = farm("log", "run", "R1", *times, "--metres", "1050 ft", "--volume", "4.5 ac-in", "--by", "Olav", *US)
    assert "1050 ft, 1 run" in told.err + told.out
    assert "4.50 acre-in" in farm("book", "R1", *US).out


def test_a_spacing_in_feet_is_told_as_it_was_typed(farm: Cli) -> None:
    """220 ft stood as 219 ft beside their limit."""
    for feet in range(100, 300, 7):
        assert no_more_than(units.read(f"{feet} ft", "length"), "length", "us") == f"{feet} ft"


def test_what_readings_on_a_machine_tell_is_in_the_units_of_the_person(farm: Cli, tmp_path: Path) -> None:
    """The error of the core stood in mm and the scatter in m; a spacing in metres stood without a unit."""
    card = tmp_path / "card.toml"
    more = '\n[drum]\ncoils_per_layer = 12\n[hose]\nlength = "400 m"\noutside = "110 mm"'
    card.write_text(CARD.replace('[hose]\nlength = "400 m"', more), "utf-8")
    assert farm("machine", "revise", "R1", str(card), "--by", "Mara").code == 0
    turns = ("measure", "drum", "R1", "24=138.5 m", "36=218 m", "48=305 m")
    metric, us = farm(*turns).out, farm(*turns, *US).out
    assert re.search(r"give or take \d+ mm\n", metric)
    assert re.search(r"give or take 0\.\d\d in\n", us)
    assert not re.search(r"\d m?m\b", us)
    cans = ("measure", "cans", "R1", "--spacing", "220 ft", "--step", "40 ft", "--left", "9 8 6", "--right", "9 8 5")
    assert farm(*cans, "--keep", "--by", "Tove").code == 0
    told = farm("measure", "figures", "R1", *US).out
    assert re.search(r"lane spacing +220 ft", told)
    assert re.search(r"lane spacing +67 m", farm("measure", "figures", "R1").out)


def test_a_preview_of_a_table_tells_what_was_read_in_the_units_of_the_person(farm: Cli, tmp_path: Path) -> None:
    """It told *320.04 m* of a cell with 1050 ft to everybody."""
    path = tmp_path / "list.csv"
    path.write_text("tag,hose.length (ft),hose.inside (in),drive.most_loss (psi)\nU1,1050,3.7,10\n", "utf-8")
    with open_writer(tmp_path / "register.db") as register:
        for system, cells in (("us", ("1050 ft", "3.7 in", "10 psi")), ("metric", ("320.04 m", "93.98 mm"))):
            seen = previews.look(register, path, "machines", Matching(), now=datetime(2026, 5, 1, tzinfo=UTC),
                                 system=system)  # type: ignore[arg-type]  # fmt: skip
            assert tuple(one.cells[0] for one in seen.columns)[1 : len(cells) + 1] == cells


def test_failures_by_metres_are_told_in_feet_and_stay_metres_for_programs(farm: Cli) -> None:
    """Everybody read *one in 350 m*."""
    for day in ("02", "03"):
        times = ("--started", f"2026-05-{day}T06:00", "--ended", f"2026-05-{day}T18:00")
        assert farm("log", "run", "R1", *times, "--metres", "350 m", "--by", "Olav").code == 0
    assert farm("log", "fault", "R1", "hose", "--says", "burst", "--by", "Olav", "--at", "2026-05-03T19:00").code == 0
    asked = ("failures", "hose", "--by-counter", "metres")
    metric, us = (farm(*asked, "--units", system).out for system in ("metric", "us"))
    assert ("700 m " in metric, " ft" in metric) == (True, False)
    assert ("2297 ft " in us, re.search(r"\d m\b", us)) == (True, None)
    assert farm(*asked, *US, "--json").out == farm(*asked, "--json").out
    assert farm(*asked, "--json").json[0]["watched"] == 700


@pytest.mark.parametrize(("typed", "says"), [
    (("--spacing", "2 ft", "--out", "1050 ft"), "cannot be right; it must be between 6.57 ft and 1310 ft"),
    (("--spacing", "220 ft", "--out", "1050 ft", "--speed", "9 mph"), "travel speed: 9 mph cannot be right"),
    (("--spacing", "70 m", "--out", "300 m", "--inlet", "900 psi"), "inlet pressure: 900 psi cannot be right"),
    (("--spacing", "70 m", "--out", "300 m", "--air", "150 degF"), "between 32 °F and 122 °F"),
    (("--spacing", "1 m", "--out", "300 m"), "lane spacing: 1 m cannot be right; it must be between 2 m and 400 m"),
])  # fmt: skip
def test_a_figure_of_a_set_that_cannot_be_is_refused_in_the_unit_in_which_it_was_typed(
    farm: Cli, typed: tuple[str, ...], says: str
) -> None:
    told = farm("set-up", "R1", *typed, *US)
    assert (told.code, says in told.err) == (2, True), told.err
