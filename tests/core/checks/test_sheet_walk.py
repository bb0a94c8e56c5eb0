"""The sheets against the model of the machine: their order is that of the work, on every kind of machine."""

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from reelcare import languages
from reelcare.core.checks.sheet import Sheet, for_machine, for_second_run, left_out_again
from reelcare.core.checks.sheet_table import read_sheet
from reelcare.core.checks.sheet_walk import problems, unknown_names
from reelcare.core.machine.card import Card, Cart, Drive, Drum, Legs
from reelcare.core.machine.equipment_kinds import every_kind, few_kinds
from reelcare.core.machine.model_reader import read_model
from reelcare.core.wording import SHORT, SHORT_ELSEWHERE

FOLDER = Path("checklists")
MODEL = read_model(tomllib.loads((FOLDER / "machine.toml").read_text("utf-8")))
IDS = ("pre-start", "after-run", "road", "timing-check", "weekly-shop", "season-opening", "lay-up", "rescue", "goes-on")
ENDS = {
    "pre-start": "irrigating", "after-run": "shut down", "road": "road", "timing-check": "hose home",
    "weekly-shop": "working on it", "season-opening": "working on it", "lay-up": "working on it", "rescue": "hose home",
    "goes-on": "irrigating",
}  # fmt: skip
FEW = few_kinds()


def plain(id: str) -> dict[str, Any]:
    return tomllib.loads((FOLDER / f"{id}.toml").read_text("utf-8"))


def sheet(id: str) -> Sheet:
    return read_sheet(plain(id))


def changed(id: str, change: Callable[[list[dict[str, Any]]], None]) -> Sheet:
    """A sheet whose questions, all in one stage, were changed."""
    table = plain(id)
    questions = [one for stage in table["stages"] for one in stage["questions"]]
    change(questions)
    table["stages"] = [{"id": "all", "title": "All", "questions": questions}]
    return read_sheet(table)


def move(questions: list[dict[str, Any]], id: str, before: str) -> None:
    one = next(each for each in questions if each["id"] == id)
    questions.remove(one)
    questions.insert(next(at for at, each in enumerate(questions) if each["id"] == before), one)


@pytest.mark.parametrize("id", IDS)
def test_every_shipped_sheet_goes_in_its_order_and_ends_at_its_goal(id: str) -> None:
    one = sheet(id)
    assert one.ends == ENDS[id]
    assert list(unknown_names(one, MODEL)) == []
    for card in FEW[:6]:
        assert problems(one, MODEL, card) == [], card


@pytest.mark.long
@pytest.mark.parametrize("id", IDS)
def test_every_shipped_sheet_goes_on_every_kind_of_machine(id: str) -> None:
    for card in every_kind():
        assert problems(sheet(id), MODEL, card) == [], card


def test_each_sheet_of_the_folder_is_walked() -> None:
    others = {"machine.toml", "set-limits.toml", "plan-default.toml"}
    assert {path.stem for path in FOLDER.glob("*.toml") if path.name not in others} == set(IDS)


@pytest.mark.parametrize(
    ("id", "moved", "before", "says"),
    [
        ("pre-start", "drive-out", "pawl-down", "drive-out: drum block found on cannot be put right here"),
        ("pre-start", "coils-tight", "pawl-down", "coils-tight: hand crank found on cannot be put right here"),
        ("timing-check", "drive-out", "walk-pace", "drive-out: drum block found on cannot be put right here"),
        ("weekly-shop", "iso-drum", "iso-water", ""),
    ],
)
def test_an_order_that_the_work_does_not_have_is_named(id: str, moved: str, before: str, says: str) -> None:
    wrong = changed(id, lambda questions: move(questions, moved, before))
    card = next(one for one in FEW if one.drive.crank and one.drive.pto)
    told = "\n".join(problems(wrong, MODEL, card))
    assert says in told
    assert bool(says) == bool(told)


def test_a_sheet_that_does_not_come_to_its_goal_is_named() -> None:
    def without_the_air(questions: list[dict[str, Any]]) -> None:
        questions.remove(next(one for one in questions if one["id"] == "air-out"))

    short = changed("lay-up", without_the_air)
    assert "ends: not 'working on it' after the last question; Pressure in hose: of air" in "\n".join(
        problems(short, MODEL, FEW[0])
    )


