"""Three gates on one check: what each permits, what spends or undoes it, and that nothing is clear without them."""

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from reelcare.cli import common, main
from reelcare.core import entries as e
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.demo import _right
from reelcare.register.errors import Refused
from reelcare.register.proof import health
from reelcare.register.reading import yard as yards
from reelcare.tui.host.startup_checks import warnings
from tests.register.conftest import while_it_waits
from tests.servers import in_a_file

H = timedelta(hours=1)


def begin(yard: Any) -> walk_rounds.Check:
    return walk_rounds.begin(yard.register, yard.machine, sheets.load().by_id["pre-start"], by="Olav", now=yard.now)


def answer_gate(yard: Any, going: walk_rounds.Check, by: str = "Olav", most: int = 99) -> walk_rounds.Check:
    """Answer what is open of the next gate, right."""
    going = walk_rounds.check(yard.register, going.id)
    while most and (question := going.walk.next_in_gate(yard.now, by)) is not None:
        yard.now += timedelta(seconds=20)
        most -= 1
        seen = _right(question, going.walk)
        going = walk_rounds.answer(yard.register, going.id, question.id, seen, by=by, now=yard.now).check
    return going


def sign(yard: Any, going: walk_rounds.Check, by: str = "Olav") -> None:
    yard.now += timedelta(seconds=20)
    walk_rounds.sign(yard.register, going.id, by=by, now=yard.now)


def signed_up_to(yard: Any, gate: str) -> walk_rounds.Check:
    going = begin(yard)
    for one in going.walk.sheet.gates:
        going = answer_gate(yard, going)
        sign(yard, going)
        if one == gate:
            break
    return going


def standing(yard: Any) -> tuple[str, str, str | None]:
    found = yards.machine_now(yard.register, yard.machine, yard.now).standing
    return found.run, found.gate, found.held_as


def band(yard: Any) -> str:
    """Where the yard lists the machine."""
    (one,) = (one for one in yards.listed(yard.register, yard.now) if one.id == yard.machine)
    return one.judged.band


def says(yard: Any) -> str:
    found = yards.machine_now(yard.register, yard.machine, yard.now).standing
    return next(one.says for one in found.because if one.side == "run")


def test_a_machine_is_clear_from_the_gate_of_the_water_on(yard: Any) -> None:
    going = begin(yard)
    stood = [standing(yard)[:2]]
    told = []
    for _ in going.walk.sheet.gates:
        going = answer_gate(yard, going)
        stood.append(standing(yard)[:2])
        sign(yard, going)
        stood.append(standing(yard)[:2])
        told.append(says(yard).split(",")[0])
    assert stood == [
        ("check due", ""), ("check due", ""), ("check due", "pull-out"), ("check due", "pull-out"), ("clear", "water"),
        ("clear", "water"), ("clear", "running"),
    ]  # fmt: skip
    assert told == ["may pull out", "water", "running"]
    assert yard.register.rebuild() == []


def test_a_gate_is_signed_only_with_all_its_answers_and_in_order(yard: Any) -> None:
    going = answer_gate(yard, begin(yard), most=5)
    with pytest.raises(Refused, match=r"^may pull out: 12 questions are still open: Hose leaves"):
        sign(yard, going)
    # nor does an entry that somebody forged
    for gate in ("water", "pull-out", "running"):
        yard.add(e.GateSigned(check=going.id, gate=gate))
    yard.add(e.CheckEnded(check=going.id, verdict="passed"))
    assert standing(yard)[:2] == ("check due", "")


def test_questions_are_answered_under_a_hold_and_no_gate_is_signed(yard: Any) -> None:
    yard.add(e.Fault(part="pawl", says="spring gone", holds="both", retest="pawl holds"))
    going = answer_gate(yard, begin(yard))
    with pytest.raises(Refused, match=r"held .machine.*pawl: spring gone"):
        sign(yard, going)
    yard.add(e.GateSigned(check=going.id, gate="pull-out"))
    assert standing(yard) == ("held", "", "machine")


def test_a_hold_that_comes_while_a_signature_waits_for_its_turn_is_looked_at(yard: Any) -> None:
    going, bent = answer_gate(yard, begin(yard)), e.Fault(part="pawl", says="bent", holds="run")
    with (
        while_it_waits(yard, lambda other: other.add(bent, machine=yard.machine, by="Mara", now=yard.now)),
        pytest.raises(Refused, match="pawl: bent"),
    ):
        sign(yard, going)
    assert not [one for one in yard.register.of_machine(yard.machine) if isinstance(one.what, e.GateSigned)]


