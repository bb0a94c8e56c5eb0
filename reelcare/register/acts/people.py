"""People: enrolling them, and what comes with the first one."""

from __future__ import annotations

from datetime import datetime

from reelcare.core import entries as e
from reelcare.core.people import LEFT
from reelcare.register import sheets
from reelcare.register.writing.writer import Writer


def enrol(writer: Writer, name: str, role: str, *, by: str, now: datetime, happened: datetime | None = None) -> e.Entry:
    """Enrol a person, or give one another role.

    The first person must be a supervisor and enrols themself; the default service plan is put in force with
    them, so that from then on the register says by itself what was planned when.
    """
    at = happened or now
    person = e.Draft(what=e.Enrolled(name=name, role=role), happened=at)
    if writer.roles():
        return writer.append([person], by=by, now=now)[0]
    _, table = sheets.default_plan()
    return writer.append([person, e.Draft(what=e.Planned(plan=table), happened=at)], by=name, now=now)[0]


def leave(
    writer: Writer, name: str, *, by: str, now: datetime, happened: datetime | None = None
) -> tuple[e.Entry, list[tuple[str, str]]]:
    """Somebody is there no more: they sign nothing, and stay in the book. Returns also which lines of the work list
    are still given to them, by tag and item or fault."""
    entry = writer.add(e.Enrolled(name=name, role=LEFT), by=by, now=now, happened=happened)
    tags = writer.tags()
    given = [
        (tags[machine], item)
        for machine, state in writer.states().items()
        if state.retired is None
        for item, one in state.given.items()
        if one.to == name
    ]
    return entry, sorted(given)
