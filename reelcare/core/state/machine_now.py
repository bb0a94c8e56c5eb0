"""A machine as it stands at one moment: what a person looks at in the yard, at the bench and in the due list."""

from __future__ import annotations

from datetime import UTC, date, datetime, tzinfo
from typing import NamedTuple

from reelcare.core import units
from reelcare.core.checks.clearance import planned_end
from reelcare.core.forecast.forecast import Forecast, forecast, why_none
from reelcare.core.forecast.seasonal_profile import USUAL_PRIOR, Prior
from reelcare.core.forecast.usage_history import Use
from reelcare.core.forecast.usage_rate import Pace, pace
from reelcare.core.machine.card import Card, Season
from reelcare.core.scales import WHOLE, ScalePoint, Threshold
from reelcare.core.service.due import Due, State, due_by, standing_of
from reelcare.core.service.due_line import ENDS_SHORTLY, DueLine, FaultStep
from reelcare.core.service.plan import Interval, Item, Plan
from reelcare.core.state import counters as counting
from reelcare.core.state.limits import Limits, limits_of
from reelcare.core.state.machine_state import MachineState, OpenFault, OpenNote
from reelcare.core.state.standing import Judged, Reason, Standing, judge, worded
from reelcare.core.text import _, localized, mark
from reelcare.core.timestamps import day_of

STEPS = (mark("repair"), mark("re-test"), mark("release"))
"""What ends a fault, in this order; a re-test where one is named."""


class MachineNow(NamedTuple):
    """One machine at one moment."""

    card: Card
    state: MachineState
    plan: Plan
    lines: tuple[DueLine, ...]
    """Services and faults, the worst first."""
    judged: Judged
    """How it stands, with its reasons in words."""
    prior: Prior = USUAL_PRIOR

    @property
    def id(self) -> str:
        """The id of the machine."""
        return self.state.machine

    @property
    def standing(self) -> Standing:
        """What it may do, with its reasons in words."""
        return self.judged.standing

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
        reason = next((one for one in self.standing.because if one.code not in ("passed", "unknown")), None)
        return self.ends_of(reason) if reason is not None else ()

    def ends_of(self, reason: Reason) -> tuple[str, ...]:
        """What ends a reason why it may not run, or not be towed, one after the other."""
        if reason.fault:
            fault = next(one for one in self.state.faults if one.id == reason.fault)
            if fault.ends_by_answer and fault.status == "open":
                return (mark("a right answer"),)
            left = STEPS[STEPS.index(fault.waits_for) :]
            has_retest = fault.retest or reason.code == "fix-by"
            return tuple(one for one in left if one != "re-test" or has_retest)
        if reason.code == "retired":
            return (mark("taking that entry back"),)
        item = self.plan.item(reason.item)
        if item is not None and not item.each_time:
            return (mark("its service"),)
        return (mark("road check"),) if reason.side == "road" else (mark("pre-start"),)

    @property
    def dues(self) -> tuple[DueLine, ...]:
        """The items of the plan, by the used part of their interval."""
        services = (line for line in self.lines if line.kind == "service")
        return tuple(sorted(services, key=lambda line: (-line.due.used_fraction, line.item.id)))

    @property
    def next(self) -> DueLine | None:
        """The line that comes first, and is news."""
        return next((line for line in self.lines if line.news), None)

    @property
    def given_to(self) -> str:
        """Who is given work on it, each once; '' where nobody is."""
        return ", ".join(dict.fromkeys(line.given.to for line in self.lines if line.given is not None))

    def counters_show(self, system: units.System = "metric") -> str:
        """What the counters show, where that is not what the machine has done (a figure at which something is due is
        one of the counter); '' where it is."""
        totals, before = self.state.totals, counting.not_shown(self.state.counters)
        told = []
        if "hours" in before:
            hours = localized(f"{(totals.seconds - before['hours']) / 3600:.0f} h")
            told.append(_("hour counter shows {shows}", shows=hours))
        if "metres" in before:
            hose = units.show((totals.millimetres - before["metres"]) / 1000, "length", system)
            told.append(_("metre counter shows {shows}", shows=hose))
        return ", ".join(told)

    def notes(self, today: date) -> tuple[OpenNote, ...]:
        """The notes that the next person is to read, the newest last."""
        return tuple(one for one in self.state.notes if one.is_shown(today) and not one.near_miss)

    def known_before(self, now: datetime, zone: tzinfo) -> tuple[str, ...]:
        """What whoever begins a check should know: stop items of which nothing is known, and notes that are unread."""
        unknown = [_("unknown: {says}", says=one.says) for one in self.standing.because if one.code == "unknown"]
        notes = [
            _("note, {by}, {when:%Y-%m-%d %H:%M}: {says}", by=one.by, when=one.since.astimezone(zone), says=one.says)
            for one in self.notes(day_of(now, zone))
        ]
        return (*unknown, *notes)

    @property
    def home_by(self) -> str:
        """The planned finish of the run at hand; '' where none is, or none was planned."""
        passed = self.state.passed.get("run")
        if passed is None or passed.spent is not None or passed.gate not in ("water", "running"):
            return ""
        return passed.finish if planned_end(passed, UTC) is not None else ""


