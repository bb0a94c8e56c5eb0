"""Runs, and readings of counters."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from reelcare.core import units
from reelcare.core.entries.base import Context, Entry, Kind, UpdateScope
from reelcare.core.hydraulics import volumes
from reelcare.core.hydraulics.water_meter import cubic_metres
from reelcare.core.state import counters as counting
from reelcare.core.state.counters import CounterChange, CounterName
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.machine_state import OpenNote
from reelcare.core.state.plans import Known
from reelcare.core.text import _, localized, mark
from reelcare.core.wording import nearest

STOPPED_BY = ("end stop", "operator", "fault")
HALF_WAY = ("operator", "fault")
"""What a run was stopped by that can have left its hose out."""
LONGEST_RUN = timedelta(days=7)
MOST_PRESSURE = 4_000_000  # Pa; beyond what any hose of this trade bears
MOST_SPEED = 500_000  # mm/h: 500 m/h
MOST_METRES = 2_000_000  # mm: 2 km
RAN_WHILE_HELD = mark("ran while it was held")
MOST_LITRES = 10_000_000_000  # 10 million m3: more than any meter of this trade shows


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading(Kind):
    """A counter read: seconds for hours, millimetres for metres.

    `change` is empty for a plain reading, "new counter" when the old one was replaced (the value is what the
    new one shows), "rolled over" when it passed its last digit (`rolls_at` is the value at which it does).
    """

    kind = "reading"
    least_role = "operator"
    reaches = UpdateScope.LIMITS
    news = "neutral"
    counter: CounterName
    value: int
    change: CounterChange = ""
    rolls_at: int | None = None

    def problems(self, context: Context) -> Iterator[str]:
        """It can be folded, and no machine has done more than the clock allows."""
        if self.value < 0:
            yield _("{counter}: a counter cannot show less than 0", counter=self.counter)
            return
        state = context.state
        counters = state.counters if state is not None else counting.start()
        try:
            counting.after_reading(counters, self, context.at, zone=context.zone)
        except counting.CounterError as why:
            yield str(why)
            return
        yield from counting.impossible(counters, self, context.at, zone=context.zone)

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        state.take_reading(self, entry.happened, sure=entry.id not in known.doubtful)

    def apply_unaccepted(self, state: FoldState, entry: Entry, known: Known) -> None:
        """The same by somebody whom nobody here has accepted: it counts where it shows more."""
        state.tell_reading(self)

    def describe(self, system: units.System = "metric") -> str:
        """What the counter shows.

        >>> Reading(counter="hours", value=36000).describe()
        'hour counter shows 10 h'
        """
        if self.counter == "hours":
            told = _("hour counter shows {shows}", shows=localized(f"{self.value / 3600:.9g} h"))
        else:
            told = _("metre counter shows {shows}", shows=units.show(self.value / 1000, "length", system))
        return told + (f" ({_(self.change)})" if self.change else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Run(Kind):
    """One pull-out and retrieve. `happened` of its entry is `ended`.

    metres [mm], planned_speed [mm/h], pressures [Pa], dwell [s]: how long it stood still as planned; `stopped_by` is
    "end stop", "operator" or "fault"; water that it gave [l], or what the meter showed at its end [l]; `home` is "yes"
    or "no" where somebody said whether the hose came home; `lane` of its field, where it was said.
    `doubts` are the signatures of the machine's checks that were here and dated after now when it was recorded: a clock
    was ahead, and what was signed before the run is not there for the next one.
    """

    kind = "run"
    least_role = "operator"
    reaches = UpdateScope.LIMITS
    news = "neutral"
    started: datetime
    ended: datetime
    metres: int
    planned_speed: int | None = None
    inlet: int | None = None
    gun: int | None = None
    drive_loss: int | None = None
    operator: str = ""
    place: str = ""
    stopped_by: str = ""
    notes: str = ""
    dwell: int | None = None
    doubts: tuple[str, ...] = ()
    volume: int | None = None
    meter: int | None = None
    home: Literal["", "yes", "no"] = ""
    lane: str = ""

    def problems(self, context: Context) -> Iterator[str]:
        """Its figures can be, and no other run was at that time."""
        if self.ended <= self.started:
            yield _("ended: not after started")
        elif self.ended - self.started > LONGEST_RUN:
            yield _("ended: a run of more than {days} days; check the dates", days=LONGEST_RUN.days)
        yield from self._figures(context)
        if self.started < self.ended:
            yield from self._overlap(context)

    def _length(self, context: Context) -> Iterator[str]:
        """So much hose can have come home in that time."""
        if self.metres < 0:
            yield _("metres: less than nothing")
        hose = context.card.hose.length if context.card is not None else None
        if hose is not None and self.metres > round(hose * 1000):  # to the millimetre, as a run is kept
            before = context.card_at(self.started)  # a hose that was cut since
            hose = max(hose, (before.hose.length or 0.0) if before is not None else 0.0)
        if hose is not None and self.metres > round(hose * 1000):
            yield _(
                "metres: {metres:g} m is more than the card's hose ({hose:g} m)", metres=self.metres / 1000, hose=hose
            )
        elif self.metres > MOST_METRES:
            yield _("metres: {metres:g} m is longer than any hose", metres=self.metres / 1000)
        elif (hours := self._moving_hours) > 0 and self.metres > hours * context.fastest:
            yield _(
                "metres: {metres:g} m in {minutes:.0f} min is faster than a hose comes home ({most:g} m/h at "
"most); check start and end",
                metres=self.metres / 1000, minutes=hours * 60, most=context.fastest / 1000,
            )  # fmt: skip

    def _figures(self, context: Context) -> Iterator[str]:
        yield from self._length(context)
        for name, litres in (("volume", self.volume), ("meter", self.meter)):
            if litres is not None and not 0 <= litres <= MOST_LITRES:
                yield _(
                    "{name}: {value:g} m3: must be between 0 and {most} m3",
                    name=_(name), value=litres / 1000, most=MOST_LITRES // 1000,
                )  # fmt: skip
        if self.planned_speed is not None and not 0 < self.planned_speed <= MOST_SPEED:
            says = mark("planned speed: {speed:g} m/h: must be between 0 and {most} m/h")
            yield _(says, speed=self.planned_speed / 1000, most=MOST_SPEED // 1000)
        for name, value in (("inlet", self.inlet), ("gun", self.gun), ("drive loss", self.drive_loss)):
            if value is not None and not 0 <= value <= MOST_PRESSURE:
                yield _(
                    "{name}: {value:g} kPa: must be between 0 and {most} kPa",
                    name=_(name), value=value / 1000, most=MOST_PRESSURE // 1000,
                )  # fmt: skip
        if self.dwell is not None and not 0 <= self.dwell < max((self.ended - self.started).total_seconds(), 1):
            yield _("dwell: {dwell:g} min: must be 0 or more, and less than the whole run", dwell=self.dwell / 60)
        if self.stopped_by and self.stopped_by not in STOPPED_BY:
            yield _(
                "stopped by: {stopped_by!r}{nearest}",
                stopped_by=self.stopped_by,
                nearest=nearest(self.stopped_by, STOPPED_BY),
            )

    @property
    def _moving_hours(self) -> float:
        """Hours in which the hose came home: without those that the cart stood still as planned."""
        return ((self.ended - self.started).total_seconds() - (self.dwell or 0)) / 3600

    def other_then(self, context: Context) -> tuple[datetime, datetime] | None:
        """When another run that counts began and ended that was under way in the same time, where its machine stands;
        None where none was."""
        other = context.run_after(self.started)
        if other is None or other.started >= self.ended:
            return None
        return other.started.astimezone(context.zone), other.ended.astimezone(context.zone)

    def _overlap(self, context: Context) -> Iterator[str]:
        if (other := self.other_then(context)) is not None:
            says = mark("started: overlaps the run of {started:%Y-%m-%d %H:%M} to {ended:%H:%M}")
            yield _(says, started=other[0], ended=other[1])

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """Counters go on, and checks that were passed are used up. One on a held machine is noted."""
        self._end(state.take_run, state, entry, known)

    def apply_unaccepted(self, state: FoldState, entry: Entry, known: Known) -> None:
        """The same by somebody whom nobody here has accepted: its use stands beside what is signed for here."""
        self._end(state.tell_run, state, entry, known)

    def _end(self, take: Callable[..., None], state: FoldState, entry: Entry, known: Known) -> None:
        if state.was_held_for_run(self.started, known.zone):
            state.add_note(OpenNote(entry.id, RAN_WHILE_HELD, entry.happened, entry.by, near_miss=True))
        half_way = self.stopped_by in HALF_WAY and self.home != "yes"
        over = min(self.ended, known.doubtful.get(entry.id, self.ended))
        take(self.started, self.ended, self.metres, known.zone, half_way=half_way, over=over)

    @property
    def missed_stop(self) -> bool:
        """Whether the hose came home, and the stop did not trip by itself."""
        return self.home == "yes" and self.stopped_by in HALF_WAY

    def describe(self, system: units.System = "metric") -> str:
        hours = (self.ended - self.started).total_seconds() / 3600
        parts = [_("{length} in {hours:.1f} h", length=units.show(self.metres / 1000, "length", system), hours=hours)]
        if self.lane:
            parts.append(_("lane {lane}", lane=self.lane))
        if self.dwell:
            parts.append(_("{minutes:.0f} min of it planned dwell", minutes=self.dwell / 60))
        if self.stopped_by:
            parts.append(_("stopped by {what}", what=_(self.stopped_by)))
        if self.missed_stop:
            parts.append(_("the hose was home"))
        if self.volume is not None:
            parts.append(_litres(self.volume, system))
        if self.meter is not None:
            parts.append(_("meter {volume}", volume=_litres(self.meter, system)))
        return ", ".join([*parts, *(one for one in (self.place, self.notes) if one)])

    def span(self, happened: datetime) -> tuple[datetime, datetime]:
        """From its start to its end."""
        return self.started, self.ended


def _litres(litres: int, system: units.System) -> str:
    """Litres as a person reads them: in m3 with every figure that a meter showed."""
    return f"{cubic_metres(litres)} m3" if system == "metric" else volumes.told(litres / 1000, system)


KINDS: tuple[type[Kind], ...] = (Reading, Run)
