"""People: enrolling them, and what comes with the first one."""

from __future__ import annotations

from datetime import datetime

from reelcare.core import entries as e
from reelcare.core.canonical_json import canonical
from reelcare.core.people import LEFT
from reelcare.register import sheets
from reelcare.register.reading.reader import DEFAULT_PLAN
from reelcare.register.writing.writer import Writer


def enrol(writer: Writer, name: str, role: str, *, by: str, now: datetime, happened: datetime | None = None) -> e.Entry:
    """Enrol a person, or give one another role.

    The first person must be a supervisor and enrols themself. The service plan of that day is kept as the default one
    with them: it holds here until somebody chooses a plan, and never travels.
    """
    at = happened or now
    person = e.Draft(what=e.Enrolled(name=name, role=role), happened=at)
    if writer.roles():
        return writer.append([person], by=by, now=now)[0]
    with writer.writing():
        writer.db.keep_about(DEFAULT_PLAN, canonical({"plan": sheets.default_plan()[1]}))
        return writer.append([person], by=name, now=now)[0]


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
