"""What a command says in Spanish is Spanish down to the words that sheets, plans and entries keep in English."""

from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import held_by

PLAN = """
id = "mine"
[[items]]
id = "lube"
what = { en = "Lube the gearbox", es = "Engrasar la caja" }
part = "gearbox"
every = { hours = 10 }
grace = 0
stop = true
"""


@pytest.fixture
def overdue(farm: Any, tmp_path: Path) -> Any:
    """The farm with its machine held by an item of a plan that is overdue."""
    return held_by(farm, tmp_path, PLAN, "lube")


def test_a_check_says_what_an_answer_was_worth_and_whose_a_hold_is(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    typed = iter(["3", "HOLD", "1", "el tramo", ""])
    monkeypatch.setattr("builtins.input", lambda _="": next(typed))
    told = farm("check", "R1", "--by", "Olav", "--language", "es")
    assert "Esto retiene hasta que se acabe (lugar)" in told.out
    assert "  mal: dentro de la distancia, o no se sabe" in told.out
    assert "  bien: ninguna línea a la vista de la franja" in told.out
    monkeypatch.setattr("builtins.input", lambda _="": "")
    farm("log", "fault", "R1", "pawl", "--says", "x", "--hold", "run", "--by", "Olav")
    assert "RETENIDA (máquina)" in farm("check", "R1", "--by", "Olav", "--language", "es").out


def test_what_holds_a_machine_has_the_title_of_the_language(overdue: Any) -> None:
    asked = ("may", "R1", "--as-of", "2026-05-03")
    assert "Lube the gearbox" in overdue(*asked).err
    told = overdue(*asked, "--language", "es").err
    assert "Engrasar la caja" in told
    assert "Lube" not in told


def test_a_night_says_why_a_machine_is_left_out_and_its_data_stay_english(overdue: Any, tmp_path: Path) -> None:
    field = tmp_path / "field.toml"
    lane = '[[lanes]]\nnumber = 1\nhydrant = 1\nlength = "300 m"\nspacing = "68 m"\n'
    field.write_text(f'id = "north"\nplace = "North"\n{lane}', "utf-8")
    added = overdue("lanes", "add", str(field), "--by", "Mara", "--at", "2026-05-02")
    assert added.code == 0, added.err
    asked = ("night", "R1", "--as-of", "2026-05-03", "--language", "es")
    told = overdue(*asked)
    assert "Engrasar la caja" in told.out + told.err
    (held,) = overdue(*asked, "--json").json["held"]
    assert held["because"].startswith("Lube the gearbox")
