"""Notes that were read."""

from __future__ import annotations

from datetime import datetime

from reelcare.core import entries as e
from reelcare.core import people
from reelcare.register.writing.writer import Writer


def read(
    register: Writer, machine: str, *, by: str, now: datetime, happened: datetime, misses: bool = True
) -> tuple[e.Entry, ...]:
    """End the notes of a machine: near misses, and runs of a held machine, only by a supervisor, and not where they
    were not shown (`misses`). Returns what was written; nothing where nothing was to be read. Raises Refused or
    NotAllowed."""
    is_supervisor = misses and people.may(register.roles().get(by, ""), "supervisor")
    mine = [one for one in register.state(machine).notes if is_supervisor or not one.near_miss]
    ends = [e.NearMissRead(note=one.id) if one.near_miss else e.NoteRead(note=one.id) for one in mine]
    drafts = [e.Draft(what=one, machine=machine, happened=happened) for one in ends]
    return register.append(drafts, by=by, now=now) if drafts else ()
