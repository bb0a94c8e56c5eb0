"""Moments as they are kept: aware, in UTC, in whole milliseconds, with one text that sorts as moments do."""

from __future__ import annotations

from datetime import UTC, date, datetime, tzinfo

from reelcare.core.text import _


def time_text(moment: datetime) -> str:
    """A moment as UTC text, to the millisecond, that sorts as moments do. Raises ValueError where it has no zone.

    >>> time_text(datetime(2026, 3, 1, 6, 30, tzinfo=UTC))
    '2026-03-01T06:30:00.000Z'
    """
    if moment.tzinfo is None:
        raise ValueError(_("a time without a zone: give an offset, as in 2026-03-01T06:30+02:00"))
    if moment.tzinfo is not UTC:
        moment = moment.astimezone(UTC)
    if not moment.microsecond:
        return moment.isoformat()[:19] + ".000Z"  # the common case, which long run logs are full of
    return moment.isoformat(timespec="milliseconds")[:-6] + "Z"


time_of = datetime.fromisoformat
"""The moment that `time_text` wrote."""


def optional_time(text: str | None) -> datetime | None:
    """The moment of a text, None where there is none."""
    return time_of(text) if text is not None else None


def kept(moment: datetime) -> datetime:
    """An aware moment as it is kept: in UTC, in whole milliseconds.

    The difference of two such is the time that passed; of two in one zone with summer time it is that of the clocks.

    >>> from zoneinfo import ZoneInfo
    >>> kept(datetime(2026, 7, 1, 6, 30, 0, 1999, tzinfo=ZoneInfo("America/New_York")))
    datetime.datetime(2026, 7, 1, 10, 30, 0, 1000, tzinfo=datetime.timezone.utc)
    """
    if moment.tzinfo is not UTC:
        moment = moment.astimezone(UTC)
    over = moment.microsecond % 1000
    return moment.replace(microsecond=moment.microsecond - over) if over else moment


def day_of(moment: datetime, zone: tzinfo) -> date:
    """The day of a moment in a zone: where the machines stand."""
    return moment.astimezone(zone).date()
