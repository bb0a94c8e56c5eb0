"""Positions as the entries tell them, and what was read the time before."""

import contextlib
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.fold import fold
from reelcare.core.machine.card import read_card
from reelcare.register import sheets
from reelcare.register.acts import checks, walk_rounds
from reelcare.register.errors import Refused
from reelcare.register.reading import reader
from reelcare.register.views import previous_answers
from reelcare.register.writing import batch

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


def test_a_card_at_a_moment_is_that_of_the_state_then(yard: Any) -> None:
    """Read from the cards and moves alone, remembered, and right again after each thing that changes it."""
    register, machine = yard.register, yard.machine
    hour = timedelta(hours=1)

    def agrees() -> None:
        for at in (None, *(yard.now - back * hour for back in range(8))):
            state = register.state(machine, at)
            assert register.card(machine, at) == read_card(state.card)

    yard.now += 9 * hour
    agrees()
    moved = yard.add(e.Moved(place="South"), at=yard.now - 6 * hour)
    assert register.card(machine).place == "South"
    agrees()
    card = dict(register.state(machine).card) | {"place": "West", "name": "Old reel"}
    register.add(e.Carded(card=card), machine=machine, by="Mara", now=yard.now)
    agrees()
    yard.add(e.Moved(place="East"), at=yard.now - 3 * hour)  # told later than the card that came after it
    assert register.card(machine).place == "West"
    agrees()
    yard.add(e.Correction(entry=moved.id, why="it was another machine"), at=yard.now)
    assert register.card(machine, yard.now - 5 * hour).place == "North"  # what was taken back was never so


def test_checks_read_together_are_those_read_one_by_one(yard: Any) -> None:
    """Also where they follow the sets that were kept since, and answers were taken back."""
    weekly = sheets.load().by_id["weekly-shop"]
    going = walk_rounds.begin(yard.register, yard.machine, sheets.load().by_id["pre-start"], by="Olav", now=yard.now)
    answer(yard, going.id, going.walk.sheet.questions[0].id, going.walk.sheet.questions[0].choices[0].id)
    other = walk_rounds.begin(yard.register, yard.machine, weekly, by="Olav", now=yard.now)
    yard.now += timedelta(minutes=1)
    yard.add(e.SetPlanned(wishes={}, planned={"inlet": "6 bar"}), at=yard.now)
    answer(yard, going.id, going.walk.sheet.questions[1].id, going.walk.sheet.questions[1].choices[0].id)
    together = list(checks.checks(yard.register, [going.id, other.id]))
    assert [one.id for one in together] == [going.id, other.id]
    assert len(together[0].walk.given) == 2
    assert [dict(one.planned) for one in together[0].walk.sets] == [{"inlet": "6 bar"}]
    yard.register.cache.clear()
    assert together == [checks.check(yard.register, one.id) for one in together]
    with pytest.raises(Refused, match="no such check"):
        list(checks.checks(yard.register, [going.id, yard.machine]))


def test_a_check_that_is_remembered_is_held_to_what_is_dated_back(yard: Any) -> None:
    """To a card of before it began, a place of that time, and a set that was kept while it was open."""
    register, machine = yard.register, yard.machine
    hour = timedelta(hours=1)
    yard.now += 3 * hour
    begun = yard.now
    going = walk_rounds.begin(register, machine, sheets.load().by_id["pre-start"], by="Olav", now=begun)
    yard.now += hour
    walk_rounds.leave(register, going.id, "rain", by="Olav", now=yard.now)
    table = dict(register.state(machine).card) | {"drive": {"kind": "turbine", "most_loss": "5 psi"}}
    for what, at in (
        (e.Carded(card=table), begun - 2 * hour),
        (e.Moved(place="South"), begun - hour),
        (e.SetPlanned(wishes={}, planned={"inlet": "6 bar"}), begun + hour / 2),
    ):
        before = checks.check(register, going.id)
        yard.add(what, at=at)
        assert checks.check(register, going.id) == next(checks.checks(register, [going.id])) != before


def test_a_machine_is_folded_once_where_nobody_else_writes(yard: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """What this program writes is folded on; what another writes, and what stands beside the entries, is looked at."""
    register, machine = yard.register, yard.machine
    read: list[str] = []

    def counted(id: str, *rest: Any) -> Any:
        read.append(id)
        return fold(id, *rest)

    for module in (reader, batch):
        monkeypatch.setattr(module, "fold", counted)
    assert register.fold(machine).faults == ()
    read.clear()
    fault = yard.add(e.Fault(part="pawl", says="spring gone", holds="run"))
    yard.add(e.Repair(fault=fault.id, says="new spring"))
    yard.add(e.Retest(fault=fault.id, passed=True))
    yard.add(e.Release(fault=fault.id))  # what ends a hold is held against the entries
    assert register.fold(machine) == register.state(machine)
    assert read == []
    with yard.again() as other:
        later = yard.now + timedelta(minutes=1)
        other.add(e.Fault(part="pawl", says="bent", holds="run"), machine=machine, by="Mara", now=later)
    assert [one.says for one in register.fold(machine).faults] == ["bent"]
    assert read == [machine]


def test_what_another_writes_at_the_moment_of_a_commit_is_seen(yard: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its hold comes in between the commit of this program and its next look at what it remembers."""
    register, machine, inside = yard.register, yard.machine, yard.register.db.writing
    assert register.fold(machine).faults == ()
    with yard.again() as other:

        @contextlib.contextmanager
        def writing() -> Iterator[None]:
            with inside():
                yield
            if not register.db.in_transaction():
                other.add(e.Fault(part="pawl", says="bent", holds="run"), machine=machine, by="Mara", now=yard.now)

        monkeypatch.setattr(register.db, "writing", writing)
        yard.add(e.Noted(says="the gate sticks"))
        monkeypatch.undo()
        assert [one.says for one in register.state(machine).faults] == ["bent"]
        assert [one.says for one in register.fold(machine).faults] == ["bent"]


def test_what_another_writes_while_something_is_read_is_not_hidden_by_it(
    yard: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its hold and its answer come in once the entries are read, and before their sheet is asked for."""
    register, machine = yard.register, yard.machine
    going = walk_rounds.begin(register, machine, sheets.load().by_id["pre-start"], by="Olav", now=yard.now)
    yard.add(e.GateSigned(check=going.id, gate="pull-out"))  # the fold asks for the sheet that it was signed on
    question = going.walk.sheet.questions[0]
    register.cache.clear()
    with yard.again() as other:
        # what reads the last entries, of a machine and of a check; what is asked once it is read, and how much is there
        for holder, name, look in (
            (register, "of_machine", lambda: [one.says for one in register.fold(machine).faults]),
            (checks, "sets_since", lambda: [one.seen for one in checks.check(register, going.id).walk.given]),
        ):
            read = getattr(holder, name)

            def late(*asked: Any, read: Any = read) -> Any:
                found = read(*asked)
                monkeypatch.undo()
                yard.now += timedelta(minutes=1)
                fault = e.Fault(part="pawl", says="bent", holds="run")
                other.add(fault, machine=machine, by="Mara", now=yard.now)
                answered = e.Answered(check=going.id, question=question.id, seen="no", judged="wrong")
                other.add(answered, machine=machine, by="Mara", now=yard.now)
                return found

            monkeypatch.setattr(holder, name, late)
            before = look()
            assert len(look()) == len(before) + 1
