"""Small fields with machines whose run times are given, for tests of the order of sets."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from reelcare.core.night.field import Field, Hours, Lane, Licence
from reelcare.core.night.hours import common_spans, seconds, spans_of
from reelcare.core.night.plan import LaneSet, NightAsked, Rig

NOON = datetime(2026, 6, 1, 12, tzinfo=UTC)
EVENING = Hours(20 * 60, 8 * 60)
DARK = Hours(21 * 60 + 30, 5 * 60)


def at(hours: float) -> int:
    """So many hours after noon of the first day."""
    return seconds(NOON + timedelta(hours=hours))


def a_field(runs: Sequence[float], per_hydrant: int = 2, **more: Any) -> Field:
    """A field whose lanes are as long as a machine of 50 m/h takes so many hours for."""
    lanes = (Lane(number, (number - 1) // per_hydrant + 1, 50 * hours) for number, hours in enumerate(runs, 1))
    return Field("field", tuple(lanes), **more)


def rig(tag: str, speed: float = 50, free: float = 0, **more: Any) -> Rig:
    """A machine that travels so fast [m/h], and is free so many hours after noon."""
    return Rig(tag, at(free), lambda lane: LaneSet(round(lane.length / speed * 3600), lane.length, 1e6), **more)


def asked(field: Field, rigs: Sequence[Rig], days: float = 3, *, dark_moves: bool = False, **more: Any) -> NightAsked:
    """The lanes of a field with machines, from noon on."""
    end = NOON + timedelta(days=days)
    allowed = common_spans(spans_of(field.tariff, NOON, end, UTC), spans_of(field.licence.hours, NOON, end, UTC))
    dark = [] if dark_moves or field.dark is None else spans_of(field.dark, NOON, end, UTC)
    whole = spans_of(Hours(0, 24 * 60 - 1), NOON, end, UTC) if field.licence != Licence() else []
    return NightAsked(
        field, field.lanes, tuple(rigs), at(0), seconds(end), tuple(allowed), tuple(dark),
        tuple((begin, begin + 86400) for begin, _end in whole), **more,
    )  # fmt: skip
