"""Texts by language, and the few turns of phrase that more than one face of the program uses."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta

Words = Mapping[str, str]
"""A text by language; English is always there."""


def said(words: Words, language: str = "en") -> str:
    """A text in a language, else in English.

    >>> said({"en": "drum", "es": "tambor"}, "es"), said({"en": "drum"}, "es")
    ('tambor', 'drum')
    """
    return words.get(language) or words.get("en", "")


def nearest(word: str, known: Sequence[str]) -> str:
    """'; did you mean ...?' where one of `known` is close, else the list of them.

    >>> nearest("gearbax", ("gearbox", "chain"))
    '; did you mean gearbox?'
    """
    as_written = {one.lower(): one for one in known}
    close = difflib.get_close_matches(word.lower(), as_written, n=1, cutoff=0.6)
    return f"; did you mean {as_written[close[0]]}?" if close else f"; known are: {', '.join(known)}"


def count(number: int, one: str, many: str = "") -> str:
    """A number with its word.

    >>> count(1, "run"), count(3, "run")
    ('1 run', '3 runs')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def day(value: date) -> str:
    """A day that nobody can read the wrong way round.

    >>> day(date(2026, 3, 1))
    '1 Mar 2026'
    """
    months = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
    return f"{value.day} {months[value.month - 1]} {value.year}"


def ago(then: datetime, now: datetime) -> str:
    """How long ago, in the one unit that matters.

    >>> from datetime import UTC
    >>> ago(datetime(2026, 3, 1, 6, tzinfo=UTC), datetime(2026, 3, 1, 9, tzinfo=UTC))
    '3 h ago'
    """
    passed = now - then
    if passed < timedelta(minutes=1):
        return "just now"
    if passed < timedelta(hours=1):
        return f"{passed // timedelta(minutes=1)} min ago"
    if passed < timedelta(days=2):
        return f"{passed // timedelta(hours=1)} h ago"
    return f"{passed.days} days ago"
