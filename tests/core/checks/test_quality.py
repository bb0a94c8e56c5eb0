"""Marks on checks: fast answers, shares with their spread, readings that never change; and what they do not say."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from reelcare.core.checks.quality import (
    TOO_FAST,
    FinishedCheck,
    Share,
    looked_too_early,
    people,
    same_readings,
    timed_answers,
)
from reelcare.core.checks.sheet import Gate
from reelcare.core.checks.sheet_table import read_sheet
from reelcare.core.checks.verdict import Given, Signature, Walk
from reelcare.core.machine.card import Card

ROWS = {row["id"]: row for row in json.loads(Path("tests/references/upkeep.json").read_text("utf-8"))}
T = datetime(2026, 5, 1, 6, tzinfo=UTC)
SHEET = read_sheet({
    "id": "s", "title": "S", "for": "run", "stages": [{"id": "one", "title": "One", "questions": [
        {"id": "a", "ask": "?", "kind": "seen", "part": "drum", "if_not": "note", "why": "w",
         "choices": [{"id": "x", "says": "x", "right": True}, {"id": "y", "says": "y"}]},
        {"id": "p", "ask": "?", "kind": "reading", "quantity": "pressure", "part": "gauges", "if_not": "fix-by",
         "fix_by": {"runs": 1}, "at_most": "7 bar", "why": "w"},
    ]}],
})  # fmt: skip


def walk(*given: tuple[str, str, float], begun: datetime = T, terminal: str = "t") -> Walk:
    answers = tuple(
        Given(question, seen, begun + timedelta(seconds=after), "Ann", f"{place:04}", "", terminal)
        for place, (question, seen, after) in enumerate(given)
    )
    return Walk(SHEET, begun, answers, Card("R1"), {})


def test_an_answer_within_a_second_is_marked_and_no_other() -> None:
    # row Q16: challenge to response under 1 s (NTSB/AAR-89/04, as quoted)
    assert ROWS["Q16"]["tolerance"] == "< 1 s"
    assert timedelta(seconds=1) == TOO_FAST
    found = timed_answers(walk(("a", "x", 0.9), ("p", "6 bar", 1.9), ("a", "x", 2.8)))
    assert [one.fast for one in found] == [True, False, True]


def test_a_clock_that_goes_back_marks_and_does_not_break() -> None:
    found = timed_answers(walk(("a", "x", -3600), ("p", "6 bar", 5)))
    assert found[0].after == timedelta(0)
    assert found[0].fast


@given(st.integers(0, 400), st.integers(1, 400))
def test_the_spread_of_a_share_is_wilsons(count: int, of: int) -> None:
    share = Share(min(count, of), of)
    told = binomtest(share.count, of).proportion_ci(0.95, method="wilson")
    assert share.span is not None
    assert share.span == pytest.approx((told.low, told.high), abs=1e-9)
    assert share.span[0] <= share.count / share.of <= share.span[1]


def test_the_spread_of_a_share_is_that_of_the_references_to_their_last_digit() -> None:
    assert Share(14, 20).span == pytest.approx(tuple(ROWS["F33"]["expected"]), abs=1e-9)


def test_two_shares_add_up_and_none_has_no_spread() -> None:
    assert Share(0, 0).span is None
    assert Share(1, 2) + Share(2, 3) == Share(3, 5)


def test_people_stand_beside_all() -> None:
    checks = [
        FinishedCheck("R1", "Ann", walk(("a", "x", 0.2), ("p", "6 bar", 0.4))),
        FinishedCheck("R1", "Bo", walk(("a", "x", 9), ("p", "8 bar", 20))),
    ]
    everyone, (ann, bo) = people(checks)
    assert (everyone.checks, everyone.fast, everyone.found) == (2, Share(2, 4), Share(1, 2))
    assert (ann.name, ann.fast, ann.found) == ("Ann", Share(2, 2), Share(0, 1))
    assert (bo.fast, bo.found, bo.middle) == (Share(0, 2), Share(1, 1), 10)
    nobody, none = people([])
    assert (nobody.checks, nobody.middle, none) == (0, None, [])


def test_the_same_reading_over_weeks_is_marked_and_a_changing_one_is_not() -> None:
    def checks(readings: list[str], apart: timedelta) -> list[FinishedCheck]:
        return [
            FinishedCheck("R1", "Ann", walk(("a", "x", 5), ("p", one, 9), begun=T + n * apart))
            for n, one in enumerate(readings)
        ]

    weekly = timedelta(days=7)
    (same,) = same_readings(checks(["6.5 bar"] * 6, weekly))
    assert (same.question, same.seen, same.checks) == ("p", "6.5 bar", 6)
    assert same_readings(checks(["6.5 bar", "6.4 bar"] * 6, weekly)) == []
    assert same_readings(checks(["6.5 bar"] * 6, timedelta(hours=2))) == []
    # choices are the same on a good machine, and tell nothing
    assert same_readings(checks(["6.5 bar", "6.4 bar", "6.5 bar", "6.5 bar", "6.6 bar"], weekly)) == []


def test_answers_from_paper_have_no_times_of_their_own_and_are_said_to_be_from_paper() -> None:
    found = walk(("a", "x", 0), ("p", "6 bar", 0))
    paper = replace(found, given=tuple(one._replace(from_paper=True) for one in found.given))
    assert timed_answers(paper) == []
    everyone, _ = people([FinishedCheck("m", "Ann", paper)])
    assert (everyone.fast.of, everyone.middle) == (0, None)


@pytest.mark.parametrize(("minutes", "early"), [(9.9, True), (10, False), (25, False)])
def test_a_look_sooner_than_ten_minutes_after_the_water_is_marked(minutes: float, early: bool) -> None:
    gates: tuple[Gate, ...] = ("water", "running")
    stages = [SHEET.stages[0]._replace(id=gate, gate=gate, questions=SHEET.questions[place : place + 1])
              for place, gate in enumerate(gates)]  # fmt: skip
    after = 60 + minutes * 60
    found = replace(walk(("a", "x", 30), ("p", "6 bar", after)), sheet=replace(SHEET, stages=tuple(stages)))
    signed = replace(found, signed=(Signature("water", T + timedelta(seconds=60), "Ann", "0000a"),))
    assert looked_too_early(signed) is early
    assert looked_too_early(found) is None
    assert people([FinishedCheck("m", "Ann", signed)])[0].early == Share(int(early), 1)