def test_a_hold_of_the_machine_ends_what_was_signed(yard: Any) -> None:
    going = signed_up_to(yard, "water")
    fault = yard.add(e.Fault(part="pawl", says="spring gone", holds="both", retest="pawl holds"))
    for what in (
        e.Repair(fault=fault.id, says="spring"), e.Retest(fault=fault.id, passed=True), e.Release(fault=fault.id)
    ):  # fmt: skip
        yard.add(what)
    assert standing(yard) == ("check due", "", None)
    with pytest.raises(Refused, match="begin another"):
        walk_rounds.answer(yard.register, going.id, "flow", "smooth", by="Olav", now=yard.now)


def test_an_adjustment_while_it_runs_holds_until_it_is_put_right(yard: Any) -> None:
    going = signed_up_to(yard, "water")
    going = answer_gate(yard, going, most=1)
    yard.now += timedelta(seconds=20)
    walk_rounds.answer(yard.register, going.id, "inlet", "25 bar", by="Olav", now=yard.now)
    assert standing(yard) == ("held", "water", "adjustment")
    going = answer_gate(yard, going)
    assert standing(yard) == ("clear", "water", None)
    sign(yard, going)
    assert standing(yard)[:2] == ("clear", "running")
    assert yard.register.rebuild() == []


def test_gates_of_one_moment_stand_and_a_hold_in_them_is_put_right(yard: Any) -> None:
    """Lines entered with one time for all (`check --at`): each gate is signed at the moment of the one before."""
    at, going = yard.now, begin(yard)
    wrong = {"feet": "none", "inlet": "25 bar"}
    for _ in going.walk.sheet.gates:
        while (question := going.walk.next_in_gate(at, "Olav")) is not None:
            seen = wrong.pop(question.id, "") or _right(question, going.walk)
            going = walk_rounds.answer(yard.register, going.id, question.id, seen, by="Olav", now=at).check
        walk_rounds.sign(yard.register, going.id, by="Olav", now=at)
        going = walk_rounds.check(yard.register, going.id)
    assert not wrong
    assert standing(yard) == ("clear", "running", None)
    assert yard.register.rebuild() == []


def test_who_takes_over_puts_an_adjustment_right_in_the_same_check(yard: Any) -> None:
    """Though the one gate that was signed has fallen back, and nothing is permitted."""
    going = signed_up_to(yard, "pull-out")
    going = answer_gate(yard, going, by="Tove", most=1)
    yard.now += timedelta(seconds=20)
    walk_rounds.answer(yard.register, going.id, "feet", "none", by="Tove", now=yard.now)
    assert standing(yard) == ("held", "", "adjustment")
    for _ in going.walk.sheet.gates[:2]:
        going = answer_gate(yard, going, by="Tove")
        sign(yard, going, by="Tove")
    assert standing(yard) == ("clear", "water", None)
    assert yard.register.rebuild() == []


def test_a_run_spends_the_gates_and_ends_their_check(yard: Any) -> None:
    going = signed_up_to(yard, "water")
    yard.now += 10 * H
    run = e.Run(started=yard.now - 9 * H, ended=yard.now, metres=300_000)
    yard.register.add(run, machine=yard.machine, by="Olav", now=yard.now)
    assert standing(yard)[:2] == ("check due", "")
    with pytest.raises(Refused, match="begin another"):
        walk_rounds.answer(yard.register, going.id, "flow", "smooth", by="Olav", now=yard.now)
    # a second run on the hydrant goes on from it
    sheet = sheets.load().by_id["pre-start"]
    again = walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now, again=True)
    assert len(again.walk.sheet.questions) < len(going.walk.sheet.questions)
    for _ in again.walk.sheet.gates[:2]:
        again = answer_gate(yard, again)
        sign(yard, again)
    assert standing(yard)[:2] == ("clear", "water")
    assert yard.register.rebuild() == []


def test_a_run_ends_a_check_that_was_begun_before_it_though_nothing_was_signed(yard: Any) -> None:
    going = answer_gate(yard, begin(yard), most=9)
    began = yard.now + timedelta(minutes=1)
    yard.now += 3 * H
    yard.register.add(
        e.Run(started=began, ended=yard.now, metres=100_000), machine=yard.machine, by="Olav", now=yard.now
    )
    assert yard.register.state(yard.machine).checks == ()
    with pytest.raises(Refused, match="a run, a move, a hold or another check came since; begin another"):
        answer_gate(yard, going)
    other = begin(yard)
    assert other.id != going.id
    assert other.walk.given == ()
    assert yard.register.rebuild() == []


