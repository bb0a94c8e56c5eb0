"""Lanes of a field and the night, by command: as CONTRACTS has them, and what is named where something cannot be."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Cli
from tests.pseudo import OPENS
from tests.words import of_tables, read_on, untranslated

CARD = """
tag = "{tag}"
place = "North Field"
[drum]
core_diameter = "1.5 m"
coils_per_layer = 11
layers = 6
[hose]
outside = "110 mm"
inside = "93.8 mm"
length = "400 m"
material = "PE80"
[drive]
kind = "turbine"
most_loss = "10 psi"
[cart]
kind = "gun"
nozzle = "23.3 mm"
arc = 320
"""
MORE = '[licence]\nm3_season = 20000\n[tariff]\nhours = "18:00-08:00"\n[dark]\nfrom = "21:30"\nuntil = "05:00"\n'
NIGHT = ("--from", "2026-06-30T18:00", "--until", "2026-07-03T08:00")
SET = ("--out", "300 m", "--depth", "25 mm", "--spacing", "68 m", "--inlet", "6.9 bar", "--hydrant", "1", "--keep")


def field(folder: Path, lengths: list[int], more: str = MORE) -> str:
    path = folder / "field.toml"
    lanes = (
        f'[[lanes]]\nnumber = {number}\nhydrant = {(number + 1) // 2}\nlength = "{length} m"\nspacing = "68 m"\n'
        for number, length in enumerate(lengths, 1)
    )
    path.write_text(f'id = "north"\nplace = "North Field"\n{"".join(lanes)}{more}', "utf-8")
    return str(path)


@pytest.fixture
def depot(cli: Cli, tmp_path: Path) -> Cli:
    for name, role in (("Marta", "supervisor"), ("Ines", "operator")):
        assert cli("people", "add", name, "--role", role, "--by", "Marta").code == 0
    for tag in ("T01", "T02"):
        card = tmp_path / f"{tag}.toml"
        card.write_text(CARD.format(tag=tag), "utf-8")
        assert cli("machine", "add", str(card), "--by", "Marta").code == 0
        assert cli("set-up", tag, *SET, "--by", "Ines").code == 0
    return cli


def test_a_machine_is_named_by_its_label_or_id_too(depot: Cli, tmp_path: Path) -> None:
    assert depot("lanes", "add", field(tmp_path, [300, 300]), "--by", "Marta").code == 0
    id = depot("book", "T01", "--kind", "card", "--json").json[0]["entry"]
    for name in ("T01", id, f"reelcare:{id}:T01"):
        assert {one["machine"] for one in depot("night", name, *NIGHT, "--json").json["sets"]} == {"T01"}


def test_a_night_of_then_is_of_the_machines_as_they_stood_then(depot: Cli, tmp_path: Path) -> None:
    card = tmp_path / "E03.toml"
    card.write_text(CARD.format(tag="E03"), "utf-8")
    at = ("--by", "Marta", "--at")
    assert depot("lanes", "add", field(tmp_path, [250, 250, 250]), *at, "2026-06-01T08:00").code == 0
    assert depot("machine", "add", str(card), *at, "2026-06-01T08:00").code == 0
    assert depot("set-up", "E03", *SET, *at, "2026-06-02T08:00").code == 0
    assert depot("machine", "move", "E03", "Hill", *at, "2026-06-10T08:00").code == 0
    hold = ("log", "fault", "E03", "pawl", "--says", "slips", "--hold")
    assert depot(*hold, *at, "2026-06-11T08:00").code == 0
    then = depot("night", "North Field", *NIGHT, "--as-of", "2026-06-05T12:00", "--json").json
    # the other two were carded later
    assert ({one["machine"] for one in then["sets"]}, then["held"]) == ({"E03"}, [])
    now = depot("night", "North Field", *NIGHT, "--json").json
    assert {one["machine"] for one in now["sets"]} == {"T01", "T02"}


def test_a_machine_that_left_the_yard_is_neither_planned_nor_told_of(depot: Cli, tmp_path: Path) -> None:
    assert depot("lanes", "add", field(tmp_path, [250, 250]), "--by", "Marta").code == 0
    retired = ("machine", "retire", "T02", "--why", "sold", "--by", "Marta")
    assert depot(*retired).code == 0
    told = depot("night", "North Field", *NIGHT, "--json").json
    assert ({one["machine"] for one in told["sets"]}, told["held"]) == ({"T01"}, [])
    gone = depot("night", "T02", *NIGHT)
    assert (gone.code, gone.out) == (2, "")
    assert "T02: left the yard on" in gone.err
    assert depot(*retired[:2], "T01", *retired[3:]).code == 0
    assert "no machine stands there" in depot("night", "North Field", *NIGHT).err


@pytest.mark.long
def test_a_night_is_given_as_contracts_has_it(depot: Cli, tmp_path: Path) -> None:
    assert depot("lanes", "add", field(tmp_path, [300] * 24), "--by", "Marta").code == 0
    told = depot("night", "North Field", *NIGHT, "--json")
    assert told.code == 0, told.err
    data: dict[str, Any] = told.json
    assert {"sets", "waits", "dark", "tariff", "volume_m3", "energy_kwh", "licence"} <= set(data)
    assert (data["dark"], data["tariff"]) == (["21:30", "05:00"], ["18:00", "08:00"])
    first = data["sets"][0]
    assert {
        "lane", "hydrant", "machine", "starts", "ends", "move_minutes", "next", "volume_m3", "energy_kwh", "attends",
    } <= set(first)  # fmt: skip
    assert len(data["sets"]) == 6
    assert data["licence"]["of_m3"] == 20000
    assert data["licence"]["used_m3"] == pytest.approx(sum(one["volume_m3"] for one in data["sets"]), abs=1)
    assert {one["machine"] for one in data["sets"]} == {"T01", "T02"}
    assert all({"machine", "from", "until", "because"} <= set(one) for one in data["waits"])
    mine = depot("night", "T01", *NIGHT, "--json").json
    assert [one for one in data["sets"] if one["machine"] == "T01"] == mine["sets"]
    for of in ("volume_m3", "energy_kwh"):
        assert mine[of] == pytest.approx(sum(one[of] for one in mine["sets"]), abs=1)
    assert mine["licence"] == data["licence"]
    assert depot("night", "T01", *NIGHT).err.startswith(f"{len(mine['sets'])} sets, {mine['volume_m3']:.0f} m3")
    assert mine["sets"][0]["next"] == mine["sets"][1]["hydrant"]
    assert len(depot("night", "North Field", *NIGHT, "--dark-moves", "--json").json["sets"]) >= 6
    table = depot("night", "North Field", *NIGHT)
    assert "T01" in table.out
    assert "licence:" in table.err


def test_a_run_that_ends_two_hours_late_moves_the_rest(depot: Cli, tmp_path: Path) -> None:
    plain = '[moves]\nsame_hydrant = "45 min"\n'
    assert depot("lanes", "add", field(tmp_path, [300] * 4, plain), "--by", "Marta").code == 0
    run = ("log", "run", "T01", "--metres", "300 m", "--lane", "1", "--by", "Ines", "--started", "2026-05-30T06:00")
    nights = []
    for ended in ("2026-05-30T15:00", "2026-05-30T17:00"):
        told = depot(*run, "--ended", ended, "--json")
        assert told.code == 0, told.err
        nights.append(depot("night", "T01", "--from", "2026-05-30T14:00", "--until", "2026-06-01T14:00", "--json").json)
        assert depot("log", "correct", told.json["entry"], "--why", "typed wrong", "--by", "Marta").code == 0
    intime, late = (one["sets"][0] for one in nights)
    begin, later = (datetime.fromisoformat(one["starts"]) for one in (intime, late))
    assert later - begin == timedelta(hours=2)
    assert intime["lane"] == late["lane"] != 1


def test_a_lane_that_fits_into_the_next_night_is_left_out_with_the_time_that_has_it(depot: Cli, tmp_path: Path) -> None:
    assert depot("lanes", "add", field(tmp_path, [300] * 4), "--by", "Marta").code == 0
    told = depot("night", "North Field", "--from", "2026-06-30T18:00", "--until", "2026-07-01T08:00")
    assert "lanes 2, 4 have no room in this time" in told.err
    assert "would be home from it at 2026-07-02 " in told.err


def test_lanes_are_shown_and_described_anew(depot: Cli, tmp_path: Path) -> None:
    assert depot("lanes").err.startswith("no field yet")
    assert "North Field: no" in depot("night", "North Field").err or depot("night", "North Field").code == 2
    assert "added, 2 lanes" in depot("lanes", "add", field(tmp_path, [300, 420]), "--by", "Marta").err
    assert "lane 2 is 420 m long" in depot("lanes", "add", field(tmp_path, [300, 420]), "--by", "Marta").err
    assert [one["number"] for one in depot("lanes", "north", "--json").json["lanes"]] == [1, 2]
    assert "420 m" in depot("lanes").out
    assert depot("lanes", "south").code == 2
    assert depot("lanes", "add", field(tmp_path, [300]), "--by", "Ines").code == 6


def test_what_cannot_be_is_named_with_what_would(depot: Cli, tmp_path: Path) -> None:
    path = Path(field(tmp_path, [300]))
    path.write_text(path.read_text("utf-8").replace("hydrant = 1\n", ""), "utf-8")
    told = depot("lanes", "add", str(path), "--by", "Marta")
    assert told.code == 2
    assert "lanes[1].hydrant: missing: without a hydrant the lane has no flow" in told.err
    depot("lanes", "add", field(tmp_path, [420], MORE), "--by", "Marta")
    told = depot("night", "North Field", *NIGHT)
    assert told.code == 1
    assert "the hose of T01 is 400 m: at most 400 m" in told.err
    depot("lanes", "add", field(tmp_path, [300], '[tariff]\nhours = "22:00-02:00"\n'), "--by", "Marta")
    told = depot("night", "North Field", *NIGHT)
    assert "4 h 00 at a time" in told.err
    assert depot("night", "Nowhere").code == 2
    assert depot("night", "T01", "--from", "2026-07-01", "--until", "2026-06-01").code == 2


def test_the_order_is_changed_by_hand_and_taken_back(depot: Cli, tmp_path: Path) -> None:
    depot("lanes", "add", field(tmp_path, [300] * 6, ""), "--by", "Marta")

    def lanes() -> list[int]:
        return [one["lane"] for one in depot("night", "T01", *NIGHT, "--json").json["sets"]]

    before = lanes()
    assert depot("night", "T01", "--order", "6 4", "--by", "Ines").code == 0
    assert lanes()[:2] == [6, 4]
    assert depot("night", "T01", "--order", "9", "--by", "Ines").code == 2
    assert depot("night", "T01", "--order", "rule", "--by", "Ines").code == 0
    assert lanes() == before


def test_a_night_goes_on_paper(depot: Cli, tmp_path: Path) -> None:
    depot("lanes", "add", field(tmp_path, [300] * 6), "--by", "Marta")
    file = tmp_path / "night.html"
    assert depot("report", "night", "North Field", str(file), *NIGHT).code == 0
    text = file.read_text("utf-8")
    assert "Who must be where" in text
    assert "T01" in text
    assert "no move in the dark" in text


@pytest.mark.parametrize(("language", "day"), [("en", "1 Jul 0"), ("es", "1 jul 0"), ("fr", "1 juil 0")])
def test_no_time_of_a_night_can_be_read_as_one_of_another_month(
    depot: Cli, tmp_path: Path, language: str, day: str
) -> None:
    """Of 07-01 some read January, and some July."""
    depot("lanes", "add", field(tmp_path, [300] * 6), "--by", "Marta")
    file = tmp_path / "night.html"
    assert depot("report", "night", "North Field", str(file), *NIGHT, "--language", language).code == 0
    for told in (file.read_text("utf-8"), depot("night", "North Field", *NIGHT, "--language", language).out):
        assert day in told
        assert not re.search(r"(?<!\d\d-)\b\d\d-\d\d \d\d:", told)


def test_pages_of_night_and_water_say_in_which_language_they_are(depot: Cli, tmp_path: Path) -> None:
    depot("lanes", "add", field(tmp_path, [300], ""), "--by", "Marta")
    for words in (("night", "North Field"), ("water",)):
        file = tmp_path / f"{words[0]}.html"
        assert depot("report", *words, str(file), "--language", "es").code == 0
        assert '<html lang="es">' in file.read_text("utf-8")


def test_water_and_energy_of_season_and_night_stand_against_the_licence(depot: Cli, tmp_path: Path) -> None:
    depot("lanes", "add", field(tmp_path, [300] * 6), "--by", "Marta")
    run = ("log", "run", "T01", "--metres", "300 m", "--started", "2026-05-30T06:00", "--ended", "2026-05-30T15:00")
    assert depot(*run, "--lane", "1", "--volume", "15000 m3", "--by", "Ines").code == 0
    file = tmp_path / "water.html"
    assert depot("report", "water", str(file), "--licence", "16000 m3").code == 0
    text = file.read_text("utf-8")
    assert "94 % of 16000 m3" in text
    assert "Night ahead, North Field" in text
    assert "of 20000 m3" in text
    assert "kWh at the inlets" in text
    night = depot("night", "North Field", "--json").json
    assert night["licence"]["before_m3"] == 15000
    assert night["licence"]["used_m3"] == pytest.approx(15000 + night["volume_m3"])


def test_water_is_told_in_acre_inches_to_those_who_have_us_units(depot: Cli, tmp_path: Path) -> None:
    """An acre-inch is 43,560 square feet by an inch: 102.79 m3."""
    more = MORE.replace("m3_season = 20000", 'm3_season = 20000\nm3_day = "4 acre-in"')
    depot("lanes", "add", field(tmp_path, [200, 300, 200], more), "--by", "Marta")
    run = ("log", "run", "T01", "--metres", "300 m", "--started", "2026-05-30T06:00", "--ended", "2026-05-30T15:00")
    assert depot(*run, "--volume", "1027.9 m3", "--meter", "2055.8 m3", "--by", "Ines").code == 0
    us = ("--units", "us")
    told = {
        "lanes": depot("lanes", *us).err + depot("lanes", *us).out,
        "night": depot("night", "North Field", *NIGHT, *us).out + depot("night", "North Field", *NIGHT, *us).err,
        "book": depot("book", "T01", *us).out,
    }
    for words in (("night", "North Field"), ("water",)):
        file, more_words = tmp_path / f"{words[0]}.html", NIGHT if words[0] == "night" else ("--licence", "15 acre-in")
        assert depot("report", *words, str(file), *more_words, *us).code == 0
        told[f"{words[0]} on paper"] = file.read_text("utf-8")
    for where, text in told.items():
        assert "acre-in" in text, where
        assert not re.search(r"\bm3\b", text), where
    assert "takes 4.96 acre-in, and the licence allows 4.00 acre-in a day" in told["night on paper"]  # 510 m3
    assert "3.31" in told["night"]  # 200 m x 68 m x 25 mm
    assert "67 % of 15.00 acre-in, 5.00 acre-in left" in told["water on paper"]
    assert "10.00 acre-in, meter 20.00 acre-in" in told["book"]
    assert depot("night", "North Field", *NIGHT, *us, "--json").json["licence_day_m3"] == pytest.approx(411.2, abs=0.1)


def test_the_nights_ahead_of_two_fields_stand_together_against_one_licence(
    depot: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # late in a night there is no room for a set
    noon = (datetime.now(UTC) + timedelta(days=1)).replace(hour=12, minute=0)
    assert depot("machine", "move", "T02", "Hill", "--by", "Marta").code == 0
    depot("lanes", "add", field(tmp_path, [300], ""), "--by", "Marta")
    other = Path(field(tmp_path, [300], ""))
    other.write_text(other.read_text("utf-8").replace("north", "hill").replace("North Field", "Hill"), "utf-8")
    depot("lanes", "add", str(other), "--by", "Marta")
    file = tmp_path / "water.html"
    monkeypatch.setattr("reelcare.cli.common.now", lambda: noon)
    assert depot("report", "water", str(file), "--licence", "1000 m3").code == 0
    # 300 m x 68 m x 25 mm on each
    assert re.findall(r"with it (\d+) %", file.read_text("utf-8")) == ["51", "102"]


def test_nothing_on_the_page_of_a_night_is_outside_the_catalogues(
    depot: Cli, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    assert depot("lanes", "add", field(tmp_path, [300] * 4), "--by", "Marta").code == 0
    request.getfixturevalue("pseudo")
    assert depot("report", "night", "North Field", str(tmp_path / "night.html"), *NIGHT).code == 0
    text = read_on((tmp_path / "night.html").read_text("utf-8"))
    assert untranslated(text, {*of_tables(), "North", "Field", "Marta", "Ines"}) == []
    assert OPENS in text
