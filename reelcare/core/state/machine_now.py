"""A machine as it stands at one moment: what a person looks at in the yard, at the bench and in the due list."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, tzinfo

from reelcare.core.forecast.forecast import Forecast, forecast, pace
from reelcare.core.machine.card import Card
from reelcare.core.service import due
from reelcare.core.service.plan import Item, Plan
from reelcare.core.state import standing
from reelcare.core.state.tally import OpenFault, Tally, cycle_of, day_of, point


@dataclass(frozen=True, slots=True)
class DueLine:
    """One item of one machine's plan, where it stands, and (where asked for) when it will fall due.

    `planned` is the day of a service after the next one, in a plan of the weeks to come.
    """

    machine: str
    tag: str
    place: str
    item: Item
    due: due.Due
    last_done: date | None
    forecast: Forecast | None = None
    planned: date | None = None

    @property
    def news(self) -> bool:
        """Whether it tells more than that a check is due before the next run."""
        return not self.item.each_time or self.due.state == "overdue"


@dataclass(frozen=True, slots=True)
class MachineNow:
    """One machine at one moment."""

    id: str
    card: Card
    tally: Tally
    plan: Plan
    standing: standing.Standing
    dues: tuple[DueLine, ...]

    @property
    def tag(self) -> str:
        """What the machine is called by."""
        return self.card.tag

    @property
    def faults(self) -> tuple[OpenFault, ...]:
        """Open faults, those that hold first, then the oldest."""
        return tuple(sorted(self.tally.faults, key=lambda one: (not one.what.holds, one.since)))

    @property
    def next(self) -> DueLine | None:
        """The item that comes first: the one with the greatest used part of its interval."""
        return next((line for line in self.dues if line.news), None)


def see(
    machine: str,
    card: Card,
    tally: Tally,
    plan: Plan,
    now: datetime,
    zone: tzinfo,
    *,
    forecasts: bool = False,
    of_next: bool = False,
) -> MachineNow:
    """The machine at `now`; with `forecasts`, each due line says when it will fall due, or only the one that comes
    first (`of_next`)."""
    lines = []
    at = point(tally, day_of(now, zone))
    speed = pace(tally.use, at.day, card.season) if forecasts else None
    judged = standing.dues(tally, plan, now, zone)
    wanted = forecasts
    for item, state in judged:
        cycle = cycle_of(tally, item)
        line = DueLine(machine, card.tag, card.place, item, state, cycle.last_done)
        if wanted and (line.news or not of_next):
            line = replace(line, forecast=forecast(due.thresholds(item, cycle), at, speed, card.season))
            wanted = not of_next
        lines.append(line)
    return MachineNow(machine, card, tally, plan, standing.judge(tally, plan, now, zone, judged=judged), tuple(lines))


_RANK = {"held": 0, "check due": 1, "clear": 2}


def yard_order(machine: MachineNow) -> tuple[int, float, str]:
    """Holds first, then what is due soonest, then by tag."""
    first = machine.next
    return (_RANK[machine.standing.worst], -(first.due.life if first else 0.0), machine.tag)
