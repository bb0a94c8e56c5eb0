"""What the log of ordinary runs tells of a machine: speed, gun pressure, flow and drive loss against what is usual.

The rules of this file: a signal is a ratio that should stay as it is, in percent off what was expected. What is known
to move it is taken out first: planned dwell, the layers on the drum, the pressure at the inlet, a stop on the way.
Whatever cannot be reckoned for a run leaves it out. What a field, an operator or the wind explains is told as that. A
drift holds nothing by itself: it says what to look at.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal, get_args

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.evidence.charts import RUN_LENGTH, Chart, chart_of
from reelcare.core.evidence.explained import Explained, SignalRun, explanations
from reelcare.core.evidence.gauges import least_spread
from reelcare.core.hydraulics import drum as drums
from reelcare.core.machine.card import Card
from reelcare.core.service.plan import Plan
from reelcare.core.text import _, in_english, mark, plural

Name = Literal["speed", "gun pressure", "flow", "drive loss"]
NAMES: tuple[Name, ...] = get_args(Name)
"""Each signal; its name is a text, too."""

PARTS: dict[Name, tuple[str, ...]] = {
    "speed": ("drive", "chain", "gearbox", "compensation", "drum"),
    "gun pressure": ("hose", "gauges", "supply hose"),
    "flow": ("gun",),
    "drive loss": ("drive",),
}
"""The parts whose service or repair restarts a signal, and that a drift points to (common practice, no source)."""
LOOK: dict[tuple[Name, int], tuple[str, ...]] = {
    ("speed", -1): (mark("belt tension"), mark("turbine strainer"), mark("bearings of the drive"), mark("chain")),
    ("speed", 1): (mark("speed compensation"), mark("the speed as it was set")),
    ("gun pressure", -1): (mark("the hose, for leaks"), mark("strainer"), mark("the gauges against a test gauge")),
    ("gun pressure", 1): (mark("the gauges against a test gauge"), mark("nozzle, for a blockage")),
    ("flow", 1): (mark("nozzle bore against a gauge"),),
    ("flow", -1): (mark("nozzle, for a blockage"), mark("the gauges against a test gauge")),
    ("drive loss", 1): (mark("turbine strainer"), mark("turbine or bellows, bearing and seal"), mark("gear range")),
    ("drive loss", -1): (mark("belt slip"), mark("the gauges against a test gauge")),
}
"""What to look at when a signal goes down (-1) or up (1) (common practice, no source)."""
LOOKED_AT = 400
"""How many of the latest runs and services a signal is judged by."""
LEAST_HOURS, LEAST_METRES = 0.5, 20
"""Runs shorter than that tell nothing of the speed."""


WAYS: dict[tuple[bool, bool], str] = {
    (True, False): mark("short of plan"), (True, True): mark("over plan"),
    (False, False): mark("under what is usual"), (False, True): mark("over what is usual"),
}  # fmt: skip
"""Where a signal has gone: by whether it is the speed, and whether it rose."""


@dataclass(frozen=True, slots=True)
class Signal:
    """One signal of one machine: its state, since when and for how many runs, by how much, and what to look at.

    `change` and `error` are percent of what was usual. `seen` are the runs since the last service of its parts, which
    the chart shows; `item` is a service of the plan that looks at it. `explained` says what a field, an operator or the
    wind explains, with the chart that is left.
    """

    name: Name
    chart: Chart
    seen: tuple[SignalRun, ...]
    since: datetime | None = None
    runs: int = 0
    change: float | None = None
    error: float | None = None
    look_at: tuple[str, ...] = ()
    item: str = ""
    between: tuple[datetime, datetime] | None = None
    explained: Explained | None = None

    @property
    def state(self) -> str:
        """Steady, learning or drifting."""
        return self.chart.state

    @property
    def told_by(self) -> int:
        """How many runs tell of it: those since it drifts, else all that are seen."""
        return self.runs if self.state == "drifting" else len(self.seen)

    @property
    def span(self) -> float:
        """How far `change` may be off, in percent (twice its standard error, and half a percent at least)."""
        return max(2 * (self.error or 0.0), 0.5)

    def says(self) -> str:
        """The signal in a sentence."""
        name, look = _(self.name), _(" and ").join(_(one) for one in self.look_at[:2])
        if self.state == "learning":
            why = self.chart.why or _("no run has this figure")
            return f"{name}: {why}"
        if self.explained is not None:
            by = percent(self.explained.size)
            return _(
                "{signal} is {percent:.0f} % {way} {where} ({runs}): that explains the change, nothing else shows",
                signal=name, percent=abs(by), way=_("more") if by > 0 else _("less"), where=self.explained.says(),
                runs=_runs(self.explained.runs),
            )  # fmt: skip
        if self.state == "steady" or self.change is None:
            return _("{signal} has been as usual for {runs}", signal=name, runs=_runs(len(self.seen)))
        way, day = WAYS[self.name == "speed", self.change > 0], "" if self.since is None else f"{self.since:%Y-%m-%d}"
        return _(
            "{signal} has been {percent:.0f} % (± {span:.2g}) {way} for {runs}{since}: look at {look}",
            signal=name, percent=abs(self.change), span=self.span, way=_(way), runs=_runs(self.runs),
            since=_(", since {day}", day=day) if day else "", look=look,
        )  # fmt: skip

    def kept(self) -> str:
        """The sentence as an entry keeps it: in English."""
        with in_english():
            return self.says()

    def is_told_by(self, sentence: str) -> bool:
        """Whether a sentence that an entry kept tells of this signal, be its figures those of an earlier run: by the
        signal's name, and the way it went."""
        over = WAYS[self.name == "speed", True]
        return sentence.startswith(f"{self.name} ") and (over in sentence) == ((self.change or 0.0) > 0)


