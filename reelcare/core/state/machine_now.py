"""A machine as it stands at one moment: what a person looks at in the yard, at the bench and in the due list."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, tzinfo

from reelcare.core.forecast.forecast import forecast, pace
from reelcare.core.machine.card import Card
from reelcare.core.service import due
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.plan import Plan
from reelcare.core.state import standing
from reelcare.core.state.machine_state import MachineState, OpenFault
from reelcare.core.timestamps import day_of


@dataclass(frozen=True, slots=True)
class MachineNow:
    """One machine at one moment."""

    id: str
    card: Card
    state: MachineState
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
        return tuple(sorted(self.state.faults, key=lambda one: (not one.holds, one.since)))

    @property
    def next(self) -> DueLine | None:
        """The item that comes first: the one with the greatest used part of its interval."""
        return next((line for line in self.dues if line.news), None)


def see(
    machine: str,
    card: Card,
    state: MachineState,
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
    at = state.point(day_of(now, zone))
    speed = pace(state.use, at.day, card.season) if forecasts else None
    judged = standing.dues(state, plan, now, zone)
    wanted = forecasts
    for item, due_now in judged:
        cycle = state.cycle(item)
        line = DueLine(machine, card.tag, card.place, item, due_now, cycle.last_done)
        if wanted and (line.news or not of_next):
            line = replace(line, forecast=forecast(due.thresholds(item, cycle), at, speed, card.season))
            wanted = not of_next
        lines.append(line)
    return MachineNow(machine, card, state, plan, standing.judge(state, plan, now, zone, judged=judged), tuple(lines))


_RANK = {"held": 0, "check due": 1, "clear": 2}


def yard_order(machine: MachineNow) -> tuple[int, float, str]:
    """Holds first, then what is due soonest, then by tag."""
    first = machine.next
    return (_RANK[machine.standing.worst], -(first.due.used_fraction if first else 0.0), machine.tag)
