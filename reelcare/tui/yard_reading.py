"""What the yard, the due list and the weeks show, read from the register: the one place that knows its questions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime

from reelcare.core.service.due_line import DueLine
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.state.projected_services import lines_ahead
from reelcare.register.errors import Refused
from reelcare.register.progress import Progress, quietly
from reelcare.register.reading import yard
from reelcare.register.reading.reader import Reader
from reelcare.register.reading.yard import ListedMachine

__all__ = ["ListedMachine"]

LARGE = 300
"""Machines beyond which forecasts are made beside the screen and not while one waits."""
STEP = 20
"""Machines whose forecasts are made between two reports of progress."""


def is_large(reader: Reader) -> bool:
    """Whether there are so many machines that nobody should wait for forecasts of all."""
    return len(reader.machine_ids()) > LARGE


def machines(reader: Reader, now: datetime) -> list[ListedMachine]:
    """Every machine as it stands now, in the order of the yard."""
    return yard.listed(reader, now)


def machine(reader: Reader, id: str, now: datetime) -> MachineNow | None:
    """A machine as it stands now, without forecasts; None where it is gone."""
    try:
        return yard.machine_now(reader, id, now, forecasts=False)
    except Refused:
        return None


def find(text: str, among: Sequence[ListedMachine], start: int) -> int | None:
    """The first machine that is meant by a text, from a row on and then from the top."""
    found = yard.find(text, among, start)
    return yard.find(text, among, 0) if found is None and start > 0 else found


def acute(reader: Reader, now: datetime) -> list[DueLine]:
    """What is due or overdue over all machines, worst first."""
    listed = yard.listed(reader, now)
    lines = [line for line in _news(reader, listed, now) if line.due.state in ("due", "overdue")]
    return yard.with_forecasts(reader, lines, now)


def coming_up(reader: Reader, now: datetime, progress: Progress = quietly) -> list[DueLine]:
    """Every item of all machines with its forecast, worst first."""
    listed, found = yard.listed(reader, now), list[DueLine]()
    for start in range(0, len(listed), STEP):
        progress(start, len(listed))
        some = listed[start : start + STEP]
        found += yard.with_forecasts(reader, _news(reader, some, now), now)
    return sorted(found, key=lambda line: (-line.due.used_fraction, line.tag, line.item.id))


def _news(reader: Reader, listed: Sequence[ListedMachine], now: datetime) -> list[DueLine]:
    return [line for line in yard.due_lines(reader, listed, now) if line.news]


def within(lines: Sequence[DueLine], days: int | None, today: date) -> list[DueLine]:
    """What is due now, or likely to be within so many days (None: everything)."""
    return [one for one in lines if _is_within(one, days, today)]


def _is_within(line: DueLine, days: int | None, today: date) -> bool:
    if days is None or line.due.state in ("overdue", "due"):
        return True
    likely = line.forecast.likely if line.forecast else None
    return days > 0 and likely is not None and (likely - today).days <= days


def lines_by_place(
    reader: Reader, now: datetime, until: date, progress: Progress
) -> Iterator[tuple[str, list[DueLine]]]:
    """Place by place, what each machine needs until a day."""
    listed, today = yard.listed(reader, now), now.astimezone(reader.zone).date()
    for number, one in enumerate(listed):
        progress(number, len(listed))
        seen = yard.machine_now(reader, one.id, now)
        yield one.place, list(lines_ahead(seen, today, until))
