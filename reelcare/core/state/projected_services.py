"""The services of the weeks to come, again and again: a season's plan.

The rules of this file: each service is taken as done on its likely day, with the hours, metres and runs expected by
then, and the next one counts from there as the plan says; what it covers is done with it. It is a plan, not a
forecast: the spread of a service after the next one is not told.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from datetime import date, timedelta

from reelcare.core.forecast.first_passage import ahead
from reelcare.core.forecast.forecast import Forecast, forecast
from reelcare.core.forecast.season import open_days
from reelcare.core.forecast.usage_rate import Pace, pace
from reelcare.core.scales import ScalePoint
from reelcare.core.service import due
from reelcare.core.service.due import Cycle
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.plan import Item
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.text import _


def expected(now: ScalePoint, day: date, speed: Pace | None) -> ScalePoint:
    """Where a machine is expected to stand on a day to come.

    >>> even = Pace((18000, 150_000, 0.5), (1, 1, 1), (1, 1, 1), (1, 1, 1))
    >>> expected(ScalePoint(date(2026, 7, 1), 3600, 0, 3), date(2026, 7, 11), even)
    ScalePoint(day=datetime.date(2026, 7, 11), seconds=183600, millimetres=1500000, runs=8)
    """
    if speed is None:
        return now._replace(day=day)
    days = open_days(speed.season, now.day.toordinal() + 1, day.toordinal())
    seconds, millimetres, runs = (round(ahead(speed, scale).sum(days)[0]) for scale in range(3))
    return ScalePoint(day, now.seconds + seconds, now.millimetres + millimetres, now.runs + runs)


def lines_ahead(machine: MachineNow, today: date, until: date) -> list[DueLine]:
    """The machine's due lines, and one more for each service after the next that is likely due by a day.

    What each pre-start asks is left out; `forecasts` must have been asked for with the machine.
    """
    lines = {line.item.id: line for line in machine.lines}
    planned = _Planned(machine, today)
    again = []
    for item, cycle, day in planned.services(until):
        if cycle.last_done != lines[item.id].last_done:
            then = due.judge(item, cycle, planned.at(day))._replace(told=_("again"))
            again.append(
                lines[item.id]._replace(
                    due=then,
                    last_done=cycle.last_done,
                    done_at=cycle.done_at,
                    forecast=Forecast(day, day, day),
                    planned=day,
                    given=None,
                )
            )
    return [*machine.lines, *again]


class _Planned:
    """One machine's services, played forward."""

    def __init__(self, machine: MachineNow, today: date) -> None:
        self._machine, self._today = machine, today
        self._season = machine.card.season
        self._speed = pace(machine.state.use, today, self._season, machine.prior)
        self._now = machine.state.point(today)
        self._items = [item for item in machine.plan.items if item.is_for(machine.card)]
        self._cycles = {item.id: machine.state.cycle(item) for item in self._items}

    def at(self, day: date) -> ScalePoint:
        """Where the machine is expected to stand."""
        return expected(self._now, day, self._speed)

    def services(self, until: date) -> Iterator[tuple[Item, Cycle, date]]:
        """Each service with the cycle that it ends, in the order of days."""
        plan = self._machine.plan
        waiting: list[tuple[date, str]] = []
        for item in self._items:
            if not item.each_time:
                self._wait(waiting, item, self._today)
        days = dict((id, day) for day, id in waiting)
        while waiting and waiting[0][0] <= until:
            day, id = heapq.heappop(waiting)
            service = plan.item(id)
            if service is None or days.get(id) != day:
                continue  # done meanwhile with a bigger service
            yield service, self._cycles[id], day
            here = self.at(day)
            for one in plan.with_covered(id):
                if one.id not in self._cycles:
                    continue  # the machine has no such part
                self._cycles[one.id] = due.after_service(one, self._cycles[one.id], here)
                days.pop(one.id, None)
                following = self._wait(waiting, one, day + timedelta(days=1))
                if following is not None:
                    days[one.id] = following

    def _wait(self, waiting: list[tuple[date, str]], item: Item, earliest: date) -> date | None:
        told = forecast(due.thresholds(item, self._cycles[item.id]), self._now, self._speed, self._season)
        if told is None or told.likely is None:
            return None
        day = max(told.likely, earliest)
        heapq.heappush(waiting, (day, item.id))
        return day
