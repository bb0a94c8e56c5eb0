"""The cautions that must stand, and where: beside the question at which the work is done, in every language.

Which cautions: what can hurt at such machines (common practice, no source, but for the figures named here).
"""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from reelcare import languages
from reelcare.core.checks.sheet import Question, for_machine
from reelcare.core.machine.card import Card, Road
from reelcare.core.machine.equipment_kinds import every_kind
from reelcare.register import sheets

SHEETS = sheets.load(own=Path("no-such-folder")).by_id


def question(place: str) -> Question:
    sheet, id = place.split(".")
    return next(one for one in SHEETS[sheet].questions if one.id == id)


# where: what its caution says, in English, Spanish and French
CAUTIONS = [
    # 29 CFR 1926.1408 Table A: 10 ft, which are 3.048 m; Great River Energy: 150 ft, 45.72 m. Metres are rounded up.
    ("pre-start.overhead", "10 ft (3.1 m)", "3,1 m (10 pies)", "3,1 m (10 ft)"),
    ("pre-start.overhead", "150 ft (46 m)", "46 m (150 pies)", "46 m (150 ft)"),
    ("pre-start.overhead", "No jet towards a line", "chorro", "jet"),
    ("pre-start.reach", "pump off first", "bomba", "pompe"),
    ("pre-start.stream", "knocks a person down", "derriba", "renverse"),
    ("pre-start.ground", "Alone: somebody knows", "sepa", "sait"),
    ("pre-start.ground", "Heat", "alor", "haleur"),
    (
        "pre-start.wind",
        "Thunder",
        "rueno",
        "onnerre",
    ),  # University of Vermont Extension: 30 minutes after the last thunder
    ("pre-start.wind", "30 minutes", "30 minutos", "30 minutes"),
    ("pre-start.feet", "chocked or tractor coupled", "calz", "calées"),
    ("pre-start.leg-oil", "through the skin", "piel", "peau"),
    ("pre-start.hitch", "started from its seat only", "asiento", "siège"),
    ("pre-start.hose-walk", "bursts whips", "revienta", "éclate"),
    ("pre-start.backflow", "Chemicals", "Productos", "Produits"),
    ("pre-start.engine", "Ear protection", "oídos", "oreilles"),
    ("pre-start.stop-test", "clear of chain and hose", "cadena", "chaîne"),
    ("pre-start.people", "Shut it slowly", "despacio", "lentement"),
    ("pre-start.inlet", "bursts whips", "revienta", "éclate"),
    ("goes-on.inlet", "bursts whips", "revienta", "éclate"),
    ("goes-on.people", "Shut it slowly", "despacio", "lentement"),
    ("rescue.guard", "key out", "llave", "clé retirée"),
    ("road.route", "clearance", "distancia", "distance"),
    ("road.brakes", "25 mph", "25 mph", "25 mph"),
]


@pytest.mark.parametrize(("place", *languages.LANGUAGES), CAUTIONS)
def test_each_caution_stands_where_the_work_is_done(place: str, en: str, es: str, fr: str) -> None:
    caution = question(place).caution or {}
    for language, words in zip(languages.LANGUAGES, (en, es, fr), strict=True):
        assert words in caution[language]


def test_the_road_is_asked_of_every_machine_what_is_missing_is_the_finding() -> None:
    asked = {"lights", "brakes", "width", "chocks", "tyres", "drawbar", "route"}
    bare = Card("R1", road=Road(lights=False, brakes=False))
    for card in (bare, *every_kind()):
        assert asked <= {one.id for one in for_machine(SHEETS["road"], card).questions}
    assert "emblem" in question("road.lights").ask["en"]


def test_every_limit_of_a_shipped_sheet_names_its_source_or_is_marked_common_practice() -> None:
    for sheet in SHEETS.values():
        for one in sheet.questions:
            assert one.source or one.common_practice, f"{sheet.id}.{one.id}"


METRIC = re.compile(r"\d ?(?:m|cm|mm|km|bar|kPa|m/h|km/h|°C)\b")
CUSTOMARY = re.compile(r"\d ?(?:ft|in|psi|mph|°F)\b")


def english(value: Any) -> Iterator[str]:
    """Every English text of a table."""
    if isinstance(value, dict):
        if isinstance(value.get("en"), str):
            yield value["en"]
        for one in value.values():
            yield from english(one)
    elif isinstance(value, list):
        for one in value:
            yield from english(one)


@pytest.mark.parametrize(
    "file", sorted((Path(__file__).parents[1] / "checklists").glob("*.toml")), ids=lambda file: str(file.stem)
)
def test_a_text_with_a_figure_has_it_in_both_systems(file: Path) -> None:
    """Sheets, plan and steps are read by people with either; three cautions said *7 bar* or *20 m* alone."""
    texts = list(english(tomllib.loads(file.read_text("utf-8"))))
    assert [one for one in texts if METRIC.search(one) and not CUSTOMARY.search(one)] == []
