"""Lines of the work list by the names that people give them, and giving them to people."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from reelcare.core import entries as e
from reelcare.core.parts import part_called
from reelcare.core.people import NOBODY
from reelcare.core.text import _
from reelcare.core.wording import nearest
from reelcare.register.errors import Refused
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer

SHORTEST_END = 4
"""Characters of the end of a fault's id that tell it apart."""


def named(reader: Reader, machine: str, name: str, now: datetime) -> str:
    """The id of the line that is meant: an item of the machine's plan, or an open fault by its id, the end of that, or
    a word for its part. Raises Refused, naming what is there."""
    plan, faults = reader.plans().at(machine, now), reader.state(machine).faults
    if plan.item(name) is not None:
        return name
    meant = [one for one in faults if len(name) >= SHORTEST_END and one.id.endswith(name.lower())]
    meant = meant or [one for one in faults if one.part == (part_called(name) or name.casefold())]
    if len(meant) == 1:
        return meant[0].id
    if meant:
        told = "; ".join(f"{one.id[-8:]} {one.shown[:40]}" for one in meant)
        raise Refused(_("{name}: {n} faults are open, name one: {told}", name=name, n=len(meant), told=told))
    known = [item.id for item in plan.items]
    raise Refused(
        _("{name}: neither an item of the plan nor an open fault{hint}", name=name, hint=nearest(name, known))
    )


def person(reader: Reader, name: str) -> str:
    """The enrolled person of this name, however it is written; '' for *nobody*. Raises Refused."""
    return _known(name, list(reader.roles()))


def holder(reader: Reader, name: str) -> str:
    """The same to look something up by: what is given to somebody who has left stays so, and is found by their name."""
    enrolled = reader.select(queries.shared(e.Enrolled.kind).where(queries.counts()))
    return _known(name, list(dict.fromkeys(one.what.name for one in enrolled if isinstance(one.what, e.Enrolled))))


def _known(name: str, people: list[str]) -> str:
    if not name:
        raise Refused(_("name: empty"))
    if name.casefold() == NOBODY:
        return ""
    found = next((one for one in people if one.casefold() == name.casefold()), None)
    if found is None:
        raise Refused(_("{name}: not enrolled here{nearest}", name=name, nearest=nearest(name, people)))
    return found


def give(
    register: Writer, lines: Iterable[tuple[str, str]], to: str, day: date | None, *, by: str, now: datetime,
    happened: datetime | None = None,
) -> tuple[e.Entry, ...]:  # fmt: skip
    """Give lines, each by its machine and the id of its item or fault, to a person for a day, or to nobody; all or
    none. Raises Refused or NotAllowed."""
    until = day.isoformat() if to and day else ""
    drafts = [
        e.Draft(what=e.Assigned(item=item, to=to, day=until), machine=machine, happened=happened or now)
        for machine, item in lines
    ]
    return register.append(drafts, by=by, now=now)
