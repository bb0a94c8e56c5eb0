"""Months counted from a day and clipped to the end of the month, never chained; days of the year."""

from __future__ import annotations

from calendar import monthrange
from datetime import date


def add_months(day: date, months: int) -> date:
    """A day so many months later, clipped to the end of the month.

    >>> add_months(date(2025, 1, 31), 1), add_months(date(2024, 2, 29), 48)
    (datetime.date(2025, 2, 28), datetime.date(2028, 2, 29))
    """
    years, month = divmod(day.month - 1 + months, 12)
    return in_year(min(day.year + years, date.max.year), month + 1, day.day)


def in_year(year: int, month: int, day: int) -> date:
    """A day of a year, clipped to the end of its month."""
    if day > SHORTEST:
        day = min(day, monthrange(year, month)[1])
    return date(year, month, day)


SHORTEST = 28
"""Days that every month has."""


def counted_from(on: str, start: date, before: int) -> tuple[date, int]:
    """What dates that stand on "MM-DD" count from: a day, and the months after it.

    The first date, `before` months after that, is the first such day not before `start`. The day is one of a leap
    year, so that 29 February is not lost.

    >>> day, months = counted_from("09-30", date(2026, 6, 1), 12)
    >>> add_months(day, months + 12)
    datetime.date(2026, 9, 30)
    """
    month, day = int(on[:2]), int(on[3:])
    first = in_year(start.year, month, day)
    year = start.year if first >= start else start.year + 1
    return date(2000, month, day), 12 * (year - 2000) - before
