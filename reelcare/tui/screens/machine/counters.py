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
from reelcare.core.text import _, mark
from reelcare.tui.requests import ReadCounters
from reelcare.tui.screens.form import Form, FormField


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


def tell_doubts(form: Form, machine: MachineNow, readings: Sequence[e.Reading], now: datetime) -> None:
    """Tell what is likely a slip in readings of a machine, as it stood before them: they are kept all the same."""
    doubts = [says for one in readings for says in counting.doubtful(machine.state.counters, one, now)]
    if doubts:
        form.host.tell(_("{tag}: kept, but look again: {doubts}", tag=machine.tag, doubts="; ".join(doubts)), bad=True)


class CountersForm(Form):
    """The counters of one machine."""

    PAGE = mark("Counters")

    def __init__(self, request: ReadCounters) -> None:
        super().__init__()
        self.machine = request.machine
        self.machine_id = request.machine.id

    def boxes(self) -> Sequence[tuple[str, str]]:
        """Whether a counter is new."""
        return (
            ("new-hours", _("the hour counter was replaced; this is the new one's")),
            ("new-metres", _("the metre counter was replaced; this is the new one's")),
        )

    def form_lines(self) -> Sequence[FormField]:
        """What they show."""
        counters = self.machine.state.counters
        return (
            FormField(
                "hours",
                _("hour counter shows"),
                "",
                _("last read {shown:.1f} h", shown=(counters.hours.shown or 0) / 3600),
            ),
            FormField(
                "metres",
                _("metre counter shows"),
                "",
                _("last read {length}", length=self.length(counters.metres.shown or 0)),
            ),
        )

    def keep(self) -> bool:
        """Write the readings down."""
        now, host = self.now(), self.host
        readings = [
            replace(one, change="new counter" if self.ticked(f"new-{one.counter}") else "") for one in counters_of(self)
        ]
        if not readings:
            return self.wrong(_("neither counter is filled in"), "hours")
        drafts = [Draft(what=one, machine=self.machine.id, happened=now) for one in readings]
        if host.write(lambda: self.register.append(drafts, by=host.person, now=now)) is None:
            return False
        tell_doubts(self, self.machine, readings, now)
        return True
