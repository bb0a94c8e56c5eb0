"""The fields of a register, and what was run on them: which lanes of the round are done, and where a machine stands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, NamedTuple

from reelcare.core import entries as e
from reelcare.core.machine.card import Card
from reelcare.core.night.field import Field, Lane, read_field
from reelcare.core.night.rounds import done_in_round, lane_of_hydrant
from reelcare.core.text import _
from reelcare.core.wording import nearest
from reelcare.register.errors import Refused
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader


class KnownField(NamedTuple):
    """A field as it is known now, when it was written down first, and the table that says it."""

    field: Field
    since: datetime
    table: Mapping[str, Any]


class RunOnLane(NamedTuple):
    """A run at a field: its machine, its lane, when it ended, whether its hose came home, and whether the lane was only
    taken as the next by number, since neither the run nor its set says one."""

    machine: str
    lane: Lane
    ended: datetime
    home: bool
    guessed: bool


def all_of(reader: Reader, at: datetime | None = None) -> dict[str, KnownField]:
    """Every field up to a moment, by its id, as it was described last."""
    found: dict[str, KnownField] = {}
    for one in reader.select(queries.of_kind(None, e.Mapped.kind, at)):
        if isinstance(one.what, e.Mapped):
            field = read_field(one.what.field)
            before = found.get(field.id)
            found[field.id] = KnownField(field, before.since if before is not None else one.recorded, one.what.field)
    return found


def of_card(reader: Reader, card: Card) -> Field | None:
    """The field with lanes of the place where a machine stands; None where none is known."""
    known: dict[str, KnownField] = reader.cache.get("fields", lambda: all_of(reader))
    return next((one.field for one in known.values() if one.field.is_at(card.place)), None)


def find(reader: Reader, place: str, at: datetime | None = None) -> KnownField | None:
    """The field of a place, by the field's place or id, or by a part of them that tells it apart; None where there is
    none yet. Raises Refused where there are several."""
    return _found(all_of(reader, at), place)


def longest_hose(reader: Reader, field: Field) -> float | None:
    """The longest hose of the machines at a field [m]; None where none is known."""
    cards = [reader.card(one) for one in reader.machine_ids()]
    return max((one.hose.length for one in cards if field.is_at(one.place) and one.hose.length is not None),
               default=None)  # fmt: skip


def of_place(reader: Reader, place: str, at: datetime | None = None) -> KnownField:
    """The same, where there must be one. Raises Refused."""
    fields = all_of(reader, at)
    found = _found(fields, place)
    if found is not None:
        return found
    if not fields:
        raise Refused(_("no field is known: `reelcare lanes add FIELD.toml --by NAME` adds one"))
    known = [one.field.place or one.field.id for one in fields.values()]
    raise Refused(
        _("{place}: no lanes are known of it; a field says its machines' place as `place`{near}", place=place or "-",
          near=nearest(place, known))
    )  # fmt: skip


def _found(fields: Mapping[str, KnownField], place: str) -> KnownField | None:
    exact = [one for one in fields.values() if one.field.is_at(place)]
    wanted = place.casefold()
    near = [
        one for one in fields.values()
        for text in (one.field.place or one.field.id,)
        if wanted and (text.casefold() in wanted or wanted in text.casefold())
    ]  # fmt: skip
    found = exact or near
    if len(found) > 1:
        ids = ", ".join(one.field.id for one in found)
        raise Refused(_("{place}: several fields are there ({ids}); say which", place=place, ids=ids))
    return found[0] if found else None


def runs_at(
    reader: Reader, known: KnownField, machines: Iterable[str], since: datetime, at: datetime
) -> list[RunOnLane]:
    """The runs of machines on the lanes of a field between two moments, in the order in which they ended."""
    field = known.field
    ran: list[tuple[e.Entry, e.Run, str]] = []
    for machine in machines:
        planned = reader.select(queries.of_kind(machine, e.SetPlanned.kind, at))
        for one in reader.select(queries.of_kind(machine, e.Run.kind, at)):
            if isinstance(one.what, e.Run) and one.happened >= since:
                if one.what.place and not field.is_at(one.what.place):
                    continue
                ran.append((one, one.what, _hydrant(planned, one.what.started)))
    found: list[RunOnLane] = []
    for entry, run, hydrant in sorted(ran, key=lambda one: one[1].ended):
        home = run.stopped_by not in ("operator", "fault") or run.home == "yes"
        done = done_in_round(field, [one.lane.number for one in found if one.home])
        lane = field.lane(run.lane) if run.lane else lane_of_hydrant(field, hydrant, done) if hydrant else None
        guessed = lane is None and not run.lane and entry.recorded >= known.since
        if guessed:
            lane = next((one for one in field.lanes if one.number not in done), None)
        if lane is not None and entry.machine is not None:
            found.append(RunOnLane(entry.machine, lane, run.ended, home, guessed))
    return found


def _hydrant(planned: list[e.Entry], started: datetime) -> str:
    """The hydrant of the set that was kept last before a run."""
    before = [one for one in planned if one.happened <= started]
    return e.wishes_of(before[-1] if before else None).get("hydrant", "")