def _runs(many: int) -> str:
    return plural("{n} run", "{n} runs", many)


def residual(name: Name, run: e.Run, card: Card) -> float | None:
    """How far off a run was on a signal, as 100 ln of the ratio, near to percent; None where it cannot be told."""
    if run.stopped_by and run.stopped_by != "end stop":
        return None  # a stop on the way
    found = _RATIOS[name](run, card)
    return None if found is None or not math.isfinite(found) or found <= 0 else 100 * math.log(found)


def _speed(run: e.Run, card: Card) -> float | None:
    hours = ((run.ended - run.started).total_seconds() - (run.dwell or 0)) / 3600
    if run.planned_speed is None or run.planned_speed <= 0 or hours < LEAST_HOURS or run.metres < LEAST_METRES * 1000:
        return None
    return run.metres / 1000 / hours / (run.planned_speed / 1000) / _layers(run.metres / 1000, card)


def _layers(out: float, card: Card) -> float:
    """What the layers do to the mean speed of a run at an even drum, against that of the whole hose; 1 where the
    machine compensates for it, or where the drum is not known."""
    drum, hose = card.drum, card.hose
    if card.compensation.kind != "none" or hose.length is None or hose.outside is None or out > hose.length:
        return 1.0
    if drum.core_diameter is None or drum.coils_per_layer is None:
        return 1.0
    wind = drums.Wind(drum.core_diameter, hose.outside, drum.coils_per_layer, drum.packing or 1.0)
    whole = wind.turns(hose.length)
    return out / (whole - wind.turns(hose.length - out)) / (hose.length / whole)


def _gun_pressure(run: e.Run, card: Card) -> float | None:
    """Pressure at the gun against that which is left behind the drive."""
    if run.inlet is None or run.gun is None or run.gun <= 0:
        return None
    left = run.inlet - (run.drive_loss or 0)
    return run.gun / left if left > run.gun else None


def _flow(run: e.Run, card: Card) -> float | None:
    """What flows, by what the hose loses, against what the nozzle should let through: the area of its bore.

    The hose's loss rises with the square of the flow, and so does the gun's pressure for one bore; so the ratio of
    both hangs on the bore alone, by its fourth power, and its root is the area of the bore.
    """
    if run.inlet is None or run.gun is None or run.drive_loss is None or run.gun <= 0:
        return None
    lost = run.inlet - run.drive_loss - run.gun
    return math.sqrt(lost / run.gun) if lost > 0 else None


def _drive_loss(run: e.Run, card: Card) -> float | None:
    return float(run.drive_loss) if run.drive_loss is not None and run.drive_loss > 0 else None


_RATIOS: dict[Name, Callable[[e.Run, Card], float | None]] = {
    "speed": _speed,
    "gun pressure": _gun_pressure,
    "flow": _flow,
    "drive loss": _drive_loss,
}

Event = tuple[datetime, e.Run | str]
"""A run, or the part that was serviced or repaired, and when."""
Winds = Mapping[datetime, float]
"""The wind that runs were planned for [m/s], by when they ended."""


