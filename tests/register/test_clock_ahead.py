"""What was written with a clock that was ahead counts where it was written: it hides nothing, and nothing is lost."""

from datetime import date, timedelta
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.proof.proving import prove
from reelcare.register.reading import yard as yards
from tests.register.conftest import CARD

H, DAY = timedelta(hours=1), timedelta(days=1)
AHEAD = 200 * DAY
LUBE = {"id": "lube", "what": "Lube", "part": "gearbox", "every": {"hours": 10}, "grace": 0, "stop": True}
OWN = {"id": "own", "items": [LUBE]}
LAX = {"id": "lax", "items": [{**LUBE, "every": {"hours": 5000}}]}


def write(yard: Any, what: e.Kind, *, by: str = "Mara", ahead: timedelta = timedelta(), for_all: bool = False) -> Any:
    yard.now += timedelta(minutes=1)
    return yard.register.add(what, machine=None if for_all else yard.machine, by=by, now=yard.now + ahead)


def read(yard: Any, hours: int, ahead: timedelta = timedelta()) -> None:
    write(yard, e.Reading(counter="hours", value=hours * 3600), by="Olav", ahead=ahead)


def last_done(yard: Any) -> date | None:
    done: date | None = yard.register.state(yard.machine).cycles["lube"].last_done
    return done


def word(yard: Any) -> str:
    found: str = yards.machine_now(yard.register, yard.machine, yard.now).standing.run
    return found


def is_whole(yard: Any) -> bool:
    return prove(yard.register).whole and yard.register.rebuild() == []


def test_a_service_with_the_clock_ahead_does_not_hide_the_use_since(yard: Any) -> None:
    write(yard, e.Planned(plan=OWN), for_all=True)
    read(yard, 100)
    write(yard, e.Service(item="lube"), by="Tove", ahead=AHEAD)
    yard.now += 3 * DAY
    read(yard, 150)
    assert word(yard) == "held"
    assert last_done(yard) == yard.start.date()
    assert is_whole(yard)


def test_a_service_with_the_clock_ahead_counts_at_the_hours_that_were_told_with_it(yard: Any) -> None:
    write(yard, e.Planned(plan=OWN), for_all=True)
    read(yard, 100)
    yard.now += 3 * DAY
    read(yard, 140, ahead=AHEAD)
    write(yard, e.Service(item="lube"), by="Tove", ahead=AHEAD)
    yard.now += DAY
    read(yard, 145)
    assert word(yard) == "check due"
    assert last_done(yard) == yard.now.date()  # at the latest
    assert is_whole(yard)


def test_what_is_said_of_when_a_service_was_done_stays(yard: Any) -> None:
    write(yard, e.Planned(plan=OWN), for_all=True)
    read(yard, 100)
    done = yard.now
    yard.now += 2 * DAY
    service = e.Service(item="lube")
    yard.register.add(service, machine=yard.machine, by="Tove", now=yard.now + AHEAD, happened=done)
    yard.now += DAY
    read(yard, 105)
    assert last_done(yard) == done.date()


def test_a_hold_with_the_clock_ahead_can_be_repaired_and_released(yard: Any) -> None:
    fault = write(yard, e.Fault(part="brake", says="slips", holds="both", retest="pull"), ahead=AHEAD).id
    write(yard, e.Repair(fault=fault, says="new lining"), by="Tove")
    write(yard, e.Retest(fault=fault, passed=True), by="Tove")
    yard.register.clock_is_right = True
    write(yard, e.Release(fault=fault), by="Tove")
    assert yard.register.state(yard.machine).faults == ()
    assert is_whole(yard)


def test_a_re_test_that_failed_stands_over_one_that_passed_with_the_clock_ahead(yard: Any) -> None:
    fault = write(yard, e.Fault(part="brake", says="slips", holds="both", retest="pull")).id
    write(yard, e.Repair(fault=fault, says="new lining"), by="Tove")
    write(yard, e.Retest(fault=fault, passed=True), by="Tove", ahead=AHEAD)
    write(yard, e.Retest(fault=fault, passed=False), by="Tove")
    assert yard.register.state(yard.machine).faults[0].status == "open"
    assert is_whole(yard)


def test_a_reading_with_the_clock_ahead_is_followed_by_any_that_is_higher(yard: Any) -> None:
    read(yard, 100)
    yard.now += 3 * DAY
    read(yard, 120, ahead=AHEAD)
    read(yard, 140)
    assert yard.register.state(yard.machine).totals.seconds == 140 * 3600
    yard.now += H
    read(yard, 141)
    assert is_whole(yard)


def test_a_note_with_the_clock_ahead_can_be_read(yard: Any) -> None:
    note = write(yard, e.Noted(says="mind the ditch"), by="Olav", ahead=AHEAD).id
    write(yard, e.NoteRead(note=note), by="Olav")
    assert yard.register.state(yard.machine).notes == ()


@pytest.mark.parametrize("by_tag", [True, False])
def test_the_plan_that_was_chosen_last_is_in_force(yard: Any, by_tag: bool) -> None:
    write(yard, e.Planned(plan=LAX), ahead=AHEAD, for_all=not by_tag)
    write(yard, e.Planned(plan=OWN), for_all=not by_tag)
    assert yard.register.plans().newest(yard.machine).id == "own"
    assert is_whole(yard)


def test_the_role_card_place_and_set_that_were_written_last_count(yard: Any) -> None:
    register = yard.register
    people.enrol(register, "Olav", "supervisor", by="Mara", now=yard.now + AHEAD)
    people.enrol(register, "Olav", "operator", by="Mara", now=yard.now)
    for ahead, word in ((AHEAD, "Wrong"), (timedelta(), "Right")):
        write(yard, e.Carded(card={**CARD, "name": word}), ahead=ahead)
        write(yard, e.Moved(place=word), ahead=ahead)
        write(yard, e.SetPlanned(wishes={}, planned={"nozzle": word}), ahead=ahead)
    assert register.roles()["Olav"] == "operator"
    assert register.card(yard.machine).name == "Right"
    assert register.card(yard.machine).place == "Right"
    kept = register.newest(yard.machine, e.SetPlanned.kind, yard.now)
    assert kept.what.planned == {"nozzle": "Right"}
    assert is_whole(yard)


def test_what_was_taken_back_with_the_clock_ahead_comes_back(yard: Any) -> None:
    fault = write(yard, e.Fault(part="hose", says="leaks", fix_by_runs=9))
    first = write(yard, e.Correction(entry=fault.id, why="mistaken"), ahead=AHEAD)
    assert yard.register.state(yard.machine).faults == ()
    write(yard, e.Correction(entry=first.id, why="it was right"))
    assert [one.id for one in yard.register.state(yard.machine).faults] == [fault.id]
    assert is_whole(yard)


def test_a_clock_that_fell_back_for_years_and_went_right_again_moves_nothing(yard: Any) -> None:
    write(yard, e.Planned(plan=OWN), for_all=True)
    yard.now += DAY
    read(yard, 100)
    write(yard, e.Service(item="lube"), by="Tove")
    done = yard.now
    write(yard, e.Fault(part="hose", says="scuffed"), ahead=-4 * 365 * DAY)
    yard.now += DAY
    read(yard, 104)
    assert last_done(yard) == done.date()
    assert word(yard) == "check due"
    assert is_whole(yard)
