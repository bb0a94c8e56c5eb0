"""Figures with decimals: shown and typed with the sign of the language, kept and given to programs with a point."""

import re
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from reelcare import languages
from reelcare.cli.work import questions
from reelcare.core import units
from reelcare.core.machine.card import Card
from reelcare.register import sheets
from tests.cli.conftest import ESTATE_AT, Cli
from tests.cli.test_lists import LISTS

POINT = re.compile(r"(?<![\w.-])[0-9]+\.[0-9]+(?![\w.-])")
COMMA = re.compile(r"(?<![\w,])[0-9]+,[0-9]+(?![\w,])")
WITH_COMMA = [language for language, sign in languages.DECIMAL_SIGNS.items() if sign == ","]


@pytest.fixture
def demo(cli: Cli, estate: Path, monkeypatch: pytest.MonkeyPatch) -> Cli:
    monkeypatch.setenv("REELCARE_REGISTER", str(estate))
    return cli


@pytest.mark.long
@pytest.mark.parametrize("language", WITH_COMMA)
def test_lists_show_the_sign_of_the_language_and_json_is_the_same_in_all(demo: Cli, language: str) -> None:
    commas = 0
    for words in LISTS:
        told = demo(*words, *ESTATE_AT, "--language", language).out
        assert not POINT.findall(told), words
        commas += len(COMMA.findall(told))
        assert demo(*words, *ESTATE_AT, "--json", "--language", language).out == demo(*words, *ESTATE_AT, "--json").out
    assert commas > 20


def test_a_comma_is_typed_where_it_is_written_and_kept_as_a_point(farm: Cli) -> None:
    asked = ("set-up", "R1", "--out", "300 m", "--spacing", "72,5 m", "--speed", "20,5 m/h",
             "--hydrant", "7,2", "--keep", "--by", "Mara")  # fmt: skip
    refused = farm(*asked)
    assert (refused.code, "separate thousands" in refused.err) == (2, True)
    assert farm(*asked, "--language", "es").code == 0
    kept = next(one["body"] for one in farm("book", "R1", "--json").json if one["kind"] == "set-up")
    assert (kept["wishes"]["spacing"], kept["planned"]["planned_speed"]) == ("72.5 m", "20.50 m/h")
    assert kept["wishes"]["hydrant"] == "7,2", "what it is called is no figure"
    assert "20,5 m/h" in farm("book", "R1", "--language", "es").out


@pytest.mark.parametrize(("system", "told"), [("metric", "at most 0.69 bar"), ("us", "at most 10 psi")])
def test_the_limit_of_a_reading_is_told_in_the_units_of_the_person(
    system: units.System, told: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("builtins.input", lambda _="": "")
    question = sheets.load().by_id["pre-start"].question("drive-loss")
    assert question is not None
    going: Any = SimpleNamespace(walk=SimpleNamespace(language="en", card=Card("R1"), planned_at=lambda at: {}))
    assert questions.ask(question, going, "1/1", datetime(2026, 7, 1, tzinfo=UTC), system) is None
    assert f"Right is {told}." in capsys.readouterr().out
