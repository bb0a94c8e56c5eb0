"""Positions as the entries tell them, and what was read the time before."""

from datetime import timedelta
from typing import Any

from reelcare.core import entries as e
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.views import previous_answers

TABLE = sheets.machine_model()


def answer(yard: Any, check: str, question: str, seen: str) -> None:
    yard.now += timedelta(seconds=20)
    walk_rounds.answer(yard.register, check, question, seen, by="Olav", now=yard.now)


def test_answers_and_runs_tell_where_the_parts_stand(yard: Any) -> None:
    table = TABLE.for_machine(yard.register.card(yard.machine))
    assert previous_answers.positions(yard.register, yard.machine, table, yard.now) == {}
    sheet = sheets.load().by_id["pre-start"]
    going = walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now)
    for question in going.walk.sheet.questions:
        numbers = {"volts": "12.6 V", "coils": "3", "inlet": "6.4 bar", "drive-loss": "0.4 bar", "speed": "24 m/h"}
        right = numbers.get(question.id) or next(one.id for one in question.choices if one.right)
        answer(yard, going.id, question.id, right)
        if question.id == "stop-test":
            break
    now = previous_answers.positions(yard.register, yard.machine, table, yard.now)
    assert now["legs"] == "set"
    assert now["pawl"] == "down"
    assert now["stop test"] == "tested"
    assert now["drive"] == "out"
    assert (now["hand crank"], now["guards"], now["supply hose"]) == ("off", "on", "coupled")
    # after a pause, what hands can move is not known any more
    later = previous_answers.positions(yard.register, yard.machine, table, yard.now + timedelta(hours=1))
    assert "pawl" not in later
    assert later["legs"] == "set"
    # a run that its stop ended leaves the hose at home, the drive out and the stop to be tried again
    started = yard.now + timedelta(minutes=1)
    yard.now = started + timedelta(hours=5)
    yard.add(e.Run(started=started, ended=yard.now, metres=250_000, stopped_by="end stop"), at=yard.now)
    ended = previous_answers.positions(yard.register, yard.machine, table, yard.now)
    assert (ended["hose"], ended["drive"], ended["stop test"]) == ("home", "out", "untested")
    # one that ended otherwise leaves everything to be looked at
    started = yard.now + timedelta(minutes=1)
    yard.now = started + timedelta(hours=1)
    yard.add(e.Run(started=started, ended=yard.now, metres=50_000, stopped_by="fault"), at=yard.now)
    assert previous_answers.positions(yard.register, yard.machine, table, yard.now) == {}


def test_what_was_read_the_time_before_is_found(yard: Any) -> None:
    sheet = sheets.load().by_id["weekly-shop"]
    question = next(one for one in sheet.questions if one.is_number)
    first = walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now)
    assert previous_answers.former_answer(yard.register, yard.machine, sheet.id, question.id, first.id) == ""
    for one in first.walk.sheet.questions:
        seen = next((choice.id for choice in one.choices if choice.right), "")
        if one.is_number:
            seen = {"pressure": "0.4 bar", "voltage": "12.6 V", "count": "4"}.get(one.quantity, "1")
        if walk_rounds.answer(yard.register, first.id, one.id, seen, by="Olav", now=yard.now).fault is not None:
            break
        if one.id == question.id:
            break
    yard.now += timedelta(days=7)
    walk_rounds.leave(yard.register, first.id, "rain", by="Olav", now=yard.now)
    second = walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now)
    assert previous_answers.former_answer(yard.register, yard.machine, sheet.id, question.id, second.id) == seen
