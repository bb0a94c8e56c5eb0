"""Hours of the day as spans of time: when water may be taken, and when it is dark.

The rules of this file: a span is two moments in seconds since 1970, in order, and no two of a list touch. Hours of a
day are those of the clock where the machines stand, also on the days on which it is put on or back.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta, tzinfo

from reelcare.core.night.field import Hours

Span = tuple[int, int]


def spans_of(hours: Hours | None, first: datetime, last: datetime, zone: tzinfo) -> list[Span]:
    """The spans of these hours from the day before one moment to the day after another; one over all where None."""
    if hours is None:
        return [(seconds(first) - 2 * 86400, seconds(last) + 2 * 86400)]
    day, end = first.astimezone(zone).date() - timedelta(days=1), last.astimezone(zone).date() + timedelta(days=1)
    found: list[Span] = []
    while day <= end:
        until = day if hours.ends > hours.begins else day + timedelta(days=1)
        one = tuple(
            seconds(datetime.combine(on, time(minutes // 60, minutes % 60), zone))
            for on, minutes in ((day, hours.begins), (until, hours.ends))
        )
        if one[0] < one[1]:
            found.append((one[0], one[1]))
        day += timedelta(days=1)
    return found


def seconds(moment: datetime) -> int:
    """A moment as whole seconds since 1970."""
    return round(moment.timestamp())


def moment(at: int) -> datetime:
    """Whole seconds since 1970 as a moment."""
    return datetime.fromtimestamp(at, UTC)


def common_spans(some: Sequence[Span], others: Sequence[Span]) -> list[Span]:
    """The intersection of two lists of spans."""
    return sorted(
        (max(one[0], other[0]), min(one[1], other[1]))
        for one in some
        for other in others
        if max(one[0], other[0]) < min(one[1], other[1])
    )


def first_fit(at: int, length: int, within: Sequence[Span]) -> int | None:
    """The first moment from `at` on from which a number of seconds lies within one span; None where they never do.

    >>> first_fit(5, 10, [(0, 12), (20, 40)])
    20
    """
    first = max(bisect_right(within, (at, at)) - 1, 0)
    for place in range(first, len(within)):
        begins, ends = within[place]
        start = max(at, begins)
        if start + length <= ends:
            return start
    return None


def first_free(at: int, length: int, taken: Sequence[Span]) -> int:
    """The first moment from `at` on from which a number of seconds touches no span.

    >>> first_free(5, 10, [(12, 20), (25, 26)])
    26
    """
    first = max(bisect_right(taken, (at, at)) - 1, 0)
    for place in range(first, len(taken)):
        begins, ends = taken[place]
        if begins >= at + length:
            break
        if at < ends:
            at = ends
    return at
