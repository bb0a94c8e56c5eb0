"""Registers of every version, and the demo, say what they said: totals, standings, what is due, the book.

What they say is asked by commands, and held against the answers kept beside (`tests/snapshots.py`).
"""

from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from tests.commands import plain_environment, run
from tests.snapshots import SUBJECTS, Subject, answers, asked, differences, numbered

KEPT = [one for one in SUBJECTS if one.name != "demo"]
OLD_AND_NEW = [pytest.param(one, marks=() if one in (KEPT[0], KEPT[-1]) else pytest.mark.long) for one in KEPT]
pytestmark = pytest.mark.usefixtures("_plain")


@pytest.fixture
def _plain(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "UTC")


@pytest.mark.long
@pytest.mark.parametrize("subject", SUBJECTS, ids=lambda one: one.name)
def test_a_register_is_whole_and_says_what_it_said(subject: Subject, tmp_path: Path) -> None:
    register = tmp_path / "register.db"
    subject.put(register)
    found = answers(register, subject)
    assert found["prove"]["whole"] is True
    different = list(differences(subject.kept, found))
    assert not different, "\n".join([f"{len(different)} differences:", *different[:40]])
    assert found.keys() == subject.kept.keys()


@pytest.mark.parametrize("subject", OLD_AND_NEW, ids=lambda one: one.name)
def test_it_says_the_same_once_its_totals_were_worked_out_anew(subject: Subject, tmp_path: Path) -> None:
    register = tmp_path / "register.db"
    subject.put(register)
    assert run(register, subject.now, "rebuild").code == 0
    assert list(differences(subject.kept, answers(register, subject))) == []


def acute(lines: list[Any]) -> list[Any]:
    """What stands in a list of what is overdue."""
    return [one for one in lines if one["state"] in ("overdue", "unknown") or one["held"]]


@pytest.mark.parametrize("subject", OLD_AND_NEW, ids=lambda one: one.name)
def test_every_way_to_ask_what_is_due_gives_lines_of_one_list(subject: Subject, tmp_path: Path) -> None:
    register = tmp_path / "register.db"
    subject.put(register)
    lines = asked(register, subject, "due")["items"]
    assert asked(register, subject, "due", "--overdue")["items"] == acute(lines)
    for tag in {one["machine"] for one in lines}:
        found = asked(register, subject, "due", "--machine", tag)["items"]
        assert found == [one for one in lines if one["machine"] == tag]
    for past in subject.past:
        at = ("--as-of", past)
        lines = asked(register, subject, "due", *at)["items"]
        overdue = asked(register, subject, "due", "--overdue", *at)["items"]
        assert overdue == acute(lines)


@pytest.mark.parametrize("subject", OLD_AND_NEW, ids=lambda one: one.name)
def test_the_furthest_are_the_first_of_the_list_also_where_two_are_equally_far(
    subject: Subject, tmp_path: Path
) -> None:
    register = tmp_path / "register.db"
    subject.put(register)
    lines = asked(register, subject, "due")["items"]
    for most in ("1", "7", "1000"):
        assert asked(register, subject, "due", "--most", most)["items"] == lines[: int(most)]


def test_the_richest_of_them_has_every_kind() -> None:
    newest = KEPT[-1].kept
    books = [newest[name] for name in newest if name.startswith("book") and "--as-of" not in name]
    kinds = Counter(entry["kind"] for book in books for entry in book)
    assert set(kinds) == {
        "card", "plan", "reading", "run", "check begun", "answer", "check ended", "service", "fault", "repair",
        "re-test", "release", "correction", "measured", "set-up",
    }  # fmt: skip
    assert len({entry["terminal"] for book in books for entry in book}) == 2
    ended = {entry["body"]["verdict"] for book in books for entry in book if entry["kind"] == "check ended"}
    assert ended == {"passed", "held", "left"}


def test_together_they_have_every_standing() -> None:
    yards = [yard for one in SUBJECTS for name, yard in one.kept.items() if name.startswith("yard")]
    for what in ("run", "road"):
        assert {one["standing"][what] for yard in yards for one in yard} == {"clear", "check due", "held"}


@pytest.mark.parametrize(
    ("now", "place"),
    [
        ({"a": [1, {"b": True}]}, ""),
        ({"a": [1, {"b": 1}]}, "['a'][1]['b']: was True, is 1"),
        ({"a": [1]}, "['a']: 2 before, 1 now"),
        ({"a": [1.0, {"b": True}]}, "['a'][0]: was 1, is 1.0"),
        ({"a": [1, {}]}, "['a'][1]: 'b' is missing"),
        ({"a": [1, {"b": True, "new": 1}], "c": 1}, ""),
    ],
)
def test_what_is_another_one_is_named_by_its_place(now: object, place: str) -> None:
    assert list(differences({"a": [1, {"b": True}]}, now)) == ([place] if place else [])


def test_ids_are_told_by_the_order_in_which_they_appear() -> None:
    one, other = (f"019f16d7-8960-7229-a139-aca89d9aac{end}" for end in ("1c", "2d"))
    for first, second in ((one, other), (other, one)):
        told = [{"entry": first, "terminal": "bfa79c53346f"}, {"entry": second, "says": f"takes back {first[-8:]}"}]
        assert numbered(told) == [{"entry": "#0", "terminal": "#1"}, {"entry": "#2", "says": "takes back #0"}]


def test_a_setting_of_whoever_runs_it_changes_nothing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("REELCARE_LANGUAGE", "es")
    KEPT[0].put(tmp_path / "register.db")
    with plain_environment():
        found = asked(tmp_path / "register.db", KEPT[0], "yard")
    assert list(differences(KEPT[0].kept["yard"], found)) == []
