"""A machine as it stands at one moment: what a person looks at in the yard, at the bench and in the due list."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from reelcare.core.forecast.forecast import Pace, forecast, pace, why_none
from reelcare.core.forecast.seasonal_profile import USUAL_PRIOR, Prior
from reelcare.core.forecast.usage_history import Use
from reelcare.core.machine.card import Card, Season
from reelcare.core.scales import ScalePoint
from reelcare.core.service.due import due_by, governing
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.plan import Plan
from reelcare.core.state.limits import Limits, limits_of
from reelcare.core.state.machine_state import FaultStatus, MachineState, OpenFault
from reelcare.core.state.standing import Judged, Standing, judge, worded
from reelcare.core.text import mark
from reelcare.core.timestamps import day_of

STEPS = (mark("repair"), mark("re-test"), mark("release"))
"""What ends a fault, in this order; a re-test where one is named."""
NEXT_STEP: dict[FaultStatus, str] = {"open": "repair", "repaired": "re-test", "re-tested": "release"}


@dataclass(frozen=True, slots=True)
class MachineNow:
    """One machine at one moment."""

    id: str
    card: Card
    state: MachineState
    plan: Plan
    standing: Standing
    dues: tuple[DueLine, ...]
    judged: Judged
    prior: Prior = USUAL_PRIOR

    @property
    def tag(self) -> str:
        """What the machine is called by."""
        return self.card.tag

    @property
    def faults(self) -> tuple[OpenFault, ...]:
        """Open faults, those that hold first, then the oldest."""
        return tuple(sorted(self.state.faults, key=lambda one: (not one.holds, one.since)))

    @property
    def ends_by(self) -> tuple[str, ...]:
        """What ends that it may not run, or not be towed, one after the other; () where it may do both.

        It is said of the first reason: holds stand before checks.
        """
        reason = next((one for one in self.standing.because if one.code != "passed"), None)
        if reason is None:
            return ()
        if reason.fault:
            fault = next(one for one in self.state.faults if one.id == reason.fault)
            left = STEPS[STEPS.index(NEXT_STEP[fault.status]) :]
            return tuple(one for one in left if one != "re-test" or fault.retest)
        item = self.plan.item(reason.item)
        if item is not None and not item.each_time:
            return (mark("its service"),)
        return (mark("road check"),) if reason.side == "road" else (mark("pre-start"),)

    @property
    def next(self) -> DueLine | None:
        """The item that comes first: the one with the greatest used part of its interval."""
        return next((line for line in self.dues if line.item.id == self.judged.item), None)


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
    language: str = "en",
    prior: Prior = USUAL_PRIOR,
) -> MachineNow:
    """The machine at `now`; with `forecasts`, each due line says when it will fall due, or only the one that comes
    first (`of_next`); `prior` is what its neighbours say of the shape of its season."""
    limits = limits_of(state, plan)
    judged = judge(limits, now, zone)
    lines = due_lines(machine, card.tag, card.place, limits, plan, now, zone)
    if forecasts:
        at = limits.point(day_of(now, zone))
        speed = pace(state.use, at.day, card.season, prior)
        lines = tuple(
            with_forecast(line, at, speed, state.use, card.season)
            if not of_next or line.item.id == judged.item
            else line
            for line in lines
        )
    words = worded(judged.standing, limits, plan, zone, now, language=language)
    return MachineNow(machine, card, state, plan, words, lines, judged, prior)


def with_forecast(line: DueLine, at: ScalePoint, speed: Pace | None, use: Use, season: Season) -> DueLine:
    """The line with when it will fall due, or with why nobody can say."""
    told = forecast(line.thresholds, at, speed, season)
    return line._replace(forecast=told, forecast_reason="" if told else why_none(use, at.day, season, speed))


def due_lines(
    machine: str, tag: str, place: str, limits: Limits, plan: Plan, now: datetime, zone: tzinfo
) -> tuple[DueLine, ...]:
    """Every item of a machine's plan with where it stands, worst first, without forecasts.

    The plan is the one that the limits were made under; an item that is in it no more is left out.
    """
    point = limits.point(day_of(now, zone))
    here = point.by_scale
    lines = []
    for id, _, stop, each_time, done, thresholds in limits.items:
        item = plan.item(id)
        if item is not None:
            figures = due_by(*governing(thresholds, here), point, thresholds, stop=stop and not each_time)
            last = date.fromordinal(done) if done is not None else None
            lines.append(DueLine(machine, tag, place, item, figures, thresholds, last))
    return tuple(sorted(lines, key=lambda line: (-line.due.used_fraction, line.item.id)))


def yard_order(machine: MachineNow) -> tuple[int, float, str]:
    """Holds first, then what is due soonest, then by tag."""
    return machine.judged.order(machine.tag)