def events(entries: Iterable[e.Entry], plan: Plan) -> list[Event]:
    """Runs and services of a machine in order, from its effective entries.

    A run whose dwell is not told has that of the set that was kept for it.
    """
    faults: dict[str, str] = {}
    found: list[Event] = []
    for one, kept in _with_sets(entries):
        if isinstance(one.what, e.Run):
            dwell = one.what.dwell
            if dwell is None and kept is not None:
                dwell = round(_wish(kept, "dwell_start", "duration") + _wish(kept, "dwell_end", "duration"))
            found.append((one.what.ended, replace(one.what, dwell=dwell)))
        elif isinstance(one.what, e.Service):
            parts = dict.fromkeys(item.part for item in plan.with_covered(one.what.item) if item.part)
            found += [(one.happened, part) for part in parts]
        elif isinstance(one.what, e.Fault):
            faults[one.id] = one.what.part
        elif isinstance(one.what, e.Repair) and one.what.fault in faults:
            found.append((one.happened, faults[one.what.fault]))
    return sorted(found, key=lambda event: event[0])


def winds(entries: Iterable[e.Entry]) -> dict[datetime, float]:
    """The wind of the set that was kept for a run, by when the run ended."""
    return {
        one.what.ended: _wish(kept, "wind", "speed")
        for one, kept in _with_sets(entries)
        if isinstance(one.what, e.Run) and kept is not None and "wind" in kept.wishes
    }


def _with_sets(entries: Iterable[e.Entry]) -> Iterator[tuple[e.Entry, e.SetPlanned | None]]:
    """Each entry with the set that was kept for the run at hand."""
    kept: e.SetPlanned | None = None
    for one in entries:
        kept = one.what if isinstance(one.what, e.SetPlanned) else kept
        yield one, kept
        if isinstance(one.what, e.Run):
            kept = None


def _wish(kept: e.SetPlanned, name: str, quantity: units.Quantity) -> float:
    """A wish of a set, in SI; nothing where it was not told, or cannot be read any more."""
    try:
        return units.read(kept.wishes[name], quantity) if name in kept.wishes else 0.0
    except units.UnitsError:
        return 0.0


def signals(
    happened: Sequence[Event],
    card: Card,
    plan: Plan,
    *,
    run_length: float = RUN_LENGTH,
    wind: Winds | None = None,
) -> list[Signal]:
    """Every signal of a machine, from its runs and services in order; the latest `LOOKED_AT` of them are looked at.

    A service in the middle of a run counts from the end of that run.
    """
    return [_signal(name, happened[-LOOKED_AT:], card, plan, run_length, wind or {}) for name in NAMES]


def _signal(name: Name, happened: Sequence[Event], card: Card, plan: Plan, run_length: float, wind: Winds) -> Signal:
    stretches: list[list[SignalRun]] = [[]]
    runs = []
    for at, what in happened:
        if isinstance(what, str):
            if what in PARTS[name] and stretches[-1]:
                stretches.append([])
            continue
        value = residual(name, what, card)
        if value is not None:
            runs.append(what)
            stretches[-1].append(SignalRun(at, value, what.place, what.operator, wind.get(at)))
    least = least_spread(name, runs)
    seen = [one for stretch in stretches for one in stretch]
    drawn = _drawn(stretches, [one.value for one in seen], run_length, least)
    if drawn.change is not None:
        for explained, left in explanations(seen):
            rest = _drawn(stretches, left, run_length, least)
            if rest.state == "steady":
                return Signal(name, rest, tuple(stretches[-1]), explained=explained)
    return _told(name, drawn, tuple(stretches[-1]), plan)


def _drawn(stretches: Sequence[Sequence[SignalRun]], values: Sequence[float], run_length: float, least: float) -> Chart:
    """The chart of these values, cut where the stretches are."""
    cut, begins = [], 0
    for stretch in stretches:
        cut.append(values[begins : begins + len(stretch)])
        begins += len(stretch)
    return chart_of(cut, run_length=run_length, least=least)


def _told(name: Name, drawn: Chart, seen: tuple[SignalRun, ...], plan: Plan) -> Signal:
    """The signal that a chart tells."""
    change = drawn.change
    if change is None:
        return Signal(name, drawn, seen)
    way = 1 if change.size > 0 else -1
    return Signal(
        name, drawn, seen,
        since=seen[change.at].at, runs=len(seen) - change.at, change=percent(change.size),
        error=change.error * math.exp(change.size / 100),
        look_at=LOOK[name, way], item=_item(name, plan),
        between=(seen[change.first].at, seen[change.last].at),
    )  # fmt: skip


def percent(off: float) -> float:
    """The percent of what was usual by which two values of `residual` differ.

    >>> round(percent(100 * math.log(0.8)), 6)
    -20.0
    """
    return 100 * math.expm1(off / 100)


def _item(name: Name, plan: Plan) -> str:
    """The service of the plan that looks at the first of the signal's parts that has one."""
    for part in PARTS[name]:
        for item in plan.items:
            if item.part == part:
                return item.id
    return ""
