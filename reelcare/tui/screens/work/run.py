"""A run written down: when, how far, what stopped it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta, tzinfo
from typing import Literal

from textual.content import Content
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.checks.clearance import Passed
from reelcare.core.state.counters import totals_in_words
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.text import _, mark
from reelcare.core.typed_time import TimeError, read_time, written
from reelcare.register.acts import sets, walk_rounds
from reelcare.register.acts.runs import log_run, refused_field, whole
from reelcare.register.views import fields
from reelcare.tui.requests import LogFault, LogRun
from reelcare.tui.screens.form import FieldError, Form, FormField
from reelcare.tui.text import said
from reelcare.tui.theme import state
from reelcare.tui.widgets.inputs.choice_list import KeyChoice

STOPPED = {"e": "end stop", "o": "operator", "h": "operator", "f": "fault"}
"""What stopped a run, by the letter of its outcome."""
HOME: Mapping[str, Literal["", "yes", "no"]] = {"e": "", "o": "no", "h": "yes", "f": ""}
"""Whether the hose came home, where the end stop did not end the run; '' where it is not known."""


LINES = ("started", "ended", "metres", "speed", "inlet", "gun", "loss", "dwell", "volume", "meter")
LINE_OF = {"planned_speed": "speed", "drive_loss": "loss"}
"""The lines of the form that are called otherwise than the fields of a run."""


class RunForm(Form):
    """One run of one machine."""

    PAGE = mark("Run")

    def __init__(self, request: LogRun) -> None:
        super().__init__()
        self.machine = request.machine
        self.machine_id = request.machine.id

    def before(self) -> Sequence[Content]:
        """What the run will use up."""
        return (_stands(self.machine),)

    def show_again(self) -> None:
        """What it will use up can be another by now."""
        super().show_again()
        if self.seen is not None:
            self.query_one(".form--says", Static).update(_stands(self.seen))

    def _opened(self, passed: Passed) -> datetime:
        """When the water might be opened: a run that is left running was looked at some time after that."""
        signed = walk_rounds.check(self.register, passed.check).walk.signed
        return next((one.at for one in reversed(signed) if one.gate == "water"), passed.at)

    def form_lines(self) -> Sequence[FormField]:
        """Times, metres, pressures, what stopped it."""
        passed = self.machine.state.passed.get("run")
        started = self.local(self._opened(passed)) if passed and passed.spent is None else None
        return (
            FormField("started", _("started"), written(started) if started else "", "2026-05-01 06:30"),
            FormField("ended", _("ended"), "", _("{example}, or how long it took: 9 h 30", example="2026-05-01 16:30")),
            FormField("metres", _("hose reeled in"), "", self.example("320 m", "length")),
            FormField("speed", _("planned travel speed"), self._planned_speed(), self._if_read("22 m/h", "speed")),
            FormField("inlet", _("inlet pressure"), "", self._if_read("6.5 bar", "pressure")),
            FormField("gun", _("gun pressure"), "", _("blank if not read")),
            FormField("loss", _("loss across the drive"), "", _("blank if not read")),
            FormField("dwell", _("planned dwell"), "", _("{example} (blank if not planned)", example="60 min")),
            FormField("volume", _("water given"), "", self._if_read("420 m3", "volume")),
            FormField("meter", _("water meter"), "", self._if_read("18250 m3", "volume")),
            FormField("place", _("place"), self.machine.card.place),
            *self._lane_line(),
            FormField("notes", _("notes")),
        )

    def _if_read(self, metric: str, quantity: units.Quantity) -> str:
        """An example in the person's units of what is left out where nobody read it."""
        return _("{example} (blank if not read)", example=self.example(metric, quantity))

    def _lane_line(self) -> Sequence[FormField]:
        """The lane, where the lanes of the machine's place are known."""
        known = fields.of_card(self.register, self.machine.card)
        if known is None:
            return ()
        return (FormField("lane", _("lane"), "", _("{example} (blank if not known)", example=known.lanes[0].number)),)

    def _lane(self) -> str:
        """The lane that was typed; '' where none was, or none is known. Raises FieldError of one that is not there."""
        text = self.value("lane") if self.query("#lane") else ""
        known = fields.of_card(self.register, self.machine.card) if text else None
        if known is not None and known.lane(text) is None:
            lanes = ", ".join(str(one.number) for one in known.lanes)
            raise FieldError("lane", _("no lane {lane} in {field}; its lanes are {lanes}", lane=text,
                                       field=known.place or known.id, lanes=lanes))  # fmt: skip
        return text

    def outcomes(self) -> Sequence[KeyChoice]:
        """What stopped it, and whether the hose was home."""
        return (
            KeyChoice("e", _("the end stop, by itself, with the hose home")),
            KeyChoice("o", _("the operator, before the hose was home")),
            KeyChoice("h", _("the operator, with the hose home: the stop did not trip by itself")),
            KeyChoice("f", _("a fault: the fault form follows")),
        )

    def _planned_speed(self) -> str:
        """The speed of the set that is planned, if one is."""
        planned = sets.planned_for(self.register, self.machine.id, self.now()).get("planned_speed")
        return "" if planned is None else units.show(units.read(planned, "speed"), "speed", self.preferences.system)

    def _time(self, id: str) -> datetime:
        return self.read(id, lambda text: read_time(text, self.register.zone, "2026-05-01 06:30"))

    def _whole(self, id: str, quantity: units.Quantity, role: str = "") -> int | None:
        found = self.quantity(id, quantity, role)
        return whole(found, quantity) if found is not None else None

    @staticmethod
    def _line_of(field: str) -> str:
        """The line in which a field of a run stands; that of the hose for what has none of its own."""
        line = LINE_OF.get(field, field)
        return line if line in LINES else "metres"

    def _run(self) -> e.Run:
        """The run as the lines say it. Raises FieldError of one that says none."""
        started = self._time("started")
        ended = self.read("ended", lambda text: _end_of(text, started, self.register.zone))
        metres = self._whole("metres", "length")
        if metres is None:
            raise FieldError("metres", _("hose reeled in: how far did the cart come home?"))
        return e.Run(
            started=started,
            ended=ended,
            metres=metres,
            planned_speed=self._whole("speed", "speed"),
            inlet=self._whole("inlet", "pressure"),
            gun=self._whole("gun", "pressure"),
            drive_loss=self._whole("loss", "pressure", "drive loss"),
            dwell=self._whole("dwell", "duration"),
            operator=self.host.person,
            place=self.value("place"),
            stopped_by=STOPPED[self.outcome()],
            notes=self.value("notes"),
            volume=self._whole("volume", "volume"),
            meter=self._whole("meter", "volume"),
            home=HOME[self.outcome()],
            lane=self._lane(),
        )

    def keep(self) -> bool:
        """Write the run down."""
        host, what = self.host, self._run()
        kept = self.write(
            lambda: log_run(self.register, self.machine.id, what, by=host.person, now=self.now()),
            lambda: self._line_of(refused_field(self.register, self.machine.id, what, now=self.now())),
        )
        if kept is None:
            return False
        state = self.register.state(self.machine.id)
        hours, hose = f"{state.totals.seconds / 3600:.0f} h", self.length(state.totals.millimetres)
        totals = totals_in_words(state.totals, state.least, hours, hose)
        says = _("{tag}: now {totals}", tag=self.machine.tag, totals=totals)
        told = kept.words(self.machine.tag)
        host.tell(". ".join([says, *told]), bad=bool(told))
        if what.stopped_by == "fault" and kept.fault is None:
            self.then = LogFault(self.machine.id, self.machine.tag)
        return True


def _stands(machine: MachineNow) -> Content:
    stands = machine.standing
    says = next((one.says for one in stands.because if one.side in ("run", "both")), "")
    return said(f"{state(stands.run)}  {says}")


def _end_of(text: str, started: datetime, zone: tzinfo) -> datetime:
    """When a run ended: a time, or how long after its start."""
    try:
        return read_time(text, zone, "2026-05-01 16:30")
    except TimeError:
        long = _LONG.fullmatch(text.strip().lower())
        if long is None:
            raise
    # by the time that passed, not by the clock, which can have changed in the night
    return e.kept(started) + timedelta(hours=int(long["h"] or 0), minutes=int(long["min"] or 0))


_LONG = re.compile(r"(?:(?P<h>[0-9]{1,3}) ?h)? ?(?:(?P<min>[0-9]{1,2})(?: ?min)?)?")
"""How long, as in `9 h 30`, `9 h` or `45 min`."""
