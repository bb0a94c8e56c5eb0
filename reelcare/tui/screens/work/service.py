"""A service: what is made safe and done, with the counters, signed; then when it is due next."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content

from reelcare.core import entries as e
from reelcare.core.entries import Draft
from reelcare.core.text import _, mark, plural
from reelcare.core.wording import day
from reelcare.core.wording import said as in_language
from reelcare.register.acts import faults as naming
from reelcare.tui.requests import LogService
from reelcare.tui.screens.form import Form, FormField
from reelcare.tui.screens.machine.counters import counters_of, last_read, tell_doubts, wrong_line
from reelcare.tui.text import join, lines, said
from reelcare.tui.theme import state

_ENERGY = {
    "water": mark("water: supply shut and locked, gauge at zero"),
    "hose tension": mark("hose tension: the hose is home or lies slack"),
    "drum": mark("drum: pawl down and blocked"),
    "pto": mark("PTO shaft and hand crank are off"),
    "hydraulics": mark("tractor oil hoses are off, rams resting"),
}


class ServiceForm(Form):
    """One service: cautions, energies made safe, steps, counters, note, signature; then the next due."""

    def __init__(self, request: LogService) -> None:
        super().__init__()
        self.machine = request.machine
        self.machine_id = request.machine.id
        self.line = request.line

    def page(self) -> str:
        """The service."""
        return self.line.item.title(self.preferences.language)

    def before(self) -> Sequence[Content]:
        """Where it stands, cautions, supplies."""
        item, language = self.line.item, self.preferences.language
        told = [join((state(self.line.band), "bold"), f"  {self.line.due.why(self.preferences.system)}")]
        if self.line.done_at is not None:  # what goes by a date goes by a day that nobody told
            told.append(join((_("last done") + "  ", "bold"), self.line.last_done_as(day)))
        told += [
            join((_("CAUTION") + " ", "bold $text-warning"), (in_language(one, language), "$text-warning"))
            for one in item.cautions
        ]
        if item.supplies:
            told.append(
                join((_("take along") + "  ", "bold"), ", ".join(in_language(one, language) for one in item.supplies))
            )
        if item.minutes:
            told.append(join((_("about") + "  ", "bold"), plural("{n} minute", "{n} minutes", item.minutes)))
        if item.isolate:
            told.append(said(_("Make safe first, and confirm each; the record says so:")))
        return (lines(*told, ""),)

    def boxes(self) -> Sequence[tuple[str, str]]:
        """Energies first, then steps."""
        item = self.line.item
        energies = [(f"safe-{place}", _(_ENERGY[one])) for place, one in enumerate(item.isolate)]
        steps = [(f"step-{place}", in_language(one, self.preferences.language)) for place, one in enumerate(item.steps)]
        return (*energies, *steps)

    def form_lines(self) -> Sequence[FormField]:
        """Counters, note and day."""
        blank = _("blank if not read")
        return (
            FormField("hours", _("hour counter shows"), "", f"{last_read(self, self.machine, 'hours')} ({blank})"),
            FormField("metres", _("metre counter shows"), "", f"{last_read(self, self.machine, 'metres')} ({blank})"),
            FormField("note", _("note")),
            self.day_line(),
        )

    def keep(self) -> bool:
        """Write the service down, with its readings."""
        item, language = self.line.item, self.preferences.language
        missing = [place for place in range(len(item.isolate)) if not self.ticked(f"safe-{place}")]
        if missing:
            wanted, others = _("Needed before this work: tick it once it is done."), len(missing) - 1
            wanted += " " + _("{n} more below.", n=others) if others else ""
            return self.wrong(wanted, f"box-safe-{missing[0]}")
        steps = [in_language(one, language) for place, one in enumerate(item.steps) if self.ticked(f"step-{place}")]
        if len(steps) < len(item.steps) and not self.value("note"):
            return self.wrong(_("a step is not ticked: do it, or say in the note why it was left out"), "note")
        what = e.Service(
            item=item.id,
            title=item.title(language),
            steps=tuple(steps),
            isolated=item.isolate,
            note=self.value("note"),
        )
        now, at, host = self.now(), self.happened(), self.host
        readings = counters_of(self)
        drafts = [Draft(what=one, machine=self.machine.id, happened=at) for one in (*readings, what)]
        line = wrong_line(self.machine, readings, at)
        if self.write(lambda: self.register.append(drafts, by=host.person, now=now), line) is None:
            return False
        told = naming.next_due(self.register, self.machine.id, item.id, now, self.preferences.system)
        host.tell(f"{self.machine.tag}  {told}")
        tell_doubts(self, self.machine, readings)
        return True
