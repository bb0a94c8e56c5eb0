"""Sheets: every slip at once with its place, and the plain form as the sheet itself."""

import tomllib
from pathlib import Path

import pytest

from reelcare import languages
from reelcare.core.checks.sheet_table import SheetError, read_sheet, to_plain

SHIPPED = [
    path
    for path in sorted(Path("checklists").glob("*.toml"))
    if not path.name.startswith("plan-") and path.name not in ("set-limits.toml", "machine.toml")
]


def test_every_slip_is_told_at_once_with_its_place() -> None:
    good = {"id": "y", "ask": "?", "kind": "seen", "part": "drum", "if_not": "note"}
    choices = [{"id": "a", "says": "a", "right": True}, {"id": "b", "says": "b"}]
    bad = {
        "id": "s", "title": {"es": "S"}, "for": "races", "colour": "red",
        "stages": [
            {"id": "one", "title": "One", "questions": [
                {"id": "q1", "kind": "guess", "part": "wing", "if_not": "pray", "ask": "?"},
                good | {"id": "q2", "choices": [choices[0]]},
                good | {"id": "q3", "choices": [choices[1], {"id": "b", "says": "c"}]},
                good | {"id": "q4", "choices": choices, "at_most": "3"},
                good | {"id": "q5", "kind": "reading", "quantity": "pressure", "at_most": "10"},
                good | {"id": "q6", "kind": "reading", "quantity": "pressure", "if_not": "stop",
                        "at_most": "card.drive.most_loss"},
                good | {"id": "q7", "choices": choices, "if_not": "fix-by"},
                good | {"id": "q8", "choices": choices, "needs": ["wings"], "wy": "x"},
                good | {"id": "q8", "choices": choices, "fix_by": {"weeks": 2}},
            ]},
            {"id": "two", "title": "Two", "questions": []},
        ],
    }  # fmt: skip
    with pytest.raises(SheetError) as refused:
        read_sheet(bad)
    told = "\n".join(refused.value.problems)
    for place in (
        "colour: not known", "title: no English text", "sheet.for: 'races'", "(q1).kind: 'guess'", "(q1).part: 'wing'",
        "(q1).if_not: 'pray'", "(q2): at least two choices", "(q3): no choice is right", "same id",
        "(q4): a seen has choices",
        "(q5).at_most: '10': say the unit", "(q6): a stop question needs a limit", "(q7): fix-by needs fix_by",
        "(q8).needs: 'wings'", "(q8).wy: not known; did you mean why?", "fix_by.weeks", "q8: two questions",
        "stages[1].questions: missing or empty",
    ):  # fmt: skip
        assert place in told, place


@pytest.mark.parametrize("table", [{}, {"id": "s"}, {"id": "s", "title": "S", "for": "run", "stages": "x"}])
def test_what_is_no_sheet_is_refused(table: dict[str, object]) -> None:
    with pytest.raises(SheetError):
        read_sheet(table)


@pytest.mark.parametrize("limit", [True, {"bar": 10}, [["10 bar"]], []], ids=str)
def test_a_limit_that_is_neither_text_nor_figure_is_named_with_its_place(limit: object) -> None:
    asked = {"id": "q", "ask": "?", "kind": "reading", "quantity": "pressure", "part": "hose", "if_not": "stop"}
    stage = {"id": "a", "title": "A", "questions": [asked | {"at_most": limit}]}
    with pytest.raises(SheetError) as refused:
        read_sheet({"id": "s", "title": "S", "for": "run", "stages": [stage]})
    assert [one for one in refused.value.problems if ".at_most: " in one or ").at_most: " in one]


@pytest.mark.parametrize(("language", "says"), [("es", "titel: no se conoce; ¿"), ("fr", "titel : inconnu; ")])
def test_a_key_that_is_not_known_is_told_in_the_language(language: str, says: str) -> None:
    languages.install(language)
    with pytest.raises(SheetError) as why:
        read_sheet({"titel": "Pre-start"})
    assert why.value.problems[0].startswith(says)


def test_a_limit_that_names_nothing_is_told_in_the_language() -> None:
    languages.install("es")
    question = {"id": "q", "ask": "Q", "kind": "reading", "at_least": []}
    with pytest.raises(SheetError) as why:
        read_sheet({"stages": [{"id": "a", "title": "A", "questions": [question]}]})
    assert "stages[0].questions[0] (q).at_least: vacío" in why.value.problems


@pytest.mark.parametrize("path", SHIPPED, ids=lambda one: one.stem)
def test_the_plain_form_is_the_sheet(path: Path) -> None:
    sheet = read_sheet(tomllib.loads(path.read_text("utf-8")))
    assert read_sheet(to_plain(sheet)) == sheet
