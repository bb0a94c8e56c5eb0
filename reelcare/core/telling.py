"""An entry in one line, as a book tells it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.machine import measured


def tell(what: e.What, system: units.System = "metric") -> str:
    """What happened, in one line and in the reader's units.

    >>> tell(e.Reading(counter="hours", value=36000))
    'hours counter shows 10 h'
    """
    return _TELL[type(what)](what, system)


def _length(millimetres: int, system: units.System) -> str:
    return units.show(millimetres / 1000, "length", system)


def _reading(what: e.Reading, system: units.System) -> str:
    shows = f"{what.value / 3600:g} h" if what.counter == "hours" else _length(what.value, system)
    return f"{what.counter} counter shows {shows}" + (f" ({what.change})" if what.change else "")


def _run(what: e.Run, system: units.System) -> str:
    hours = (what.ended - what.started).total_seconds() / 3600
    parts = [f"{_length(what.metres, system)} in {hours:.1f} h"]
    if what.stopped_by:
        parts.append(f"stopped by {what.stopped_by}")
    if what.place:
        parts.append(what.place)
    if what.notes:
        parts.append(what.notes)
    return ", ".join(parts)


def _fault(what: e.Fault, system: units.System) -> str:
    if what.holds:
        what_then = "holds the machine" if what.holds == "both" else f"holds the {what.holds}"
    else:
        limits = [
            f"{what.fix_by_seconds / 3600:.0f} h" if what.fix_by_seconds is not None else "",
            _length(what.fix_by_millimetres, system) if what.fix_by_millimetres is not None else "",
            f"run {what.fix_by_runs}" if what.fix_by_runs is not None else "",
            what.fix_by_day or "",
        ]
        named = [one for one in limits if one]
        what_then = f"to be fixed by {' or '.join(named)}" if named else "noted"
    return f"{what.part}: {what.says} ({what_then})"


def _service(what: e.Service, system: units.System) -> str:
    return (what.title or what.item) + (f": {what.note}" if what.note else "")


def _check_ended(what: e.CheckEnded, system: units.System) -> str:
    return {"passed": "signed as complete", "held": "ended as held", "left": f"given up: {what.why}"}[what.verdict]


def _measured(what: e.Measured, system: units.System) -> str:
    moment = datetime(1, 1, 1, tzinfo=UTC)
    told = [
        " ".join(measured.tell(name, measured.Figure(float(value), moment, what.about), system))
        for name, value in what.figures.items()
        if isinstance(value, (int, float)) and name in measured.KNOWN
    ]
    return ", ".join([what.about, *told]) + (f": {what.note}" if what.note else "")


def _set_planned(what: e.SetPlanned, system: units.System) -> str:
    told = []
    for name, label, quantity in (
        ("pull_out", "out", "length"), ("planned_speed", "at", "speed"), ("inlet_pressure", "inlet", "pressure"),
    ):  # fmt: skip
        if name in what.planned:
            value = units.read(what.planned[name], quantity)  # type: ignore[arg-type]  # names of this table's own
            told.append(f"{label} {units.show(value, quantity, system)}")  # type: ignore[arg-type]
    return "set planned: " + ", ".join([*told, *(f"warned of {one}" for one in what.warnings)])


_TELL: dict[type[e.What], Callable[[Any, units.System], str]] = {
    e.Carded: lambda what, _: f"card of {what.card.get('tag', '')}: {what.card.get('name', '')}".rstrip(": "),
    e.Planned: lambda what, _: f"service plan {what.plan.get('id', '')}, {len(what.plan.get('items', ()))} items",
    e.Enrolled: lambda what, _: f"{what.name}, {what.role}",
    e.Reading: _reading,
    e.Run: _run,
    e.Sheeted: lambda what, _: f"sheet {what.sheet.get('id', '')}",
    e.CheckBegun: lambda what, _: f"{what.sheet_id} begun",
    e.Answered: lambda what, _: (
        f"{what.question}: {what.seen} ({what.judged})" + (f", {what.note}" if what.note else "")
    ),
    e.CheckEnded: _check_ended,
    e.Service: _service,
    e.Fault: _fault,
    e.Repair: lambda what, _: f"repaired: {what.says}",
    e.Retest: lambda what, _: ("passed" if what.passed else "not passed") + (f": {what.seen}" if what.seen else ""),
    e.Release: lambda what, _: "released" + (f": {what.says}" if what.says else ""),
    e.Correction: lambda what, _: f"takes back {what.entry[-8:]}: {what.why}",
    e.Measured: _measured,
    e.SetPlanned: _set_planned,
}
