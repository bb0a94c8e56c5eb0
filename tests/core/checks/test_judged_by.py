"""What a gate will be judged by is what its answers are judged by, and what is not planned is said to be so."""

import tomllib
from datetime import UTC, datetime
from pathlib import Path

import pytest

from reelcare.core import text
from reelcare.core.checks.judged_by import judged_by
from reelcare.core.checks.sheet_table import read_sheet
from reelcare.core.checks.verdict import Given, Signature, Walk
from reelcare.core.machine.card import Card, read_card

SHEET = read_sheet(tomllib.loads(Path("checklists/pre-start.toml").read_text("utf-8")))
BEGUN = datetime(2026, 6, 1, 6, tzinfo=UTC)
CARD = read_card(
    {
        "tag": "R1", "hose": {"outside": "110 mm", "inside": "93.8 mm", "length": "380 m", "material": "PE80"},
        "drive": {"kind": "turbine", "most_loss": "0.7 bar"}, "cart": {"kind": "gun", "nozzle": "24 mm", "arc": 320},
    }
)  # fmt: skip
PLANNED = {
    "planned_speed": "25.5 m/h", "inlet_pressure": "6.3 bar", "least_coils": "2", "coils_left": "14.0",
    "pull_out": "300.0 m", "finish": "2026-06-01T18:40+00:00",
}  # fmt: skip
NOW = datetime(2026, 6, 1, 8, tzinfo=UTC)
LATE = datetime(2026, 6, 1, 19, tzinfo=UTC)
WISHES = {"nozzle": "22 mm", "gear": "II, small pulley", "hydrant": "7", "drive_loss": "0.5 bar", "arc": "300"}


def told(
    card: Card, planned: dict[str, str], wishes: dict[str, str], system: str = "metric", now: datetime = NOW
) -> dict[str, str]:
    walk = Walk(SHEET, BEGUN, (), card, planned)
    found = judged_by(walk, wishes, system, UTC, now)  # type: ignore[arg-type]
    return {one.label: f"{one.planned} | {one.limit}" for one in found}


def test_all_that_is_planned_stands_with_its_limit() -> None:
    assert told(CARD, PLANNED, WISHES) == {
        "pull-out": "300 m | hose has 380 m; 4.8 km/h at most; last 15 m: 1.6 km/h",
        "coils left": "14.0 | at least 2",
        "nozzle, arc": "22.0 mm, 300 degrees | ",
        "gear": "II, small pulley | ",
        "hydrant": "7 | ",
        # PE80 of 110 x 8.1 mm (SDR 13.6) is rated 10 bar: ISO 12162, ISO 4427
        "inlet pressure": "6.3 bar | at least 1 bar, about 6.3 bar (10 %), never above 10 bar",
        "drive loss": "0.50 bar | at most 0.7 bar",
        # three times the plan is a matter of the drive, not of its adjustment: common practice, no source
        "speed": "25.5 m/h | at least 3 m/h, about 25.5 m/h (10 %), never above 76.5 m/h",
        "finish": "2026-06-01 18:40 | ",
    }


def test_a_finish_that_is_past_is_said_to_be_of_another_run() -> None:
    """A set that was kept on Monday stood at Wednesday's gate as if it were of that day."""
    later = told(CARD, PLANNED, WISHES, now=datetime(2026, 6, 3, 6, tzinfo=UTC))
    assert later["finish"] == "2026-06-01 18:40 | past: the set was planned for another run"


def test_a_run_that_is_late_is_still_the_one_that_its_set_was_planned_for() -> None:
    """Its last gate said of a finish that went by while the water was on that it was of another run."""
    opened = Signature("water", NOW, "Olav")
    walk = Walk(SHEET, BEGUN, (), CARD, PLANNED, signed=(opened,))
    [finish] = [one for one in judged_by(walk, WISHES, "metric", UTC, LATE) if one.label == "finish"]
    assert (finish.planned, finish.limit) == ("2026-06-01 18:40", "")


def test_the_wind_that_a_person_will_work_in_stands_where_they_set_it() -> None:
    assert "wind" not in told(CARD, PLANNED, WISHES)
    limited = WISHES | {"wind_limit": "5 m/s"}
    assert told(CARD, PLANNED, limited)["wind"] == " | at most 18 km/h"  # 5 m/s is 18 km/h by 3.6
    assert told(CARD, PLANNED, limited, "us")["wind"] == " | at most 11 mph"  # 5 / 0.44704


def test_the_pace_of_a_pull_out_has_the_decimal_sign_of_the_language() -> None:
    text.install(language="xx", sign=",")
    assert "; 4,8 km/h at most; last 15 m: 1,6 km/h" in told(CARD, PLANNED, WISHES)["pull-out"]


def test_without_a_set_the_card_and_common_limits_stand_alone() -> None:
    found = told(CARD, {}, {})
    assert found["nozzle, arc"] == "24.0 mm, 320 degrees | "
    assert found["speed"].startswith(" | at least 3 m/h")
    assert found["gear"] == found["hydrant"] == found["finish"] == " | "


def test_what_a_machine_has_not_is_left_out() -> None:
    engine = read_card({"tag": "R1", "drive": {"kind": "engine"}, "cart": {"kind": "boom"}})
    assert not {"drive loss", "nozzle, arc", "gear"} & set(told(engine, {}, {}))


def test_it_is_told_in_the_units_of_the_person() -> None:
    found = told(CARD, PLANNED, WISHES, "us")
    assert found["pull-out"] == "984 ft | hose has 1247 ft; 3 mph at most; last 50 ft: 1 mph"
    assert "psi" in found["inlet pressure"]


@pytest.mark.parametrize(("question", "label"), [("inlet", "inlet pressure"), ("speed", "speed")])
def test_a_reading_as_planned_is_right(question: str, label: str) -> None:
    walk = Walk(SHEET, BEGUN, (), CARD, PLANNED)
    shown = told(CARD, PLANNED, WISHES)[label].split(" | ")[0]
    assert walk.judgement(Given(question, shown, BEGUN, "Olav")).judged == "right"


def test_it_is_told_before_the_first_question_of_a_gate_only() -> None:
    walk = Walk(SHEET, BEGUN, (), CARD, PLANNED)
    assert walk.begins_gate(BEGUN)
    first = SHEET.questions[0]
    right = next(one.id for one in first.choices if one.right)
    assert not Walk(SHEET, BEGUN, (Given(first.id, right, BEGUN, "Olav"),), CARD, PLANNED).begins_gate(BEGUN)
