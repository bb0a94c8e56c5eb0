"""What was seen at one place counts at no other: lines, ground, hydrant and feet are looked at anew after a move."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from reelcare.core.checks.sheet import for_machine
from reelcare.core.machine.card import read_card
from reelcare.register import sheets
from tests.cli.conftest import CARD
from tests.cli.test_cli import line_for

SHEET = for_machine(sheets.load(own=Path("no-such-folder")).by_id["pre-start"], read_card(tomllib.loads(CARD)))


def lines(*gates: str) -> list[str]:
    """What is typed to answer gates right and to sign them."""
    return [
        line
        for gate in gates
        for line in (*(line_for(one) for one in SHEET.questions if SHEET.gate_of(one.id) == gate), "done")
    ]


def typed(monkeypatch: pytest.MonkeyPatch, *what: str) -> None:
    left = iter(what)
    monkeypatch.setattr("builtins.input", lambda _="": next(left, ""))


def standing(farm: Any) -> dict[str, Any]:
    (line,) = farm("yard", "--json").json
    return {**line["standing"], "because": line["because"]}


@pytest.mark.parametrize("gates", [("pull-out",), ("pull-out", "water")])
def test_a_move_leaves_nothing_signed_and_the_check_begins_anew(
    farm: Any, monkeypatch: pytest.MonkeyPatch, gates: tuple[str, ...]
) -> None:
    typed(monkeypatch, *lines(*gates))
    farm("check", "R1", "--by", "Olav")
    assert standing(farm)["gate"] == gates[-1]
    assert farm("machine", "move", "R1", "South", "--by", "Olav").code == 0
    moved = standing(farm)
    assert (moved["run"], moved["gate"]) == ("check due", None)
    assert "no longer counts after the move" in moved["because"][0]
    typed(monkeypatch, "1", "")
    anew = farm("check", "R1", "--by", "Olav").out
    assert "Going on" not in anew
    assert "\n1/" in anew


def test_answers_of_another_place_sign_no_gate(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    typed(monkeypatch, *lines("pull-out")[:-1])
    farm("check", "R1", "--by", "Olav")
    farm("machine", "move", "R1", "South", "--by", "Olav")
    typed(monkeypatch, "done", "done", "done")
    farm("check", "R1", "--by", "Olav")
    assert standing(farm)["gate"] is None


def test_a_hold_of_the_place_ends_on_the_new_place_by_the_right_answer(
    farm: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed(monkeypatch, "3", "HOLD")
    farm("check", "R1", "--by", "Olav")
    assert standing(farm)["held_as"] == "place"
    farm("machine", "move", "R1", "South", "--by", "Olav")
    assert standing(farm)["held_as"] == "place", "moving alone ends nothing"
    typed(monkeypatch, *lines("pull-out"))
    assert farm("check", "R1", "--gate", "pull-out", "--by", "Olav").code == 0
    assert standing(farm)["gate"] == "pull-out"


def test_a_hold_of_the_place_is_asked_about_again_where_nobody_said_what_changed(
    farm: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    pull_out = lines("pull-out")
    typed(monkeypatch, "3", "HOLD", pull_out[0], "", *pull_out[1:-1])
    farm("check", "R1", "--by", "Olav")
    assert standing(farm)["held_as"] == "place"
    typed(monkeypatch, pull_out[-2], pull_out[0], "the line was taken down", "done")
    assert "Signed: may pull out." in farm("check", "R1", "--by", "Olav").out
    assert standing(farm)["gate"] == "pull-out"
