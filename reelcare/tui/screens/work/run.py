"""A run written down: when, how far, what stopped it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from textual.widget import Widget
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.entries import STOPPED_BY
from reelcare.core.text import _, mark, plural
from reelcare.core.typed_time import read_time
from reelcare.core.wording import nearest
from reelcare.register.acts import sets
from reelcare.tui.requests import LogRun
from reelcare.tui.screens.form import Form, FormField
from reelcare.tui.text import said
from reelcare.tui.theme import state


class RunForm(Form):
    """One run of one machine."""

    PAGE = mark("Run")

    def __init__(self, request: LogRun) -> None:
        super().__init__()
        self.machine = request.machine
        self.machine_id = request.machine.id

    def before(self) -> Sequence[Widget]:
        """What the run will use up."""
        stands = self.machine.standing
        says = next((one.says for one in stands.because if one.side in ("run", "both")), "")
        return (Static(said(f"{state(stands.run)}  {says}"), classes="form--says"),)

    def form_lines(self) -> Sequence[FormField]:
        """Times, metres, pressures, what stopped it."""
        passed = self.machine.state.passed.get("run")
        started = self.local(passed.at) if passed and passed.spent is None else None
        return (
            FormField("started", _("started"), f"{started:%Y-%m-%d %H:%M}" if started else "", "2026-05-01 06:30"),
            FormField("ended", _("ended"), f"{self.local(self.now()):%Y-%m-%d %H:%M}"),
            FormField("metres", _("hose reeled in"), "", "320 m"),
            FormField("stopped", _("stopped by"), "end stop", ", ".join(STOPPED_BY)),
            FormField(
                "speed",
                _("planned travel speed"),
                self._planned_speed(),
                _("{example} (blank if not read)", example="22 m/h"),
            ),
            FormField("inlet", _("inlet pressure"), "", _("{example} (blank if not read)", example="6.5 bar")),
            FormField("gun", _("gun pressure"), "", _("blank if not read")),
            FormField("loss", _("loss across the drive"), "", _("blank if not read")),
            FormField("dwell", _("planned dwell"), "", _("{example} (blank if not planned)", example="60 min")),
            FormField("place", _("place"), self.machine.card.place),
            FormField("notes", _("notes")),
        )

    def _planned_speed(self) -> str:
        """The speed of the set that is planned, if one is."""
        planned = sets.planned_for(self.register, self.machine.id, self.now()).get("planned_speed")
        return "" if planned is None else units.show(units.read(planned, "speed"), "speed", self.preferences.system)

    def _time(self, id: str) -> datetime:
        return self.read(id, lambda text: read_time(text, self.register.zone, "2026-05-01 06:30"))

    def _whole(self, id: str, quantity: units.Quantity, scale: float, role: str = "") -> int | None:
        found = self.quantity(id, quantity, role)
        return round(found * scale) if found is not None else None

    def keep(self) -> bool:
        """Write the run down."""
        started, ended = self._time("started"), self._time("ended")
        metres = self._whole("metres", "length", 1000)
        if metres is None:
            return self.wrong(_("hose reeled in: how far did the cart come home?"), "metres")
        stopped = self.value("stopped").lower()
        if stopped not in STOPPED_BY:
            return self.wrong(
                _("stopped by: {stopped!r}{nearest}", stopped=stopped, nearest=nearest(stopped, STOPPED_BY)), "stopped"
            )
        what = e.Run(
            started=started,
            ended=ended,
            metres=metres,
            planned_speed=self._whole("speed", "speed", 3_600_000),
            inlet=self._whole("inlet", "pressure", 1),
            gun=self._whole("gun", "pressure", 1),
            drive_loss=self._whole("loss", "pressure", 1, "drive loss"),
            dwell=self._whole("dwell", "duration", 1),
            operator=self.host.person,
            place=self.value("place"),
            stopped_by=stopped,
            notes=self.value("notes"),
        )
        host = self.host
        kept = host.write(
            lambda: self.register.add(what, machine=self.machine.id, by=host.person, now=self.now(), happened=ended)
        )
        if kept is None:
            return False
        totals = self.register.state(self.machine.id).totals
        hours, hose = f"{totals.seconds / 3600:.0f} h", self.length(totals.millimetres)
        says = plural(
            "{tag}: now {hours}, {hose}, {n} run",
            "{tag}: now {hours}, {hose}, {n} runs",
            totals.runs,
            tag=self.machine.tag,
            hours=hours,
            hose=hose,
        )
        if stopped == "fault":
            host.tell(_("{says}. It was stopped by a fault: f in the yard notes it.", says=says), asks=True)
        else:
            host.tell(says)
        return True
