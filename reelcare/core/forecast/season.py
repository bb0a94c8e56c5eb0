"""The season of a machine: which days it may work on, and the way between days of the season and the calendar.

The rules of this file: a season is two days of the year ("MM-DD", both inside); it may run over New Year, and
where the card names none every day belongs to it. Days are day numbers (`date.toordinal`). Counted by arithmetic,
never day by day.
"""

from __future__ import annotations

import calendar
from datetime import date
from functools import lru_cache

from reelcare.core.machine.card import Season


def in_season(season: Season, day: date) -> bool:
    """Whether a day lies in the season; every day does where the card names none.

    >>> in_season(Season("04-15", "09-30"), date(2026, 12, 1)), in_season(Season("10-01", "03-31"), date(2026, 12, 1))
    (False, True)
    """
    return open_days(season, day.toordinal(), day.toordinal()) == 1


@lru_cache(maxsize=4096)
def _span(opens: str, closes: str, year: int) -> tuple[int, int]:
    """The first and last day number of the season that opens in a year."""
    return _day_of(opens, year), _day_of(closes, year if closes >= opens else year + 1)


def _day_of(text: str, year: int) -> int:
    month, day = int(text[:2]), int(text[3:])
    if (month, day) == (2, 29) and not calendar.isleap(year):
        day = 28
    return date(year, month, day).toordinal()


def open_days(season: Season, first: int, last: int) -> int:
    """How many days of the season lie between two day numbers, both counted.

    >>> open_days(Season("04-15", "09-30"), date(2026, 1, 1).toordinal(), date(2026, 12, 31).toordinal())
    169
    """
    if season.opens is None or season.closes is None:
        return max(last - first + 1, 0)
    return _open_days(season.opens, season.closes, first, last)


@lru_cache(maxsize=16384)  # machines of one yard share their seasons and their weeks
def _open_days(opens: str, closes: str, first: int, last: int) -> int:
    years = range(date.fromordinal(first).year - 1, date.fromordinal(max(last, first)).year + 1)
    spans = (_span(opens, closes, year) for year in years)
    return sum(max(min(ends, last) - max(begins, first) + 1, 0) for begins, ends in spans)


def season_days(season: Season) -> int:
    """How many days of a common year the season has.

    >>> season_days(Season("10-01", "03-31")), season_days(Season())
    (182, 365)
    """
    if season.opens is None or season.closes is None:
        return 365
    opens, closes = _span(season.opens, season.closes, 2025)
    return closes - opens + 1


def spans_from(season: Season, today: date, many: int) -> list[tuple[int, int]]:
    """The first and last days (numbers) of the season that is open, or opens next, and of those after it.

    Where there is no season, the year is one.
    """
    opens, closes = season.opens or "01-01", season.closes or "12-31"
    found: list[tuple[int, int]] = []
    year = today.year - 1
    while len(found) < many:
        span = _span(opens, closes, year)
        if span[1] >= today.toordinal():
            found.append(span)
        year += 1
    return found


def span_of(season: Season, day: int) -> tuple[int, int]:
    """The season that a day (number) lies in, or the one that is nearest to it."""
    ((opens, closes),) = spans_from(season, date.fromordinal(day), 1)
    if day >= opens:
        return opens, closes
    before = _span(season.opens or "01-01", season.closes or "12-31", date.fromordinal(opens).year - 1)
    return before if day - before[1] < opens - day else (opens, closes)


def day_after(count: int, today: date, season: Season) -> int | None:
    """The days of the calendar in which a number of days of the season pass; None beyond eight years.

    >>> day_after(2, date(2026, 9, 29), Season("04-15", "09-30"))  # the 30th, and 15 April
    198
    """
    if season.opens is None or season.closes is None or count <= 0:
        return count
    here, left = today.toordinal(), count
    for opens, closes in _spans_ahead(season.opens, season.closes, today.year):
        if closes > here:
            before = max(opens - 1, here)
            if closes - before >= left:
                return before + left - here
            left -= closes - before
    return None


@lru_cache(maxsize=256)
def _spans_ahead(opens: str, closes: str, year: int) -> tuple[tuple[int, int], ...]:
    """The seasons that open in a year, the one before, and seven after it, as first and last day numbers."""
    return tuple(_span(opens, closes, one) for one in range(year - 1, min(year + 8, date.max.year)))
