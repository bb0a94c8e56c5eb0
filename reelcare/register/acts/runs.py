"""A run written down, with what follows from it: a hold where the stop did not trip, and a word where it was held."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.hydraulics.water_meter import MOST_FLOW, MeterShown, cubic_metres, most_given, passed
from reelcare.core.parts import default_retest
from reelcare.core.text import _, in_english, mark
from reelcare.register.acts import sets
from reelcare.register.errors import Refused
from reelcare.register.reading import queries
from reelcare.register.writing.writer import Writer

NEAR_HOME = 2_000
"""How near to the planned pull-out a run must have come so that the hose is taken to be home [mm] (common practice, no
source)."""
WHOLE: Mapping[units.Quantity, int] = {"length": 1000, "speed": 3_600_000, "pressure": 1, "duration": 1, "volume": 1000}
"""How many of the whole units in which a run is kept (mm, mm/h, Pa, s, l) one of SI is."""
MISSED_STOP = "the hose came home and the stop did not trip by itself"


def whole(value: float, quantity: units.Quantity) -> int:
    """A quantity in SI in the whole units in which a run is kept.

    >>> whole(320.0, "length"), whole(0.01, "speed")
    (320000, 36000)
    """
    return round(value * WHOLE[quantity])


@dataclass(frozen=True, slots=True)
class LoggedRun:
    """A run that was written: its entry, the fault that holds the machine since (None: none), whether the machine was
    held while it ran, and what is doubtful about its water ('': nothing)."""

    entry: e.Entry
    fault: e.Entry | None
    was_held: bool
    doubt: str = ""

    def words(self, tag: str) -> list[str]:
        """What a person must be told of it."""
        told = []
        if self.was_held:
            told.append(_("{tag} was held while it ran: the run is saved, and it is on the supervisor's list", tag=tag))
        if self.fault is not None and isinstance(self.fault.what, e.Fault):
            says = mark("{tag} is held: the hose came home and the stop did not trip by itself; re-test: {retest}")
            told.append(_(says, tag=tag, retest=self.fault.what.retest_shown))
        if self.doubt:
            says = mark("look again: {said}; `reelcare log correct {id} --why TEXT` takes the run back")
            told.append(_(says, said=self.doubt, id=self.entry.id[-8:]))
        return told


def refused_field(register: Writer, machine: str, run: e.Run, *, now: datetime) -> str:
    """The field that the refusal of a run is about, with which an English text begins; none where it is not refused."""
    with in_english():
        try:
            register.refuse(run, machine, run.ended, now=now)
        except Refused as why:
            return str(why).partition(": ")[0].replace(" ", "_")
    return ""


def home_of(register: Writer, machine: str, run: e.Run) -> e.Run:
    """The run with whether the hose came home: as said, else by the pull-out of the set that was planned for it."""
    if run.home or run.stopped_by not in ("operator", "fault"):
        return run
    planned = sets.planned_for(register, machine, run.started).get("pull_out")
    if planned is None:
        return run
    is_home = run.metres >= units.read(planned, "length") * 1000 - NEAR_HOME
    return replace(run, home="yes" if is_home else "")


def log_run(register: Writer, machine: str, run: e.Run, *, by: str, now: datetime) -> LoggedRun:
    """Write a run down, and the hold that follows where the stop did not trip. Raises Refused or NotAllowed."""
    run = home_of(register, machine, run)
    drafts = [e.Draft(what=run, machine=machine, happened=run.ended)]
    if run.missed_stop:
        fault = e.Fault(part="end stop", says=MISSED_STOP, holds="run", retest=default_retest("end stop"))
        drafts.append(e.Draft(what=fault, machine=machine, happened=run.ended))
    doubt = _volume_doubt(run) or _meter_doubt(register, machine, run)
    written = register.append(drafts, by=by, now=now)
    notes = register.state(machine).notes
    return LoggedRun(
        written[0], written[1] if len(written) > 1 else None, any(one.id == written[0].id for one in notes), doubt
    )


def _volume_doubt(run: e.Run) -> str:
    """What speaks against the volume of a run: more than any machine gives in its time; '' where nothing does."""
    if run.volume is None or run.volume <= most_given(run.started, run.ended):
        return ""
    says = mark("volume: {value} m3 in {hours:.1f} h is more than any machine gives ({most} m3/h at most)")
    hours = (run.ended - run.started).total_seconds() / 3600
    return _(says, value=cubic_metres(run.volume), hours=hours, most=MOST_FLOW // 1000)


def _meter_doubt(register: Writer, machine: str, run: e.Run) -> str:
    """What speaks against the meter of a run going on from where it was read before; '' where nothing does."""
    if run.meter is None:
        return ""
    earlier = register.select(queries.of_kind(machine, e.Run.kind, run.started))
    read = [one.what for one in earlier if isinstance(one.what, e.Run) and one.what.meter is not None]
    if not read or read[-1].meter is None:
        return ""
    before = MeterShown(read[-1].meter, read[-1].ended)
    if passed(before, MeterShown(run.meter, run.ended)) is not None:
        return ""
    figures = {"meter": cubic_metres(run.meter), "before": cubic_metres(before.litres)}
    day = before.at.astimezone(register.zone)
    if run.meter < before.litres:
        return _("the water meter shows {meter} m3, and showed {before} m3 on {day:%Y-%m-%d}: unless it is another "
                 "one, read it again", day=day, **figures)  # fmt: skip
    return _("the water meter shows {meter} m3, and showed {before} m3 on {day:%Y-%m-%d}: no machine gives so much in "
             "that time; unless it is another one, read it again", day=day, **figures)  # fmt: skip
