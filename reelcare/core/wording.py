"""Texts by language, and the few turns of phrase that more than one face of the program uses."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from functools import cache

from reelcare.core.text import _, mark, plural


class ProblemsError(ValueError):
    """A table that cannot be right. `problems` has everything that is wrong with it, each with its place and cure."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("; ".join(problems))
        self.problems = problems


Words = Mapping[str, str]
"""A text by language; English is always there."""


def said(words: Words, language: str = "en") -> str:
    """A text in a language, else in English; else in any, as a plan of before can have it.

    >>> said({"en": "drum", "es": "tambor"}, "es"), said({"en": "drum"}, "es"), said({"es": "tambor"}, "en")
    ('tambor', 'drum', 'tambor')
    """
    return words.get(language) or words.get("en") or next(iter(words.values()), "")


def percent_of(used: float, limit: float) -> int:
    """Percent of a limit, rounded up: what is past it never reads as all of it.

    >>> percent_of(98.7, 100), percent_of(1002, 1000), percent_of(7, 7)
    (99, 101, 100)
    """
    return math.ceil(100 * used / limit - 1e-9)


SHORT = {"en": 18}
"""The most cells of a short title, by language."""
SHORT_ELSEWHERE = 22


def short_of(short: Words, whole: Words, language: str) -> str:
    """The short title in a language; the whole one where there is none, in English where there is neither.

    >>> short_of({"en": "Gear oil"}, {"en": "Oil of the gearbox", "es": "Aceite de la caja"}, "es")
    'Aceite de la caja'
    """
    return said(whole, language) if language in whole and language not in short else said(short or whole, language)


def too_long_of(short: Words) -> Iterator[str]:
    """What is wrong with each short title that is too long, behind the key that it stands under.

    >>> list(too_long_of({"en": "Oil of the big gearbox", "es": "Aceite de la caja"}))
    ['.en: 22 characters wide; at most 18 fit']
    """
    for language, text in short.items():
        most = SHORT.get(language, SHORT_ELSEWHERE)
        if cells(text) > most:
            yield _(
                ".{language}: {cells} characters wide; at most {most} fit",
                language=language, cells=cells(text), most=most,
            )  # fmt: skip


class Title(str):
    """A title, with the short one that stands for it where there is no room."""

    short: str

    def __new__(cls, text: str, short: str = "") -> Title:
        """A title whose short form is itself where none is given."""
        made = super().__new__(cls, text)
        made.short = short or text
        return made


def cells(text: str) -> int:
    """How many cells of a terminal a text takes: two for wide characters, none for combining ones.

    >>> cells("hose"), cells("ホース"), cells("e\\u0301")
    (4, 6, 1)
    """
    return len(text) if text.isascii() else sum(map(_cells_of_one, text))


@cache
def _cells_of_one(sign: str) -> int:
    if unicodedata.category(sign) in ("Mn", "Me", "Cf"):
        return 0
    if "\u1160" <= sign <= "\u11ff" or "\ud7b0" <= sign <= "\ud7ff":
        return 0  # vowels and finals that join the Hangul letter before them
    return 2 if unicodedata.east_asian_width(sign) in "WF" else 1


def nearest(word: str, known: Sequence[str]) -> str:
    """'; did you mean ...?' where one of `known` is close, else the list of them; '' where there are none.

    >>> nearest("gearbax", ("gearbox", "chain")), nearest("gearbax", ())
    ('; did you mean gearbox?', '')
    """
    if not known:
        return ""
    as_written = {one.lower(): one for one in known}
    close = closest(word.lower(), tuple(as_written))
    if not close:
        return _("; choose from {known}", known=", ".join(known))
    return _("; did you mean {word}?", word=as_written[close])


def did_you_mean(word: str, known: Sequence[str]) -> str:
    """'; did you mean ...?' where one of `known` is close, else ''."""
    close = closest(word, known)
    return _("; did you mean {word}?", word=close) if close else ""


def closest(word: str, known: Sequence[str]) -> str:
    """The one of `known` that was probably meant; '' where none is close."""
    from difflib import get_close_matches  # only what was mistyped needs it

    return next(iter(get_close_matches(word, known, n=1)), "")


MONTHS = (
    mark("Jan"), mark("Feb"), mark("Mar"), mark("Apr"), mark("May"), mark("Jun"), mark("Jul"), mark("Aug"), mark("Sep"),
    mark("Oct"), mark("Nov"), mark("Dec"),
)  # fmt: skip


