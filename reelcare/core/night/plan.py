"""Plans of a night as values: what is asked, what is planned, what waits, and what is left out.

Moments are whole seconds since 1970, durations seconds, volumes m3, energy J.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from dataclasses import field as having

from reelcare.core import units
from reelcare.core.night.field import Field, Lane, Name
from reelcare.core.night.hours import Span


@dataclass(frozen=True, slots=True)
class LaneSet:
    """What a machine needs for one lane: run time [s], water [m3], energy [J]; `cannot` says why it cannot be, and
    what would: nothing is planned of such a one. `why` is the same without the machine, where it is the set's. Of the
    run time, the cart stands still for `dwell` [s], however fast it travels."""

    run: int = 0
    volume: float = 0.0
    energy: float | None = None
    cannot: str = ""
    why: str = ""
    dwell: int = 0


@dataclass(frozen=True, slots=True)
class Rig:
    """A machine of the night: when it is free, on which lane it stands (None: not known), what each lane takes with it,
    the lanes that it takes first as somebody chose them, and who attends it."""

    tag: str
    free: int
    set_of: Callable[[Lane], LaneSet]
    lane: Lane | None = None
    order: tuple[Name, ...] = ()
    attends: str = ""
    reach: float | None = None
    """How much hose it has [m]."""

    def reaches(self, lane: Lane) -> bool:
        """Whether it has hose enough for a lane, as far as is known."""
        return self.reach is None or lane.length <= self.reach


@dataclass(frozen=True, slots=True)
class Running:
    """A run at hand: its machine, its lane and hydrant where they are known, from when to when it is planned, and what
    it is to give [m3] (None: not known)."""

    tag: str
    lane: Lane | None
    hydrant: Name
    starts: int
    ends: int
    volume: float | None = None
    is_end_known: bool = True
    """Whether it is known when it ends; where it is not, it is not home yet, and may be so any moment."""


@dataclass(frozen=True, slots=True)
class NightAsked:
    """What is to be planned: lanes that are to be run in this round, machines, from when to when, the spans in which
    water may be taken and in which it is dark (nothing is moved then), what the licence leaves in the season [m3] once
    the runs at hand are home, and what was taken before on each day (by the spans of the days)."""

    field: Field
    lanes: tuple[Lane, ...]
    rigs: tuple[Rig, ...]
    begins: int
    ends: int
    water: tuple[Span, ...]
    dark: tuple[Span, ...] = ()
    days: tuple[Span, ...] = ()
    taken: Mapping[Span, float] = having(default_factory=dict)
    season_left: float | None = None
    running: tuple[Running, ...] = ()
    system: units.System = "metric"
    """In whose units it is told what is left out."""


@dataclass(frozen=True, slots=True)
class PlannedSet:
    """One set of the night: when the move to it begins, how long it takes, from when to when it runs."""

    lane: Lane
    tag: str
    moves: int
    move: int
    starts: int
    ends: int
    volume: float
    energy: float | None


@dataclass(frozen=True, slots=True)
class Wait:
    """A machine stands still for a reason: `dark`, `hydrant`, `hours`, `licence` (of the day)."""

    tag: str
    begins: int
    ends: int
    why: str
    lane: Lane
    by: str = ""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A lane that is not in the night: why, and what would."""

    lane: Lane
    why: str
    is_room: bool = False
    """Whether only the time is too short: all such wait for the same."""


@dataclass(frozen=True, slots=True)
class Night:
    """A night as it is planned, in the order in which sets begin."""

    sets: tuple[PlannedSet, ...]
    waits: tuple[Wait, ...]
    left: tuple[LeftOut, ...] = ()

    @property
    def last(self) -> int:
        """When the last hose is home; 0 where nothing is planned."""
        return max((one.ends for one in self.sets), default=0)

    def of(self, tag: str) -> list[PlannedSet]:
        """The sets of a machine."""
        return [one for one in self.sets if one.tag == tag]
