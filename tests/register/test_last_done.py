"""What was last done, told by a figure of the hour counter alone: dated where the register knows that figure."""

from datetime import timedelta
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.spreadsheet.cells import DoneAt
from reelcare.register.exchange.first_day import last_done
from tests.register.conftest import CARD, START

HOUR = 3600
RUNS = (2, 3, 5, 8)
"""Days after the beginning on which the machine ran ten hours."""


@pytest.mark.parametrize("hours", [0, 9, 10, 11, 20, 35, 40])
def test_it_is_the_last_day_at_whose_end_the_counter_showed_no_more(yard: Any, hours: int) -> None:
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
    assert service.happened.date() == max(day for day in days if run_by[day] <= hours)
    assert told.without_day == [(yard.machine, item)]