def _month(value: date) -> str:
    month = MONTHS[value.month - 1]
    return _(month)


def day(value: date) -> str:
    """A day that nobody can read the wrong way round.

    >>> day(date(2026, 3, 1))
    '1 Mar 2026'
    """
    return _("{day} {month} {year}", day=value.day, month=_month(value), year=value.year)


DAYS = (mark("Mon"), mark("Tue"), mark("Wed"), mark("Thu"), mark("Fri"), mark("Sat"), mark("Sun"))


def day_and_time(moment: datetime) -> str:
    """A day of this year and the time of day.

    >>> day_and_time(datetime(2026, 7, 1, 6, 30))
    '1 Jul 06:30'
    """
    return _("{day} {month} {time}", day=moment.day, month=_month(moment), time=f"{moment:%H:%M}")


def day_of_year(value: date) -> str:
    """A day of this year.

    >>> day_of_year(date(2026, 7, 1))
    '1 Jul'
    """
    return _("{day} {month}", day=value.day, month=_month(value))


def weekday_and_time(moment: datetime) -> str:
    """The day of the week, the day and the time of day.

    >>> weekday_and_time(datetime(2026, 7, 1, 6, 30))
    'Wed 1 Jul 06:30'
    """
    weekday = _(DAYS[moment.weekday()])
    return f"{weekday} {day_and_time(moment)}"


def noted(since: datetime, by: str) -> str:
    """When a fault was noted, by the clock of the moment's zone, and by whom; `-` stands for nobody's name.

    >>> noted(datetime(2026, 7, 1, 6, 30), "")
    'noted 2026-07-01 06:30 by -'
    """
    return _("noted {when:%Y-%m-%d %H:%M} by {by}", when=since, by=by or "-")


def ago(then: datetime, now: datetime) -> str:
    """How long ago, in the one unit that matters.

    >>> from datetime import UTC
    >>> ago(datetime(2026, 3, 1, 6, tzinfo=UTC), datetime(2026, 3, 1, 9, tzinfo=UTC))
    '3 h ago'
    """
    passed = now - then
    if passed < timedelta(minutes=1):
        return _("just now")
    if passed < timedelta(hours=1):
        return _("{n} min ago", n=passed // timedelta(minutes=1))
    if passed < timedelta(days=2):
        return _("{n} h ago", n=passed // timedelta(hours=1))
    return _("{n} days ago", n=passed.days)


def how_long(span: timedelta) -> str:
    """How long something lasts, in the one unit that matters.

    >>> how_long(timedelta(minutes=4)), how_long(timedelta(hours=30)), how_long(timedelta(days=3))
    ('4 min', '30 h', '3 days')
    """
    if span < timedelta(hours=1):
        return f"{span // timedelta(minutes=1)} min"
    return f"{span // timedelta(hours=1)} h" if span < timedelta(days=2) else plural("{n} day", "{n} days", span.days)


def duration(minutes: int) -> str:
    """Minutes as hours and minutes; '' for none.

    >>> duration(135), duration(0)
    ('2 h 15', '')
    """
    return f"{minutes // 60} h {minutes % 60:02d}" if minutes else ""


def with_answer(asked: str, seen: str) -> str:
    """What was asked and what was seen, in one line: they make a sentence, but where several things were asked.

    >>> with_answer("Stop bar pushed, by hand: the drive", "hangs"), with_answer("Gun: nozzle, arc", "another nozzle")
    ('Stop bar pushed, by hand: the drive hangs', 'Gun: nozzle, arc - another nozzle')
    """
    names_several = any(sign in asked.rpartition(":")[2] for sign in (",", ";"))
    return f"{asked} - {seen}" if names_several and not asked.endswith("?") else f"{asked} {seen}"


def count_text(word: str, n: int) -> str:
    """The number of machines, or lines of the work list, in a state, as text: `3 held`. Raises KeyError for other
    words."""
    return {
        "held": plural("{n} held", "{n} held", n),
        "late home": plural("{n} late home", "{n} late home", n),
        "overdue": plural("{n} overdue", "{n} overdue", n),
        "unknown": plural("{n} unknown", "{n} unknown", n),
        "due": plural("{n} due", "{n} due", n),
        "soon": plural("{n} soon", "{n} soon", n),
        "fix-by": plural("{n} to be fixed by a limit", "{n} to be fixed by a limit", n),
        "open check": plural("{n} check left open", "{n} checks left open", n),
    }[word]
