"""What was last done, told by a figure of the hour counter alone: dated where the register knows that figure."""

from datetime import date, timedelta
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.service.due_line import DueLine
from reelcare.core.spreadsheet.cells import DoneAt
from reelcare.core.state.projected_services import lines_ahead
from reelcare.register.exchange.first_day import last_done
from reelcare.register.reading import queries
from reelcare.register.reading import yard as yards
from tests.register.conftest import CARD, START

HOUR = 3600
RUNS = (2, 3, 5, 8)
"""Days after the beginning on which the machine ran ten hours."""


@pytest.mark.parametrize("hours", [0, 9, 10, 11, 20, 35, 40])
def test_it_is_the_first_day_at_whose_end_the_counter_showed_so_much(yard: Any, hours: int) -> None:
    yard.add(e.Carded(card={**CARD, "in_use_since": START.date().isoformat()}))
    for day in RUNS:
        yard.run(day)
    now = START + timedelta(days=10)
    item = last_done.grid(yard.register).items[0].id
    cells = {
        (yard.machine, last_done.NOW): DoneAt(None, 10 * len(RUNS) * HOUR),
        (yard.machine, item): DoneAt(None, hours * HOUR),
    }
    told = last_done.told_services(yard.register, cells, now=now)
    assert told.problems == {}
    [service] = [one for one in told.drafts if isinstance(one.what, e.Service)]
    days = [START.date() + timedelta(days=day) for day in range(11)]
    run_by = {day: 10 * sum(START.date() + timedelta(days=one) <= day for one in RUNS) for day in days}
    assert service.happened.date() == min(day for day in days if run_by[day] >= hours)
    assert told.without_day == [(yard.machine, item)]


@pytest.mark.parametrize(
    ("hours", "read", "day"),
    [
        (1420, {}, 0),  # at any time since the first day
        (2000, {}, 0),
        (1420, {300: 1500}, 0),
        (1500, {300: 1500}, 0),
        (1501, {300: 1500}, 300),  # between two readings: at the first of them at the earliest
        (1700, {300: 1500, 350: 1650}, 350),
        (1650, {300: 1500, 350: 1650}, 300),
    ],
)
def test_what_a_reading_shows_beyond_the_runs_can_have_been_done_at_any_time_before_it(
    yard: Any, hours: int, read: dict[int, int], day: int
) -> None:
    since = START - timedelta(days=400)
    yard.add(e.Carded(card={**CARD, "in_use_since": since.date().isoformat()}))
    for on, shows in read.items():
        yard.add(e.Reading(counter="hours", value=shows * HOUR), at=since + timedelta(days=on))
    item = last_done.grid(yard.register).items[0].id
    cells = {(yard.machine, last_done.NOW): DoneAt(None, 2000 * HOUR), (yard.machine, item): DoneAt(None, hours * HOUR)}
    told = last_done.told_services(yard.register, cells, now=START)
    assert told.problems == {}
    [service] = [one for one in told.drafts if isinstance(one.what, e.Service)]
    assert service.happened.date() == since.date() + timedelta(days=day)


def test_a_figure_of_a_counter_that_was_never_read_is_asked_for_with_what_it_shows_now(yard: Any) -> None:
    since = START - timedelta(days=400)
    yard.add(e.Carded(card={**CARD, "in_use_since": since.date().isoformat()}))
    yard.run(2)
    item = last_done.grid(yard.register).items[0].id
    told = last_done.told_services(yard.register, {(yard.machine, item): DoneAt(None, 8 * HOUR)}, now=yard.now)
    assert told.problems == {(yard.machine, item): "say what the hour counter shows now, or the day"}


def line_of(yard: Any, item: str) -> DueLine:
    dues = yards.machine_now(yard.register, yard.machine, yard.now).dues
    [kept] = [one for one in yards.with_due_lines(yard.register, yard.now)[1] if one.item.id == item]
    [folded] = [one for one in dues if one.item.id == item]
    assert (kept.last_done, kept.done_at) == (folded.last_done, folded.done_at)
    return folded


def test_what_was_told_by_hours_alone_is_said_by_hours_until_it_is_done_on_a_day(yard: Any) -> None:
    since = START - timedelta(days=400)
    yard.add(e.Carded(card={**CARD, "in_use_since": since.date().isoformat()}))
    now = yard.now
    by_hours, by_day = "gearbox-oil-change", "chain"
    cells = {
        (yard.machine, last_done.NOW): DoneAt(None, 2000 * HOUR),
        (yard.machine, by_hours): DoneAt(None, 1420 * HOUR),
        (yard.machine, "lay-up"): DoneAt(None, 1990 * HOUR),
        (yard.machine, by_day): DoneAt(START.date() - timedelta(days=9), 1800 * HOUR),
    }
    told = last_done.told_services(yard.register, cells, now=now)
    assert told.problems == {}
    last_done.write(yard.register, told, by="Mara", now=now)
    known = last_done.grid(yard.register).known
    assert (known[yard.machine, by_hours], known[yard.machine, by_day]) == ("1420 h", "2026-04-22")
    assert line_of(yard, by_hours).last_done == since.date()
    assert line_of(yard, by_hours).last_done_as() == "at 1420 h"  # due by hours
    assert line_of(yard, by_day).last_done_as() == "2026-04-22"
    [entry] = [one for one in yard.register.select(queries.of_kind(yard.machine, e.Service.kind))
               if one.what.item == by_hours]  # fmt: skip
    assert entry.what.describe().endswith(": as told from older records, at 1420 h, on a day that was not told")
    assert line_of(yard, "grease").last_done_as() == "at 1990 h"  # the lay-up covers it
    yearly = line_of(yard, "lay-up")
    assert yearly.due.by == "date"
    assert yearly.last_done_as() == f"at 1990 h, not before {since.date()}"
    assert yearly.last_done_as(short=True) == "at 1990 h"
    ahead = lines_ahead(yards.machine_now(yard.register, yard.machine, yard.now), yard.now.date(), date(2030, 1, 1))
    again = [one for one in ahead if one.item.id == "lay-up" and one.planned is not None]
    assert again
    assert all(one.done_at is None for one in again)
    # as the counter shows it that the machine has now
    yard.add(e.Reading(counter="hours", value=0, change="new counter"))
    assert known == last_done.grid(yard.register).known
    yard.add(e.Service(item=by_hours))
    assert line_of(yard, by_hours).last_done_as() == yard.now.date().isoformat()
    assert last_done.grid(yard.register).known[yard.machine, by_hours] == yard.now.date().isoformat()