def machine_at(
    card: Card,
    state: MachineState,
    plan: Plan,
    now: datetime,
    zone: tzinfo,
    *,
    limits: Limits | None = None,
    forecasts: bool = False,
    of_next: bool = False,
    language: str = "en",
    system: units.System = "metric",
    prior: Prior = USUAL_PRIOR,
) -> MachineNow:
    """The machine at `now`; with `forecasts`, each due line says when it will fall due, or only the one that comes
    first (`of_next`); `prior` is what its neighbours say of the shape of its season. `limits` are what it is judged by,
    where they are known already."""
    limits = limits or limits_of(state, plan, card)
    judged = judge(limits, now, zone)
    lines = due_lines(state.machine, card.tag, card.place, limits, plan, now, zone)
    if forecasts:
        at = limits.point(day_of(now, zone))
        speed = pace(state.use, at.day, card.season, prior)
        first = next((line for line in lines if line.news), None)
        lines = tuple(
            with_forecast(line, at, speed, state.use, card.season) if not of_next or line is first else line
            for line in lines
        )
    words = worded(judged.standing, limits, plan, zone, now, language=language, system=system)
    return MachineNow(card, state, plan, lines, judged._replace(standing=words), prior)


def with_forecast(line: DueLine, at: ScalePoint, speed: Pace | None, use: Use, season: Season) -> DueLine:
    """The line with when it will fall due, or with why nobody can say; today, where it is due."""
    if line.due.state == "unknown":
        return line._replace(forecast_reason=_("never done"))
    if line.is_acute:
        return line._replace(forecast=Forecast(at.day, at.day, at.day))
    if not line.thresholds:
        return line._replace(forecast_reason=_("no limit was set"))
    told = forecast(line.thresholds, at, speed, season)
    return line._replace(forecast=told, forecast_reason="" if told else why_none(use, at.day, season, speed))


def due_lines(
    machine: str, tag: str, place: str, limits: Limits, plan: Plan, now: datetime, zone: tzinfo
) -> tuple[DueLine, ...]:
    """Every item of a machine's plan and every open fault with where it stands, worst first, without forecasts.

    The plan is the one that the limits were made under; an item that is no longer in it is left out.
    """
    point = limits.point(day_of(now, zone))
    here = point.by_scale
    lines = []
    for id, _part, stop, each_time, done, thresholds in limits.items:
        item = plan.item(id)
        if item is not None:
            stands = standing_of(thresholds, here, is_done=done is not None, known=limits.known)
            figures = due_by(*stands, here, stop=stop and not each_time)
            last = date.fromordinal(done) if done is not None else None
            at, shown = limits.done_at.get(id), limits.not_shown
            lines.append(DueLine(machine, tag, place, item, figures, thresholds, last, done_at=at, not_shown=shown))
    lines += [fault_line(machine, tag, place, fault, limits, point.day) for fault in limits.faults]
    given = limits.given
    if given:
        lines = [line._replace(given=given.get(line.item.id)) for line in lines]
    return tuple(sorted(lines, key=lambda line: line.order))


def fault_line(machine: str, tag: str, place: str, fault: OpenFault, limits: Limits, today: date) -> DueLine:
    """An open fault as a line of the work list: overdue past its limit, due while it holds or waits, else soon."""
    left = fault.left(limits.totals, today)
    by, rest = min(left, key=lambda one: one[1] / NEAR[one[0]], default=("date", 0))
    here, thresholds = limits.point(today).by_scale, []
    for scale, more in left:
        thresholds.append(Threshold(scale, here[scale], here[scale] + more, here[scale] + more))
    lapsed = fault.lapsed(limits.totals, today)
    ends = fault.ends_with
    state: State = "due" if lapsed or fault.holds or fault.status != "open" else "soon"
    if fault.is_overdue(limits.totals, today):
        state = "overdue"
    figure = rest / WHOLE[by]
    said = _(ends) if state != "soon" else "" if left else _("no limit")
    due = Due(state, by, 0.0, 0.0, figure, 1.0, figure, bool(fault.holds) or lapsed, said)
    step = FaultStep("" if ends in ENDS_SHORTLY.values() else ends, ends, fault.since, fault.by)
    item, shown = _as_item(fault), limits.not_shown
    return DueLine(machine, tag, place, item, due, thresholds, None, fault=step, not_shown=shown)


NEAR = {"hours": 10 * 3600, "metres": 320_000, "runs": 1, "date": 1}
"""About one run, on each scale: by it the limit that comes first is found (common practice, no source)."""


def _as_item(fault: OpenFault) -> Item:
    said = fault.of_part
    short = said if len(said) <= MOST_SHORT else said[:MOST_SHORT].rpartition(" ")[0].rstrip(" ,:;") + " …"
    return Item(fault.id, {"en": said}, Interval(), part=fault.part, short={"en": short})


MOST_SHORT = 24
"""Letters of a fault where there is little room; only what somebody typed is cut, between two words."""