def test_a_run_that_is_logged_late_leaves_the_check_that_was_begun_after_it(yard: Any) -> None:
    before = yard.now
    yard.now += 12 * H
    going = answer_gate(yard, begin(yard), most=9)
    yard.register.add(
        e.Run(started=before, ended=before + 11 * H, metres=100_000), machine=yard.machine, by="Olav", now=yard.now
    )
    answer_gate(yard, going)
    sign(yard, going)
    assert standing(yard)[1] == "pull-out"


@pytest.mark.parametrize("by", ["Olav", "Tove"])
def test_another_person_or_a_pause_before_the_water_lets_the_gate_fall_back(yard: Any, by: str) -> None:
    going = signed_up_to(yard, "water")
    assert standing(yard)[:2] == ("clear", "water")
    if by == "Olav":
        yard.now += 8 * H
        assert standing(yard)[:2] == ("check due", "pull-out")
    going = walk_rounds.check(yard.register, going.id)
    asked = going.walk.next_in_gate(yard.now + timedelta(seconds=20), by)
    assert asked is not None
    assert asked.id == "feet"  # they alone hold the pull; then what moves by hand, from the pawl on
    going = answer_gate(yard, going, by=by)
    assert standing(yard)[:2] == ("check due", "pull-out")
    again = [one.question for one in going.walk.given if one.at > going.walk.signed[-1].at]
    assert again[:2] == ["feet", "pawl-down"]
    assert {"stop-test", "drive-in", "people"} <= set(again)
    assert not {"overhead", "pawl-up", "hitch"} & set(again)
    sign(yard, going, by=by)
    assert standing(yard)[:2] == ("clear", "water")
    assert yard.register.rebuild() == []


def test_once_the_water_is_open_another_person_goes_on(yard: Any) -> None:
    going = signed_up_to(yard, "water")
    going = answer_gate(yard, going, most=1)
    yard.now += 2 * H
    going = answer_gate(yard, going, by="Tove")
    assert standing(yard)[:2] == ("clear", "water")
    sign(yard, going, by="Tove")
    assert standing(yard)[:2] == ("clear", "running")


def test_an_answer_of_the_last_gate_opens_no_water_that_is_not_signed(yard: Any) -> None:
    """Else another person could sign the water without having looked at anything."""
    going = signed_up_to(yard, "pull-out")
    going = answer_gate(yard, going)
    yard.now += timedelta(seconds=20)
    walk_rounds.answer(yard.register, going.id, "flow", "smooth", by="Olav", now=yard.now)
    yard.now += timedelta(seconds=20)
    yard.register.add(e.GateSigned(check=going.id, gate="water"), machine=yard.machine, by="Tove", now=yard.now)
    assert standing(yard)[:2] != ("clear", "water")
    going = walk_rounds.check(yard.register, going.id)
    asked = going.walk.next_in_gate(yard.now, "Tove")
    assert asked is not None
    assert asked.by_hand


def test_what_runs_and_was_not_looked_at_is_said_from_the_thirtieth_minute(yard: Any) -> None:
    going = signed_up_to(yard, "water")
    assert says(yard).startswith("water, signed")
    assert band(yard) == "clear"
    yard.now += timedelta(minutes=30)
    assert says(yard).startswith("running, not yet looked at")
    assert band(yard) == "running"
    sign(yard, answer_gate(yard, going))
    assert says(yard).startswith("running, signed")
    assert band(yard) == "running"


def test_giving_a_check_up_takes_back_what_it_permitted(yard: Any) -> None:
    going = signed_up_to(yard, "water")
    walk_rounds.leave(yard.register, going.id, "wind", by="Olav", now=yard.now)
    assert standing(yard)[:2] == ("check due", "")


def test_the_planned_finish_is_said_once_it_runs(yard: Any) -> None:
    finish = (yard.now + 10 * H).isoformat(timespec="minutes")
    yard.add(e.SetPlanned(wishes={"out": "300 m"}, planned={"least_coils": "2", "finish": finish}))
    signed_up_to(yard, "running")
    assert says(yard).startswith(f"running until {(yard.now + 10 * H):%H:}")


