"""`carry`, `copy` and PINs from the command line."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
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
    assert look["holds"] == ["R1, pawl: spring gone"], "of which machine it is, too"
    assert yard("yard", "--json", *there).json == []
    assert yard("carry", "in", str(tmp_path / "x.carry"), *there).code == 2, "who brings it in signs for it"
    by = ("--by", "Cas")
    brought = yard("carry", "in", str(tmp_path / "x.carry"), "--json", *by, *there).json
    assert (brought["brought"], brought["new"]) == (True, out["entries"])
    assert yard("yard", "--json", *there).json[0]["standing"]["run"] == "held"
    again = yard("carry", "in", str(tmp_path / "x.carry"), "--json", *by, *there).json
    assert (again["new"], [one["kind"] for one in again["waiting"]]) == (0, ["person", "person"])


@pytest.mark.parametrize(
    ("ahead", "language", "told"),
    [
        (timedelta(hours=50), "en", "is ahead by 2 days; check both clocks"),
        (timedelta(hours=50), "es", "va 2 días adelantado"),
        (timedelta(minutes=12), "en", "is ahead by 12 min; check both clocks"),
    ],
)
def test_how_far_a_clock_is_ahead_is_told_in_one_unit_and_in_the_persons_language(
    yard: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ahead: timedelta, language: str, told: str
) -> None:
    at = datetime.now(UTC).replace(microsecond=123456)
    monkeypatch.setattr("reelcare.cli.common.now", lambda: at + ahead + timedelta(minutes=1))
    yard("carry", "out", str(tmp_path / "x.carry"))
    monkeypatch.setattr("reelcare.cli.common.now", lambda: at)
    out = yard("carry", "in", str(tmp_path / "x.carry"), "--look", "--language", language).out
    assert told in " ".join(out.split())


def test_what_waits_is_listed_accepted_and_refused(yard: Cli, tmp_path: Path) -> None:
    carried, by, why = str(tmp_path / "x.carry"), ("--by", "Ann"), ("--why", "asked them")
    there = ("--register", str(tmp_path / "there.db"))
    assert yard("carry", "waiting").err == "nothing waits to be accepted here\n"
    yard("people", "add", "Cas", "--role", "supervisor", *there)
    yard("people", "add", "Dov", "--role", "mechanic", "--by", "Cas", *there)
    yard("carry", "out", carried, *there)
    told = yard("carry", "in", carried, *by)
    assert "Dov, mechanic: nobody -> mechanic, because Cas enrolled Dov there" in told.out
    waits = {one["to"]: one for one in yard("carry", "waiting", "--json").json}
    assert set(waits["mechanic"]) == {"id", "machine", "kind", "from", "to", "because", "terminal", "person"}
    assert yard("carry", "accept", waits["mechanic"]["id"], "--by", "Bo", *why).code == 6
    assert yard("carry", "accept", waits["mechanic"]["id"], *by).code == 2
    assert yard("carry", "accept", waits["mechanic"]["id"], *by, *why).out.startswith("accepted  Dov, mechanic")
    assert yard("carry", "refuse", waits["supervisor"]["id"][-8:], *by, *why).code == 0
    assert yard("carry", "waiting", "--json").json == []
    assert [one["name"] for one in yard("people", "--json").json] == ["Ann", "Bo", "Dov"]
    decided = {one["id"]: one for one in yard("corrections", "--json").json["carried"]}
    assert {id: (one["accepted"], one["by"], one["why"]) for id, one in decided.items()} == {
        waits["mechanic"]["id"]: (True, "Ann", "asked them"),
        waits["supervisor"]["id"]: (False, "Ann", "asked them"),
    }
    assert yard("carry", "accept", "0000", *by, *why).code == 2


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


def test_a_lone_supervisor_comes_back_by_a_code_that_leaves_a_trace_and_never_without_another(
    yard: Cli, monkeypatch: pytest.MonkeyPatch
) -> None:
    def code_in(told: Any) -> str:
        found = re.search(r"[A-Z0-9]{5}(-[A-Z0-9]{5}){3}", told.err)
        assert found, told.err
        return found[0]

    def recovered(code: str) -> Any:
        monkeypatch.setenv("REELCARE_RECOVERY", code)
        return yard("people", "unlock", "Ann", "--recovery")

    monkeypatch.setenv("REELCARE_NEW_PIN", "739104")
    first = code_in(yard("people", "pin", "Ann", "--by", "Ann"))
    monkeypatch.delenv("REELCARE_NEW_PIN")
    back = recovered(first)
    assert back.code == 0
    # the PIN is lost, and no terminal is here to ask for another: the way back stays open
    assert recovered(first).code == 6
    monkeypatch.setenv("REELCARE_NEW_PIN", "820416")
    again = recovered(code_in(back))
    assert (again.code, code_in(again) in (first, code_in(back))) == (0, False)
    monkeypatch.setenv("REELCARE_PIN", "820416")
    assert yard("people", "unlock", "Bo", "--by", "Ann").code == 0
    assert [one["by"] for one in yard("corrections", "--json").json["recoveries"]] == ["Ann", "Ann"]
    assert yard("corrections").err.count("Ann signed in with the recovery code") == 2


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
    assert "repeats one character" in yard("people", "pin", "Bo", "--by", "Bo").err
    assert yard("people", "unlock", "Bo", "--by", "Bo").code == 6
    assert yard("people", "unlock", "Bo", "--by", "Ann").code == 0
