"""What is due now and what comes up, as short lines: enough to order, count and choose by, at any size of yard.

The rules of this file: what is due or overdue is found by the database at once. What comes up needs each machine's own
pace, so it is gathered machine by machine, a few at a time; who asks can show how far it is, and stop it. A line in
full is made for the rows that are seen.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING, NamedTuple

from reelcare.core.forecast.forecast import Forecast
from reelcare.core.service.due import State
from reelcare.core.service.due_line import DueLine
from reelcare.register import ranking, yard

if TYPE_CHECKING:
    from reelcare.register.register import Register

AT_ONCE = 60
"""Machines that are gathered in one go: they take less than a blink."""


class Found(NamedTuple):
    """An item of a machine that is due or comes up; `life` is the used part of its interval."""

    machine: str
    item: str
    tag: str
    place: str
    part: str
    state: State
    life: float
    ahead: Forecast | None


def acute(register: Register, now: datetime) -> list[Found]:
    """What is due or overdue over all machines, worst first."""
    today = now.astimezone(register.zone).date()
    ahead = Forecast(today, today, today)
    return [
        Found(row[0], row[3], row[1], row[2], row[4], row[5], row[10], ahead)
        for row in ranking.acute(register, now, news=True)
    ]


def gather(register: Register, now: datetime, machines: Sequence[str]) -> Iterator[list[Found]]:
    """Every item of these machines that is news, with its forecast, a few machines at a time."""
    for start in range(0, len(machines), AT_ONCE):
        some = yard.machines(register, machines[start : start + AT_ONCE], now, forecasts=True)
        yield [
            Found(
                one.id,
                line.item.id,
                one.tag,
                one.card.place,
                line.item.part,
                line.due.state,
                line.due.used_fraction,
                line.forecast,
            )
            for one in some
            for line in one.dues
            if line.news
        ]


def worst(register: Register, now: datetime, most: int) -> list[DueLine]:
    """The `most` items that are furthest, in full and with their forecasts; only their machines are looked at."""
    keys = [(row[0], row[3]) for row in ranking.worst(register, now, most)]
    machines = list(dict.fromkeys(machine for machine, _ in keys))
    seen = {
        (one.id, line.item.id): line
        for one in yard.machines(register, machines, now, forecasts=True)
        for line in one.dues
    }
    return [seen[key] for key in keys if key in seen]


def within(found: Found, days: int | None, today: date) -> bool:
    """Whether it is due now, or likely to be within so many days (None: whenever)."""
    if days is None or found.state in ("overdue", "due"):
        return True
    likely = found.ahead.likely if found.ahead else None
    return days > 0 and likely is not None and (likely - today).days <= days


def in_order(found: list[Found]) -> list[Found]:
    """Worst first, as every list of what is due stands."""
    return sorted(found, key=lambda one: (-one.life, one.tag, one.item))


def lines(register: Register, found: Sequence[Found], now: datetime) -> list[DueLine]:
    """These in full, in their order."""
    made = ranking.due_lines_of(register, [(one.machine, one.item) for one in found], now)
    return [made[one.machine, one.item] for one in found if (one.machine, one.item) in made]
