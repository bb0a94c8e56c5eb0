"""A run goes on after a stop half-way: by a short sheet, and only where its hose is out by gates that were signed."""

from datetime import timedelta
from typing import Any

import pytest

from reelcare.cli import common, main
from reelcare.core import entries as e
from reelcare.core.checks.sheet_table import to_plain
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.errors import Refused
from reelcare.register.reading import yard as yards
from tests.register.test_gates import H, answer_gate, says, sign, signed_up_to, standing
from tests.servers import in_a_file


def begin(yard: Any) -> walk_rounds.Check:
    sheet = sheets.load().by_id["goes-on"]
    return walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now)


def stopped(yard: Any, by: str = "operator", after: float = 3) -> None:
    """A run, logged as stopped half-way."""
    started = yard.now
    yard.now += after * H
    run = e.Run(started=started + timedelta(minutes=1), ended=yard.now, metres=90_000, stopped_by=by)
    yard.register.add(run, machine=yard.machine, by="Olav", now=yard.now)


def test_a_question_of_the_pre_start_is_the_same_one() -> None:
    short, whole = (sheets.load().by_id[id] for id in ("goes-on", "pre-start"))
    new = [one.id for one in short.questions if whole.question(one.id) is None]
    assert new == ["left"]
    for one in short.questions:
        asked = whole.question(one.id)
        if asked is not None:
            assert one._replace(again=False) == asked._replace(again=False), one.id
    # common practice, no source: the pawl, the feet, and from the turbine to the people; then all of the last gate
    assert {"pawl-down", "feet", "turbine", "guards", "stop-reset", "stop-test", "drive-in", "people"} <= set(
        short.places
    )
    assert [one.id for one in short.questions if short.gate_of(one.id) == "running"] == [
        one.id for one in whole.questions if whole.gate_of(one.id) == "running"
    ]


@pytest.mark.parametrize("by", ["operator", "fault"])
def test_it_is_clear_by_the_short_sheet_after_a_stop_half_way(yard: Any, by: str) -> None:
    signed_up_to(yard, "running")
    assert not walk_rounds.is_stopped(yard.register, yard.machine, yard.now)
    stopped(yard, by)
    assert standing(yard)[:2] == ("check due", "")
    assert walk_rounds.is_stopped(yard.register, yard.machine, yard.now)
    going = begin(yard)
    assert going.walk.sheet.gates == ("water", "running")
    going = answer_gate(yard, going)
    assert standing(yard)[:2] == ("check due", "")
    sign(yard, going)
    assert standing(yard)[:2] == ("clear", "water")
    # the stop test of this start is done
    due = {one.item.id: one.due.state for one in yards.machine_now(yard.register, yard.machine, yard.now).dues}
    assert due["end-stop"] == "ok"
    going = answer_gate(yard, going)
    sign(yard, going)
    assert standing(yard)[:2] == ("clear", "running")
    assert yard.register.rebuild() == []


def test_its_first_answer_begins_it(yard: Any) -> None:
    """Its sheet is kept with the same transaction."""
    signed_up_to(yard, "water")
    stopped(yard)
    sheet = sheets.load().by_id["goes-on"]
    going = walk_rounds.prepare(yard.register, yard.machine, sheet, by="Olav", at=yard.now)
    after = walk_rounds.answer(yard.register, going, "left", "out", by="Olav", now=yard.now)
    assert after.check.is_written
    question = after.check.walk.next(yard.now)
    assert question is not None
    assert question.id == "pawl-down"


def test_it_goes_on_after_a_small_repair(yard: Any) -> None:
    signed_up_to(yard, "water")
    fault = yard.add(e.Fault(part="pawl", says="spring gone", holds="both", retest="pawl holds"))
    going = answer_gate(yard, begin(yard))
    with pytest.raises(Refused, match="held"):
        sign(yard, going)
    for what in (
        e.Repair(fault=fault.id, says="spring"), e.Retest(fault=fault.id, passed=True), e.Release(fault=fault.id)
    ):  # fmt: skip
        yard.add(what)
    sign(yard, going)
    assert standing(yard)[:2] == ("clear", "water")


def test_who_begins_it_says_that_the_run_was_stopped(yard: Any) -> None:
    earlier = signed_up_to(yard, "water")
    begin(yard)
    assert standing(yard)[:2] == ("check due", "")
    assert "the stop half-way" in says(yard)
    with pytest.raises(Refused, match="begin another"):
        walk_rounds.answer(yard.register, earlier.id, "flow", "smooth", by="Olav", now=yard.now)


