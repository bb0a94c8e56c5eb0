"""A time as people type it: ISO 8601, in the register's zone where no offset is written."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from reelcare.core.text import _, mark

FIRST_YEAR, LAST_YEAR = 1900, 2999
"""The years that can be meant; beyond them a zone's offset, or a few weeks, would leave the calendar."""
_CLOCK = re.compile(r"\d?\d:\d\d")
_MIDNIGHT = re.compile(r"(\d{4}-?\d\d-?\d\d[T ])24(:?00(?::?00(?:[.,]0+)?)?)?([Z+-].*)?")


class TimeError(ValueError):
    """A time that cannot be read: the message says what was wrong and what would be right."""


def read_time(text: str, zone: tzinfo, example: str = "2026-05-01T06:30") -> datetime:
    """A moment, aware of its zone; 24:00 is the end of its day. Raises TimeError.

    >>> from datetime import UTC
    >>> read_time("2026-05-01T24:00", UTC).isoformat(), read_time("2026-05-01 06:30+02:00", UTC).isoformat()
    ('2026-05-02T00:00:00+00:00', '2026-05-01T06:30:00+02:00')
    """
    text = text.strip()
    return in_zone(_read(text, example), zone, text)


def _read(text: str, example: str) -> datetime:
    ends = _MIDNIGHT.fullmatch(text)
    try:
        if ends is not None:
            found = datetime.fromisoformat(f"{ends[1]}00:00{ends[3] or ''}")
        else:
            found = datetime.fromisoformat(text)
    except ValueError:
        raise TimeError(_("{text!r} is not a time; write it as in {example}", text=text, example=example)) from None
    check_year(found, text)
    if ends is not None:
        found += timedelta(days=1)
    return found


def in_zone(found: datetime, zone: tzinfo, text: str) -> datetime:
    """A time in a zone, where it does not have its own. Raises TimeError in the hour that the clocks skip, and in the
    one that they go through twice, where nobody can say which was meant; midnight also stands for a day alone, and is
    its beginning.

    >>> from zoneinfo import ZoneInfo
    >>> in_zone(datetime(2026, 3, 29, 3, 0), ZoneInfo("Europe/Madrid"), "3:00").isoformat()
    '2026-03-29T03:00:00+02:00'
    """
    placed = found if found.tzinfo is not None else found.replace(tzinfo=zone)
    both = _when_the_clocks_change(placed)
    if both is None or placed.time() == time():
        return placed
    first, second = both
    if first > second:
        says = mark("{text!r}: no such time, as the clocks went forward in this hour; write the one that was meant")
        raise TimeError(_(says, text=text))
    says = mark("{text!r} comes twice, as the clocks went back in this hour; write {first} or {second}")
    raise TimeError(_(says, text=text, first=written(first.astimezone(zone)), second=written(second.astimezone(zone))))


def _when_the_clocks_change(moment: datetime) -> tuple[datetime, datetime] | None:
    """The two moments in UTC that a time of a zone can mean, by the clock before a change and by that after it; None
    where it means one alone."""
    before, after = (moment.replace(fold=fold).astimezone(UTC) for fold in (0, 1))
    return None if before == after else (before, after)


def written(moment: datetime) -> str:
    """A moment by the clock of its zone, as `read_time` reads it: with the offset in the hour that comes twice.

    >>> from zoneinfo import ZoneInfo
    >>> madrid = ZoneInfo("Europe/Madrid")
    >>> [written(datetime(2026, 10, 25, hour, 30, tzinfo=UTC).astimezone(madrid)) for hour in (1, 2)]
    ['2026-10-25 02:30+01:00', '2026-10-25 03:30']
    """
    minutes = "%Y-%m-%d %H:%M"
    return f"{moment:{minutes}}" if _when_the_clocks_change(moment) is None else moment.isoformat(" ", "minutes")


def read_after(text: str, before: datetime, zone: tzinfo) -> datetime:
    """A moment as it stands on a paper below another: the time alone is of the same day, or past midnight of the next;
    nothing is the moment before. Raises TimeError.

    >>> from datetime import UTC
    >>> late = datetime(2026, 5, 1, 23, 50, tzinfo=UTC)
    >>> [f"{read_after(text, late, UTC):%m-%d %H:%M}" for text in ("", "23:55", "0:20", "2026-05-02T01:00")]
    ['05-01 23:50', '05-01 23:55', '05-02 00:20', '05-02 01:00']
    """
    text = text.strip()
    if not text:
        return before
    if _CLOCK.fullmatch(text) is None:
        return read_time(text, zone)
    same_day = _read(f"{before.astimezone(zone):%Y-%m-%d}T{text.zfill(5)}", "2026-05-01T06:30")
    found, tomorrow = (one.replace(tzinfo=zone) for one in (same_day, same_day + timedelta(days=1)))
    is_tomorrow = found < before and tomorrow - before < timedelta(hours=12)
    return in_zone(same_day + timedelta(days=is_tomorrow), zone, text)


def check_year(found: date, text: str) -> None:
    """Raise TimeError where a day lies in a year that nobody can mean."""
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise TimeError(_(
            "{text!r}: must be a year from {first_year} to {last_year}",
            text=text, first_year=FIRST_YEAR, last_year=LAST_YEAR,
        ))  # fmt: skip


_DAYS = {"": 0, "today": 0, "hoy": 0, "aujourd'hui": 0, "yesterday": 1, "ayer": 1, "hier": 1}
"""How many days ago a word means; whichever language is spoken, all of them are known."""


def read_past(text: str, now: datetime, zone: tzinfo) -> datetime:
    """When something was done, as people say it: nothing or `today` is now, `yesterday` and a day alone are the end of
    that day, and a time may stand behind each. Raises TimeError.

    >>> from datetime import UTC
    >>> noon = datetime(2026, 5, 2, 12, tzinfo=UTC)
    >>> [f"{read_past(text, noon, UTC):%m-%d %H:%M}" for text in ("", "yesterday", "yesterday 16:30", "2026-04-30")]
    ['05-02 12:00', '05-01 23:59', '05-01 16:30', '04-30 23:59']
    """
    here = now.astimezone(zone)
    first, _blank, rest = text.strip().casefold().partition(" ")
    days = _DAYS.get(first.replace("’", "'"))
    if days == 0 and not rest:
        return now
    day = (here.date() - timedelta(days=days)).isoformat() if days is not None else first.upper()
    end = "" if rest or "T" in day else " 23:59"
    try:
        typed = _read(f"{day} {rest}".strip() + end, "2026-05-01 16:30")
    except TimeError:
        raise TimeError(
            _("{text!r} is not a day; write today, yesterday, 2026-05-01 or 2026-05-01 16:30", text=text.strip())
        ) from None
    found = in_zone(typed, zone, text.strip())
    if found > now and found.astimezone(zone).date() == here.date() and end:
        return now
    if found > now:
        raise TimeError(_("{text!r} is in the future; say when it was done", text=text.strip()))
    return found
