"""What a water meter says of a run: how much went through it since it was read before.

The rules of this file: water in litres. A meter that shows less than before, or more than a machine can have given
since, is another meter, or misread: then nothing can be said of what went through it.
"""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple

from reelcare.core.text import localized

MOST_FLOW = 1_000_000
"""The most that a machine gives in an hour [l]: 1,000 m3, as for the hydrant of a lane; far beyond the widest hose."""


class MeterShown(NamedTuple):
    """What a meter showed [l], and when."""

    litres: int
    at: datetime


def most_given(begins: datetime, ends: datetime) -> int:
    """The most that a machine can give between two moments [l]."""
    return round((ends - begins).total_seconds() * MOST_FLOW / 3600)


def passed(before: MeterShown, now: MeterShown) -> int | None:
    """What went through a meter between two readings [l]; None where it cannot be the same one, rightly read.

    >>> from datetime import UTC, datetime
    >>> day, next_day = (datetime(2026, 5, one, tzinfo=UTC) for one in (1, 2))
    >>> passed(MeterShown(1_000_000, day), MeterShown(1_430_000, next_day))
    430000
    >>> [passed(MeterShown(1_000_000, day), MeterShown(shows, next_day)) for shows in (100_000, 10**9)]
    [None, None]
    """
    more = now.litres - before.litres
    return more if 0 <= more <= most_given(before.at, now.at) else None


def cubic_metres(litres: int) -> str:
    """Litres in m3, with every figure that a meter showed.

    >>> cubic_metres(1_234_567_800)
    '1234567.8'
    """
    return localized(f"{litres / 1000:.10g}")