def test_a_part_position_state_or_goal_that_is_not_in_the_model_is_named() -> None:
    def change(questions: list[dict[str, Any]]) -> None:
        questions[0]["sets"] = "wings=out"
        questions[1]["sets"] = "pawl=sideways"
        questions[2]["rests_on"] = ["moon"]

    table = plain("after-run") | {"begins": "dawn", "ends": "paradise"}
    wrong = changed("after-run", change)
    told = "\n".join([*unknown_names(wrong, MODEL), *unknown_names(read_sheet(table), MODEL)])
    for piece in (
        "'wings' is no part of the machine", "pawl cannot be 'sideways'; choose from down, up", "rests_on: 'moon'",
        "begins: 'dawn' is not known", "ends: 'paradise' is not known",
    ):  # fmt: skip
        assert piece in told


def test_a_kept_sheet_with_what_this_version_does_not_know_is_read_as_it_was_asked() -> None:
    old = plain("after-run")
    old["mood"] = "good"
    question = old["stages"][0]["questions"][0]
    question |= {"colour": "red", "sets": "wings=out", "needs": ["wings"], "again": True}
    kept = read_sheet(old, kept=True)
    assert kept.questions[0].positions == (("wings", "out"),)
    assert kept.questions[0].needs == ()
    assert kept.questions[0].again


# --- a second run


def again(card: Card) -> set[str]:
    marked = for_second_run(sheet("pre-start"), MODEL)
    return {one.id for one in marked.without(left_out_again(marked, card)).questions}


CARD = Card("R1", drum=Drum(turntable=True), drive=Drive("turbine"), legs=Legs("cranked"), cart=Cart("gun"))


def test_a_second_run_asks_all_that_the_work_between_two_runs_undoes() -> None:
    asked = again(CARD)
    # the trade: gate 1 of the second run, and all of gates 2 and 3 (common practice, no source)
    assert asked >= {
        "overhead", "stream", "wind", "heading", "pin", "level", "feet", "cart", "supply", "hitch", "drive-out",
        "pawl-up", "pawl-down", "coils", "coils-tight", "hose-walk", "supply-hose", "guards", "turbine", "stop-reset",
        "stop-test", "drive-in", "people", "flow", "inlet", "drive-loss", "speed", "reach", "feet-again", "coil-lies",
        "attends",
    }  # fmt: skip
    assert not asked & {"ground", "hydrant", "arc"}
    assert "leg-oil" in again(Card("R1", legs=Legs("hydraulic")))
    assert "boom" in again(Card("R1", cart=Cart("boom")))


def test_every_part_that_a_second_run_moves_is_asked_about() -> None:
    model = MODEL.for_machine(CARD)
    moved = model.moved_by(model.second_run)
    marked = for_machine(for_second_run(sheet("pre-start"), MODEL), CARD)
    told = {part for one in marked.questions if one.again for part, _ in one.established("")} | {"drum heading"}
    # neither chocks nor jack are looked at by name: level across says so
    assert moved - told <= {"tension", "stop test", "chocks", "jack", "control", "tractor"} | told
    assert {"legs", "cart", "hose", "pawl", "drive", "supply", "pressure", "supply hose", "turntable pin"} <= told


def test_what_a_file_says_of_a_second_run_is_ignored() -> None:
    def flag(questions: list[dict[str, Any]]) -> None:
        for one in questions:
            one["again"] = one["id"] == "ground"

    marked = for_second_run(changed("pre-start", flag), MODEL)
    assert {one.id for one in marked.questions if one.again} == {
        one.id for one in for_second_run(sheet("pre-start"), MODEL).questions if one.again
    }


# --- short titles


@pytest.mark.parametrize("id", IDS)
def test_every_question_has_a_short_title_in_every_language(id: str) -> None:
    for one in sheet(id).questions:
        assert one.short is not None, one.id
        for language in languages.LANGUAGES:
            most = SHORT.get(language, SHORT_ELSEWHERE)
            assert 0 < len(one.short[language]) <= most, (one.id, one.short[language])
