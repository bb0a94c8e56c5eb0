"""The cautions that must stand, and where: beside the question at which the work is done, in both languages.

Which cautions: what can hurt at such machines (common practice, no source, but for the figures named here).
"""

from pathlib import Path

import pytest

from reelcare.core.checks.sheet import Question, for_machine
from reelcare.core.machine.card import Card, Road
from reelcare.core.machine.equipment_kinds import every_kind
from reelcare.register import sheets

SHEETS = sheets.load(own=Path("no-such-folder")).by_id


def question(place: str) -> Question:
    sheet, id = place.split(".")
    return next(one for one in SHEETS[sheet].questions if one.id == id)


# where: what its caution says, in English and in Spanish
CAUTIONS = [
    ("pre-start.overhead", "3 m", "3 m"),  # 29 CFR 1926.1408 Table A
    ("pre-start.overhead", "No jet towards a line", "chorro"),  # Great River Energy: 150 ft (45 m)
    ("pre-start.reach", "pump off first", "bomba"),
    ("pre-start.stream", "knocks a person down", "derriba"),
    ("pre-start.ground", "Alone: somebody knows", "sepa"),
    ("pre-start.ground", "Heat", "alor"),
    ("pre-start.wind", "Thunder", "rueno"),  # University of Vermont Extension: 30 minutes after the last thunder
    ("pre-start.wind", "30 minutes", "30 minutos"),
    ("pre-start.feet", "chocked or tractor coupled", "calz"),
    ("pre-start.leg-oil", "through the skin", "piel"),
    ("pre-start.hitch", "started from its seat only", "asiento"),
    ("pre-start.hose-walk", "bursts whips", "revienta"),
    ("pre-start.backflow", "Chemicals", "Productos"),
    ("pre-start.engine", "Ear protection", "oídos"),
    ("pre-start.stop-test", "clear of chain and hose", "cadena"),
    ("pre-start.people", "Shut it slowly", "despacio"),
    ("pre-start.inlet", "bursts whips", "revienta"),
    ("goes-on.inlet", "bursts whips", "revienta"),
    ("goes-on.people", "Shut it slowly", "despacio"),
    ("rescue.guard", "key out", "llave"),
    ("road.route", "clearance", "distancia"),
    ("road.brakes", "25 mph", "25 mph"),
]


@pytest.mark.parametrize(("place", "en", "es"), CAUTIONS)
def test_each_caution_stands_where_the_work_is_done(place: str, en: str, es: str) -> None:
    caution = question(place).caution or {"en": "", "es": ""}
    assert en in caution["en"]
    assert es in caution["es"]


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
