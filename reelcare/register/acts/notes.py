"""Notes that were read."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from reelcare.core import entries as e
from reelcare.core import people
from reelcare.register.writing.writer import Writer


def read(
    register: Writer, machine: str, *, by: str, now: datetime, happened: datetime, shown: Collection[str] | None = None
) -> tuple[e.Entry, ...]:
    """End the notes of a machine, or of them those that were `shown`, by id: near misses, and runs of a held machine,
    only by a supervisor. Returns what was written; nothing where nothing was to be read. Raises Refused or
    NotAllowed."""
    is_supervisor = people.may(register.roles().get(by, ""), "supervisor")
    mine = [
        one
        for one in register.state(machine).notes
        if (is_supervisor or not one.near_miss) and (shown is None or one.id in shown)
    ]
    ends = [e.NearMissRead(note=one.id) if one.near_miss else e.NoteRead(note=one.id) for one in mine]
    drafts = [e.Draft(what=one, machine=machine, happened=happened) for one in ends]
    return register.append(drafts, by=by, now=now) if drafts else ()
