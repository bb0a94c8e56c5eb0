"""The counters of a machine: what they show, as a form of its own and as lines of another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.entries import Draft
from reelcare.core.state import counters as counting
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.text import _, localized, mark
from reelcare.tui.requests import ReadCounters
from reelcare.tui.screens.form import FieldError, Form, FormField


def counters_of(form: Form) -> list[e.Reading]:
    """The readings that a form's lines `hours` and `metres` give, where they are filled in."""
    found = []
    if form.value("hours"):
        seconds = form.read("hours", lambda text: units.read(text if units.split(text)[1] else f"{text} h", "duration"))
        found.append(e.Reading(counter="hours", value=round(seconds)))
    length = form.quantity("metres", "length")
    if length is not None:
        found.append(e.Reading(counter="metres", value=round(length * 1000)))
    return found


def tell_doubts(form: Form, machine: MachineNow, readings: Sequence[e.Reading]) -> None:
    """Tell what is likely a slip in readings of a machine, as it stood before them: they are kept all the same."""
    doubts = [says for one in readings for says in counting.doubtful(machine.state.counters, one)]
    if doubts:
        told = _("{tag}: kept, but look again: {doubts}", tag=machine.tag, doubts="; ".join(doubts))
        form.host.tell(told, bad=True)


def _shown(machine: MachineNow, counter: counting.CounterName) -> int | None:
    """The figure at which a counter was last read [s or mm]."""
    counters = machine.state.counters
    return counters.hours.shown if counter == "hours" else counters.metres.shown


def last_read(form: Form, machine: MachineNow, counter: counting.CounterName) -> str:
    """What a counter showed when it was last read, in the person's units."""
    shown = _shown(machine, counter)
    if shown is None:
        return _("never read")
    last = localized(f"{shown / 3600:.1f} h") if counter == "hours" else form.length(shown)
    return _("last read {shown}", shown=last)


def wrong_line(machine: MachineNow, readings: Sequence[e.Reading], at: datetime) -> str:
    """The line of the reading that speaks against what is known of a machine; the first line where none does."""
    for one in readings:
        try:
            counting.after_reading(machine.state.counters, one, at)
        except counting.CounterError:
            return one.counter
        if any(counting.impossible(machine.state.counters, one, at)):
            return one.counter
    return readings[0].counter if readings else "note"


def rolls_at(reading: e.Reading, shown: int | None, system: units.System) -> int:
    """The figure after the last one of a counter [s or mm]: the power of ten above what it showed, in the person's
    units.

    >>> rolls_at(e.Reading(counter="hours", value=3600), 9_998 * 3600, "us") // 3600
    10000
    """
    length = 1000 * units.from_unit(1, units.unit_for("length", system))
    unit = 3600 if reading.counter == "hours" else length
    figures = max(len(str(int(max(shown or 0, reading.value) / unit + 1e-6))), 3)
    return round(float(10**figures) * unit)


class CountersForm(Form):
    """The counters of one machine."""

    PAGE = mark("Counters")
    BOXES_LAST = True

    def __init__(self, request: ReadCounters) -> None:
        super().__init__()
        self.machine = request.machine
        self.machine_id = request.machine.id

    def boxes(self) -> Sequence[tuple[str, str]]:
        """Whether a counter is new, or began again at zero."""
        return (
            ("new-hours", _("the hour counter was replaced; this is the reading of the new one")),
            ("new-metres", _("the metre counter was replaced; this is the reading of the new one")),
            ("rolled-hours", _("the hour counter went past its last figure and began again at 0")),
            ("rolled-metres", _("the metre counter went past its last figure and began again at 0")),
        )

    def form_lines(self) -> Sequence[FormField]:
        """What they show, and when."""
        return (
            FormField("hours", _("hour counter shows"), "", last_read(self, self.machine, "hours")),
            FormField("metres", _("metre counter shows"), "", last_read(self, self.machine, "metres")),
            self.day_line(),
        )

    def keep(self) -> bool:
        """Write the readings down."""
        at, host = self.happened(), self.host
        readings = [self._changed(one) for one in counters_of(self)]
        if not readings:
            return self.wrong(_("Neither counter is filled in"), "hours")
        drafts = [Draft(what=one, machine=self.machine.id, happened=at) for one in readings]
        line = wrong_line(self.machine, readings, at)
        if self.write(lambda: self.register.append(drafts, by=host.person, now=self.now()), line) is None:
            return False
        tell_doubts(self, self.machine, readings)
        return True

    def _changed(self, one: e.Reading) -> e.Reading:
        """A reading with what the boxes say of its counter."""
        new, rolled = self.ticked(f"new-{one.counter}"), self.ticked(f"rolled-{one.counter}")
        if new and rolled:
            raise FieldError(
                id=f"box-rolled-{one.counter}",
                why=_("Either it was replaced or it began again at 0; clear one of the ticks"),
            )
        if new:
            return replace(one, change="new counter")
        if rolled:
            past = rolls_at(one, _shown(self.machine, one.counter), self.preferences.system)
            return replace(one, change="rolled over", rolls_at=past)
        return one
