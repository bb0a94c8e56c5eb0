"""Life totals of hours, metres and runs, from counter readings and runs together.

The rules of this file: whole numbers only (seconds and millimetres), so that no total drifts. A reading settles
the life total; runs fill in after it; a run that a reading falls into counts only by the part after it. Where a
counter is replaced, nobody has read the old one: runs go on filling in up to there. The state is a pure function of
the entries in their order: a misread reading is taken back by a correction, one that comes late is put in its
place, and the entries are folded again.

What a reading says is judged in three grades. `after_reading` refuses what cannot be folded; `impossible` tells what
no machine can do, and is refused at the door; `doubtful` tells what is likely a slip but may be so, and is only said.

In words a total that nobody knows, as its counter was never read and of earlier use nothing is known, is a least, which
is what was counted here; where nothing was counted, it is not known.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any, Literal, NamedTuple, Protocol

from reelcare.core.scales import By
from reelcare.core.text import _, localized, mark, plural
from reelcare.core.timestamps import optional_time

CounterName = Literal["hours", "metres"]
CounterChange = Literal["", "new counter", "rolled over"]
MOST_HOURS = 200_000 * 3600
"""A counter that shows more is misread: over twenty years without a pause."""
MOST_METRES = 100_000_000 * 1000
SLACK_SECONDS = 3600
"""What a counter of whole hours may seem to run ahead of the clock."""
FASTEST = 500
"""Metres an hour that no hose comes home faster than (common practice, no source)."""
A_FEW = {"hours": 10 * 3600, "metres": 500_000}
"""What reading and runs may differ by before it is worth a word: about one run (common practice, no source)."""


class CounterError(ValueError):
    """A reading that cannot be: the message says why and what would be right."""


class Totals(NamedTuple):
    """Life totals: seconds of work, millimetres of hose reeled in, runs."""

    seconds: int = 0
    millimetres: int = 0
    runs: int = 0


class CounterReading(Protocol):
    """What is read off a counter: seconds for hours, millimetres for metres; see the entry `Reading`."""

    @property
    def counter(self) -> CounterName: ...  # noqa: D102
    @property
    def value(self) -> int: ...  # noqa: D102
    @property
    def change(self) -> CounterChange: ...  # noqa: D102
    @property
    def rolls_at(self) -> int | None: ...  # noqa: D102


class Count(NamedTuple):
    """One counter: the life total, and what it rests on.

    `settled` is the life total at the last reading, `shown` what the counter showed then, `at` when that was;
    `since` is what runs have added after it. `read` is until when readings say the total: earlier than `at` where
    the last one was that of a new counter. Where one was replaced, no reading says what was done from `lapsed` (None:
    from the beginning) until `replaced`.
    """

    settled: int = 0
    since: int = 0
    shown: int | None = None
    at: datetime | None = None
    read: datetime | None = None
    lapsed: datetime | None = None
    replaced: datetime | None = None

    @property
    def life(self) -> int:
        """The life total as it stands."""
        return self.settled + self.since

    @property
    def is_known(self) -> bool:
        """Whether readings say the total: not where a counter was replaced that nobody had read."""
        return self.read is not None and (self.replaced is None or self.lapsed is not None)

    @property
    def before(self) -> int:
        """What the machine had done that this counter does not show: with one that was replaced, or before it began
        again at 0. Below 0 for one that was used elsewhere."""
        return self.settled - self.shown if self.shown is not None else 0


class Counters(NamedTuple):
    """The counters of one machine."""

    hours: Count = Count()
    metres: Count = Count()
    runs: int = 0

    @property
    def known(self) -> tuple[CounterName, ...]:
        """Those whose readings say the total."""
        both: dict[CounterName, Count] = {"hours": self.hours, "metres": self.metres}
        return tuple(name for name, count in both.items() if count.is_known)

    @classmethod
    def from_plain(cls, plain: Mapping[str, Any]) -> Counters:
        """Counters of plain JSON values, by the names of their fields."""
        hours, metres = (
            Count(settled, since, shown, *map(optional_time, moments))
            for settled, since, shown, *moments in (plain["hours"], plain["metres"])
        )
        return cls(hours, metres, plain["runs"])


def start(seconds: int = 0, millimetres: int = 0, runs: int = 0) -> Counters:
    """The counters of a machine that had done so much when its history begins, and was not read yet."""
    return Counters(Count(settled=seconds), Count(settled=millimetres), runs)


def not_shown(counters: Counters) -> dict[str, int]:
    """What of the life totals the counters do not show, by name; those that show all of it are left out.

    >>> not_shown(Counters(hours=Count(settled=7200_000, since=3600, shown=0)))
    {'hours': 7200000}
    """
    found = {"hours": counters.hours.before, "metres": counters.metres.before}
    return {name: before for name, before in found.items() if before}


def totals(counters: Counters) -> Totals:
    """Life totals as they stand."""
    return Totals(counters.hours.life, counters.metres.life, counters.runs)


def total_in_words(says: str, total: int, *, is_least: bool) -> str:
    """One total in words: as it `says`, as a least, or not known.

    >>> [total_in_words(*one, is_least=True) for one in (("12 h", 43200), ("0 h", 0))]
    ['at least 12 h', 'not known']
    """
    if not is_least:
        return says
    return _("at least {value}", value=says) if total else _("not known")


def total_cell(says: str, total: int, *, is_least: bool) -> str:
    """One total in a column of figures, where there is no room for words.

    >>> [total_cell(*one, is_least=True) for one in (("300 m", 300_000), ("0 m", 0))]
    ['300+ m', '?']
    """
    if not is_least:
        return says
    number, blank, unit = says.partition(" ")
    return f"{number}+{blank}{unit}" if total else "?"


def totals_in_words(totals: Totals, least: Container[By], hours: str, hose: str) -> str:
    """All three totals, of which `hours` and `hose` say the first two; of those in `least` nobody knows more. What is
    known comes first.

    >>> totals_in_words(Totals(1420 * 3600, 300_000, 1), ("metres", "runs"), "1420 h", "300 m")
    '1420 h, at least 300 m, 1 run'
    """
    runs = plural("{n} run", "{n} runs", totals.runs)
    each: list[tuple[By, int, str, str]] = [
        ("hours", totals.seconds, hours, _("hours")),
        ("metres", totals.millimetres, hose, _("hose")),
        ("runs", totals.runs, runs, _("runs")),
    ]
    known = [says for by, _total, says, _name in each if by not in least]
    counted = [says for by, total, says, _name in each if by in least and total]
    unknown = [name for by, total, _says, name in each if by in least and not total]
    told = [*known, *([_("at least {value}", value=", ".join(counted))] if counted else ())]
    if unknown:
        told.append(_("{what} not known", what=_(" and ").join(unknown) if told else _("use")))
    return ", ".join(told)


def after_run(counters: Counters, started: datetime, ended: datetime, metres: int) -> Counters:
    """The counters after a run of `metres` [mm] from `started` to `ended`.

    >>> from datetime import UTC, datetime
    >>> done = after_run(start(), datetime(2026, 5, 1, 6, tzinfo=UTC), datetime(2026, 5, 1, 16, tzinfo=UTC), 300_000)
    >>> totals(done)
    Totals(seconds=36000, millimetres=300000, runs=1)
    """
    hours = _filled(counters.hours, started, ended, seconds_of(started, ended))
    return Counters(hours, _filled(counters.metres, started, ended, metres), counters.runs + 1)


def _filled(count: Count, started: datetime, ended: datetime, amount: int) -> Count:
    settled, since, shown, at, read, lapsed, replaced = count
    if at is None or at <= started:
        return Count(settled, since + amount, shown, at, read, lapsed, replaced)
    # the parts are differences of one rounded course, so that they add up to the run
    before = _until(at, started, ended, amount)
    unread = before - _until(read, started, ended, amount)
    if read is not None and replaced is not None and replaced <= read:  # read again since then, in the same run
        unread += _until(replaced, started, ended, amount) - _until(lapsed, started, ended, amount)
    return Count(settled + unread, since + amount - before, shown, at, read, lapsed, replaced)


def _until(moment: datetime | None, started: datetime, ended: datetime, amount: int) -> int:
    """How much of a run's amount was done until a moment."""
    if moment is None or moment <= started:
        return 0
    if moment >= ended:
        return amount
    return amount * ((moment - started) // _TICK) // ((ended - started) // _TICK)


_TICK = timedelta(milliseconds=1)
A_DAY = 86_400
"""Seconds of a day."""


def seconds_of(started: datetime, ended: datetime) -> int:
    """Whole seconds between two moments."""
    between = ended - started
    return between.days * A_DAY + between.seconds


def after_reading(
    counters: Counters, reading: CounterReading, at: datetime, *, sure: bool = True, zone: tzinfo = UTC
) -> Counters:
    """The counters after a reading. Raises CounterError, which names days of `zone`, where it is lower than the last
    one without a reason.

    One whose time is not `sure` was read at the earliest just after the one before it."""
    before = counters.hours if reading.counter == "hours" else counters.metres
    count = _settle(before, reading, at if sure or before.at is None else min(before.at, at), zone)
    return counters._replace(hours=count) if reading.counter == "hours" else counters._replace(metres=count)


def _settle(count: Count, reading: CounterReading, at: datetime, zone: tzinfo) -> Count:
    value, before = reading.value, count.at.astimezone(zone) if count.at is not None else None
    if reading.change == "new counter":
        return Count(count.life, shown=value, at=at, read=count.read, lapsed=count.read, replaced=at)
    if count.shown is None:
        if reading.change == "rolled over":
            says = mark("{counter}: no earlier reading to roll over from; give a plain reading")
            raise CounterError(_(says, counter=_(reading.counter)))
        return Count(settled=value, shown=value, at=at, read=at)
    if reading.change == "rolled over":
        if reading.rolls_at is None or reading.rolls_at <= max(count.shown, value):
            least = _said(reading, max(count.shown, value))
            raise CounterError(_(
                "{counter}: say at which figure the counter rolls over (above {least})",
                counter=_(reading.counter), least=least,
            ))  # fmt: skip
    elif value < count.shown:
        raise CounterError(_(
            "{counter}: {shown} is less than the {before} read on {at:%Y-%m-%d}; say at the bench (m) that it was "
            "replaced (--new-counter) or began again at 0 (--rolls-at), or correct the earlier reading",
            counter=_(reading.counter), shown=_said(reading, value), before=_said(reading, count.shown), at=before,
        ))  # fmt: skip
    settled = count.settled + _moved(count.shown, reading)
    return Count(settled, shown=value, at=at, read=at, lapsed=count.lapsed, replaced=count.replaced)


def _moved(shown: int, reading: CounterReading) -> int:
    """How far a counter has gone on from what it showed."""
    around = reading.rolls_at if reading.change == "rolled over" and reading.rolls_at is not None else 0
    return around + reading.value - shown


def _said(reading: CounterReading, value: int) -> str:
    return localized(f"{value / 3600:.9g} h" if reading.counter == "hours" else f"{value / 1000:.9g} m")


def _about(reading: CounterReading, value: int) -> str:
    """What runs add up to, as a counter would show it: to a tenth of an hour, or a metre."""
    step = 360 if reading.counter == "hours" else 1000
    return _said(reading, round(value / step) * step)


def impossible(counters: Counters, reading: CounterReading, at: datetime, *, zone: tzinfo = UTC) -> Iterator[str]:
    """What speaks against a reading that could be folded, with times of `zone`: more than the clock allows, more than
    any machine has."""
    count = counters.hours if reading.counter == "hours" else counters.metres
    most = MOST_HOURS if reading.counter == "hours" else MOST_METRES
    if reading.value > most:
        says = mark("{counter}: {shown} is more than any machine has; read it again")
        yield _(says, counter=_(reading.counter), shown=_said(reading, reading.value))
        return
    if not reading.change and count.shown is None and reading.value < count.settled:
        yield _(
            "{counter}: {shown} is less than the {before} that its card says it showed at first (in_use); tick "
            '"counter replaced" (m at the bench, --new-counter), or put the card right',
            counter=_(reading.counter), shown=_said(reading, reading.value), before=_said(reading, count.settled),
        )  # fmt: skip
    if reading.change == "new counter" or count.shown is None or count.at is None or at < count.at:
        return
    passed = seconds_of(count.at, at)
    more = _moved(count.shown, reading)
    allowed = passed + SLACK_SECONDS if reading.counter == "hours" else passed * FASTEST * 1000 // 3600 + 1_000_000
    if more > allowed:
        cure = (
            _("look at where it rolls over")
            if reading.change
            else _('tick "counter replaced" (m at the bench, --new-counter)')
        )
        yield _(
            "{counter}: {shown} more than on {at:%Y-%m-%d %H:%M}, but only {passed:.1f} h have passed; "
            "read it again, or {cure}",
            counter=_(reading.counter), shown=_said(reading, more), at=count.at.astimezone(zone),
            passed=passed / 3600, cure=cure,
        )  # fmt: skip


def doubtful(counters: Counters, reading: CounterReading) -> Iterator[str]:
    """What is likely a slip, but may be so: told to whoever gives the reading, never refused."""
    count = counters.hours if reading.counter == "hours" else counters.metres
    name, few = reading.counter, A_FEW[reading.counter]
    if reading.change == "new counter":
        if reading.value > few:
            yield _(
                "{name}: a new counter that shows {shown}; was it used elsewhere?",
                name=_(name),
                shown=_said(reading, reading.value),
            )
        return
    if count.shown is None:
        if reading.value - count.settled + few < count.since:
            yield _(
                "{name}: the runs logged so far make {shown}; if the counter was replaced in that time, tick "
                '"counter replaced" (m at the bench, --new-counter)',
                name=_(name),
                shown=_about(reading, count.since),
            )
        elif count.settled:  # its card says what it showed at first
            yield from _more_than_runs(count, reading, reading.value - count.settled)
        return
    moved = _moved(count.shown, reading)
    if moved + few < count.since * 9 // 10:
        says = mark("{name}: {shown} more, where the runs logged since make {before}; does the counter stand still?")
        yield _(says, name=_(name), shown=_said(reading, moved), before=_about(reading, count.since))
    else:
        yield from _more_than_runs(count, reading, moved)


def _more_than_runs(count: Count, reading: CounterReading, moved: int) -> Iterator[str]:
    """A counter that went on by far more than the runs that were logged since."""
    if count.since and moved > count.since * 3 // 2 + A_FEW[reading.counter]:
        says = mark("{name}: {shown} more, where the runs logged since make {before}; are runs missing?")
        yield _(says, name=_(reading.counter), shown=_said(reading, moved), before=_about(reading, count.since))
