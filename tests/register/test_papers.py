"""A blank that was filled in at the machine and is entered afterwards: what it clears, what it holds, and its marks."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.checks.verdict import Given
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.demo import _right
from reelcare.register.errors import Refused
from reelcare.register.exchange.papers import Paper, paper_of, refuse_entered
from reelcare.register.reading import yard as yards
from reelcare.register.views import ungated
from tests.register.conftest import while_it_waits

H, MINUTE = timedelta(hours=1), timedelta(minutes=1)


def paper_at(yard: Any, at: datetime) -> Paper:
    sheet = sheets.load().by_id["pre-start"]
    going = walk_rounds.prepare(yard.register, yard.machine, sheet, by="Olav", at=at)
    return paper_of(going, by="Olav", at=at)


def answered(paper: Paper, until: str = "") -> Paper:
    """The paper with what is open of the next gate answered right, up to a question."""
    while (question := paper.here.walk.next_in_gate(paper.at, "Olav")) is not None and question.id != until:
        paper = paper.answered(question.id, _right(question, paper.here.walk))
    return paper


def signed(yard: Any, paper: Paper, *minutes: int) -> Paper:
    """The paper with as many gates answered and signed, each so long after its beginning."""
    began = paper.at
    for one in minutes:
        paper = answered(paper).signed(yard.register, began + one * MINUTE)
    return paper


def standing(yard: Any) -> tuple[str, str, str | None]:
    found = yards.machine_now(yard.register, yard.machine, yard.now).standing
    return found.run, found.gate, found.held_as


def test_a_paper_clears_as_of_when_it_was_filled_in_and_says_so_in_the_book(yard: Any) -> None:
    at, before = yard.now, len(yard.register.of_machine(yard.machine))
    paper = signed(yard, paper_at(yard, at), 5, 20, 40)
    yard.now += 3 * H
    assert len(yard.register.of_machine(yard.machine)) == before, "nothing is written before all was read"
    written = paper.write(yard.register, now=yard.now)
    assert standing(yard) == ("clear", "running", None)
    assert yard.register.rebuild() == []
    told = [one for one in written if isinstance(one.what, e.Answered | e.GateSigned | e.CheckEnded)]
    assert all(one.what.describe().endswith(", from paper") for one in told)
    assert {one.recorded for one in written} == {yard.now}
    gates = [one.happened - at for one in written if isinstance(one.what, e.GateSigned)]
    ends = [one.happened - at for one in written if isinstance(one.what, e.CheckEnded)]
    assert [*gates, *ends] == [5 * MINUTE, 20 * MINUTE, 40 * MINUTE]
    # and it lapses as if it had been answered in the register then
    yard.now = at + 25 * H
    assert standing(yard)[0] == "check due"


def test_a_check_that_begins_on_paper_began_when_the_paper_was_filled_in(yard: Any) -> None:
    at, sheet = yard.now, sheets.load().by_id["pre-start"]
    yard.now += 2 * H
    going = walk_rounds.prepare(yard.register, yard.machine, sheet, by="Olav", at=yard.now)
    written = signed(yard, paper_of(going, by="Olav", at=at), 5).write(yard.register, now=yard.now)
    assert [one.happened for one in written if isinstance(one.what, e.CheckBegun)] == [at]


def test_a_run_that_was_logged_before_its_paper_was_entered_has_its_gates(yard: Any) -> None:
    at = yard.now
    yard.now += 12 * H
    yard.register.add(
        e.Run(started=at + H, ended=at + 11 * H, metres=300_000), machine=yard.machine, by="Olav", now=yard.now
    )
    assert ungated.between(yard.register, at, yard.now) != []
    signed(yard, paper_at(yard, at), 5, 20, 40).write(yard.register, now=yard.now)
    assert ungated.between(yard.register, at, yard.now) == []
    assert standing(yard)[0] == "check due", "the run used it up"
    assert yard.register.rebuild() == []


def test_a_stop_test_that_failed_on_paper_holds_the_machine(yard: Any) -> None:
    paper = signed(yard, paper_at(yard, yard.now), 5)
    paper = answered(paper, until="stop-test")
    question = paper.here.walk.next_in_gate(paper.at, "Olav")
    assert question is not None
    wrong = next(one.id for one in question.choices if not one.right)
    yard.now += H
    written = paper.answered(question.id, wrong).write(yard.register, now=yard.now)
    assert standing(yard) == ("held", "", "machine")
    ends = [one.what.verdict for one in written if isinstance(one.what, e.CheckEnded)]
    assert ends == ["held"]


def test_a_paper_is_entered_once_and_by_one_person(yard: Any) -> None:
    at = yard.now
    signed(yard, paper_at(yard, at), 5, 20, 40).write(yard.register, now=at + H)
    before = len(yard.register.of_machine(yard.machine))
    again = signed(yard, paper_at(yard, at), 5, 20, 40)
    with pytest.raises(Refused, match="by Olav is on this sheet"):
        again.write(yard.register, now=at + H)
    with pytest.raises(Refused, match="entered already"):
        refuse_entered(yard.register, again.going, at)
    assert len(yard.register.of_machine(yard.machine)) == before
    later = signed(yard, paper_at(yard, at + 41 * MINUTE), 5)
    later.write(yard.register, now=at + 2 * H)
    walk_rounds.leave(yard.register, later_id(yard), by="Olav", now=at + 2 * H, why="the wrong figures")
    assert signed(yard, paper_at(yard, at + 41 * MINUTE), 5).write(yard.register, now=at + 3 * H), "given up"


def later_id(yard: Any) -> str:
    (one,) = yard.register.state(yard.machine).open_checks
    return str(one.id)


def test_what_was_put_right_on_the_paper_holds_no_more_and_both_tries_stand_in_the_book(yard: Any) -> None:
    paper = answered(paper_at(yard, yard.now), until="feet").answered("feet", "one")
    with pytest.raises(Refused, match="are still open: Both feet"):
        paper.signed(yard.register, paper.at)
    paper = signed(yard, paper, 5)
    yard.now += H
    written = paper.write(yard.register, now=yard.now)
    assert standing(yard) == ("check due", "pull-out", None)
    tries = [one.what.seen for one in written if isinstance(one.what, e.Answered) and one.what.question == "feet"]
    assert tries == ["one", "both"]
    assert yard.register.rebuild() == []


def test_a_hold_of_the_place_on_the_paper_takes_a_word_of_what_changed(yard: Any) -> None:
    first = paper_at(yard, yard.now)
    question = first.here.walk.sheet.questions[0]
    trials = {one.id: Given(question.id, one.id, first.at, "Olav") for one in question.choices}
    judged = {id: first.here.walk.judgement(one) for id, one in trials.items()}
    wrong = next(id for id, one in judged.items() if one.holds and one.owner == "place")
    right = _right(question, first.here.walk)
    tried = first.answered(question.id, wrong)
    assert tried.needs_word(yard.register, question.id)
    assert not first.needs_word(yard.register, question.id)
    yard.now += H
    signed(yard, tried.answered(question.id, right, "another lane"), 5).write(yard.register, now=yard.now)
    assert standing(yard) == ("check due", "pull-out", None)


def test_no_gate_is_signed_on_paper_while_something_held_the_machine_then(yard: Any) -> None:
    yard.now += 2 * H
    at = yard.now
    yard.now += MINUTE
    fault = yard.add(e.Fault(part="pawl", says="spring gone", holds="both", retest="pawl holds"))
    yard.now += H
    with pytest.raises(Refused, match=r"held .machine.*pawl: spring gone"):
        signed(yard, paper_at(yard, at + 2 * MINUTE), 5)
    # the paper of before it is taken, and changes nothing of the hold
    signed(yard, paper_at(yard, at - H), 5, 20).write(yard.register, now=yard.now)
    assert standing(yard)[0] == "held"
    for what in (e.Repair(fault=fault.id, says="spring"), e.Retest(fault=fault.id, passed=True),
                 e.Release(fault=fault.id)):  # fmt: skip
        yard.add(what)
    assert standing(yard)[0] == "check due"
    assert yard.register.rebuild() == []


def test_a_paper_goes_on_from_an_open_check_and_never_before_its_answers(yard: Any) -> None:
    sheet = sheets.load().by_id["pre-start"]
    going = walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now)
    question = going.walk.sheet.questions[0]
    yard.now += MINUTE
    seen = _right(question, going.walk)
    going = walk_rounds.answer(yard.register, going, question.id, seen, by="Olav", now=yard.now).check
    with pytest.raises(Refused, match="answers later than this paper"):
        paper_of(going, by="Olav", at=yard.now - 2 * MINUTE)
    paper = signed(yard, paper_of(going, by="Olav", at=yard.now), 5)
    yard.now += H
    paper.write(yard.register, now=yard.now)
    after = walk_rounds.check(yard.register, going.id)
    assert [one.from_paper for one in after.walk.given][:2] == [False, True]
    assert [one.gate for one in after.walk.signed] == ["pull-out"]
    with pytest.raises(Refused, match="answers later than this paper"):  # nothing counts before what is signed
        paper_of(after, by="Olav", at=after.walk.signed[0].at - timedelta(seconds=1))


def test_times_on_a_paper_stand_in_their_order(yard: Any) -> None:
    paper = signed(yard, paper_at(yard, yard.now), 20)
    with pytest.raises(Refused, match="before the time above it"):
        answered(paper).signed(yard.register, yard.now + 5 * MINUTE)


SET_A = {"inlet_pressure": "6.5 bar", "planned_speed": "30 m/h", "pull_out": "300 m"}
SET_B = {"inlet_pressure": "4 bar", "planned_speed": "20 m/h", "pull_out": "300 m"}


def keep_set(yard: Any, at: datetime, values: dict[str, str]) -> None:
    what = e.SetPlanned(wishes={"out": "300 m"}, planned=values)
    yard.register.add(what, machine=yard.machine, by="Olav", now=yard.now, happened=at)


@pytest.mark.parametrize(("minutes", "by_a"), [(-10, False), (10, False), (30, False), (50, True)])
def test_a_paper_is_judged_by_the_set_that_held_when_its_gate_was_signed(yard: Any, minutes: int, by_a: bool) -> None:
    """Printed with set A; set B was kept before it was begun, while it was filled in, or after it."""
    at = yard.now
    yard.now += 3 * H
    keep_set(yard, at - H, SET_A)
    keep_set(yard, at + minutes * MINUTE, SET_B)
    paper = signed(yard, paper_at(yard, at), 5, 20)
    while (question := paper.here.walk.next_in_gate(paper.at, "Olav")) is not None:
        read = {"inlet": "6.5 bar", "speed": "30 m/h"}.get(question.id)
        paper = paper.answered(question.id, read or _right(question, paper.here.walk))
    paper = paper.signed(yard.register, at + 40 * MINUTE)
    written = paper.write(yard.register, now=yard.now)
    judged = {one.what.question: one.what.judged for one in written if isinstance(one.what, e.Answered)}
    assert (judged["inlet"], judged["speed"]) == (("right", "right") if by_a else ("wrong", "wrong"))
    kept = {one.what.check for one in written if isinstance(one.what, e.Answered)}
    after = walk_rounds.check(yard.register, kept.pop())
    assert {one.question: after.walk.judgement(one).judged for one in after.walk.given} == judged
    assert yard.register.rebuild() == []


def test_a_hold_that_comes_while_a_paper_is_entered_is_looked_at(yard: Any) -> None:
    at, bent = yard.now, e.Fault(part="pawl", says="bent", holds="run")
    paper = signed(yard, paper_at(yard, at), 5, 20, 40)
    yard.now += H
    with yard.again() as other:
        other.add(bent, machine=yard.machine, by="Mara", now=yard.now, happened=at + MINUTE)
        before = other.count_entries()
    with pytest.raises(Refused, match="pawl: bent"):
        paper.write(yard.register, now=yard.now)
    assert yard.register.count_entries() == before


def test_a_check_that_somebody_else_begins_while_a_paper_waits_for_its_turn_is_the_only_one(yard: Any) -> None:
    at, sheet = yard.now, sheets.load().by_id["pre-start"]
    paper = signed(yard, paper_at(yard, at), 5)
    yard.now += H

    def begin(other: Any) -> None:
        walk_rounds.begin(other, yard.machine, sheet, by="Tove", now=yard.now, happened=at)

    with while_it_waits(yard, begin), pytest.raises(Refused, match="is open since"):
        paper.write(yard.register, now=yard.now)
    assert len(yard.register.state(yard.machine).open_checks) == 1


@pytest.mark.parametrize("by_program", ["an answer", "the end"])
def test_a_paper_is_not_written_on_a_check_that_somebody_else_went_on_with(yard: Any, by_program: str) -> None:
    sheet = sheets.load().by_id["pre-start"]
    going = walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now)
    paper = signed(yard, paper_of(going, by="Olav", at=yard.now + MINUTE), 5)
    yard.now += H
    with yard.again() as other:
        if by_program == "the end":
            walk_rounds.leave(other, going.id, "rain", by="Tove", now=yard.now)
        else:
            first = paper.going.walk.sheet.questions[0]
            walk_rounds.answer(other, going.id, first.id, _right(first, going.walk), by="Tove", now=yard.now)
        before = other.count_entries()
    with pytest.raises(Refused):
        paper.write(yard.register, now=yard.now)
    assert yard.register.count_entries() == before