def test_an_answer_that_is_given_once_more_leaves_the_hose_out(yard: Any) -> None:
    going = signed_up_to(yard, "water")
    once_more = next(one for one in going.walk.sheet.questions if one.position is None and not one.is_number)
    yard.now += timedelta(seconds=20)
    right = next(one.id for one in once_more.choices if one.right)
    walk_rounds.answer(yard.register, going.id, once_more.id, right, by="Olav", now=yard.now)
    assert standing(yard)[:2] == ("clear", "water")
    stopped(yard)
    assert begin(yard).walk.sheet.gates == ("water", "running")


def home(yard: Any) -> None:
    stopped(yard, "end stop")


def unknown_end(yard: Any) -> None:
    stopped(yard, "")


def a_day_later(yard: Any) -> None:
    stopped(yard)
    yard.now += 24 * H


def another_place(yard: Any) -> None:
    yard.add(e.Carded(card={**yard.register.state(yard.machine).card, "place": "South"}), by="Mara")


def another_pull_out(yard: Any) -> None:
    stopped(yard)
    signed_up_to(yard, "pull-out")


def wound_home(yard: Any) -> None:
    stopped(yard)
    rescue = walk_rounds.begin(yard.register, yard.machine, sheets.load().by_id["rescue"], by="Olav", now=yard.now)
    while (question := rescue.walk.next(yard.now)) is not None:
        yard.now += timedelta(seconds=20)
        right = next(one.id for one in question.choices if one.right)
        rescue = walk_rounds.answer(yard.register, rescue.id, question.id, right, by="Olav", now=yard.now).check
    sign(yard, rescue)


@pytest.mark.parametrize("since", [home, unknown_end, a_day_later, another_place, another_pull_out, wound_home])
def test_a_run_whose_hose_is_home_or_long_out_goes_on_by_the_whole_sheet(yard: Any, since: Any) -> None:
    signed_up_to(yard, "running")
    since(yard)
    with pytest.raises(Refused, match="answer the whole sheet"):
        begin(yard)


def test_a_machine_that_was_never_pulled_out_is_not_clear_by_the_short_sheet(yard: Any) -> None:
    """Neither through the door, nor by entries that somebody forged."""
    with pytest.raises(Refused, match="answer the whole sheet"):
        begin(yard)
    signed_up_to(yard, "pull-out")
    with pytest.raises(Refused, match="answer the whole sheet"):
        begin(yard)
    sheet = sheets.load().by_id["goes-on"]
    earlier = yard.register.state(yard.machine).checks[0]
    kept = yard.add(e.Sheeted(sheet=to_plain(sheet)), machine=None)
    for again_of in ("", earlier.id):
        begun = yard.add(
            e.CheckBegun(sheet=kept.id, sheet_id=sheet.id, checks_for="run", again_of=again_of, planned={})
        )
        going = answer_gate(yard, walk_rounds.check(yard.register, begun.id))
        yard.add(e.GateSigned(check=going.id, gate="water"))
        assert standing(yard)[0] != "clear"


@in_a_file
def test_the_command_asks_the_short_sheet_after_a_stop_half_way(
    yard: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(common, "now", lambda: yard.now)
    monkeypatch.setattr("builtins.input", lambda prompt="": "")
    command = ["--register", str(yard.place), "check", "R1", "--by", "Olav"]

    def asked(*more: str) -> str:
        assert main([*command[:4], *more, *command[4:]]) == 0
        return capsys.readouterr().out

    assert "Site, from the hydrant" in asked()
    signed_up_to(yard, "running")
    assert "Site, from the hydrant" in asked()
    stopped(yard, "fault")
    told = asked()
    assert "stopped half-way" in told
    assert "As it was left" in told
    assert "Site, from the hydrant" in asked("pre-start")
    assert "As it was left" in asked("goes-on")


@in_a_file
def test_what_a_gate_is_judged_by_is_told_without_reading_a_line(
    yard: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(common, "now", lambda: yard.now)
    lines = iter(["1", ""])
    monkeypatch.setattr("builtins.input", lambda prompt="": next(lines))
    assert main(["--register", str(yard.place), "check", "R1", "--by", "Olav"]) == 0
    told = capsys.readouterr().out
    assert told.index("may pull out. It is judged by") < told.index("1/")
    assert "no set is kept" in told
    # the first line answered the first question, and coming back tells it no more
    assert list(lines) == []
    monkeypatch.setattr("builtins.input", lambda prompt="": "")
    assert main(["--register", str(yard.place), "check", "R1", "--by", "Olav"]) == 0
    assert "It is judged by" not in capsys.readouterr().out
