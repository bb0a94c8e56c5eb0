"""Slips of whoever asks: a name that there is not is refused with those that there are, never answered with nothing."""

from typing import Any

import pytest

from reelcare.core import entries as e


def test_who_may_not_is_told_who_may(farm: Any) -> None:
    told = farm("people", "add", "Nils", "--role", "operator", "--by", "Olav")
    assert told.err == "reelcare: Olav is an operator; only a supervisor can do this: Mara\n"
    told = farm("log", "service", "R1", "grease", "--by", "Olav")
    assert (told.code, "only a mechanic can do this: Mara, Tove" in told.err) == (6, True)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["due", "--part", "gearbax"], "did you mean gearbox?"),
        (["due", "--overdue", "--part", "gearbax"], "did you mean gearbox?"),
        (["book", "R1", "--kind", "servise"], "did you mean service?"),
        (["book", "R1", "--most", "-5"], "must be a number of 1 or more"),
        (["book", "R1", "--most", "²"], "must be a number of 1 or more"),
        (["due", "--most", "²"], "must be a number of 1 or more"),
        (["workload", "--weeks", "²"], "1 to 60"),
        (["people", "unlock", "Olaf", "--by", "Mara"], "Olaf: not enrolled here; enrolled: Mara, Tove, Olav"),
        (["set-up", "R1", "--spacing", "60 m", "--out", ""], "pull-out: empty; say it as in 380 m"),
        (["set-up", "R1", "--spacing", "60 m", "--out", "300 m", "--flow", " "], "flow: empty"),
        (["set-up", "R1", "--spacing", "60 m", "--out", "12 ft 6 in"], "write one number, and one unit (m, mm"),
        (["set-up", "R1", "--spacing", "60 m", "--out", "300 m", "--nozzle", "1/2 in"], "a fraction with decimals"),
        (["set-up", "R1", "--spacing", "60 m", "--out", "300 m", "--arc", "200 degrees"], "without a unit"),
        (["yard", "--as-of", ""], "'' is not a time"),
        (["due", "--json", "--as-of", " "], "'' is not a time"),
        (["machine", "move", "R1", "Hill", "--by", "Mara", "--at", ""], "'' is not a time"),
        (["log", "fault", "R1", "hose", "--says", "x", "--by", "Mara", "--fix-by", ""], "--fix-by: '': write 20 h"),
        (["log", "note", "R1", "--says", "x", "--by", "Mara", "--until", ""], "--until: '' is not a day"),
        (["give", "R1", "chain", "--to", "nobody", "--by", "Mara", "--day", ""], "--day: '' is not a day"),
        (["give", "R1", "chain", "--to", "", "--by", "Mara"], "name: empty"),
        (["due", "--person", ""], "--person: empty"),
        (["report", "list", "list.csv", "--for", ""], "name: empty"),
        (["report", "list", "list.csv", "--day", ""], "--day: '' is not a day"),
        (["report", "season", "season.html", "--from", ""], "'' is not a time"),
        (["report", "water", "water.csv", "--until", ""], "'' is not a time"),
        (["night", "North", "--from", ""], "'' is not a time"),
        (["report", "night", "North", "night.html", "--until", ""], "'' is not a time"),
    ],
)  # fmt: skip
def test_a_slip_is_refused_with_what_would_be_right(farm: Any, words: list[str], says: str) -> None:
    told = farm(*words)
    assert (told.code, told.out) == (2, "")
    assert says in told.err


def test_an_empty_name_is_not_somebody_else_s(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("REELCARE_BY", "Mara")
    assert farm("machine", "move", "R1", "Hill").code == 0
    told = farm("machine", "move", "R1", "North", "--by", "")
    assert (told.code, told.out) == (2, "")
    assert "say who: --by NAME" in told.err


@pytest.mark.parametrize(
    ("place", "says"), [("Nroth", "no machine is at Nroth; did you mean North?"), ("Moon", "choose from North")]
)
def test_a_place_where_no_machine_is_is_told(farm: Any, place: str, says: str) -> None:
    for words in (["due"], ["due", "--overdue"], ["due", "--as-of", "2026-05-01"], ["workload"]):
        told = farm(*words, "--place", place)
        assert told.code == 0
        assert says in told.err
    assert "no machine" not in farm("due", "--place", "north").err


def test_a_place_or_part_where_nothing_is_due_is_no_slip(farm: Any) -> None:
    for words in (["--place", "north"], ["--part", "Lights"]):
        assert farm("due", "--overdue", *words).code == 0
        assert farm("due", "--within", "0", *words).code == 0


def test_every_kind_of_entry_can_be_asked_of_the_book(farm: Any) -> None:
    for kind in e.KINDS:
        assert farm("book", "R1", "--kind", kind, "--json").code == 0
