"""Life totals of hours, metres and runs, from counter readings and runs together.

The rules of this file: whole numbers only (seconds and millimetres), so that no total drifts. A reading settles
the life total; runs fill in after it; a run that a reading falls into counts only by the part after it. The
state is a pure function of the entries in their order: a misread reading is taken back by a correction and the
entries are folded again without it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from reelcare.core.entries import Reading, time_of, time_text

MOST_HOURS = 200_000 * 3600
"""A counter that shows more is misread: over twenty years without a pause."""
MOST_METRES = 100_000_000 * 1000
SLACK_SECONDS = 3600
"""What a counter of whole hours may seem to run ahead of the clock."""
FASTEST = 500
"""Metres an hour that no hose comes home faster than (common practice, no source)."""


class CounterError(ValueError):
    """A reading that cannot be: the message says why and what would be right."""


@dataclass(frozen=True, slots=True)
class Totals:
    """Life totals: seconds of work, millimetres of hose reeled in, runs."""

    seconds: int = 0
    millimetres: int = 0
    runs: int = 0


@dataclass(frozen=True, slots=True)
class Count:
    """One counter: the life total, and what it rests on.

    `settled` is the life total at the last reading, `shown` what the counter showed then, `at` when that was;
    `since` is what runs have added after it.
    """

    settled: int = 0
    since: int = 0
    shown: int | None = None
    at: datetime | None = None

    @property
    def life(self) -> int:
        """The life total as it stands."""
        return self.settled + self.since


@dataclass(frozen=True, slots=True)
class Counters:
    """The counters of one machine."""

    hours: Count = field(default_factory=Count)
    metres: Count = field(default_factory=Count)
    runs: int = 0

    def to_plain(self) -> dict[str, Any]:
        """As plain JSON values."""
        return {
            name: [one.settled, one.since, one.shown, time_text(one.at) if one.at else None]
            for name, one in (("hours", self.hours), ("metres", self.metres))
        } | {"runs": self.runs}

    @classmethod
    def from_plain(cls, plain: Mapping[str, Any]) -> Counters:
        """What `to_plain` wrote."""
        hours, metres = (
            Count(settled, since, shown, time_of(at) if at else None)
            for settled, since, shown, at in (plain["hours"], plain["metres"])
        )
        return cls(hours, metres, plain["runs"])


def start() -> Counters:
    """The counters of a machine of which nothing is known."""
    return Counters()


def totals(counters: Counters) -> Totals:
    """Life totals as they stand."""
    return Totals(counters.hours.life, counters.metres.life, counters.runs)


def after_run(counters: Counters, started: datetime, ended: datetime, metres: int) -> Counters:
    """The counters after a run of `metres` [mm] from `started` to `ended`.

    >>> from datetime import UTC, datetime
    >>> done = after_run(start(), datetime(2026, 5, 1, 6, tzinfo=UTC), datetime(2026, 5, 1, 16, tzinfo=UTC), 300_000)
    >>> totals(done)
    Totals(seconds=36000, millimetres=300000, runs=1)
    """
    seconds = _seconds(started, ended)
    return Counters(
        _more(counters.hours, _after(counters.hours, started, ended, seconds)),
        _more(counters.metres, _after(counters.metres, started, ended, metres)),
        counters.runs + 1,
    )


def _more(count: Count, amount: int) -> Count:
    # built directly: run logs of a hundred thousand lines pass here
    return Count(count.settled, count.since + amount, count.shown, count.at)


def _seconds(started: datetime, ended: datetime) -> int:
    return int((ended - started).total_seconds())


def _after(count: Count, started: datetime, ended: datetime, amount: int) -> int:
    """The part of a run's amount that lies after the last reading."""
    if count.at is None or count.at <= started:
        return amount
    if count.at >= ended:
        return 0
    return amount * _seconds(count.at, ended) // max(_seconds(started, ended), 1)


def after_reading(counters: Counters, reading: Reading, at: datetime) -> Counters:
    """The counters after a reading. Raises CounterError where it is lower than the last one without a reason."""
    if reading.counter == "hours":
        return replace(counters, hours=_settle(counters.hours, reading, at))
    return replace(counters, metres=_settle(counters.metres, reading, at))


def _settle(count: Count, reading: Reading, at: datetime) -> Count:
    value = reading.value
    if reading.change == "new counter":
        return Count(settled=count.life, shown=value, at=at)
    if count.shown is None:
        return Count(settled=value, shown=value, at=at)
    if reading.change == "rolled over":
        if reading.rolls_at is None or reading.rolls_at <= max(count.shown, value):
            raise CounterError(
                f"{reading.counter}: say at which figure the counter rolls over (above {_said(reading, count.shown)})"
            )
        return Count(settled=count.settled + (reading.rolls_at - count.shown) + value, shown=value, at=at)
    if value < count.shown:
        raise CounterError(
            f"{reading.counter}: {_said(reading, value)} is less than the {_said(reading, count.shown)} read on "
            f"{count.at:%Y-%m-%d}; say --new-counter if it was replaced, or correct the earlier reading"
        )
    return Count(settled=count.settled + value - count.shown, shown=value, at=at)


def _said(reading: Reading, value: int) -> str:
    return f"{value / 3600:g} h" if reading.counter == "hours" else f"{value / 1000:g} m"


def impossible(counters: Counters, reading: Reading, at: datetime) -> Iterator[str]:
    """What speaks against a reading that could be folded: more than the clock allows, more than any machine has."""
    count = counters.hours if reading.counter == "hours" else counters.metres
    most = MOST_HOURS if reading.counter == "hours" else MOST_METRES
    if reading.value > most:
        yield f"{reading.counter}: {_said(reading, reading.value)} is more than any machine has; read it again"
        return
    if reading.change or count.shown is None or count.at is None or at < count.at:
        return
    passed = _seconds(count.at, at)
    more = reading.value - count.shown
    allowed = passed + SLACK_SECONDS if reading.counter == "hours" else passed * FASTEST * 1000 // 3600 + 1_000_000
    if more > allowed:
        yield (
            f"{reading.counter}: {_said(reading, more)} more than on {count.at:%Y-%m-%d %H:%M}, when only "
            f"{passed / 3600:.1f} h have passed since; read it again, or say --new-counter"
        )
