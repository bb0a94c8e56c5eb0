"""Readings are judged by the card and by physics where no set is kept, and a dead gauge has an answer."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from reelcare.core.checks.limits import Judgement, judge, limit_text
from reelcare.core.checks.sheet import Question
from reelcare.core.checks.sheet_table import SheetError, read_sheet, to_plain
from reelcare.core.checks.verdict import Given, Walk
from reelcare.core.entries import fault_of
from reelcare.core.machine.card import Card, read_card
from reelcare.core.settings.set_limits import SetLimits
from reelcare.core.settings.set_parser import plan_of_the_day
from reelcare.core.settings.set_request import Wishes
from reelcare.core.settings.setting import work_out
from reelcare.register import sheets

SHEETS = sheets.load().by_id
PRE_START = SHEETS["pre-start"]
SET = Wishes(spacing=68, out=200, depth=0.025, nozzle=0.024, drive_loss=0.5e5)
T = datetime(2026, 5, 1, 6, tzinfo=UTC)


def machine(material: str | None = "PE80") -> Card:
    """A hose of SDR 13.6: PE80 is of nominal pressure 10 (ISO 4427, EN 12201: PN 10 for PE80 SDR 13.6)."""
    hose = {"outside": "110 mm", "inside": "93.8 mm", "length": "400 m"} | ({"material": material} if material else {})
    return read_card({"tag": "R1", "hose": hose, "drive": {"kind": "turbine"}})


def told(id: str, seen: str, planned: Mapping[str, str], card: Card) -> Judgement:
    question = PRE_START.question(id)
    assert question is not None
    return judge(question, seen, card=card, planned=planned)


@pytest.mark.parametrize("planned", [{}, {"inlet_pressure": "25 bar"}, {"inlet_pressure": "6.5 bar"}])
@pytest.mark.parametrize("seen", ["25 bar", "18 bar", "10.2 bar", "365 psi"])
def test_pressure_above_the_rating_of_the_hose_holds_whatever_is_planned(seen: str, planned: dict[str, str]) -> None:
    judged = told("inlet", seen, planned, machine())
    assert (judged.judged, judged.if_not, judged.holds) == ("wrong", "stop", True)
    assert "never above" in judged.says


@pytest.mark.parametrize(
    ("material", "seen", "holds"),
    [("PE80", "9.9 bar", False), ("PE100", "12 bar", False), ("PE40", "6 bar", True), (None, "6 bar", True)],
)
def test_a_hose_of_unknown_material_counts_as_the_weakest_class(material: str | None, seen: str, holds: bool) -> None:
    # PE40 has a minimum required strength of 4 MPa (ISO 12162), PE80 8, PE100 10
    assert told("inlet", seen, {}, machine(material)).holds is holds


@pytest.mark.parametrize("sheet", ["pre-start", "goes-on"])
@pytest.mark.parametrize(
    ("wished", "most"),
    [
        (replace(SET, inlet=6.6e5, rise=-30.0), 10.0157 - 998.2041 * 9.80665 * 30 / 1e5),
        # ISO 13761: 0.87 of it at 30 degC, 0.74 at 40 (row H6-19)
        (replace(SET, inlet=7.8e5, temperature=35.0), 10.0157 * 0.805),
        (replace(SET, inlet=7.8e5, rise=30.0, temperature=15.0), 10.0157),
    ],
)
def test_the_hose_of_a_kept_set_is_judged_at_its_lower_end_and_as_warm_as_it_is(
    sheet: str, wished: Wishes, most: float, limits: SetLimits
) -> None:
    card = machine()
    setting = work_out(card, wished, limits)
    assert setting.cannot_be is None
    planned = plan_of_the_day(setting, limits)
    question = SHEETS[sheet].question("inlet")
    assert question is not None
    for over in (-0.02, 0.02):
        judged = judge(question, f"{most + over:.2f} bar", card=card, planned=planned)
        assert judged.holds is (over > 0)


def test_a_pressure_that_no_hose_bears_holds_where_the_card_is_silent() -> None:
    assert told("inlet", "25 bar", {}, Card("R1")).holds
    assert not told("inlet", "6.5 bar", {}, Card("R1")).holds


def test_without_a_set_a_reading_is_judged_and_nothing_planned_is_asked_for() -> None:
    right = told("inlet", "6.5 bar", {}, machine())
    assert right.judged == "right"
    assert "not known" not in right.says
    assert told("inlet", "1 psi", {}, machine()).judged == "wrong"
    assert told("speed", "1 ft/h", {}, machine()).judged == "wrong"
    assert told("speed", "25 m/h", {}, machine()).judged == "right"
    assert told("speed", "300 m/h", {}, machine()).holds


def test_off_the_plan_is_a_fix_by_and_above_the_rating_a_hold() -> None:
    planned = {"inlet_pressure": "6.5 bar"}
    assert told("inlet", "8 bar", planned, machine()).if_not == "fix-by"
    assert told("inlet", "11 bar", planned, machine()).if_not == "stop"


@pytest.mark.parametrize("sheet", ["pre-start", "goes-on"])
@pytest.mark.parametrize(
    ("planned", "seen", "if_not"),
    [("25 m/h", "74 m/h", "fix-by"), ("25 m/h", "76 m/h", "stop"), ("25 m/h", "250 ft/h", "stop"),
     ("60 m/h", "149 m/h", "fix-by"), ("60 m/h", "151 m/h", "stop")],
)  # fmt: skip
def test_a_speed_of_more_than_three_times_the_plan_is_a_matter_of_the_machine(
    sheet: str, planned: str, seen: str, if_not: str
) -> None:
    question = sheets.load().by_id[sheet].question("speed")
    assert question is not None
    judged = judge(question, seen, card=machine(), planned={"planned_speed": planned})
    assert (judged.judged, judged.if_not, judged.owner) == ("wrong", if_not, "machine")


@pytest.mark.parametrize(
    ("more", "told"),
    [({"never_times": 1}, "above 1"), ({"never_times": "3"}, "above 1"), ({"never_times": 3}, "goes with about")],
)
def test_a_factor_that_cannot_be_is_refused_and_another_comes_back_as_it_was(
    more: dict[str, object], told: str
) -> None:
    with pytest.raises(SheetError, match=told):
        reading(**more)
    whole = {"about": ["set.inlet_pressure"], "never_above": ["16 bar"], "never_times": 2.5}
    assert reading(**whole).never_times == 2.5


def test_the_ceiling_is_told_before_the_answer() -> None:
    inlet = PRE_START.question("inlet")
    assert inlet is not None
    text = limit_text(inlet, machine(), {"inlet_pressure": "6.5 bar"}, unit="bar")
    assert text.startswith("at least 1 bar, about 6.5 bar (10 %), never above ")


def test_a_walk_with_such_a_reading_is_held() -> None:
    inlet = PRE_START.question("inlet")
    assert inlet is not None
    only = PRE_START.without(tuple(one.id for one in PRE_START.questions if one.id != "inlet"))
    walk = Walk(only, T, (Given("inlet", "25 bar", T, "Ines"),), machine(), {})
    assert walk.verdict(T) == "held"
    fault = fault_of(walk, walk.given[0], "check", totals=(0, 0, 0), day=T)
    assert fault is not None
    assert fault.holds == "run"


def test_a_gauge_that_cannot_be_read_is_a_fault_of_the_gauge() -> None:
    assert told("drive-loss", "cannot be read", {}, machine()) == Judgement(
        "wrong", "cannot be read", None, "fix-by", "gauges"
    )
    nowhere = told("inlet", "cannot be read", {}, machine())
    assert (nowhere.holds, nowhere.part) == (True, "gauges")
    elsewhere = told("inlet", "cannot be read; 6.4 bar at the pump", {"inlet_pressure": "5 bar"}, machine())
    assert (elsewhere.if_not, elsewhere.part) == ("fix-by", "gauges")
    assert elsewhere.says == "cannot be read; 6.4 bar at the pump"
    assert told("inlet", "cannot be read; 18 bar at hydrant", {}, machine()).holds
    assert told("inlet", "cannot be read; 6.4 bar at home", {}, machine()).judged == "unreadable"
    assert told("inlet", "cannot be read; 6.4 at pump", {}, machine()).judged == "unreadable"
    assert told("speed", "cannot be read", {}, machine()).judged == "unreadable"  # a tape is no gauge


def test_a_dead_gauge_passes_with_a_reading_taken_elsewhere_and_not_without() -> None:
    only = PRE_START.without(tuple(one.id for one in PRE_START.questions if one.id != "inlet"))

    def walk(seen: str) -> Walk:
        return Walk(only, T, (Given("inlet", seen, T, "Ines"),), machine(), {})

    assert walk("cannot be read").verdict(T) == "held"
    passed = walk("cannot be read; 6.4 bar at hydrant")
    assert passed.verdict(T) == "passed"
    fault = fault_of(passed, passed.given[0], "check", totals=(0, 0, 7), day=T)
    assert fault is not None
    assert (fault.part, fault.holds, fault.fix_by_runs) == ("gauges", "", 8)


def reading(**more: object) -> Question:
    table = {"id": "q", "ask": "?", "kind": "reading", "part": "drive", "if_not": "note", "quantity": "pressure"}
    stage = {"id": "s", "title": "S", "questions": [table | more]}
    sheet = read_sheet({"id": "s", "title": "S", "for": "run", "stages": [stage]})
    assert read_sheet(to_plain(sheet)) == sheet
    return sheet.questions[0]


def test_what_must_never_be_ends_with_a_figure() -> None:
    assert reading(never_above=["card.hose.rated", "16 bar"], cannot_read=True).never_above is not None
    with pytest.raises(SheetError, match="end their list with a figure"):
        reading(never_above=["card.hose.rated"])
    with pytest.raises(SheetError, match="cannot be read"):
        reading(kind="count", quantity="count", cannot_read=True)
