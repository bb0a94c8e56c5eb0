"""What the yard, the due list and the weeks show, read from the register: the one place that knows its questions.

The rules of this file: nothing is kept but what belongs to one state of the register; it is read again once any
program has written or another minute has come.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime

from reelcare.core.upkeep.ahead import lines_ahead
from reelcare.core.upkeep.now import DueLine, MachineNow
from reelcare.register import upcoming, yard
from reelcare.register.glimpse import Machine
from reelcare.register.progress import Progress
from reelcare.register.register import Register
from reelcare.register.upcoming import AT_ONCE, Found
from reelcare.register.yard import Order

__all__ = ["Found", "Machine", "Order"]


def is_large(register: Register, now: datetime) -> bool:
    """Whether so many machines are read beside the screen and not while one waits."""
    return len(order(register, now)) > AT_ONCE


def order(register: Register, now: datetime) -> Order:
    """Every machine in the order of the yard, and how many stand how."""
    return yard.order(register, now)


def bring_to_today(register: Register, now: datetime) -> None:
    """Bring the order of a large yard to today, on a connection of its own. Raises RegisterError."""
    with register.beside() as own:
        yard.renew(own, now)


def rows(register: Register, among: Order, start: int, most: int, now: datetime, language: str) -> list[Machine]:
    """A page of the yard."""
    return yard.rows(register, among, start, most, now, language)


def machine(register: Register, id: str, now: datetime) -> MachineNow | None:
    """A machine as it stands now; None where it is gone."""
    return next(iter(yard.machines(register, [id], now)), None)


def find(register: Register, text: str, among: Order, start: int) -> int | None:
    """The first machine that is meant by a text, from a row on and then from the top."""
    found = yard.find(register, text, among.machines, start)
    return yard.find(register, text, among.machines, 0) if found is None and start > 0 else found


def acute(register: Register, now: datetime) -> list[Found]:
    """What is due or overdue over all machines, worst first."""
    return upcoming.acute(register, now)


def coming_up(register: Register, now: datetime, progress: Progress) -> list[Found]:
    """Every item of all machines with its forecast, worst first."""
    ids = order(register, now).machines
    found: list[Found] = []
    for number, some in enumerate(upcoming.gather(register, now, ids)):
        progress(number * upcoming.AT_ONCE, len(ids))
        found += some
    return upcoming.in_order(found)


def within(found: Sequence[Found], days: int | None, today: date) -> list[Found]:
    """What is due now, or likely to be within so many days (None: everything)."""
    return [one for one in found if upcoming.within(one, days, today)]


def due_lines(register: Register, found: Sequence[Found], now: datetime) -> list[DueLine]:
    """These items in full."""
    return upcoming.lines(register, found, now)


def lines_by_place(
    register: Register, now: datetime, until: date, progress: Progress
) -> Iterator[tuple[str, list[DueLine]]]:
    """Place by place, what each machine needs until a day."""
    ids, today = order(register, now).machines, now.astimezone(register.zone).date()
    for start in range(0, len(ids), AT_ONCE):
        progress(start, len(ids))
        for one in yard.machines(register, ids[start : start + AT_ONCE], now, forecasts=True):
            yield one.card.place, list(lines_ahead(one, today, until))
