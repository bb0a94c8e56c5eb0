"""`carry`, `copy` and PINs from the command line."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from reelcare.register.integrity import pins

Cli = Callable[..., Any]


@pytest.fixture
def yard(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Cli:
    monkeypatch.setattr(pins, "WAY", "scrypt:16:8:1")
    (tmp_path / "card.toml").write_text('tag = "R1"\n', "utf-8")
    cli("people", "add", "Ann", "--role", "supervisor")
    cli("people", "add", "Bo", "--role", "operator", "--by", "Ann")
    cli("machine", "add", str(tmp_path / "card.toml"), "--by", "Ann")
    return cli


def test_a_register_is_carried_to_another_terminal(yard: Cli, tmp_path: Path) -> None:
    yard("log", "fault", "R1", "pawl", "--says", "spring gone", "--hold", "run", "--by", "Bo")
    out = yard("carry", "out", str(tmp_path / "x.carry"), "--json").json
    there = ("--register", str(tmp_path / "there.db"))
    assert yard("carry", "in", str(tmp_path / "x.carry"), "--look", *there).code == 3, "to look makes no register"
    assert yard("people", "add", "Cas", "--role", "supervisor", *there).code == 0
    look = yard("carry", "in", str(tmp_path / "x.carry"), "--look", "--json", *there).json
    assert (look["brought"], look["new"], look["known"]) == (False, out["entries"], 0)
    assert look["holds"] == ["pawl: spring gone"]
    assert yard("yard", "--json", *there).json == []
    brought = yard("carry", "in", str(tmp_path / "x.carry"), "--json", *there).json
    assert (brought["brought"], brought["new"]) == (True, out["entries"])
    assert yard("yard", "--json", *there).json[0]["standing"]["run"] == "held"
    assert (
        "HOLD  pawl: spring gone"
        in yard("carry", "in", str(tmp_path / "x.carry"), "--register", str(tmp_path / "a.db")).out
    )
    assert yard("carry", "in", str(tmp_path / "x.carry"), "--json", *there).json["new"] == 0


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("carry", "in", "none.carry"), 2, "no such file"),
        (("carry", "in", "card.toml"), 2, "not a carry file"),
        (("carry", "out", "card.toml"), 2, "exists already"),
        (("copy", "card.toml"), 2, "exists already"),
        (("copy", "no/such/folder.db"), 2, "no/such: no such folder"),
    ],
)
def test_what_cannot_be_is_one_line(
    yard: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], code: int, says: str
) -> None:
    monkeypatch.chdir(tmp_path)
    told = yard(*words)
    assert told.code == code
    assert says in told.err


def test_a_copy_tells_the_heads_to_compare(yard: Cli, tmp_path: Path) -> None:
    told = yard("copy", str(tmp_path / "copy.db"), "--json").json
    assert told["heads"] == yard("prove", "--json").json["heads"]
    assert yard("prove", "--register", str(tmp_path / "copy.db")).code == 0
    assert "head of" in yard("copy", str(tmp_path / "again.db")).out


def test_a_pin_is_given_where_one_signs(yard: Cli, monkeypatch: pytest.MonkeyPatch) -> None:
    note = ("log", "fault", "R1", "pawl", "--says", "worn", "--by", "Bo")
    monkeypatch.setenv("REELCARE_NEW_PIN", "739104")
    assert yard("people", "pin", "Bo", "--by", "Bo").code == 0
    assert [one["pin"] for one in yard("people", "--json").json] == [False, True]
    refused = yard(*note)
    assert (refused.code, "REELCARE_PIN" in refused.err) == (6, True)
    monkeypatch.setenv("REELCARE_PIN", "000000")
    assert (yard(*note).code, yard(*note).err) == (6, "reelcare: name or PIN is not right\n")
    monkeypatch.setenv("REELCARE_PIN", "739104")
    assert yard(*note).code == 0
    # the PIN changes only with the old one, or by a supervisor; nobody is locked who was not
    monkeypatch.setenv("REELCARE_NEW_PIN", "1111")
    assert "again and again" in yard("people", "pin", "Bo", "--by", "Bo").err
    assert yard("people", "unlock", "Bo", "--by", "Bo").code == 6
    assert yard("people", "unlock", "Bo", "--by", "Ann").code == 0
