"""Faults by the names that people give them, and what follows a service."""

from __future__ import annotations

from datetime import datetime

from reelcare.core import units
from reelcare.core.parts import part_called
from reelcare.core.text import _, current_language, mark
from reelcare.register.errors import Refused
from reelcare.register.reading import yard
from reelcare.register.reading.reader import Reader


def named(reader: Reader, name: str, part: str | None = None) -> tuple[str, str]:
    """The open fault that is meant and its machine, by their ids: `name` is the fault's id, or the machine's tag and,
    where several are open, `part` says which. Raises Refused, naming what is open."""
    entry = reader.entry(name)
    if entry is not None and entry.what.kind == "fault" and entry.machine is not None:
        return entry.id, entry.machine
    machine = reader.machine_id(name)
    every = reader.state(machine).faults
    open_faults = [one for one in every if part is None or one.part == (part_called(part) or part.lower())]
    if not open_faults:
        raise Refused(_no_fault(name, part, ", ".join(dict.fromkeys(_(one.part) for one in every))))
    if len(open_faults) > 1:
        told = "; ".join(f"{one.id[-8:]} {_(one.part)}: {one.shown[:40]}" for one in open_faults)
        raise Refused(_("{name}: {n} faults are open, name one: {told}", name=name, n=len(open_faults), told=told))
    return open_faults[0].id, machine


def _no_fault(name: str, part: str | None, others: str) -> str:
    if not part:
        return _("{name}: no open fault", name=name)
    if others:
        return _(
            "{name}: no open fault on the {part}; there are some on: {others}", name=name, part=part, others=others
        )
    return _("{name}: no open fault on the {part}", name=name, part=part)


def next_due(reader: Reader, machine: str, item: str, now: datetime, system: units.System) -> str:
    """When an item is next due, in words."""
    for line in yard.machine_now(reader, machine, now).dues:
        if line.item.id == item:
            told = mark("{item}: next {why}, likely {day}") if line.likely else mark("{item}: next {why}")
            return _(told, item=line.item.title(current_language()), why=line.due.why(system), day=line.likely)
    return _("done")
