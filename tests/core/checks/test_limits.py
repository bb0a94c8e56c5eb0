"""An answer against its limit."""

import pytest

from reelcare import languages
from reelcare.core.checks.limits import judge, limit_text
from reelcare.core.checks.sheet import Question
from reelcare.core.checks.sheet_table import read_sheet
from reelcare.core.machine.card import Card, read_card

CARD = read_card({"tag": "R1", "drive": {"most_loss": "8 psi"}})


def question(**more: object) -> Question:
    table = {
        "id": "q",
        "ask": "?",
        "kind": "reading",
        "part": "drive",
        "if_not": "note",
        "quantity": "pressure",
        **more,
    }
    stage = {"id": "s", "title": "S", "questions": [table]}
    return read_sheet({"id": "s", "title": "S", "for": "run", "stages": [stage]}).questions[0]


LOSS = question(at_most="10 psi", if_not="stop")


@pytest.mark.parametrize(
    ("seen", "judged"),
    [
        ("10 psi", "right"),
        ("10.1 psi", "wrong"),
        ("69 kPa", "right"),  # 10 psi is 68.9 kPa: what rounding to a whole kPa gives
        ("70 kPa", "wrong"),
        ("0.69 bar", "right"),
        ("0.7 bar", "wrong"),  # a tenth of a bar gives half a percent at most
        ("1 bar", "wrong"),
        ("0 psi", "right"),
        ("-1 psi", "unreadable"),
        ("900 bar", "unreadable"),
        ("10", "unreadable"),
        ("10 m", "unreadable"),
        ("7,5 psi", "unreadable"),
        ("nan psi", "unreadable"),
    ],
)
def test_a_reading_against_the_trades_limit_of_10_psi(seen: str, judged: str) -> None:
    assert judge(LOSS, seen, card=Card("R1"), planned={}).judged == judged


def test_the_card_comes_before_the_sheets_own_figure() -> None:
    loss = question(at_most=["card.drive.most_loss", "10 psi"])
    assert judge(loss, "9 psi", card=CARD, planned={}).judged == "wrong"
    assert judge(loss, "9 psi", card=Card("R1"), planned={}).judged == "right"


def test_a_planned_value_is_met_within_its_percentage() -> None:
    speed = question(quantity="speed", about="set.planned_speed", within=10)
    planned = {"planned_speed": "20 m/h"}
    assert judge(speed, "22 m/h", card=CARD, planned=planned).judged == "right"
    assert judge(speed, "22.1 m/h", card=CARD, planned=planned).judged == "wrong"
    assert judge(speed, "17.9 m/h", card=CARD, planned=planned).judged == "wrong"
    assert judge(speed, "66 ft/h", card=CARD, planned=planned).judged == "right"


def test_what_is_not_known_is_named_and_not_guessed() -> None:
    speed = question(quantity="speed", about="set.planned_speed")
    told = judge(speed, "22 m/h", card=CARD, planned={})
    assert told.judged == "noted"
    assert "planned speed of the set not known" in told.says
    assert limit_text(speed, CARD, {}) == ""


def test_a_value_of_the_set_that_measures_something_else_is_not_known() -> None:
    """A sheet of another register can ask for one; the fold of the machine it was carried in with ended there."""
    planned = {"pull_out": "300 m"}
    loss = question(at_most=["set.pull_out", "10 psi"], if_not="stop")
    assert [judge(loss, seen, card=CARD, planned=planned).judged for seen in ("9 psi", "11 psi")] == ["right", "wrong"]
    assert judge(question(at_most="set.pull_out"), "9 psi", card=CARD, planned=planned).judged == "noted"


@pytest.mark.parametrize("most", ["10 psi", "8 psi", "0.7 bar", "69 kPa", "9.9 psi", "1 psi"])
@pytest.mark.parametrize("unit", ["", "bar", "psi", "kPa"])
def test_a_reading_of_just_what_is_told_as_the_limit_is_right(most: str, unit: str) -> None:
    card = read_card({"tag": "R1", "drive": {"most_loss": most}})
    loss = question(at_most="card.drive.most_loss", at_least="card.drive.most_loss", role="drive loss")
    told = limit_text(loss, card, {}, unit=unit)
    least, shown = told.split(", at most ")
    assert least == f"at least {shown}"
    assert judge(loss, shown, card=card, planned={}).judged == "right"
    assert len(shown) < 12


def test_a_limit_is_told_in_the_unit_of_the_reading_and_in_the_language_of_the_check() -> None:
    loss = question(at_most="10 psi", if_not="stop")
    assert judge(loss, "0.75 bar", card=CARD, planned={}).says == "0.75 bar; right is at most 0.69 bar"
    languages.install("es")
    assert judge(loss, "12 psi", card=CARD, planned={}, language="es").says == (
        "12 psi; lo correcto es como máximo 10 psi"
    )
    assert limit_text(loss, CARD, {}, unit="psi") == "como máximo 10 psi"


def test_a_count_is_whole() -> None:
    coils = question(kind="count", quantity="count", at_least=2, if_not="stop")
    assert [judge(coils, seen, card=CARD, planned={}).judged for seen in ("2", "1", "2.5", "two")] == [
        "right", "wrong", "unreadable", "unreadable",
    ]  # fmt: skip


def test_it_says_what_is_right() -> None:
    assert judge(LOSS, "12 psi", card=CARD, planned={}).says == "12 psi; right is at most 10 psi"
