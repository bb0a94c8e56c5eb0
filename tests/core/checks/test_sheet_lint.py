"""The published rules of check-list design: the shipped sheets keep them, and a sheet that does not is told so."""

import json
from pathlib import Path

import pytest

from reelcare.core.checks.sheet_lint import lint
from reelcare.core.checks.sheet_table import read_sheet
from reelcare.register import sheets

ROWS = {row["id"]: row for row in json.loads(Path("tests/references/upkeep.json").read_text("utf-8"))}
SHIPPED = sheets.load().by_id


@pytest.mark.parametrize("id", sorted(SHIPPED))
def test_the_shipped_sheets_keep_the_published_rules(id: str) -> None:
    # rows Q01, Q04, Q05, Q06 (Degani & Wiener 1990, as quoted), Q23 and Q36 (length)
    assert lint(SHIPPED[id]) == []


def question(id: str, if_not: str, **more: object) -> dict[str, object]:
    choices = [{"id": "a", "says": more.pop("says", "both feet in"), "right": True}, {"id": "b", "says": "one loose"}]
    return {
        "id": id, "ask": "?", "kind": "seen", "part": "legs", "if_not": if_not, "choices": choices, "why": "w",
        "do": "d",
        **({"fix_by": {"runs": 1}} if if_not == "fix-by" else {}), **more,
    }  # fmt: skip


def all_told(*questions: dict[str, object], **stage: object) -> list[str]:
    return lint(
        read_sheet({
            "id": "s", "title": "S", "for": "run",
            "stages": [{"id": "legs", "title": "At the legs", "questions": list(questions), **stage}],
        })
    )  # fmt: skip


def told(*questions: dict[str, object], **stage: object) -> list[str]:
    """Without what is told of the whole sheet."""
    return [one for one in all_told(*questions, **stage) if one not in (NO_GATE, NO_TEST)]


NO_GATE = "no stage has a `gate`: one signature at the end makes the machine clear for a run"
NO_TEST = "no question tries the end stop (kind test, part end stop)"


def test_a_sheet_that_clears_without_gates_or_stop_test_is_told_so() -> None:
    assert all_told(question("feet", "stop")) == [NO_GATE, NO_TEST]
    tried = question("stop", "stop", kind="test", part="end stop")
    assert all_told(tried, gate="water") == []


def test_ticks_instead_of_what_is_seen_are_told() -> None:
    assert ROWS["Q01"]["expected"].startswith("answer must state the status")
    assert told(question("feet", "stop", says="Checked.")) == [
        "legs.feet: the answer 'Checked.' says that somebody looked, not what was seen"
    ]


def test_the_most_dangerous_come_first_unless_the_work_has_its_order() -> None:
    assert ROWS["Q05"]["expected"].startswith("most critical items first")
    two = (question("paint", "note"), question("feet", "stop"))
    assert "a stop question after paint" in told(*two)[0]
    assert told(*two, in_order=True) == []
    assert told(*reversed(two)) == []


def test_long_stages_and_questions_without_a_why_are_told() -> None:
    many = [question(f"q{number}", "stop") for number in range(10)]
    assert "10 questions; 9 at most" in told(*many)[0]
    bare = question("feet", "stop")
    del bare["why"], bare["do"]
    assert told(bare) == [
        "legs.feet: does not say why it is asked",
        "legs.feet: does not say what to do if it is not right",
    ]


def test_a_position_that_can_be_undone_is_asked_again() -> None:
    assert "repeat critical items" in ROWS["Q06"]["expected"]
    assert told(question("feet", "stop", sets="legs=set")) == [
        "feet: legs can be undone on the way; ask for it again from there"
    ]
    assert told(question("feet", "stop", sets="legs=set"), question("again", "stop", sets="legs=set")) == []