@in_a_file
def test_a_clear_that_the_entries_do_not_bear_out_is_no_clear(
    yard: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is kept beside the entries was put back by another hand, after a hold."""
    signed_up_to(yard, "water")
    kept = yard.register.db.execute_sql("SELECT state, limits FROM machine_state").fetchone()
    monkeypatch.setattr(common, "now", lambda: yard.now)
    assert main(["--register", str(yard.place), "yard"]) == 0
    hold = e.Fault(part="pawl", says="spring gone", holds="run")
    yard.register.add(hold, machine=yard.machine, by="Olav", now=yard.now)
    yard.register.db.execute_sql("UPDATE machine_state SET state = ?, limits = ?", kept)
    yard.register.cache.clear()
    assert standing(yard)[0] == "clear"
    listed = yards.listed(yard.register, yard.now)
    assert yards.unproven_clear(yard.register, listed, yard.now) == ["R1"]
    told = {one.name: one.found for one in health.of(yard.register, yard.now, tmp_path)}
    assert told["standing"].startswith("R1: shown as clear")
    assert yards.machine_now(yard.register, yard.machine, yard.now, permits=True).standing.run == "held"
    capsys.readouterr()
    assert main(["--register", str(yard.place), "may", "R1", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["standing"]["run"] == "held"
    assert main(["--register", str(yard.place), "yard"]) == 5
    assert any("R1: shown as clear" in one for one in warnings(yard.register, yard.now))
    yard.register.rebuild()
    assert standing(yard)[0] == "held"
    assert not [one for one in warnings(yard.register, yard.now) if "R1" in one]


def test_what_is_answered_before_the_gate_ahead_of_it_is_signed_is_asked_again(yard: Any) -> None:
    """No screen asks for it; a carried file can bring it, and a signature that is taken back can leave it."""
    going = answer_gate(yard, begin(yard))
    for question in going.walk.sheet.questions[len(going.walk.counting()) :]:
        yard.now += timedelta(seconds=20)
        seen = _right(question, going.walk)
        walk_rounds.answer(yard.register, going.id, question.id, seen, by="Olav", now=yard.now)
    sign(yard, going)
    with pytest.raises(Refused, match=r"may open the water: 1\d questions are still open"):
        sign(yard, going)
    yard.add(e.GateSigned(check=going.id, gate="water"), by="Olav")
    assert standing(yard)[:2] == ("check due", "pull-out")
    sign(yard, answer_gate(yard, going))
    assert standing(yard)[:2] == ("clear", "water")
    yard.now += 9 * H
    assert standing(yard)[:2] == ("check due", "pull-out"), "nobody has seen the water"
    with pytest.raises(Refused, match="are still open"):
        sign(yard, going)
    assert yard.register.rebuild() == []


def test_what_was_answered_after_a_signature_that_is_taken_back_is_asked_again(yard: Any) -> None:
    going = answer_gate(yard, signed_up_to(yard, "pull-out"))
    (pull_out,) = going.walk.signed
    yard.add(e.Correction(entry=pull_out.id, why="the wrong machine"))
    sign(yard, going)
    with pytest.raises(Refused, match=r"may open the water: 1\d questions are still open"):
        sign(yard, going)
    sign(yard, answer_gate(yard, going))
    assert standing(yard)[:2] == ("clear", "water")


def test_after_a_gate_was_signed_again_the_water_is_open_from_its_first_answer_on(yard: Any) -> None:
    """Else it would fall back, eight hours after its water, while it runs and is looked at."""
    going = answer_gate(yard, signed_up_to(yard, "pull-out"), by="Tove")
    for _ in range(2):
        sign(yard, going, by="Tove")
        going = answer_gate(yard, going, by="Tove", most=1 if standing(yard)[1] == "water" else 99)
    passed = yard.register.state(yard.machine).passed["run"]
    assert (passed.gate, passed.opened) == ("water", yard.now)
    yard.now += 9 * H
    assert standing(yard)[:2] == ("clear", "water")
    assert yard.register.rebuild() == []


def test_the_pause_is_counted_from_the_last_answer(yard: Any) -> None:
    """By the yard as by the check, which asks nothing again then."""
    going = signed_up_to(yard, "pull-out")
    yard.now += 5 * H
    going = answer_gate(yard, going, most=1)
    yard.now += 5 * H
    assert standing(yard)[1] == "pull-out"
    yard.now += 3 * H
    assert standing(yard)[1] == ""
    assert going.walk.next_gate(yard.now, "Olav") == "pull-out"


def test_a_check_that_was_handed_over_behind_another_clears_nothing_once_that_is_given_up(yard: Any) -> None:
    """Two can be open where one of them was carried in."""
    first = signed_up_to(yard, "water")
    begun = first.begun.what
    other = walk_rounds.check(yard.register, yard.add(begun, by="Olav").id)
    sign(yard, answer_gate(yard, other))
    answer_gate(yard, first, by="Tove", most=1)
    walk_rounds.leave(yard.register, other.id, "rain came", by="Olav", now=yard.now)
    assert walk_rounds.check(yard.register, first.id).walk.next_gate(yard.now, "Tove") == "water"
    assert standing(yard)[:2] == ("check due", "")
    assert yard.register.rebuild() == []


def test_a_gate_is_not_signed_as_of_a_time_at_which_something_held(yard: Any) -> None:
    going, at = answer_gate(yard, begin(yard)), yard.now
    fault = yard.add(e.Fault(part="pawl", says="spring gone", holds="both", retest="pawl holds"))
    yard.now += H
    for what in (
        e.Repair(fault=fault.id, says="spring"), e.Retest(fault=fault.id, passed=True), e.Release(fault=fault.id)
    ):  # fmt: skip
        yard.add(what)
    with pytest.raises(Refused, match=r"held \(machine\), so this gate cannot be signed"):
        walk_rounds.sign(yard.register, going.id, by="Olav", now=yard.now, happened=at + H / 2)
    sign(yard, going)
    assert standing(yard)[1] == "pull-out"


def test_a_gate_that_was_signed_under_a_hold_nobody_knew_of_here_is_signed_again(yard: Any) -> None:
    """The hold is told late, or carried in: the check goes on from what counts, and no signature is for nothing."""
    going = signed_up_to(yard, "pull-out")
    (signed,) = walk_rounds.check(yard.register, going.id).walk.signed
    hold = e.Fault(part="pawl", says="slips", holds="run", retest="pawl holds")
    fault = yard.add(hold, at=signed.at - timedelta(seconds=5))
    for what in (
        e.Repair(fault=fault.id, says="spring"), e.Retest(fault=fault.id, passed=True), e.Release(fault=fault.id)
    ):  # fmt: skip
        yard.add(what)
    going = walk_rounds.check(yard.register, going.id)
    assert (going.walk.signed, going.walk.next_gate(yard.now, "Olav")) == ((), "pull-out")
    for _gate in range(2):
        sign(yard, answer_gate(yard, going))
    assert standing(yard)[:2] == ("clear", "water")
    assert yard.register.rebuild() == []


@pytest.mark.parametrize("first", ["pre-start", "road"])
def test_a_check_that_was_begun_before_the_machine_was_made_ready_otherwise_clears_it_no_more(
    yard: Any, first: str
) -> None:
    """Ready for the road since, its feet are up; set up since, they are down: what was seen before is so no longer."""

    def road() -> walk_rounds.Check:
        sheet = sheets.load().by_id["road"]
        return answer_gate(yard, walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now))

    if first == "pre-start":
        going = signed_up_to(yard, "water")
        sign(yard, road())
    else:
        going = road()
        signed_up_to(yard, "pull-out")
    with pytest.raises(Refused, match="or another check came since"):
        sign(yard, answer_gate(yard, going))
    stands = yards.machine_now(yard.register, yard.machine, yard.now).standing
    assert (stands.run, stands.road) == ("check due", "clear" if first == "pre-start" else "check due")
    if first == "road":  # signed elsewhere all the same, where nobody knew of the pull-out
        yard.add(e.CheckEnded(check=going.id, verdict="passed"), by="Olav")
        assert standing(yard)[:2] == ("check due", "")
    assert yard.register.rebuild() == []


def test_a_run_whose_check_was_ended_while_another_stood_is_told_as_running(yard: Any) -> None:
    """That other one was signed as complete, and its answers did not bear it out."""
    going = answer_gate(yard, signed_up_to(yard, "water"))
    other = yard.add(going.begun.what, by="Olav")
    yard.add(e.CheckEnded(check=other.id, verdict="passed"), by="Olav")
    assert standing(yard)[:2] == ("check due", "")
    sign(yard, going)
    assert standing(yard)[:2] == ("clear", "running")
    assert yard.register.rebuild() == []


def test_a_signature_counts_again_once_what_spoke_against_it_is_put_right_as_of_before(yard: Any) -> None:
    going = signed_up_to(yard, "water")
    at = yard.now - timedelta(seconds=10)
    question = going.walk.sheet.question("feet-again")
    assert question is not None
    for is_right in (False, True):
        yard.now += timedelta(seconds=20)
        seen = next(one.id for one in question.choices if one.right is is_right)
        walk_rounds.answer(yard.register, going.id, question.id, seen, by="Olav", now=yard.now, happened=at)
    here = [one.gate for one in walk_rounds.check(yard.register, going.id).walk.gates(yard.now, "Olav")]
    with yard.again() as anew:
        assert here == [one.gate for one in walk_rounds.check(anew, going.id).walk.gates(yard.now, "Olav")]
