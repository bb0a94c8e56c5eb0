"""The table of positions: read with every slip told, fitted to the machine, silent about nothing."""

import tomllib
from pathlib import Path

import pytest

from reelcare.core.checks.positions import InTheWay, PositionsError, read_positions
from reelcare.core.machine.card import Card, Drum

PLAIN = tomllib.loads(Path("checklists/positions.toml").read_text("utf-8"))
TABLE = read_positions(PLAIN)


def test_every_slip_is_told_at_once_with_its_place() -> None:
    bad = {
        "parts": [
            {"id": "pawl", "says": "Pawl", "stays": "now and then", "positions": [{"id": "up", "says": "up"}]},
            {"id": "pawl", "says": {"es": "x"}, "stays": "hand", "needs": ["wings"], "positions": [
                {"id": "up", "says": "up"}, {"id": "down", "says": "down"}]},
        ],
        "activities": [
            {"id": "fly", "says": "Fly", "needs": {"pawl": ["sideways"], "wings": ["out"]}, "only": ["wings"]},
        ],
        "goals": [{"id": "home", "says": "Home", "where": {"pawl": ["nowhere"]}}],
    }  # fmt: skip
    with pytest.raises(PositionsError) as told:
        read_positions(bad)
    text = "\n".join(told.value.problems)
    for piece in (
        "parts: pawl stands there twice", "stays: 'now and then'", "two or more", "says: a text", "needs: 'wings'",
        "'sideways'; right are up, down", "'wings' is no part", "only: 'wings'", "'nowhere'",
    ):  # fmt: skip
        assert piece in text, piece


def test_every_text_stands_in_both_languages() -> None:
    for one in (*TABLE.parts.values(), *TABLE.activities.values(), *TABLE.goals.values()):
        assert set(one.says) == {"en", "es"}, one.id
    for activity in TABLE.activities.values():
        assert activity.caution is None or set(activity.caution) == {"en", "es"}
    for part in TABLE.parts.values():
        assert all(set(words) == {"en", "es"} for words in part.positions.values())


def test_a_fixed_drum_has_no_heading_and_no_pin() -> None:
    table = TABLE.for_machine(Card("R1", drum=Drum(turntable=False)))
    assert "drum heading" not in table.parts
    assert "turn to the lane" not in table.activities
    assert "opposite" not in table.goals
    assert not any("turntable pin" in one.needs for one in table.activities.values())


def test_what_is_not_known_stands_in_the_way() -> None:
    table = TABLE.for_machine(Card("R1"))
    way = table.in_the_way("pull out", {"drive": "in", "pawl": "up"})
    assert InTheWay("drive", "in", ("out",)) in way
    assert InTheWay("legs", None, ("set",)) in way
    assert not any(one.part == "pawl" for one in way)
    assert "Drive: in, must be out" in [table.tell(one) for one in way]
    assert "Patas estabilizadoras: sin mirar, debe ser clavadas" in [table.tell(one, "es") for one in way]
    with pytest.raises(ValueError, match="may not be done"):
        table.after("pull out", {})


def test_after_a_pause_what_hands_can_move_is_looked_at_again() -> None:
    table = TABLE.for_machine(Card("R1"))
    now = {"pawl": "down", "drive": "in", "legs": "set", "supply": "on", "cart": "lowered"}
    assert table.seen_after_a_pause(now) == {"legs": "set", "cart": "lowered"}
    assert table.seen_after_a_pause(now, moved=True) == {}
    assert {one.id for one in table.unknown({"legs": "set"})} == set(table.parts) - {"legs"}


def test_the_sheets_speak_of_the_same_parts_and_positions() -> None:
    from reelcare.register import sheets

    for sheet in sheets.load().by_id.values():
        for question in sheet.questions:
            for part, where in question.positions:
                assert part in TABLE.parts, (sheet.id, question.id)
                assert where in TABLE.parts[part].positions, (sheet.id, question.id)
