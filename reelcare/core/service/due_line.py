"""One line of the work list: an item of a machine's plan, or an open fault, with where it stands and whose it is."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from types import MappingProxyType
from typing import Literal, NamedTuple

from reelcare.core import units
from reelcare.core.forecast.forecast import Forecast
from reelcare.core.scales import WHOLE, Threshold, counter_then, figure_at, left_of
from reelcare.core.service.due import STATES, Due, State
from reelcare.core.service.plan import Item
from reelcare.core.text import _, mark

LineKind = Literal["service", "fault"]
ACUTE: tuple[State, ...] = ("overdue", "unknown", "due")
"""The states of what is inside every window of time."""


class Assignment(NamedTuple):
    """To whom a line is given, and for which day."""

    to: str
    day: date


class FaultStep(NamedTuple):
    """What an open fault waits for ("" where a right answer ends it), and what ends it then, in one word or two; since
    when it is known, and by whom."""

    waits_for: str
    ends_by: str
    since: datetime
    by: str


STEP_CAUTIONS = {
    "repair": mark(
        "Make it safe first: supply shut and the hose's pressure let down, drum blocked, PTO shaft and crank off, "
        "tractor oil hoses off."
    ),
    "re-test": mark("Hands and clothing off what turns, and nobody near drum, hose and stream while it is tried."),
}
"""What can hurt whoever takes the next step of a fault (common practice)."""


class DueLine(NamedTuple):
    """One line: what is done (`item`; a fault is a thing that is done once), where it stands, by which thresholds, and
    (where asked for) when it will be due.

    `forecast_reason` says why there is no forecast where one was asked for; `planned` is the day of a service after
    the next one, in a plan of the weeks to come. `fault` is None for a service. `given` says whose line it is.
    `not_shown` is what of the thresholds the counters do not show, by scale. `done_at` are the hours of the machine's
    life [s] at which it was last done, where nothing but that was told: `last_done` is then the first possible day.
    """

    machine: str
    tag: str
    place: str
    item: Item
    due: Due
    thresholds: Sequence[Threshold]
    last_done: date | None
    forecast: Forecast | None = None
    planned: date | None = None
    forecast_reason: str = ""
    fault: FaultStep | None = None
    given: Assignment | None = None
    not_shown: Mapping[str, int] = MappingProxyType({})
    done_at: int | None = None

    @property
    def kind(self) -> LineKind:
        """Whether it is a service or a fault."""
        return "service" if self.fault is None else "fault"

    @property
    def order(self) -> tuple[bool, int, float, str, str, str]:
        """Its place in a list, the worst first: what holds, then by state, then by the used part of its interval; of
        what is unknown, what stops a machine first. Of two machines of one tag, their ids tell."""
        rank = -float(self.item.stop) if self.due.state == "unknown" else -self.due.used_fraction
        return not self.due.held, STATES.index(self.due.state), rank, self.tag, self.item.id, self.machine

    @property
    def band(self) -> str:
        """What it stands under in a list: *held* where it holds the machine, else its state."""
        return "held" if self.due.held else self.due.state

    @property
    def news(self) -> bool:
        """Whether it tells more than that a check is due before the next run."""
        return not self.item.each_time or self.due.state == "overdue"

    @property
    def is_acute(self) -> bool:
        """Whether it is inside every window of time."""
        return self.due.held or self.due.state in ACUTE

    @property
    def has_left(self) -> bool:
        """Whether anything can be said of what is left of it: not of what is unknown, or has no limit."""
        return bool(self.thresholds) and self.due.state != "unknown"

    @property
    def likely(self) -> date | None:
        """The day on which it will likely fall due; None where it is due, and where none is known or was asked for."""
        return self.forecast.likely if self.forecast is not None and not self.is_acute else None

    @property
    def due_at(self) -> Mapping[str, float | str] | None:
        """At which figure of the counter it is due, by the scale that governs: what stands on the sticker; None where
        none can, or where that was on a counter that was replaced since."""
        if not self.has_left:
            return None
        limit = next(one[2] for one in self.thresholds if one[0] == self.due.by) - self.not_shown.get(self.due.by, 0)
        if limit < 0:
            return None
        if self.due.by == "date":
            return {"day": date.fromordinal(limit).isoformat()}
        figure = limit / WHOLE[self.due.by]
        return {self.due.by: int(figure) if figure == int(figure) else figure}

    def due_at_in_words(self, system: units.System) -> str:
        """`due_at` as a sticker says it; '' where nothing is said."""
        for by, figure in (self.due_at or {}).items():
            if isinstance(figure, str):
                return figure
            return figure_at(by, figure, system)
        return ""

    def last_done_as(self, say: Callable[[date], str] = date.isoformat, *, short: bool = False) -> str:
        """When it was last done, as far as that was told: the day, which `say` puts into words, or what the hour
        counter showed; then the first possible day as such, where it goes by a date and there is room."""
        if self.last_done is None:
            return _("never")
        if self.done_at is None:
            return say(self.last_done)
        told = _("at {hours}", hours=counter_then(self.done_at, self.not_shown.get("hours", 0)))
        if short or self.due.by != "date":
            return told
        return _("{told}, not before {day}", told=told, day=say(self.last_done))

    def left_in_words(self, system: units.System) -> str:
        """What is left of it, or what it waits for."""
        if self.due.state == "unknown":
            return _("never done")
        if self.fault is not None and (self.due.held or self.due.state == "due"):
            return _(self.fault.ends_by)
        return left_of(self.due.by, self.due.left, system) if self.has_left else ""


ENDS_SHORTLY = {"place": mark("move on"), "adjustment": mark("put right"), "passing": mark("wait")}
"""What ends a hold that a right answer ends, in a word or two."""
