"""Walk-rounds: what is held of a check between two answers is what its entries give, whoever writes them."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from reelcare import languages
from reelcare.core import entries as e
from reelcare.core.text import _
from reelcare.core.wording import said
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.demo import _right
from reelcare.register.errors import CannotWrite, Refused
from reelcare.register.reading import yard as yards
from reelcare.register.views import book
from tests.register.conftest import entries, sign_last, signed_gate
from tests.servers import in_a_file


def test_the_check_in_hand_is_the_one_that_its_entries_give(yard: Any) -> None:
    """Two programs answer one check in turns, with an answer dated back and one taken back in between."""
    sheet = sheets.load().by_id["pre-start"]
    with yard.again() as beside:
        going = walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now)
        at = yard.now
        for number, question in enumerate(going.walk.sheet.questions[:12]):
            register = (yard.register, beside)[number % 3 == 2]
            at += timedelta(seconds=10)
            seen = _right(question, going.walk)
            if number == 7:  # as one that is carried in, or was written by an older version
                dated_back = e.Answered(check=going.id, question=question.id, seen=seen, judged="right")
                earlier = at - timedelta(seconds=15)
                register.add(dated_back, machine=yard.machine, by="Olav", now=at, happened=earlier)
                continue
            after = walk_rounds.answer(register, going.id, question.id, seen, by="Olav", now=at)
            if number == 9:
                answered = entries(register, "kind = 'answer' AND refers = ? ORDER BY id DESC LIMIT 1", going.id)
                register.add(e.Correction(entry=answered[0].id, why="a slip"), machine=yard.machine, by="Mara", now=at)
                after = walk_rounds.AfterAnswer(after.judgement, walk_rounds.check(register, going.id))
            with yard.again() as anew:
                assert after.check == walk_rounds.check(anew, going.id)
                for one in (yard.register, beside):
                    assert walk_rounds.check(one, going.id) == walk_rounds.check(anew, going.id)


def test_a_check_that_another_program_ended_takes_no_answer(yard: Any) -> None:
    sheet = sheets.load().by_id["pre-start"]
    going = walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now)
    first, second = going.walk.sheet.questions[:2]
    walk_rounds.answer(yard.register, going.id, first.id, _right(first, going.walk), by="Olav", now=yard.now)
    with yard.again() as beside:
        walk_rounds.leave(beside, going.id, "rain", by="Olav", now=yard.now)
    with pytest.raises(Refused, match="ended"):
        walk_rounds.answer(yard.register, going.id, second.id, _right(second, going.walk), by="Olav", now=yard.now)


def passed(yard: Any) -> walk_rounds.Check:
    sheet = sheets.load().by_id["pre-start"]
    going = walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now)
    while (question := going.walk.next(yard.now)) is not None:
        yard.now += timedelta(seconds=15)
        seen = _right(question, going.walk)
        going = walk_rounds.answer(yard.register, going.id, question.id, seen, by="Olav", now=yard.now).check
        going = signed_gate(yard, going, yard.now)
    return going


def test_a_fix_by_of_days_counts_from_the_day_of_the_registers_own_place(yard: Any) -> None:
    # 02:00 on 2 June in UTC is 22:00 on 1 June in New York (IANA time-zone data)
    yard.register.zone = ZoneInfo("America/New_York")
    yard.now = datetime(2026, 6, 2, 2, tzinfo=UTC)
    going = walk_rounds.begin(yard.register, yard.machine, sheets.load().by_id["weekly-shop"], by="Olav", now=yard.now)
    while (question := going.walk.next(yard.now)) is not None:
        seen = "soft" if question.id == "tyre-look" else _right(question, going.walk)
        going = walk_rounds.answer(yard.register, going.id, question.id, seen, by="Olav", now=yard.now).check
    ended = sign_last(yard, going)
    (fault,) = [one.what for one in ended if isinstance(one.what, e.Fault)]
    assert fault.fix_by_day == "2026-06-08"


def test_a_check_is_written_with_its_first_answer_and_not_before(yard: Any) -> None:
    before = len(entries(yard.register, "1 = 1"))
    sheet = sheets.load().by_id["road"]
    going, other = (
        walk_rounds.prepare(yard.register, yard.machine, sheet, by="Olav", at=yard.now) for _ in range(2)
    )  # fmt: skip
    question = going.walk.next(yard.now)
    assert question is not None
    with pytest.raises(Refused):
        walk_rounds.answer(yard.register, going, question.id, "no such answer", by="Olav", now=yard.now)
    assert len(entries(yard.register, "1 = 1")) == before
    yard.now += timedelta(seconds=9)
    seen = _right(question, going.walk)
    after = walk_rounds.answer(yard.register, going, question.id, seen, by="Olav", now=yard.now).check
    kinds = [one.what.kind for one in entries(yard.register, "1 = 1 ORDER BY number")[before:]]
    assert kinds == ["sheet", "check begun", "answer"]
    assert (after.is_written, after.begun.happened, len(after.walk.counting())) == (True, going.begun.happened, 1)
    with pytest.raises(Refused, match="open since"):  # somebody else was about to begin the same
        walk_rounds.answer(yard.register, other, question.id, seen, by="Tove", now=yard.now)
    assert yard.register.rebuild() == []


def test_a_check_that_is_open_already_is_named_by_the_time_of_its_own_place(yard: Any) -> None:
    yard.register.zone = ZoneInfo("America/New_York")
    yard.now = datetime(2026, 6, 2, 2, tzinfo=UTC)
    sheet = sheets.load().by_id["pre-start"]
    walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now)
    with pytest.raises(Refused, match="open since 2026-06-01 22:00"):
        walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now)


def test_a_passed_check_that_was_just_looked_at_does_not_outlive_its_answers(yard: Any) -> None:
    going = passed(yard)
    sign_last(yard, going)
    assert walk_rounds.check(yard.register, going.id).ended is not None
    assert yards.machine_now(yard.register, yard.machine, yard.now).standing.run == "clear"
    yard.now += timedelta(minutes=1)
    slip = e.Correction(entry=going.walk.given[3].id, why="a slip")
    yard.register.add(slip, machine=yard.machine, by="Mara", now=yard.now)
    assert yards.machine_now(yard.register, yard.machine, yard.now).standing.run == "check due"
    assert yard.register.rebuild() == []


@in_a_file
def test_a_check_whose_end_the_disk_refused_is_still_open(yard: Any) -> None:
    resource = pytest.importorskip("resource")
    going = passed(yard)
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (Path(f"{yard.register.path}-wal").stat().st_size, limits[1]))
    try:
        with pytest.raises(CannotWrite):
            sign_last(yard, going)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert walk_rounds.check(yard.register, going.id).ended is None
    sign_last(yard, going)
    assert yards.machine_now(yard.register, yard.machine, yard.now).standing.run == "clear"


def test_the_book_says_titles_where_entries_keep_ids(yard: Any) -> None:
    sheet = sheets.load().by_id["pre-start"]
    going = walk_rounds.begin(yard.register, yard.machine, sheet, by="Olav", now=yard.now)
    first = going.walk.sheet.questions[0]
    seen = _right(first, going.walk)
    walk_rounds.answer(yard.register, going.id, first.id, seen, by="Olav", now=yard.now)
    item = yard.register.plans().at(yard.machine, yard.now).items[0]
    fault = yard.add(e.Fault(part="pawl", says="slips", fix_by_runs=4))
    for given in (item.id, fault.id):
        yard.add(e.Assigned(item=given, to="Olav", day=f"{yard.now:%Y-%m-%d}"))
    lines = {line.entry.what.kind: line for line in book.book(yard.register, yard.machine, kinds=("answer", "given"))}
    by_fault, by_item = book.book(yard.register, yard.machine, kinds=("given",))
    assert by_fault.says().startswith("pawl: slips given to Olav for ")
    choice = first.choice(seen)
    assert choice is not None
    for language in ("es", "en"):
        languages.install(language)
        title, says = said(first.title, language), said(choice.says, language)
        assert lines["answer"].says() == f"{title}: {says} ({_('right')})"
        assert by_item.says().startswith(said(item.short or item.what, language))
        (begun,) = book.book(yard.register, yard.machine, kinds=("check begun",))
        assert begun.says().startswith(said(sheet.title, language))
    # data for other programs keep the ids
    assert lines["answer"].says_plainly.startswith(f"{first.id}: {seen} ")
